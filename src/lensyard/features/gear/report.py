"""Kits side by side: the one that brings the most, and where each is blind."""

from __future__ import annotations

from lensyard.features.gear.compute import ComparedKit, GearComparison, KitFigures, KitGain
from lensyard.render.report import (
    Chart,
    ChartKind,
    Column,
    Format,
    Interval,
    Report,
    Section,
    Table,
    Value,
)
from lensyard.render.words import attribution_of, format_value, held_out_words, percent, sentence

# A gain below this is no reason to carry more. [usable plays a game]
NOTABLE_GAIN = 0.5
# Nearer than this nobody stands to a play in any case. [yd]
NOTABLE_GAP_YD = 5.0
LETTERS = "ABCDEFGH"


def gear_report(comparison: GearComparison) -> Report:
    """Describe kits side by side."""
    names = [
        f"{letter}: {kit.figures.kit}"
        for letter, kit in zip(LETTERS, comparison.kits, strict=False)
    ]
    several = len(comparison.kits) > 1
    tables = [_kits(comparison, names), _usable(comparison, names)]
    charts = [_usable_chart(comparison, names)]
    if several:
        tables.append(_gains(comparison, names))
        charts.append(_gains_chart(tables[-1]))
    tables += [_reach(comparison, names), *_values(comparison, names)]
    charts.append(_reach_chart(comparison))
    return Report(
        headline=_headline(comparison),
        sentences=_sentences(comparison),
        tables=tuple(tables),
        charts=tuple(charts),
        sections=_sections(comparison),
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
        return f"{first.kit} brings {_brings(first)}"
    if not _is_notable(comparison):
        return f"None of these brings notably more than {first.kit}"
    return f"{comparison.kits[comparison.best].figures.kit} brings the most"


def _sentences(comparison: GearComparison) -> tuple[str, ...]:
    first, best = comparison.kits[0], comparison.kits[comparison.best]
    if len(comparison.kits) == 1:
        return ()
    said = [f"{first.figures.kit} brings {_brings(first.figures)}"]
    if _is_notable(comparison):
        gain = format_value(_interval(best.over_first), Format.DECIMAL)
        said = [
            f"it brings {_brings(best.figures)}",
            f"that is {gain} more usable plays a game than {first.figures.kit}, which brings "
            f"{first.figures.usable_per_game:.0f} and {percent(first.figures.value_share)}",
        ]
    idle = [
        letter
        for letter, kit in zip(LETTERS, comparison.kits, strict=False)
        if kit is not first and abs(kit.over_first.usable_per_game) < NOTABLE_GAIN
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


def _interval(gain: KitGain) -> Interval:
    return Interval(gain.usable_per_game, gain.usable_low, gain.usable_high)


def _kits(comparison: GearComparison, names: list[str]) -> Table:
    return Table(
        "kits",
        "",
        (
            Column("kit", "Kit"),
            Column("usable_per_game", "Usable plays a game", Format.DECIMAL),
            Column("p_usable", "Of all plays", Format.PERCENT),
            Column("value_per_game", "Value a game", Format.DECIMAL),
            Column("value_share", "Of all value", Format.PERCENT),
            Column("p_usable_touchdown", "Touchdowns usable", Format.PERCENT),
            Column("walk_yd_per_game", "Yards walked a game", Format.COUNT),
        ),
        tuple(
            (
                name,
                kit.figures.usable_per_game,
                kit.figures.p_usable,
                kit.figures.value_per_game,
                kit.figures.value_share,
                kit.figures.p_usable_touchdown,
                kit.figures.walk_yd_per_game,
            )
            for name, kit in zip(names, comparison.kits, strict=True)
        ),
    )


def _by_zone(
    comparison: GearComparison, names: list[str], *, key: str, title: str, what: str, form: Format
) -> Table:
    """One figure of every zone, a column a kit, beside all plays of the zone."""
    zones = [zone.zone for zone in comparison.kits[0].figures.zones]
    by_kit = [{zone.zone: zone for zone in kit.figures.zones} for kit in comparison.kits]
    rows: list[tuple[Value, ...]] = [
        (zone, by_kit[0][zone].plays_per_game, *(getattr(kit[zone], what) for kit in by_kit))
        for zone in zones
    ]
    kits = (
        Column(letter, name if key == "usable" else letter, form)
        for letter, name in zip(LETTERS, names, strict=False)
    )
    columns = (Column("zone", "Zone"), Column("plays", "All plays", Format.DECIMAL), *kits)
    return Table(key, title, columns, tuple(rows), detail=what == "value_per_game")


def _usable(comparison: GearComparison, names: list[str]) -> Table:
    title = "Usable plays a game by zone"
    return _by_zone(
        comparison, names, key="usable", title=title, what="usable_per_game", form=Format.DECIMAL
    )


def _values(comparison: GearComparison, names: list[str]) -> tuple[Table, ...]:
    return tuple(
        _by_zone(comparison, names, key=what, title=title, what=what, form=form)
        for what, title, form in (
            ("value_share", "Share of the value by zone", Format.PERCENT),
            ("value_per_game", "Value a game by zone", Format.DECIMAL),
        )
    )


def _usable_chart(comparison: GearComparison, names: list[str]) -> Chart:
    parts = []
    for i, zone in enumerate(comparison.kits[0].figures.zones):
        each = ", ".join(
            f"{letter} {kit.figures.zones[i].usable_per_game:.1f}"
            for letter, kit in zip(LETTERS, comparison.kits, strict=False)
        )
        parts.append(f"{zone.zone} ({zone.plays_per_game:.0f} plays): {each}")
    return Chart(
        key="usable",
        title="Usable plays by zone; the outline is all plays",
        kind=ChartKind.BARS,
        table="usable",
        x="zone",
        y="",
        ys=tuple(LETTERS[: len(names)]),
        whole="plays",
        alt_text=sentence(f"usable plays a game by zone. {'; '.join(parts)}"),
    )


def _gains(comparison: GearComparison, names: list[str]) -> Table:
    return Table(
        "gains",
        f"What each brings more than {LETTERS[0]}, a game",
        (
            Column("kit", "Kit"),
            Column("usable_more", "Usable plays more", Format.SIGNED),
            Column("value_more", "Value more", Format.SIGNED),
        ),
        tuple(
            (
                name,
                _interval(kit.over_first),
                Interval(
                    kit.over_first.value_per_game,
                    kit.over_first.value_low,
                    kit.over_first.value_high,
                ),
            )
            for name, kit in list(zip(names, comparison.kits, strict=True))[1:]
        ),
        note="95 % intervals in parentheses.",
    )


def _gains_chart(gains: Table) -> Chart:
    rows = "; ".join(
        f"{format_value(row[0])} {format_value(row[1], Format.SIGNED)}" for row in gains.rows
    )
    return Chart(
        key="gains",
        title=f"What each brings more than {LETTERS[0]}, usable plays a game",
        kind=ChartKind.INTERVALS,
        table="gains",
        x="kit",
        y="usable_more",
        rules=((0.0, f"as much as {LETTERS[0]}"),),
        alt_text=sentence(f"usable plays a game more than A, with 95 % intervals: {rows}"),
    )


def _reach(comparison: GearComparison, names: list[str]) -> Table:
    rows = []
    for name, kit in zip(names, comparison.kits, strict=True):
        edges = [0.0, *(edge for gap in kit.figures.coverage_gaps_yd for edge in gap)]
        edges.append(kit.figures.reach_yd)
        rows += [
            (name, low, high)
            for low, high in zip(edges[::2], edges[1::2], strict=True)
            if high > low
        ]
    columns = (
        Column("kit", "Kit"),
        Column("from_yd", "From", Format.YARDS),
        Column("to_yd", "To", Format.YARDS),
    )
    return Table("reach", "Distances at which each kit works", columns, tuple(rows))


def _reach_chart(comparison: GearComparison) -> Chart:
    reach = ", ".join(
        f"{letter} {kit.figures.reach_yd:.0f} yd"
        for letter, kit in zip(LETTERS, comparison.kits, strict=False)
    )
    gaps = " ".join(_gap_lines(comparison)) or "None has a gap that matters."
    return Chart(
        key="reach",
        title="Distances at which each kit works, yards",
        kind=ChartKind.RANGES,
        table="reach",
        x="kit",
        y="",
        low="from_yd",
        high="to_yd",
        alt_text=f"{sentence(f'reach: {reach}')} {gaps}",
    )


def _sections(comparison: GearComparison) -> tuple[Section, ...]:
    light = tuple(
        f"{letter}: {text}"
        for letter, kit in zip(LETTERS, comparison.kits, strict=False)
        for text in kit.light
    )
    parts = (("Light", light), ("Coverage gaps", _gap_lines(comparison)))
    return tuple(Section(title, lines) for title, lines in parts if lines)


def _gap_lines(comparison: GearComparison) -> tuple[str, ...]:
    """Where a kit works with no lens although its longest one would reach, a sentence a kit."""
    lines = (_gap_line(letter, kit) for letter, kit in zip(LETTERS, comparison.kits, strict=False))
    return tuple(line for line in lines if line)


def _gap_line(letter: str, kit: ComparedKit) -> str:
    bands = " and ".join(
        f"under {high:.0f} yd" if low == 0 else f"from {low:.0f} to {high:.0f} yd"
        for low, high in kit.figures.coverage_gaps_yd
        if high >= NOTABLE_GAP_YD
    )
    if not bands:
        return ""
    return (
        f"{letter}: {bands} no lens of it works; {kit.figures.gap_plays_per_game:.1f} plays a game "
        "ended so near to where its plan stood."
    )


def _notes(comparison: GearComparison) -> tuple[str, ...]:
    sample = comparison.sample
    seen = held_out_words(sample.held_out)
    notes = [
        f"Each kit with a plan of its own at {comparison.venue}, for {comparison.assignment}, over "
        f"the same {sample.games} games of {sample.season}, {seen}, walking included. Intervals "
        "are 95 %, games drawn again."
    ]
    changing = [
        letter
        for letter, kit in zip(LETTERS, comparison.kits, strict=False)
        if kit.figures.changes_lenses
    ]
    if changing:
        notes.append(
            f"With fewer bodies than lenses ({', '.join(changing)}) the plan chooses before the "
            "snap what to have in hand, but the longest lenses are taken to have been on when the "
            "season is counted; who changes lenses well does a little better."
        )
    return tuple(notes)
