"""The light at a venue over a game: sun and sides by quarter, daylight or lamps, what a kit can do.

Sun and sides are computed for each quarter's begin and end. The light on the action is the daylight
of the sky asked for, the floodlights, or both; a quarter is judged by the dimmer of its two ends.
"""

from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta

from lensyard.domain.kit import DEMO_KIT, Kit
from lensyard.domain.venue import Venue, zone_named
from lensyard.errors import require_range
from lensyard.records import Record
from lensyard.sun.exposure import (
    ACTION_SHUTTER_S,
    DIRECT_SUN_SKIES,
    USUAL_MAX_ISO,
    KitFinding,
    combined_ev100,
    daylight_ev100,
    ev100_from_lux,
    kit_exposure,
    sky_named,
)
from lensyard.sun.position import (
    GOLDEN_HIGH_ELEVATION_DEG,
    SunEvents,
    TimeSpan,
    ZonedTime,
    in_zone,
    quarter_spans,
    require_usual_year,
    sun_events,
    time_steps,
)
from lensyard.sun.venue_light import SideLight, side_light, venue_place

SHADED_FROM = 0.5
"""Shade that covers at least this share of the field counts as shade on the action."""

DAYLIGHT_GONE_STOPS = 3.0
"""Daylight this far below the lamps no longer counts. [stops]"""

TRACK_STEP_MIN, TRACK_MARGIN_MIN = 10.0, 30.0


class LightRequest(Record):
    """What a photographer asks about the light of a game.

    - ``kickoff``: naive (then on the venue's clock) or aware.
    - ``sky``: a daylight row of the exposure guide.

    Raises `OutOfRangeError` if the year is outside the sun's formulas, or no camera has such
    numbers.
    """

    venue: Venue
    kickoff: datetime
    kit: Kit = DEMO_KIT
    max_iso: float = USUAL_MAX_ISO
    shutter_s: float = ACTION_SHUTTER_S
    sky: str = "full-sun"

    def __post_init__(self) -> None:
        """Check year, ISO and shutter time."""
        require_usual_year(self.kickoff)
        require_range(low=50, high=1_000_000, max_iso=self.max_iso)
        require_range(low=1 / 100_000, high=30, shutter_s=self.shutter_s)


class Scene(Record):
    """The light on front-lit action at one moment.

    - ``ev100``: exposure value at ISO 100; None when there is none to photograph by. [EV]
    - ``side_matters``: whether direct sun makes side and back light cost extra stops.
    """

    light: str
    ev100: float | None
    side_matters: bool


class QuarterLight(Record):
    """One quarter, or halftime.

    - ``first``, ``last``: sun, shade and sides at its begin and end; None under a roof.
    - ``scene``: the dimmer of the light at its begin and at its end.
    - ``exposure``: what the kit can do in that; None without light.
    """

    span: TimeSpan
    first: SideLight | None
    last: SideLight | None
    scene: Scene
    exposure: KitFinding | None


class Floodlights(Record):
    """The floodlights alone, and what the kit can do under them."""

    illuminance_lx: float
    ev100: float
    exposure: KitFinding


class GameLight(Record):
    """The light over a game.

    - ``kickoff``: the time as it was read, with what was assumed.
    - ``sun``: sunrise, sunset and golden light; None under a roof.
    - ``track``: sun and sides in steps of 10 minutes around the game, for a chart; empty under a
      roof.
    """

    request: LightRequest
    kickoff: ZonedTime
    sun: SunEvents | None
    quarters: tuple[QuarterLight, ...]
    track: tuple[SideLight, ...]
    floodlights: Floodlights | None


