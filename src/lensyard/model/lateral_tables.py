"""Measured sideways figures: where runs and passes with a given label go across the field.

Sources
-------
*Measured lateral tables*: figures measured from public play-by-play and charting of the
professional game, 2017-2025. Across the field they count from the middle, in yards; here they are
folded so that positive means "toward the side that the label names", and left and right are
forced to be equal.

`LabelShares` are counted from the bundled plays of 2016 to 2018 (a test counts them again). Rows
are buckets of the gain (of the air yards for balls that came down or were intercepted), columns
the labels. Only the latest seasons before the one held out are counted: scorers write "out of
bounds" more often every year (catches .16 in 2009, .23 in 2018).
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import replace
from functools import cache
from typing import Any, Final

import numpy as np

from lensyard.arrays import FloatArray, IntArray
from lensyard.config import data_dir
from lensyard.model import outcome_grid as grid
from lensyard.records import ArrayRecord

SIDES: Final = ("left", "middle", "right")
DEPTHS: Final = ("short", "deep")
GAPS: Final = ("guard", "tackle", "end")
CARRY_LABELS: Final = ("middle", "guard", "tackle", "end")
PASS_LABELS: Final = ("short middle", "short side", "deep middle", "deep side")

GAIN_EDGES_YD: Final = (0, 4, 10, 20, 40)
AIR_EDGES_YD: Final = (0, 5, 10, 15, 25)
N_BUCKETS: Final = 6

# Percentiles of the place a pass was aimed at, from the middle of the field, negative to the left
# (measured lateral tables, weeks 1-6 of 2017: 68 to 120 passes a row for short, 42 to 89 deep).
TARGET_PERCENTILES: Final = (0.05, 0.10, 0.25, 0.50, 0.75, 0.90, 0.95)
TARGETS_YD: Final[Mapping[tuple[str, str], tuple[float, ...]]] = {
    ("short", "left"): (-24.9, -23.6, -19.38, -13.7, -10.25, -6.57, -5.85),
    ("short", "middle"): (-8.2, -6.77, -4.12, -0.5, 4.65, 9.16, 9.73),
    ("short", "right"): (4.7, 6.97, 9.7, 14.8, 19.92, 23.74, 25.62),
    ("deep", "left"): (-27.16, -26.5, -25.0, -22.0, -17.0, -13.76, -10.24),
    ("deep", "middle"): (-7.4, -6.86, -1.27, 2.95, 6.4, 9.49, 10.26),
    ("deep", "right"): (9.22, 11.02, 15.75, 21.9, 24.45, 25.78, 26.6),
}
# Same tables, 2018-2025: per step from one hash mark to the next, 3.083 yd, targets move 1.51 yd
# and the place where a runner takes the ball 2.45 yd.
PASS_HASH_RATIO: Final = 1.51 / (37 / 12)
CARRY_HASH_RATIO: Final = 2.45 / (37 / 12)

# Carries: displacement from where the ball was taken to where the play ended, toward the side of
# the label. At the line of scrimmage the measured medians are 2.3, 5.2 and 12.8 yd and the
# spreads (1.5 MAD) 2.4, 2.6, 3.2 and 6.1 yd for middle, guard, tackle and end. The ends of the
# plays were set near a least-squares fit to the measured next hash by label, the median and the
# spread of all carries to a side (9.3 and 10.5 yd), and the out-of-bounds share by gap and gain,
# whose rise with the gain shows how the spread widens; then rounded. The tests hold them to the
# first two. A logistic's 1.5 MAD is 1.648 scales.
CARRY_OFFSET_YD: Final = (0.0, 3.0, 8.8, 21.0)
CARRY_SCALE_YD: Final = (1.5, 1.6, 2.6, 3.0)
CARRY_OFFSET_PER_YD: Final = 0.15
CARRY_OFFSET_GAIN_CAP_YD: Final = 24.0
CARRY_SCALE_PER_YD: Final = 0.45
CARRY_SCALE_GAIN_FROM_YD: Final = 3.0
CARRY_SCALE_GAIN_SPAN_YD: Final = 31.0
SCRAMBLE_EXTRA_YD: Final = 4.0
SCRAMBLE_EXTRA_SCALE_YD: Final = 2.0
"""A scramble starts anywhere: around the end from outside the pocket (half of those go out of
bounds), through the middle with more spread than a run; it follows the hash mark as passes do."""
SACK_SCALE_YD: Final = 2.3

# After the catch: the scale grows with the yards after it, set to suit the next hash after short
# passes and to the out-of-bounds share of catches over the middle by yards after the catch.
DRIFT_SCALE_YD: Final = 0.8
DRIFT_SCALE_PER_YD: Final = 0.5
DRIFT_SCALE_CAP_YD: Final = 16.0
AIM_SCALE_YD: Final = 0.6
"""Smooths the percentiles of balls that came down or were intercepted."""


class LabelShares(ArrayRecord):
    """How often the labels occur, and how often such a play ends out of bounds.

    - ``weight``: share of each label given kind and bucket, shape (6, 6, 4); both sides together.
    - ``p_out``: share that ends out of bounds given kind, bucket and label, touchdowns aside, (6,
      6, 4); 0 for kinds of which the source does not say.
    - ``after_catch_yd``: mean yards after the catch given bucket of the gain and label, (6, 4).
      [yd]
    """

    weight: FloatArray
    p_out: FloatArray
    after_catch_yd: FloatArray


def bucket_of(*, kind: IntArray, yards: IntArray) -> IntArray:
    """Return the bucket of a gain, or of air yards for the kinds in `AIR_KINDS`; shape (n,).

    >>> bucket_of(kind=np.array([0, 0, 2]), yards=np.array([-1, 10, 10]))
    array([0, 3, 3])
    """
    by_gain = np.searchsorted(GAIN_EDGES_YD, yards, side="right")
    by_air = np.searchsorted(AIR_EDGES_YD, yards, side="right")
    return np.where(np.isin(kind, grid.AIR_KINDS), by_air, by_gain).astype(np.int64)


def label_of(*, kind: IntArray, side: IntArray, depth: IntArray, gap: IntArray) -> IntArray:
    """Return the label without its side, 0 to 3, or -1 where the data do not say; shape (n,).

    Codes are positions in `KINDS`, `SIDES`, `DEPTHS` and `GAPS`, -1 for unknown. For
    carries the labels are `CARRY_LABELS`, for passes `PASS_LABELS`; sacks have label 0.
    """
    middle = side == SIDES.index("middle")
    carry = np.where(middle, 0, np.where(gap >= 0, gap + 1, -1))
    throw = np.where(depth >= 0, 2 * depth + np.where(middle, 0, 1), -1)
    label = np.where((kind == grid.RUN) | (kind == grid.SCRAMBLE), carry, throw)
    label = np.where(side < 0, -1, label)
    return np.where(kind == grid.SACK, 0, label).astype(np.int64)


def fold_targets() -> FloatArray:
    """Return `TARGETS_YD` as quantiles toward the label's side, shape (4, 9).

    Columns stand for the probabilities 0, `TARGET_PERCENTILES` and 1; the outermost continue the
    last measured step. Left and right are averaged, the middle with its own mirror image.
    """
    rows = []
    for depth in DEPTHS:
        middle = np.array(TARGETS_YD[depth, "middle"])
        left, right = np.array(TARGETS_YD[depth, "left"]), np.array(TARGETS_YD[depth, "right"])
        rows += [(middle - middle[::-1]) / 2, (right - left[::-1]) / 2]
    folded = np.array(rows)
    low = 2 * folded[:, :1] - folded[:, 1:2]
    high = 2 * folded[:, -1:] - folded[:, -2:-1]
    return np.hstack([low, folded, high])


NEAR_GOAL_LINES: Final[Mapping[str, range]] = {
    "1-5": range(1, 6), "95-97": range(95, 98), "98-99": range(98, 100)
}  # fmt: skip
"""Lines of scrimmage (`yardline_100`) whose labels have shares of their own: from the 5 in, on the
own 3 to 5 and on the own 1 and 2 more carries go up the middle (.39, .35, .50; elsewhere .28)."""


@cache
def _counted() -> dict[str, Any]:
    """Return the bundled counts; PROVENANCE.md of the data says of what."""
    counted: dict[str, Any] = json.loads((data_dir() / "label_shares.json").read_bytes())
    return counted


def shares_of_lines(shares: LabelShares, lines: str) -> LabelShares:
    """Return label shares as they are on some of `NEAR_GOAL_LINES`; the rest stays as it is."""
    weight = shares.weight.copy()
    for name, rows in _counted()["weight_of_lines"][lines].items():
        table = np.array(rows)
        weight[grid.KINDS.index(name), : len(rows)] = table / table.sum(axis=1, keepdims=True)
    return replace(shares, weight=weight)


def bundled_shares() -> LabelShares:
    """Return the shares counted from the bundled plays."""
    weight = np.zeros((len(grid.KINDS), N_BUCKETS, len(CARRY_LABELS)))
    weight[grid.SACK, :, 0] = 1.0  # sacks have a single label
    p_out = np.zeros_like(weight)
    for table, part in ((weight, "weight"), (p_out, "p_out")):
        for name, rows in _counted()[part].items():
            table[grid.KINDS.index(name)] = rows
    weight /= weight.sum(axis=2, keepdims=True)  # undo the rounding of what is counted
    return LabelShares(
        weight=weight, p_out=p_out, after_catch_yd=np.array(_counted()["after_catch_yd"])
    )
