"""Phases of a game, zones of the field and kicks: where to stand in each, as one rule to remember.

The plan's own decision depends on every situation and on where one stands. For a table one rule a
phase is wanted: of all rules "so far ahead of the ball" and "behind the end line, so far in from
the pylon", the one that has most value to the plan on average over the plays of the phase (the
value of the play from there and of what follows). How often the plan really had the play, walking
included, stands beside it.

The returner of a kick runs against the kicking team's direction, so a return is photographed like a
play of the other side: from ahead of the returner. The source has no sideways place for kicks, so
only the distance along the field is known; spots on both sidelines are equal.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache

import numpy as np

from lensyard.arrays import BoolArray, FloatArray, IntArray
from lensyard.domain.field import (
    FIELD_LENGTH_YD,
    FIELD_WIDTH_YD,
    Direction,
)
from lensyard.domain.places import kicking_label, yard_line_text
from lensyard.domain.situation import RED_ZONE_FROM, Kick, PlayKind, Zone
from lensyard.errors import ModelError
from lensyard.features.game_plan.result import KickRow
from lensyard.model.context import Context
from lensyard.model.kicks import RETURNED, KickOutlook
from lensyard.model.plays import Replay
from lensyard.planner.season import PlayedSeason
from lensyard.records import Record
from lensyard.spots.kicks import frames_of, p_usable_of, places_for
from lensyard.spots.position_rule import ANYWHERE, PositionRule, targets
from lensyard.spots.scorer import Scorer

TWO_MINUTES_S = 120.0
AHEAD_YD = tuple(float(k) for k in range(-30, 62, 2))
IN_FROM_PYLON_YD = tuple(float(k) for k in range(0, 28, 2))
# What differs by less than this (in ordinary usable plays a play) is equal: two sidelines, or a
# rule of one part and one of two.
SAME_VALUE = 0.02
# Each part of a rule of two parts is for at least this share of the plays.
LEAST_PART = 0.15


class Phase(Record):
    """A part of the game: its names and which plays belong to it."""

    key: str
    title: str
    belongs: Callable[[Replay], BoolArray]
    note: str = ""


def opening_series(replay: Replay) -> BoolArray:
    """Return which plays belong to each team's first series of a game, shape (m,)."""
    number = np.cumsum(replay.possession_change)
    first = np.zeros(replay.games, dtype=np.int64)
    starts = replay.order == 0
    first[replay.game[starts]] = number[starts]
    opening: BoolArray = number - first[replay.game] < 2
    return opening


def _goal_to_go(replay: Replay) -> BoolArray:
    goal: BoolArray = replay.batch.distance_yd >= replay.batch.yardline_100
    return goal


def _yards(low: int, high: int) -> Callable[[Replay], BoolArray]:
    def belongs(replay: Replay) -> BoolArray:
        yard = replay.batch.yardline_100
        inside: BoolArray = (yard >= low) & (yard <= high)
        return inside

    return belongs


def _field(low: int, high: int) -> Callable[[Replay], BoolArray]:
    def belongs(replay: Replay) -> BoolArray:
        return _yards(low, high)(replay) & ~_goal_to_go(replay)

    return belongs


def two_minute(replay: Replay) -> BoolArray:
    """Return which plays start in the last two minutes of a half, shape (m,)."""
    late: BoolArray = (replay.batch.half_s <= TWO_MINUTES_S) & np.isin(replay.batch.quarter, (2, 4))
    return late


PHASES = (
    Phase("opening", "opening series", opening_series, "both teams' first series"),
    Phase("own-half", "own half", _field(51, 99)),
    Phase("past-midfield", "past midfield", _field(RED_ZONE_FROM + 1, 50)),
    Phase(
        "red-zone",
        "red zone",
        _field(1, RED_ZONE_FROM),
        "inside the 20, a first down still to be had",
    ),
    Phase("goal-to-go", "goal to go", _goal_to_go),
    Phase("two-minute", "two-minute drill", two_minute, "the last two minutes of each half"),
)

