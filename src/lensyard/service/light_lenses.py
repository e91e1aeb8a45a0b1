"""What each lens of a kit can do at a distance: freezing, depth of field, size in the frame."""

from __future__ import annotations

from dataclasses import dataclass

from lensyard.domain.optics import Kit, Mounted
from lensyard.light.depth import DepthOfField, circle_of_confusion_mm, depth_of_field
from lensyard.light.exposure import (
    ConverterCost,
    KitFinding,
    converter_cost,
    kit_finding,
    shutter_finding,
)
from lensyard.light.frame import (
    CROP_USES,
    CropFinding,
    PlayerInFrame,
    crop_findings,
    player_in_frame,
)
from lensyard.light.shutter import FreezeAdvice, freeze_advice

# Bodies for action have sensors of 3:2 or close to it (common data sheets).
SENSOR_SHAPE = 1.5
SHOWN_USES = ("page", "web")


@dataclass(frozen=True, slots=True)
class LensReport:
    """One lens of the kit at one distance.

    Attributes
    ----------
    label
        Lens and aperture: ``400 f/2.8``.
    distance_yd
        Asked for, or the lens's reach. [yd]
    covers
        Whether the distance lies between the lens's nearest distance and its reach.
    freeze, depth, player
        At the distance, at the long end, wide open.
    crops
        A vertical page and a vertical web crop around the player.
    converter
        What the converter on it costs; None without one.
    """

    label: str
    mounted: Mounted
    distance_yd: float
    covers: bool
    freeze: FreezeAdvice
    depth: DepthOfField
    player: PlayerInFrame
    crops: tuple[CropFinding, ...]
    converter: ConverterCost | None


def lens_label(mounted: Mounted) -> str:
    """Return a lens with its widest aperture, as findings name it.

    Examples
    --------
    >>> from lensyard.domain.optics import parse_lens
    >>> lens_label(Mounted(parse_lens("400/2.8"), converter=1.4))
    '400 x1.4 f/3.9'
    """
    return f"{mounted.text} f/{mounted.f_number:.2g}"


def lens_reports(
    kit: Kit, *, shutter_s: float, distance_yd: float | None = None
) -> tuple[LensReport, ...]:
    """Return what each lens of a kit can do.

    Parameters
    ----------
    kit
        The lenses.
    shutter_s
        The shutter time for which the smear is stated. [s]
    distance_yd
        To the action; each lens's reach when not given. [yd]

    Raises
    ------
    InvalidInputError
        If a number is not positive or the distance is within the focal length.
    """
    return tuple(
        _lens_report(mounted, shutter_s, mounted.reach_yd if distance_yd is None else distance_yd)
        for mounted in kit.mounted
    )


def _lens_report(mounted: Mounted, shutter_s: float, distance_yd: float) -> LensReport:
    width_mm, width_px = mounted.body.sensor_width_mm, mounted.body.width_px
    focal_mm = mounted.focal_length_mm
    player = player_in_frame(
        distance_yd=distance_yd,
        focal_length_mm=focal_mm,
        sensor_width_mm=width_mm,
        sensor_height_mm=width_mm / SENSOR_SHAPE,
        sensor_width_px=width_px,
    )
    return LensReport(
        label=lens_label(mounted),
        mounted=mounted,
        distance_yd=distance_yd,
        covers=mounted.nearest_yd <= distance_yd <= mounted.reach_yd,
        freeze=freeze_advice(
            distance_yd=distance_yd,
            focal_length_mm=focal_mm,
            sensor_width_mm=width_mm,
            sensor_width_px=width_px,
            shutter_s=shutter_s,
        ),
        depth=depth_of_field(
            distance_yd=distance_yd,
            focal_length_mm=focal_mm,
            f_number=mounted.f_number,
            circle_mm=circle_of_confusion_mm(sensor_width_mm=width_mm),
        ),
        player=player,
        crops=crop_findings(player, [CROP_USES[key] for key in SHOWN_USES]),
        converter=_converter(mounted),
    )


def _converter(mounted: Mounted) -> ConverterCost | None:
    if mounted.converter == 1.0:
        return None
    return converter_cost(
        magnification=mounted.converter,
        focal_length_mm=mounted.lens.long_mm,
        f_number=mounted.lens.f_number,
    )


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
    return kit_finding(
        [
            shutter_finding(
                label=lens_label(mounted),
                f_number=mounted.f_number,
                max_iso=max_iso,
                ev100=ev100,
                shutter_s=shutter_s,
            )
            for mounted in kit.mounted
        ]
    )
