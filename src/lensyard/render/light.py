"""The light over a game in words and tables: one source for command, pages, sheet and card."""

from __future__ import annotations

from datetime import datetime, timedelta
from functools import partial
from itertools import compress

from lensyard.domain.kit import Kit
from lensyard.domain.venue import FLOODLIGHT_LEVELS, Edge
from lensyard.render.report import Chart, ChartKind, Column, Fact, Format, Table, table_of
from lensyard.render.words import joined
from lensyard.sun.direction import LightKind
from lensyard.sun.exposure import (
    BACK_LIGHT_STOPS,
    SIDE_LIGHT_STOPS,
    ShutterFinding,
    aperture_text,
    shutter_text,
    sky_named,
)
from lensyard.sun.game_light import GameLight, QuarterLight
from lensyard.sun.position import (
    GOLDEN_HIGH_ELEVATION_DEG,
    DayKind,
    SunEvents,
)
from lensyard.sun.venue_light import SideLight
from lensyard.units import footcandles_from_lux

KIND_WORDS = {LightKind.SUN_IN_LENS: "in lens", LightKind.NO_SUN: "none"}
EDGES_NOTE = "Seen from the middle of each edge, looking across; none is no direct sun."


def floodlight_text(illuminance_lx: float) -> str:
    """Return a floodlight level with the highest published class that it reaches.

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


def kickoff_text(at: datetime) -> str:
    """Return day and time of a kickoff, on the clock that it carries."""
    return f"{at:%A} {at.day} {at:%B} {at.year}, kickoff {at:%H:%M %Z}"


def light_headline(light: GameLight) -> str:
    """Return in one sentence whether the kit can do the shutter time through the game."""
    shutter = shutter_text(light.request.shutter_s)
    no_lens = [q.exposure is not None and q.exposure.is_warning for q in light.quarters]
    not_every = [q.exposure is not None and not q.exposure.all_possible for q in light.quarters]
    for words, holds in (
        (
            "It is dark and the venue gives no floodlights in",
            [q.exposure is None for q in light.quarters],
        ),
        (f"No lens of this kit reaches {shutter} in", no_lens),
        (f"Not every lens of this kit reaches {shutter} in", not_every),
    ):
        names = [q.span.name for q in compress(light.quarters, holds)]
        if names:
            return f"{words} {joined(names)}."
    return f"Every lens of this kit can do {shutter} through the game."


def light_warnings(light: GameLight) -> tuple[str, ...]:
    """Return when the kit cannot do the shutter time, and when there is no light, in sentences."""
    warnings: dict[str, list[str]] = {}
    for quarter in light.quarters:
        if quarter.exposure is None:
            sentence = "Warning: it is dark and the venue gives no floodlights."
            warnings.setdefault(sentence, []).append(quarter.span.name)
        elif not quarter.exposure.all_possible:
            warnings.setdefault(quarter.exposure.sentence, []).append(quarter.span.name)
    found = [f"{joined(names)}: {sentence}" for sentence, names in warnings.items()]
    lamps = light.floodlights
    if lamps and not lamps.exposure.all_possible and lamps.exposure.sentence not in warnings:
        level = floodlight_text(lamps.illuminance_lx)
        found.append(f"under the floodlights alone, {level}: {lamps.exposure.sentence}")
    return tuple(found)


def light_notes(light: GameLight) -> tuple[str, ...]:
    """Return what was assumed."""
    request = light.request
    notes = [light.kickoff.note] if light.kickoff.note else []
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
    if light.floodlights is not None:
        notes.append(
            "published floodlight levels are for level ground with aged lamps; faces often get up "
            "to a stop less, and corners of the field less again (common practice)"
        )
    notes.append(
        f"exposures are for {shutter_text(request.shutter_s)} wide open, front-lit; with direct "
        f"sun add {SIDE_LIGHT_STOPS:g} stop for side light, {BACK_LIGHT_STOPS:g} for back light "
        "(exposure guide)"
    )
    assumed = assumed_text(request.kit)
    return (*notes, assumed) if assumed else tuple(notes)


def light_facts(light: GameLight) -> tuple[Fact, ...]:
    """Return when the sun rises and sets, and the floodlights."""
    facts = [] if light.sun is None else _sun_facts(light.sun)
    if light.sun is None:
        facts.append(Fact("sun", "Sun", "covered: it plays no part"))
    if light.floodlights is not None:
        facts.append(
            Fact("floodlights", "Floodlights", floodlight_text(light.floodlights.illuminance_lx))
        )
    return tuple(facts)


def _sun_facts(sun: SunEvents) -> list[Fact]:
    if sun.day is not DayKind.NORMAL:
        return [Fact("sun", "Sun", f"{sun.day.value} on this date")]
    golden = ", ".join(f"{_clock(span.start)} to {_clock(span.end)}" for span in sun.golden_hours)
    return [
        Fact("sunrise", "Sunrise", _clock(sun.sunrise)),
        Fact("sunset", "Sunset", _clock(sun.sunset)),
        Fact("civil_dusk", "End of civil twilight", _clock(sun.civil_dusk)),
        Fact("golden", "Golden light", golden or "none"),
    ]


def _clock(at: datetime | None) -> str | None:
    return None if at is None else f"{at:%H:%M}"


def edges_table(light: GameLight) -> Table:
    """Return a row a quarter: when, how high the sun stands, and the light from each edge."""
    note = EDGES_NOTE
    if light.sun is not None and light.sun.sunset is not None:
        note += f" Sunset {light.sun.sunset:%H:%M}."
    quarters = _sunny(light)
    return table_of(
        "edges",
        "Light on the action, by where you stand",
        quarters,
        ("quarter", "Quarter", lambda at: short_quarter(at[0].span.name)),
        ("from", "From", lambda at: _clock(at[0].span.start)),
        ("sun", "Sun", lambda at: _heights(at[1].sun_elevation_deg, at[2].sun_elevation_deg)),
        *((edge.value, light.request.venue.edge_name(edge), partial(_seen, edge)) for edge in Edge),
        note=note if quarters else "",
    )


def _heights(first_deg: float, last_deg: float) -> str:
    if max(first_deg, last_deg) <= 0:
        return "down"
    return f"{first_deg:.0f}→{last_deg:.0f}°".replace("-", "−")


def short_quarter(name: str) -> str:
    """Return the name of a quarter as a table has it.

    >>> short_quarter("quarter 2"), short_quarter("halftime")
    ('Q2', 'half')
    """
    return name.replace("quarter ", "Q").replace("halftime", "half")


def _sunny(light: GameLight) -> list[tuple[QuarterLight, SideLight, SideLight]]:
    """The quarters with the sun at their two ends; none under a roof."""
    return [
        (quarter, quarter.first, quarter.last)
        for quarter in light.quarters
        if quarter.first is not None and quarter.last is not None
    ]


def _seen(edge: Edge, at: tuple[QuarterLight, SideLight, SideLight]) -> str:
    kinds = dict.fromkeys(side.edge(edge).light for side in at[1:])
    return "→".join(KIND_WORDS.get(kind, kind.value) for kind in kinds)


def sun_table(light: GameLight) -> Table:
    """Return a row a quarter: the sun, the shade on the field, and the light there is."""

    def named(at: tuple[QuarterLight, SideLight, SideLight]) -> str:
        golden = at[1].is_golden or at[2].is_golden
        return f"{at[0].scene.light}{', golden' if golden else ''}"

    return table_of(
        "sun",
        "Sun and light by quarter",
        _sunny(light),
        ("quarter", "Quarter", lambda at: short_quarter(at[0].span.name)),
        ("start", "From", lambda at: _clock(at[0].span.start)),
        ("end", "To", lambda at: _clock(at[0].span.end)),
        ("elevation_first_deg", "Sun height", Format.DEGREES, lambda at: at[1].sun_elevation_deg),
        ("elevation_last_deg", "at the end", Format.DEGREES, lambda at: at[2].sun_elevation_deg),
        ("azimuth_first_deg", "Bearing", Format.DEGREES, lambda at: at[1].sun_azimuth_deg),
        ("azimuth_last_deg", "at the end", Format.DEGREES, lambda at: at[2].sun_azimuth_deg),
        (
            "shaded",
            "Field shaded",
            Format.PERCENT,
            lambda at: max(side.field_shaded_share for side in at[1:]),
        ),
        ("ev100", "EV100", Format.DECIMAL, lambda at: at[0].scene.ev100),
        ("light", "Light", named),
    )


def iso_table(light: GameLight) -> Table:
    """Return a row a lens: the ISO that it needs in each quarter, "!" where it is too high."""
    exposures = [(q.span.name, q.exposure) for q in light.quarters if q.span.name != "halftime"]
    if light.floodlights is not None:
        exposures.append(("floodlights", light.floodlights.exposure))
    request = light.request
    lenses = next((kit.lenses for _, kit in exposures if kit is not None), ())
    return Table(
        key="iso",
        title=f"ISO for {shutter_text(request.shutter_s)} (you accept {request.max_iso:.0f})",
        columns=(
            Column("lens", "Lens"),
            *(Column(name.replace(" ", "_"), short_quarter(name)) for name, _ in exposures),
        ),
        rows=tuple(
            (lens.lens, *(None if kit is None else _iso(kit.lenses[i]) for _, kit in exposures))
            for i, lens in enumerate(lenses)
        ),
        note="An exclamation mark: more than you accept." if lenses else "",
    )


def _iso(finding: ShutterFinding) -> str:
    iso = "over 102400" if finding.iso_setting is None else str(finding.iso_setting)
    return iso if finding.is_possible else f"{iso} !"


def has_sun(light: GameLight) -> bool:
    """Whether direct sun lasts through a quarter for any edge; else it is a night game."""
    return any(
        last.edge(edge).light is not LightKind.NO_SUN
        for _, _, last in _sunny(light)
        for edge in Edge
    )


def lamps_text(light: GameLight) -> str:
    """Return the ISO that each lens needs under the floodlights alone; empty without any."""
    if light.floodlights is None:
        return ""
    shutter = shutter_text(light.request.shutter_s)
    needs = ", ".join(f"{one.lens} ISO {_iso(one)}" for one in light.floodlights.exposure.lenses)
    assumed = "; apertures assumed" if assumed_text(light.request.kit) else ""
    return f"Floodlights alone, {shutter}: {needs}{assumed}."


def light_charts(light: GameLight) -> tuple[tuple[Table, ...], tuple[Chart, ...]]:
    """Return the sun's height and each edge's light over the game; nothing under a roof."""
    if not light.track:
        return (), ()
    start = light.track[0].at
    hours = [_hour(side.at, start) for side in light.track]
    heights = Table(
        key="sun_height",
        title="Height of the sun",
        columns=(
            Column("hour", "Hour of the day", Format.DECIMAL_2),
            Column("elevation_deg", "Height of the sun", Format.DEGREES),
        ),
        rows=tuple(
            (hour, side.sun_elevation_deg) for hour, side in zip(hours, light.track, strict=True)
        ),
        detail=True,
    )
    spans = Table(
        key="edge_light",
        title="Light from each edge over the game",
        columns=(
            Column("edge", "Seen from"),
            Column("light", "Light"),
            Column("from_hour", "From hour", Format.DECIMAL_2),
            Column("to_hour", "Hour of the day", Format.DECIMAL_2),
        ),
        rows=tuple(row for edge in Edge for row in _runs(light, edge, hours)),
        detail=True,
    )
    rules = tuple(
        (_hour(q.span.start, start), short_quarter(q.span.name))
        for q in light.quarters
        if q.span.name != "halftime"
    )
    sunset = None if light.sun is None else light.sun.sunset
    charts = (
        Chart(
            key="sun_height",
            title=heights.title if sunset is None else f"{heights.title}; sunset {sunset:%H:%M}",
            kind=ChartKind.LINE,
            table=heights.key,
            x="hour",
            y="elevation_deg",
            alt_text=(
                f"The sun goes from {heights.rows[0][1]:.0f} to {heights.rows[-1][1]:.0f} degrees "
                f"between {light.track[0].at:%H:%M} and {light.track[-1].at:%H:%M}."
            ),
            rules=rules,
        ),
        Chart(
            key="edge_light",
            title=spans.title,
            kind=ChartKind.RANGES,
            table=spans.key,
            x="edge",
            y="",
            low="from_hour",
            high="to_hour",
            series="light",
            alt_text="; ".join(f"{row[0]} {row[1]}" for row in spans.rows)
            + ". Hours are in the table.",
            rules=rules,
        ),
    )
    return (heights, spans), charts


def _hour(at: datetime, start: datetime) -> float:
    """Hours since the start of the track's first day, on the clock of its first time."""
    midnight = start.replace(hour=0, minute=0, second=0, microsecond=0)
    return (at - start) / timedelta(hours=1) + (start - midnight) / timedelta(hours=1)


