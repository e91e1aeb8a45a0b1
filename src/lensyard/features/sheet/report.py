"""The printed sheet in words: from what the service gathered to what is set on the page."""

from __future__ import annotations

from lensyard.domain.field import FIELD_WIDTH_YD, OPPONENT_GOAL_LINE_X_YD, Direction
from lensyard.domain.venue import Venue
from lensyard.domain.zones import Zone
from lensyard.features.game_plan.result import GamePlan, PlanRow
from lensyard.features.sheet.compute import SheetContent
from lensyard.features.sheet.layout import (
    Sheet,
    SheetGround,
    SheetLine,
    SheetSpot,
    TickLine,
    ZoneBand,
)
from lensyard.render.field.picture import closed_marks
from lensyard.render.light import edges_table, kickoff_text, light_warnings
from lensyard.render.words import attribution_of, held_out_words, percent, sentence

PHASE_MARKS = "ABCDEFGHIJ"
# A rule that earns less than this share of what the plan does is not worth remembering.
LEAST_SHARE_OF_PLAN = 0.5


def sheet_of(content: SheetContent) -> Sheet:
    """Return the sheet in words."""
    report, venue = content.report, content.request.plan.venue
    rule, earns = _rule(report)
    common = common_side(report)
    head, rows, light_note = _light(content)
    return Sheet(
        title=venue.name,
        when="" if content.light is None else kickoff_text(content.light.kickoff.at),
        about=_about(content),
        rule=rule,
        rule_earns=earns,
        ground=_ground(venue),
        zones=_zones(report),
        spots=_spots(report, venue),
        lines=tuple(
            SheetLine(
                mark,
                sentence(row.title)[:-1],
                line_text(row, with_side=not common),
                percent(row.p_usable),
                percent(row.habit_p_usable),
            )
            for mark, row in zip(PHASE_MARKS, report.phases, strict=False)
        ),
        read=_read(report, venue, common),
        light_head=head,
        light_rows=rows,
        light_note=light_note,
        ticks_title="Shot list"
        if report.request.assignment.must_have
        else "Shot list: the usual frames",
        ticks=tuple(
            TickLine(sentence(f.title)[:-1], sentence(f.when)[:-1], f.key in report.have)
            for f in content.frames
        ),
        closed=(
            *(sentence(line) for line in content.closed),
            *(sentence(f"house rules, {note}") for note in venue.notes),
        ),
        cautions=content.cautions,
        foot=f"{attribution_of(report.model)} License: {report.model['license']}. "
        f"{_evidence(report)} Plan {report.key[:12]}.",
    )


def _about(content: SheetContent) -> tuple[str, ...]:
    request = content.request.plan
    return (
        f"{request.kit.text}; {request.venue.rules.name} rules; assignment: "
        f"{request.assignment.name}",
    )


def _rule(report: GamePlan) -> tuple[str, str]:
    """Return the better of the two rules, and what it earns beside plan and habit."""
    card = report.rule_card
    inside = card.inside.value_share > card.rule.value_share
    best, text = (card.inside, card.inside_text) if inside else (card.rule, card.text)
    others = (
        f"the usual habit {card.habit.usable_per_game:.0f} ({percent(card.habit.value_share)})."
    )
    plan = f"{card.plan.usable_per_game:.0f} ({percent(card.plan.value_share)})"
    if best.value_share < LEAST_SHARE_OF_PLAN * card.plan.value_share:
        return (
            "No rule of two numbers does with this kit: go by the spots below.",
            f"Usable plays a game, and share of the value: the plan {plan}, the best such rule "
            f"{best.usable_per_game:.0f} ({percent(best.value_share)}), {others}",
        )
    earns = (
        f"{best.usable_per_game:.0f} usable plays a game and {percent(best.value_share)} of the "
        f"value; the whole plan {plan}, {others}"
    )
    return sentence(text), earns


def _ground(venue: Venue) -> SheetGround:
    return SheetGround(
        rules=venue.rules,
        closed=closed_marks(venue, Direction.TOWARD_B),
        side_setback_yd=venue.side_setback_yd,
        end_setback_yd=venue.end_setback_yd,
        top=venue.end_names[1],
        left=venue.sideline_names[1],
        right=venue.sideline_names[0],
    )


