r"""The plan: where to stand when there are only some twenty seconds to walk.

The problem
-----------
A Markov decision process whose state, before a walk, is

- ``k``  the side: which way the offense goes and whether its plays count. All arrays of a side are
  in the play frame of its offense, so ``k`` needs a direction only where the venue is not
  symmetric, and a team only where the assignment prefers one;
- ``s``  the situation: down, distance band, ``yardline_100`` (`model.transition.StateGrid`);
- ``p``  the station where one stands;
- whether the ball has just changed hands (then there is more time to walk).

An action is the station ``q`` to walk to, within the limit ``L`` (yards along the perimeter,
``w(p, q)``; stretches that may not be passed break the way). One stays or stops only where one may
stand. Behind a closed stretch too long for one walk one keeps moving: there ``q`` is the farthest
station within ``L`` on the way to an open one, and never a place to wait (`ends_from`). Symbols:

===============  =========================================================================
``R_k(s, q)``    expected value of the play from q: outcome mass x weight x usable; 0 from a
                 closed station, which one may pass but not shoot from
``c``            price of a yard walked
``g``            discount per play
``P(s' | s)``    next snap, same offense
``F(s' | s)``    next snap, ball changed hands (the frame turns by 180 degrees: station t(q))
``L1, L2``       walking limits within a drive and at a change of possession
===============  =========================================================================

Bellman's equations, with ``k'`` the side after a change of possession::

    Q_k(s, q) = R_k(s, q) + g * [ sum_s' P(s'|s) V1_k(s', q) + sum_s' F(s'|s) V2_k'(s', t(q)) ]
    V1_k(s, p) = max over q with w(p, q) <= L1 of  Q_k(s, q) - c w(p, q)
    V2_k(s, p) = max over q with w(p, q) <= L2 of  Q_k(s, q) - c w(p, q)

The end of a half is worth nothing (whatever follows is the same for every station). The walk does
not change what the teams do, so P and F do not depend on q: a sweep is two matrix products and a
sliding maximum over neighboring stations, where the textbook needs a transition matrix an action.

The solution is the continuation ``C_k(s, q) = Q_k(s, q) - R_k(s, q)``. A decision adds to it the
reward of the situation as it really is (exact distance, score, clock, hash), which is one step of
policy improvement over the grid's own policy.
"""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lensyard.arrays import BoolArray, Float32Array, FloatArray, IntArray
from lensyard.domain.perimeter import CHANGE_LIMIT_YD, DRIVE_LIMIT_YD
from lensyard.errors import InvalidInputError, require_range
from lensyard.running import checkpoint

# Values are rounded to this many decimals before they are compared, so that differences in the
# last bits between machines do not change a decision.
DECIMALS = 5
# Neighbors lie at most 10 yd apart (`domain.perimeter.perimeter_of`); a longer walk between two
# means that the way from one to the other is shut. [yd]
_LONGEST_LINK_YD = 15.0


@dataclass(frozen=True, slots=True)
class Walking:
    """What a walk may be, within a drive and at a change of possession [yd], and its price.

    The price is in units of the assignment's value. [1/yd]
    """

    drive_limit_yd: float = DRIVE_LIMIT_YD
    change_limit_yd: float = CHANGE_LIMIT_YD
    price_per_yd: float = 0.002

    def __post_init__(self) -> None:
        """Refuse walks nobody takes."""
        require_range(
            low=0,
            high=400,
            drive_limit_yd=self.drive_limit_yd,
            change_limit_yd=self.change_limit_yd,
        )
        require_range(low=0, high=10, price_per_yd=self.price_per_yd)


@dataclass(frozen=True, slots=True, eq=False)
class PlanProblem:
    """One planning problem (symbols in the module's text).

    - ``reward``: r, shape (k, s, n), float32, stations in the play frame of each side.
    - ``same``, ``changed``: p and F, shapes (s, s), float32; rows of their sum sum to at most 1.
    - ``after_change``: for each side the side after a change of possession, length k.
    - ``walk_yd``: w in the play frame of each side, shape (k, n, n). [yd]
    - ``turned``: t: for each station the one at the same place after a change, shape (n,).
    - ``discount``: g, in [0, 1).
    - ``may_stand``: where one may be at a snap, shape (k, n); None where one may be everywhere.
    """

    reward: Float32Array
    same: Float32Array
    changed: Float32Array
    after_change: tuple[int, ...]
    walk_yd: FloatArray
    turned: IntArray
    walking: Walking
    discount: float
    may_stand: BoolArray | None = None

    def __post_init__(self) -> None:
        """Refuse arrays that do not belong together."""
        k, s, n = self.reward.shape
        require_range(low=0, high=0.9999, discount=self.discount)
        fits = (
            self.same.shape == (s, s)
            and self.changed.shape == (s, s)
            and self.walk_yd.shape == (k, n, n)
            and self.turned.shape == (n,)
            and len(self.after_change) == k
        )
        if not fits:
            raise InvalidInputError(
                "the arrays of a plan do not fit each other; expected reward (k, s, n), same and "
                f"changed (s, s), walk (k, n, n), turned (n,); got {self.reward.shape}, "
                f"{self.same.shape}, {self.changed.shape}, {self.walk_yd.shape}, "
                f"{self.turned.shape}"
            )

    def ends(self, limit_yd: float) -> BoolArray:
        """Return where a walk within a limit may end, for each side, shape (k, n, n)."""
        if self.may_stand is None:
            return self.walk_yd <= limit_yd + 1e-6
        return np.stack(
            [
                may_end(walk, may_stand, limit_yd=limit_yd)
                for walk, may_stand in zip(self.walk_yd, self.may_stand, strict=True)
            ]
        )


