"""Counting the label shares of the lateral prior again from canonical plays."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from lensyard.model.lateral_sampling import LabeledPlays
from lensyard.model.lateral_tables import (
    CARRY_LABELS,
    N_BUCKETS,
    LabelShares,
    bucket_of,
    label_of,
)
from lensyard.model.outcome_grid import (
    AIR_KINDS,
    COMPLETE,
    INCOMPLETE,
    INTERCEPTION,
    KINDS,
    RUN,
    SACK,
    SCRAMBLE,
)

UNKNOWN_HASH = 3

if TYPE_CHECKING:
    import pandas as pd


def measure_labels(plays: pd.DataFrame) -> LabelShares:
    """Count labels and out-of-bounds shares in a table of canonical plays.

    Thin cells are pulled toward what is known without the bucket (20 plays' worth); scrambles,
    the rarest, toward runs with the same label and bucket. Touchdowns are left out of the
    out-of-bounds shares: they never end there.
    """
    told = LabeledPlays.of(plays, np.full(len(plays), UNKNOWN_HASH))
    kind, after = told.kind, told.gain_yd - told.air_yd
    label = label_of(kind=kind, side=told.side, depth=told.depth, gap=told.gap)
    known = (kind >= 0) & (label >= 0) & ~(np.isin(kind, AIR_KINDS) & np.isnan(told.air_yd))
    cell = np.stack([kind, bucket_of(kind=kind, yards=told.placing_yd), label])
    live = known & ~plays["touchdown"].to_numpy(dtype=bool)
    caught = known & (kind == COMPLETE) & np.isfinite(after)
    return LabelShares(
        weight=_weights(_count(cell[:, known])),
        p_out=_out_shares(
            live=_count(cell[:, live]), out=_count(cell[:, live & told.out_of_bounds])
        ),
        after_catch_yd=_mean_after_catch(cell[1:, caught], after[caught]),
    )


def _count(cell):
    counts = np.zeros((len(KINDS), N_BUCKETS, len(CARRY_LABELS)))
    np.add.at(counts, tuple(cell), 1.0)
    return counts


def _weights(counts):
    totals = counts.sum(axis=1, keepdims=True)
    totals[SACK, 0, 0] += 1.0
    pulled = counts + 20.0 * totals / totals.sum(axis=2, keepdims=True)
    return pulled / pulled.sum(axis=2, keepdims=True)


def _out_shares(*, live, out):
    whole = (out.sum(axis=1, keepdims=True) + 0.1) / (live.sum(axis=1, keepdims=True) + 1.0)
    shares = (out + 20.0 * whole) / (live + 20.0)
    shares[SCRAMBLE] = (out[SCRAMBLE] + 20.0 * shares[RUN]) / (live[SCRAMBLE] + 20.0)
    shares[[INCOMPLETE, SACK, INTERCEPTION]] = 0.0
    return shares


def _mean_after_catch(cell, after_yd):
    """Return mean yards after the catch; thin cells pulled toward half of the gain."""
    total, count = np.zeros((2, N_BUCKETS, len(CARRY_LABELS)))
    np.add.at(total, tuple(cell), np.maximum(after_yd, 0.0))
    np.add.at(count, tuple(cell), 1.0)
    half_gain = np.array([1.0, 1.0, 3.0, 7.0, 14.0, 26.0])[:, np.newaxis]
    return (total + 20.0 * half_gain) / (count + 20.0)
