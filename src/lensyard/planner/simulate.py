"""Play a season again: what each policy would have brought home.

The protocol: every scrimmage play of every game in order; the two teams swap ends each quarter; one
walks at most so far between plays, farther at a change of possession and at a quarter break, and
freely at the half and before the first play. A play is usable from where one stood by the full
definition (`lensyard.spots.visibility`). Nothing that a policy decides with comes from after
the snap, except for ``hindsight``, which bounds what any policy could do under the same limits.

All games walk side by side: step t handles the t-th play of every game at once.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lensyard.domain.assignment import Faces, OutcomeWeights
from lensyard.domain.field import Direction
from lensyard.model.replay import OUTCOMES, Replay
from lensyard.planner.solve import DECIMALS, WindowMax, choose_many
from lensyard.spots.habits import TwoNumberRule, step_toward, targets
from lensyard.spots.scorer import Scorer, turned_station_indices
from lensyard.spots.visibility import geometry_of
from lensyard.stats import bootstrap_games, ratio_interval

FloatArray = NDArray[np.float64]
Float32Array = NDArray[np.float32]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

QUARTER_BREAK_LIMIT_YD = 160.0
UNLIMITED_YD = 1e6

# (plays of the step, positions in their play frames, walking limits) -> new positions
Decide = Callable[[IntArray, IntArray, FloatArray], IntArray]


def realized_weight(replay: Replay, weights: OutcomeWeights) -> FloatArray:
    """Return what a usable frame of each play is worth, shape (m,)."""
    table = np.array([getattr(weights, name) for name in OUTCOMES])
    value: FloatArray = table[replay.outcome]
    return value


def walking_limits_yd(replay: Replay, *, drive_yd: float, change_yd: float) -> FloatArray:
    """Return how far one may walk before each play, shape (m,). [yd]"""
    limit = np.where(replay.possession_change, max(change_yd, drive_yd), drive_yd)
    limit = np.where(replay.quarter_break, np.maximum(limit, QUARTER_BREAK_LIMIT_YD), limit)
    return np.where(replay.free_move, UNLIMITED_YD, limit)


def realized_usable(scorer: Scorer, replay: Replay, *, block: int = 4000) -> BoolArray:
    """Return whether each play was usable from each position, shape (m, n).

    With fewer bodies than lenses, the lenses at hand are those with the longest reach.
    """
    station_indices = np.arange(len(scorer.perimeter))
    lens_sets = max(scorer.kit.lens_sets, key=lambda h: max(m.reach_yd for m in h))
    result = np.zeros((len(replay), station_indices.size), dtype=bool)
    for start in range(0, len(replay), block):
        rows = slice(start, start + block)
        geometry = geometry_of(
            scorer.perimeter,
            stations=scorer.stations,
            cell_x_yd=replay.end_x_yd[rows],
            cell_y_yd=replay.end_y_yd[rows],
            direction=scorer.direction,
            faces=scorer.faces,
            facing_limit_deg=scorer.facing_limit_deg,
        )
        result[rows] = (geometry.usable(lens_sets) & scorer.open[:, None]).T
    return result


@dataclass(frozen=True, slots=True)
class SeasonData:
    """A season made ready for one kit: everything a policy or a score needs.

    Attributes
    ----------
    replay
        The plays.
    scorers
        By direction: toward B, toward A.
    usable
        Realized, in the play frame of each play, shape (m, n).
    value
        Realized weight, shape (m,).
    limit_yd
        Walking limit before each play, shape (m,). [yd]
    counted
        Whether a play counts for the assignment, shape (m,).
    """

    replay: Replay
    scorers: tuple[Scorer, Scorer]
    usable: BoolArray
    value: FloatArray
    limit_yd: FloatArray
    counted: BoolArray

    @property
    def toward_a(self) -> BoolArray:
        """Whether each play goes toward end A, shape (m,)."""
        away: BoolArray = self.replay.direction == int(Direction.TOWARD_A)
        return away


def season_data_of(
    replay: Replay,
    scorers: tuple[Scorer, Scorer],
    *,
    weights: OutcomeWeights,
    drive_yd: float = 30.0,
    change_yd: float = 110.0,
    counted: BoolArray | None = None,
) -> SeasonData:
    """Return a season made ready for one kit and venue (scorers toward B and toward A)."""
    toward_a = replay.direction == int(Direction.TOWARD_A)
    usable = np.zeros((len(replay), len(scorers[0].perimeter)), dtype=bool)
    if scorers[0].perimeter.venue.symmetric:
        usable = realized_usable(scorers[0], replay)
    else:
        for scorer, rows in zip(scorers, (~toward_a, toward_a), strict=True):
            usable[rows] = realized_usable(scorer, replay.take(np.flatnonzero(rows)))
    return SeasonData(
        replay=replay,
        scorers=scorers,
        usable=usable,
        value=realized_weight(replay, weights),
        limit_yd=walking_limits_yd(replay, drive_yd=drive_yd, change_yd=change_yd),
        counted=np.ones(len(replay), dtype=bool) if counted is None else counted,
    )


@dataclass(frozen=True, slots=True)
class PolicyTrace:
    """Where a policy stood at each snap.

    Attributes
    ----------
    station_index
        In the play frame of each play, shape (m,).
    walk_yd
        The walk before each play, shape (m,); 0 where one moved freely. [yd]
    """

    station_index: IntArray
    walk_yd: FloatArray


def simulate_policy(
    season_data: SeasonData, decide: Decide, *, start_station_index: int = 0
) -> PolicyTrace:
    """Let a policy walk through every game.

    Parameters
    ----------
    season_data
        The season.
    decide
        The policy. Where the limit is unlimited it may go anywhere.
    start_station_index
        Where one stands before the first play (then one moves freely).
    """
    replay, n = season_data.replay, len(season_data.scorers[0].perimeter)
    turned = turned_station_indices(n)
    toward_a = season_data.toward_a
    walks = [scorer.walk_yd for scorer in season_data.scorers]
    station_index = np.zeros(len(replay), dtype=np.int64)
    trace = np.zeros(len(replay))
    standing = np.full(replay.games, start_station_index, dtype=np.int64)  # stadium numbering
    for rows in replay.steps():
        games = replay.game[rows]
        away = toward_a[rows]
        here = np.where(away, turned[standing[games]], standing[games])
        chosen = decide(rows, here, season_data.limit_yd[rows])
        station_index[rows] = chosen
        free = season_data.limit_yd[rows] >= UNLIMITED_YD
        distance = np.where(away, walks[1][here, chosen], walks[0][here, chosen])
        trace[rows] = np.where(free, 0.0, distance)
        standing[games] = np.where(away, turned[chosen], chosen)
    return PolicyTrace(station_index, trace)


def rule_policy(season_data: SeasonData, rule: TwoNumberRule) -> Decide:
    """Return the policy of a two-number rule: walk toward where it points, on one's own side."""
    scorer = season_data.scorers[0]
    xy, n_yards = scorer.xy_yd, 100
    yard = np.repeat(np.arange(n_yards), 2)
    left = np.tile([False, True], n_yards)
    table = np.stack(
        [
            targets(rule, yardline_100=yard, left_side=left, xy_yd=xy, may_shoot=s.open)
            for s in season_data.scorers
        ]
    ).reshape(2, n_yards, 2)
    middle = float(np.mean(xy[1]))
    on_left = xy[1] > middle
    yardline = season_data.replay.batch.yardline_100
    toward_a = season_data.toward_a.astype(np.int64)

    def decide(rows: IntArray, here: IntArray, limit_yd: FloatArray) -> IntArray:
        target = table[toward_a[rows], yardline[rows], on_left[here].astype(np.int64)]
        chosen = np.empty_like(here)
        for side, scorer in enumerate(season_data.scorers):
            some = toward_a[rows] == side
            chosen[some] = step_toward(
                standing=here[some],
                target=target[some],
                walk_yd=scorer.walk_yd,
                limit_yd=limit_yd[some],
            )
        return chosen

    return decide


