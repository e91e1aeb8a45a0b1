"""Which spots pay off by field zone, said once for every face."""

from __future__ import annotations

from lensyard.domain.situation import Zone
from lensyard.features.zones.compute import StretchShare, ZonesAnswer, ZoneShares
from lensyard.render.report import Chart, ChartKind, Column, Format, Interval, Report, Table
from lensyard.render.words import at_place, attribution_of, percent

TOP = 5
"""Stretches named for each zone."""
LEAST_DRAWN = 0.005
"""An edge whose best stretch has less has no chart: every line would lie on zero. [share]"""

_SHARES = (
    Column("plays", "Plays", Format.COUNT),
    Column("p_usable", "Usable", Format.PERCENT),
    Column("p_usable_predicted", "Model", Format.PERCENT),
    Column("p_usable_touchdown", "Touchdowns", Format.PERCENT),
    Column("value", "Value", Format.DECIMAL_2),
)
_EDGES = {
    "sideline": ("Along the sideline", "yards from the end line behind the offense"),
    "end": ("Behind the opponent's end line", "yards in from the pylon"),
    "own end": ("Behind the offense's own end line", "yards in from the pylon"),
}


def zones_report(answer: ZonesAnswer, *, top: int = TOP) -> Report:
    """Return the ``top`` stretches of each zone, and every stretch's share along its edge."""
    best = max(answer.zones, key=lambda zone: zone.ranked()[0].p_usable)
    spot = best.ranked()[0]
    worst = max(answer.zones, key=lambda zone: zone.largest_gap)
    edges = _by_edge(answer)
    return Report(
        headline=(
            f"Most pays off {best.zone.value}: {at_place(spot.stretch.label)}, "
            f"{percent(spot.p_usable)} of plays give a usable frame"
        ),
        sentences=(
            f"{answer.plays:,} plays counted ({counted_words(answer)}); {answer.kit}; "
            f"{answer.venue}.",
        ),
        tables=(_best(answer, top), *(table for table, _ in edges)),
        charts=tuple(chart for _, chart in edges if chart is not None),
        notes=(
            "Stretches whose interval reaches the share of the zone's best are as good as it. "
            f"Model and plays differ by {100 * worst.largest_gap:.1f} points at most "
            f"({worst.zone.value}).",
            *answer.notes,
        ),
        cautions=answer.cautions,
        sources=(
            attribution_of(answer.model),
            *(f"Plays: {each['text']} License: {each['license']}" for each in answer.attributions),
        ),
    )


def zone_title(zone: Zone) -> str:
    """Return a zone's name with a capital."""
    return zone.value[0].upper() + zone.value[1:]


def counted_words(answer: ZonesAnswer) -> str:
    """Return which plays were counted, in words."""
    parts = [
        "all downs"
        if answer.down is None
        else ("1st", "2nd", "3rd", "4th")[answer.down - 1] + " down"
    ]
    if answer.distance_yd is not None:
        low, high = answer.distance_yd
        span = f"{low} yd" if low == high else f"{low}-{high} yd"
        parts.append(f"{low} yd and more to go" if high >= 99 else f"{span} to go")
    seasons = answer.seasons
    together = len(seasons) == seasons[-1] - seasons[0] + 1
    span = f"{seasons[0]}-{seasons[-1]}" if len(seasons) > 1 else str(seasons[0])
    parts.append(span if together else ", ".join(map(str, seasons)))
    return ", ".join(parts)


def _best(answer: ZonesAnswer, top: int) -> Table:
    rows = []
    for zone in answer.zones:
        rows += [
            (zone_title(zone.zone), s.stretch.label, s.as_good, *_cells(zone, s))
            for s in zone.ranked()[:top]
            if s.p_usable > 0
        ]
    return Table(
        "best-stretches",
        f"Best stretches by zone: {counted_words(answer)}",
        (
            Column("zone", "Zone"),
            Column("stretch", "Stretch"),
            Column("as_good", "As good as the best"),
            *_SHARES,
        ),
        tuple(rows),
    )


def _cells(zone: ZoneShares, s: StretchShare) -> tuple[int | float | Interval | None, ...]:
    usable = Interval(s.p_usable, s.p_usable_low, s.p_usable_high)
    return zone.plays, usable, s.p_usable_predicted, s.p_usable_touchdown, s.value


def _by_edge(answer: ZonesAnswer) -> list[tuple[Table, Chart | None]]:
    """Return, for each edge of the field, every stretch's share and the lines that draw it."""
    stretches = [s for zone in answer.zones for s in zone.stretches]
    sides = sorted(
        {(s.stretch.edge, s.stretch.side) for s in stretches if s.stretch.edge in _EDGES}
    )
    return [_edge(answer, edge, side) for edge, side in sides]


def _edge(answer: ZonesAnswer, edge: str, side: str) -> tuple[Table, Chart | None]:
    title, along = _EDGES[edge]
    if side != "both":
        title += f", the offense's {side}"
    key = f"{edge}-{side}".replace(" ", "-")
    rows = []
    most = []
    best = 0.0
    for zone in answer.zones:
        here = [s for s in zone.stretches if (s.stretch.edge, s.stretch.side) == (edge, side)]
        for s in here:
            middle = (s.stretch.from_yd + s.stretch.to_yd) / 2
            rows.append(
                (zone_title(zone.zone), s.stretch.label, middle, s.p_usable, *_cells(zone, s))
            )
        top = max(here, key=lambda s: s.p_usable)
        best = max(best, top.p_usable)
        most.append(f"{zone_title(zone.zone)} {percent(top.p_usable)} at {top.stretch.label}")
    table = Table(
        key,
        title,
        (
            Column("zone", "Zone"),
            Column("stretch", "Stretch"),
            Column("at_yd", along, Format.COUNT),
            Column("share", "Usable share", Format.PERCENT),
            *_SHARES,
        ),
        tuple(rows),
        detail=True,
    )
    chart = Chart(
        key,
        f"{title}: share of plays give a usable frame",
        ChartKind.LINE,
        table=key,
        x="at_yd",
        y="share",
        series="zone",
        alt_text=f"Most by where the ball is snapped: {'; '.join(most)}.",
    )
    return table, chart if best >= LEAST_DRAWN else None
