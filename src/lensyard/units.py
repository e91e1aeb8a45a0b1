"""Exact constants and the few conversions between them.

Every factor here is exact by definition: the international yard is 0.9144 m, a yard is 3 feet,
a foot is 12 inches. Nothing in the package types a rounded factor.
"""

from __future__ import annotations

METERS_PER_YARD = 0.9144
FEET_PER_YARD = 3.0
INCHES_PER_FOOT = 12.0
MILLIMETERS_PER_METER = 1000.0
SECONDS_PER_QUARTER = 900.0

FULL_FRAME_WIDTH_MM = 36.0
LUX_PER_FOOTCANDLE = (FEET_PER_YARD / METERS_PER_YARD) ** 2
"""A footcandle is a lumen per square foot, so 10.7639 lx, exact by the definition of the foot."""


def yards_from_feet(feet: float, inches: float = 0.0) -> float:
    """Return a length in yards from feet and inches.

    >>> yards_from_feet(160)
    53.333333333333336
    """
    return (feet + inches / INCHES_PER_FOOT) / FEET_PER_YARD


def meters_from_yards(yards: float) -> float:
    """Return a length in meters from yards.

    >>> meters_from_yards(1.0)
    0.9144
    """
    return yards * METERS_PER_YARD


def lux_from_footcandles(footcandles: float) -> float:
    """Return an illuminance in lux.

    >>> round(lux_from_footcandles(1.0), 3)
    10.764
    """
    return footcandles * LUX_PER_FOOTCANDLE


def footcandles_from_lux(illuminance_lx: float) -> float:
    """Return an illuminance in footcandles.

    >>> round(footcandles_from_lux(215.278), 2)
    20.0
    """
    return illuminance_lx / LUX_PER_FOOTCANDLE
