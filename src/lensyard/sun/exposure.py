"""How bright a field is, and what that means for the ISO and the shutter of a lens.

Daylight follows the sky and the height of the sun. The exposure guide's rows hold while the sun is
well up; a game that ends at dusk loses seven stops and more below them. The way down follows the
published formulas for daylight availability, so a row of the guide at a lower sun is that row less
the stops that the formulas lose. Every row names the source in which it was read.

The exposure value of settings is ``log2(N^2 / t)`` (N the f-number, t the shutter time in
seconds). ``ev100`` is the exposure value that a scene asks for at ISO 100; at ISO S it asks for
``ev100 + log2(S / 100)``.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lensyard.domain.kit import Kit, Mounted
from lensyard.errors import InvalidInputError, UnknownNameError, require_positive, require_range
from lensyard.records import Record
from lensyard.sun.position import CIVIL_TWILIGHT_ELEVATION_DEG, SUNRISE_ELEVATION_DEG

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


class ShutterFinding(Record):
    """Whether a lens can do a shutter time in the light there is.

    - ``f_number``: its widest aperture, a converter included.
    - ``iso_setting``: the next number on a camera's dial, or None beyond ISO 102400.
    - ``is_possible``: ``iso_needed`` is at most what the user accepts (within a thirtieth of a
      stop).
    - ``stops_short``: how much light is missing; 0 when possible. [stops]
    - ``fastest_shutter_s``: the shortest time that the highest accepted ISO allows. [s]
    """

    lens: str
    f_number: float
    iso_needed: float
    iso_setting: int | None
    is_possible: bool
    stops_short: float
    fastest_shutter_s: float


class KitFinding(Record):
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

    Source: S. F. Ray, "Camera exposure determination", *The Manual of Photography*, Focal Press,
    2000, p. 318.

    >>> exposure_value(f_number=1.0, shutter_s=1.0)
    0.0
    """
    require_positive(f_number=f_number, shutter_s=shutter_s)
    return math.log2(f_number**2 / shutter_s)


def ev100_from_lux(illuminance_lx: float) -> float:
    """Return the exposure value at ISO 100 under an illuminance on the subject. [EV]

    ``EV = log2(E S / C)`` with C = `INCIDENT_CONSTANT`.

    Source: ISO 2720:1974, *General purpose photographic exposure meters*.

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

    - ``ev100``: what the scene asks for at ISO 100; from `ev100_from_lux` or a sky condition. [EV]

    ``S = 100 N^2 / (t 2^ev100)``; with an illuminance that is ``S = C N^2 / (t E)``.

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


APERTURES: tuple[float, ...] = (
    *(1.0, 1.1, 1.2, 1.4, 1.6, 1.8, 2.0, 2.2, 2.5, 2.8, 3.2, 3.5, 4.0, 4.5, 5.0, 5.6, 6.3, 7.1),
    *(8.0, 9.0, 10.0, 11.0, 13.0, 14.0, 16.0, 18.0, 20.0, 22.0, 25.0, 29.0, 32.0),
)
SHUTTERS_PER_S: tuple[int, ...] = (
    *(8000, 6400, 5000, 4000, 3200, 2500, 2000, 1600, 1250, 1000, 800, 640, 500, 400, 320, 250),
    *(200, 160, 125, 100, 80, 60, 50, 40, 30, 25, 20, 15, 13, 10, 8, 6, 5, 4),
)
"""The numbers on lenses and cameras, in thirds of a stop (common practice)."""


def aperture_text(f_number: float) -> str:
    """Return an aperture as the camera shows it.

    >>> aperture_text(2.8), aperture_text(2.8 * 1.4), aperture_text(4.0 * 2.0)
    ('f/2.8', 'f/4', 'f/8')
    """
    require_positive(f_number=f_number)
    return f"f/{min(APERTURES, key=lambda step: abs(math.log2(step / f_number))):g}"


def dial_shutter_s(shutter_s: float, *, shorter: bool) -> float:
    """Return the next time on a camera's dial that is not longer, or not shorter. [s]

    A tenth of a third of a stop is forgiven; beyond the dial's ends the time stays as it is.

    >>> [round(1 / dial_shutter_s(1 / 703, shorter=shorter)) for shorter in (False, True)]
    [640, 800]
    """
    require_positive(shutter_s=shutter_s)
    forgiven = math.exp2(_TOLERANCE_STOPS)
    if shorter:
        found = (1 / n for n in reversed(SHUTTERS_PER_S) if 1 / n <= shutter_s * forgiven)
    else:
        found = (1 / n for n in SHUTTERS_PER_S if 1 / n >= shutter_s / forgiven)
    return next(found, shutter_s)


def stops_text(stops: float) -> str:
    """Return missing light in thirds of a stop, rounded up as a dial has to be turned.

    >>> stops_text(0.51), stops_text(1.0), stops_text(2.3)
    ('2/3 of a stop', '1 stop', '2 1/3 stops')
    """
    whole, thirds = divmod(math.ceil(3 * (stops - _TOLERANCE_STOPS)), 3)
    part = f"{thirds}/3" if thirds else ""
    if not whole:
        return f"{part or 0} of a stop"
    return f"{whole} {part} stops".replace("  ", " ") if whole > 1 or part else "1 stop"


def shutter_text(shutter_s: float) -> str:
    """Return a shutter time as photographers write it.

    >>> shutter_text(0.001), shutter_text(1.5)
    ('1/1000 s', '1.5 s')
    """
    require_positive(shutter_s=shutter_s)
    return f"1/{round(1 / shutter_s)} s" if shutter_s < 0.4 else f"{shutter_s:.3g} s"


def lens_label(mounted: Mounted) -> str:
    """Return a lens with its widest aperture, as findings name it.

    >>> from lensyard.domain.kit import Mounted, parse_lens
    >>> lens_label(Mounted(parse_lens("400/2.8"), converter=1.4))
    '400 x1.4 f/4'
    """
    return f"{mounted.text} {aperture_text(mounted.f_number)}"


def kit_exposure(kit: Kit, *, ev100: float, max_iso: float, shutter_s: float) -> KitFinding:
    """Return whether a kit can do a shutter time in a light, lens by lens and as a whole.

    - ``kit``: the lenses, wide open.
    - ``ev100``: the light on the action. [EV]
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
        slowest = shutter_text(dial_shutter_s(best.fastest_shutter_s, shorter=False))
        sentence = (
            f"Warning: no lens of this kit reaches {shutter} in this light. The nearest: "
            f"{best.lens} at {shutter} needs {_iso_text(best)}, {stops_text(best.stops_short)} "
            f"more than the ISO {max_iso:.0f} you accept; there the shutter can be no faster than "
            f"{slowest}. Expect blur in hands and feet, accept a higher ISO, or bring a faster "
            "lens."
        )
    elif cannot:
        sentence = f"{', '.join(can)} can do {shutter} in this light; {', '.join(cannot)} cannot."
    else:
        sentence = f"Every lens of this kit can do {shutter} in this light."
    return KitFinding(is_warning=not can, sentence=sentence, lenses=findings)


