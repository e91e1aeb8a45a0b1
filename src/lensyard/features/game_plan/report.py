"""A plan for a game as a report."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace

from lensyard.domain.field import Direction
from lensyard.domain.shot_list import FRAME_OUTCOMES
from lensyard.domain.situation import ball_text, zone_of
from lensyard.features.game_plan.filing import SURE, Filing, LeavingRow
from lensyard.features.game_plan.price_curve import PriceCurve
from lensyard.features.game_plan.result import (
    BreakRow,
    GamePlan,
    KickRow,
    MustHaveRow,
    PlanRow,
    RuleCardFigures,
)
from lensyard.render.light import edges_table, iso_table, light_warnings
from lensyard.render.report import (
    Chart,
    ChartKind,
    Format,
    Interval,
    Report,
    Section,
    Table,
    table_of,
)
from lensyard.render.words import (
    attribution_of,
    format_value,
    held_out_words,
    joined,
    percent,
    sentence,
)
from lensyard.sun.game_light import KickoffLight

# Scrimmage plays of both teams in a professional game, rounded (the bundled seasons have 125).
PLAYS_A_GAME = 130
FIELD_PHASES = ("own-half", "past-midfield", "red-zone", "goal-to-go")
"""Phases that are places of the ball: zones say them."""
OTHER_UNITS = ("offense", "defense")
SAME_PLACE_YD = 4.0
"""Two lines nearer than this are one to whoever stands there. [yd]"""


def first_look_text(spots: Sequence[tuple[int, str]]) -> str:
    """Return the first look at a solved plan as a sentence; the season's figures follow it.

    >>> first_look_text([(75, "left sideline, own 47"), (8, "back corner")])
    'the plan is solved: ball on own25, left sideline, own 47; on opp8, back corner'
    """
    places = "; ".join(f"on {ball_text(line)}, {label}" for line, label in spots)
    return f"the plan is solved: ball {places}"


def plan_report(plan: GamePlan, *, light: KickoffLight | None = None) -> Report:
    """Describe a plan: the rule to remember, where to stand by phase and zone, what to bring home.

    ``light`` is the light over the game, where its day is known.
    """
    card = plan.rule_card
    best = card.best
    light_tables, light_sections = _light(light)
    return Report(
        headline=f"To remember: {rule_words(card)}",
        sentences=(
            f"That brings {best.usable_per_game:.0f} usable plays a game "
            f"({percent(best.value_share)} of the value); the whole plan brings "
            f"{card.plan.usable_per_game:.0f} ({percent(card.plan.value_share)}), the usual habit "
            f"{card.habit.usable_per_game:.0f} ({percent(card.habit.value_share)}).",
            f"{plan.setup.kit}; {plan.setup.venue}; for {plan.setup.assignment}{_had(plan)}.",
        ),
        tables=(
            _rows_table("zones", "Ball in", plan.zones),
            replace(_rows_table("phases", "Part of the game", plan.phases), detail=True),
            _policies_table(plan),
            *light_tables,
            *(_leaving_table(i, one) for i, one in enumerate(plan.filing, start=1)),
            _places_table(plan),
        ),
        sections=(
            *_exceptions(plan),
            *((Section("Light for this kit", plan.light),) if plan.light else ()),
            Section("Kicking plays", tuple(_kick_line(row) for row in plan.kicks)),
            *_shot_list(plan),
            Section("Walking", (_walking_line(plan), *_closed_end_line(plan))),
            *filing_section(plan.filing),
            *light_sections,
        ),
        notes=(_how_to_read(plan), *plan.gaps),
        cautions=(*plan.cautions, *filing_warnings(plan.filing)),
        sources=(attribution_of(plan.model),),
    )


def leave_words(filing: Filing, row: LeavingRow) -> str:
    """When to leave, for people; a moment of the clock, or minutes after kickoff."""
    if row.left_s is None:
        minutes = row.leave_min or 0.0
        return f"{minutes // 60:.0f}:{minutes % 60:02.0f} h after kickoff"
    quarter = filing.quarter or 2
    if row.left_s == 0:
        return f"at the whistle of quarter {quarter}"
    if row.usual:
        return f"quarter {quarter}, 2:00 left (two-minute warning)"
    back, left = divmod(int(row.left_s), 900)
    if left == 0 and back:
        return f"as quarter {quarter - back + 1} begins"
    return f"quarter {quarter - back}, {left // 60}:{left % 60:02} left"


def filing_section(filing: tuple[Filing, ...]) -> tuple[Section, ...]:
    """When to leave for the desk, by which way, and what that costs; nothing without a deadline."""
    if not filing:
        return ()
    return (Section("Filing", tuple(_filing_line(one) for one in filing)),)


def filing_lines(filing: tuple[Filing, ...]) -> tuple[str, ...]:
    """The same as lines, and after them which deadlines cannot be met."""
    return (*(_filing_line(one) for one in filing), *filing_warnings(filing))


def _filing_line(one: Filing) -> str:
    chosen, usual = one.chosen, one.usual
    lost = format_value(_usable_lost(chosen), Format.DECIMAL)
    return sentence(
        f"Due {one.name}, {one.minutes:g} min at the desk ({one.desk}): leave "
        f"{leave_words(one, chosen)}, {one.walk_yd:.0f} yd ({one.walk_s:.0f} s) by "
        f"{joined(one.way)}; in time in {percent(chosen.p_met)} of games. That costs {lost} "
        f"usable plays and {chosen.value_lost:.1f} of value a game; leaving at the two-minute "
        f"warning {usual.usable_lost:.1f} and {usual.value_lost:.1f}, in time in "
        f"{percent(usual.p_met)}"
    )


def filing_warnings(filing: tuple[Filing, ...]) -> tuple[str, ...]:
    """Which deadlines cannot be met."""
    return tuple(
        f"The deadline {one.name} cannot be met in {percent(SURE)} of games: "
        f"{leave_words(one, one.chosen)} is in time in {percent(one.chosen.p_met)}. Ask for a "
        "later one, file fewer frames, or have somebody carry the card."
        for one in filing
        if not one.possible
    )


def _leaving_table(number: int, one: Filing) -> Table:
    return table_of(
        f"filing-{number}",
        f"Leaving for the desk, due {one.name}",
        one.rows,
        ("leave", "Leave", lambda row: leave_words(one, row)),
        ("p_met", "In time", Format.PERCENT),
        ("plays_missed", "Plays missed", Format.DECIMAL),
        ("usable_lost", "Usable plays lost", Format.DECIMAL, _usable_lost),
        (
            "value_lost",
            "Value lost",
            Format.DECIMAL,
            lambda row: Interval(row.value_lost, row.value_lost_low, row.value_lost_high),
        ),
        ("mark", "", lambda row: "leave" if row.chosen else "usual" if row.usual else ""),
        note="A game, against not leaving, with 95 % intervals; real time by the usual pace of "
        "plays and breaks. Value in ordinary usable plays.",
    )


def _usable_lost(row: LeavingRow) -> Interval:
    return Interval(row.usable_lost, row.usable_lost_low, row.usable_lost_high)


def _had(plan: GamePlan) -> str:
    had = [row for row in plan.must_have if row.have]
    if not had:
        return ""
    changed = [
        f"{name} now {getattr(plan.weights, name):g}"
        for name in ("touchdown", "sack", "interception")
        if any(name in FRAME_OUTCOMES.get(row.key, ()) for row in had)
    ]
    counts = f" (a usable frame counts: {', '.join(changed)})" if changed else ""
    return f"; you have: {', '.join(row.title for row in had)}{counts}"


def rule_words(card: RuleCardFigures, *, inside: bool | None = None) -> str:
    """Return the rule in words, toward each end where they differ; by default the better one."""
    farther = card.is_inside if inside is None else inside
    words = [(end.toward, end.inside_text if farther else end.text) for end in card.ends]
    said = [f"toward the {toward} {text}" if toward else text for toward, text in words]
    return ". ".join([said[0], *(sentence(text)[:-1] for text in said[1:])])


def row_title(row: PlanRow) -> str:
    """Return the name of a row, with its end where it does not hold for both."""
    return f"{row.title}, toward the {row.toward}" if row.toward else row.title


def row_where(row: PlanRow) -> str:
    """Return where to stand: the rule, the open place where that is closed, and what to know."""
    parts = [row.where]
    if row.closed_there:
        parts.append(f"{row.closed_there} there with the ball at {_at(row)}: {row.label}")
    if row.plan_value_share is not None:
        parts.append(
            f"the habit, which has more here than the plan ({percent(row.plan_value_share)} of "
            "the value)"
        )
    elif row.habit_value_share > row.value_share:
        parts.append("the habit has more here, but not coming from the plan's other spots")
    return "; ".join([*parts, row.note] if row.note else parts)


def _at(row: PlanRow) -> str:
    return row.ball if row.ball.startswith("the ") else f"the {row.ball}"


def _exceptions(plan: GamePlan) -> tuple[Section, ...]:
    """The parts of the game where one stands elsewhere than the zone of the ball says."""
    zones = {(row.title, row.toward): row for row in plan.zones}
    lines = []
    for row in plan.phases:
        if row.key in FIELD_PHASES:
            continue
        name = zone_of(row.yardline_100).value
        zone = zones.get((name, row.toward)) or zones.get((name, ""))
        if row.key in OTHER_UNITS or zone is None or _is_elsewhere(row, zone):
            share = f"{percent(row.p_usable)} usable, habit {percent(row.habit_p_usable)}"
            lines.append(sentence(f"{row_title(row)}: {row_where(row)}; {share}"))
    return (Section("Exceptions", tuple(lines)),) if lines else ()


def _is_elsewhere(row: PlanRow, zone: PlanRow) -> bool:
    """Whether two rows put one at different places for the usual ball of the first."""

    def place(one: PlanRow) -> tuple[bool, float]:
        behind = one.ahead_yd is None or row.yardline_100 <= (one.end_line_from or 0)
        return behind, (one.in_from_pylon_yd if behind else one.ahead_yd) or 0.0

    (behind, here), (zone_behind, there) = place(row), place(zone)
    return behind != zone_behind or abs(here - there) > SAME_PLACE_YD or row.side != zone.side


def _rows_table(key: str, title: str, rows: Iterable[PlanRow]) -> Table:
    return table_of(
        key,
        "",
        rows,
        ("row", title, row_title),
        ("where", "Where to stand", row_where),
        ("plays_per_game", "Plays", Format.COUNT),
        ("p_usable", "Usable", Format.PERCENT),
        ("value_share", "Value", Format.PERCENT),
        ("habit_p_usable", "Habit usable", Format.PERCENT),
        ("habit_value_share", "Habit value", Format.PERCENT),
    )


def _places_table(plan: GamePlan) -> Table:
    venue = plan.request.venue
    toward = venue.names(Direction.TOWARD_B) is not None
    ends = f"; where no end is said, toward the {venue.end_names[1]}" if toward else ""
    return table_of(
        "places",
        "The spot for the usual ball of each row",
        (*plan.zones, *plan.phases),
        ("row", "Row", row_title),
        ("ball", "Ball"),
        ("spot", "Spot", lambda row: row.label),
        ("x_yd", "x [yd]", Format.DECIMAL_2),
        ("y_yd", "y [yd]", Format.DECIMAL_2),
        note=f"x from the offense's own end line, y from its right sideline{ends}.",
        detail=True,
    )


def _policies_table(plan: GamePlan) -> Table:
    card = plan.rule_card
    return table_of(
        "policies",
        "Rule card, plan and habit over the season",
        (card.habit, card.rule, card.inside, card.plan),
        ("policy", "Way of working", lambda policy: policy.title),
        ("usable_per_game", "Plays a game", Format.COUNT),
        ("p_usable", "Usable", Format.PERCENT),
        ("value_share", "Value", Format.PERCENT),
        ("p_usable_touchdown", "Touchdowns", Format.PERCENT),
        ("walk_yd_per_game", "Yards walked", Format.COUNT),
        note=f"The rule card: {rule_words(card, inside=False)}. Farther in: "
        f"{rule_words(card, inside=True)}. The whole plan has "
        f"{card.plan_over_rule:.2f} times the value of the better of the two and "
        f"{card.plan_over_habit:.2f} times the habit's. Numbers fitted on {card.fitted_on[0]}-"
        f"{card.fitted_on[-1]}.",
        detail=True,
    )


def _kick_line(row: KickRow) -> str:
    share = "" if row.p_usable is None else f" ({percent(row.p_usable)} of them usable)"
    return sentence(f"{row.title}: {row.where}{share}; {row.note}")


def _shot_list(plan: GamePlan) -> Iterator[Section]:
    """The frames, how long each takes, and what to get in each break; nothing without a list."""
    if not plan.must_have:
        return
    first = (
        "Plays from kickoff until you can tick it from the plan's own spots (both teams' plays "
        "counted), and the share of games in which it comes at all."
    )
    # What has its break stands there.
    rows = [r for r in plan.must_have if r.kind == "action" or r.have or r.slot is None]
    yield Section("Shot list", (first, *(_shot_line(row) for row in rows)))
    yield Section("Breaks", tuple(_break_lines(plan.breaks)))


def _shot_line(row: MustHaveRow) -> str:
    if row.have:
        return f"Had: {row.title}."
    if row.kind == "life":
        return f"{row.title}: no break has room; in play it costs about {row.plays_lost:.0f} plays."
    if row.p_a_play is None or row.p_in_game is None:
        return f"{row.title}: {row.where or row.when}; nobody can say how likely it is."
    plays = "never" if row.plays_expected is None else f"{row.plays_expected:,.0f} plays"
    return f"{row.title}: {plays}, {percent(row.p_in_game)} of games. {_go_words(row)}"


def _go_words(row: MustHaveRow) -> str:
    """When it pays to go and get an action frame."""
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


def _break_lines(rows: tuple[BreakRow, ...]) -> Iterator[str]:
    for row in rows:
        pairs = zip(row.now, row.where, strict=True)
        what = [", ".join(f"{name} ({where})" if where else name for name, where in pairs)]
        if row.last_chance:
            what.append(f"last chance for {', '.join(row.last_chance)}")
        if row.now or row.last_chance:
            yield sentence(f"{row.name} ({row.minutes:g} min): {'; '.join(filter(None, what))}")
    if rows and rows[0].missing:
        yield f"At every break look whether you have: {', '.join(rows[0].missing)}."


def _walking_line(plan: GamePlan) -> str:
    walk = plan.walking
    return (
        f"{walk.yd_per_game:,.0f} yd a game ({walk.minutes_per_game:.0f} min on foot) in "
        f"{walk.walks_per_game:.0f} walks, nine of ten under {walk.longest_usual_yd:.0f} yd, "
        f"beside moves in the long breaks; the habit walks {walk.habit_yd_per_game:,.0f} yd. At "
        f"most {walk.drive_limit_yd:g} yd between two plays and {walk.change_limit_yd:g} when the "
        f"ball changes hands. A yard costs {walk.price_per_yd:.2g} ordinary plays; `lensyard plan "
        "--price-curve` shows what other prices give."
    )


def _closed_end_line(plan: GamePlan) -> tuple[str, ...]:
    """Say what the closed part of the end lines costs."""
    opened, own = plan.walking.open_end_line_value_share, plan.rule_card.plan.value_share
    if opened is None:
        return ()
    return (
        f"What is closed of the end line costs {100 * (opened - own):.1f} points: the plan has "
        f"{percent(own)} of the value, and would have {percent(opened)} with all of it open.",
    )


def _how_to_read(plan: GamePlan) -> str:
    sample = plan.evaluation_sample
    return (
        f"Plays a game; usable: the share of them with a frame in reach, facing and clear; value: "
        f"the same weighed by the assignment; both had, walking included, over "
        f"{sample.games} games of {sample.season}, {held_out_words(sample.held_out)}. Beside it "
        f"the habit: {plan.phases[0].habit}. Where a place is closed, the nearest open one on the "
        "same side is meant. A line is one spot for the whole row; between two "
        "plays `lensyard next --standing` knows better."
    )


def _light(light: KickoffLight | None) -> tuple[tuple[Table, ...], tuple[Section, ...]]:
    """The light of the day by quarter, and what the kit cannot do in it."""
    if light is None:
        return (), ()
    if light.light is None:
        return (), (Section("Light by quarter", (sentence(light.note),)),)
    tables = tuple(t for t in (edges_table(light.light), iso_table(light.light)) if t.rows)
    warnings = tuple(sentence(warning) for warning in light_warnings(light.light))
    return tables, (Section("Light to mind", warnings),) if warnings else ()


def price_report(curve: PriceCurve) -> Report:
    """Describe what a price on every yard does: the default and its reason, then every price."""
    default, free, sample = curve.default, curve.free, curve.evaluation_sample
    table = table_of(
        "prices",
        "Walking and value at several prices of a yard",
        curve.points,
        ("price_per_yd", "Price of a yard", Format.DECIMAL_4),
        ("walk_yd_per_game", "Yards a game", Format.COUNT),
        ("p_usable", "Usable", Format.PERCENT_1),
        ("value_share", "Value", Format.PERCENT_1),
        (
            "of_free",
            "Of no price's",
            Format.PERCENT,
            lambda point: point.value_share / max(free.value_share, 1e-9),
        ),
        ("mark", "", lambda point: "default" if point.is_default else ""),
    )
    answer = (
        f"At the default price of {default.price_per_yd:.2g} ordinary plays a yard one walks "
        f"{default.walk_yd_per_game:,.0f} yd a game for {default.value_share:.1%} of the value; at "
        f"no price {free.walk_yd_per_game:,.0f} yd for {free.value_share:.1%}"
    )
    marks = ((default.price_per_yd, "default"),)
    return Report(
        headline=answer,
        sentences=(
            sentence(f"why: {curve.reason}"),
            f"{curve.setup.kit}; {curve.setup.venue}; for {curve.setup.assignment}; "
            f"{sample.games} games of {sample.season}.",
        ),
        tables=(table,),
        charts=tuple(
            Chart(y, title, ChartKind.LINE, "prices", "price_per_yd", y, answer, rules=marks)
            for y, title in (
                ("value_share", "Share of the value had"),
                ("walk_yd_per_game", "Yards walked in a game"),
            )
        ),
        cautions=curve.cautions,
        sources=(attribution_of(curve.model),),
    )
