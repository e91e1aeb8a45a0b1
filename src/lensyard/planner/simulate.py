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
from lensyard.spots.scorer import Scorer, turned_positions
from lensyard.spots.visibility import geometry_of

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
    worth: FloatArray = table[replay.outcome]
    return worth


def walking_limits_yd(replay: Replay, *, drive_yd: float, change_yd: float) -> FloatArray:
    """Return how far one may walk before each play, shape (m,). [yd]"""
    limit = np.where(replay.possession_change, max(change_yd, drive_yd), drive_yd)
    limit = np.where(replay.quarter_break, np.maximum(limit, QUARTER_BREAK_LIMIT_YD), limit)
    return np.where(replay.free_move, UNLIMITED_YD, limit)


def realized_usable(scorer: Scorer, replay: Replay, *, block: int = 4000) -> BoolArray:
    """Return whether each play was usable from each position, shape (m, n).

    With fewer bodies than lenses, the lenses at hand are those with the longest reach.
    """
    positions = np.arange(len(scorer.perimeter))
    hands = max(scorer.kit.hands, key=lambda h: max(m.reach_yd for m in h))
    result = np.zeros((len(replay), positions.size), dtype=bool)
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
        result[rows] = (geometry.usable(hands) & scorer.open[:, None]).T
    return result


@dataclass(frozen=True, slots=True)
class Ground:
    """A season made ready for one kit: everything a policy or a score needs.

    Attributes
    ----------
    replay
        The plays.
    scorers
        By direction: toward B, toward A.
    usable
        Realized, in the play frame of each play, shape (m, n).
    worth
        Realized weight, shape (m,).
    limit_yd
        Walking limit before each play, shape (m,). [yd]
    counted
        Whether a play counts for the assignment, shape (m,).
    """

    replay: Replay
    scorers: tuple[Scorer, Scorer]
    usable: BoolArray
    worth: FloatArray
    limit_yd: FloatArray
    counted: BoolArray

    @property
    def toward_a(self) -> BoolArray:
        """Whether each play goes toward end A, shape (m,)."""
        away: BoolArray = self.replay.direction == int(Direction.TOWARD_A)
        return away


def ground_of(
    replay: Replay,
    scorers: tuple[Scorer, Scorer],
    *,
    weights: OutcomeWeights,
    drive_yd: float = 30.0,
    change_yd: float = 110.0,
    counted: BoolArray | None = None,
) -> Ground:
    """Return a season made ready for one kit and venue (scorers toward B and toward A)."""
    toward_a = replay.direction == int(Direction.TOWARD_A)
    usable = np.zeros((len(replay), len(scorers[0].perimeter)), dtype=bool)
    if scorers[0].perimeter.venue.symmetric:
        usable = realized_usable(scorers[0], replay)
    else:
        for scorer, rows in zip(scorers, (~toward_a, toward_a), strict=True):
            usable[rows] = realized_usable(scorer, replay.take(np.flatnonzero(rows)))
    return Ground(
        replay=replay,
        scorers=scorers,
        usable=usable,
        worth=realized_weight(replay, weights),
        limit_yd=walking_limits_yd(replay, drive_yd=drive_yd, change_yd=change_yd),
        counted=np.ones(len(replay), dtype=bool) if counted is None else counted,
    )


@dataclass(frozen=True, slots=True)
class Walked:
    """Where a policy stood at each snap.

    Attributes
    ----------
    position
        In the play frame of each play, shape (m,).
    walk_yd
        The walk before each play, shape (m,); 0 where one moved freely. [yd]
    """

    position: IntArray
    walk_yd: FloatArray


def walk_season(ground: Ground, decide: Decide, *, start_position: int = 0) -> Walked:
    """Let a policy walk through every game.

    Parameters
    ----------
    ground
        The season.
    decide
        The policy. Where the limit is unlimited it may go anywhere.
    start_position
        Where one stands before the first play (then one moves freely).
    """
    replay, n = ground.replay, len(ground.scorers[0].perimeter)
    turned = turned_positions(n)
    toward_a = ground.toward_a
    walks = [scorer.walk_yd for scorer in ground.scorers]
    position = np.zeros(len(replay), dtype=np.int64)
    walked = np.zeros(len(replay))
    standing = np.full(replay.games, start_position, dtype=np.int64)  # stadium numbering
    for rows in replay.steps():
        games = replay.game[rows]
        away = toward_a[rows]
        here = np.where(away, turned[standing[games]], standing[games])
        chosen = decide(rows, here, ground.limit_yd[rows])
        position[rows] = chosen
        free = ground.limit_yd[rows] >= UNLIMITED_YD
        distance = np.where(away, walks[1][here, chosen], walks[0][here, chosen])
        walked[rows] = np.where(free, 0.0, distance)
        standing[games] = np.where(away, turned[chosen], chosen)
    return Walked(position, walked)


