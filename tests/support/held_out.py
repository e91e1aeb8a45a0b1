"""The held-out loss of a model: one number to compare fits by."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from lensyard.model.outcome_grid import GAINS_YD, KINDS
from lensyard.model.plays import batch_of

NO_GAIN = ("incomplete", "interception")

if TYPE_CHECKING:
    import pandas as pd


def held_out_loss(model, plays: pd.DataFrame) -> float:
    """Return the mean log-loss of kind and gain on live plays nobody fitted, in nats a play."""
    live = plays[plays["kind"].isin(KINDS) & plays["down"].between(1, 4)]
    kind = live["kind"].map(KINDS.index).to_numpy()
    gain = np.minimum(live["gain_yd"], live["yardline_100"]).to_numpy(int)
    gain = np.where(live["kind"].isin(NO_GAIN), 0, np.maximum(gain, GAINS_YD[0]))
    forecast, rows = model.forecast(batch_of(live)), np.arange(len(live))
    p_gain = forecast.kind_gain_pmf[rows, kind, gain - GAINS_YD[0]]
    return float(-np.log(forecast.p_kind[rows, kind] * np.maximum(p_gain, 1e-9)).mean())
