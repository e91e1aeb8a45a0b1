"""Exposure: from light and settings to the ISO, and whether a lens can do it.

The exposure value of settings is ``log2(N^2 / t)`` (N the f-number, t the shutter time in
seconds). ``ev100`` is the exposure value that a scene asks for at ISO 100; at ISO S it asks for
``ev100 + log2(S / 100)``.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from lensyard.errors import InvalidInputError, require_positive, require_range
from lensyard.sun.direction import LightKind

INCIDENT_CONSTANT = 250.0
"""C for a flat receptor (ISO 2720:1974). Hemispherical receptors use 320 to 340."""

ACTION_SHUTTER_S = 1.0 / 1000.0
"""What stops most of an athlete's movement; guides say 1/500 to 1/1000 s (common practice)."""

LIGHT_CORRECTION_STOPS: dict[LightKind, float] = {
    LightKind.FRONT: 0.0,
    LightKind.SIDE: 1.0,
    LightKind.BACK: 2.0,
    LightKind.SUN_IN_LENS: 2.0,
    LightKind.TOP: 0.0,
    LightKind.NO_SUN: 0.0,
}
"""Stops more exposure than front light needs for the side toward the camera: side 1, back 2 (note
in the ANSI exposure guide). For direct sun only; top light taken as front light, an assumption."""

STANDARD_ISO: tuple[int, ...] = (
    *(50, 64, 80, 100, 125, 160, 200, 250, 320, 400, 500, 640, 800, 1000, 1250, 1600, 2000),
    *(2500, 3200, 4000, 5000, 6400, 8000, 10000, 12800, 16000, 20000, 25600, 32000, 40000),
    *(51200, 64000, 80000, 102400),
)
"""The numbers on cameras, in thirds of a stop (common practice)."""

# Settings are nominal (1/1000 s is truly 1/1024), so a third of a stop is the finest step that
# means anything; a tenth of that is forgiven when a need meets a limit.
_TOLERANCE_STOPS = 1.0 / 30.0


@dataclass(frozen=True, slots=True)
class ConverterCost:
    """A lens behind a teleconverter.

    Attributes
    ----------
    stops
        Light lost. [stops]
    iso_factor
        What the ISO must be multiplied by at the same shutter time.
    focal_length_mm, f_number
        Of lens and converter together. The minimum focus distance does not change.
    """

    magnification: float
    stops: float
    iso_factor: float
    focal_length_mm: float
    f_number: float


@dataclass(frozen=True, slots=True)
class ShutterFinding:
    """Whether a lens can do a shutter time in the light there is.

    Attributes
    ----------
    label
        Name of the lens in the sentence.
    iso_needed
        Exact ISO for the exposure.
    iso_setting
        The next number on a camera's dial, or None beyond ISO 102400.
    max_iso
        The highest that the user accepts.
    is_possible
        ``iso_needed`` is at most ``max_iso`` (within a thirtieth of a stop).
    stops_short
        How much light is missing; 0 when possible. [stops]
    fastest_shutter_s
        The shortest time that ``max_iso`` allows. [s]
    sentence
        The finding in words.
    """

    label: str
    shutter_s: float
    f_number: float
    ev100: float
    iso_needed: float
    iso_setting: int | None
    max_iso: float
    is_possible: bool
    stops_short: float
    fastest_shutter_s: float
    sentence: str


@dataclass(frozen=True, slots=True)
class KitFinding:
    """The findings for every lens of a kit, and what they come to.

    Attributes
    ----------
    is_warning
        True when no lens of the kit can do the shutter time.
    """

    findings: tuple[ShutterFinding, ...]
    is_warning: bool
    sentence: str


def exposure_value(*, f_number: float, shutter_s: float) -> float:
    """Return the exposure value of settings, ``log2(N^2 / t)``. [EV]

    References
    ----------
    .. [1] S. F. Ray, "Camera exposure determination", *The Manual of Photography*, Focal Press,
       2000, p. 318.

    Examples
    --------
    >>> exposure_value(f_number=1.0, shutter_s=1.0)
    0.0
    """
    require_positive(f_number=f_number, shutter_s=shutter_s)
    return math.log2(f_number**2 / shutter_s)


