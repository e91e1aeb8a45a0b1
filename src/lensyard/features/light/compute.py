"""The light over a game, and what each lens of a kit can do at a distance in it.

Freezing: a player is far away compared with the focal length F, so a length L at distance D is
``F L / D`` on the sensor. Two things move the image during the exposure:

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

from lensyard.domain.kit import Mounted
from lensyard.errors import InvalidInputError, require_positive, require_range
from lensyard.records import Record
from lensyard.sun.cautions import SPRINT_M_S, Caution, cautions_for
from lensyard.sun.exposure import lens_label
from lensyard.sun.game_light import GameLight, LightRequest, game_light
from lensyard.units import (
    FULL_FRAME_WIDTH_MM,
    METERS_PER_YARD,
    MILLIMETERS_PER_METER,
    meters_from_yards,
)

SENSOR_SHAPE = 1.5
"""Bodies for action have sensors of 3:2 or close to it (common data sheets)."""


PLAYER_HEIGHT_M = 1.83
"""A standing player. A published team mean is 183.8 cm with standard deviation 9.0 (Pryor et al.
2014, J Strength Cond Res 28:7-13). [m]"""


SHARP_BLUR_MM = 0.02
"""Smear on the sensor that still looks sharp, 20 micrometers: brisk.org.uk, via rcstudio 2016."""


FULL_FRAME_CIRCLE_MM = 0.03
"""Circle of confusion for full frame (common practice: a print at arm's length). Seen at 100 %
on a screen the limit is nearer to two pixels, about 0.012 mm. [mm]"""


class LensReport(Record):
    """One lens of the kit at one distance, at the long end, wide open.

    - ``distance_yd``: asked for, or the lens's reach. [yd]
    - ``covers_distance``: whether it lies between the lens's nearest distance and its reach
    - ``freeze_crossing_s``, ``freeze_approaching_s``: longest shutter times that freeze a sprinter.
      [s]
    - ``smear_px``: smear of a crossing sprinter at the shutter time asked for. [px]
    - ``depth_front_yd``, ``depth_behind_yd``: allowed focus error toward the camera and away from
      it; behind may be infinite. [yd]
    - ``player_share_of_frame``, ``player_height_px``: a standing player: share of the frame's
      height, and pixels
    - ``converter``: what the converter on it costs; None without one
    """

    lens: str
    focal_length_mm: float
    f_number: float
    reach_yd: float
    distance_yd: float
    covers_distance: bool
    freeze_crossing_s: float
    freeze_approaching_s: float
    smear_px: float
    depth_front_yd: float
    depth_behind_yd: float
    player_share_of_frame: float
    player_height_px: float
    converter: ConverterCost | None


class LightAnswer(Record):
    """The light over a game, the lenses in it, and the cautions; the last says who decides."""

    light: GameLight
    lenses: tuple[LensReport, ...]
    cautions: tuple[Caution, ...]


def light_answer(
    request: LightRequest, *, distance_yd: float | None = None, wbgt_f: float | None = None
) -> LightAnswer:
    """Return the light over a game.

    - ``distance_yd``: to the action; each lens's reach when not given. [yd]
    - ``wbgt_f``: wet-bulb globe temperature, when known. [degrees Fahrenheit]

    Raises `InvalidInputError` if the venue has no place and no roof, the time does not exist there,
    or the distance is within a focal length; `UnknownNameError` if there is no such sky.
    """
    return LightAnswer(
        light=game_light(request),
        lenses=tuple(
            _lens_report(
                mounted,
                request.shutter_s,
                mounted.reach_yd if distance_yd is None else distance_yd,
            )
            for mounted in request.kit.mounted
        ),
        cautions=cautions_for(request.venue, wbgt_f=wbgt_f),
    )


def _lens_report(mounted: Mounted, shutter_s: float, distance_yd: float) -> LensReport:
    body, focal_mm = mounted.body, mounted.focal_length_mm
    player = player_in_frame(
        distance_yd=distance_yd,
        focal_length_mm=focal_mm,
        sensor_width_mm=body.sensor_width_mm,
        sensor_height_mm=body.sensor_width_mm / SENSOR_SHAPE,
        sensor_width_px=body.width_px,
    )
    crossing_s, approaching_s = (
        freezing_shutter_s(
            distance_yd=distance_yd, focal_length_mm=focal_mm, heading_deg=heading_deg
        )
        for heading_deg in (90.0, 0.0)
    )
    smear_mm = SHARP_BLUR_MM * shutter_s / crossing_s
    depth = depth_of_field(
        distance_yd=distance_yd,
        focal_length_mm=focal_mm,
        f_number=mounted.f_number,
        circle_mm=circle_of_confusion_mm(sensor_width_mm=body.sensor_width_mm),
    )
    return LensReport(
        lens=lens_label(mounted),
        focal_length_mm=focal_mm,
        f_number=mounted.f_number,
        reach_yd=mounted.reach_yd,
        distance_yd=distance_yd,
        covers_distance=mounted.nearest_yd <= distance_yd <= mounted.reach_yd,
        freeze_crossing_s=crossing_s,
        freeze_approaching_s=approaching_s,
        smear_px=smear_mm / body.sensor_width_mm * body.width_px,
        depth_front_yd=depth.front_yd,
        depth_behind_yd=depth.behind_yd,
        player_share_of_frame=player.share_of_frame,
        player_height_px=player.height_px,
        converter=None if mounted.converter == 1.0 else converter_cost(mounted.converter),
    )


def image_speed_mm_s(
    *,
    distance_yd: float,
    focal_length_mm: float,
    speed_m_s: float = SPRINT_M_S,
    heading_deg: float = 90.0,
) -> float:
    """Return how fast the image of a moving player moves on the sensor, at its worst point.

    - ``focal_length_mm``: real focal length, converter included, crop factor not. [mm]
    - ``speed_m_s``: speed over the ground, for a camera that does not pan. [m/s]
    - ``heading_deg``: between the player's path and the line to the camera: 0 straight at it, 90
      across, [0, 90]. [deg]

    The result: ``F V (sin(heading) + (r / D) cos(heading)) / D`` with r half a player's height: the
    two parts added as if they pointed the same way, so at an angle this is the upper bound. [mm/s]

    >>> speed = image_speed_mm_s(distance_yd=30 / 0.9144, focal_length_mm=400.0, speed_m_s=9.0)
    >>> round(speed, 9)
    120.0
    """
    require_positive(distance_yd=distance_yd, focal_length_mm=focal_length_mm, speed_m_s=speed_m_s)
    require_range(low=0.0, high=90.0, heading_deg=heading_deg)
    distance_m = meters_from_yards(distance_yd)
    heading = math.radians(heading_deg)
    across = math.sin(heading)
    swelling = PLAYER_HEIGHT_M / 2 / distance_m * math.cos(heading)
    return focal_length_mm * speed_m_s * (across + swelling) / distance_m


def freezing_shutter_s(
    *,
    distance_yd: float,
    focal_length_mm: float,
    speed_m_s: float = SPRINT_M_S,
    heading_deg: float = 90.0,
) -> float:
    """Return the longest shutter time that keeps a player's smear within `SHARP_BLUR_MM`. [s]

    Parameters are those of `image_speed_mm_s`.

    Source: Crossing: shutter denominator at least ``F V / (D C)`` with C about 20 micrometers;
    brisk.org.uk, via rcstudio 2016. Approaching: derived in the module's text.

    A crossing sprinter at 30 m, 400 mm: 1/6000 s.

    >>> time_s = freezing_shutter_s(distance_yd=30 / 0.9144, focal_length_mm=400.0)
    >>> round(1 / time_s)
    6000
    """
    return SHARP_BLUR_MM / image_speed_mm_s(
        distance_yd=distance_yd,
        focal_length_mm=focal_length_mm,
        speed_m_s=speed_m_s,
        heading_deg=heading_deg,
    )


class DepthOfField(Record):
    """What is acceptably sharp around the plane of focus.

    - ``near_yd``, ``far_yd``: first and last sharp distance from the camera; far may be infinite.
      [yd]
    - ``front_yd``, ``behind_yd``: allowed focus error toward the camera and away from it. [yd]
    """

    near_yd: float
    far_yd: float
    front_yd: float
    behind_yd: float


def circle_of_confusion_mm(*, sensor_width_mm: float = FULL_FRAME_WIDTH_MM) -> float:
    """Return the usual circle of confusion, scaled from full frame by the sensor's width. [mm]

    >>> circle_of_confusion_mm(sensor_width_mm=24.0)
    0.02
    """
    require_positive(sensor_width_mm=sensor_width_mm)
    return FULL_FRAME_CIRCLE_MM * sensor_width_mm / FULL_FRAME_WIDTH_MM


def hyperfocal_mm(*, focal_length_mm: float, f_number: float, circle_mm: float) -> float:
    """Return the hyperfocal distance, ``H = f^2 / (N c) + f``. [mm]

    Focused there, everything from half of it to infinity is sharp.

    - ``focal_length_mm``, ``f_number``: of the lens, converter included. [mm], [1]

    Source: A. R. Greenleaf, *Photographic Optics*, Macmillan, 1950, as quoted in a published
    depth-of-field reference.

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

    - ``distance_yd``: camera to the plane of focus; more than one focal length. [yd]

    Raises `InvalidInputError` if a number is not positive or the distance is within the focal
    length.

    With s the focused distance: near ``s (H - f) / (H + s - 2 f)``, far ``s (H - f) / (H - s)``,
    infinite from ``s = H`` on. Source as in `hyperfocal_mm`.

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
        near_yd=near / mm_per_yd,
        far_yd=far / mm_per_yd,
        front_yd=(focus - near) / mm_per_yd,
        behind_yd=(far - focus) / mm_per_yd,
    )