def way_yd(walk_yd: FloatArray, standing: IntArray, *, up: bool) -> FloatArray:
    """Return how far every station is from k ones along the ring in one direction, shape (k, n).

    ``up`` is in the order of the stations' numbers; infinity where the way is shut. [yd]
    """
    order = (standing[:, np.newaxis] + np.arange(len(walk_yd)) * (1 if up else -1)) % len(walk_yd)
    link = walk_yd[order[:, :-1], order[:, 1:]]
    along = np.zeros(order.shape)
    np.cumsum(np.where(link > _LONGEST_LINK_YD, np.inf, link), axis=1, out=along[:, 1:])
    found = np.empty(order.shape)
    np.put_along_axis(found, order, along, axis=1)
    return found


def may_end(walk_yd: FloatArray, may_stand: BoolArray, *, limit_yd: float) -> BoolArray:
    """Return where a walk from each station may end before the next snap, shape (n, n).

    At an open station within the limit; or, on the way to an open one beyond it, at the farthest
    station that one gets to, though it is closed. Where neither is to be had one stays.

    - ``walk_yd``: between all stations, shape (n, n). [yd]
    - ``may_stand``: where one may be at a snap, shape (n,).
    - ``limit_yd``: how far one gets. [yd]
    """
    return ends_from(walk_yd, may_stand, np.arange(len(walk_yd)), limit_yd=limit_yd)


def ends_from(
    walk_yd: FloatArray, may_stand: BoolArray, standing: IntArray, *, limit_yd: float
) -> BoolArray:
    """Return where walks from k stations may end before the next snap, (k, n); see `may_end`."""
    within_yd = least_limit_yd(walk_yd, may_stand, standing, limit_yd=limit_yd)[:, np.newaxis]
    within_yd = within_yd + 1e-6
    ends: BoolArray = (walk_yd[standing] <= within_yd) & may_stand
    for up in (True, False):
        way = way_yd(walk_yd, standing, up=up)
        last = np.where(way <= within_yd, way, -1.0).argmax(axis=1)
        beyond = (way > within_yd) & np.isfinite(way) & may_stand
        on_the_way = (last != standing) & ~may_stand[last] & beyond.any(axis=1)
        ends[on_the_way, last[on_the_way]] = True
    stays = ~ends.any(axis=1)
    ends[stays, standing[stays]] = True
    return ends


def least_limit_yd(
    walk_yd: FloatArray, may_stand: BoolArray, standing: IntArray, *, limit_yd: float
) -> FloatArray:
    """Return how far one gets from k stations, shape (k,). [yd]

    From closed ground always to the next station.
    """
    n = len(walk_yd)
    link = np.minimum(walk_yd[standing, (standing - 1) % n], walk_yd[standing, (standing + 1) % n])
    out = ~may_stand[standing] & (link <= _LONGEST_LINK_YD)
    return np.where(out, np.maximum(limit_yd, link), limit_yd)