def ev100_from_settings(*, f_number: float, shutter_s: float, iso: float) -> float:
    """Return the exposure value at ISO 100 of a scene that settings expose rightly. [EV]

    >>> round(ev100_from_settings(f_number=16.0, shutter_s=1 / 100, iso=100.0), 2)
    14.64
    """
    require_positive(iso=iso)
    return exposure_value(f_number=f_number, shutter_s=shutter_s) - math.log2(iso / 100.0)


def ev100_from_lux(illuminance_lx: float, *, incident_constant: float = INCIDENT_CONSTANT) -> float:
    """Return the exposure value at ISO 100 under an illuminance. [EV]

    Parameters
    ----------
    illuminance_lx : float
        On the subject. [lx]
    incident_constant : float
        C of ``EV = log2(E S / C)``: 250 for a flat receptor, 320 to 340 for a dome.

    References
    ----------
    .. [1] ISO 2720:1974, *General purpose photographic exposure meters*.

    Examples
    --------
    >>> ev100_from_lux(2.5)
    0.0
    """
    require_positive(illuminance_lx=illuminance_lx, incident_constant=incident_constant)
    return math.log2(illuminance_lx * 100.0 / incident_constant)


def lux_from_ev100(ev100: float, *, incident_constant: float = INCIDENT_CONSTANT) -> float:
    """Return the illuminance behind an exposure value at ISO 100; inverts `ev100_from_lux`. [lx]

    >>> lux_from_ev100(0.0)
    2.5
    """
    require_range(low=-20.0, high=30.0, ev100=ev100)
    require_positive(incident_constant=incident_constant)
    return incident_constant / 100.0 * math.exp2(ev100)


def combined_ev100(*ev100: float) -> float:
    """Return the exposure value at ISO 100 of several lights together (they add as lux). [EV]

    >>> combined_ev100(8.0, 8.0)
    9.0
    """
    if not ev100:
        raise InvalidInputError("combined_ev100 needs at least one exposure value")
    return ev100_from_lux(math.fsum(lux_from_ev100(value) for value in ev100))


def ev100_toward_camera(ev100: float, *, light: LightKind) -> float:
    """Return the exposure value for the side of the subject that faces the camera. [EV]

    Subtracts `LIGHT_CORRECTION_STOPS`. For direct sun; leave it out under cloud or floodlights.

    >>> ev100_toward_camera(15.0, light=LightKind.BACK)
    13.0
    """
    require_range(low=-20.0, high=30.0, ev100=ev100)
    return ev100 - LIGHT_CORRECTION_STOPS[light]


def iso_needed(*, f_number: float, shutter_s: float, ev100: float) -> float:
    """Return the ISO that exposes a scene rightly.

    Parameters
    ----------
    f_number, shutter_s : float
        Aperture and shutter time. [1], [s]
    ev100 : float
        What the scene asks for at ISO 100; from `ev100_from_lux` or a sky condition. [EV]

    Notes
    -----
    ``S = 100 N^2 / (t 2^ev100)``; with an illuminance that is ``S = C N^2 / (t E)``.

    Examples
    --------
    20 footcandles, f/2.8, 1/1000 s:

    >>> round(iso_needed(f_number=2.8, shutter_s=1 / 1000, ev100=ev100_from_lux(215.28)))
    9104
    """
    require_range(low=-20.0, high=30.0, ev100=ev100)
    return 100.0 * math.exp2(exposure_value(f_number=f_number, shutter_s=shutter_s) - ev100)


def shutter_needed_s(*, f_number: float, iso: float, ev100: float) -> float:
    """Return the shutter time that exposes a scene rightly; inverts `iso_needed`. [s]

    >>> shutter_needed_s(f_number=4.0, iso=100.0, ev100=4.0)
    1.0
    """
    require_positive(f_number=f_number, iso=iso)
    require_range(low=-20.0, high=30.0, ev100=ev100)
    return f_number**2 / math.exp2(ev100 + math.log2(iso / 100.0))


def standard_iso(iso: float) -> int | None:
    """Return the lowest number on a camera's dial that is at least an ISO, or None beyond it.

    A need a thirtieth of a stop above a number still takes that number.

    >>> standard_iso(9104)
    10000
    """
    require_positive(iso=iso)
    floor = iso * math.exp2(-_TOLERANCE_STOPS)
    return next((value for value in STANDARD_ISO if value >= floor), None)