class PlayerInFrame(Record):
    """A standing player at a distance, as the sensor sees it.

    - ``height_mm``, ``height_px``: of the image; may be more than the sensor has. [mm], [px]
    - ``share_of_frame``: image height over the frame's short side; above 1 the player overflows.
    """

    height_mm: float
    height_px: float
    share_of_frame: float


def player_in_frame(
    *,
    distance_yd: float,
    focal_length_mm: float,
    sensor_width_mm: float,
    sensor_height_mm: float,
    sensor_width_px: int,
) -> PlayerInFrame:
    """Return how large a standing player is in a frame held across.

    - ``focal_length_mm``: real focal length, converter included, crop factor not. [mm]
    - ``sensor_width_px``: pixels along the long side; pixels are taken as square. [px]

    Pinhole model: image height ``h f / D``. A thin lens focused at D gives ``h f / (D - f)``,
    1.1 % more for 400 mm at 40 yd.

    >>> player = player_in_frame(
    ...     distance_yd=40.0, focal_length_mm=400.0, sensor_width_mm=36.0,
    ...     sensor_height_mm=24.0, sensor_width_px=6000,
    ... )
    >>> round(player.height_mm, 1), round(player.share_of_frame, 2)
    (20.0, 0.83)
    """
    require_positive(
        distance_yd=distance_yd,
        focal_length_mm=focal_length_mm,
        sensor_width_mm=sensor_width_mm,
        sensor_height_mm=sensor_height_mm,
        sensor_width_px=sensor_width_px,
    )
    height_mm = PLAYER_HEIGHT_M * focal_length_mm / meters_from_yards(distance_yd)
    return PlayerInFrame(
        height_mm=height_mm,
        height_px=height_mm / sensor_width_mm * sensor_width_px,
        share_of_frame=height_mm / sensor_height_mm,
    )


class ConverterCost(Record):
    """What a teleconverter costs: light lost, and the factor on the ISO at one shutter time."""

    magnification: float
    stops: float
    iso_factor: float


def converter_cost(magnification: float) -> ConverterCost:
    """Return what a teleconverter costs.

    The f-number grows by the magnification M, so the light falls by ``2 log2(M)`` stops: about 1
    for 1.4x, 2 for 2x.

    >>> converter_cost(2.0)
    ConverterCost(magnification=2.0, stops=2.0, iso_factor=4.0)
    """
    require_range(low=1.0, high=4.0, magnification=magnification)
    return ConverterCost(magnification, 2.0 * math.log2(magnification), magnification**2)
