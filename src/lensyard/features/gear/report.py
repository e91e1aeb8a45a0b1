"""Kits side by side: the one that brings the most, and where each is blind."""

from __future__ import annotations

from lensyard.features.game_plan.compute import NOTABLE_GAP_YD
from lensyard.features.gear.compute import ComparedKit, GearComparison, KitFigures
from lensyard.render.report import (
    Chart,
    ChartKind,
    Column,
    Format,
    Interval,
    Report,
    Section,
    Table,
)
from lensyard.render.words import (
    attribution_of,
    format_value,
    held_out_words,
    joined,
    percent,
    sentence,
)

# A gain below this is no reason to carry more. [usable plays a game]
NOTABLE_GAIN = 0.5


def gear_report(comparison: GearComparison) -> Report:
    """Describe kits side by side."""
    kits = comparison.kits
    gaps = tuple(line for kit in kits if (line := _gap_line(kit)))
    sections = (
        Section("Light", tuple(f"{kit.letter}: {text}" for kit in kits for text in kit.light)),
        Section("Coverage gaps", gaps),
    )
    usable, reach = _usable(kits), _reach(kits)
    tables, charts = [_totals(kits), usable], [_usable_chart(kits)]
    if len(kits) > 1:
        gains = _gains(kits)
        tables.append(gains)
        charts.append(_gains_chart(gains))
    return Report(
        headline=_headline(comparison),
        sentences=_sentences(comparison),
        tables=(*tables, reach, _by_zone(kits, "value_share"), _by_zone(kits, "value_per_game")),
        charts=(*charts, _reach_chart(kits, gaps)),
        sections=tuple(section for section in sections if section.lines),
        notes=_notes(comparison),
        cautions=comparison.cautions,
        sources=(attribution_of(comparison.model),),
    )


def _is_notable(comparison: GearComparison) -> bool:
    """Whether the best kit brings so much more than the first that it is worth carrying."""
    gain = comparison.kits[comparison.best].over_first.usable_per_game
    return comparison.best > 0 and gain >= NOTABLE_GAIN


def _headline(comparison: GearComparison) -> str:
    first = comparison.kits[0].figures
    if len(comparison.kits) == 1:
        return f"{first.kit} brings {_brings(first)}{_but(comparison.kits[0], ', but')}"
    if not _is_notable(comparison):
        slow = _but(comparison.kits[0], ", though with it")
        return f"None of these brings notably more than {first.kit}{slow}"
    best = comparison.kits[comparison.best]
    return f"{best.figures.kit} brings the most{_but(best, ', but')}"


def _but(kit: ComparedKit, joint: str) -> str:
    """What of a kit cannot freeze action under the lamps of this field; nothing where all can."""
    if not kit.too_slow:
        return ""
    if kit.none_freezes:
        return f"{joint} no lens of it freezes action under the lamps of this field"
    return f"{joint} its {joined(kit.too_slow)} cannot freeze action under the lamps of this field"


def _sentences(comparison: GearComparison) -> tuple[str, ...]:
    first, best = comparison.kits[0], comparison.kits[comparison.best]
    if len(comparison.kits) == 1:
        return ()
    said = [f"{first.figures.kit} brings {_brings(first.figures)}"]
    if _is_notable(comparison):
        gain = format_value(_usable_more(best), Format.DECIMAL)
        said = [
            f"it brings {_brings(best.figures)}",
            f"that is {gain} more usable plays a game than {first.figures.kit}, which brings "
            f"{first.figures.usable_per_game:.0f} and {percent(first.figures.value_share)}",
        ]
    can = [kit for kit in comparison.kits if not kit.too_slow]
    if comparison.kits[comparison.best].too_slow and can:
        most = max(can, key=lambda kit: kit.figures.value_share)
        said.append(
            f"of those that freeze action there {_name(most)} brings the most: "
            f"{_brings(most.figures)}"
        )
    idle = [
        kit.letter
        for kit in comparison.kits[1:]
        if abs(kit.over_first.usable_per_game) < NOTABLE_GAIN
    ]
    if idle:
        said.append(
            f"no notable change with {', '.join(idle)}: what they add is already within reach, or "
            "is carried for frames that this count does not know"
        )
    return tuple(sentence(text) for text in said)


def _brings(kit: KitFigures) -> str:
    return (
        f"{kit.usable_per_game:.0f} usable plays a game ({percent(kit.p_usable)}) and "
        f"{percent(kit.value_share)} of the value"
    )


def _name(kit: ComparedKit) -> str:
    return f"{kit.letter}: {kit.figures.kit}"


def _usable_more(kit: ComparedKit) -> Interval:
    gain = kit.over_first
    return Interval(gain.usable_per_game, gain.usable_low, gain.usable_high)


def _value_more(kit: ComparedKit) -> Interval:
    gain = kit.over_first
    return Interval(gain.value_per_game, gain.value_low, gain.value_high)


def _totals(kits: tuple[ComparedKit, ...]) -> Table:
    columns = (
        Column("usable_per_game", "Usable plays a game", Format.DECIMAL),
        Column("p_usable", "Of all plays", Format.PERCENT),
        Column("value_per_game", "Value a game", Format.DECIMAL),
        Column("value_share", "Of all value", Format.PERCENT),
        Column("p_usable_touchdown", "Touchdowns usable", Format.PERCENT),
        Column("walk_yd_per_game", "Yards walked a game", Format.COUNT),
    )
    rows = tuple(
        (_name(kit), *(getattr(kit.figures, column.key) for column in columns)) for kit in kits
    )
    return Table("kits", "", (Column("kit", "Kit"), *columns), rows)


