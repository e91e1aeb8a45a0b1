"""Exposure: from light and settings to the ISO, and whether a lens can do it.

The exposure value of settings is ``log2(N^2 / t)`` (N the f-number, t the shutter time in
seconds). ``ev100`` is the exposure value that a scene asks for at ISO 100; at ISO S it asks for
``ev100 + log2(S / 100)``.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from lensyard.domain.kit import Kit, Mounted
from lensyard.errors import InvalidInputError, require_positive, require_range

INCIDENT_CONSTANT = 250.0
"""C for a flat receptor (ISO 2720:1974); meters with a dome use 320 to 340."""

ACTION_SHUTTER_S = 1.0 / 1000.0
"""What stops most of an athlete's movement; guides say 1/500 to 1/1000 s (common practice)."""

SIDE_LIGHT_STOPS, BACK_LIGHT_STOPS = 1.0, 2.0
"""Stops more exposure than front light needs for the side toward the camera, in direct sun (note
in the ANSI exposure guide)."""

STANDARD_ISO: tuple[int, ...] = (
    *(50, 64, 80, 100, 125, 160, 200, 250, 320, 400, 500, 640, 800, 1000, 1250, 1600, 2000),
    *(2500, 3200, 4000, 5000, 6400, 8000, 10000, 12800, 16000, 20000, 25600, 32000, 40000),
    *(51200, 64000, 80000, 102400),
)
"""The numbers on cameras, in thirds of a stop (common practice)."""

# Settings are nominal (1/1000 s is truly 1/1024), so a third of a stop is the finest step that
# means anything; a tenth of that is forgiven when a need meets a limit.
_TOLERANCE_STOPS = 1.0 / 30.0

USUAL_MAX_ISO = 6400.0
"""The highest ISO accepted when the user does not say (common practice for newspaper use)."""


@dataclass(frozen=True, slots=True)
class ConverterCost:
    """What a teleconverter costs: light lost, and the factor on the ISO at one shutter time."""

    magnification: float
    stops: float
    iso_factor: float


@dataclass(frozen=True, slots=True)
class ShutterFinding:
    """Whether a lens can do a shutter time in the light there is.

    Attributes
    ----------
    lens
        The lens with its aperture.
    f_number
        Its widest aperture, a converter included.
    iso_needed
        Exact ISO for the exposure.
    iso_setting
        The next number on a camera's dial, or None beyond ISO 102400.
    is_possible
        ``iso_needed`` is at most what the user accepts (within a thirtieth of a stop).
    stops_short
        How much light is missing; 0 when possible. [stops]
    fastest_shutter_s
        The shortest time that the highest accepted ISO allows. [s]
    """

    lens: str
    f_number: float
    iso_needed: float
    iso_setting: int | None
    is_possible: bool
    stops_short: float
    fastest_shutter_s: float


@dataclass(frozen=True, slots=True)
class KitFinding:
    """The findings for every lens of a kit, and what they come to in one sentence.

    ``is_warning`` is True when no lens of the kit can do the shutter time.
    """

    is_warning: bool
    sentence: str
    lenses: tuple[ShutterFinding, ...]

    @property
    def all_possible(self) -> bool:
        """Whether every lens can do the shutter time."""
        return all(finding.is_possible for finding in self.lenses)


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


def ev100_from_lux(illuminance_lx: float) -> float:
    """Return the exposure value at ISO 100 under an illuminance on the subject. [EV]

    ``EV = log2(E S / C)`` with C = `INCIDENT_CONSTANT`.

    References
    ----------
    .. [1] ISO 2720:1974, *General purpose photographic exposure meters*.

    Examples
    --------
    >>> ev100_from_lux(2.5)
    0.0
    """
    require_positive(illuminance_lx=illuminance_lx)
    return math.log2(illuminance_lx * 100.0 / INCIDENT_CONSTANT)


def lux_from_ev100(ev100: float) -> float:
    """Return the illuminance behind an exposure value at ISO 100; inverts `ev100_from_lux`. [lx]

    >>> lux_from_ev100(0.0)
    2.5
    """
    require_range(low=-20.0, high=30.0, ev100=ev100)
    return INCIDENT_CONSTANT / 100.0 * math.exp2(ev100)