def _iso_text(finding: ShutterFinding) -> str:
    setting = finding.iso_setting
    return f"more than ISO {STANDARD_ISO[-1]}" if setting is None else f"ISO {setting}"


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


SUN_NORMAL_LX = 127_500.0
"""Solar illuminance outside the atmosphere, at the mean distance. *Recommended Practice for the
Calculation of Daylight Availability*, J. Illum. Eng. Soc. 13:381-392, 1984 (found). [lx]"""

GUIDE_FROM_ELEVATION_DEG = 30.0
"""From this height of the sun up a row of the guide is taken as it is (an assumption; the guide
itself says two hours after sunrise to two hours before sunset, from memory). [deg]"""

SUNSET_LX = 490.0

DUSK_LX = 2.6
"""Horizontal illuminance of a clear evening when the sun is 50 minutes and 6 degrees below the
horizon: geometric middle of the ranges 585-410 lx and 3.5-2 lx in *Glossary of Meteorology*,
American Meteorological Society, "civil twilight" (found). [lx]"""


class SkyModel(Record):
    """One sky of the 1984 practice.

    The direct sun, square to its beam, is ``127500 exp(-extinction / sin h)`` lx at height h; the
    sky gives ``base + slope sin(h)**power`` lx on level ground. Coefficients of the sky are from
    memory; those of the half sky in a published transcription are half as large within 6 %.

    - ``extinction``: per air mass; infinite where the sun does not come through.
    """

    extinction: float
    base_lx: float
    slope_lx: float
    power: float


_CLEAR, _CLOUDY = SkyModel(0.21, 800.0, 15_500.0, 0.5), SkyModel(np.inf, 300.0, 21_000.0, 1.0)

SKY_MODELS: dict[str, SkyModel] = {
    "full-sun": _CLEAR,
    "hazy-sun": SkyModel(0.80, 300.0, 45_000.0, 1.0),
    "cloudy-bright": _CLOUDY,
    "overcast": _CLOUDY,
    "open-shade": replace(_CLEAR, extinction=np.inf),
}
"""The sky behind each daylight row of the exposure guide."""

