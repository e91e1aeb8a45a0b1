"""The light at a venue over a game: sun, sides, shade, exposure, cautions.

Sun and sides are computed for each quarter's begin and end. The light on the action is the daylight
of the sky asked for, the floodlights, or both, and from it follows what each lens of the kit needs.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from lensyard.domain.kit import DEMO_KIT, Kit
from lensyard.domain.venue import Venue
from lensyard.errors import require_range
from lensyard.features.light.lenses import (
    LensReport,
    Scene,
    floodlight_text,
    kit_exposure,
    lens_reports,
    require_usual_year,
    scene_at,
    venue_place,
    venue_stands,
    venue_track,
)
from lensyard.sun.cautions import Caution, CautionKind, run_out_caution, venue_cautions
from lensyard.sun.clock import ZonedTime, in_zone, quarter_spans, time_steps, zone_named
from lensyard.sun.daylight import sky_named
from lensyard.sun.exposure import ACTION_SHUTTER_S, KitFinding, ev100_from_lux, shutter_text
from lensyard.sun.position import GOLDEN_HIGH_ELEVATION_DEG, SunEvents, sun_events
from lensyard.sun.sides import SideLight, side_light

USUAL_MAX_ISO = 6400.0
"""The highest ISO accepted when the user does not say (common practice for newspaper use)."""

PLOT_STEP_MIN = 10.0
PLOT_MARGIN_MIN = 30.0


@dataclass(frozen=True, slots=True)
class LightRequest:
    """What a photographer asks about the light.

    Attributes
    ----------
    venue, kit
        Where, and with what.
    kickoff
        Naive (then on the venue's clock) or aware.
    max_iso, shutter_s
        The highest ISO accepted, and the shutter time wanted. [s]
    sky
        A daylight row of the exposure guide.
    distance_yd
        To the action; each lens's reach when None. [yd]
    wbgt_f
        Wet-bulb globe temperature, when known. [degrees Fahrenheit]
    """

    venue: Venue
    kickoff: datetime
    kit: Kit = DEMO_KIT
    max_iso: float = USUAL_MAX_ISO
    shutter_s: float = ACTION_SHUTTER_S
    sky: str = "full-sun"
    distance_yd: float | None = None
    wbgt_f: float | None = None

    def __post_init__(self) -> None:
        """Refuse years without a sun to be had, and numbers that no camera has."""
        require_usual_year(self.kickoff)
        require_range(low=50, high=1_000_000, max_iso=self.max_iso)
        require_range(low=1 / 100_000, high=30, shutter_s=self.shutter_s)


@dataclass(frozen=True, slots=True)
class QuarterLight:
    """One quarter, or halftime.

    Attributes
    ----------
    first, last
        Sun, shade and sides at its begin and end; None under a roof.
    scene
        The dimmer of the light at its begin and at its end.
    exposure
        What the kit can do in that; None without light.
    """

    name: str
    start: datetime
    end: datetime
    first: SideLight | None
    last: SideLight | None
    scene: Scene
    exposure: KitFinding | None


@dataclass(frozen=True, slots=True)
class LightReport:
    """The answer.

    Attributes
    ----------
    kickoff
        The time as it was read, with what was assumed.
    events
        Sunrise, sunset and golden light; None under a roof.
    track
        Sun and sides in steps of 10 minutes around the game, for a plot; empty under a roof.
    floodlights
        The floodlights alone, and what the kit can do under them; None where there are none.
    lenses
        Each lens at its distance.
    warnings
        Plain sentences for before the game.
    notes
        What was assumed.
    cautions
        The last one says who decides.
    """

    request: LightRequest
    kickoff: ZonedTime
    events: SunEvents | None
    track: tuple[SideLight, ...]
    quarters: tuple[QuarterLight, ...]
    floodlights: tuple[Scene, KitFinding] | None
    lenses: tuple[LensReport, ...]
    warnings: tuple[str, ...]
    notes: tuple[str, ...]
    cautions: tuple[Caution, ...]


def light_report(request: LightRequest) -> LightReport:
    """Return the light over a game.

    Raises
    ------
    InvalidInputError
        If the venue has no place and no roof, or the time does not exist there.
    UnknownNameError
        If there is no such sky.
    """
    venue = request.venue
    sky_named(request.sky)
    kickoff = in_zone(request.kickoff, zone_named(venue.time_zone))
    spans = quarter_spans(kickoff=kickoff.at, rule_set=venue.rules.name)
    moments = tuple(t for span in spans for t in (span.start, span.end))
    sides = _sides(venue, moments)
    quarters = tuple(
        _quarter(request, span.name, span.start, span.end, sides[2 * i : 2 * i + 2])
        for i, span in enumerate(spans)
    )
    lamps = _floodlights(request)
    return LightReport(
        request=request,
        kickoff=kickoff,
        events=_events(venue, kickoff.at),
        track=_sides(venue, _plot_times(kickoff.at, spans[-1].end)),
        quarters=quarters,
        floodlights=lamps,
        lenses=lens_reports(
            request.kit, shutter_s=request.shutter_s, distance_yd=request.distance_yd
        ),
        warnings=_warnings(request, quarters, lamps),
        notes=_notes(request, kickoff),
        cautions=cautions_for(venue, wbgt_f=request.wbgt_f),
    )


def _sides(venue: Venue, times: tuple[datetime, ...]) -> tuple[SideLight, ...]:
    if venue.covered:
        return ()
    return side_light(
        venue_track(venue, times),
        x_axis_bearing_deg=venue.axis_bearing_deg,
        stands=venue_stands(venue),
        setback_yd=venue.side_setback_yd,
    )


def _plot_times(kickoff: datetime, end: datetime) -> tuple[datetime, ...]:
    margin = timedelta(minutes=PLOT_MARGIN_MIN)
    start = (kickoff.astimezone(UTC) - margin).astimezone(kickoff.tzinfo)
    minutes = (end - kickoff).total_seconds() / 60 + 2 * PLOT_MARGIN_MIN
    return time_steps(start=start, minutes=minutes, step_min=PLOT_STEP_MIN)


def _events(venue: Venue, kickoff: datetime) -> SunEvents | None:
    if venue.covered:
        return None
    latitude_deg, longitude_deg = venue_place(venue)
    return sun_events(
        on=kickoff.date(),
        latitude_deg=latitude_deg,
        longitude_deg=longitude_deg,
        zone=zone_named(venue.time_zone),
    )


def _quarter(
    request: LightRequest,
    name: str,
    start: datetime,
    end: datetime,
    sides: tuple[SideLight, ...],
) -> QuarterLight:
    scenes = [scene_at(request.venue, sky=request.sky, side=side) for side in sides or (None,)]
    scene = min(scenes, key=lambda s: -math.inf if s.ev100 is None else s.ev100)
    exposure = None
    if scene.ev100 is not None:
        exposure = kit_exposure(
            request.kit,
            ev100=scene.ev100,
            max_iso=request.max_iso,
            shutter_s=request.shutter_s,
        )
    first, last = sides if sides else (None, None)
    return QuarterLight(name, start, end, first, last, scene, exposure)


def _floodlights(request: LightRequest) -> tuple[Scene, KitFinding] | None:
    lux = request.venue.illuminance_lx
    if lux <= 0:
        return None
    scene = Scene("floodlights", ev100_from_lux(lux), False)
    finding = kit_exposure(
        request.kit,
        ev100=ev100_from_lux(lux),
        max_iso=request.max_iso,
        shutter_s=request.shutter_s,
    )
    return scene, finding


def _warnings(
    request: LightRequest,
    quarters: tuple[QuarterLight, ...],
    lamps: tuple[Scene, KitFinding] | None,
) -> tuple[str, ...]:
    """Plain sentences: when the kit cannot do the shutter time, and when there is no light."""
    warnings: dict[str, list[str]] = {}
    for quarter in quarters:
        if quarter.exposure is None:
            sentence = "Warning: it is dark and the venue gives no floodlights."
            warnings.setdefault(sentence, []).append(quarter.name)
        elif not all(f.is_possible for f in quarter.exposure.findings):
            warnings.setdefault(quarter.exposure.sentence, []).append(quarter.name)
    told = [f"{_joined(names)}: {sentence}" for sentence, names in warnings.items()]
    if lamps is not None and lamps[1].sentence not in warnings:
        finding = lamps[1]
        if not all(f.is_possible for f in finding.findings):
            level = floodlight_text(request.venue.illuminance_lx)
            told.append(f"under the floodlights alone, {level}: {finding.sentence}")
    return tuple(told)


def _joined(names: list[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def _notes(request: LightRequest, kickoff: ZonedTime) -> tuple[str, ...]:
    notes = [kickoff.note] if kickoff.note else []
    notes.append(
        "quarters are the usual length of a game cut in four, good to some ten minutes; each is "
        "judged by the dimmer of its begin and its end"
    )
    if not request.venue.covered:
        notes.append(
            f"sky: {sky_named(request.sky).text}. Real skies differ by a stop either way; "
            "floodlights are taken to be lit once the sun is under "
            f"{GOLDEN_HIGH_ELEVATION_DEG:g} degrees"
        )
    if request.venue.illuminance_lx > 0:
        notes.append(
            "published floodlight levels are for level ground with aged lamps; faces often get up "
            "to a stop less, and corners of the field less again (common practice)"
        )
    notes.append(
        f"exposures are for {shutter_text(request.shutter_s)} wide open, front-lit; with direct "
        "sun add 1 stop for side light, 2 for back light (exposure guide)"
    )
    return tuple(notes)


def cautions_for(venue: Venue, *, wbgt_f: float | None = None) -> tuple[Caution, ...]:
    """Return the cautions of a venue, for its sidelines and ends; the last says who decides."""
    rules = venue.rules
    cautions = venue_cautions(
        setback_yd=venue.side_setback_yd,
        limit_line_yd=rules.side_setback_yd,
        wbgt_f=wbgt_f,
        is_covered=venue.covered,
    )
    if venue.end_setback_yd == venue.side_setback_yd:
        return cautions
    end = run_out_caution(setback_yd=venue.end_setback_yd, limit_line_yd=rules.end_setback_yd)
    at = next(i for i, c in enumerate(cautions) if c.kind is not CautionKind.RUN_OUT)
    return (*cautions[:at], end, *cautions[at:])