def shutter_text(shutter_s: float) -> str:
    """Return a shutter time as photographers write it.

    >>> shutter_text(0.001), shutter_text(1.5)
    ('1/1000 s', '1.5 s')
    """
    require_positive(shutter_s=shutter_s)
    return f"1/{round(1 / shutter_s)} s" if shutter_s < 0.4 else f"{shutter_s:.3g} s"


def converter_cost(
    *, magnification: float, focal_length_mm: float, f_number: float
) -> ConverterCost:
    """Return what a teleconverter costs.

    Notes
    -----
    Focal length and f-number both grow by the magnification M, so the light falls by
    ``2 log2(M)`` stops: about 1 for 1.4x, 2 for 2x.

    Examples
    --------
    >>> cost = converter_cost(magnification=2.0, focal_length_mm=300.0, f_number=2.8)
    >>> cost.stops, cost.focal_length_mm, cost.f_number
    (2.0, 600.0, 5.6)
    """
    require_range(low=1.0, high=4.0, magnification=magnification)
    require_positive(focal_length_mm=focal_length_mm, f_number=f_number)
    return ConverterCost(
        magnification=magnification,
        stops=2.0 * math.log2(magnification),
        iso_factor=magnification**2,
        focal_length_mm=focal_length_mm * magnification,
        f_number=f_number * magnification,
    )


def shutter_finding(
    *,
    label: str,
    f_number: float,
    max_iso: float,
    ev100: float,
    shutter_s: float = ACTION_SHUTTER_S,
) -> ShutterFinding:
    """Return whether a lens can do a shutter time at an ISO that the user accepts.

    Parameters
    ----------
    label : str
        What to call the lens, such as ``"70-200 f/2.8"``.
    f_number : float
        Widest aperture, a converter included (see `converter_cost`).
    max_iso : float
        The highest ISO that the user accepts.
    ev100 : float
        Light on the action, corrections included. [EV]
    shutter_s : float
        The shutter time wanted. [s]
    """
    require_positive(max_iso=max_iso)
    needed = iso_needed(f_number=f_number, shutter_s=shutter_s, ev100=ev100)
    short = math.log2(needed / max_iso)
    possible = short <= _TOLERANCE_STOPS
    fastest_s = shutter_needed_s(f_number=f_number, iso=max_iso, ev100=ev100)
    setting = standard_iso(needed)
    wanted = f"{label} at f/{f_number:.3g} and {shutter_text(shutter_s)}"
    asks = f"needs ISO {round(needed)}"
    if possible:
        sentence = f"{wanted} {asks}, within the ISO {max_iso:.0f} you accept."
    else:
        sentence = (
            f"{wanted} {asks}, {short:.1f} stops more than the ISO {max_iso:.0f} you accept; "
            f"there the shutter can be no faster than {shutter_text(fastest_s)}."
        )
    return ShutterFinding(
        label=label,
        shutter_s=shutter_s,
        f_number=f_number,
        ev100=ev100,
        iso_needed=needed,
        iso_setting=setting,
        max_iso=max_iso,
        is_possible=possible,
        stops_short=0.0 if possible else short,
        fastest_shutter_s=fastest_s,
        sentence=sentence,
    )


def kit_finding(findings: Sequence[ShutterFinding]) -> KitFinding:
    """Return whether any lens of a kit can do the shutter time asked for, with a plain warning.

    Raises
    ------
    InvalidInputError
        If there are no findings or they are for different shutter times.
    """
    if not findings:
        raise InvalidInputError("a kit needs at least one lens to be judged")
    wanted_s = findings[0].shutter_s
    if any(finding.shutter_s != wanted_s for finding in findings):
        raise InvalidInputError("all findings of a kit must be for one shutter time")
    can = [finding.label for finding in findings if finding.is_possible]
    cannot = [finding.label for finding in findings if not finding.is_possible]
    shutter = shutter_text(wanted_s)
    if not can:
        best = min(findings, key=lambda finding: finding.stops_short)
        sentence = (
            f"Warning: no lens of this kit reaches {shutter} in this light. The nearest: "
            f"{best.sentence} Expect blur in hands and feet, accept a higher ISO, or bring a "
            f"faster lens."
        )
    elif cannot:
        sentence = f"{', '.join(can)} can do {shutter} in this light; {', '.join(cannot)} cannot."
    else:
        sentence = f"Every lens of this kit can do {shutter} in this light."
    return KitFinding(findings=tuple(findings), is_warning=not can, sentence=sentence)