ZONES = tuple(
    Phase(
        "zone-" + zone.name.lower().replace("_", "-"),
        zone.value,
        _yards(zone.low, zone.high),
    )
    for zone in Zone
)
RULES = (
    *(PositionRule(k) for k in AHEAD_YD),
    *(PositionRule(end_line_from=ANYWHERE, in_from_pylon_yd=k) for k in IN_FROM_PYLON_YD),
)
_SIDELINE = len(AHEAD_YD)
_PLAYS_AT_ONCE = 4000


@lru_cache(maxsize=32)
def rule_stations(
    scorer: Scorer, *, on_sideline_a: bool, rules: tuple[PositionRule, ...] = RULES
) -> IntArray:
    """Return where each rule puts one for each line of scrimmage, shape (rules, 99).

    Stations by yardline_100 - 1, for who works one half of the stadium; closed places give way to
    the nearest open one on the same side.
    """
    x, _ = scorer.xy_yd
    left = on_sideline_a != (scorer.direction is Direction.TOWARD_B)
    return targets(
        rules,
        yardline_100=np.arange(1, 100),
        left_side=np.full(99, left),
        xy_yd=scorer.xy_yd,
        may_shoot=scorer.open,
        along_yd=(float(x.min()), float(x.max())),
    )


class BestRule(Record):
    """The best rule for some plays, and the station that it gives each of them."""

    rule: PositionRule
    on_sideline_a: bool
    either: bool
    station_index: IntArray


