"""Published light levels: the sky, and floodlights at football fields.

Every row names its source and how it came here: ``found`` (read in the source named), ``memory``
(commonly known, not looked up).
"""

from __future__ import annotations

from dataclasses import dataclass

from lensyard.errors import UnknownNameError, require_positive
from lensyard.units import FEET_PER_YARD, METERS_PER_YARD

LUX_PER_FOOTCANDLE = (FEET_PER_YARD / METERS_PER_YARD) ** 2
"""A footcandle is a lumen per square foot, so 10.7639 lx, exact by the definition of the foot."""


@dataclass(frozen=True, slots=True)
class SkyCondition:
    """Exposure value at ISO 100 of a scene under one kind of sky.

    Attributes
    ----------
    ev100_low, ev100_high
        Equal where the guide gives one number. [EV]
    """

    key: str
    text: str
    ev100_low: float
    ev100_high: float
    source: str
    basis: str

    @property
    def ev100(self) -> float:
        """The middle of the range. [EV]"""
        return (self.ev100_low + self.ev100_high) / 2


@dataclass(frozen=True, slots=True)
class FloodlightLevel:
    """A published illuminance for football.

    Such levels are horizontal and maintained: measured flat on the ground, lamps aged. The light
    on a face is often less, so plan with up to a stop in reserve (common practice).
    """

    key: str
    text: str
    footcandles: float
    source: str
    basis: str

    @property
    def illuminance_lx(self) -> float:
        """The same level in lux. [lx]"""
        return lux_from_footcandles(self.footcandles)


_ANSI = "ANSI PH2.7-1973/1986 photographic exposure guide"
_IES = "IES RP-6 via Recreation Management, October 2005 (order from the class definition)"
_NCAA = "NCAA Best Lighting Practices, as reported (secondary)"

SKY_CONDITIONS: dict[str, SkyCondition] = {
    row.key: row
    for row in (
        SkyCondition("full-sun", "full sun, distinct shadows", 15, 15, _ANSI, "found"),
        SkyCondition("hazy-sun", "hazy sun, soft shadows", 14, 14, _ANSI, "found"),
        SkyCondition("cloudy-bright", "cloudy bright, no shadows", 13, 13, _ANSI, "found"),
        SkyCondition("overcast", "heavy overcast", 12, 12, _ANSI, "found"),
        SkyCondition("open-shade", "open shade under a clear sky", 12, 12, _ANSI, "found"),
        SkyCondition("sunset-skyline", "the skyline at sunset", 12, 12, _ANSI, "found"),
        SkyCondition("after-sunset", "the skyline just after sunset", 9, 11, _ANSI, "found"),
        SkyCondition("night-sports", "sports under floodlights at night", 9, 9, _ANSI, "found"),
        SkyCondition("indoor-sports", "sports indoors", 8, 9, _ANSI, "found"),
    )
}
"""The guide's rows. The daylight rows hold from two hours after sunrise to two hours before sunset
(from memory of such guides); nearer to either the light falls a stop or more below them."""

FLOODLIGHT_LEVELS: dict[str, FloodlightLevel] = {
    row.key: row
    for row in (
        FloodlightLevel("class-1", "class I, above 5,000 spectators", 100, _IES, "found"),
        FloodlightLevel("class-2", "class II, up to 5,000 spectators", 50, _IES, "found"),
        FloodlightLevel("class-3", "class III, some spectators", 30, _IES, "found"),
        FloodlightLevel("class-4", "class IV, no provision for spectators", 20, _IES, "found"),
        FloodlightLevel("college-untelevised", "college, no television", 50, _NCAA, "found"),
        FloodlightLevel("college-regional", "college, regional television", 75, _NCAA, "found"),
        FloodlightLevel("college-national", "college, national television", 100, _NCAA, "found"),
        FloodlightLevel("college-championship", "college, championship", 125, _NCAA, "found"),
    )
}


def sky_named(key: str) -> SkyCondition:
    """Return a row of `SKY_CONDITIONS`, or raise `UnknownNameError` with the known keys."""
    if key not in SKY_CONDITIONS:
        raise UnknownNameError(name="sky", value=key, known=SKY_CONDITIONS)
    return SKY_CONDITIONS[key]


def floodlight_named(key: str) -> FloodlightLevel:
    """Return a row of `FLOODLIGHT_LEVELS`, or raise `UnknownNameError` with the known keys."""
    if key not in FLOODLIGHT_LEVELS:
        raise UnknownNameError(name="floodlight", value=key, known=FLOODLIGHT_LEVELS)
    return FLOODLIGHT_LEVELS[key]


def lux_from_footcandles(footcandles: float) -> float:
    """Return an illuminance in lux.

    >>> round(lux_from_footcandles(1.0), 3)
    10.764
    """
    require_positive(footcandles=footcandles)
    return footcandles * LUX_PER_FOOTCANDLE


def footcandles_from_lux(illuminance_lx: float) -> float:
    """Return an illuminance in footcandles.

    >>> round(footcandles_from_lux(215.278), 2)
    20.0
    """
    require_positive(illuminance_lx=illuminance_lx)
    return illuminance_lx / LUX_PER_FOOTCANDLE
