"""The tables behind the offline card: the library's answers for every situation it is asked.

A card answers without the library, so it carries answers, not a model: for each direction of
attack and each situation (down, distance 1 to 20 yd, yard line, hash mark; a `Moment` of score and
tempo) the plan's choice from every station, P(usable) at every station, and the best
spot for somebody who does not say where they stand. All of it is computed in batches. A batch adds
numbers up in another order than the single call, so where two places are within rounding of each
other (`_could_tip`) the single call is made instead: the card and the library then agree even on
ties, which go to the shorter walk and then to the lower position number.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache, partial
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from lensyard.arrays import BoolArray, ByteArray, Float32Array, FloatArray, IntArray
from lensyard.domain.assignment import USABLE_WEIGHTS
from lensyard.domain.field import Direction
from lensyard.domain.situation import UNKNOWN_HASH, Situation
from lensyard.features.card.grid import USUAL, CardGrid, percent_codes
from lensyard.model.context import Context
from lensyard.model.outcome import Forecast
from lensyard.planner.decision import Reach, destinations, error_of_value, reaches_of, worth_of
from lensyard.planner.plans import PlanRequest, SolvedPlan, toward
from lensyard.planner.sides import side_index
from lensyard.planner.solve import DECIMALS
from lensyard.running import checkpoint
from lensyard.spots.kicks import FourthDowns, clear_of_the_kick, kicks_of
from lensyard.spots.masses import Masses
from lensyard.spots.path_values import StationTables, expected_values, path_values
from lensyard.spots.ranking import SAME_WITHIN, among_the_best
from lensyard.spots.scorer import PathQuality

NO_SPOT = 0xFF
"""In place of the best spot where no spot has a usable frame."""
NOTHING = 1e-6
"""Up to here `lensyard.spots.ranking.rank` says that no play is usable."""

# How far a batch and a single call can be apart, as a share of what is added up: some twenty
# units in the last place of single precision (6e-8).
_DOUBT_SHARE = 1.2e-6
# Small enough for a processor's cache.
_WALK_BLOCK = 512
# A price that nobody pays.
_NEVER = 1e9
# Gains of walks are compared in so many steps, and then by which of so many walks is nearer.
_QUANTA = 1 << 21
# So many quanta values and prices can be off together.
_SLACK = 4.0
_LEAST_SPREAD = 1e-9
_PLACE_BITS = 8
_LAST = (1 << _PLACE_BITS) - 1


class Plays(NamedTuple):
    """What plays at one moment and hash mark are worth at each of n positions, in play coordinates.

    - ``value``, shape (k, n), its ``error``, and ``keeps_clear``: whether a field goal may come,
      (k,): of the k distinct rows of the grid
    - ``p_usable``: codes of P(usable), shape (m, n)
    - ``best``: the best spot and the code of its P(usable), shape (m, 2)
    - ``lens``, ``exposure``: where they were asked for, shape (m, n) each: the lens of the kit that
      covers most of what is usable from there by value, and the code of P(the play runs out within
      5 yd of the position)
    """

    value: Float32Array
    error: FloatArray
    keeps_clear: BoolArray
    p_usable: ByteArray
    best: ByteArray
    lens: ByteArray | None
    exposure: ByteArray | None


class CardGround:
    """What the answers of all moments and hash marks share in one direction of attack."""

    def __init__(self, context: Context, request: PlanRequest, direction: Direction) -> None:
        rules = request.venue.rules
        self.context, self.request, self.direction = context, request, direction
        self.scorer, self.prior = toward(request.scorers, direction), context.prior(rules)
        anywhere, of_mark = (
            StationTables(self.scorer.paths, self.prior, codes)
            for codes in ((UNKNOWN_HASH,), range(UNKNOWN_HASH))
        )
        self._tables = (of_mark, of_mark, of_mark, anywhere)
        clear = clear_of_the_kick(self.scorer, rules)
        self.may_stand = np.stack([self.scorer.open, self.scorer.open & clear])
        # By whether a field goal may come, limit and price.
        self._walks = cache(partial(Walks.of, self.scorer.walk_yd, self.may_stand))
        self._kicks: dict[int, FourthDowns] = {}

    def kicks_alone(self, forecast: Forecast) -> FourthDowns | None:
        """Return `kicks_of`, to the last bit as of each situation by itself."""
        fourth = np.flatnonzero(forecast.batch.down == 4)
        lines = forecast.batch.yardline_100[fourth]
        for line in set(lines.tolist()) - self._kicks.keys():
            alone = self.context.forecast(Situation(4, 1, line))
            kicks = kicks_of(self.context, alone, self.scorer)
            if kicks is None:
                return None
            self._kicks[line] = kicks
        if not fourth.size:
            return None
        by_line = [self._kicks[line] for line in lines.tolist()]
        return FourthDowns(
            rows=fourth,
            choice=forecast.p_fourth_down_choice[fourth],
            punt=np.concatenate([kicks.punt for kicks in by_line]),
            field_goal=np.concatenate([kicks.field_goal for kicks in by_line]),
            clear=by_line[0].clear,
        )

    def plays(self, grid: CardGrid, forecast: Forecast) -> Plays:
        """Return what plays are worth; ``forecast`` is that of the distinct rows."""
        scorer, weights = self.scorer, self.request.assignment.weights
        hash_code, (_, of) = int(forecast.batch.hash_code[0]), grid.distinct
        value, usable = expected_values(
            scorer, forecast, self.prior, weights, USABLE_WEIGHTS, tables=self._tables[hash_code]
        ).astype(np.float64)
        usable, keeps_clear = np.clip(usable, 0.0, 1.0), np.zeros(len(forecast), dtype=bool)
        kicks = kicks_of(self.context, forecast, scorer)
        if kicks is not None:
            value = kicks.mixed(value, kick_value=weights.other)
            usable, keeps_clear = kicks.mixed(usable), kicks.keeps_clear(len(forecast))
        error = error_of_value(
            value=value, p_usable=usable, comparable_plays=forecast.comparable_plays
        )
        by_lens = exposure = None
        if hash_code == UNKNOWN_HASH and grid.moment == USUAL:
            # Closed positions too: the spot that `next_play` names lies between two of them, and
            # the nearer one may be closed.
            kit, geometry = self.request.kit, scorer.geometry
            alone = [PathQuality.of(geometry.quality(kit, (lens,))) for lens in kit.mounted]
            seen = path_values(StationTables(alone, self.prior), forecast, weights)
            by_lens = seen[:, 0].argmax(axis=0).astype(np.uint8)[of]
            cells = scorer.run_out_cells().reshape(len(scorer.open), -1)
            near = StationTables([PathQuality(cells, cells, np.zeros_like(cells))], self.prior)
            runs_out = path_values(near, forecast, USABLE_WEIGHTS)[0, 0]
            exposure = percent_codes(np.clip(runs_out, 0.0, 1.0))[of]
        return Plays(
            value.astype(np.float32),
            error,
            keeps_clear,
            percent_codes(usable)[of],
            self._best(forecast, usable, keeps_clear)[of],
            by_lens,
            exposure,
        )

    def _best(self, forecast: Forecast, usable: FloatArray, keeps_clear: BoolArray) -> ByteArray:
        """Return what `next_play` names first, and its code, shape (k, 2)."""
        value = np.where(self.may_stand[keeps_clear.astype(np.int64)], usable, -1.0)
        highest = value.max(axis=1, keepdims=True)
        best = among_the_best(value).argmax(axis=1)
        p = value[np.arange(len(value)), best]
        nothing = p <= NOTHING
        best[nothing] = NO_SPOT
        doubt = _DOUBT_SHARE * np.maximum(p, 0.0)
        edge = np.abs(highest - value - SAME_WITHIN) < 2 * doubt[:, np.newaxis]
        # A place that comes later in the order changes nothing.
        edge &= np.arange(value.shape[1]) <= best[:, np.newaxis]
        doubtful = edge.any(axis=1) & ~nothing
        doubtful |= (p > 0.0) & (np.abs(p - NOTHING) < 3e-7)
        rows = np.flatnonzero(doubtful)
        again = forecast.take(rows)
        for i, row in enumerate(rows.tolist()):
            best[row], p[row] = self._best_alone(again.alone(i))
        codes = percent_codes(np.where(best == NO_SPOT, 0.0, p))
        return np.column_stack([best.astype(np.uint8), codes])

    def _best_alone(self, forecast: Forecast) -> tuple[int, float]:
        """Return the first spot of `next_play` and its P(usable); `NO_SPOT` where there is none.

        The same numbers in the same order as there; only the geometry is not built again.
        """
        masses = Masses.of(forecast, self.prior, self.request.assignment.weights)
        by_lens_set = self.scorer.expected_value_by_lens_set(masses.paths)[:, 0]
        p_usable = np.clip(by_lens_set.max(axis=0), 0.0, 1.0).astype(np.float64)
        allowed, kicks = self.scorer.open, self.kicks_alone(forecast)
        if kicks is not None:
            p_usable = kicks.mixed(p_usable[np.newaxis])[0]
            allowed = kicks.may_stand(allowed)
        value = np.where(allowed, p_usable, -1.0)
        if value.max() <= NOTHING:
            return NO_SPOT, 0.0
        best = int(among_the_best(value).argmax())
        return best, float(p_usable[best])

    def choices(
        self, solved: SolvedPlan, grid: CardGrid, hash_code: int, plays: Plays
    ) -> list[tuple[ByteArray, ByteArray]]:
        """Return where to be for each team with the ball that the plan tells apart, ours first.

        From each position within a drive, shape (m, n): a place beyond the walk is where a crossing
        ends; and at a change of possession, rows `CardGrid.first_downs`, shape (99, n). The other
        team's plays have no value, wherever the ball lies across the field: they are there for the
        unknown hash mark only.
        """
        teams = dict.fromkeys(
            side.ours for side in solved.sides if side.ours or hash_code == UNKNOWN_HASH
        )
        return [self._choices(solved, grid, hash_code, plays, ours=ours) for ours in teams]

    def _choices(
        self, solved: SolvedPlan, grid: CardGrid, hash_code: int, plays: Plays, *, ours: bool
    ) -> tuple[ByteArray, ByteArray]:
        walking, (rows, of) = solved.request.walking, grid.distinct
        side = side_index(solved.sides, direction=self.direction, ours=ours)
        batch = grid.batch(hash_code).take(rows)
        state = self.context.transition().grid.index_of(batch)
        value, error = plays.value * float(ours), plays.error * float(ours)
        if solved.left is not None:
            value = value * solved.left[side, state]

        def decided(which: IntArray, limit_yd: float) -> ByteArray:
            where = np.empty((which.size, value.shape[1]), dtype=np.uint8)
            for kept in (False, True):
                some = np.flatnonzero(plays.keeps_clear[which] == kept)
                if not some.size:
                    continue
                walks = self._walks(kept, limit_yd, walking.price_per_yd)
                these = which[some]
                later = solved.plan.continuation[side, state[these]]
                found, doubtful = walks.decided(value[these], later, error[these])
                doubted = np.flatnonzero(doubtful.any(axis=1))
                if doubted.size:
                    # What they are worth to the last bit as each by itself.
                    forecast = self.context.model.forecast(batch.take(these[doubted]))
                    alone = worth_of(
                        self.context,
                        solved,
                        forecast,
                        self.kicks_alone(forecast),
                        direction=self.direction,
                        ours=ours,
                        tables=self._tables[hash_code],
                    )
                    walks.decide_again(found, doubtful, doubted, *alone, later[doubted])
                where[some] = found
            return where

        far_yd = max(walking.change_limit_yd, walking.drive_limit_yd)
        return (
            decided(np.arange(rows.size), walking.drive_limit_yd)[of],
            decided(of[grid.first_downs], far_yd),
        )


@dataclass(frozen=True, slots=True, eq=False)
class Walks:
    """Where one gets from every position before the next snap, and at what price, on a ring of n.

    - ``reaches``: of every position
    - ``near``, ``cost``: where walks from each may end, nearest first, and their price, shape (k,
      n); where there are fewer than k, the first one at a price that nobody pays
    - ``steps``: the same by how many positions along the ring a walk takes: that number, the price
      of such a walk from each position, and its place in ``near``; (n,)
    - ``may_stay``: where one may be at a snap, shape (n,)
    """

    reaches: list[Reach]
    near: IntArray
    cost: FloatArray
    steps: list[tuple[int, FloatArray, IntArray]]
    may_stay: BoolArray
    price_per_yd: float

    @staticmethod
    def of(
        walk_yd: FloatArray,
        may_stand: BoolArray,
        keeps_clear: bool,
        limit_yd: float,
        price_per_yd: float,
    ) -> Walks:
        """Return the walks within a limit [yd]; ``may_stand``: elsewhere, and keeping clear."""
        n = len(walk_yd)
        reaches = reaches_of(walk_yd, may_stand[int(keeps_clear)], np.arange(n), limit_yd=limit_yd)
        most = max(reach.near.size for reach in reaches)
        near, cost = np.empty((most, n), dtype=np.int64), np.full((most, n), _NEVER)
        price, place = np.full((n, n), _NEVER), np.zeros((n, n), dtype=np.int64)
        for q, reach in enumerate(reaches):
            order = np.lexsort((reach.near, np.round(reach.walk_yd, DECIMALS)))
            near[:, q] = reach.near[order[0]]
            near[: order.size, q] = reach.near[order]
            cost[: order.size, q] = price_per_yd * reach.walk_yd[order]
            step = (reach.near[order] - q) % n
            price[step, q], place[step, q] = cost[: order.size, q], np.arange(order.size)
        taken = np.flatnonzero((price < _NEVER).any(axis=1)).tolist()
        steps = [(step, price[step], place[step]) for step in taken]
        may_stay = np.array([reach.may_stay for reach in reaches])
        return Walks(reaches, near, cost, steps, may_stay, price_per_yd)

    def decided(
        self, reward: Float32Array, continuation: Float32Array, error: FloatArray
    ) -> tuple[ByteArray, BoolArray]:
        """Return the decision from every position, and those that rounding could tip, (m, n) each.

        As `lensyard.planner.decision.destinations`, from everywhere at once: in whole quanta of
        value, and exactly where these do not tell.
        """
        (m, n), at_snap = reward.shape, np.empty(reward.shape, np.uint8)
        doubtful, near = np.zeros((m, n), dtype=bool), self.near.astype(np.uint8)
        standing = np.arange(n, dtype=np.uint8)
        for start in range(0, m, _WALK_BLOCK):
            checkpoint()
            rows = slice(start, start + _WALK_BLOCK)
            total, errors = reward[rows].astype(np.float64) + continuation[rows], error[rows]
            above = total - total.min(axis=1, keepdims=True)
            quantum = max(float(above.max()), _LEAST_SPREAD) / _QUANTA
            value = np.rint(above / quantum).astype(np.int32) * np.int32(1 << _PLACE_BITS)
            steps = [(step, _in_quanta(cost / quantum, place)) for step, cost, place in self.steps]
            best, second = _best_two(value, steps)
            top = best >> _PLACE_BITS
            gain = top - (value >> _PLACE_BITS)
            doubt = _DOUBT_SHARE * (reward[rows].max(axis=1) + errors)
            low, high, same = (
                np.rint(of[:, np.newaxis] / quantum + slack).astype(np.int32)
                for of, slack in (
                    (errors - 2 * doubt, -_SLACK),
                    (errors + 2 * doubt, _SLACK),
                    (2.0 / 10**DECIMALS + 3 * doubt, _SLACK),
                )
            )
            stays = (gain < low) & self.may_stay
            at_snap[rows] = np.where(stays, standing, near[_LAST - (best & _LAST), standing])
            unsure = (gain >= low) & (gain <= high)
            unsure |= top - (second >> _PLACE_BITS) <= same
            i, q = np.nonzero(unsure)
            values = total[i[:, np.newaxis], self.near[:, q].T] - self.cost[:, q].T
            kth = np.round(values, DECIMALS).argmax(axis=1)
            exact = values[np.arange(q.size), kth] - total[i, q]
            stays = (exact <= errors[i]) & self.may_stay[q]
            at_snap[start + i, q] = np.where(stays, q, self.near[kth, q])
            # Plays that are worth nothing are so exactly: no sum can come out otherwise.
            tips = (np.abs(exact - errors[i]) <= 2 * doubt[i]) & (doubt[i] > 0.0)
            doubtful[start + i, q] = tips | _could_tip(values, doubt[i])
        where = at_snap.copy()
        for reach in self.reaches:
            for via, crossing in reach.crossings.items():
                some = np.flatnonzero(at_snap[:, reach.standing] == via)
                where[some, reach.standing] = crossing.ends(continuation[some], self.price_per_yd)
        return where, doubtful

    def decide_again(
        self,
        where: ByteArray,
        doubtful: BoolArray,
        rows: IntArray,
        reward: FloatArray,
        error: FloatArray,
        continuation: Float32Array,
    ) -> None:
        """Put in place what is doubtful in some rows, of which these are the values, (r, n)."""
        for standing in np.flatnonzero(doubtful.any(axis=0)).tolist():
            some = np.flatnonzero(doubtful[rows, standing])
            where[rows[some], standing] = destinations(
                self.reaches[standing],
                reward=reward[some],
                continuation=continuation[some],
                error=error[some],
                price_per_yd=self.price_per_yd,
            ).station


def _in_quanta(cost: FloatArray, place: IntArray) -> NDArray[np.int32]:
    """Return the price of walks in quanta, shifted; by which of equals is nearer, beneath.

    What costs more than any gain is not told apart; `_NEVER` costs more still.
    """
    price = np.where(cost >= _NEVER, 2 * _QUANTA + 1, np.minimum(np.rint(cost), _QUANTA))
    return (price * (1 << _PLACE_BITS) - _LAST + place).astype(np.int32)


def _best_two(
    value: NDArray[np.int32], steps: list[tuple[int, NDArray[np.int32]]]
) -> tuple[NDArray[np.int32], NDArray[np.int32]]:
    """Return the best walk from every position and the next one, (m, n) each.

    ``value`` of every station and the price of ``steps`` from there as `_in_quanta` has them.
    """
    n, doubled = value.shape[1], np.concatenate([value, value], axis=1)
    best = np.full(value.shape, np.iinfo(np.int32).min, dtype=np.int32)
    second, key, lower = best.copy(), np.empty_like(best), np.empty_like(best)
    for step, price in steps:
        np.subtract(doubled[:, step : step + n], price, out=key)
        np.minimum(best, key, out=lower)
        np.maximum(second, lower, out=second)
        np.maximum(best, key, out=best)
    return best, second


def _could_tip(value: FloatArray, doubt: FloatArray) -> BoolArray:
    """Return the rows in which values compared to `DECIMALS` could compare otherwise, (m,).

    ``doubt`` says for each row how far its values may be off, (m,).
    """
    scaled = value * 10**DECIMALS
    slack = doubt[:, np.newaxis] * 10**DECIMALS
    rival = scaled > scaled.max(axis=1, keepdims=True) - 1.0 - 2 * slack
    edge = np.abs(scaled - np.floor(scaled) - 0.5) < slack
    tips: BoolArray = (rival.sum(axis=1) > 1) & (rival & edge).any(axis=1)
    return tips
