"""The light over a game, and what each lens of a kit can do at a distance in it."""

from __future__ import annotations

from lensyard.domain.kit import Kit, Mounted
from lensyard.records import Record
from lensyard.sun.cautions import Caution, cautions_for
from lensyard.sun.exposure import lens_label
from lensyard.sun.game_light import GameLight, LightRequest, game_light
from lensyard.sun.lens import (
    SHARP_BLUR_MM,
    ConverterCost,
    circle_of_confusion_mm,
    converter_cost,
    depth_of_field,
    freezing_shutter_s,
    player_in_frame,
)

SENSOR_SHAPE = 1.5
"""Bodies for action have sensors of 3:2 or close to it (common data sheets)."""


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
        lenses=lens_reports(request.kit, shutter_s=request.shutter_s, distance_yd=distance_yd),
        cautions=cautions_for(request.venue, wbgt_f=wbgt_f),
    )


def lens_reports(
    kit: Kit, *, shutter_s: float, distance_yd: float | None = None
) -> tuple[LensReport, ...]:
    """Return what each lens of a kit can do at a distance, by default its reach. [s], [yd]"""
    return tuple(
        _lens_report(mounted, shutter_s, mounted.reach_yd if distance_yd is None else distance_yd)
        for mounted in kit.mounted
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
