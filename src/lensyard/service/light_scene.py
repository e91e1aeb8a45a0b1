"""The light on the action at a venue at one moment: daylight, shade, floodlights."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from lensyard.domain.venue import Venue
from lensyard.errors import InvalidInputError, require_range
from lensyard.light.daylight import DIRECT_SUN_SKIES, daylight_ev100
from lensyard.light.exposure import combined_ev100, ev100_from_lux
from lensyard.light.levels import FLOODLIGHT_LEVELS, footcandles_from_lux, sky_named
from lensyard.light.shade import Stand, stands_around
from lensyard.light.sides import SideLight
from lensyard.light.sun import GOLDEN_HIGH_ELEVATION_DEG, SunTrack, sun_track

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
