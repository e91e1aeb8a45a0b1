"""Probabilities of kind and yards, line of scrimmage by line of scrimmage: one row a situation.

Plays from one line have the same columns (`LineChances.p`), and so have the weights of an
assignment (`weight_of_chances`) and what stations have of them (`lensyard.spots.path_values`).
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from lensyard.arrays import Float32Array, IntArray
from lensyard.domain.assignment import OutcomeWeights
from lensyard.model import outcome_grid as grid
from lensyard.model.cells import (
    CARRIED_AT,
    COMPLETE_AT,
    FIRST_GAIN,
    NOT_CAUGHT,
    JointOutcome,
    gain_weights,
)
from lensyard.records import ArrayRecord

if TYPE_CHECKING:
    from lensyard.model.outcome import Forecast

BLOCK = 8000
"""Situations at a time, and those of the last one's line of scrimmage. [plays]"""


class LineChances(ArrayRecord):
    """The r situations of a forecast from one line of scrimmage, of m in all.

    - ``yardline_100``: the line
    - ``rows``: which of the m they are, shape (r,)
    - ``hash_code``: where their ball lies across the field, shape (r,)
    - ``p``: P(kind and yards), float32 (r, c); rows sum to 1. The columns: what gains nothing by
      gain and kind, carries by gain and kind, completions by gain, balls in the air by yards and
      kind, touchdowns carried by kind, passes carried in, caught in the end zone, balls that came
      down there by kind
    - ``p_drop_back``: P(the quarterback drops back), float32 (r,)
    """

    yardline_100: int
    rows: IntArray
    hash_code: IntArray
    p: Float32Array
    p_drop_back: Float32Array


def chances_by_line(forecast: Forecast) -> Iterator[LineChances]:
    """Yield the situations of a forecast by line of scrimmage."""
    lines = forecast.batch.yardline_100
    order = np.argsort(lines, kind="stable")
    start = 0
    while start < order.size:
        last = lines[order[min(start + BLOCK, order.size) - 1]]
        stop = int(np.searchsorted(lines[order], last, side="right"))
        block = order[start:stop] if stop - start < order.size else np.arange(order.size)
        outcome = (forecast.take(block) if block.size < order.size else forecast).joint
        p_drop_back = outcome.p_drop_back
        for line in np.unique(outcome.yardline_100).tolist():
            here = np.flatnonzero(outcome.yardline_100 == line)
            yield LineChances(
                line,
                block[here],
                outcome.hash_code[here],
                _chances(outcome, here, line),
                p_drop_back[here],
            )
        start = stop


def _chances(outcome: JointOutcome, rows: IntArray, line: int) -> Float32Array:
    """Return the columns of `LineChances` for rows from one line of scrimmage."""
    gains, depths = lengths_to_goal(line)
    gain = np.swapaxes(outcome.gain[rows], 1, 2)
    touchdown = outcome.touchdown[rows]
    in_end_zone = touchdown[:, COMPLETE_AT] * outcome.p_caught[rows]
    parts = (
        gain[:, :FIRST_GAIN, NOT_CAUGHT],
        gain[:, FIRST_GAIN:gains, CARRIED_AT],
        gain[:, :gains, COMPLETE_AT],
        np.swapaxes(outcome.air[rows, :, :depths], 1, 2),
        touchdown[:, NOT_CAUGHT],
        touchdown[:, COMPLETE_AT] - in_end_zone,
        in_end_zone,
        outcome.deep[rows],
    )
    return np.concatenate([part.reshape(rows.size, -1) for part in parts], axis=1)


@lru_cache(maxsize=512)
def weight_of_chances(weights: OutcomeWeights, line: int) -> Float32Array:
    """Return what each column of `LineChances` counts, shape (c,); not to be changed."""
    gains, depths = lengths_to_goal(line)
    gain = gain_weights(weights)
    thrown = (weights.incompletion, weights.interception)
    parts = (
        gain[:FIRST_GAIN, NOT_CAUGHT].ravel(),
        gain[FIRST_GAIN:gains, CARRIED_AT].ravel(),
        gain[:gains, COMPLETE_AT],
        np.tile(thrown, depths),
        np.full(len(NOT_CAUGHT) + 2, weights.touchdown),
        thrown,
    )
    return np.concatenate(parts).astype(np.float32)


def lengths_to_goal(line: int) -> tuple[int, int]:
    """Return how many gains and yards in the air end short of the goal line."""
    return line - grid.GAIN_MIN_YD, min(line, grid.AIR_MAX_YD + 1) - grid.AIR_MIN_YD
