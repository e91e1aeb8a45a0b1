"""The printed sheet as a report: the rule to remember, places, light, shots, cautions."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from lensyard.domain.field import OPPONENT_GOAL_LINE_X_YD, Direction
from lensyard.domain.situation import Zone
from lensyard.domain.venue import ClosedStretch, Edge, Venue, place_text
from lensyard.features.game_plan.report import filing_lines
from lensyard.features.game_plan.result import GamePlan, PlanRow
from lensyard.features.sheet.compute import SheetContent, SheetSide
from lensyard.render.light import (
    assumed_text,
    edges_table,
    has_sun,
    iso_table,
    kickoff_text,
    lamps_text,
    light_warnings,
)
from lensyard.render.report import Column, Fact, Format, Report, Section, Table, table_of
from lensyard.render.text import document
from lensyard.render.words import attribution_of, held_out_words, percent, sentence
from lensyard.sun.cautions import (
    LIGHTNING_WAIT_MIN,
    RUN_OUT_ZONE_FT,
    RUN_OUT_ZONE_SHARE,
    warning_time_s,
)
from lensyard.units import FEET_PER_YARD

PHASE_MARKS = "ABCDEFGHIJ"
LEAST_SHARE_OF_PLAN = 0.5
"""A rule with less than this share of the plan's value is not worth remembering."""

WHO_DECIDES = (
    "Local rules, your credential, the venue's staff and licensed people decide; this is only a "
    "reminder."
)
"""`lensyard.sun.cautions.DEFERRAL`, short enough for paper."""


def sheet_report(content: SheetContent, side: SheetSide | None = None) -> Report:
    """Describe a game plan as short as one page needs it; by default its first side of paper."""
    plan, request = content.plan, content.request
    venue = request.venue
    side = content.sides[0] if side is None else side
    rule, value = _rule(plan, side)
    light, light_note = _light(content)
    keys = closed_keys(venue).values()
    closed = tuple(
        f"{key}  {sentence(line)}" if keys else sentence(line)
        for key, line in zip(keys or [""], closed_lines(venue), strict=True)
    )
    house = tuple(sentence(f"house rules, {note}") for note in venue.notes)
    facts = [
        Fact("venue", "Venue", venue.name),
        Fact(
            "about",
            "For",
            f"{request.kit.text}; {venue.rules.name} rules; assignment: {request.assignment.name}",
        ),
    ]
    if content.light is not None:
        facts.append(Fact("when", "When", kickoff_text(content.light.kickoff.at)))
    return Report(
        headline=rule,
        sentences=(value,),
        facts=tuple(facts),
        tables=(_phases(content, side), _zones(side), light, _shots(content, side)),
        sections=(Section("Closed", (*closed, *house)),),
        notes=(
            *((light_note,) if light_note else ()),
            *(f"Filing: {line}" for line in filing_lines(plan.filing)),
        ),
        cautions=short_cautions(venue),
        sources=(
            f"{attribution_of(plan.model, brief=True)} License: {plan.model['license']}. "
            f"{_walking(plan)} Plan {plan.key[:12]}.",
        ),
    )


def _rule(plan: GamePlan, side: SheetSide) -> tuple[str, str]:
    """Return the better of the two rules, and what it brings beside plan and habit."""
    card = plan.rule_card
    best, text = card.best, side.rule.inside_text if card.is_inside else side.rule.text
    if side.toward and not side.rule.toward:
        text = f"toward both ends: {text}"
    elif side.toward:
        text = f"toward the {side.toward}: {text}"
    others = (
        f"the usual habit {card.habit.usable_per_game:.0f} ({percent(card.habit.value_share)})."
    )
    whole = f"{card.plan.usable_per_game:.0f} ({percent(card.plan.value_share)})"
    if best.value_share < LEAST_SHARE_OF_PLAN * card.plan.value_share:
        return (
            "No rule of two numbers does with this kit: go by the spots below.",
            f"Usable plays a game, and share of the value: the plan {whole}, the best such rule "
            f"{best.usable_per_game:.0f} ({percent(best.value_share)}), {others}",
        )
    return sentence(text), (
        f"{best.usable_per_game:.0f} usable plays a game and {percent(best.value_share)} of the "
        f"value; the whole plan {whole}, {others}"
    )


def _phases(content: SheetContent, side: SheetSide) -> Table:
    common = common_side(side.phases)
    return table_of(
        "phases",
        "Where to stand",
        zip(PHASE_MARKS, side.phases, strict=False),
        ("mark", "", lambda at: at[0]),
        ("title", "Part of the game", lambda at: sentence(at[1].title)[:-1]),
        ("where", "Where", lambda at: where_text(at[1], with_side=not common)),
        ("usable", "Usable", Format.PERCENT, lambda at: at[1].p_usable),
        ("habit", "Habit", Format.PERCENT, lambda at: at[1].habit_p_usable),
        note=_how_to_read(content, side, common),
    )


