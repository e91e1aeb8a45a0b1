"""The quarterback's face at each drop-back of a season: a frame of its own, on top of the play."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lensyard.arrays import BoolArray, Float32Array, FloatArray, IntArray
from lensyard.domain.assignment import DROP_BACK_YD
from lensyard.domain.field import CENTER_Y_YD, OPPONENT_GOAL_LINE_X_YD
from lensyard.domain.shot_list import BONUS_KEPT
from lensyard.domain.situation import HASH_CODES
from lensyard.model.plays import Replay
from lensyard.spots.scorer import Scorer
from lensyard.spots.visibility import geometry_of


@dataclass(frozen=True, slots=True, eq=False)
class DropBackFrames:
    """What stations have of the quarterback's face where he sets up, and what that is worth.

    - ``quality``: quality of the frame, 0 where nobody dropped back or the play does not count,
      float32 (m, n).
    - ``there``: whether there is such a frame, shape (m,).
    - ``weight``: what the first of a game is worth. Once it is had, the others are worth
      `BONUS_KEPT` of it.
    - ``order``: number of the play within its game, shape (m,).
    """

    quality: Float32Array
    there: BoolArray
    weight: float
    order: IntArray

    def had(self, station_index: IntArray) -> FloatArray:
        """Return the value of the frames that one has from a station each, shape (m,)."""
        quality = self.quality[np.arange(self.order.size), station_index].astype(np.float64)
        return self.worth(quality) * quality

    def all_of_it(self) -> FloatArray:
        """Return the value of whoever has every frame, shape (m,)."""
        return self.worth(self.there.astype(np.float64)) * self.there

    def worth(self, quality: FloatArray) -> FloatArray:
        """Return what each frame is worth to whoever had earlier ones in this quality, (m,)."""
        none_yet = np.log1p(-np.minimum(quality, 1.0 - 1e-12))
        before = np.cumsum(none_yet) - none_yet
        first = np.maximum.accumulate(np.where(self.order == 0, np.arange(self.order.size), 0))
        missing = np.exp(before - before[first])
        worth: FloatArray = self.weight * (BONUS_KEPT + (1.0 - BONUS_KEPT) * missing)
        return worth


def drop_back_frames(scorer: Scorer, replay: Replay) -> Float32Array:
    """Return the quality of the quarterback's face from each station, float32 (m, n).

    0 where he did not drop back. He sets up `DROP_BACK_YD` behind the line, straight behind the
    ball. With fewer bodies than lenses, the lenses at hand are those with the longest reach.
    """
    quality = np.zeros((len(replay), len(scorer.perimeter)), dtype=np.float32)
    rows = np.flatnonzero(replay.drop_back)
    batch, rules = replay.batch, scorer.perimeter.venue.rules
    ball_y = np.array([*(rules.ball_y_yd(mark) for mark in HASH_CODES[:-1]), CENTER_Y_YD])
    x = OPPONENT_GOAL_LINE_X_YD - batch.yardline_100[rows] - DROP_BACK_YD
    places = np.stack([np.maximum(x, 0.0), ball_y[batch.hash_code[rows]]])
    points, which = np.unique(places, axis=1, return_inverse=True)
    geometry = geometry_of(
        scorer.perimeter,
        stations=scorer.stations,
        cell_x_yd=points[0],
        cell_y_yd=points[1],
        direction=scorer.direction,
        faces=scorer.faces,
        facing_limit_deg=scorer.facing_limit_deg,
    )
    lens_set = max(scorer.kit.lens_sets, key=lambda h: max(m.reach_yd for m in h))
    seen = geometry.quality(scorer.kit, lens_set) * scorer.open[:, np.newaxis]
    quality[rows] = seen.T[which.ravel()]
    return quality