class WindowMax:
    """The best station that a walk may end at, for many situations at once.

    Stations lie on a ring, and the walk between neighbors is short, so the candidates of a station
    are its neighbors in both directions: one shifted copy a step. ``allowed`` says where a walk
    from each station may end, shape (n, n).
    """

    def __init__(self, walk_yd: FloatArray, allowed: BoolArray, *, price_per_yd: float) -> None:
        n = walk_yd.shape[0]
        index = np.arange(n)
        offsets = []
        for shift in range(-(n // 2), n - n // 2):
            to = (index + shift) % n
            usable = allowed[index, to]
            if usable.any():
                walk = np.where(usable, walk_yd[index, to], 0.0)  # inf times price 0 is no number
                cost = np.where(usable, price_per_yd * walk, np.inf)
                offsets.append((shift % n, cost.astype(np.float32)))
        self._offsets = offsets

    def __call__(self, value: Float32Array) -> Float32Array:
        """Return ``max_q value[:, q] - price * w(p, q)``, shape of ``value`` (s, n)."""
        n = value.shape[1]
        found = np.full(value.shape, -np.inf, dtype=np.float32)
        for start in range(0, len(value), _CACHED_ROWS):
            best = found[start : start + _CACHED_ROWS]
            doubled = np.tile(value[start : start + _CACHED_ROWS], 2)
            scratch = np.empty_like(best)
            for shift, cost in self._offsets:
                np.subtract(doubled[:, shift : shift + n], cost, out=scratch)
                np.maximum(best, scratch, out=best)
        return found


# So many situations stay in a processor's cache while one shift after the other is tried.
_CACHED_ROWS = 128


# Single precision is multiplied by so many rows at a time, or by a divisor of that.
_ROWS_ALIKE = 48


@dataclass(frozen=True, slots=True, eq=False)
class Plan:
    """A solved problem.

    - ``continuation``: c, shape (k, s, n), float32: what is to come after a play from each station.
    - ``change``: largest spread over stations of the last sweep's change, over all situations. What
      is still missing spreads by at most ``change * g / (1 - g)``.
    """

    continuation: Float32Array
    sweeps: int
    change: float


def solve(problem: PlanProblem, *, sweeps: int = 60, tolerance: float = 0.002) -> Plan:
    """Solve a planning problem by value iteration on its structure.

    It stops after ``sweeps``, or when the spread of the continuation's change over stations is
    below ``tolerance``: in units of the assignment's value, and far below what a decision turns on.
    """
    sides, states, n = problem.reward.shape
    walking = problem.walking
    near, far = (
        [
            WindowMax(walk, allowed, price_per_yd=walking.price_per_yd)
            for walk, allowed in zip(problem.walk_yd, problem.ends(limit), strict=True)
        ]
        for limit in (walking.drive_limit_yd, walking.change_limit_yd)
    )
    # A change of possession leads to few states (first downs): work on those columns only.
    landing = np.flatnonzero(problem.changed.any(axis=0))
    changed = np.ascontiguousarray(problem.changed[:, landing]) * np.float32(problem.discount)
    same = problem.same * np.float32(problem.discount)
    continuation = np.zeros((sides, states, n), dtype=np.float32)
    best = np.empty_like(continuation)
    ahead = np.empty((sides, landing.size, n), dtype=np.float32)
    # Two threads: a side each, or half the situations of the only one, cut where matrix products
    # come out as those of the whole.
    rows_at_once = states if sides > 1 else _ROWS_ALIKE * -(-states // (2 * _ROWS_ALIKE))
    parts = [
        (k, slice(at, at + rows_at_once))
        for k in range(sides)
        for at in range(0, states, rows_at_once)
    ]

    def look_ahead(part: tuple[int, slice]) -> None:
        k, rows = part
        best[k, rows] = near[k](problem.reward[k, rows] + continuation[k, rows])
        if rows.start == 0:
            value = problem.reward[k, landing] + continuation[k, landing]
            ahead[k] = far[k](value)[:, problem.turned]

    def update(part: tuple[int, slice]) -> float:
        k, rows = part
        found = same[rows] @ best[k] + changed[rows] @ ahead[problem.after_change[k]]
        step = found - continuation[k, rows]
        continuation[k, rows] = found
        return float((step.max(axis=1) - step.min(axis=1)).max())

    change, done = np.inf, 0
    with ThreadPoolExecutor(2) as pool:
        while change >= tolerance and done < sweeps:
            checkpoint()
            done += 1
            list(pool.map(look_ahead, parts))
            change = max(pool.map(update, parts))
    return Plan(continuation, done, change)


def choose_many(
    *,
    reward: NDArray[np.floating],
    continuation: NDArray[np.floating],
    walk_yd: FloatArray,
    allowed: BoolArray,
    price_per_yd: float,
) -> tuple[IntArray, FloatArray]:
    """Return the best stations for m decisions at once.

    - ``reward``, ``continuation``, ``walk_yd``: shape (m, n); the walk is from where each one
      stands.
    - ``allowed``: where each walk may end, shape (m, n).
    - ``price_per_yd``: what a yard costs.

    The result: both of shape (m,). Among equals (to `DECIMALS`) the shortest walk wins, then the
    lowest number.
    """
    cost = price_per_yd * np.where(allowed, walk_yd, 0.0)  # inf times price 0 is no number
    total = np.asarray(reward, dtype=np.float64) + continuation - cost
    total = np.where(allowed, total, -np.inf)
    rounded = np.round(total, DECIMALS)
    best = rounded.max(axis=1, keepdims=True)
    tied_walk = np.where((rounded == best) & allowed, np.round(walk_yd, DECIMALS), np.inf)
    station = tied_walk.argmin(axis=1)
    return station, total[np.arange(total.shape[0]), station]