def zone_marks() -> dict[str, str]:
    """Return the number of each zone by its name, from the offense's own goal line up."""
    return {zone.value: str(number) for number, zone in enumerate(Zone, start=1)}


def _zones(side: SheetSide) -> Table:
    """The zones from the offense's own goal line up, with their lines of scrimmage and shares."""
    rows = {row.title: row for row in side.zones}
    marks, goal_yd = zone_marks(), OPPONENT_GOAL_LINE_X_YD
    return table_of(
        "zones",
        "Zones of the field",
        (zone for zone in Zone if zone.value in rows),
        ("mark", "", lambda zone: marks[zone.value]),
        ("title", "Zone", lambda zone: zone.value.replace("opponent's", "opp")),
        ("from_x_yd", "From [yd]", Format.DECIMAL, lambda zone: goal_yd - zone.high - 0.5),
        ("to_x_yd", "To [yd]", Format.DECIMAL, lambda zone: goal_yd - zone.low + 0.5),
        ("usable", "Usable", Format.PERCENT, lambda zone: rows[zone.value].p_usable),
        ("habit", "Habit", Format.PERCENT, lambda zone: rows[zone.value].habit_p_usable),
    )


def common_side(rows: tuple[PlanRow, ...]) -> str:
    """Return the side that every row names; empty where they differ."""
    sides = {row.side for row in rows}
    return sides.pop() if len(sides) == 1 else ""


def where_text(row: PlanRow, *, with_side: bool) -> str:
    """Return where to stand as short as it can be said."""
    parts = []
    if row.ahead_yd is not None:
        k = row.ahead_yd
        way = "ahead" if k > 0 else "behind the ball"
        parts.append("level with the ball" if k == 0 else f"{abs(k):g} yd {way}")
    if row.ahead_yd is None or row.end_line_from:
        in_yd = row.in_from_pylon_yd
        end = "end line, in the corner" if in_yd is None else f"end line, {in_yd:g} yd in"
        z = row.end_line_from
        if z is not None:
            yard = f"the {z}" if z <= 50 else f"its own {100 - z}"
            end = f"from {yard} in: {end}"
        parts.append(end)
    side = ""
    if with_side:
        side = ", either side" if row.side == "either" else f", {row.side}"
    said = sentence("; ".join(parts) or row.label)[:-1] + side
    if row.closed_there:
        said += f"; {row.closed_there} there: {row.label}"
    return f"{said}; the habit" if row.is_habit else said


def _how_to_read(content: SheetContent, side: SheetSide, common: str) -> str:
    plan, venue = content.plan, content.request.venue
    sample = plan.evaluation_sample
    where = {"": "", "either": "Both sides are equal. "}.get(
        common, f"All on the {common} and its half of the end line. "
    )
    ends = ""
    if side.toward:
        other = next(name for name in venue.end_names if name != side.toward)
        ends = f" Toward the {side.toward}; the {other} has a sheet of its own."
    elif not venue.alike:
        ends = f" Drawn toward the {venue.end_names[1]}; the plan is the same toward the other end."
    return (
        f"{where}In: from the back pylon. Marks: the spot for the usual ball of a zone (number) or "
        f"phase (letter). Shares: plays usable, walking included, in {sample.games} games of "
        f"{sample.season} {held_out_words(sample.held_out)}; habit: "
        f"{plan.phases[0].habit}.{ends}"
    )


def _walking(plan: GamePlan) -> str:
    walk = plan.walking
    return (
        f"Walking {walk.drive_limit_yd:g} yd between plays and {walk.change_limit_yd:g} yd when "
        f"the ball changes hands, about {walk.yd_per_game:,.0f} yd a game."
    )


def _light(content: SheetContent) -> tuple[Table, str]:
    """The light by quarter, and what to know; what the lamps allow where there is no sun."""
    at_kickoff = content.light
    if at_kickoff is None or at_kickoff.light is None:
        reason = "" if at_kickoff is None else sentence(at_kickoff.note)
        note = " ".join([reason, *content.plan.light]).strip()
        return Table("light", "Light", (), ()), note
    light = at_kickoff.light
    table, need = edges_table(light), iso_table(light)
    if not has_sun(light):
        table = need
    warnings = (sentence(warning) for warning in light_warnings(light))
    reason = sentence(at_kickoff.note)
    lamps = lamps_text(light) if table is not need else assumed_text(light.request.kit)
    found = [reason, table.note, lamps, *warnings]
    columns = table.columns
    if table is not need:  # a narrow column: what it holds is Q1, Q2 and so on
        columns = (replace(columns[0], label="Qtr"), *columns[1:])
    return replace(table, key="light", columns=columns), " ".join(part for part in found if part)


