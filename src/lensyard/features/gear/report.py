"""Kits side by side in words, and as a picture.

Kits side by side as parts of a page.
"""

from __future__ import annotations

from collections.abc import Sequence

from lensyard.features.gear.charts import BandRow, GainRow, GearBars, GearPlot, ZoneBarGroup
from lensyard.features.gear.compare import GearReport, KitFigures, KitGain
from lensyard.render.text import paragraph, text_table
from lensyard.render.words import attribution_of, held_out_words, percent, sentence

# Nearer than this nobody stands to a play in any case. [yd]
NOTABLE_GAP_YD = 5.0
LETTERS = "ABCDEFGH"


def headline(report: GearReport) -> str:
    """Return the answer: the kit that brings the most, and what it brings over the first."""
    best, first = report.kits[report.best], report.kits[0]
    brings = (
        f"{best.usable_per_game:.0f} usable plays a game ({percent(best.p_usable)}) and "
        f"{percent(best.value_share)} of the value"
    )
    if report.best == 0:
        if len(report.kits) == 1:
            return f"{best.kit} brings {brings}."
        return f"None of the others brings more than {best.kit}: {brings}."
    gain = report.gains[report.best]
    return (
        f"{best.kit} brings the most: {brings}, {gain.usable_per_game:+.1f} usable plays a game "
        f"({gain.usable_low:+.1f} to {gain.usable_high:+.1f}) beside {first.kit}."
    )


def gear_text(report: GearReport, *, width: int = 80) -> str:
    """Return the comparison as plain text, the sentence first."""
    sample = report.evaluation_sample
    blocks = [
        paragraph(headline(report), width=width),
        *_light(report, width),
        _totals(report, width),
        paragraph(
            f"Each kit with a plan of its own at {report.venue}, for {report.assignment}, over the "
            f"same {sample.games} games of {sample.season}. Beside the first kit with 95% "
            "intervals (games drawn again).",
            width=width,
        ),
        _zones(report, width),
        _holes(report, width),
        _bodies(report, width),
        "\n".join(paragraph(f"Caution: {text}", width=width, hang=2) for text in report.cautions),
        paragraph(attribution_of(report.model), width=width),
    ]
    return "\n\n".join(block for block in blocks if block) + "\n"


def _light(report: GearReport, width: int) -> list[str]:
    lines = []
    for letter, kit, sentences in zip(LETTERS, report.kits, report.light, strict=False):
        lines += [
            paragraph(f"Light, {letter} ({kit.kit}): {text}", width=width, hang=2)
            for text in sentences
        ]
    return ["\n".join(lines)] if lines else []


def _totals(report: GearReport, width: int) -> str:
    rows = [
        (
            letter,
            kit.kit,
            f"{kit.usable_per_game:.1f}",
            percent(kit.value_share),
            percent(kit.p_usable_touchdown),
            f"{kit.walk_yd_per_game:,.0f}",
            _gain(gain, is_first=i == 0),
        )
        for i, (letter, kit, gain) in enumerate(
            zip(LETTERS, report.kits, report.gains, strict=False)
        )
    ]
    return text_table(
        ("", "kit", "usable", "value", "touchdowns", "yd walked", "plays more"),
        rows,
        wrap=1,
        left=(0,),
        width=width,
    )


def _gain(gain: KitGain, *, is_first: bool) -> str:
    if is_first:
        return ""
    return f"{gain.usable_per_game:+.1f} ({gain.usable_low:+.1f} to {gain.usable_high:+.1f})"


