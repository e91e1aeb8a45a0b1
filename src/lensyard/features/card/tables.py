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

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lensyard.arrays import ByteArray, FloatArray, IntArray
from lensyard.domain.assignment import USABLE_WEIGHTS
from lensyard.domain.field import Direction
from lensyard.domain.situation import UNKNOWN_HASH, Situation
from lensyard.features.card.grid import USUAL, CardGrid, percent_codes
from lensyard.model.context import Context
from lensyard.model.outcome import Forecast
from lensyard.planner.decision import Reach, destinations, error_of_value, reaches_of
from lensyard.planner.plans import SolvedPlan, worth_of
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
_WALK_BLOCK = 64
# A price that nobody pays.
_NEVER = 1e9
# One number for a value to `DECIMALS` and, where that is equal, for how near the walk is: the value
# in units of the last decimal times `_PLACES`, and the last place less the walk's own.
_PLACES = 256
_LAST = _PLACES - 1
_KEY = float(10**DECIMALS * _PLACES)
# Added and taken away again it rounds double precision to multiples of `_PLACES`.
_TO_WHOLE = 1.5 * 2.0**52 * _PLACES


@dataclass(frozen=True, slots=True, eq=False)
class Answers:
    """The answers for one direction of attack and one hash mark, in play coordinates.

    - ``p_usable``: codes of P(usable), shape (m, n)
    - ``choice``: for each team with the ball that the plan tells apart (ours, then theirs): where
      to be from each position within a drive, shape (m, n); a place beyond the walk is where a
      crossing ends. The other team's plays have no value, wherever the ball lies across the field:
      they are there for the unknown hash mark only
    - ``long_choice``: the same at a change of possession, rows `CardGrid.first_downs`, shape (99,
      n)
    - ``best``, ``best_p``: the best spot, shape (m,), and the code of its P(usable)
    - ``lens``, ``exposure``: for the unknown hash mark at the usual moment, shape (m, n) each: the
      lens of the kit that covers most of what is usable from there by value, and the code of P(the
      play runs out within 5 yd of the position). None for the others
    """

    p_usable: ByteArray
    choice: tuple[ByteArray, ...]
    long_choice: tuple[ByteArray, ...]
    best: ByteArray
    best_p: ByteArray
    lens: ByteArray | None
    exposure: ByteArray | None


@dataclass(frozen=True, slots=True, eq=False)
class _Expected:
    """What a batch of situations is worth at each position.

    ``value`` and ``p_usable``, shape (m, n); ``error`` of a value, shape (m,); ``lens`` and
    ``exposure`` as in `Answers`; ``keeps_clear``: whether a field goal may come, shape (m,).
    """

    value: FloatArray
    p_usable: FloatArray
    error: FloatArray
    lens: ByteArray
    exposure: FloatArray
    keeps_clear: NDArray[np.bool_]


class CardGround:
    """What the answers of all moments and hash marks share in one direction of attack."""

    def __init__(
        self,
        context: Context,
        solved: SolvedPlan,
        direction: Direction,
        hash_codes: Sequence[int],
    ) -> None:
        rules = solved.request.venue.rules
        self.context, self.scorer = context, solved.scorer(direction)
        self.prior = context.prior(rules)
        self.tables = StationTables(self.scorer.paths, self.prior, hash_codes)
        clear = clear_of_the_kick(self.scorer, rules)
        self.may_stand = np.stack([self.scorer.open, self.scorer.open & clear])
        self._walks: dict[tuple[bool, float, float], Walks] = {}
        self._kicks: dict[int, FourthDowns] = {}

    def walks(self, *, keeps_clear: bool, limit_yd: float, price_per_yd: float) -> Walks:
        """Return where one gets from everywhere, where a field goal may come and elsewhere."""
        key = (keeps_clear, limit_yd, price_per_yd)
        if key not in self._walks:
            may_stand = self.may_stand[int(keeps_clear)]
            self._walks[key] = Walks.of(
                self.scorer.walk_yd, may_stand, limit_yd=limit_yd, price_per_yd=price_per_yd
            )
        return self._walks[key]

    def kicks_alone(self, forecast: Forecast) -> FourthDowns | None:
        """Return `kicks_of`, to the last bit as of each situation by itself."""
        fourth = np.flatnonzero(forecast.batch.down == 4)
        lines = forecast.batch.yardline_100[fourth]
        for line in set(lines.tolist()) - self._kicks.keys():
            kicks = kicks_of(
                self.context, self.context.forecast(Situation(4, 1, line)), self.scorer
            )
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