def lookahead_policy(
    season_data: SeasonData,
    *,
    reward: Float32Array,
    continuation: Float32Array | None,
    price_per_yd: float,
) -> Decide:
    """Return the policy that takes the best reward now plus the continuation, less the walk.

    Parameters
    ----------
    season_data
        The season.
    reward
        Predicted before the snap, in each play's frame, shape (m, n).
    continuation
        What follows, same shape; None for the greedy policy.
    price_per_yd
        Of the walk.
    """
    walks = np.stack([scorer.walk_yd for scorer in season_data.scorers])
    toward_a = season_data.toward_a.astype(np.int64)

    def decide(rows: IntArray, here: IntArray, limit_yd: FloatArray) -> IntArray:
        later = np.zeros_like(reward[rows]) if continuation is None else continuation[rows]
        walk = walks[toward_a[rows], here]
        walk = np.where(limit_yd[:, None] >= UNLIMITED_YD, 0.0, walk)
        station, _ = choose_many(
            reward=reward[rows],
            continuation=later,
            walk_yd=walk,
            limit_yd=limit_yd,
            price_per_yd=price_per_yd,
        )
        return station

    return decide


def unconstrained_policy(reward: Float32Array) -> Decide:
    """Return the best spot before every snap if walking took no time: no plan can expect more.

    ``reward`` is predicted before the snap, in each play's frame, shape (m, n).
    """
    best = np.round(reward, DECIMALS).argmax(axis=1).astype(np.int64)
    return lambda rows, here, limit_yd: best[rows]


