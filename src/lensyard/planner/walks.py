"""How far people get between the plays of a season, as tables.

Stations are numbered as in the stadium, so that nobody's number changes with the direction of
attack. Plays go in the order of the steps: the first play of every game, then the second, and on.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from lensyard.arrays import BoolArray, FloatArray, IntArray, SmallIntArray
from lensyard.planner.solve import may_end
from lensyard.spots.position_rule import steps_toward
from lensyard.spots.scorer import Scorer, turned_station_indices

if TYPE_CHECKING:
    from lensyard.planner.season_data import SeasonData

UNLIMITED_YD = 1e6


@dataclass(frozen=True, slots=True, eq=False)
class Walks:
    """The m plays of a season by steps, n stations, L different limits of a walk.

    - ``order``: the plays in the order of the steps, those of longer games first in each, so that
      the games of a step are the first ones of the step before, shape (m,); ``blocks``: from where
      to where in it each step goes
    - ``limits``, ``limit``: the limits [yd], and which holds before each play, in the plays' own
      order, shape (m,)
    - ``turned``: a station of the stadium as plays toward B and toward A see it, and back, (2, n)
    - ``on_left``: whether it lies on the offense's left, shape (2, n)
    - ``steps``: from a station of the stadium (third axis) toward one of the play frame (fourth)
      how far one gets, a station of the stadium, shape (L, 2, n, n)
    - ``away``: whether each play goes toward A, by steps, shape (m, 1)
    """

    order: IntArray
    blocks: tuple[tuple[int, int], ...]
    limits: FloatArray
    limit: IntArray
    turned: IntArray
    on_left: BoolArray
    steps: SmallIntArray
    away: BoolArray

    def in_play_frame(self, station: SmallIntArray) -> SmallIntArray:
        """Return stations of the stadium as each play sees them; plays by steps, shape (m, k)."""
        half = np.int16(self.turned.shape[1] // 2)
        other = np.where(station >= half, station - half, station + half)
        return np.where(self.away, other, station).astype(np.int16)


def walks_of(season_data: SeasonData, *, most_yd: float = np.inf) -> Walks:
    """Return the walks of a season, none longer than ``most_yd`` but where one goes anywhere."""
    replay, scorers = season_data.replay, season_data.scorers
    free = season_data.limit_yd >= UNLIMITED_YD
    limits, limit = np.unique(
        np.where(free, UNLIMITED_YD, np.minimum(season_data.limit_yd, most_yd)),
        return_inverse=True,
    )
    n = len(scorers[0].perimeter)
    turned = np.stack([np.arange(n), turned_station_indices(n)])
    y = scorers[0].xy_yd[1]
    steps = np.empty((limits.size, 2, n, n), dtype=np.int16)
    for i, limit_yd in enumerate(limits):
        for way, scorer in enumerate(scorers):
            steps[i, way] = turned[way]
            if limit_yd < UNLIMITED_YD:  # where one may go anywhere, also out of a shut corner
                stepped = steps_toward(scorer.walk_yd, ends_of(scorer, float(limit_yd)))
                steps[i, way] = turned[way][stepped[turned[way]]]
    length = np.bincount(replay.game, minlength=replay.games)
    order = np.lexsort((replay.game, -length[replay.game], replay.order))
    stops = np.cumsum(np.bincount(replay.order)).tolist()
    return Walks(
        order=order,
        blocks=tuple(zip([0, *stops[:-1]], stops, strict=True)),
        limits=limits,
        limit=limit,
        turned=turned,
        on_left=(y > float(np.mean(y)))[turned],
        steps=steps,
        away=season_data.toward_a[order, np.newaxis],
    )


def ends_of(scorer: Scorer, limit_yd: float) -> BoolArray:
    """Return where walks within a limit may end in one direction of attack, shape (n, n)."""
    if limit_yd >= UNLIMITED_YD:
        return np.broadcast_to(scorer.open, scorer.walk_yd.shape)
    return may_end(scorer.walk_yd, scorer.open, limit_yd=limit_yd)


@dataclass(frozen=True, slots=True, eq=False)
class Near:
    """Where a walk from each station may end, in the play frame, at most w places: (2, n, w).

    - ``station``: by rising number, what follows the last one repeats it
    - ``walk_yd``: the way there, infinite for repetitions [yd]
    """

    station: IntArray
    walk_yd: FloatArray


def near_of(scorers: tuple[Scorer, Scorer], limit_yd: float) -> Near:
    """Return where walks within a limit may end, toward B and toward A."""
    ends = np.stack([ends_of(scorer, limit_yd) for scorer in scorers])
    count = ends.sum(axis=2, keepdims=True)
    widest = int(count.max())
    last = np.arange(widest) < count
    station = np.argsort(~ends, axis=2, kind="stable")[:, :, :widest]
    walk = np.stack([scorer.walk_yd for scorer in scorers])
    if limit_yd >= UNLIMITED_YD:
        walk = np.zeros_like(walk)
    way = np.where(last, np.take_along_axis(walk, station, axis=2), np.inf)
    return Near(np.where(last, station, station[:, :, :1]), way)
