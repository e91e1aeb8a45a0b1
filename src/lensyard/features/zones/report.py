"""Which spots pay off by field zone: as a table for the terminal and as a picture.

Which spots pay off by field zone, as a page's head and tables.
"""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

from lensyard.domain.zones import Zone
from lensyard.features.zones.chart import StripBar, ZonePanel, ZoneStrip, text_strip
from lensyard.features.zones.count import StretchShare, ZonesAnswer, ZoneShares
from lensyard.plays.store import attribution_lines
from lensyard.render.field.picture import closed_marks
from lensyard.render.words import at_place, attribution_of, percent, percent_range

WIDTH = 96


def strip_bars(zone: ZoneShares) -> tuple[StripBar, ...]:
    """Return one zone's stretches for the strip."""
    return tuple(
        StripBar(
            label=s.stretch.label,
            edge=s.stretch.edge,
            side=s.stretch.side,
            from_yd=s.stretch.from_yd,
            to_yd=s.stretch.to_yd,
            p_usable=s.p_usable,
            p_usable_predicted=s.p_usable_predicted,
            best=s.as_good,
        )
        for s in zone.stretches
    )


def strip_of(answer: ZonesAnswer) -> ZoneStrip:
    """Return the answer as a picture: a panel a zone."""
    panels = []
    for zone in answer.zones:
        lines = [110.0 - y for y in range(zone.zone.low, zone.zone.high + 1)]
        panels.append(
            ZonePanel(
                title=zone_title(zone.zone),
                subtitle=f"{zone.plays:,} plays",
                from_x_yd=min(lines),
                to_x_yd=max(lines),
                bars=strip_bars(zone),
            )
        )
    return ZoneStrip(
        title=f"Which spots pay off: {asked(answer)}; {answer.request.kit.text}",
        panels=tuple(panels),
        closed=closed_marks(answer.request.venue, answer.request.direction),
        notes=(*answer.notes, *answer.cautions),
    )


def zone_title(zone: Zone) -> str:
    """Return a zone's name with a capital."""
    return zone.value[0].upper() + zone.value[1:]


def asked(answer: ZonesAnswer) -> str:
    """Return which plays were counted, in words."""
    request = answer.request
    down = {None: "all downs", 1: "1st down", 2: "2nd down", 3: "3rd down", 4: "4th down"}
    parts = [down[request.down]]
    if request.distance_yd is not None:
        low, high = request.distance_yd
        span = f"{low} yd" if low == high else f"{low}-{high} yd"
        parts.append(f"{low} yd and more to go" if high >= 99 else f"{span} to go")
    seasons = answer.seasons
    span = f"{seasons[0]}-{seasons[-1]}" if len(seasons) > 1 else str(seasons[0])
    gaps = bool(seasons) and len(seasons) != seasons[-1] - seasons[0] + 1
    parts.append(", ".join(str(s) for s in seasons) if gaps else span)
    return ", ".join(parts)


def zones_text(answer: ZonesAnswer, *, top: int = 5) -> str:
    """Return the answer as a table for the terminal, the best stretches of each zone first."""
    lines = [
        *textwrap.wrap(
            f"{answer.plays:,} plays ({asked(answer)}); {answer.request.kit.text}; "
            f"{answer.request.venue.name}",
            WIDTH,
        ),
        "",
        f"{'zone and stretch':<56} usable (95%)      model  touchdowns  value",
    ]
    for zone in answer.zones:
        lines += [
            "",
            f"{zone_title(zone.zone)}: {zone.plays:,} plays, {zone.touchdowns:,} touchdowns",
        ]
        lines += [_row(share) for share in zone.ranked()[:top] if share.p_usable > 0]
        lines += [f"  strip {line}" for line in text_strip(strip_bars(zone)).splitlines()]
    lines += ["", *_legend(answer)]
    for note in (*answer.notes, *(f"Caution: {caution}" for caution in answer.cautions)):
        lines += textwrap.wrap(note, WIDTH)
    lines += textwrap.wrap(attribution_of(answer.model), WIDTH)
    for line in attribution_lines(answer.seasons):
        lines += textwrap.wrap(f"Plays: {line}", WIDTH)
    return "\n".join(lines)