_ZONE_FIGURES = {
    "usable_per_game": ("Usable plays a game by zone", Format.DECIMAL),
    "value_share": ("Share of the value by zone", Format.PERCENT),
    "value_per_game": ("Value a game by zone", Format.DECIMAL),
}


def _by_zone(kits: tuple[ComparedKit, ...], what: str) -> Table:
    """One figure of every zone, a column a kit, beside all plays of the zone."""
    title, form = _ZONE_FIGURES[what]
    named = what == "usable_per_game"  # its chart tells the kits by these names
    columns = (Column(kit.letter, _name(kit) if named else kit.letter, form) for kit in kits)
    rows = tuple(
        (zones[0].zone, zones[0].plays_per_game, *(getattr(zone, what) for zone in zones))
        for zones in zip(*(kit.figures.zones for kit in kits), strict=True)
    )
    plays = (Column("zone", "Zone"), Column("plays", "All plays", Format.DECIMAL))
    return Table(what, title, (*plays, *columns), rows, detail=what == "value_per_game")


def _usable(kits: tuple[ComparedKit, ...]) -> Table:
    return _by_zone(kits, "usable_per_game")


def _usable_chart(kits: tuple[ComparedKit, ...]) -> Chart:
    parts = [
        f"{zone.zone} ({zone.plays_per_game:.0f} plays): "
        + ", ".join(f"{k.letter} {k.figures.zones[i].usable_per_game:.1f}" for k in kits)
        for i, zone in enumerate(kits[0].figures.zones)
    ]
    return Chart(
        key="usable",
        title="Usable plays by zone; the outline is all plays",
        kind=ChartKind.BARS,
        table="usable_per_game",
        x="zone",
        y="",
        ys=tuple(kit.letter for kit in kits),
        whole="plays",
        alt_text=sentence(f"usable plays a game by zone. {'; '.join(parts)}"),
    )


def _gains(kits: tuple[ComparedKit, ...]) -> Table:
    return Table(
        "gains",
        "What each brings more than A, a game",
        (
            Column("kit", "Kit"),
            Column("usable_more", "Usable plays more", Format.SIGNED),
            Column("value_more", "Value more", Format.SIGNED),
        ),
        tuple((_name(kit), _usable_more(kit), _value_more(kit)) for kit in kits[1:]),
        note="95 % intervals in parentheses.",
    )


def _gains_chart(gains: Table) -> Chart:
    rows = "; ".join(f"{kit} {format_value(more, Format.SIGNED)}" for kit, more, _ in gains.rows)
    return Chart(
        key="gains",
        title="What each brings more than A, usable plays a game",
        kind=ChartKind.INTERVALS,
        table=gains.key,
        x="kit",
        y="usable_more",
        rules=((0.0, "as much as A"),),
        alt_text=sentence(f"usable plays a game more than A, with 95 % intervals: {rows}"),
    )


def _reach(kits: tuple[ComparedKit, ...]) -> Table:
    """Where each kit works: what lies between its coverage gaps."""
    rows = []
    for kit in kits:
        edges = [edge for gap in kit.figures.coverage_gaps_yd for edge in gap]
        edges = [0.0, *edges, kit.figures.reach_yd]
        bands = zip(edges[::2], edges[1::2], strict=True)
        rows += [(_name(kit), low, high) for low, high in bands if high > low]
    columns = (
        Column("kit", "Kit"),
        Column("from_yd", "From", Format.YARDS),
        Column("to_yd", "To", Format.YARDS),
    )
    return Table("reach", "Distances at which each kit works", columns, tuple(rows))


def _reach_chart(kits: tuple[ComparedKit, ...], gaps: tuple[str, ...]) -> Chart:
    reach = ", ".join(f"{kit.letter} {kit.figures.reach_yd:.0f} yd" for kit in kits)
    return Chart(
        key="reach",
        title="Distances at which each kit works, yards",
        kind=ChartKind.RANGES,
        table="reach",
        x="kit",
        y="",
        low="from_yd",
        high="to_yd",
        alt_text=" ".join(
            (sentence(f"reach: {reach}"), *(gaps or ("None has a gap that matters.",)))
        ),
    )


def _gap_line(kit: ComparedKit) -> str:
    """Where a kit works with no lens although its longest one would reach; empty for nowhere."""
    bands = " and ".join(
        f"under {high:.0f} yd" if low == 0 else f"from {low:.0f} to {high:.0f} yd"
        for low, high in kit.figures.coverage_gaps_yd
        if high >= NOTABLE_GAP_YD
    )
    if not bands:
        return ""
    return (
        f"{kit.letter}: {bands} no lens of it works; {kit.figures.gap_plays_per_game:.1f} plays a "
        "game ended so near to where its plan stood."
    )


def _notes(comparison: GearComparison) -> tuple[str, ...]:
    sample = comparison.sample
    notes = [
        f"Each kit with a plan of its own at {comparison.venue}, for {comparison.assignment}, over "
        f"the same {sample.games} games of {sample.season}, {held_out_words(sample.held_out)}, "
        "walking included. Intervals are 95 %, games drawn again."
    ]
    changing = [kit.letter for kit in comparison.kits if kit.figures.changes_lenses]
    if changing:
        notes.append(
            f"With fewer bodies than lenses ({', '.join(changing)}) the plan chooses before the "
            "snap what to have in hand, but the longest lenses are taken to have been on when the "
            "season is counted; who changes lenses well does a little better."
        )
    return tuple(notes)