def hindsight_policy(season_data: SeasonData, *, usable_only: bool = False) -> Decide:
    """Return the policy of perfect foresight under the same walking limits."""
    value = season_data.counted * (1.0 if usable_only else season_data.value)
    return oracle_policy(
        season_data, value=(season_data.usable * value[:, None]).astype(np.float32)
    )


def oracle_policy(season_data: SeasonData, *, value: Float32Array) -> Decide:
    """Return the best policy of whoever knows what each position earns at every coming play.

    A dynamic program backward through each game. ``value`` is in each play's frame, shape (m, n):
    realized it makes hindsight, expected it makes foresight of situations only.
    """
    replay, n = season_data.replay, len(season_data.scorers[0].perimeter)
    turned = turned_station_indices(n)
    steps = list(replay.steps())
    later = np.zeros((len(replay), n), dtype=np.float32)  # after each play, in its frame
    ahead = np.zeros((replay.games, n), dtype=np.float32)  # before the next play, stadium numbering
    windows: dict[tuple[int, float], WindowMax] = {}
    for rows in reversed(steps):
        games, away = replay.game[rows], season_data.toward_a[rows]
        later[rows] = np.where(away[:, None], ahead[games][:, turned], ahead[games])
        total = value[rows] + later[rows]
        before = np.empty_like(total)
        for limit in np.unique(season_data.limit_yd[rows]):
            for side in (0, 1):
                some = (season_data.limit_yd[rows] == limit) & (away == bool(side))
                if not some.any():
                    continue
                if limit >= UNLIMITED_YD:
                    before[some] = total[some].max(axis=1, keepdims=True)
                    continue
                key = (side, float(limit))
                if key not in windows:
                    walk = season_data.scorers[side].walk_yd
                    windows[key] = WindowMax(walk, limit_yd=limit, price_per_yd=0.0)
                before[some] = windows[key](total[some])
        ahead[games] = np.where(away[:, None], before[:, turned], before)
    return lookahead_policy(season_data, reward=value, continuation=later, price_per_yd=0.0)