DIRECT_SUN_SKIES = ("full-sun", "hazy-sun")
"""The rows under which the side of the light matters."""


def daylight_lx(elevation_deg: ArrayLike, *, sky: str) -> NDArray[np.float64]:
    """Return the illuminance of a surface that faces the sun.

    - ``elevation_deg``: height of the sun, -90 to 90. [deg]

    The result: same shape. Below -6 degrees it is 0: what is left is no light to photograph a game
    by. [lx]

    Raises `UnknownNameError` if there is no such sky.

    Above the horizon the 1984 practice (see `SkyModel`). Below, straight lines of the logarithm
    through the published values at sunset and at the end of civil twilight, scaled to meet the sky
    at 0 degrees.

    >>> round(float(daylight_lx(90.0, sky="overcast")))
    21300
    """
    if sky not in SKY_MODELS:
        raise UnknownNameError(name="sky", value=sky, known=SKY_MODELS)
    model = SKY_MODELS[sky]
    elevation = np.asarray(elevation_deg, float)
    # Without a sign: the sine of -0.0 would turn the air mass to minus infinity.
    sine = np.abs(np.sin(np.radians(np.clip(elevation, 0.0, 90.0))))
    with np.errstate(divide="ignore", over="ignore"):
        beam = SUN_NORMAL_LX * np.exp(-model.extinction / sine) * (sine > 0)
    up = beam + model.base_lx + model.slope_lx * sine**model.power
    level = np.log([DUSK_LX, SUNSET_LX, _CLEAR.base_lx])
    heights_deg = [CIVIL_TWILIGHT_ELEVATION_DEG, SUNRISE_ELEVATION_DEG, 0.0]
    twilight = np.exp(np.interp(elevation, heights_deg, level))
    twilight = twilight * model.base_lx / _CLEAR.base_lx
    down = np.where(elevation >= CIVIL_TWILIGHT_ELEVATION_DEG, twilight, 0.0)
    return np.where(elevation >= 0.0, up, down)


def daylight_ev100(elevation_deg: float, *, sky: str) -> float | None:
    """Return the exposure value at ISO 100 of front-lit action under a sky, or None in the dark.

    - ``sky``: a key of `SKY_MODELS`: a daylight row of the exposure guide.

    >>> daylight_ev100(45.0, sky="full-sun")
    15.0
    >>> round(daylight_ev100(-50 / 60, sky="full-sun"), 1)
    7.4
    """
    here, reference = daylight_lx([elevation_deg, GUIDE_FROM_ELEVATION_DEG], sky=sky)
    if here <= 0.0:
        return None
    return sky_named(sky).ev100 - max(float(np.log2(reference / here)), 0.0)


class SkyCondition(Record):
    """Exposure value at ISO 100 of a scene under one kind of sky.

    - ``ev100_low``, ``ev100_high``: equal where the guide gives one number. [EV]
    """

    key: str
    text: str
    ev100_low: float
    ev100_high: float
    source: str

    @property
    def ev100(self) -> float:
        """The middle of the range. [EV]"""
        return (self.ev100_low + self.ev100_high) / 2


_ANSI = "ANSI PH2.7-1973/1986 photographic exposure guide"

SKY_CONDITIONS: dict[str, SkyCondition] = {
    row.key: row
    for row in (
        SkyCondition("full-sun", "full sun, distinct shadows", 15, 15, _ANSI),
        SkyCondition("hazy-sun", "hazy sun, soft shadows", 14, 14, _ANSI),
        SkyCondition("cloudy-bright", "cloudy bright, no shadows", 13, 13, _ANSI),
        SkyCondition("overcast", "heavy overcast", 12, 12, _ANSI),
        SkyCondition("open-shade", "open shade under a clear sky", 12, 12, _ANSI),
        SkyCondition("sunset-skyline", "the skyline at sunset", 12, 12, _ANSI),
        SkyCondition("after-sunset", "the skyline just after sunset", 9, 11, _ANSI),
        SkyCondition("night-sports", "sports under floodlights at night", 9, 9, _ANSI),
        SkyCondition("indoor-sports", "sports indoors", 8, 9, _ANSI),
    )
}
"""The guide's rows. The daylight rows hold from two hours after sunrise to two hours before sunset
(from memory of such guides); nearer to either the light falls a stop or more below them."""


def sky_named(key: str) -> SkyCondition:
    """Return a row of `SKY_CONDITIONS`, or raise `UnknownNameError` with the known keys."""
    if key not in SKY_CONDITIONS:
        raise UnknownNameError(name="sky", value=key, known=SKY_CONDITIONS)
    return SKY_CONDITIONS[key]