def decide_rule(ground: Ground, rule: TwoNumberRule) -> Decide:
    """Return the policy of a two-number rule: walk toward where it points, on one's own side."""
    scorer = ground.scorers[0]
    xy, n_yards = scorer.xy_yd, 100
    yard = np.repeat(np.arange(n_yards), 2)
    left = np.tile([False, True], n_yards)
    table = np.stack(
        [
            targets(rule, yardline_100=yard, left_side=left, xy_yd=xy, may_shoot=s.open)
            for s in ground.scorers
        ]
    ).reshape(2, n_yards, 2)
    middle = float(np.mean(xy[1]))
    on_left = xy[1] > middle
    yardline = ground.replay.batch.yardline_100
    toward_a = ground.toward_a.astype(np.int64)

    def decide(rows: IntArray, here: IntArray, limit_yd: FloatArray) -> IntArray:
        target = table[toward_a[rows], yardline[rows], on_left[here].astype(np.int64)]
        chosen = np.empty_like(here)
        for side, scorer in enumerate(ground.scorers):
            some = toward_a[rows] == side
            chosen[some] = step_toward(
                standing=here[some],
                target=target[some],
                walk_yd=scorer.walk_yd,
                limit_yd=limit_yd[some],
            )
        return chosen

    return decide


def decide_lookahead(
    ground: Ground,
    *,
    reward: Float32Array,
    continuation: Float32Array | None,
    price_per_yd: float,
) -> Decide:
    """Return the policy that takes the best reward now plus the continuation, less the walk.

    Parameters
    ----------
    ground
        The season.
    reward
        Predicted before the snap, in each play's frame, shape (m, n).
    continuation
        What follows, same shape; None for the greedy policy.
    price_per_yd
        Of the walk.
    """
    walks = np.stack([scorer.walk_yd for scorer in ground.scorers])
    toward_a = ground.toward_a.astype(np.int64)

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


def decide_free(reward: Float32Array) -> Decide:
    """Return the best spot before every snap if walking took no time: no plan can expect more.

    ``reward`` is predicted before the snap, in each play's frame, shape (m, n).
    """
    best = np.round(reward, DECIMALS).argmax(axis=1).astype(np.int64)
    return lambda rows, here, limit_yd: best[rows]


def decide_hindsight(ground: Ground, *, usable_only: bool = False) -> Decide:
    """Return the policy of perfect foresight under the same walking limits."""
    worth = ground.counted * (1.0 if usable_only else ground.worth)
    return decide_foreseeing(ground, earned=(ground.usable * worth[:, None]).astype(np.float32))


def decide_foreseeing(ground: Ground, *, earned: Float32Array) -> Decide:
    """Return the best policy of whoever knows what each position earns at every coming play.

    A dynamic program backward through each game. ``earned`` is in each play's frame, shape (m, n):
    realized it makes hindsight, expected it makes foresight of situations only.
    """
    replay, n = ground.replay, len(ground.scorers[0].perimeter)
    turned = turned_positions(n)
    steps = list(replay.steps())
    later = np.zeros((len(replay), n), dtype=np.float32)  # after each play, in its frame
    ahead = np.zeros((replay.games, n), dtype=np.float32)  # before the next play, stadium numbering
    windows: dict[tuple[int, float], WindowMax] = {}
    for rows in reversed(steps):
        games, away = replay.game[rows], ground.toward_a[rows]
        later[rows] = np.where(away[:, None], ahead[games][:, turned], ahead[games])
        total = earned[rows] + later[rows]
        before = np.empty_like(total)
        for limit in np.unique(ground.limit_yd[rows]):
            for side in (0, 1):
                some = (ground.limit_yd[rows] == limit) & (away == bool(side))
                if not some.any():
                    continue
                if limit >= UNLIMITED_YD:
                    before[some] = total[some].max(axis=1, keepdims=True)
                    continue
                key = (side, float(limit))
                if key not in windows:
                    walk = ground.scorers[side].walk_yd
                    windows[key] = WindowMax(walk, limit_yd=limit, price_per_yd=0.0)
                before[some] = windows[key](total[some])
        ahead[games] = np.where(away[:, None], before[:, turned], before)
    return decide_lookahead(ground, reward=earned, continuation=later, price_per_yd=0.0)


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