def _zones(report: GearReport, width: int) -> str:
    names = [zone.zone for zone in report.kits[0].zones]
    letters = LETTERS[: len(report.kits)]
    by_kit = [{zone.zone: zone for zone in kit.zones} for kit in report.kits]
    plays = {zone.zone: zone.plays_per_game for zone in report.kits[0].zones}
    usable = [
        (name, f"{plays[name]:.0f}", *(f"{kit[name].usable_per_game:.1f}" for kit in by_kit))
        for name in names
    ]
    value = [(name, "", *(percent(kit[name].value_share) for kit in by_kit)) for name in names]
    return "\n\n".join(
        (
            text_table(("usable plays a game", "plays", *letters), usable, wrap=0, width=width),
            text_table(("share of the value", "", *letters), value, wrap=0, width=width),
        )
    )


def _holes(report: GearReport, width: int) -> str:
    lines = [
        paragraph(gap_words(letter, kit), width=width, hang=2)
        for letter, kit in zip(LETTERS, report.kits, strict=False)
        if any(high >= NOTABLE_GAP_YD for _, high in kit.coverage_gaps_yd)
    ]
    return "\n".join(lines)


def _bodies(report: GearReport, width: int) -> str:
    """What is assumed of a kit with fewer bodies than lenses."""
    letters = [
        letter for letter, kit in zip(LETTERS, report.kits, strict=False) if kit.changes_lenses
    ]
    if not letters:
        return ""
    return paragraph(
        f"With fewer bodies than lenses ({', '.join(letters)}) the plan chooses before the snap "
        "what to have in hand, but the longest lenses are taken to have been on when the season is "
        "counted; who changes lenses well does a little better.",
        width=width,
    )


def gap_words(letter: str, kit: KitFigures) -> str:
    """Return where a kit sees nothing although its longest lens would reach, in words."""
    bands = " and ".join(
        f"under {high:.0f} yd" if low == 0 else f"from {low:.0f} to {high:.0f} yd"
        for low, high in kit.coverage_gaps_yd
        if high >= NOTABLE_GAP_YD
    )
    return (
        f"Hole, {letter}: {bands} no lens of it works; {kit.gap_plays_per_game:.1f} plays a game "
        "ended so near to where its plan stood."
    )


def gear_plot(report: GearReport) -> GearPlot:
    """Return the comparison as what is drawn."""
    return GearPlot(
        title=f"Usable plays a game at {report.venue}, for {report.assignment}",
        zones=tuple(zone.zone for zone in report.kits[0].zones),
        bars=tuple(
            GearBars(
                name=f"{letter} {kit.kit}",
                usable_per_game=tuple(zone.usable_per_game for zone in kit.zones),
                total=kit.usable_per_game,
                value_share=kit.value_share,
            )
            for letter, kit in zip(LETTERS, report.kits, strict=False)
        ),
    )


Table = tuple[Sequence[str], Sequence[Sequence[str]]]
Figures = tuple[Sequence[str], Sequence[Sequence[object]]]

# A gain below this is no reason to carry more. [plays a game]
NOTABLE_GAIN = 0.5


def lead_words(report: GearReport) -> tuple[str, tuple[str, ...]]:
    """Return the kit that brings the most, what it brings, and what the first one does."""
    best, first = report.kits[report.best], report.kits[0]
    brings = _brings(report, report.best)
    gain = report.gains[report.best]
    if len(report.kits) == 1:
        return first.kit, (sentence(f"it brings {_brings(report, 0)}"),)
    if report.best == 0 or gain.usable_per_game < NOTABLE_GAIN:
        title = f"None of these brings more than your own kit, {first.kit}"
        return title, (
            sentence(f"your own kit brings {_brings(report, 0)}"),
            *_next_words(report),
        )
    return f"{best.kit} brings the most", (
        sentence(
            f"{brings}. That is {gain.usable_per_game:.1f} more usable plays a game "
            f"({gain.usable_low:.1f} to {gain.usable_high:.1f}) than {first.kit}, which brings "
            f"{first.usable_per_game:.0f} and {percent(first.value_share)}"
        ),
        *_next_words(report),
    )


def _brings(report: GearReport, number: int) -> str:
    kit = report.kits[number]
    return (
        f"{kit.usable_per_game:.0f} usable plays a game ({percent(kit.p_usable)}) and "
        f"{percent(kit.value_share)} of the value"
    )


