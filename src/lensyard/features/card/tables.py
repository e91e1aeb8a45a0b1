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
from lensyard.planner.decision import Reach, error_of_value, reach_of
from lensyard.planner.plans import SolvedPlan, decide, play_worth, side_index
from lensyard.planner.solve import DECIMALS
from lensyard.running import checkpoint
from lensyard.spots.kicks import clear_of_the_kick, kicks_of
from lensyard.spots.masses import Masses
from lensyard.spots.path_values import expected_values, path_values
from lensyard.spots.ranking import SAME_WITHIN, among_the_best
from lensyard.spots.scorer import PathQuality, Scorer

NO_SPOT = 0xFF
"""In place of the best spot where no spot has a usable frame."""
NOTHING = 1e-6
"""Up to here `lensyard.spots.ranking.rank` says that no play is usable."""

# How far a batch and a single call can be apart, as a share of what is added up: some twenty
# units in the last place of single precision (6e-8).
_DOUBT_SHARE = 1.2e-6
# Small enough for a processor's cache.
_WALK_BLOCK = 100
# A price that nobody pays.
_NEVER = 1e9


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


class CardAnswers:
    """The answers of one plan in one direction of attack."""

    def __init__(
        self, context: Context, solved: SolvedPlan, grid: CardGrid, direction: Direction
    ) -> None:
        request = solved.request
        self.context, self.solved, self.grid, self.direction = context, solved, grid, direction
        self.assignment, self.walking = request.assignment, request.walking
        self.prior = context.prior(request.venue.rules)
        self.scorer = solved.scorer(direction)

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
        forecast = self.context.model.forecast(self.grid.batch(hash_code))
        m = len(forecast)
        value, usable = expected_values(
            scorer, forecast, self.prior, weights, USABLE_WEIGHTS
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
            by_lens = path_values(self._seen_by_lens(), forecast, self.prior, weights)
            lens = by_lens[:, 0].argmax(axis=0).astype(np.uint8)
            cells = scorer.run_out_cells().reshape(len(scorer.open), -1)
            near = PathQuality(cells, cells, np.zeros_like(cells))
            exposure = path_values([near], forecast, self.prior, USABLE_WEIGHTS)[0, 0]
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
        scorer, walking = self.scorer, self.walking
        side = side_index(self.solved.sides, direction=self.direction, ours=ours)
        state = self.context.transition().grid.index_of(self.grid.batch(hash_code))
        value, error = expected.value * float(ours), expected.error * float(ours)
        if self.solved.left is not None:
            value = value * self.solved.left[side, state]

        def decided(rows: IntArray, limit_yd: float) -> ByteArray:
            later = self.solved.plan.continuation[side, state[rows]]
            where = np.empty((rows.size, value.shape[1]), dtype=np.uint8)
            doubtful = np.zeros(where.shape, dtype=bool)
            for kept in (False, True):
                some = np.flatnonzero(expected.keeps_clear[rows] == kept)
                if some.size:
                    where[some], doubtful[some] = _walks(
                        scorer,
                        self._may_stand(kept),
                        value[rows[some]],
                        later[some],
                        error[rows[some]],
                        limit_yd,
                        walking.price_per_yd,
                    )
            for i in np.flatnonzero(doubtful.any(axis=1)):
                situation = self.grid.situation(int(rows[i]), hash_code)
                worth = play_worth(
                    self.context, self.solved, situation, direction=self.direction, ours=ours
                )
                for standing in np.flatnonzero(doubtful[i]):
                    where[i, standing] = decide(
                        self.context,
                        self.solved,
                        situation,
                        standing=int(standing),
                        direction=self.direction,
                        ours=ours,
                        limit_yd=limit_yd,
                        worth=worth,
                    ).station
            return where

        everywhere = np.arange(len(self.grid))
        return (
            decided(everywhere, walking.drive_limit_yd),
            decided(self.grid.first_downs, max(walking.change_limit_yd, walking.drive_limit_yd)),
        )

    def _may_stand(self, keeps_clear: bool) -> NDArray[np.bool_]:
        scorer = self.scorer
        if not keeps_clear:
            return scorer.open
        return scorer.open & clear_of_the_kick(scorer, scorer.perimeter.venue.rules)

    def _best(self, hash_code: int, expected: _Expected) -> tuple[ByteArray, ByteArray]:
        """Return what `next_play` names first, and its code."""
        allowed = np.stack([self._may_stand(kept) for kept in (False, True)])
        value = np.where(allowed[expected.keeps_clear.astype(np.int64)], expected.p_usable, -1.0)
        best = among_the_best(value).argmax(axis=1)
        p = value[np.arange(len(self.grid)), best]
        nothing = p <= NOTHING
        best[nothing] = NO_SPOT
        doubt = _DOUBT_SHARE * np.maximum(p, 0.0)
        behind = value.max(axis=1, keepdims=True) - value - SAME_WITHIN
        doubtful = (np.abs(behind) < 2 * doubt[:, np.newaxis]).any(axis=1) & ~nothing
        doubtful |= (p > 0.0) & (np.abs(p - NOTHING) < 3e-7)
        for row in np.flatnonzero(doubtful):
            best[row], p[row] = self._best_alone(self.grid.situation(int(row), hash_code))
        return best.astype(np.uint8), percent_codes(np.where(best == NO_SPOT, 0.0, p))

    def _best_alone(self, situation: Situation) -> tuple[int, float]:
        """Return the first spot of `next_play` and its P(usable); `NO_SPOT` where there is none.

        The same numbers in the same order as there; only the geometry is not built again.
        """
        forecast = self.context.forecast(situation)
        masses = Masses.of(forecast, self.prior, self.assignment.weights)
        by_lens_set = self.scorer.expected_value_by_lens_set(masses.paths)[:, 0]
        p_usable = np.clip(by_lens_set.max(axis=0), 0.0, 1.0).astype(np.float64)
        allowed, kicks = self.scorer.open, kicks_of(self.context, forecast, self.scorer)
        if kicks is not None:
            p_usable = kicks.mixed(p_usable[np.newaxis])[0]
            allowed = kicks.may_stand(allowed)
        value = np.where(allowed, p_usable, -1.0)
        if value.max() <= NOTHING:
            return NO_SPOT, 0.0
        best = int(among_the_best(value).argmax())
        return best, float(p_usable[best])


def _walks(
    scorer: Scorer,
    may_stand: NDArray[np.bool_],
    reward: FloatArray,
    continuation: NDArray[np.float32],
    error: FloatArray,
    limit_yd: float,
    price_per_yd: float,
) -> tuple[ByteArray, NDArray[np.bool_]]:
    """Return the decision from every position, and those that rounding could tip, (m, n) each.

    As `lensyard.planner.decision.destinations`, from everywhere at once.
    """
    m, n = reward.shape
    at_snap, doubtful = np.empty((m, n), dtype=np.int64), np.empty((m, n), dtype=bool)
    reaches = [
        reach_of(scorer.walk_yd, may_stand, standing, limit_yd=limit_yd) for standing in range(n)
    ]
    near, cost = _nearest_first(reaches, price_per_yd=price_per_yd)
    may_stay = np.array([reach.may_stay for reach in reaches])
    standing = np.arange(n)
    for start in range(0, m, _WALK_BLOCK):
        checkpoint()
        rows = slice(start, min(start + _WALK_BLOCK, m))
        total, least = reward[rows] + continuation[rows], error[rows, np.newaxis]
        kth, best, second = _best_walks(total, near, cost)
        chosen = near[kth, standing]
        gain = np.take_along_axis(total, chosen, axis=1) - cost[kth, standing] - total
        near_reward = reward[rows][:, near[0]]
        for station in near[1:]:
            np.maximum(near_reward, reward[rows][:, station], out=near_reward)
        doubt = _DOUBT_SHARE * (near_reward + least)
        # Plays that are worth nothing are so exactly: no sum of theirs can come out otherwise.
        tips = (np.abs(gain - least) <= 2 * doubt) & (doubt > 0.0)
        rivals = (second > best - 10.0**-DECIMALS - 3 * doubt) & ~tips
        i, q = np.nonzero(rivals)
        tips[i, q] = _could_tip(total[i[:, np.newaxis], near[:, q].T] - cost[:, q].T, doubt[i, q])
        doubtful[rows] = tips
        at_snap[rows] = np.where((gain <= least) & may_stay, standing, chosen)
    where = at_snap.astype(np.uint8)
    for reach in reaches:
        for via, crossing in reach.crossings.items():
            some = np.flatnonzero(at_snap[:, reach.standing] == via)
            where[some, reach.standing] = crossing.ends(continuation[some], price_per_yd)
    return where, doubtful


def _nearest_first(reaches: Sequence[Reach], *, price_per_yd: float) -> tuple[IntArray, FloatArray]:
    """Return where walks from n stations may end, nearest first, and their price, (k, n) each.

    Where there are fewer, the rest is the first one at a price that nobody pays.
    """
    n, most = len(reaches), max(reach.near.size for reach in reaches)
    near, cost = np.empty((most, n), dtype=np.int64), np.full((most, n), _NEVER)
    for q, reach in enumerate(reaches):
        order = np.lexsort((reach.near, np.round(reach.walk_yd, DECIMALS)))
        near[:, q] = reach.near[order[0]]
        near[: order.size, q] = reach.near[order]
        cost[: order.size, q] = price_per_yd * reach.walk_yd[order]
    return near, cost


def _best_walks(
    total: FloatArray, near: IntArray, cost: FloatArray
) -> tuple[IntArray, FloatArray, FloatArray]:
    """Return which walk is best from every station, the highest value and the second highest.

    ``total`` of every station, shape (m, n); ``near`` and ``cost`` of `_nearest_first`. Among
    equals (to `DECIMALS`) the first one wins. Shape (m, n) each.
    """
    kth = np.zeros(total.shape, dtype=np.int64)
    rounded, best, second = (np.full(total.shape, -np.inf) for _ in range(3))
    value, lower = np.empty_like(total), np.empty_like(total)
    for k, (station, price) in enumerate(zip(near, cost, strict=True)):
        np.take(total, station, axis=1, out=value)
        value -= price
        np.minimum(best, value, out=lower)
        np.maximum(second, lower, out=second)
        np.maximum(best, value, out=best)
        value *= 10.0**DECIMALS
        np.rint(value, out=value)
        better = value > rounded
        np.copyto(rounded, value, where=better)
        kth[better] = k
    return kth, best, second


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
