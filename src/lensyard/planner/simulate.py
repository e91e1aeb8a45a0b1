"""Play a season again with a policy: where it stood at every snap, and what it brought home.

Nothing that a policy decides with comes from after the snap, except for `hindsight_policy`, which
bounds what any policy could do under the same limits. All games walk side by side: step t handles
the t-th play of every game at once. The protocol is that of `lensyard.planner.season_data`.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from lensyard.arrays import Float32Array, FloatArray, IntArray, SmallIntArray
from lensyard.domain.shot_list import BONUS_KEPT
from lensyard.model.plays import OUTCOMES
from lensyard.planner.season_data import SeasonData
from lensyard.planner.solve import DECIMALS, WindowMax
from lensyard.planner.walks import UNLIMITED_YD, Walks, ends_of, near_of, walks_of
from lensyard.running import checkpoint
from lensyard.spots.position_rule import PositionRule, targets
from lensyard.spots.scorer import turned_station_indices
from lensyard.stats import bootstrap_games, ratio_interval

_BLOCK = 4096
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
) -> SmallIntArray:
    """Return where rules want one to stand at each play, shape (rules, m, 2).

    The last axis is for whoever works the offense's right side, and its left. ``toward_a``: the
    rules for plays toward end A, where they are others.
    """
    table = _rule_table(season_data, rules, toward_a)
    away, yard = season_data.toward_a.astype(int), season_data.replay.batch.yardline_100
    wanted: SmallIntArray = np.moveaxis(table[away, yard], 1, 0)
    return wanted


def _rule_table(
    season_data: SeasonData,
    rules: Sequence[PositionRule],
    toward_a: Sequence[PositionRule] | None,
) -> SmallIntArray:
    """Return `rule_targets` by direction and yard line, shape (2, 100, rules, 2)."""
    n_yards = 100
    yard, left = np.repeat(np.arange(n_yards), 2), np.tile([False, True], n_yards)
    xy = season_data.scorers[0].xy_yd
    by_direction = [
        targets(some, yardline_100=yard, left_side=left, xy_yd=xy, may_shoot=scorer.open)
        for some, scorer in zip((rules, toward_a or rules), season_data.scorers, strict=True)
    ]
    table = np.stack(by_direction).reshape(2, len(rules), n_yards, 2)
    return np.moveaxis(table, 1, 2).astype(np.int16)


def simulate_rules(
    season_data: SeasonData,
    rules: Sequence[PositionRule],
    *,
    toward_a: Sequence[PositionRule] | None = None,
) -> list[PolicyTrace]:
    """Return where somebody stood who follows each rule on the side where they stand."""
    return _traces(season_data, _rule_stations(season_data, rules, toward_a)) if rules else []


def rule_value(season_data: SeasonData, rules: Sequence[PositionRule]) -> FloatArray:
    """Return what followers of each rule had of the value, shape (rules, 2): toward B, toward A."""
    walks, n = season_data.walks, len(season_data.scorers[0].perimeter)
    station = walks.in_play_frame(_rule_stations(season_data, rules, None))
    toward = np.concatenate([~walks.away, walks.away], axis=1).astype(np.float64)
    worth = (season_data.counted * season_data.value)[walks.order, np.newaxis] * toward
    face, found = season_data.drop_backs, np.zeros((len(rules), 2))
    for start in range(0, len(station), _BLOCK):
        rows = slice(start, start + _BLOCK)
        at = station[rows] + (walks.order[rows] * n)[:, np.newaxis]
        found += season_data.quality.ravel()[at].T @ worth[rows]
        if face is not None:  # all but the first of a game, about
            had = face.quality.ravel()[at].T @ toward[rows]
            found += face.weight * BONUS_KEPT * had
    return found


def _rule_stations(
    season_data: SeasonData,
    rules: Sequence[PositionRule],
    toward_a: Sequence[PositionRule] | None,
) -> SmallIntArray:
    table = _rule_table(season_data, rules, toward_a)
    away, yard = season_data.toward_a.astype(int), season_data.replay.batch.yardline_100
    row = (away * table.shape[1] + yard)[season_data.walks.order]
    return _follow(season_data.walks, table.reshape(-1, *table.shape[2:]), row)


def simulate_targets(
    season_data: SeasonData, wanted: NDArray[np.integer], *, most_yd: float = np.inf
) -> list[PolicyTrace]:
    """Return where many people stood who walk toward a place of their own before every play.

    - ``season_data``: the season.
    - ``wanted``: where each wants to be, in the play frame, shape (people, m, 2), as of
      `rule_targets`.
    - ``most_yd``: nobody walks farther between two plays, whatever time there is. [yd]
    """
    walks = season_data.walks if most_yd == np.inf else walks_of(season_data, most_yd=most_yd)
    by_play = np.moveaxis(wanted, 0, 1)
    return _traces(season_data, _follow(walks, by_play, walks.order))


def _follow(walks: Walks, wanted: NDArray[np.integer], row: IntArray) -> SmallIntArray:
    """Return where people stand at each play, in the stadium, shape (m, people).

    - ``wanted``: in the play frame, shape (c, people, 2)
    - ``row``: which of the c each play has, plays in the order of the steps, shape (m,)
    """
    n, people = walks.turned.shape[1], wanted.shape[1]
    code = wanted[:, :, 0].astype(np.int32) * n + wanted[:, :, 1]
    # People want few different pairs of places: from each pair a table of steps, (L, 2, n).
    pairs = np.flatnonzero(np.bincount(code.ravel(), minlength=n * n))
    begin = np.zeros(n * n, dtype=np.int32)
    begin[pairs] = np.arange(pairs.size) * walks.steps[..., 0].size
    begins = begin[code]
    right, left = np.divmod(pairs[:, np.newaxis, np.newaxis], n)
    target = np.where(walks.on_left, left, right)[:, np.newaxis]  # (pairs, 1, 2, n)
    limit, way, here = np.ogrid[: walks.limits.size, :2, :n]
    steps = walks.steps[limit, way, here, target].ravel()
    at = ((walks.limit[walks.order] * 2)[:, np.newaxis] + walks.away) * n
    stood = np.empty((row.size, people), dtype=np.int16)
    standing = np.zeros((walks.blocks[0][1], people), dtype=np.int64)
    for start, stop in walks.blocks:
        checkpoint()
        index = standing[: stop - start]  # the others' games are over
        index += begins[row[start:stop]]
        index += at[start:stop]
        stood[start:stop] = index[:] = steps[index]
    return stood


def _traces(season_data: SeasonData, stood: SmallIntArray) -> list[PolicyTrace]:
    """Return the traces of people by where they stood in the stadium, (m, people) by steps."""
    walks, m = season_data.walks, len(season_data.replay)
    walk_yd = season_data.scorers[0].perimeter.walk_yd
    back = np.empty(m, dtype=np.int64)
    back[walks.order] = np.arange(m)
    begins, free = season_data.replay.order == 0, season_data.limit_yd >= UNLIMITED_YD
    found = []
    for each, frame in zip(stood.T, walks.in_play_frame(stood).T, strict=True):
        here = each[back]
        came_from = np.where(begins, 0, np.roll(here, 1))
        walked = np.where(free, 0.0, walk_yd[came_from, here])
        found.append(PolicyTrace(frame[back].astype(np.int64), walked))
    return found


def rule_policy(season_data: SeasonData, rule: PositionRule) -> Decide:
    """Return the policy of one position rule, for whoever follows it for some plays only."""
    (wanted,) = rule_targets(season_data, (rule,))
    walks, away = season_data.walks, season_data.toward_a.astype(np.int64)

    def follow(rows: IntArray, here: IntArray, limit_yd: FloatArray) -> IntArray:
        stadium = walks.turned[away[rows], here]
        side = walks.on_left[away[rows], stadium].astype(np.int64)
        steps = walks.steps[walks.limit[rows], away[rows], stadium, wanted[rows, side]]
        chosen: IntArray = walks.turned[away[rows], steps]
        return chosen

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
    greedy policy. Among equals as in `lensyard.planner.solve.choose_many`.
    """
    walks, n = season_data.walks, reward.shape[1]
    away = season_data.toward_a.astype(np.int64)
    near = [near_of(season_data.scorers, limit) for limit in walks.limits.tolist()]
    allowed = [np.isfinite(one.walk_yd) for one in near]
    cost = [
        price_per_yd * np.where(ends, one.walk_yd, 0.0)
        for one, ends in zip(near, allowed, strict=True)
    ]
    way = [np.round(one.walk_yd, DECIMALS) for one in near]
    now, later = reward.ravel(), None if continuation is None else continuation.ravel()

    def decide(rows: IntArray, here: IntArray, limit_yd: FloatArray) -> IntArray:
        chosen, limit = np.empty(rows.size, dtype=np.int64), walks.limit[rows]
        for i in np.unique(limit).tolist():
            some = np.flatnonzero(limit == i)
            plays = rows[some]
            stands = away[plays], here[some]
            station = near[i].station[stands]
            at = station + (plays * n)[:, np.newaxis]
            total = now[at].astype(np.float64)
            if later is not None:
                total += later[at]
            total -= cost[i][stands]
            rounded = np.round(np.where(allowed[i][stands], total, -np.inf), DECIMALS)
            best = rounded == rounded.max(axis=1, keepdims=True)
            first = np.where(best, way[i][stands], np.inf).argmin(axis=1)
            chosen[some] = station[np.arange(some.size), first]
        return chosen

    return decide


