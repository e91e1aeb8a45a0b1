"""Small tables counted straight from plays: comparable plays, fumbles, out of bounds, catches."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from lensyard.model import outcome_grid as grid
from lensyard.model.axes import AXES, axis_codes
from lensyard.model.fitting.splines import (
    axis_basis,
    product_basis,
    smooth_shares,
    stack_columns,
)
from lensyard.model.outcome_grid import FloatArray
from lensyard.model.plays import batch_of, gains_of, kind_index
from lensyard.model.state_grid import StateGrid

if TYPE_CHECKING:
    import pandas as pd

COMPARABLE_WITHIN_YD: Final = 5
OUT_OF_BOUNDS_SEASONS: Final = 2
"""Scorers write "out of bounds" more often every year, so only so many last seasons count."""


def fit_small_tables(live: pd.DataFrame) -> dict[str, FloatArray]:
    """Return the plain tables of a model from its plays, by stored name."""
    share, depth = _touchdown_catches(live)
    return {
        "fumble_lost": fumbles_lost(live),
        "out_of_bounds": np.stack([_out_of_bounds(live, kind) for kind in grid.CARRIED_KINDS]),
        "caught_in_end_zone": share,
        "caught_depth": depth,
        "comparable_plays": _comparable(live),
    }


def _comparable(live: pd.DataFrame) -> FloatArray:
    """Return how many plays of a down and distance band lie within 5 yd, (bands, yard lines)."""
    states = StateGrid()
    counts = np.bincount(states.index_of(batch_of(live)), minlength=states.size)
    padded = np.pad(
        counts.reshape(-1, grid.YARDLINES),
        ((0, 0), (COMPARABLE_WITHIN_YD + 1, COMPARABLE_WITHIN_YD)),
    )
    below = np.cumsum(padded, axis=1)
    width = 2 * COMPARABLE_WITHIN_YD + 1
    return (below[:, width:] - below[:, :-width]).astype(np.float64)


def fumbles_lost(plays: pd.DataFrame, weight: FloatArray | None = None) -> FloatArray:
    """Return P(fumble lost | kind), shape (6,), smoothed by 50 plays at the overall rate."""
    each = np.ones(len(plays)) if weight is None else weight
    lost = (plays["turnover"] & (plays["kind"] != "interception")).to_numpy() * each
    kind = kind_index(plays)
    events = np.bincount(kind, weights=lost, minlength=len(grid.KINDS))
    count = np.bincount(kind, weights=each, minlength=len(grid.KINDS))
    p = (events + 50.0 * lost.sum() / each.sum()) / (count + 50.0)
    p[list(grid.AIR_KINDS)] = 0.0
    return np.asarray(p)


def _out_of_bounds(live: pd.DataFrame, kind: str) -> FloatArray:
    """Return P(out of bounds | context, gain) short of the goal line, shape (contexts, G)."""
    recent = live["season"] > live["season"].max() - OUT_OF_BOUNDS_SEASONS
    plays = live[(live["kind"] == kind) & ~live["touchdown"] & recent]
    contexts, g = AXES["context"].size, grid.GAINS_YD.shape[0]
    gain = axis_basis(
        grid.GAINS_YD.astype(np.float64), [-6, -3, -1, 0, 2, 4, 6, 9, 12, 16, 20, 30, 50]
    )
    slope = axis_basis(grid.GAINS_YD.astype(np.float64), [0, 12])
    by_context = np.eye(contexts)[:, 1:]
    every = product_basis([np.ones((contexts, 1)), gain])
    design = stack_columns([every, product_basis([by_context, slope])]).astype(np.float32)
    cell = axis_codes(batch_of(plays))["context"] * g + gains_of(plays) - grid.GAIN_MIN_YD
    out = plays["out_of_bounds"].to_numpy(dtype=np.float64)
    return smooth_shares(design, cell, out, penalty=1.0).reshape(contexts, g)


def _touchdown_catches(live: pd.DataFrame) -> tuple[FloatArray, FloatArray]:
    """Return the share of touchdown catches made in the end zone by yard line, and how deep.

    Shapes (99,) and (11,).
    """
    caught = live[(live["kind"] == "complete") & live["touchdown"] & live["air_yd"].notna()]
    yardline = caught["yardline_100"].to_numpy(dtype=np.int64)
    behind = caught["air_yd"].to_numpy(dtype=np.float64).astype(np.int64) - yardline
    basis = product_basis([axis_basis(AXES["yardline"], [1, 3, 6, 10, 20, 35, 50, 70])])
    share = smooth_shares(basis, yardline - 1, behind >= 0, penalty=1.0)
    depth = np.bincount(
        np.clip(behind[behind >= 0], 0, grid.END_ZONE_YD), minlength=grid.END_ZONE_YD + 1
    )
    smoothed = depth + 1.0
    return share, smoothed / smoothed.sum()