def best_rule(season: PlayedSeason, rows: IntArray) -> BestRule:
    """Return the rule with most value to the plan over some plays (rows of the season)."""
    replay = season.replay
    away = (replay.direction[rows] == int(Direction.TOWARD_A)).astype(np.int64)
    yard = replay.batch.yardline_100[rows] - 1
    # Plays from one yard line in one direction ask for the same places: their sum is enough.
    total = np.zeros((2, 99, season.reward.shape[1]))
    group = away * 99 + yard
    order = np.argsort(group, kind="stable")
    ordered = group[order]
    starts = np.flatnonzero(np.diff(ordered, prepend=-1))
    for some in np.array_split(starts, 1 + rows.size // _PLAYS_AT_ONCE):
        here = slice(*np.searchsorted(ordered, ordered[some[[0, -1]]] + (0, 1)))
        plays = season.total(rows[order[here]])
        sums = np.add.reduceat(plays, some - here.start, axis=0, dtype=np.float64)
        total[away[order[some]], yard[order[some]]] = sums
    way, line = np.arange(2)[:, np.newaxis, np.newaxis], np.arange(99)
    found = []
    for on_a in (True, False):
        table = np.stack([rule_stations(s, on_sideline_a=on_a) for s in season.solved.scorers])
        rule_value = total[way, line, table].sum(axis=0)
        rule, value = _best_of(rule_value / rows.size, np.bincount(yard, minlength=99) / rows.size)
        found.append((value, rule, table[away, rule_index(rule, yard + 1), yard]))
    (value_a, rule_a, at_a), (value_b, rule_b, at_b) = found
    either = abs(value_a - value_b) <= SAME_VALUE
    if either or value_a > value_b:
        return BestRule(rule_a, True, either, at_a)
    return BestRule(rule_b, False, either, at_b)


def _best_of(rule_value: FloatArray, share: FloatArray) -> tuple[PositionRule, float]:
    """The best rule by rule_value (rules, 99) and share of plays (99,) by yardline_100 - 1.

    A rule of two parts has to bring more by its second number.
    """
    single = rule_value.sum(axis=1)
    i = int(np.round(single, 5).argmax())
    best, value = RULES[i], float(single[i])
    near = np.cumsum(rule_value, axis=1)  # from the goal line out, the yard line included
    bar = value + SAME_VALUE
    for z in range(1, 99):
        inside = float(share[:z].sum())
        if not LEAST_PART <= inside <= 1.0 - LEAST_PART:
            continue
        out = single[:_SIDELINE] - near[:_SIDELINE, z - 1]
        home = near[_SIDELINE:, z - 1]
        total = float(out.max() + home.max())
        if total > bar:
            bar = value = total
            best = PositionRule(
                AHEAD_YD[int(out.argmax())],
                z,
                in_from_pylon_yd=IN_FROM_PYLON_YD[int(home.argmax())],
            )
    return best, value


def rule_index(rule: PositionRule, yardline_100: IntArray) -> IntArray:
    """Return which of `RULES` a rule means at each line of scrimmage; same shape."""
    ahead = 0 if rule.end_line_from == ANYWHERE else AHEAD_YD.index(rule.ahead_yd)
    inside = rule.in_from_pylon_yd
    home = 0 if inside is None else _SIDELINE + IN_FROM_PYLON_YD.index(inside)
    return np.where(yardline_100 <= rule.end_line_from, home, ahead)


_PRACTICE = "common practice, from memory; no plays are counted for it"
_FIELD_GOAL = KickRow(
    key="field-goal",
    title="field goal and kicked try",
    where="on a sideline a few yards ahead of the line of scrimmage, for the kicker's face and a "
    "block at the line",
    note=f"{_PRACTICE}; keep clear of the net and of whoever catches the ball behind the goal",
)
_RETURNS = KickRow(
    key="return",
    title="punt and kickoff return",
    where="on a sideline ahead of the returner, toward the kicking team's side",
    note=_PRACTICE,
)


def kick_rows(context: Context, season: PlayedSeason) -> tuple[KickRow, ...]:
    """Return where to stand for punts, kickoffs, field goals and tries.

    A model without kicks leaves common practice.
    """
    try:
        kicks = context.kicks()
    except ModelError:
        return _RETURNS, _FIELD_GOAL
    scorer = season.solved.scorers[0]
    rules = scorer.perimeter.venue.rules
    punt, kickoff = (Kick.of(play, rules) for play in (PlayKind.PUNT, PlayKind.KICKOFF))
    if round(float(kicks.kickoff_yard_line[0])) == rules.kickoff_yard_line:
        shares = _shares(kicks.kickoff())
    else:
        counted = round(float(kicks.kickoff_yard_line[0]))
        shares = f"counted from the {counted} and moved; how many come back is not known"
    return (
        _row(context, "punt", scorer, punt, _shares(kicks.punt(yardline_100=punt.yardline_100))),
        _row(context, "kickoff return", scorer, kickoff, shares),
        _FIELD_GOAL,
    )


def _shares(outlook: KickOutlook) -> str:
    returned, scored = float(outlook.p_result[RETURNED]), outlook.p_return_touchdown
    return f"{returned:.0%} of these kicks are returned; {scored:.1%} go all the way"


def _row(context: Context, title: str, scorer: Scorer, kick: Kick, shares: str) -> KickRow:
    """The place that ``lensyard next --play`` names to somebody who does not say where they are."""
    p = p_usable_of(scorer, frames_of(context, kick), kick)
    best = (places_for(scorer, p, kick) or [int(p.argmax())])[0]
    x, y = (float(a[best]) for a in scorer.xy_yd)
    return KickRow(
        key=kick.play.value,
        title=title,
        where=_where(x_yd=x, y_yd=y, line_x_yd=kick.line_x_yd),
        label=kicking_label(x_yd=x, y_yd=y),
        x_yd=x,
        y_yd=y,
        p_usable=max(float(p[best]), 0.0),
        note=f"kicked from {yard_line_text(kick.line_x_yd)}; {shares}",
    )


def _where(*, x_yd: float, y_yd: float, line_x_yd: float) -> str:
    if 0 <= y_yd <= FIELD_WIDTH_YD:
        end = "receiving" if x_yd > FIELD_LENGTH_YD else "kicking"
        return f"behind the {end} team's end line"
    ahead = x_yd - line_x_yd
    way = "downfield of" if ahead >= 0 else "behind"
    return f"{abs(ahead):.0f} yd {way} the line of the kick, either sideline"