def combined_ev100(*ev100: float) -> float:
    """Return the exposure value at ISO 100 of several lights together (they add as lux). [EV]

    >>> combined_ev100(8.0, 8.0)
    9.0
    """
    if not ev100:
        raise InvalidInputError("combined_ev100 needs at least one exposure value")
    return ev100_from_lux(math.fsum(lux_from_ev100(value) for value in ev100))


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


def converter_cost(magnification: float) -> ConverterCost:
    """Return what a teleconverter costs.

    Notes
    -----
    The f-number grows by the magnification M, so the light falls by ``2 log2(M)`` stops: about 1
    for 1.4x, 2 for 2x.

    Examples
    --------
    >>> converter_cost(2.0)
    ConverterCost(magnification=2.0, stops=2.0, iso_factor=4.0)
    """
    require_range(low=1.0, high=4.0, magnification=magnification)
    return ConverterCost(magnification, 2.0 * math.log2(magnification), magnification**2)


def lens_label(mounted: Mounted) -> str:
    """Return a lens with its widest aperture, as findings name it.

    Examples
    --------
    >>> from lensyard.domain.kit import Mounted, parse_lens
    >>> lens_label(Mounted(parse_lens("400/2.8"), converter=1.4))
    '400 x1.4 f/3.9'
    """
    return f"{mounted.text} f/{mounted.f_number:.2g}"


def kit_exposure(kit: Kit, *, ev100: float, max_iso: float, shutter_s: float) -> KitFinding:
    """Return whether a kit can do a shutter time in a light, lens by lens and as a whole.

    Parameters
    ----------
    kit
        The lenses, wide open.
    ev100
        The light on the action. [EV]
    max_iso
        The highest ISO that the user accepts.
    shutter_s
        The shutter time wanted. [s]
    """
    require_positive(max_iso=max_iso)
    findings = tuple(
        shutter_finding(
            lens=lens_label(mounted),
            f_number=mounted.f_number,
            max_iso=max_iso,
            ev100=ev100,
            shutter_s=shutter_s,
        )
        for mounted in kit.mounted
    )
    can = [finding.lens for finding in findings if finding.is_possible]
    cannot = [finding.lens for finding in findings if not finding.is_possible]
    shutter = shutter_text(shutter_s)
    if not can:
        best = min(findings, key=lambda finding: finding.stops_short)
        sentence = (
            f"Warning: no lens of this kit reaches {shutter} in this light. The nearest: "
            f"{best.lens} at f/{best.f_number:.3g} and {shutter} needs ISO "
            f"{round(best.iso_needed)}, {best.stops_short:.1f} stops more than the ISO "
            f"{max_iso:.0f} you accept; there the shutter can be no faster than "
            f"{shutter_text(best.fastest_shutter_s)}. Expect blur in hands and feet, accept a "
            "higher ISO, or bring a faster lens."
        )
    elif cannot:
        sentence = f"{', '.join(can)} can do {shutter} in this light; {', '.join(cannot)} cannot."
    else:
        sentence = f"Every lens of this kit can do {shutter} in this light."
    return KitFinding(is_warning=not can, sentence=sentence, lenses=findings)


def shutter_finding(
    *, lens: str, f_number: float, max_iso: float, ev100: float, shutter_s: float
) -> ShutterFinding:
    """Return whether one lens can do a shutter time; arguments as in `kit_exposure`."""
    needed = iso_needed(f_number=f_number, shutter_s=shutter_s, ev100=ev100)
    short = math.log2(needed / max_iso)
    possible = short <= _TOLERANCE_STOPS
    return ShutterFinding(
        lens=lens,
        f_number=f_number,
        iso_needed=needed,
        iso_setting=standard_iso(needed),
        is_possible=possible,
        stops_short=0.0 if possible else short,
        fastest_shutter_s=shutter_needed_s(f_number=f_number, iso=max_iso, ev100=ev100),
    )
