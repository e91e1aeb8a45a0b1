"""What each lens of a kit can do at a distance: freezing, depth of field, size in the frame.

The light on the action at a venue at one moment: daylight, shade, floodlights.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from lensyard.domain.kit import Kit, Mounted
from lensyard.domain.venue import Venue
from lensyard.errors import InvalidInputError, require_range
from lensyard.sun.daylight import (
    DIRECT_SUN_SKIES,
    FLOODLIGHT_LEVELS,
    daylight_ev100,
    footcandles_from_lux,
    sky_named,
)
from lensyard.sun.exposure import (
    ConverterCost,
    KitFinding,
    combined_ev100,
    converter_cost,
    ev100_from_lux,
    kit_finding,
    shutter_finding,
)
from lensyard.sun.field_of_view import (
    CROP_USES,
    CropFinding,
    DepthOfField,
    PlayerInFrame,
    circle_of_confusion_mm,
    crop_findings,
    depth_of_field,
    player_in_frame,
)
from lensyard.sun.position import GOLDEN_HIGH_ELEVATION_DEG, SunTrack, sun_track
from lensyard.sun.shade import Stand, stands_around
from lensyard.sun.shutter import FreezeAdvice, freeze_advice
from lensyard.sun.sides import SideLight

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
    >>> from lensyard.domain.kit import parse_lens
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


# Shade that covers at least this share of the field counts as shade on the action.
SHADED_FROM = 0.5
# Daylight this far below the lamps no longer counts. [stops]
DAYLIGHT_GONE_STOPS = 3.0


@dataclass(frozen=True, slots=True)
class Scene:
    """The light on front-lit action at one moment.

    Attributes
    ----------
    text
        Where it comes from.
    ev100
        Exposure value at ISO 100; None when there is none to photograph by. [EV]
    side_matters
        Whether direct sun makes side and back light cost extra stops.
    """

    text: str
    ev100: float | None
    side_matters: bool


def require_usual_year(at: datetime) -> None:
    """Raise `OutOfRangeError` unless the sun's formulas and the zone's rules hold in that year."""
    require_range(low=1901, high=2099, year=at.year)


def venue_place(venue: Venue) -> tuple[float, float]:
    """Return latitude and longitude. [deg]

    Raises
    ------
    InvalidInputError
        If they are not known.
    """
    if venue.latitude_deg is None or venue.longitude_deg is None:
        raise InvalidInputError(
            f"nothing can be said about the sun at {venue.name!r}; expected axis_bearing_deg, "
            "latitude_deg, longitude_deg and time_zone in its venue file. Add the four"
        )
    return venue.latitude_deg, venue.longitude_deg


def venue_track(venue: Venue, times: tuple[datetime, ...]) -> SunTrack:
    """Return the sun over a venue at each time. Raises as `venue_place`."""
    latitude_deg, longitude_deg = venue_place(venue)
    return sun_track(latitude_deg=latitude_deg, longitude_deg=longitude_deg, times=times)


def venue_stands(venue: Venue) -> tuple[Stand, ...]:
    """Return what shades the field of a venue."""
    return stands_around(height_m=venue.stand_height_m, behind_yd=venue.stand_distance_yd)


def scene_at(venue: Venue, *, sky: str, side: SideLight | None) -> Scene:
    """Return the light on front-lit action at one moment.

    Parameters
    ----------
    venue
        With its floodlights.
    sky
        A daylight row of the exposure guide.
    side
        Sun and shade at the moment; None under a roof.
    """
    lamps = venue.illuminance_lx
    lamp_ev = ev100_from_lux(lamps) if lamps > 0 else None
    if side is None:
        # A hall without a figure for its lamps: the low end of the guide's row.
        return Scene("floodlights", lamp_ev, False) if lamp_ev is not None else _indoors()
    elevation_deg = side.sun_elevation_deg
    shaded = side.field_shaded_share >= SHADED_FROM and elevation_deg > 0
    direct = sky in DIRECT_SUN_SKIES
    row = "open-shade" if shaded and direct else sky
    day_ev = daylight_ev100(elevation_deg, sky=row)
    text = sky_named(row).text if elevation_deg > 0 else "twilight"
    if lamp_ev is not None and elevation_deg < GOLDEN_HIGH_ELEVATION_DEG:
        if day_ev is None or day_ev < lamp_ev - DAYLIGHT_GONE_STOPS:
            return Scene("floodlights", lamp_ev, False)
        return Scene(f"{text} and floodlights", combined_ev100(day_ev, lamp_ev), False)
    if day_ev is None:
        return Scene("dark, no floodlights given", None, False)
    return Scene(text, day_ev, direct and not shaded and elevation_deg > 0)


def _indoors() -> Scene:
    row = sky_named("indoor-sports")
    return Scene(f"{row.text} (lamps not given)", row.ev100_low, False)


def floodlight_text(illuminance_lx: float) -> str:
    """Return a floodlight level with the highest published class that it reaches.

    Examples
    --------
    >>> floodlight_text(216.0)
    '216 lx (20 footcandles; class IV, no provision for spectators)'
    >>> floodlight_text(100.0)
    '100 lx (9 footcandles; below every published class)'
    """
    # A class counts as reached within a percent: figures are written with two or three digits.
    reached = [
        level
        for level in FLOODLIGHT_LEVELS.values()
        if level.key.startswith("class-") and level.illuminance_lx <= illuminance_lx * 1.01
    ]
    best = max(reached, key=lambda level: level.footcandles, default=None)
    name = "below every published class" if best is None else best.text
    footcandles = footcandles_from_lux(illuminance_lx)
    return f"{illuminance_lx:.0f} lx ({footcandles:.0f} footcandles; {name})"
