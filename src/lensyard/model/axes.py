"""Situations as whole-number codes: the axes of every table in the model.

A fitted model is a handful of tables that are added up (`lensyard.model.tables`). Each axis of a
table is one property of the situation, cut into bins; `axis_codes` says which bin a situation
falls into. Times are binned finely near the end of a half, where calling changes by the second.

The length of a play depends on `STATE_AXES` only. A season has some 32,000 plays in some 9,000
distinct states, so distributions of lengths are computed once a state.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from lensyard.domain.situation import SituationBatch
from lensyard.model.outcome_grid import FloatArray, IntArray
from lensyard.units import SECONDS_PER_QUARTER

MAX_DISTANCE_YD = 30
MAX_SCORE_DIFF = 21

GAME_EDGES_S = np.array(
    [
        *range(0, 180, 10),
        *range(180, 420, 30),
        *range(420, 960, 60),
        *range(960, 1920, 120),
        *range(1920, 3600, 240),
    ],
    dtype=np.float64,
)
"""Lower edges of the bins of time left in the game. [s]"""
HALF_EDGES_S = np.array(
    [*range(0, 60, 5), *range(60, 180, 10), *range(180, 420, 30), *range(420, 1800, 120)],
    dtype=np.float64,
)
"""Lower edges of the bins of time left in the half. [s]"""
ZONE_EDGES_YD = np.array([1, 3, 6, 11, 16, 21, 29, 37, 45, 55, 65, 80, 90, 96])
"""Lower edges of the zones by `yardline_100`. [yd]"""

CONTEXTS: tuple[str, ...] = (
    "usual",
    "end of first half",
    "last seconds of first half",
    "late and ahead",
    "late and behind",
    "last minutes and ahead",
    "last minutes and behind",
    "last seconds, not ahead",
)
"""Clock and score in a few words: what changes how a play of a given kind unfolds."""


def _middles(edges: FloatArray, last: float) -> FloatArray:
    """Return the middles of half-open bins from their lower edges and the last upper one."""
    return np.asarray((edges + np.append(edges[1:], last)) / 2, dtype=np.float64)


AXES: dict[str, FloatArray] = {
    "all": np.zeros(1),
    "down": np.arange(1.0, 5.0),
    "distance": np.arange(1.0, MAX_DISTANCE_YD + 1.0),
    "yardline": np.arange(1.0, 100.0),
    "zone": _middles(ZONE_EDGES_YD.astype(np.float64), 100.0) - 0.5,
    "goal": np.arange(2.0),
    "score": np.arange(-float(MAX_SCORE_DIFF), MAX_SCORE_DIFF + 1.0),
    "game": _middles(GAME_EDGES_S, 3600.0),
    "half": _middles(HALF_EDGES_S, 1800.0),
    "late": np.arange(2.0),
    "overtime": np.arange(2.0),
    "context": np.arange(float(len(CONTEXTS))),
}
"""By name what each bin of an axis stands for, shape (bins,): its value, or its middle."""
STATE_AXES = ("down", "distance", "yardline", "context")
_STATE_SIZES = tuple(AXES[name].size for name in STATE_AXES)
_FEW = 16


def bins_of(values: FloatArray | IntArray, edges: FloatArray | IntArray) -> IntArray:
    """Return the half-open bin of each value, from the lower edges of the bins; same shape."""
    return np.asarray(np.searchsorted(edges, values, side="right") - 1)


def _context(batch: SituationBatch) -> IntArray:
    """Return the index into `CONTEXTS`, shape (n,)."""
    second = batch.quarter == 2
    fourth = batch.quarter >= 4
    left = batch.half_s
    ahead, behind = batch.score_diff > 0, batch.score_diff < 0
    code = np.zeros(len(batch), dtype=np.int64)
    code[second & (left <= 120)] = 1
    code[second & (left <= 20)] = 2
    code[fourth & (left <= 600) & ahead] = 3
    code[fourth & (left <= 600) & behind] = 4
    code[fourth & (left <= 180) & ahead] = 5
    code[fourth & (left <= 120) & behind] = 6
    code[fourth & (left <= 20) & ~ahead] = 7
    return code


def axis_codes(batch: SituationBatch) -> dict[str, IntArray]:
    """Return the bin of n situations on every axis, shape (n,) each, from 0.

    Values beyond an axis fall into its last bin.
    """
    distance = np.minimum(batch.distance_yd, batch.yardline_100)
    game_s = batch.half_s + 2 * SECONDS_PER_QUARTER * (batch.quarter <= 2)
    return {
        "all": np.zeros(len(batch), dtype=np.int64),
        "down": batch.down - 1,
        "distance": np.minimum(distance, MAX_DISTANCE_YD) - 1,
        "yardline": batch.yardline_100 - 1,
        "zone": bins_of(batch.yardline_100, ZONE_EDGES_YD),
        "goal": (distance == batch.yardline_100).astype(np.int64),
        "score": np.clip(batch.score_diff, -MAX_SCORE_DIFF, MAX_SCORE_DIFF) + MAX_SCORE_DIFF,
        "game": bins_of(game_s, GAME_EDGES_S),
        "half": bins_of(batch.half_s, HALF_EDGES_S),
        "late": (batch.quarter > 2).astype(np.int64),
        "overtime": (batch.quarter > 4).astype(np.int64),
        "context": _context(batch),
    }


def rows_of(codes: Mapping[str, IntArray], rows: IntArray) -> dict[str, IntArray]:
    """Return the codes of some situations."""
    return {axis: code[rows] for axis, code in codes.items()}


def flat_code(names: tuple[str, ...], codes: Mapping[str, IntArray]) -> IntArray:
    """Return the row of a table with these axes (last one fastest), shape (n,)."""
    code = codes[names[0]]
    for name in names[1:]:
        code = code * AXES[name].size + codes[name]
    return code


def table_rows(names: tuple[str, ...]) -> int:
    """Return how many rows a table with these axes has."""
    return int(np.prod([AXES[name].size for name in names]))


def state_key(codes: Mapping[str, IntArray]) -> IntArray:
    """Return one number for the bins on `STATE_AXES`, shape (n,)."""
    return flat_code(STATE_AXES, codes)


def state_codes(key: IntArray) -> dict[str, IntArray]:
    """Return the bins on `STATE_AXES` from `state_key`."""
    parts = np.unravel_index(key, _STATE_SIZES)
    return {name: np.asarray(part) for name, part in zip(STATE_AXES, parts, strict=True)}


def distinct_states(
    codes: Mapping[str, IntArray],
) -> tuple[dict[str, IntArray], IntArray | None]:
    """Return the distinct states and, for every situation, its row among them.

    For a few situations the states are the situations, and the rows are None.
    """
    if codes["down"].shape[0] <= _FEW:
        return {name: codes[name] for name in STATE_AXES}, None
    keys, row = np.unique(state_key(codes), return_inverse=True)
    return state_codes(keys), row
