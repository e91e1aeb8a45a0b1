"""Kits side by side in words, and as a picture."""

from __future__ import annotations

from lensyard.present.next_play import attribution_of
from lensyard.service.gear import GearReport, KitFigures, KitGain
from lensyard.views.gear_plot import GearBars, GearPlot
from lensyard.views.tables import paragraph, text_table
from lensyard.views.words import percent

# Nearer than this nobody stands to a play in any case. [yd]
NOTABLE_HOLE_YD = 5.0
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
    evidence = report.evidence
    blocks = [
        paragraph(headline(report), width=width),
        *_light(report, width),
        _totals(report, width),
        paragraph(
            f"Each kit with a plan of its own at {report.venue}, for {report.assignment}, over the "
            f"same {evidence.games} games of {evidence.season}. Beside the first kit with 95% "
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
        paragraph(hole_words(letter, kit), width=width, hang=2)
        for letter, kit in zip(LETTERS, report.kits, strict=False)
        if any(high >= NOTABLE_HOLE_YD for _, high in kit.holes_yd)
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


def hole_words(letter: str, kit: KitFigures) -> str:
    """Return where a kit sees nothing although its longest lens would reach, in words."""
    bands = " and ".join(
        f"under {high:.0f} yd" if low == 0 else f"from {low:.0f} to {high:.0f} yd"
        for low, high in kit.holes_yd
        if high >= NOTABLE_HOLE_YD
    )
    return (
        f"Hole, {letter}: {bands} no lens of it works; {kit.hole_plays_per_game:.1f} plays a game "
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