def _next_words(report: GearReport) -> tuple[str, ...]:
    """What does not pay among the kits compared."""
    idle = [
        LETTERS[i]
        for i, gain in enumerate(report.gains)
        if i and abs(gain.usable_per_game) < NOTABLE_GAIN
    ]
    if not idle:
        return ()
    return (
        f"No notable change with {', '.join(idle)}: what they add is already within reach, or is "
        "carried for frames that this count does not know.",
    )


def _gain_words(gain: KitGain) -> str:
    if max(abs(gain.usable_low), abs(gain.usable_high)) < 0.05:
        return "no change"
    return f"{gain.usable_per_game:+.1f} ({gain.usable_low:+.1f} to {gain.usable_high:+.1f})"


def names_of(report: GearReport) -> tuple[str, ...]:
    """Return the kits in words, in order."""
    return tuple(kit.kit for kit in report.kits)


def totals_table(report: GearReport) -> Table:
    """Return the kits with what they bring over a game."""
    header = (
        "Kit", "Usable plays a game", "More than A", "Value", "Value more", "Touchdowns usable",
        "Walks a game",
    )  # fmt: skip
    rows = []
    for i, (kit, gain) in enumerate(zip(report.kits, report.gains, strict=True)):
        more, value = _gain_words(gain), f"{gain.value_per_game:+.1f}"
        rows.append(
            (
                f"{LETTERS[i]}: {kit.kit}",
                f"{kit.usable_per_game:.1f} ({percent(kit.p_usable)})",
                more if i else "your own",
                f"{kit.value_per_game:.1f} ({percent(kit.value_share)})",
                value if i else "your own",
                percent(kit.p_usable_touchdown),
                f"{kit.walk_yd_per_game:,.0f} yd",
            )
        )
    return header, rows


def value_table(report: GearReport) -> Table:
    """Return the value a game by zone with each kit."""
    kits = [{zone.zone: zone for zone in kit.zones} for kit in report.kits]
    header = ("Value a game", *(f"{LETTERS[i]}" for i in range(len(kits))))
    return header, [
        (
            zone.zone,
            *(
                f"{kit[zone.zone].value_per_game:.1f} ({percent(kit[zone.zone].value_share)})"
                for kit in kits
            ),
        )
        for zone in report.kits[0].zones
    ]


def zone_groups(report: GearReport) -> tuple[ZoneBarGroup, ...]:
    """Return usable plays by zone as what is drawn."""
    kits = [{zone.zone: zone.usable_per_game for zone in kit.zones} for kit in report.kits]
    return tuple(
        ZoneBarGroup(zone.zone, zone.plays_per_game, tuple(kit[zone.zone] for kit in kits))
        for zone in report.kits[0].zones
    )


def zones_said(report: GearReport) -> str:
    """Return usable plays by zone in words."""
    parts = []
    for group in zone_groups(report):
        each = ", ".join(f"{LETTERS[i]} {n:.1f}" for i, n in enumerate(group.usable_per_game))
        parts.append(f"{group.name} ({group.plays_per_game:.0f} plays): {each}")
    return sentence(f"usable plays a game by zone. {'; '.join(parts)}")


def zone_figures(report: GearReport) -> Figures:
    """Return every kit in every zone with its figures."""
    header = (
        "kit", "zone", "plays_per_game", "usable_per_game", "p_usable", "value_per_game",
        "value_share",
    )  # fmt: skip
    return header, [
        (
            kit.kit,
            zone.zone,
            round(zone.plays_per_game, 3),
            round(zone.usable_per_game, 3),
            round(zone.p_usable, 4),
            round(zone.value_per_game, 3),
            round(zone.value_share, 4),
        )
        for kit in report.kits
        for zone in kit.zones
    ]


