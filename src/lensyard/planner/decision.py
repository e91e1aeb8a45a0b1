"""From a plan's values to one decision: stay, walk, or cross behind closed ground.

A closed place is never a place to be. Where the plan's next step ends behind a closed stretch, the
decision names the open place that this walk leads to, and how many snaps pass on the way. Nobody is
moved for less than the error of the chance, or to a neighboring station.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lensyard.arrays import BoolArray, FloatArray, IntArray
from lensyard.planner.solve import DECIMALS, choose_many, ends_from, least_limit_yd, way_yd
from lensyard.stats import Z_95


def error_of_value(
    *, value: FloatArray, p_usable: FloatArray, comparable_plays: FloatArray
) -> FloatArray:
    """Return how far the value of the likeliest spot may be off, for m situations, shape (m,).

    Half the 95 % interval of its P(usable) from the number of comparable plays, in units of the
    assignment's value. A gain below it is none.

    - ``value``, ``p_usable``: of the play from each station, shape (m, n).
    - ``comparable_plays``: shape (m,).
    """
    rows = np.arange(p_usable.shape[0])
    best = p_usable.argmax(axis=1)
    p = np.clip(p_usable[rows, best], 1e-9, 1.0)
    error_of_p = Z_95 * np.sqrt(p * (1.0 - p) / np.maximum(comparable_plays, 1.0))
    error: FloatArray = error_of_p * value[rows, best] / p
    return error


@dataclass(frozen=True, slots=True, eq=False)
class Crossing:
    """A walk behind closed ground that takes more than one snap.

    - ``targets``, ``way_yd``: open places at its end within ``walks`` walks, and the way there.
      [yd]
    - ``walks``: how many walks it takes; all but the last end behind closed ground.
    """

    targets: IntArray
    way_yd: FloatArray
    walks: int

    def ends(self, continuation: NDArray[np.floating], price_per_yd: float) -> IntArray:
        """Return at which target it ends, for continuations of shape (m, n); shape (m,)."""
        later = np.asarray(continuation[:, self.targets], dtype=np.float64)
        value = np.round(later - price_per_yd * self.way_yd, DECIMALS)
        chosen: IntArray = self.targets[value.argmax(axis=1)]
        return chosen


@dataclass(frozen=True, slots=True, eq=False)
class Reach:
    """Where one gets from a station before the next snap.

    - ``standing``, ``may_stay``: where one is, and whether one may be there at a snap.
    - ``near``, ``walk_yd``: stations at which a walk may end, and the way to each; where one may
      stay, without the neighbors, which the grid does not tell from ``standing``. [yd]
    - ``crossings``: for each closed one among them where the walk leads to.
    """

    standing: int
    may_stay: bool
    near: IntArray
    walk_yd: FloatArray
    crossings: dict[int, Crossing]


def reach_of(walk_yd: FloatArray, may_stand: BoolArray, standing: int, *, limit_yd: float) -> Reach:
    """Return where one gets from a station; walks as in `lensyard.planner.solve.ends_from`."""
    return reaches_of(walk_yd, may_stand, np.array([standing]), limit_yd=limit_yd)[0]


def reaches_of(
    walk_yd: FloatArray, may_stand: BoolArray, standing: IntArray, *, limit_yd: float
) -> list[Reach]:
    """Return where one gets from each of k stations; see `reach_of`."""
    ends, n = ends_from(walk_yd, may_stand, standing, limit_yd=limit_yd), len(walk_yd)
    limits_yd = least_limit_yd(walk_yd, may_stand, standing, limit_yd=limit_yd)
    may_stay = may_stand[standing]
    for step in (-1, 1):
        ends[may_stay, (standing[may_stay] + step) % n] = False
    up, down = (way_yd(walk_yd, standing, up=up) for up in (True, False))
    found = []
    for i, station in enumerate(standing.tolist()):
        near = np.flatnonzero(ends[i])
        crossings = {
            via: _crossing(
                walk_yd[station],
                min(up[i], down[i], key=lambda way, via=via: way[via]),  # type: ignore[misc]
                may_stand,
                limit_yd=float(limits_yd[i]),
            )
            for via in near[~may_stand[near]].tolist()
            if via != station  # there one only waits
        }
        found.append(Reach(station, bool(may_stay[i]), near, walk_yd[station, near], crossings))
    return found


def _crossing(
    walk_yd: FloatArray, way: FloatArray, may_stand: BoolArray, *, limit_yd: float
) -> Crossing:
    """Return where a walk to a closed station leads.

    ``walk_yd``: between the station where one stands and all others; ``way``: the same in the
    direction of the walk. (n,) [yd]
    """
    beyond = np.isfinite(way) & (way > limit_yd + 1e-6) & may_stand
    shortest = beyond & (way <= walk_yd + 1e-6)
    beyond = shortest if shortest.any() else beyond
    walks = np.ceil((way - 1e-6) / limit_yd, where=beyond, out=np.full(way.shape, np.inf))
    fewest = walks.min()
    targets = np.flatnonzero(walks == fewest)
    return Crossing(targets, way[targets], int(fewest))


@dataclass(frozen=True, slots=True, eq=False)
class Destinations:
    """Decisions from one station in m situations; all of shape (m,).

    - ``station``: where to be, or where a crossing ends.
    - ``at_snap``: where one is at the next snap: the same, or closed ground on the way.
    - ``gain``: value of the best walk over staying: the play, what follows, less the price of the
      walk.
    """

    station: IntArray
    at_snap: IntArray
    gain: FloatArray


def destinations(
    reach: Reach,
    *,
    reward: NDArray[np.floating],
    continuation: NDArray[np.floating],
    error: FloatArray,
    price_per_yd: float,
) -> Destinations:
    """Return the decisions from one station.

    - ``reach``: of the station.
    - ``reward``, ``continuation``: r and C of each situation, shape (m, n).
    - ``error``: gains up to here move nobody, shape (m,).
    - ``price_per_yd``: what a yard costs.
    """
    near, standing = reach.near, reach.standing
    shape = (reward.shape[0], near.size)
    best, total = choose_many(
        reward=reward[:, near],
        continuation=np.asarray(continuation[:, near], dtype=np.float64),
        walk_yd=np.broadcast_to(reach.walk_yd, shape),
        allowed=np.ones(shape, dtype=bool),
        price_per_yd=price_per_yd,
    )
    at_snap = near[best]
    gain = total - (np.asarray(reward[:, standing], dtype=np.float64) + continuation[:, standing])
    if reach.may_stay:
        at_snap = np.where(gain <= error, standing, at_snap)
    station = at_snap.copy()
    for via, crossing in reach.crossings.items():
        some = np.flatnonzero(at_snap == via)
        station[some] = crossing.ends(continuation[some], price_per_yd)
    return Destinations(station, at_snap, gain)