class CardAnswers:
    """The answers of one plan in one direction of attack."""

    def __init__(
        self, ground: CardGround, solved: SolvedPlan, grid: CardGrid, direction: Direction
    ) -> None:
        request = solved.request
        self.ground, self.context, self.scorer = ground, ground.context, ground.scorer
        self.solved, self.grid, self.direction = solved, grid, direction
        self.assignment, self.walking = request.assignment, request.walking
        self.anywhere = self.context.model.forecast(grid.batch(UNKNOWN_HASH))

    def answers(self, hash_code: int) -> Answers:
        """Return every answer for one hash mark."""
        unknown = hash_code == UNKNOWN_HASH
        with_lens = unknown and self.grid.moment == USUAL
        expected = self._expected(hash_code, with_lens=with_lens)
        sides = self.solved.sides
        teams = dict.fromkeys(side.ours for side in sides if side.ours or unknown)
        choices = [self._choices(hash_code, expected, ours=ours) for ours in teams]
        best, best_p = self._best(hash_code, expected)
        exposure = percent_codes(np.clip(expected.exposure, 0.0, 1.0)) if with_lens else None
        return Answers(
            p_usable=percent_codes(expected.p_usable),
            choice=tuple(near for near, _ in choices),
            long_choice=tuple(far for _, far in choices),
            best=best,
            best_p=best_p,
            lens=expected.lens if with_lens else None,
            exposure=exposure,
        )

    def _expected(self, hash_code: int, *, with_lens: bool) -> _Expected:
        scorer, weights = self.scorer, self.assignment.weights
        forecast = self.anywhere if hash_code == UNKNOWN_HASH else self.anywhere.at_hash(hash_code)
        m = len(forecast)
        prior, tables = self.ground.prior, self.ground.tables
        value, usable = expected_values(
            scorer, forecast, prior, weights, USABLE_WEIGHTS, tables=tables
        ).astype(np.float64)
        usable, keeps_clear = np.clip(usable, 0.0, 1.0), np.zeros(m, dtype=bool)
        kicks = kicks_of(self.context, forecast, scorer)
        if kicks is not None:
            value = kicks.mixed(value, kick_value=weights.other)
            usable, keeps_clear = kicks.mixed(usable), kicks.keeps_clear(m)
        error = error_of_value(
            value=value, p_usable=usable, comparable_plays=forecast.comparable_plays
        )
        lens, exposure = np.zeros(value.shape, dtype=np.uint8), np.zeros(value.shape)
        if with_lens:
            seen = StationTables(self._seen_by_lens(), prior)
            by_lens = path_values(seen, forecast, weights)
            lens = by_lens[:, 0].argmax(axis=0).astype(np.uint8)
            cells = scorer.run_out_cells().reshape(len(scorer.open), -1)
            near = PathQuality(cells, cells, np.zeros_like(cells))
            exposure = path_values(StationTables([near], prior), forecast, USABLE_WEIGHTS)[0, 0]
        return _Expected(value, usable, error, lens, exposure, keeps_clear)

    def _seen_by_lens(self) -> list[PathQuality]:
        """What paths are worth with each lens alone.

        Closed positions too: the spot that `next_play` names lies between two of them, and the
        nearer one may be closed.
        """
        kit = self.solved.request.kit
        return [
            PathQuality.of(self.scorer.geometry.quality(kit, (mounted,))) for mounted in kit.mounted
        ]

    def _choices(
        self, hash_code: int, expected: _Expected, *, ours: bool
    ) -> tuple[ByteArray, ByteArray]:
        """Return where to be from everywhere, within a drive and at a change of possession."""
        walking = self.walking
        side = side_index(self.solved.sides, direction=self.direction, ours=ours)
        state = self.context.transition().grid.index_of(self.grid.batch(hash_code))
        value, error = expected.value * float(ours), expected.error * float(ours)
        if self.solved.left is not None:
            value = value * self.solved.left[side, state]

        def decided(rows: IntArray, limit_yd: float) -> ByteArray:
            where = np.empty((rows.size, value.shape[1]), dtype=np.uint8)
            for kept in (False, True):
                some = np.flatnonzero(expected.keeps_clear[rows] == kept)
                if not some.size:
                    continue
                walks = self.ground.walks(
                    keeps_clear=kept, limit_yd=limit_yd, price_per_yd=walking.price_per_yd
                )
                these = rows[some]
                later = self.solved.plan.continuation[side, state[these]]
                found, doubtful = walks.decided(value[these], later, error[these])
                doubted = np.flatnonzero(doubtful.any(axis=1))
                if doubted.size:
                    alone = self._worth_alone(hash_code, these[doubted], ours=ours)
                    walks.decide_again(found, doubtful, doubted, *alone, later[doubted])
                where[some] = found
            return where

        everywhere = np.arange(len(self.grid))
        return (
            decided(everywhere, walking.drive_limit_yd),
            decided(self.grid.first_downs, max(walking.change_limit_yd, walking.drive_limit_yd)),
        )

    def _worth_alone(
        self, hash_code: int, rows: IntArray, *, ours: bool
    ) -> tuple[FloatArray, FloatArray]:
        """Return what some situations are worth, to the last bit as each by itself, and errors."""
        forecast = self.context.model.forecast(self.grid.batch(hash_code).take(rows))
        return worth_of(
            self.context,
            self.solved,
            forecast,
            self.ground.kicks_alone(forecast),
            direction=self.direction,
            ours=ours,
            tables=self.ground.tables,
        )

    def _best(self, hash_code: int, expected: _Expected) -> tuple[ByteArray, ByteArray]:
        """Return what `next_play` names first, and its code."""
        allowed = self.ground.may_stand[expected.keeps_clear.astype(np.int64)]
        value = np.where(allowed, expected.p_usable, -1.0)
        best = among_the_best(value).argmax(axis=1)
        p = value[np.arange(len(self.grid)), best]
        nothing = p <= NOTHING
        best[nothing] = NO_SPOT
        doubt = _DOUBT_SHARE * np.maximum(p, 0.0)
        behind = value.max(axis=1, keepdims=True) - value - SAME_WITHIN
        doubtful = (np.abs(behind) < 2 * doubt[:, np.newaxis]).any(axis=1) & ~nothing
        doubtful |= (p > 0.0) & (np.abs(p - NOTHING) < 3e-7)
        rows = np.flatnonzero(doubtful)
        forecast = self.context.model.forecast(self.grid.batch(hash_code).take(rows))
        for i, row in enumerate(rows.tolist()):
            best[row], p[row] = self._best_alone(forecast.alone(i))
        return best.astype(np.uint8), percent_codes(np.where(best == NO_SPOT, 0.0, p))

    def _best_alone(self, forecast: Forecast) -> tuple[int, float]:
        """Return the first spot of `next_play` and its P(usable); `NO_SPOT` where there is none.

        The same numbers in the same order as there; only the geometry is not built again.
        """
        masses = Masses.of(forecast, self.ground.prior, self.assignment.weights)
        by_lens_set = self.scorer.expected_value_by_lens_set(masses.paths)[:, 0]
        p_usable = np.clip(by_lens_set.max(axis=0), 0.0, 1.0).astype(np.float64)
        allowed, kicks = self.scorer.open, self.ground.kicks_alone(forecast)
        if kicks is not None:
            p_usable = kicks.mixed(p_usable[np.newaxis])[0]
            allowed = kicks.may_stand(allowed)
        value = np.where(allowed, p_usable, -1.0)
        if value.max() <= NOTHING:
            return NO_SPOT, 0.0
        best = int(among_the_best(value).argmax())
        return best, float(p_usable[best])