def gain_rows(report: GearReport) -> tuple[GainRow, ...]:
    """Return what every other kit adds to the first as what is drawn; none where there is none."""
    return tuple(
        GainRow(
            f"{LETTERS[i]}: {kit.kit}",
            gain.usable_per_game,
            min(gain.usable_low, gain.usable_per_game),
            max(gain.usable_high, gain.usable_per_game),
        )
        for i, (kit, gain) in enumerate(zip(report.kits, report.gains, strict=True))
        if i
    )


def gains_said(report: GearReport) -> str:
    """Return what every other kit adds to the first in words."""
    rows = "; ".join(
        f"{row.name} {row.value:+.1f} ({row.low:+.1f} to {row.high:+.1f})"
        for row in gain_rows(report)
    )
    return sentence(f"usable plays a game more than A, with 95 % intervals: {rows}")


def gain_figures(report: GearReport) -> Figures:
    """Return the gains as figures."""
    header = (
        "kit", "usable_more_per_game", "usable_low", "usable_high", "value_more_per_game",
        "value_low", "value_high", "value_share", "walk_yd_per_game",
    )  # fmt: skip
    return header, [
        (
            kit.kit,
            round(gain.usable_per_game, 3),
            round(gain.usable_low, 3),
            round(gain.usable_high, 3),
            round(gain.value_per_game, 3),
            round(gain.value_low, 3),
            round(gain.value_high, 3),
            round(kit.value_share, 4),
            round(kit.walk_yd_per_game, 1),
        )
        for kit, gain in zip(report.kits, report.gains, strict=True)
    ]


def band_rows(report: GearReport) -> tuple[BandRow, ...]:
    """Return the distances at which each kit works as what is drawn."""
    return tuple(
        BandRow(f"{letter}: {kit.kit}", kit.reach_yd, kit.coverage_gaps_yd)
        for letter, kit in zip(LETTERS, report.kits, strict=False)
    )


def bands_said(report: GearReport) -> str:
    """Return where each kit works and where it sees nothing, in words."""
    holes = [
        gap_words(letter, kit).removeprefix("Hole, ")
        for letter, kit in zip(LETTERS, report.kits, strict=False)
        if any(high >= NOTABLE_GAP_YD for _, high in kit.coverage_gaps_yd)
    ]
    reach = ", ".join(
        f"{letter} {kit.reach_yd:.0f} yd" for letter, kit in zip(LETTERS, report.kits, strict=False)
    )
    told = " ".join(holes) if holes else "None has a hole that matters"
    return sentence(f"reach: {reach}. {told}")


def band_figures(report: GearReport) -> Figures:
    """Return reach and holes as figures."""
    header = ("kit", "reach_yd", "holes_yd", "hole_plays_per_game")
    return header, [
        (
            kit.kit,
            round(kit.reach_yd, 1),
            "; ".join(f"{low:.1f}-{high:.1f}" for low, high in kit.coverage_gaps_yd),
            round(kit.gap_plays_per_game, 2),
        )
        for kit in report.kits
    ]


def note_lines(report: GearReport) -> tuple[str, ...]:
    """Return what was counted, what is assumed, and what the light does not allow."""
    sample = report.evaluation_sample
    seen = held_out_words(sample.held_out)
    lines = [
        f"Each kit with a plan of its own at {report.venue}, for {report.assignment}, over the "
        f"same {sample.games} games of {sample.season}, {seen}, walking included. Intervals "
        "are 95 %, games drawn again.",
    ]
    changing = [
        letter for letter, kit in zip(LETTERS, report.kits, strict=False) if kit.changes_lenses
    ]
    if changing:
        lines.append(
            f"With fewer bodies than lenses ({', '.join(changing)}) the longest lenses are taken "
            "to have been on when the season is counted."
        )
    for letter, light in zip(LETTERS, report.light, strict=False):
        lines += [f"Light, {letter}: {text}" for text in light]
    return (*lines, attribution_of(report.model))