def _runs(light: GameLight, edge: Edge, hours: list[float]) -> list[tuple[str, str, float, float]]:
    """Each kind of light from an edge as long as it lasts; a time's light holds until the next."""
    seen = [side.edge(edge) for side in light.track]
    runs: list[tuple[str, str, float, float]] = []
    for one, begin, end in zip(seen[:-1], hours[:-1], hours[1:], strict=True):
        if runs and runs[-1][1] == one.light.value:
            runs[-1] = (*runs[-1][:3], end)
        else:
            runs.append((one.name, one.light.value, begin, end))
    return runs


def assumed_text(kit: Kit) -> str:
    """Return which apertures of a kit nobody gave, as a sentence; empty where all were given.

    >>> from lensyard.domain.kit import parse_kit
    >>> assumed_text(parse_kit("70-200 + 600")), assumed_text(parse_kit("400/2.8"))
    ('Assumed, as nobody gave it: f/2.8 for 70-200, f/4 for 600 (write 600/4).', '')
    """
    lenses = [mounted.lens for mounted in kit.mounted if mounted.lens.is_assumed]
    if not lenses:
        return ""
    said = ", ".join(f"{aperture_text(lens.f_number)} for {lens.text}" for lens in lenses)
    last = lenses[-1]
    return f"Assumed, as nobody gave it: {said} (write {last.text}/{last.f_number:g})."