def _by_game(ground: Ground, amount: FloatArray) -> FloatArray:
    totals = np.bincount(ground.replay.game, weights=amount, minlength=ground.replay.games)
    return totals.astype(np.float64)


def bootstrap_games(games: int, *, seed: int = 7, draws: int = 2000) -> FloatArray:
    """Return how often each game is drawn, shape (draws, games)."""
    rng = np.random.default_rng(seed)
    counts: FloatArray = rng.multinomial(games, np.full(games, 1 / games), size=draws).astype(float)
    return counts


def score(ground: Ground, walked: Walked, *, name: str, seed: int = 7) -> PolicyScore:
    """Return what a walked season brought home."""
    rows = np.arange(len(ground.replay))
    hit = ground.usable[rows, walked.position] & ground.counted
    counted = ground.counted.astype(float)
    got = _by_game(ground, hit.astype(float))
    plays = _by_game(ground, counted)
    value = _by_game(ground, hit * ground.worth)
    worth = _by_game(ground, counted * ground.worth)
    draws = bootstrap_games(ground.replay.games, seed=seed)
    usable_draws = (draws @ got) / (draws @ plays)
    value_draws = (draws @ value) / (draws @ worth)
    touchdown = (ground.replay.outcome == OUTCOMES.index("touchdown")) & ground.counted
    return PolicyScore(
        name=name,
        p_usable=float(got.sum() / plays.sum()),
        p_usable_low=float(np.quantile(usable_draws, 0.025)),
        p_usable_high=float(np.quantile(usable_draws, 0.975)),
        value_share=float(value.sum() / worth.sum()),
        low=float(np.quantile(value_draws, 0.025)),
        high=float(np.quantile(value_draws, 0.975)),
        walk_yd_per_game=float(walked.walk_yd.sum() / ground.replay.games),
        usable_per_game=float(got.sum() / ground.replay.games),
        p_usable_touchdown=float(hit[touchdown].mean()) if touchdown.any() else float("nan"),
    )


def ratio_interval(
    ground: Ground, walked: Walked, other: Walked, *, seed: int = 7
) -> tuple[float, float, float]:
    """Return value of one policy over another's with its 95 % interval (same games drawn)."""
    rows = np.arange(len(ground.replay))
    first, second = (
        _by_game(ground, (ground.usable[rows, w.position] & ground.counted) * ground.worth)
        for w in (walked, other)
    )
    draws = bootstrap_games(ground.replay.games, seed=seed)
    ratios = (draws @ first) / np.maximum(draws @ second, 1e-12)
    return (
        float(first.sum() / second.sum()),
        float(np.quantile(ratios, 0.025)),
        float(np.quantile(ratios, 0.975)),
    )


def tune_rule(
    ground: Ground, *, ahead_yd: Sequence[float], end_line_from: Sequence[int]
) -> tuple[TwoNumberRule, FloatArray]:
    """Return the two-number rule that earns the most value on these seasons.

    Returns
    -------
    rule
        The best, named ``rule``; the smaller numbers among equals.
    value
        Value share of every pair, shape (len(ahead_yd), len(end_line_from)).
    """
    rows = np.arange(len(ground.replay))
    total = float((ground.worth * ground.counted).sum())
    table = np.zeros((len(ahead_yd), len(end_line_from)))
    for i, ahead in enumerate(ahead_yd):
        for j, zone in enumerate(end_line_from):
            walked = walk_season(ground, decide_rule(ground, TwoNumberRule(ahead, zone)))
            hit = ground.usable[rows, walked.position] & ground.counted
            table[i, j] = float((hit * ground.worth).sum()) / total
    first, second = divmod(int(np.round(table, 6).argmax()), table.shape[1])
    return TwoNumberRule(ahead_yd[first], end_line_from[second], "rule"), table


__all__ = ["Faces", "Ground", "PolicyScore", "Walked"]