def game_light(request: LightRequest) -> GameLight:
    """Return the light over a game.

    Raises `InvalidInputError` if the venue has no place and no roof, or the time does not exist
    there; `UnknownNameError` if there is no such sky.
    """
    venue = request.venue
    sky_named(request.sky)
    kickoff = in_zone(request.kickoff, zone_named(venue.time_zone))
    spans = quarter_spans(kickoff=kickoff.at, rule_set=venue.rules.name)
    lux = venue.illuminance_lx
    lamps = None
    if lux > 0:
        ev100 = ev100_from_lux(lux)
        lamps = Floodlights(lux, ev100, _exposure(request, ev100))
    return GameLight(
        request=request,
        kickoff=kickoff,
        sun=None if venue.covered else _events(venue, kickoff.at),
        quarters=tuple(_quarter(request, span) for span in spans),
        track=() if venue.covered else _track(venue, kickoff.at, spans[-1].end),
        floodlights=lamps,
    )


def _events(venue: Venue, kickoff: datetime) -> SunEvents:
    latitude_deg, longitude_deg = venue_place(venue)
    return sun_events(
        on=kickoff.date(),
        latitude_deg=latitude_deg,
        longitude_deg=longitude_deg,
        zone=zone_named(venue.time_zone),
    )


def _track(venue: Venue, kickoff: datetime, end: datetime) -> tuple[SideLight, ...]:
    margin = timedelta(minutes=TRACK_MARGIN_MIN)
    start = (kickoff.astimezone(UTC) - margin).astimezone(kickoff.tzinfo)
    minutes = (end - kickoff).total_seconds() / 60 + 2 * TRACK_MARGIN_MIN
    times = time_steps(start=start, minutes=minutes, step_min=TRACK_STEP_MIN)
    return tuple(side_light(venue, at) for at in times)


def _quarter(request: LightRequest, span: TimeSpan) -> QuarterLight:
    venue = request.venue
    first, last = (
        None if venue.covered else side_light(venue, at) for at in (span.start, span.end)
    )
    scenes = [scene_at(venue, sky=request.sky, side=side) for side in (first, last)]
    scene = min(scenes, key=lambda s: -math.inf if s.ev100 is None else s.ev100)
    exposure = None if scene.ev100 is None else _exposure(request, scene.ev100)
    return QuarterLight(span, first, last, scene, exposure)


def _exposure(request: LightRequest, ev100: float) -> KitFinding:
    return kit_exposure(
        request.kit, ev100=ev100, max_iso=request.max_iso, shutter_s=request.shutter_s
    )


def scene_at(venue: Venue, *, sky: str, side: SideLight | None) -> Scene:
    """Return the light on front-lit action at one moment.

    - ``venue``: with its floodlights, taken to be lit once the sun is under
      `GOLDEN_HIGH_ELEVATION_DEG`.
    - ``side``: sun and shade at the moment; None under a roof.
    """
    lamps = venue.illuminance_lx
    lamp_ev = ev100_from_lux(lamps) if lamps > 0 else None
    if side is None:
        if lamp_ev is not None:
            return Scene("floodlights", lamp_ev, False)
        # A hall without a figure for its lamps: the low end of the guide's row.
        indoors = sky_named("indoor-sports")
        return Scene(f"{indoors.text} (lamps not given)", indoors.ev100_low, False)
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


class KickoffLight(Record):
    """When a game begins, and the light over it.

    ``light`` is None where the venue's place is not known; ``note`` says why there is nothing to
    say about the sun, there and under a roof.
    """

    kickoff: ZonedTime
    light: GameLight | None
    note: str = ""


def light_at_kickoff(venue: Venue, kit: Kit, kickoff: datetime) -> KickoffLight:
    """Return the light of a game that begins at a time (naive: on the venue's clock).

    Raises `InvalidInputError` if the kickoff does not exist in the venue's time zone.
    """
    at = in_zone(kickoff, zone_named(venue.time_zone))
    if venue.covered:
        light = game_light(LightRequest(venue=venue, kickoff=kickoff, kit=kit))
        return KickoffLight(at, light, "covered: the sun plays no part")
    if not venue.has_place:
        return KickoffLight(at, None, "the venue has no place, so nothing is known about the sun")
    return KickoffLight(at, game_light(LightRequest(venue=venue, kickoff=kickoff, kit=kit)))
