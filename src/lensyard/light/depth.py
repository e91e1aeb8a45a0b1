"""Depth of field: how much focus error is allowed at a distance."""

from __future__ import annotations

import math
from dataclasses import dataclass

from lensyard.errors import InvalidInputError, require_positive
from lensyard.units import (
    FULL_FRAME_WIDTH_MM,
    METERS_PER_YARD,
    MILLIMETERS_PER_METER,
)

FULL_FRAME_CIRCLE_MM = 0.03
"""Circle of confusion for full frame (common practice: a print at arm's length). Seen at 100 %
on a screen the limit is nearer to two pixels, about 0.012 mm. [mm]"""


@dataclass(frozen=True, slots=True)
class DepthOfField:
    """What is acceptably sharp around the plane of focus.

    Attributes
    ----------
    hyperfocal_m
        Focused here, everything from half of it to infinity is sharp. [m]
    near_yd, far_yd
        First and last sharp distance from the camera; far may be infinite. [yd]
    front_yd, behind_yd
        Allowed focus error toward the camera and away from it. [yd]
    """

    distance_yd: float
    hyperfocal_m: float
    near_yd: float
    far_yd: float
    front_yd: float
    behind_yd: float

    @property
    def total_yd(self) -> float:
        """From the first to the last sharp distance. [yd]"""
        return self.far_yd - self.near_yd


def circle_of_confusion_mm(*, sensor_width_mm: float = FULL_FRAME_WIDTH_MM) -> float:
    """Return the usual circle of confusion, scaled from full frame by the sensor's width. [mm]

    >>> circle_of_confusion_mm(sensor_width_mm=24.0)
    0.02
    """
    require_positive(sensor_width_mm=sensor_width_mm)
    return FULL_FRAME_CIRCLE_MM * sensor_width_mm / FULL_FRAME_WIDTH_MM


def hyperfocal_mm(*, focal_length_mm: float, f_number: float, circle_mm: float) -> float:
    """Return the hyperfocal distance, ``H = f^2 / (N c) + f``. [mm]

    Parameters
    ----------
    focal_length_mm, f_number : float
        Of the lens, converter included. [mm], [1]
    circle_mm : float
        Circle of confusion on the sensor. [mm]

    References
    ----------
    .. [1] A. R. Greenleaf, *Photographic Optics*, Macmillan, 1950, as quoted in a published
       depth-of-field reference.

    Examples
    --------
    >>> hyperfocal_mm(focal_length_mm=50.0, f_number=8.0, circle_mm=0.02)
    15675.0
    """
    require_positive(focal_length_mm=focal_length_mm, f_number=f_number, circle_mm=circle_mm)
    return focal_length_mm**2 / (f_number * circle_mm) + focal_length_mm


def depth_of_field(
    *,
    distance_yd: float,
    focal_length_mm: float,
    f_number: float,
    circle_mm: float = FULL_FRAME_CIRCLE_MM,
) -> DepthOfField:
    """Return the depth of field at a focused distance.

    Parameters
    ----------
    distance_yd : float
        Camera to the plane of focus; more than one focal length. [yd]
    focal_length_mm, f_number, circle_mm : float
        As in `hyperfocal_mm`.

    Raises
    ------
    InvalidInputError
        If a number is not positive or the distance is within the focal length.

    Notes
    -----
    With s the focused distance: near ``s (H - f) / (H + s - 2 f)``, far ``s (H - f) / (H - s)``,
    infinite from ``s = H`` on. Source as in `hyperfocal_mm`.

    Examples
    --------
    >>> depth = depth_of_field(distance_yd=40.0, focal_length_mm=400.0, f_number=2.8)
    >>> round(depth.front_yd, 2), round(depth.behind_yd, 2)
    (0.75, 0.77)
    """
    require_positive(distance_yd=distance_yd)
    hyperfocal = hyperfocal_mm(
        focal_length_mm=focal_length_mm, f_number=f_number, circle_mm=circle_mm
    )
    mm_per_yd = METERS_PER_YARD * MILLIMETERS_PER_METER
    focus = distance_yd * mm_per_yd
    if focus <= focal_length_mm:
        raise InvalidInputError(
            f"distance_yd must be beyond the focal length ({focal_length_mm:g} mm is "
            f"{focal_length_mm / mm_per_yd:.2f} yd); got {distance_yd!r}"
        )
    near = focus * (hyperfocal - focal_length_mm) / (hyperfocal + focus - 2.0 * focal_length_mm)
    far = (
        focus * (hyperfocal - focal_length_mm) / (hyperfocal - focus)
        if focus < hyperfocal
        else math.inf
    )
    return DepthOfField(
        distance_yd=distance_yd,
        hyperfocal_m=hyperfocal / MILLIMETERS_PER_METER,
        near_yd=near / mm_per_yd,
        far_yd=far / mm_per_yd,
        front_yd=(focus - near) / mm_per_yd,
        behind_yd=(far - focus) / mm_per_yd,
    )
