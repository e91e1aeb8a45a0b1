"""Rows of the plan: where to stand in each part of the game, toward each end where they differ.

A row holds for both ends where its words and its spot are the same there. Where the season shows
that the usual habit has more of the value than the plan, the row takes the habit: the season is
played once more with the habit in these parts and the plan elsewhere, and that is what it says.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from lensyard.arrays import FloatArray, IntArray
from lensyard.domain.field import CENTER_Y_YD, OPPONENT_GOAL_LINE_X_YD, Direction
from lensyard.domain.places import yard_line_text
from lensyard.features.game_plan.phases import (
    Phase,
    best_rule,
    rule_stations,
)
from lensyard.features.game_plan.result import PlanRow
from lensyard.planner.season import PlayedSeason
from lensyard.planner.simulate import lookahead_policy, rule_policy, simulate_policy
from lensyard.records import ArrayRecord
from lensyard.spots.position_rule import ANYWHERE, PositionRule, closed_there
from lensyard.spots.scorer import Scorer


class _Part(ArrayRecord):
    """A row with the plays that it stands for, and toward which end its spot lies."""

    row: PlanRow
    rows: IntArray
    scorer: Scorer


def plan_rows(season: PlayedSeason, phases: Sequence[Phase]) -> tuple[PlanRow, ...]:
    """Return a row for each phase or zone with plays; one for each end where they differ."""
    parts: list[_Part] = []
    for phase in phases:
        rows = np.flatnonzero(phase.belongs(season.replay) & season.season_data.counted)
        if rows.size:
            parts += _parts(season, rows, phase)
    return _taking_the_habit(season, parts)


def _parts(season: PlayedSeason, rows: IntArray, phase: Phase) -> list[_Part]:
    """One row for both ends, or one for each where what they say differs."""
    scorers, venue = season.solved.scorers, season.request.venue
    yardline = int(np.median(season.replay.batch.yardline_100[rows]))
    both = _Part(plan_row(season, rows, phase, scorers[0], yardline), rows, scorers[0])
    if venue.alike:
        return [both]
    toward_a = season.season_data.toward_a[rows]
    parts = [
        _Part(plan_row(season, some, phase, scorer, yardline), some, scorer)
        for scorer, some in zip(scorers, (rows[~toward_a], rows[toward_a]), strict=True)
        if some.size
    ]
    if len(parts) == 2 and _says(parts[0].row) == _says(parts[1].row) == _says(both.row):
        return [both]
    return [replace(part, row=replace(part.row, toward=_end(part.scorer))) for part in parts]


def _end(scorer: Scorer) -> str:
    return scorer.perimeter.venue.end_names[scorer.direction is Direction.TOWARD_B]


def _says(row: PlanRow) -> tuple[object, ...]:
    """What must be the same for one row to stand for both ends."""
    return row.where, row.side, round(row.x_yd), row.closed_there


def as_placed(rule: PositionRule, scorer: Scorer, *, on_sideline_a: bool) -> PositionRule:
    """Return a rule with the place behind the end line that it really leads to.

    Where what it asks for is closed, it leads to the nearest open spot; so do its words then.
    """
    if rule.in_from_pylon_yd is None:
        return rule
    y_yd = _spot_yd(scorer, rule, yardline_100=1, on_sideline_a=on_sideline_a)[1]
    in_yd = CENTER_Y_YD - abs(y_yd - CENTER_Y_YD)
    if abs(in_yd - rule.in_from_pylon_yd) <= 0.6 * scorer.perimeter.step_yd:
        return rule
    # Outside the pylon it is the corner.
    return replace(rule, in_from_pylon_yd=float(round(in_yd)) if in_yd >= 0.5 else None)


def _spot_yd(
    scorer: Scorer, rule: PositionRule, *, yardline_100: int, on_sideline_a: bool
) -> tuple[float, float, int]:
    """Where a rule puts one for a ball: x and y [yd], and the station."""
    table = rule_stations(scorer, on_sideline_a=on_sideline_a, rules=(rule,))
    station = int(table[0, yardline_100 - 1])
    return float(scorer.xy_yd[0][station]), float(scorer.xy_yd[1][station]), station


def plan_row(
    season: PlayedSeason, rows: IntArray, phase: Phase, scorer: Scorer, yardline_100: int
) -> PlanRow:
    """Return where to stand for some plays of a season, and what that brings.

    ``scorer``, ``yardline_100``: the end and the usual ball for which the spot is named.
    """
    best = best_rule(season, rows)
    season_data, venue = season.season_data, season.request.venue
    (x, y, spot), (x_over, y_over, _) = (
        _spot_yd(scorer, best.rule, yardline_100=yardline_100, on_sideline_a=side)
        for side in (best.on_sideline_a, not best.on_sideline_a)
    )
    # Either side only where the spot across is the same: words and marks hold on both.
    mirrored = np.hypot(x - x_over, y - 2 * CENTER_Y_YD + y_over) <= scorer.perimeter.step_yd
    either = best.either and bool(mirrored)
    said = as_placed(best.rule, scorer, on_sideline_a=best.on_sideline_a)
    side = "either" if either else venue.sideline_names[0 if best.on_sideline_a else 1]
    left = best.on_sideline_a != (scorer.direction is Direction.TOWARD_B)
    _, closed = closed_there(said, scorer, yardline_100=yardline_100, left_side=left)
    had, habit = (
        season_data.had(trace.station_index)[rows] for trace in (season.plan, season.habit)
    )
    return PlanRow(
        key=phase.key,
        title=phase.title,
        plays_per_game=float(rows.size / season.replay.games),
        where=said.words_on(side),
        ball=yard_line_text(OPPONENT_GOAL_LINE_X_YD - yardline_100),
        yardline_100=yardline_100,
        label=scorer.label(spot),
        x_yd=x,
        y_yd=y,
        ahead_yd=None if said.end_line_from == ANYWHERE else said.ahead_yd,
        in_from_pylon_yd=said.in_from_pylon_yd,
        end_line_from=said.end_line_from if 0 < said.end_line_from < ANYWHERE else None,
        side=side,
        p_usable_there=float(season.expected.usable[rows, best.station_index].mean()),
        p_usable=float(had.mean()),
        habit_p_usable=float(habit.mean()),
        value_share=_share(season, rows, season.plan.station_index),
        habit_value_share=_share(season, rows, season.habit.station_index),
        habit=season.habit_rule.title,
        note=phase.note,
        closed_there=closed,
    )


def _share(season: PlayedSeason, rows: IntArray, station_index: IntArray) -> float:
    """The share of the value of some plays that was had from a station for each of the season."""
    data = season.season_data
    # Every weight may be 0 for what a phase brings; then nothing of it is worth anything.
    total = max(float(data.all_value[rows].sum()), 1e-9)
    return float(data.value_had(station_index)[rows].sum() / total)


def _taking_the_habit(season: PlayedSeason, parts: Sequence[_Part]) -> tuple[PlanRow, ...]:
    """The rows; where the habit had more of the value, its place and what it brings."""
    losing = [p for p in parts if p.row.habit_value_share > p.row.value_share + 1e-9]
    if not losing:
        return tuple(part.row for part in parts)
    season_data = season.season_data
    by_habit = np.zeros(len(season.replay), dtype=bool)
    for part in losing:
        by_habit[part.rows] = True
    habit = rule_policy(season_data, season.habit_rule)
    plan = lookahead_policy(
        season_data,
        reward=season.reward,
        continuation=season.continuation,
        price_per_yd=season.request.walking.price_per_yd,
    )

    def decide(rows: IntArray, here: IntArray, limit_yd: FloatArray) -> IntArray:
        return np.where(by_habit[rows], habit(rows, here, limit_yd), plan(rows, here, limit_yd))

    stood = simulate_policy(season_data, decide).station_index
    return tuple(_habit_row(season, part, stood) if part in losing else part.row for part in parts)


def _habit_row(season: PlayedSeason, part: _Part, stood: IntArray) -> PlanRow:
    """A row that takes the habit; as it is where coming from the plan's spots that has no more."""
    row, scorer = part.row, part.scorer
    value_share = _share(season, part.rows, stood)
    if value_share <= row.value_share:
        return row
    habit = season.habit_rule
    behind = row.yardline_100 <= habit.end_line_from
    rule = replace(habit, end_line_from=ANYWHERE if behind else 0)
    on_a = row.side in ("either", season.request.venue.sideline_names[0])
    x, y, spot = _spot_yd(scorer, rule, yardline_100=row.yardline_100, on_sideline_a=on_a)
    left = on_a != (scorer.direction is Direction.TOWARD_B)
    _, closed = closed_there(rule, scorer, yardline_100=row.yardline_100, left_side=left)
    stations = np.stack(
        [rule_stations(s, on_sideline_a=on_a, rules=(habit,))[0] for s in season.solved.scorers]
    )
    away = season.season_data.toward_a[part.rows].astype(np.int64)
    there = stations[away, season.replay.batch.yardline_100[part.rows] - 1]
    return replace(
        row,
        where=rule.words_on(row.side),
        label=scorer.label(spot),
        x_yd=x,
        y_yd=y,
        ahead_yd=None if behind else habit.ahead_yd,
        in_from_pylon_yd=None,
        end_line_from=None,
        p_usable_there=float(season.expected.usable[part.rows, there].mean()),
        p_usable=float(season.season_data.had(stood)[part.rows].mean()),
        value_share=value_share,
        closed_there=closed,
        plan_value_share=row.value_share,
    )
