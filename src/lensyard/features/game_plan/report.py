"""A plan report in words, for a terminal and for whoever prints it.

A plan report and the light of the day as parts of a page.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from lensyard.domain.shot_list import FRAME_OUTCOMES
from lensyard.features.game_plan.rows import BreakRow, KickRow, MustHaveRow, PlanReport, PlanRow
from lensyard.planner.season import PolicyFigures
from lensyard.render.light import edges_table, iso_table
from lensyard.render.report import Table as ReportTable
from lensyard.render.text import paragraph, text_table
from lensyard.render.words import attribution_of, format_value, held_out_words, percent, sentence
from lensyard.sun.game_light import GameLight

# Scrimmage plays of both teams in a professional game, rounded (the bundled seasons have 125).
PLAYS_A_GAME = 130


def headline(report: PlanReport) -> str:
    """Return the plan in two sentences: the rule to remember, and what it earns."""
    card = report.rule_card
    inside = card.inside.value_share > card.rule.value_share
    best, text = (card.inside, card.inside_text) if inside else (card.rule, card.text)
    first = sentence(f"to remember: {text}")
    plan, habit = card.plan, card.habit
    return (
        f"{first} That brings {best.usable_per_game:.0f} usable plays a game "
        f"({percent(best.value_share)} of the value); the whole plan below brings "
        f"{plan.usable_per_game:.0f} ({percent(plan.value_share)}), the usual habit "
        f"{habit.usable_per_game:.0f} ({percent(habit.value_share)})."
    )


def plan_text(report: PlanReport, *, width: int = 80) -> str:
    """Return the whole plan as plain text, the sentence first."""
    request = report.request
    blocks = [
        paragraph(headline(report), width=width),
        *(paragraph(f"Light: {line}", width=width, hang=2) for line in report.light),
        paragraph(
            f"{request.kit.text}; {request.venue.name}; for {request.assignment.name}"
            f"{_had(report)}",
            width=width,
        ),
        _rows("phase of the game", report.phases, width),
        _rows("zone of the field", report.zones, width),
        paragraph(_how_to_read(report), width=width),
        _kicks(report.kicks, width),
        _walking(report, width),
        _rule_card(report, width),
    ]
    if report.must_have:
        blocks += [_shot_list(report.must_have, width), _breaks(report.breaks, width)]
    blocks.append("\n".join(paragraph(f"Note: {gap}", width=width, hang=2) for gap in report.gaps))
    blocks.append(
        "\n".join(paragraph(f"Caution: {text}", width=width, hang=2) for text in report.cautions)
    )
    blocks.append(paragraph(attribution_of(report.model), width=width))
    return "\n\n".join(blocks) + "\n"


def _had(report: PlanReport) -> str:
    titles = [row.title for row in report.must_have if row.have]
    if not titles:
        return ""
    weights = report.request.assignment.weights
    changed = [
        f"{name} now {getattr(weights, name):g}"
        for name in ("touchdown", "sack", "interception")
        if any(name in FRAME_OUTCOMES.get(row.key, ()) for row in report.must_have if row.have)
    ]
    counts = f" (a usable frame counts: {', '.join(changed)})" if changed else ""
    return f"; you have: {', '.join(titles)}{counts}"


def _both(p_usable: float, value_share: float) -> str:
    return f"{percent(p_usable)} / {percent(value_share)}"


def _rows(title: str, rows: Iterable[PlanRow], width: int) -> str:
    header = (title, "where to stand", "plays", "usable / value", "habit")
    cells = [
        (
            row.title,
            row.where,
            f"{row.plays_per_game:.0f}",
            _both(row.p_usable, row.value_share),
            _both(row.habit_p_usable, row.habit_value_share),
        )
        for row in rows
    ]
    return text_table(header, cells, wrap=1, left=(0,), width=width)


def _how_to_read(report: PlanReport) -> str:
    sample = report.evaluation_sample
    seen = held_out_words(sample.held_out)
    return (
        f"Plays a game; share of them usable and of their value had, walking included, over "
        f"{sample.games} games of {sample.season}, {seen}. Beside it the habit: "
        f"{report.phases[0].habit}. A line is one spot for the whole row; between two plays "
        "`lensyard next --standing` knows better."
    )


def _kicks(rows: Iterable[KickRow], width: int) -> str:
    lines = []
    for row in rows:
        share = "" if row.p_usable is None else f" ({percent(row.p_usable)} of them usable)"
        lines.append(
            paragraph(
                f"{sentence(row.title)[:-1]}: {row.where}{share}; {row.note}.", width=width, hang=2
            )
        )
    return "\n".join(["Kicking plays", *lines])


def _walking(report: PlanReport, width: int) -> str:
    walk = report.walking
    return paragraph(
        f"Walking: {walk.yd_per_game:,.0f} yd a game ({walk.minutes_per_game:.0f} min on foot) in "
        f"{walk.walks_per_game:.0f} walks, nine of ten under {walk.longest_usual_yd:.0f} yd, "
        f"beside moves in the long breaks; the habit walks {walk.habit_yd_per_game:,.0f} yd. At "
        f"most {walk.drive_limit_yd:g} yd between two plays and {walk.change_limit_yd:g} when the "
        f"ball changes hands. A yard costs {walk.price_per_yd:.2g} ordinary plays; "
        "`--price-curve` shows what other prices give.",
        width=width,
    )


def _policy_cells(policy: PolicyFigures) -> tuple[str, ...]:
    return (
        policy.title,
        f"{policy.usable_per_game:.0f}",
        percent(policy.p_usable),
        percent(policy.value_share),
        percent(policy.p_usable_touchdown),
        f"{policy.walk_yd_per_game:,.0f}",
    )


def _rule_card(report: PlanReport, width: int) -> str:
    card = report.rule_card
    fitted = f"{card.fitted_on[0]}-{card.fitted_on[-1]}"
    lines = [
        f"Rule card: {card.text} ({percent(card.rule.value_share)} of the value). "
        f"Better: {card.inside_text} ({percent(card.inside.value_share)}). The whole plan earns "
        f"{card.plan_over_rule:.2f} times the better of the two and {card.plan_over_habit:.2f} "
        f"times the habit. Numbers fitted on {fitted}."
    ]
    table = text_table(
        ("way of working", "plays a game", "usable", "value", "touchdowns", "yd walked"),
        [_policy_cells(p) for p in (card.habit, card.rule, card.inside, card.plan)],
        wrap=0,
        width=width,
    )
    return "\n".join([*(paragraph(line, width=width) for line in lines), "", table])


def _shot_list(rows: Iterable[MustHaveRow], width: int) -> str:
    lines = [
        paragraph(
            "Shot list: plays from kickoff until you can tick it from the plan's own spots (both "
            "teams' plays counted), and the share of games in which it comes at all",
            width=width,
        )
    ]
    lines += [
        paragraph(shot_words(row), width=width, hang=4)
        for row in rows
        if row.kind == "action" or row.have or row.slot is None
    ]
    return "\n".join(lines)


def shot_words(row: MustHaveRow) -> str:
    """Return one frame of the shot list in a sentence or two.

    >>> shot_words(MustHaveRow("fans", "fans", "life", True, "any stop", "the front rows"))
    '[x] fans'
    """
    if row.have:
        return f"[x] {row.title}"
    if row.kind == "life":
        return (
            f"[ ] {row.title}: no break has room; in play it costs about {row.plays_lost:.0f} plays"
        )
    if row.p_a_play is None or row.p_in_game is None:
        return f"[ ] {row.title}: {row.where or row.when}; nobody can say how likely it is"
    plays = "never" if row.plays_expected is None else f"{row.plays_expected:,.0f} plays"
    return f"[ ] {row.title}: {plays}, {percent(row.p_in_game)} of games. {go_words(row)}"


def go_words(row: MustHaveRow) -> str:
    """Return when it pays to go and get an action frame, in words."""
    if row.p_go is None or row.break_even is None or row.p_stay is None:
        return "Nowhere else comes it much more often."
    late = ""
    if row.go_from_plays_left is not None and row.go_from_plays_left <= PLAYS_A_GAME:
        late = (
            f" With fewer than {row.go_from_plays_left} plays left the plan's own spots bring it "
            "in fewer than 9 games of 10."
        )
    return (
        f"Sooner: {row.go_phase}, {row.go_label}: {percent(row.p_go)} a play for "
        f"{percent(row.p_stay)}; do it if it is worth more than {row.break_even:.1f} ordinary "
        f"plays to you.{late}"
    )


def _breaks(rows: Iterable[BreakRow], width: int) -> str:
    lines = ["Breaks"]
    rows = tuple(rows)
    for row in rows:
        what = []
        if row.now:
            what.append(
                ", ".join(
                    f"{name} ({where})" for name, where in zip(row.now, row.where, strict=True)
                )
            )
        if row.last_chance:
            what.append(f"last chance for {', '.join(row.last_chance)}")
        if not what:
            continue
        lines.append(
            paragraph(
                f"{sentence(row.name)[:-1]} ({row.minutes:g} min): {'; '.join(what)}.",
                width=width,
                hang=2,
            )
        )
    missing = rows[0].missing if rows else ()
    if missing:
        lines.append(
            paragraph(
                f"At every break look whether you have: {', '.join(missing)}.", width=width, hang=2
            )
        )
    return "\n".join(lines)


Table = tuple[tuple[str, ...], Sequence[tuple[str, ...]]]


def lead_words(report: PlanReport) -> tuple[str, tuple[str, ...]]:
    """Return the rule to remember, and what it and the plan earn."""
    card = report.rule_card
    inside = card.inside.value_share > card.rule.value_share
    best, text = (card.inside, card.inside_text) if inside else (card.rule, card.text)
    plan, habit = card.plan, card.habit
    return (
        sentence(text).removesuffix("."),
        (
            f"That rule brings {best.usable_per_game:.0f} usable plays a game and "
            f"{percent(best.value_share)} of the value; the whole plan {plan.usable_per_game:.0f} "
            f"and {percent(plan.value_share)}, the usual habit {habit.usable_per_game:.0f} and "
            f"{percent(habit.value_share)}.",
            f"{report.request.kit.text}; {report.request.venue.name}; "
            f"{report.request.assignment.name}.",
        ),
    )


def plan_table(rows: Iterable[PlanRow], *, title: str) -> Table:
    """Return phases or zones as a table."""
    header = (title, "Where to stand", "Plays a game", "Usable", "Value", "Habit usable")
    return header, [
        (
            row.title,
            row.where + (f"; {row.note}" if row.note else ""),
            f"{row.plays_per_game:.0f}",
            percent(row.p_usable),
            percent(row.value_share),
            percent(row.habit_p_usable),
        )
        for row in rows
    ]


def csv_rows(report: PlanReport) -> tuple[tuple[str, ...], Sequence[tuple[object, ...]]]:
    """Return phases and zones with their places and figures."""
    header = (
        "row", "where", "ball", "x_yd", "y_yd", "plays_per_game", "p_usable", "habit_p_usable",
        "value_share", "habit_value_share",
    )  # fmt: skip
    return header, [
        (
            row.title,
            row.where,
            row.ball,
            round(row.x_yd, 2),
            round(row.y_yd, 2),
            round(row.plays_per_game, 2),
            round(row.p_usable, 4),
            round(row.habit_p_usable, 4),
            round(row.value_share, 4),
            round(row.habit_value_share, 4),
        )
        for row in (*report.phases, *report.zones)
    ]


def kick_lines(rows: Iterable[KickRow]) -> tuple[str, ...]:
    """Return where to stand for kicks."""
    return tuple(
        f"{sentence(row.title)[:-1]}: {row.where}"
        + ("" if row.p_usable is None else f" ({percent(row.p_usable)} usable)")
        + (f"; {row.note}." if row.note else ".")
        for row in rows
    )


def shot_lines(report: PlanReport) -> tuple[str, ...]:
    """Return the shot list: what is had, how long each frame takes, when it pays to go for it."""
    # What has its break stands there.
    rows = [r for r in report.must_have if r.kind == "action" or r.have or r.slot is None]
    return tuple(shot_words(row).replace("[x] ", "Had: ").replace("[ ] ", "") for row in rows)


def break_lines(rows: Iterable[BreakRow]) -> tuple[str, ...]:
    """Return what to get in each break."""
    lines = []
    for row in rows:
        pairs = zip(row.now, row.where, strict=True)
        what = [f"{name} ({where})" if where else name for name, where in pairs]
        if row.last_chance:
            what.append(f"last chance for {', '.join(row.last_chance)}")
        if what:
            lines.append(f"{sentence(row.name)[:-1]}, {row.minutes:g} min: {'; '.join(what)}.")
    return tuple(lines)


def walking_lines(report: PlanReport) -> tuple[str, ...]:
    """Return how much one walks, and what was played again for the figures."""
    walk, evaluation_sample = report.walking, report.evaluation_sample
    seen = held_out_words(evaluation_sample.held_out)
    return (
        f"The plan walks {walk.yd_per_game:,.0f} yd a game ({walk.minutes_per_game:.0f} min) in "
        f"{walk.walks_per_game:.0f} walks; the habit {walk.habit_yd_per_game:,.0f} yd.",
        f"Shares are of {evaluation_sample.games} games of season {evaluation_sample.season}, "
        f"{seen}, walking included: at most {walk.drive_limit_yd:g} yd between plays and "
        f"{walk.change_limit_yd:g} when the ball changes hands.",
    )


def light_table(light: GameLight) -> Table:
    """Return the light on the action by quarter and edge."""
    return _written(edges_table(light))


def exposure_table(light: GameLight) -> Table:
    """Return the ISO that each lens needs by quarter."""
    return _written(iso_table(light))


def _written(table: ReportTable) -> Table:
    rows = [
        tuple(format_value(cell, c.format) for cell, c in zip(row, table.columns, strict=True))
        for row in table.rows
    ]
    return tuple(column.label for column in table.columns), rows