def _row(share: StretchShare) -> str:
    mark = "*" if share.as_good else " "
    span = percent_range(p_low=share.p_usable_low, p_high=share.p_usable_high)
    touchdown = "-" if share.p_usable_touchdown is None else percent(share.p_usable_touchdown)
    return (
        f"{mark} {share.stretch.label:<54} {100 * share.p_usable:5.1f}% {'(' + span + ')':<9} "
        f"{100 * share.p_usable_predicted:6.1f}%  {touchdown:>10}  {share.value:5.2f}"
    )


def _legend(answer: ZonesAnswer) -> list[str]:
    worst = max(answer.zones, key=lambda zone: zone.largest_gap)
    return textwrap.wrap(
        "* as good as the zone's best within the interval. Strip: tenths of usable plays from "
        "behind the offense, up the sideline, to the far end line (0-9, * for 95% and more; | "
        "parts the edges; closed stretches are left out). Model and plays differ by "
        f"{100 * worst.largest_gap:.1f} points at most ({worst.zone.value}).",
        WIDTH,
    )


Table = tuple[tuple[str, ...], Sequence[tuple[object, ...]]]


def lead_words(answer: ZonesAnswer) -> tuple[str, tuple[str, ...]]:
    """Return the page's answer, and what it was counted from."""
    best = max(answer.zones, key=lambda zone: zone.ranked()[0].p_usable)
    spot = best.ranked()[0]
    title = (
        f"Most pays off {best.zone.value}: {at_place(spot.stretch.label)}, "
        f"{percent(spot.p_usable)} of plays usable"
    )
    counted = f"{answer.plays:,} plays counted ({asked(answer)}); {answer.request.kit.text}."
    return title, (counted,)


def picture_words(answer: ZonesAnswer) -> str:
    """Return what the heat around the field shows, in words."""
    parts = []
    for zone in answer.zones:
        best = zone.ranked()[0]
        parts.append(
            f"{zone_title(zone.zone)}: {at_place(best.stretch.label)}, {percent(best.p_usable)}"
        )
    return f"Most usable, by where the ball is snapped. {'; '.join(parts)}."


def best_rows(answer: ZonesAnswer) -> tuple[tuple[str, ...], Sequence[tuple[str, ...]]]:
    """Return one row a zone: its best stretch, the counts, and what the model expected."""
    header = ("Zone", "Best stretch", "Plays", "Usable", "Within", "Model", "Touchdowns usable")
    rows = []
    for zone in answer.zones:
        best = zone.ranked()[0]
        touchdown = best.p_usable_touchdown
        rows.append(
            (
                zone_title(zone.zone),
                best.stretch.label,
                f"{zone.plays:,}",
                percent(best.p_usable),
                percent_range(p_low=best.p_usable_low, p_high=best.p_usable_high),
                percent(best.p_usable_predicted),
                "none" if touchdown is None else f"{percent(touchdown)} of {zone.touchdowns:,}",
            )
        )
    return header, rows


def zone_rows(answer: ZonesAnswer, only: ZoneShares | None = None) -> Table:
    """Return every stretch of one zone, or of all, in order around the field."""
    header = (
        "zone",
        "stretch",
        "plays",
        "usable_plays",
        "p_usable",
        "p_usable_low",
        "p_usable_high",
        "p_usable_predicted",
        "p_usable_touchdown",
        "value",
    )
    zones = answer.zones if only is None else (only,)
    return header, [_zones_table_row(zone, share) for zone in zones for share in zone.stretches]


def _zones_table_row(zone: ZoneShares, share: StretchShare) -> tuple[object, ...]:
    touchdown = share.p_usable_touchdown
    return (
        zone.zone.value,
        share.stretch.label,
        zone.plays,
        round(share.usable_plays, 2),
        round(share.p_usable, 5),
        round(share.p_usable_low, 5),
        round(share.p_usable_high, 5),
        round(share.p_usable_predicted, 5),
        None if touchdown is None else round(touchdown, 5),
        round(share.value, 5),
    )
