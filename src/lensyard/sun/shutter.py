"""Published light levels: the sky, and floodlights at football fields.

Every row names its source and how it came here: ``found`` (read in the source named), ``memory``
(commonly known, not looked up).

How fast players run.

The shutter time that freezes a player, crossing or approaching.

A player is far away compared with the focal length F, so a length L at distance D is ``F L / D``
on the sensor. Two things move the image during the exposure:

- across: a player crossing at speed V moves the image at ``F V / D``;
- toward the camera: a point r off the axis of the lens is imaged at ``F r / D``; with D shrinking
  at V that grows at ``F r V / D^2``. The image swells from its center, so the fastest point is the
  one farthest from it: head or feet of a player centered in the frame, r half the height.

The second is smaller than the first by ``r / D``: a sprinter coming straight on at 30 m needs a
thirtieth of the crossing speed. That holds for head and trunk; hands and feet move on their own,
about as fast as the player runs, so the crossing time stays the safe choice.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from lensyard.errors import require_positive, require_range
from lensyard.sun.exposure import ACTION_SHUTTER_S, shutter_text
from lensyard.units import MILLIMETERS_PER_METER, meters_from_yards

SPRINT_M_S = 9.0
"""A fast player at full speed. Team means of ball carriers' top speed were 5.78 to 6.05 m/s in
2020 (Buffalo News, 12 June 2021), the fastest carry of 2016 10.39 m/s (RotoViz 2017). [m/s]"""


SHARP_BLUR_MM = 0.02
"""Smear on the sensor that still looks sharp, 20 micrometers: brisk.org.uk, via rcstudio 2016."""

HALF_PLAYER_HEIGHT_M = 0.915
"""Half of 1.83 m; a published team mean is 183.8 cm (Pryor et al. 2014, J Strength Cond Res
28:7-13). [m]"""


@dataclass(frozen=True, slots=True)
class FreezeAdvice:
    """What freezes a player at a distance.

    Attributes
    ----------
    crossing_s, approaching_s
        Longest shutter time with no more than the allowed blur. [s]
    shutter_s
        The time the smear below is for. [s]
    smear_mm, smear_px
        Smear of a crossing player at ``shutter_s``, on the sensor and in pixels.
    """

    crossing_s: float
    approaching_s: float
    shutter_s: float
    smear_mm: float
    smear_px: float
    sentence: str


def image_speed_mm_s(
    *,
    distance_yd: float,
    focal_length_mm: float,
    speed_m_s: float = SPRINT_M_S,
    heading_deg: float = 90.0,
    off_axis_m: float = HALF_PLAYER_HEIGHT_M,
) -> float:
    """Return how fast the image of a moving player moves on the sensor, at its worst point.

    Parameters
    ----------
    distance_yd : float
        Camera to player. [yd]
    focal_length_mm : float
        Real focal length, converter included, crop factor not. [mm]
    speed_m_s : float
        Speed over the ground, for a camera that does not pan. [m/s]
    heading_deg : float
        Between the player's path and the line to the camera: 0 straight at it, 90 across,
        [0, 90]. [deg]
    off_axis_m : float
        Farthest point of the player from the middle of the frame. [m]

    Returns
    -------
    float
        ``F V (sin(heading) + (r / D) cos(heading)) / D``: the two parts added as if they pointed
        the same way, so at an angle this is the upper bound. [mm/s]

    Examples
    --------
    >>> speed = image_speed_mm_s(distance_yd=30 / 0.9144, focal_length_mm=400.0, speed_m_s=9.0)
    >>> round(speed, 9)
    120.0
    """
    require_positive(
        distance_yd=distance_yd,
        focal_length_mm=focal_length_mm,
        speed_m_s=speed_m_s,
        off_axis_m=off_axis_m,
    )
    require_range(low=0.0, high=90.0, heading_deg=heading_deg)
    distance_m = meters_from_yards(distance_yd)
    heading = math.radians(heading_deg)
    across = math.sin(heading)
    swelling = off_axis_m / distance_m * math.cos(heading)
    return focal_length_mm * speed_m_s * (across + swelling) / distance_m


def freezing_shutter_s(
    *,
    distance_yd: float,
    focal_length_mm: float,
    speed_m_s: float = SPRINT_M_S,
    heading_deg: float = 90.0,
    blur_mm: float = SHARP_BLUR_MM,
    off_axis_m: float = HALF_PLAYER_HEIGHT_M,
) -> float:
    """Return the longest shutter time that keeps a player's smear within an allowed blur. [s]

    Parameters are those of `image_speed_mm_s`, and ``blur_mm``, the smear allowed on the sensor.

    References
    ----------
    .. [1] Crossing: shutter denominator at least ``F V / (D C)`` with C about 20 micrometers;
       brisk.org.uk, via rcstudio 2016. Approaching: derived in the module's text.

    Examples
    --------
    A crossing sprinter at 30 m, 400 mm: 1/6000 s.

    >>> time_s = freezing_shutter_s(distance_yd=30 / 0.9144, focal_length_mm=400.0)
    >>> round(1 / time_s)
    6000
    """
    require_positive(blur_mm=blur_mm)
    return blur_mm / image_speed_mm_s(
        distance_yd=distance_yd,
        focal_length_mm=focal_length_mm,
        speed_m_s=speed_m_s,
        heading_deg=heading_deg,
        off_axis_m=off_axis_m,
    )


def freeze_advice(
    *,
    distance_yd: float,
    focal_length_mm: float,
    sensor_width_mm: float,
    sensor_width_px: int,
    speed_m_s: float = SPRINT_M_S,
    blur_mm: float = SHARP_BLUR_MM,
    shutter_s: float = ACTION_SHUTTER_S,
) -> FreezeAdvice:
    """Return the freezing times at a distance, and the smear that a usual shutter time leaves.

    Parameters
    ----------
    distance_yd, focal_length_mm, speed_m_s, blur_mm
        As in `freezing_shutter_s`.
    sensor_width_mm, sensor_width_px
        Long side of the sensor, in millimeters and pixels.
    shutter_s : float
        The time to state the smear for. [s]
    """
    require_positive(
        sensor_width_mm=sensor_width_mm, sensor_width_px=sensor_width_px, shutter_s=shutter_s
    )
    crossing_s, approaching_s = (
        freezing_shutter_s(
            distance_yd=distance_yd,
            focal_length_mm=focal_length_mm,
            speed_m_s=speed_m_s,
            heading_deg=heading_deg,
            blur_mm=blur_mm,
        )
        for heading_deg in (90.0, 0.0)
    )
    smear_mm = blur_mm * shutter_s / crossing_s
    smear_px = smear_mm / sensor_width_mm * sensor_width_px
    return FreezeAdvice(
        crossing_s=crossing_s,
        approaching_s=approaching_s,
        shutter_s=shutter_s,
        smear_mm=smear_mm,
        smear_px=smear_px,
        sentence=(
            f"At {distance_yd:.0f} yd and {focal_length_mm:.0f} mm a player at {speed_m_s:.1f} m/s "
            f"is frozen to {blur_mm * MILLIMETERS_PER_METER:.0f} micrometers at "
            f"{shutter_text(crossing_s)} crossing and {shutter_text(approaching_s)} approaching "
            f"(head and trunk; hands and feet are faster). {shutter_text(shutter_s)} smears a "
            f"crossing player by {smear_px:.0f} pixels if the camera does not pan along."
        ),
    )
