"""Counting kicks: results and places by line of scrimmage, smoothed over neighboring lines."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np
from numpy.typing import NDArray

from lensyard.domain.field import OPPONENT_GOAL_LINE_X_YD, OWN_GOAL_LINE_X_YD
from lensyard.model.cells import DEEP_X, N_DEEP, N_X

if TYPE_CHECKING:
    import pandas as pd

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

KICK_RESULTS: Final = (
    "returned",
    "fair_catch",
    "downed",
    "out_of_bounds",
    "touchback",
    "blocked",
    "recovered",
    "other",
)
RETURNED, OUT_OF_BOUNDS, TOUCHBACK = (
    KICK_RESULTS.index(name) for name in ("returned", "out_of_bounds", "touchback")
)
RETURN_TOUCHDOWN_X: Final = int(OWN_GOAL_LINE_X_YD) - 1

_FROM_YD: Final = 60  # index of a kick of length 0 in the arrays over distance
_N_DISTANCES: Final = 181
_BANDWIDTH_YD: Final = 2.0
_WIDE_YD: Final = 10.0
_WIDE_SHARE: Final = 0.02


@dataclass(frozen=True, slots=True)
class KickCounts:
    """Counts by yardline_100 - 1, (99, ...); distances are counted along the kick.

    Touchbacks and return touchdowns have fixed places and are not in ``end`` and ``out``.
    """

    result: FloatArray
    down: FloatArray
    end: FloatArray
    out: FloatArray
    return_touchdown: FloatArray


def count_kicks(kicks: pd.DataFrame) -> KickCounts:
    """Count canonical plays of one kind of kick."""
    line = kicks["yardline_100"].to_numpy(dtype=np.int64)
    lookup = {name: i for i, name in enumerate(KICK_RESULTS)}
    other = lookup["other"]
    result = np.array([lookup.get(name, other) for name in kicks["kick_result"]])
    scored = kicks["return_touchdown"].to_numpy(dtype=bool)
    length = np.nan_to_num(kicks["kick_distance_yd"].to_numpy(dtype=np.float64))
    end = line - np.nan_to_num(kicks["end_yardline_100"].to_numpy(dtype=np.float64))
    free = ~scored & (result != TOUCHBACK)
    kicked_out = free & (result == OUT_OF_BOUNDS)
    return KickCounts(
        result=_tally(line, result, len(KICK_RESULTS)),
        down=_tally(line, length + _FROM_YD, _N_DISTANCES),
        end=_tally(line[free], end[free] + _FROM_YD, _N_DISTANCES),
        out=_tally(line[kicked_out], end[kicked_out] + _FROM_YD, _N_DISTANCES),
        return_touchdown=_tally(line[scored], np.zeros(int(scored.sum())), 1)[:, 0],
    )


def _tally(line: IntArray, column: NDArray[Any], width: int) -> FloatArray:
    counts = np.zeros((99, width))
    np.add.at(counts, (line - 1, np.clip(column, 0, width - 1).astype(np.int64)), 1.0)
    return counts


@dataclass(frozen=True, slots=True)
class KickShares:
    """Shares by line of scrimmage, (m, ...), places along the field in the play frame."""

    result: FloatArray
    down_x: FloatArray
    end_x: FloatArray
    out_x: FloatArray
    return_touchdown: FloatArray

    @staticmethod
    def over(counted: KickCounts, lines: IntArray) -> KickShares:
        """Smooth the counts over neighboring lines of scrimmage.

        A normal kernel of 2 yd, and a fiftieth part of one of 10 yd for lines that hardly ever
        occur. Lengths are smoothed, not places, so a punt from the 30 teaches one from the 31.
        """
        apart = lines[:, np.newaxis] - np.arange(1, 100)
        kernel = np.exp(-0.5 * (apart / _BANDWIDTH_YD) ** 2)
        kernel += _WIDE_SHARE * np.exp(-0.5 * (apart / _WIDE_YD) ** 2)
        total = kernel @ counted.result.sum(axis=1)
        share = kernel / total[:, np.newaxis]
        result = share @ counted.result
        scored = share @ counted.return_touchdown
        goal = int(OPPONENT_GOAL_LINE_X_YD)
        end_x = _placed(share @ counted.end, lines, high=goal - 1)
        end_x[:, DEEP_X] += result[:, TOUCHBACK, np.newaxis] / N_DEEP
        end_x[:, RETURN_TOUCHDOWN_X] += scored
        # A touchback that is returned for a touchdown by a slip of the scorer counts twice.
        whole = end_x.sum(axis=1, keepdims=True)
        return KickShares(
            result=result,
            down_x=_placed(share @ counted.down, lines, high=DEEP_X.stop - 1),
            end_x=end_x / whole,
            out_x=_placed(share @ counted.out, lines, high=goal - 1) / whole,
            return_touchdown=scored / whole[:, 0],
        )


def _placed(by_length: FloatArray, lines: IntArray, *, high: int) -> FloatArray:
    """Return lengths as places along the field, (m, 121), nothing before 0 or beyond ``high``."""
    places = np.zeros((by_length.shape[0], N_X))
    length = np.arange(_N_DISTANCES) - _FROM_YD
    for row, line in enumerate(lines):
        x = np.clip(int(OPPONENT_GOAL_LINE_X_YD) - line + length, 0, high)
        np.add.at(places[row], x, by_length[row])
    return places