@dataclass(frozen=True, slots=True)
class PolicyScore:
    """What a policy brought home, with 95 % intervals from bootstrapping games.

    ``p_usable`` is the share of counted plays, ``value_share`` of their total worth; ``low`` and
    ``high`` belong to ``value_share``.
    """

    name: str
    p_usable: float
    p_usable_low: float
    p_usable_high: float
    value_share: float
    low: float
    high: float
    walk_yd_per_game: float
    usable_per_game: float
    p_usable_touchdown: float


def _by_game(season_data: SeasonData, amount: FloatArray) -> FloatArray:
    totals = np.bincount(
        season_data.replay.game, weights=amount, minlength=season_data.replay.games
    )
    return totals.astype(np.float64)


def score(season_data: SeasonData, trace: PolicyTrace, *, name: str, seed: int = 7) -> PolicyScore:
    """Return what a walked season brought home."""
    rows = np.arange(len(season_data.replay))
    hit = season_data.usable[rows, trace.station_index] & season_data.counted
    counted = season_data.counted.astype(float)
    got = _by_game(season_data, hit.astype(float))
    plays = _by_game(season_data, counted)
    value = _by_game(season_data, hit * season_data.value)
    available = _by_game(season_data, counted * season_data.value)
    weights = bootstrap_games(season_data.replay.games, seed=seed)
    p_usable, p_usable_low, p_usable_high = ratio_interval(got, plays, weights)
    value_share, low, high = ratio_interval(value, available, weights)
    touchdown = (season_data.replay.outcome == OUTCOMES.index("touchdown")) & season_data.counted
    return PolicyScore(
        name=name,
        p_usable=p_usable,
        p_usable_low=p_usable_low,
        p_usable_high=p_usable_high,
        value_share=value_share,
        low=low,
        high=high,
        walk_yd_per_game=float(trace.walk_yd.sum() / season_data.replay.games),
        usable_per_game=float(got.sum() / season_data.replay.games),
        p_usable_touchdown=float(hit[touchdown].mean()) if touchdown.any() else float("nan"),
    )


def value_ratio(
    season_data: SeasonData, trace: PolicyTrace, other: PolicyTrace, *, seed: int = 7
) -> tuple[float, float, float]:
    """Return value of one policy over another's with its 95 % interval (same games drawn)."""
    rows = np.arange(len(season_data.replay))
    first, second = (
        _by_game(
            season_data,
            (season_data.usable[rows, one.station_index] & season_data.counted) * season_data.value,
        )
        for one in (trace, other)
    )
    return ratio_interval(first, second, bootstrap_games(season_data.replay.games, seed=seed))


def tune_rule(
    season_data: SeasonData, *, ahead_yd: Sequence[float], end_line_from: Sequence[int]
) -> tuple[TwoNumberRule, FloatArray]:
    """Return the two-number rule that earns the most value on these seasons.

    Returns
    -------
    rule
        The best, named ``rule``; the smaller numbers among equals.
    value
        Value share of every pair, shape (len(ahead_yd), len(end_line_from)).
    """
    rows = np.arange(len(season_data.replay))
    total = float((season_data.value * season_data.counted).sum())
    table = np.zeros((len(ahead_yd), len(end_line_from)))
    for i, ahead in enumerate(ahead_yd):
        for j, zone in enumerate(end_line_from):
            trace = simulate_policy(
                season_data, rule_policy(season_data, TwoNumberRule(ahead, zone))
            )
            hit = season_data.usable[rows, trace.station_index] & season_data.counted
            table[i, j] = float((hit * season_data.value).sum()) / total
    first, second = divmod(int(np.round(table, 6).argmax()), table.shape[1])
    return TwoNumberRule(ahead_yd[first], end_line_from[second], "rule"), table


__all__ = ["Faces", "PolicyScore", "PolicyTrace", "SeasonData"]
