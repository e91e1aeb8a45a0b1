"""Play a season again with a policy: where it stood at every snap, and what it brought home.

Nothing that a policy decides with comes from after the snap, except for `hindsight_policy`, which
bounds what any policy could do under the same limits. All games walk side by side: step t handles
the t-th play of every game at once. The protocol is that of `lensyard.planner.season_data`.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np

from lensyard.arrays import BoolArray, Float32Array, FloatArray, IntArray
from lensyard.model.plays import OUTCOMES
from lensyard.planner.season_data import UNLIMITED_YD, SeasonData
from lensyard.planner.solve import DECIMALS, WindowMax, choose_many, may_end
from lensyard.running import checkpoint
from lensyard.spots.position_rule import PositionRule, steps_toward, targets
from lensyard.spots.scorer import turned_station_indices
from lensyard.stats import bootstrap_games, ratio_interval

# (plays of the step, stations in their play frames, walking limits) -> new stations
Decide = Callable[[IntArray, IntArray, FloatArray], IntArray]


@dataclass(frozen=True, slots=True)
class PolicyTrace:
    """Station (play frame) at each snap, and the walk before it, 0 for a free move [yd]; (m,)."""

    station_index: IntArray
    walk_yd: FloatArray


def simulate_policy(season_data: SeasonData, decide: Decide) -> PolicyTrace:
    """Return where a policy stood at each snap of every game.

    Where the limit is unlimited, as before the first play, it may go anywhere.
    """
    replay, n = season_data.replay, len(season_data.scorers[0].perimeter)
    turned = turned_station_indices(n)
    toward_a = season_data.toward_a
    walks = [scorer.walk_yd for scorer in season_data.scorers]
    station_index = np.zeros(len(replay), dtype=np.int64)
    trace = np.zeros(len(replay))
    standing = np.zeros(replay.games, dtype=np.int64)  # stadium numbering
    for rows in replay.steps():
        checkpoint()
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


def rule_targets(
    season_data: SeasonData,
    rules: Sequence[PositionRule],
    *,
    toward_a: Sequence[PositionRule] | None = None,
) -> IntArray:
    """Return where rules want one to stand at each play, shape (rules, m, 2).

    The last axis is for whoever works the offense's right side, and its left. ``toward_a``: the
    rules for plays toward end A, where they are others.
    """
    n_yards, replay = 100, season_data.replay
    yard, left = np.repeat(np.arange(n_yards), 2), np.tile([False, True], n_yards)
    xy = season_data.scorers[0].xy_yd
    by_direction = [
        targets(some, yardline_100=yard, left_side=left, xy_yd=xy, may_shoot=scorer.open)
        for some, scorer in zip((rules, toward_a or rules), season_data.scorers, strict=True)
    ]
    table = np.stack(by_direction, axis=1).reshape(len(rules), 2, n_yards, 2)
    wanted: IntArray = table[:, season_data.toward_a.astype(int), replay.batch.yardline_100]
    return wanted


def simulate_rules(
    season_data: SeasonData,
    rules: Sequence[PositionRule],
    *,
    toward_a: Sequence[PositionRule] | None = None,
) -> list[PolicyTrace]:
    """Return where somebody stood who follows each rule on the side where they stand."""
    if not rules:
        return []
    return simulate_targets(season_data, rule_targets(season_data, rules, toward_a=toward_a))


def simulate_targets(
    season_data: SeasonData, wanted: IntArray, *, most_yd: float = np.inf
) -> list[PolicyTrace]:
    """Return where many people stood who walk toward a place of their own before every play.

    - ``season_data``: the season.
    - ``wanted``: where each wants to be, in the play frame, shape (people, m, 2), as of
      `rule_targets`.
    - ``most_yd``: nobody walks farther between two plays, whatever time there is. [yd]
    """
    replay, scorers = season_data.replay, season_data.scorers
    turned = turned_station_indices(len(scorers[0].perimeter))
    toward_a = season_data.toward_a.astype(np.int64)
    free = season_data.limit_yd >= UNLIMITED_YD
    walks = np.stack([scorer.walk_yd for scorer in scorers])
    follow = _following(season_data, wanted, most_yd=most_yd)
    station = np.zeros(wanted.shape[:2], dtype=np.int64)
    walked = np.zeros(wanted.shape[:2])
    standing = np.zeros((len(wanted), replay.games), dtype=np.int64)  # stadium numbering
    for rows in replay.steps():
        checkpoint()
        games, away = replay.game[rows], toward_a[rows]
        here = np.where(away, turned[standing[:, games]], standing[:, games])
        chosen = follow(rows, here)
        station[:, rows] = chosen
        walked[:, rows] = np.where(free[rows], 0.0, walks[away, here, chosen])
        standing[:, games] = np.where(away, turned[chosen], chosen)
    return [PolicyTrace(*of) for of in zip(station, walked, strict=True)]


def rule_policy(season_data: SeasonData, rule: PositionRule) -> Decide:
    """Return the policy of one position rule, for whoever follows it for some plays only."""
    follow = _following(season_data, rule_targets(season_data, (rule,)))
    return lambda rows, here, limit_yd: follow(rows, here[np.newaxis])[0]


def _following(
    season_data: SeasonData, wanted: IntArray, *, most_yd: float = np.inf
) -> Callable[[IntArray, IntArray], IntArray]:
    """Return where people get to: plays of a step (k,), stations (people, k) -> new stations."""
    scorers, toward_a = season_data.scorers, season_data.toward_a.astype(np.int64)
    free = season_data.limit_yd >= UNLIMITED_YD
    limits, limit = np.unique(
        np.where(free, UNLIMITED_YD, np.minimum(season_data.limit_yd, most_yd)),
        return_inverse=True,
    )
    steps = np.stack(
        [
            [
                steps_toward(scorer.walk_yd, ends)
                for scorer, ends in zip(scorers, _ends(season_data, each), strict=True)
            ]
            for each in limits
        ]
    )
    y = scorers[0].xy_yd[1]
    on_left = (y > float(np.mean(y))).astype(np.int64)
    person = np.arange(len(wanted))[:, None]

    def follow(rows: IntArray, here: IntArray) -> IntArray:
        target = wanted[person, rows, on_left[here]]
        stepped = steps[limit[rows], toward_a[rows], here, target]
        # Where one may go anywhere, also out of a corner that a wall shuts.
        return np.where(free[rows], target, stepped)

    return follow


def lookahead_policy(
    season_data: SeasonData,
    *,
    reward: Float32Array,
    continuation: Float32Array | None,
    price_per_yd: float,
) -> Decide:
    """Return the policy that takes the best reward now plus the continuation, less the walk.

    Both are predicted before the snap, in each play's frame, shape (m, n); no continuation is the
    greedy policy.
    """
    walks = np.stack([scorer.walk_yd for scorer in season_data.scorers])
    toward_a = season_data.toward_a.astype(np.int64)
    ends = {limit: _ends(season_data, limit) for limit in np.unique(season_data.limit_yd)}

    def decide(rows: IntArray, here: IntArray, limit_yd: FloatArray) -> IntArray:
        later = np.zeros_like(reward[rows]) if continuation is None else continuation[rows]
        walk = walks[toward_a[rows], here]
        walk = np.where(limit_yd[:, None] >= UNLIMITED_YD, 0.0, walk)
        allowed = np.zeros(walk.shape, dtype=bool)
        for limit in np.unique(limit_yd):
            some = limit_yd == limit
            allowed[some] = ends[limit][toward_a[rows[some]], here[some]]
        station, _ = choose_many(
            reward=reward[rows],
            continuation=later,
            walk_yd=walk,
            allowed=allowed,
            price_per_yd=price_per_yd,
        )
        return station

    return decide


def _ends(season_data: SeasonData, limit_yd: float) -> BoolArray:
    """Return where walks within a limit may end, both directions of attack, shape (2, n, n)."""
    if limit_yd >= UNLIMITED_YD:
        return np.stack([np.broadcast_to(s.open, s.walk_yd.shape) for s in season_data.scorers])
    return np.stack([may_end(s.walk_yd, s.open, limit_yd=limit_yd) for s in season_data.scorers])


def unconstrained_policy(reward: Float32Array) -> Decide:
    """Return the best spot before every snap if walking took no time: no plan can expect more.

    ``reward`` is predicted before the snap, in each play's frame, shape (m, n).
    """
    best = np.round(reward, DECIMALS).argmax(axis=1).astype(np.int64)
    return lambda rows, here, limit_yd: best[rows]


def hindsight_policy(season_data: SeasonData) -> Decide:
    """Return the policy of perfect foresight under the same walking limits."""
    value = season_data.counted * season_data.value
    return oracle_policy(
        season_data, value=(season_data.quality * value[:, None]).astype(np.float32)
    )


def oracle_policy(season_data: SeasonData, *, value: Float32Array) -> Decide:
    """Return the best policy of whoever knows the value of each station at every coming play.

    A dynamic program backward through each game. ``value`` is in each play's frame, shape (m, n):
    realized it makes hindsight, expected it makes foresight of the situations only.
    """
    replay, n = season_data.replay, len(season_data.scorers[0].perimeter)
    turned = turned_station_indices(n)
    steps = list(replay.steps())
    later = np.zeros((len(replay), n), dtype=np.float32)  # after each play, in its frame
    ahead = np.zeros((replay.games, n), dtype=np.float32)  # before the next play, stadium numbering
    windows: dict[tuple[int, float], WindowMax] = {}
    shut = [~scorer.open for scorer in season_data.scorers]
    for rows in reversed(steps):
        checkpoint()
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
                    open_total = np.where(shut[side], -np.inf, total[some])
                    before[some] = open_total.max(axis=1, keepdims=True)
                    continue
                key = (side, float(limit))
                if key not in windows:
                    walk = season_data.scorers[side].walk_yd
                    allowed = _ends(season_data, limit)[side]
                    windows[key] = WindowMax(walk, allowed, price_per_yd=0.0)
                before[some] = windows[key](total[some])
        ahead[games] = np.where(away[:, None], before[:, turned], before)
    return lookahead_policy(season_data, reward=value, continuation=later, price_per_yd=0.0)


@dataclass(frozen=True, slots=True)
class PolicyFigures:
    """What a policy brought home over a season: shares of what counts, and figures a game.

    ``p_usable`` is the mean best quality of the plays: the share that gives a usable frame.
    """

    name: str
    title: str
    p_usable: float
    value_share: float
    usable_per_game: float
    walk_yd_per_game: float
    p_usable_touchdown: float


@dataclass(frozen=True, slots=True)
class PolicyScore(PolicyFigures):
    """The same with 95 % intervals from drawing games: of ``p_usable``, and of ``value_share``."""

    title: str = field(default="", metadata={"json": None}, kw_only=True)
    p_usable_low: float = field(kw_only=True)
    p_usable_high: float = field(kw_only=True)
    low: float = field(kw_only=True)
    high: float = field(kw_only=True)


def figures_of(
    season_data: SeasonData, trace: PolicyTrace, *, name: str, title: str = ""
) -> PolicyFigures:
    """Return what a policy brought home."""
    had, games = season_data.had(trace.station_index), season_data.replay.games
    touchdown = (season_data.replay.outcome == OUTCOMES.index("touchdown")) & season_data.counted
    return PolicyFigures(
        name=name,
        title=title,
        p_usable=float(had.sum() / season_data.counted.sum()),
        value_share=season_data.value_share(had),
        usable_per_game=float(had.sum() / games),
        walk_yd_per_game=float(trace.walk_yd.sum() / games),
        p_usable_touchdown=float(had[touchdown].mean()) if touchdown.any() else 0.0,
    )


def score(season_data: SeasonData, trace: PolicyTrace, *, name: str, seed: int = 7) -> PolicyScore:
    """Return what a policy brought home, with intervals."""
    figures = figures_of(season_data, trace, name=name)
    had, counted = season_data.had(trace.station_index), season_data.counted
    weights = bootstrap_games(season_data.replay.games, seed=seed)
    _, p_usable_low, p_usable_high = ratio_interval(
        season_data.by_game(had), season_data.by_game(counted), weights
    )
    _, low, high = ratio_interval(
        season_data.by_game(had * season_data.value),
        season_data.by_game(counted * season_data.value),
        weights,
    )
    return PolicyScore(
        name=name,
        p_usable=figures.p_usable,
        value_share=figures.value_share,
        usable_per_game=figures.usable_per_game,
        walk_yd_per_game=figures.walk_yd_per_game,
        p_usable_touchdown=figures.p_usable_touchdown,
        p_usable_low=p_usable_low,
        p_usable_high=p_usable_high,
        low=low,
        high=high,
    )


def value_ratio(
    season_data: SeasonData, trace: PolicyTrace, other: PolicyTrace, *, seed: int = 7
) -> tuple[float, float, float]:
    """Return value of one policy over another's with its 95 % interval (same games drawn)."""
    first, second = (
        season_data.by_game(season_data.had(one.station_index) * season_data.value)
        for one in (trace, other)
    )
    return ratio_interval(first, second, bootstrap_games(season_data.replay.games, seed=seed))
