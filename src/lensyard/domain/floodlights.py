"""Published levels of floodlights for football, and lux and footcandles."""

from __future__ import annotations

from dataclasses import dataclass

from lensyard.errors import UnknownNameError, require_positive
from lensyard.units import FEET_PER_YARD, METERS_PER_YARD

LUX_PER_FOOTCANDLE = (FEET_PER_YARD / METERS_PER_YARD) ** 2
"""A footcandle is a lumen per square foot, so 10.7639 lx, exact by the definition of the foot."""


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


_IES = "IES RP-6 via Recreation Management, October 2005 (order from the class definition)"


_NCAA = "NCAA Best Lighting Practices, as reported (secondary)"


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
