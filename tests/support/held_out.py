"""The held-out loss of a model: one number to compare fits by."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from lensyard.model.outcome_grid import KINDS, axis_codes, rows_of
from lensyard.model.plays import batch_of, gains_of, kind_index, live_plays

GAIN_MIN_YD = -20

if TYPE_CHECKING:
    import pandas as pd


def held_out_loss(model, plays: pd.DataFrame) -> float:
    """Return the mean log-loss of kind and gain on live plays nobody fitted, in nats a play."""
    live = live_plays(plays)
    codes = axis_codes(batch_of(live))
    kind, gain = kind_index(live), gains_of(live) - GAIN_MIN_YD
    total = -np.log(model.kind.probabilities(codes)[np.arange(len(live)), kind]).sum()
    for name, tables in model.gain.items():
        some = np.flatnonzero(kind == KINDS.index(name))
        pmf = tables.pmf(rows_of(codes, some))
        total -= np.log(np.maximum(pmf[np.arange(some.shape[0]), gain[some]], 1e-9)).sum()
    return float(total / kind.shape[0])