def unconstrained_policy(reward: Float32Array) -> Decide:
    """Return the best spot before every snap if walking took no time: no plan can expect more.

    ``reward`` is predicted before the snap, in each play's frame, shape (m, n).
    """
    best = np.round(reward, DECIMALS).argmax(axis=1).astype(np.int64)
    return lambda rows, here, limit_yd: best[rows]


def hindsight_policy(season_data: SeasonData) -> Decide:
    """Return the policy of perfect foresight under the same walking limits."""
    worth = (season_data.counted * season_data.value)[:, None]
    value, face = np.empty_like(season_data.quality), season_data.drop_backs
    for start in range(0, len(value), _BLOCK):
        rows = slice(start, start + _BLOCK)
        of_rows = season_data.quality[rows] * worth[rows]
        if face is not None:
            of_rows += face.weight * BONUS_KEPT * face.quality[rows]
        value[rows] = of_rows
    return oracle_policy(season_data, value=value)


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
                    allowed = ends_of(season_data.scorers[side], float(limit))
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
        value_share=season_data.value_share(trace.station_index),
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
        season_data.by_game(season_data.value_had(trace.station_index)),
        season_data.by_game(season_data.all_value),
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
        season_data.by_game(season_data.value_had(one.station_index)) for one in (trace, other)
    )
    return ratio_interval(first, second, bootstrap_games(season_data.replay.games, seed=seed))