def _shots(content: SheetContent, side: SheetSide) -> Table:
    """The frames to tick, on the front of the paper."""
    listed = bool(content.request.assignment.must_have)
    front = side.direction is Direction.TOWARD_B
    title = "Shot list" if listed else "Shot list: the usual frames"
    return Table(
        key="shots",
        title=title if front else "Shot list: on the other side",
        columns=(Column("title", "Frame"), Column("when", "When"), Column("have", "Have")),
        rows=tuple(
            (sentence(f.title)[:-1], sentence(f.when)[:-1], f.key in content.plan.have)
            for f in (content.frames if front else ())
        ),
    )


def closed_keys(venue: Venue) -> dict[tuple[str, str], str]:
    """Return the letter of each closed stretch by its name and place; like ones share one."""
    said = dict.fromkeys(_said(stretch, venue) for stretch in venue.closed)
    return dict(zip(said, "abcdefghijklmnopqrstuvwxyz" * 4, strict=False))


def closed_key(stretch: ClosedStretch, venue: Venue) -> str:
    """Return the letter by which a closed stretch is found on the field and in the list."""
    return closed_keys(venue)[_said(stretch, venue)]


def _said(stretch: ClosedStretch, venue: Venue) -> tuple[str, str]:
    way = "" if stretch.walk_behind else "; no way behind it"
    return stretch.name, f"{_along(stretch, venue)}{way}"


def closed_lines(venue: Venue) -> tuple[str, ...]:
    """Return the closed stretches in a few words each; like ones on both sidelines are one line.

    >>> from lensyard.domain.venue import standard_venue
    >>> closed_lines(standard_venue("pro"))
    ("team area: both sidelines, end A's 30 to end B's 30",)
    """
    lines: dict[tuple[str, str], list[Edge]] = {}
    for stretch in venue.closed:
        lines.setdefault(_said(stretch, venue), []).append(stretch.edge)
    found = []
    for (name, where), edges in lines.items():
        both = {Edge.SIDELINE_A, Edge.SIDELINE_B} <= set(edges)
        at = "both sidelines" if both else venue.edge_name(edges[0])
        found.append(f"{name}: {at}, {where}")
    return tuple(found) or ("nothing",)


def _along(stretch: ClosedStretch, venue: Venue) -> str:
    if stretch.edge.is_sideline:
        return f"{place_text(stretch.from_yd, venue)} to {place_text(stretch.to_yd, venue)}"
    corner = venue.edge_name(Edge.SIDELINE_A)
    return f"{stretch.from_yd:.0f} to {stretch.to_yd:.0f} yd from the {corner}"


def short_cautions(venue: Venue) -> tuple[str, ...]:
    """Return the usual cautions short enough for paper; the last says who decides."""
    near_yd = min(venue.side_setback_yd, venue.end_setback_yd)
    notes = [
        f"Run-outs: {RUN_OUT_ZONE_SHARE:.0%} of players who left the field stayed within "
        f"{RUN_OUT_ZONE_FT:.0f} ft of the line (film study). You stand "
        f"{near_yd * FEET_PER_YARD:.0f} ft behind it: {warning_time_s(setback_yd=near_yd):.1f} s "
        "at a sprint. Sit or kneel only where you can rise at once; leave early."
    ]
    if not venue.covered:
        notes.append(
            "Lightning: at thunder or a strike everybody goes into a solid building or a closed "
            f"car, until {LIGHTNING_WAIT_MIN:.0f} minutes after the last one."
        )
    notes.append("Heat: drink, seek shade between series, say so when you feel ill.")
    return (*notes, WHO_DECIDES)


def sheet_document(content: SheetContent, *, path: str, paper: str) -> dict[str, Any]:
    """Return what was printed, as one JSON document (``lensyard sheet --json``)."""
    plan, request, light = content.plan, content.request, content.light
    return document(
        {
            "path": path,
            "paper": paper,
            "key": plan.key,
            "kit": request.kit.text,
            "venue": request.venue.name,
            "assignment": request.assignment.name,
            "kickoff": None if light is None else light.kickoff.at,
            "has_light": light is not None and light.light is not None,
            "frames": [frame.key for frame in content.frames],
            "have": plan.have,
            "closed": closed_lines(request.venue),
        },
        model=plan.model,
        cautions=short_cautions(request.venue),
    )