def _zones(report: GamePlan) -> tuple[ZoneBand, ...]:
    """Return the zones from the offense's own goal line up, with their shares."""
    titles = {row.title: row for row in report.zones}
    bands = []
    for number, zone in enumerate(Zone, start=1):
        row = titles.get(zone.value)
        if row is None:
            continue
        yards = range(zone.low, zone.high + 1)
        bands.append(
            ZoneBand(
                mark=str(number),
                title=zone.value.replace("opponent's", "opp"),
                from_x_yd=OPPONENT_GOAL_LINE_X_YD - max(yards) - 0.5,
                to_x_yd=OPPONENT_GOAL_LINE_X_YD - min(yards) + 0.5,
                share=percent(row.p_usable),
                habit=percent(row.habit_p_usable),
            )
        )
    return tuple(bands)


def _spots(report: GamePlan, venue: Venue) -> tuple[SheetSpot, ...]:
    """Return the marks at the edge: zones by number, phases by letter."""
    numbers = {zone.value: str(i) for i, zone in enumerate(Zone, start=1)}
    marked = [(numbers[row.title], row) for row in report.zones if row.title in numbers]
    marked += list(zip(PHASE_MARKS, report.phases, strict=False))
    return tuple(spot for mark, row in marked for spot in _both_sides(mark, row, venue))


def _both_sides(mark: str, row: PlanRow, venue: Venue) -> tuple[SheetSpot, ...]:
    """Return the mark of a row, on both sides where they are equal."""
    here = SheetSpot(mark, row.x_yd, row.y_yd)
    if row.side in venue.sideline_names and row.side != "either":
        return (here,)
    return here, SheetSpot(mark, row.x_yd, FIELD_WIDTH_YD - row.y_yd)


def common_side(report: GamePlan) -> str:
    """Return the side that every phase names; empty where they differ."""
    sides = {row.side for row in report.phases}
    return sides.pop() if len(sides) == 1 else ""


def line_text(row: PlanRow, *, with_side: bool) -> str:
    """Return where to stand in a phase as short as it can be said.

    Parameters
    ----------
    row
        The phase.
    with_side
        Whether to name the sideline.
    """
    parts = []
    if row.ahead_yd is not None:
        k = row.ahead_yd
        level = "level with the ball"
        way = "ahead" if k > 0 else "behind the ball"
        parts.append(level if k == 0 else f"{abs(k):g} yd {way}")
    if row.in_from_pylon_yd is not None:
        end = f"end line, {row.in_from_pylon_yd:g} yd in"
        z = row.end_line_from
        if z is not None:
            yard = f"the {z}" if z <= 50 else f"its own {100 - z}"
            end = f"from {yard} in: {end}"
        parts.append(end)
    side = ""
    if with_side:
        side = ", either side" if row.side == "either" else f", {row.side}"
    return sentence("; ".join(parts))[:-1] + side


def _read(report: GamePlan, venue: Venue, side: str) -> str:
    evidence = report.evaluation_sample
    seen = held_out_words(evidence.held_out)
    where = {"": "", "either": "Both sides are equal. "}.get(
        side, f"All on the {side} and its half of the end line. "
    )
    ends = "" if venue.symmetric else f" Drawn toward the {venue.end_names[1]}; the ends differ."
    return (
        f"{where}In: from the back pylon. Marks: the spot for the usual ball of a zone (number) or "
        f"phase (letter). Shares: plays usable, walking included, in {evidence.games} games of "
        f"{evidence.season} {seen}; habit: {report.phases[0].habit}.{ends}"
    )


def _evidence(report: GamePlan) -> str:
    walk = report.walking
    return (
        f"Walking {walk.drive_limit_yd:g} yd between plays and {walk.change_limit_yd:g} yd when "
        f"the ball changes hands, about {walk.yd_per_game:,.0f} yd a game."
    )


def _light(content: SheetContent) -> tuple[tuple[str, ...], tuple[tuple[str, ...], ...], str]:
    """Return head, rows and note of the light by quarter.

    What the lamps allow stands in the note where there is no sun to judge.
    """
    at_kickoff = content.light
    if at_kickoff is None or at_kickoff.light is None:
        reason = "" if at_kickoff is None else sentence(at_kickoff.note)
        return (), (), " ".join([reason, *content.report.light]).strip()
    table = edges_table(at_kickoff.light)
    warnings = (sentence(warning) for warning in light_warnings(at_kickoff.light))
    return (
        tuple(column.label for column in table.columns),
        tuple(tuple(str(cell) for cell in row) for row in table.rows),
        " ".join([table.note, *warnings]),
    )