def answers_alone(
    context: Context, solved: SolvedPlan, grid: CardGrid, direction: Direction
) -> Answers:
    """Return the answers of one plan, toward one end, to who does not say where the ball lies."""
    ground = CardGround(context, solved, direction, (UNKNOWN_HASH,))
    return CardAnswers(ground, solved, grid, direction).answers(UNKNOWN_HASH)


@dataclass(frozen=True, slots=True, eq=False)
class Walks:
    """Where one gets from every position before the next snap, and at what price, on a ring of n.

    - ``reaches``: of every position
    - ``near``, ``cost``: where walks from each may end, nearest first, and their price, shape (k,
      n); where there are fewer than k, the first one at a price that nobody pays
    - ``steps``: the same by how many positions along the ring a walk takes: that number, the price
      of such a walk from each position times `_KEY`, and `_LAST` less its place in ``near``; (n,)
    - ``may_stay``: where one may be at a snap, shape (n,)
    """

    reaches: list[Reach]
    near: IntArray
    cost: FloatArray
    steps: list[tuple[int, FloatArray, FloatArray]]
    may_stay: NDArray[np.bool_]
    price_per_yd: float

    @staticmethod
    def of(
        walk_yd: FloatArray,
        may_stand: NDArray[np.bool_],
        *,
        limit_yd: float,
        price_per_yd: float,
    ) -> Walks:
        """Return the walks within a limit. [yd]"""
        n = len(walk_yd)
        reaches = reaches_of(walk_yd, may_stand, np.arange(n), limit_yd=limit_yd)
        most = max(reach.near.size for reach in reaches)
        near, cost = np.empty((most, n), dtype=np.int64), np.full((most, n), _NEVER)
        price, place = np.full((n, n), _NEVER), np.zeros((n, n))
        for q, reach in enumerate(reaches):
            order = np.lexsort((reach.near, np.round(reach.walk_yd, DECIMALS)))
            near[:, q] = reach.near[order[0]]
            near[: order.size, q] = reach.near[order]
            cost[: order.size, q] = price_per_yd * reach.walk_yd[order]
            step = (reach.near[order] - q) % n
            price[step, q], place[step, q] = cost[: order.size, q], np.arange(order.size)
        taken = np.flatnonzero((price < _NEVER).any(axis=1)).tolist()
        steps = [(step, price[step] * _KEY, _LAST - place[step]) for step in taken]
        may_stay = np.array([reach.may_stay for reach in reaches])
        return Walks(reaches, near, cost, steps, may_stay, price_per_yd)

    def decided(
        self, reward: FloatArray, continuation: NDArray[np.float32], error: FloatArray
    ) -> tuple[ByteArray, NDArray[np.bool_]]:
        """Return the decision from every position, and those that rounding could tip, (m, n) each.

        As `lensyard.planner.decision.destinations`, from everywhere at once.
        """
        (m, n), standing = reward.shape, np.arange(reward.shape[1])
        at_snap, doubtful = np.empty((m, n), dtype=np.int64), np.empty((m, n), dtype=bool)
        for start in range(0, m, _WALK_BLOCK):
            checkpoint()
            rows = slice(start, min(start + _WALK_BLOCK, m))
            total, least = reward[rows] + continuation[rows], error[rows, np.newaxis]
            kth, margin = self._best(total)
            chosen = self.near[kth, standing]
            gain = np.take_along_axis(total, chosen, axis=1) - self.cost[kth, standing] - total
            doubt = _DOUBT_SHARE * (reward[rows].max(axis=1, keepdims=True) + least)
            # Plays that are worth nothing are so exactly: no sum can come out otherwise.
            tips = (np.abs(gain - least) <= 2 * doubt) & (doubt > 0.0)
            rivals = (margin <= 2.0 + 3 * doubt * 10**DECIMALS) & ~tips
            i, q = np.nonzero(rivals)
            values = total[i[:, np.newaxis], self.near[:, q].T] - self.cost[:, q].T
            tips[i, q] = _could_tip(values, np.broadcast_to(doubt, tips.shape)[i, q])
            doubtful[rows] = tips
            at_snap[rows] = np.where((gain <= least) & self.may_stay, standing, chosen)
        where = at_snap.astype(np.uint8)
        for reach in self.reaches:
            for via, crossing in reach.crossings.items():
                some = np.flatnonzero(at_snap[:, reach.standing] == via)
                where[some, reach.standing] = crossing.ends(continuation[some], self.price_per_yd)
        return where, doubtful

    def decide_again(
        self,
        where: ByteArray,
        doubtful: NDArray[np.bool_],
        rows: IntArray,
        reward: FloatArray,
        error: FloatArray,
        continuation: NDArray[np.float32],
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

    def _best(self, total: FloatArray) -> tuple[IntArray, FloatArray]:
        """Return which of ``near`` is best from every position, and its lead, (m, n) each.

        ``total`` of every station, shape (m, n). Among equals (to `DECIMALS`) the first one wins;
        the lead over the next is in units of the last decimal, 0 for equals.
        """
        n = total.shape[1]
        doubled = np.tile(total * _KEY, 2)
        best, second = (np.full(total.shape, -np.inf) for _ in range(2))
        key, lower = np.empty_like(best), np.empty_like(best)
        for step, cost, first in self.steps:
            np.subtract(doubled[:, step : step + n], cost, out=key)
            key += _TO_WHOLE
            key -= _TO_WHOLE
            key += first
            np.minimum(best, key, out=lower)
            np.maximum(second, lower, out=second)
            np.maximum(best, key, out=best)
        rounded = np.floor(best / _PLACES)
        kth = (_LAST - (best - rounded * _PLACES)).astype(np.int64)
        return kth, rounded - np.floor(second / _PLACES)


def _could_tip(value: FloatArray, doubt: FloatArray) -> NDArray[np.bool_]:
    """Return the rows in which values compared to `DECIMALS` could compare otherwise, (m,).

    ``doubt`` says for each row how far its values may be off, (m,).
    """
    scaled = value * 10**DECIMALS
    slack = doubt[:, np.newaxis] * 10**DECIMALS
    rival = scaled > scaled.max(axis=1, keepdims=True) - 1.0 - 2 * slack
    edge = np.abs(scaled - np.floor(scaled) - 0.5) < slack
    tips: NDArray[np.bool_] = (rival.sum(axis=1) > 1) & (rival & edge).any(axis=1)
    return tips
