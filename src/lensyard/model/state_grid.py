"""The states of a plan: down, distance band and yard line."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final

import numpy as np

from lensyard.domain.situation import SituationBatch
from lensyard.model.outcome_grid import YARDLINES, IntArray

FIRST_DOWN_BANDS: Final = ((10, 10), (1, 9), (11, 15), (16, 99))
"""Distance bands of first down, both ends included; ten-or-goal comes first. [yd]"""
LATER_DOWN_BANDS: Final = ((1, 1), (2, 3), (4, 6), (7, 9), (10, 10), (11, 15), (16, 99))
"""Distance bands of second to fourth down, both ends included. [yd]"""
FIRST_DOWN_DISTANCES_YD: Final = (10, 5, 15, 20)
LATER_DOWN_DISTANCES_YD: Final = (1, 2, 5, 8, 10, 13, 18)
"""A distance that stands for each band. [yd]"""
_BANDS_PER_LATER_DOWN: Final = len(LATER_DOWN_BANDS)
_FIRST: Final = len(FIRST_DOWN_BANDS)


def _band_tables() -> IntArray:
    """Return the block number (down and band) by down less 1 and distance, shape (4, 100)."""
    table = np.zeros((4, 100), dtype=np.int64)
    for band, (low, high) in enumerate(FIRST_DOWN_BANDS):
        table[0, low : high + 1] = band
    for down in (2, 3, 4):
        for band, (low, high) in enumerate(LATER_DOWN_BANDS):
            first = _FIRST + (down - 2) * _BANDS_PER_LATER_DOWN
            table[down - 1, low : high + 1] = first + band
    return table


_BLOCK: Final = _band_tables()


@dataclass(frozen=True, slots=True)
class StateGrid:
    """All states: blocks of (down, distance band), each with 99 yard lines.

    State ``block * 99 + yardline_100 - 1``. First and goal counts as first and ten.

    Attributes
    ----------
    down, distance_yd, yardline_100
        Of every state, shape (S,); the distance stands for its band and never reaches beyond the
        goal line.
    """

    down: IntArray = field(init=False)
    distance_yd: IntArray = field(init=False)
    yardline_100: IntArray = field(init=False)

    def __post_init__(self) -> None:
        """Lay out the states."""
        downs = [1] * _FIRST + [d for d in (2, 3, 4) for _ in LATER_DOWN_BANDS]
        distances = [*FIRST_DOWN_DISTANCES_YD, *(LATER_DOWN_DISTANCES_YD * 3)]
        yardline = np.tile(np.arange(1, YARDLINES + 1), len(downs))
        object.__setattr__(self, "down", np.repeat(downs, YARDLINES))
        object.__setattr__(
            self, "distance_yd", np.minimum(np.repeat(distances, YARDLINES), yardline)
        )
        object.__setattr__(self, "yardline_100", yardline)

    @property
    def size(self) -> int:
        """How many states."""
        return int(self.down.shape[0])

    def batch(self) -> SituationBatch:
        """Return the states as situations: even score, middle of the second quarter."""
        return SituationBatch.neutral(
            down=self.down, distance_yd=self.distance_yd, yardline_100=self.yardline_100
        )

    def index_of(self, batch: SituationBatch) -> IntArray:
        """Return the state of every situation, shape (n,)."""
        return state_index(
            down=batch.down, distance_yd=batch.distance_yd, yardline_100=batch.yardline_100
        )


def state_index(*, down: IntArray, distance_yd: IntArray, yardline_100: IntArray) -> IntArray:
    """Return the index of states from arrays that broadcast to one shape.

    Examples
    --------
    >>> grid = StateGrid()
    >>> goal = state_index(
    ...     down=np.array([1]), distance_yd=np.array([4]), yardline_100=np.array([4])
    ... )
    >>> int(grid.distance_yd[goal[0]]), int(goal[0])
    (4, 3)
    """
    distance = np.clip(distance_yd, 1, yardline_100)
    goal_to_go = (down == 1) & (distance == yardline_100) & (distance < 10)
    distance = np.where(goal_to_go, 10, distance)
    return np.asarray(_BLOCK[down - 1, distance] * YARDLINES + yardline_100 - 1)
