"""What the model is measured against: simpler and heavier ways to the same probabilities.

``marginal`` knows nothing of the situation but the goal line. ``cells`` is a histogram by down,
distance band and field zone. ``histgb`` and ``lightgbm`` are boosted trees on the same inputs as
the model (down, distance, yard line, score, time left in the half, quarter): one classifier over
40 bins of gain, spread over the yards of a bin as the training plays are, one over the kinds, one
each for the drive's end and out of bounds. All are cut at the goal line.
"""

from __future__ import annotations

import pickle
import time
from collections.abc import Callable
from typing import TYPE_CHECKING, Any, Final, Protocol

import numpy as np

from lensyard.domain.situation import SituationBatch
from lensyard.errors import UnknownNameError
from lensyard.model.axes import ZONE_EDGES_YD
from lensyard.model.evaluation.scores import (
    SeasonForecast,
    cut_at_goal,
    events_of_gains,
    seconds_per_call,
)
from lensyard.model.outcome_grid import (
    GAIN_MIN_YD,
    GAINS_YD,
    KINDS,
    YARDLINES,
    FloatArray,
    IntArray,
)
from lensyard.model.plays import batch_of, gains_of, kind_index
from lensyard.model.state_grid import StateGrid

if TYPE_CHECKING:
    import pandas as pd

GAIN_EDGES_YD: Final = np.array(
    [-20, -10, -8, *range(-6, 21), 22, 24, 26, 29, 32, 36, 41, 48, 58, 75]
)
"""Lower edges of the 40 bins of gain that the boosted classifiers predict. [yd]"""
CELL_PLAYS: Final = 50.0
"""The marginal counts as so many plays in every cell."""
BASELINES: Final = ("marginal", "cells", "histgb", "lightgbm")
ROUNDS: Final = 60
"""Boosting rounds at a learning rate of 0.06."""


class Classifier(Protocol):
    """The part of scikit-learn's contract that is used here."""

    def fit(self, inputs: FloatArray, labels: IntArray, /) -> Any:
        """Learn labels, shape (n,), from inputs, shape (n, features)."""

    def predict_proba(self, inputs: FloatArray, /) -> Any:
        """Return probabilities of the labels, shape (n, labels)."""


def baseline_forecast(
    name: str, train: pd.DataFrame, test: pd.DataFrame, *, rounds: int = ROUNDS
) -> SeasonForecast:
    """Fit a baseline on live plays and forecast others.

    Parameters
    ----------
    name
        One of `BASELINES`.
    train, test
        Live plays (`lensyard.model.plays.live_plays`). Nothing but the situations of ``test``
        is read.
    rounds
        Boosting rounds.

    Raises
    ------
    UnknownNameError
        If there is no such baseline.
    ModuleNotFoundError
        If the library of a boosted one is not installed.
    """
    if name not in BASELINES:
        raise UnknownNameError(name="baseline", value=name, known=BASELINES)
    if name in {"marginal", "cells"}:
        return _histogram(train, batch_of(test), cells=name == "cells")
    make = _histgb if name == "histgb" else _lightgbm
    return _boosted(lambda: make(rounds), train, batch_of(test))


def has_lightgbm() -> bool:
    """Return whether the library of the optional baseline is installed."""
    from importlib.util import find_spec

    return find_spec("lightgbm") is not None


def _labels(train: pd.DataFrame) -> tuple[IntArray, IntArray, IntArray, IntArray]:
    """Return gains counted from `GAIN_MIN_YD`, kinds, drive touchdowns, out of bounds; (n,)."""
    return (
        gains_of(train) - GAIN_MIN_YD,
        kind_index(train),
        np.asarray(train["drive_end"].to_numpy(dtype=object) == "touchdown", dtype=np.int64),
        np.asarray(train["out_of_bounds"], dtype=np.int64),
    )


def _cell(batch: SituationBatch, *, cells: bool) -> tuple[IntArray, int]:
    """Return the cell of each play and how many cells there are."""
    if not cells:
        return np.zeros(len(batch), dtype=np.int64), 1
    grid = StateGrid()
    block = grid.index_of(batch) // YARDLINES
    zone = np.searchsorted(ZONE_EDGES_YD, batch.yardline_100, side="right") - 1
    zones = ZONE_EDGES_YD.shape[0]
    return block * zones + zone, (grid.size // YARDLINES) * zones


def _histogram(train: pd.DataFrame, batch: SituationBatch, *, cells: bool) -> SeasonForecast:
    """SeasonForecast by shares in cells, each smoothed by the overall shares."""
    start = time.perf_counter()
    cell, count = _cell(batch_of(train), cells=cells)
    plays = np.bincount(cell, minlength=count).astype(np.float64)

    def shares(label: IntArray, width: int) -> FloatArray:
        table = np.bincount(cell * width + label, minlength=count * width).reshape(count, width)
        overall = (table.sum(axis=0) + 0.1) / (table.sum() + 0.1 * width)
        return np.asarray((table + CELL_PLAYS * overall) / (plays + CELL_PLAYS)[:, None])

    widths = (GAINS_YD.shape[0], len(KINDS), 2, 2)
    tables = [shares(label, w) for label, w in zip(_labels(train), widths, strict=True)]
    gain, kind, drive, out = tables
    fit_s = time.perf_counter() - start

    def gains() -> FloatArray:
        return cut_at_goal(gain[_cell(batch, cells=cells)[0]], batch.yardline_100)

    pmf, where = gains(), _cell(batch, cells=cells)[0]
    touchdown, first_down = events_of_gains(pmf, batch)
    return SeasonForecast(
        gain_pmf=pmf,
        kind=kind[where],
        p_touchdown=touchdown,
        p_first_down=first_down,
        p_drive_touchdown=drive[where, 1],
        p_out_of_bounds=out[where, 1],
        fit_s=fit_s,
        predict_us=1e6 * seconds_per_call(gains) / max(len(batch), 1),
        size_bytes=sum(table.nbytes for table in tables),
    )


def _inputs(batch: SituationBatch) -> FloatArray:
    """Return the inputs of the boosted models, shape (n, 6)."""
    columns: list[Any] = [
        batch.down,
        batch.distance_yd,
        batch.yardline_100,
        batch.score_diff,
        batch.half_s,
        batch.quarter,
    ]
    return np.stack(columns, axis=1).astype(np.float64)


def _histgb(rounds: int) -> Classifier:
    """Return scikit-learn's boosted classifier."""
    from sklearn.ensemble import HistGradientBoostingClassifier

    model: Classifier = HistGradientBoostingClassifier(
        learning_rate=0.06,
        max_iter=rounds,
        max_leaf_nodes=15,
        min_samples_leaf=100,
        early_stopping=False,
        random_state=0,
    )
    return model


def _lightgbm(rounds: int) -> Classifier:
    """Return LightGBM's boosted classifier with like settings."""
    from lightgbm import LGBMClassifier

    model: Classifier = LGBMClassifier(
        learning_rate=0.06,
        n_estimators=rounds,
        num_leaves=15,
        min_child_samples=100,
        random_state=0,
        verbose=-1,
    )
    return model


def _shares_of_labels(model: Any, inputs: FloatArray, labels: int) -> FloatArray:
    """Return probabilities of all labels, shape (n, labels); zero for those never seen."""
    shares = np.zeros((inputs.shape[0], labels))
    shares[:, np.asarray(model.classes_, dtype=np.int64)] = model.predict_proba(inputs)
    return shares


def _boosted(
    make: Callable[[], Classifier], train: pd.DataFrame, batch: SituationBatch
) -> SeasonForecast:
    """SeasonForecast by boosted classifiers."""
    start = time.perf_counter()
    inputs = _inputs(batch_of(train))
    gain_index, kind_label, drive_label, out_label = _labels(train)
    bin_of = np.searchsorted(GAIN_EDGES_YD, GAINS_YD, side="right") - 1
    count = np.bincount(gain_index, minlength=GAINS_YD.shape[0]) + 0.5
    within = count / np.bincount(bin_of, weights=count)[bin_of]
    fitted = [make() for _ in range(4)]
    for model, label in zip(
        fitted, (bin_of[gain_index], kind_label, drive_label, out_label), strict=True
    ):
        model.fit(inputs, label)
    fit_s = time.perf_counter() - start
    there = _inputs(batch)
    gain, kind, drive, out = fitted

    def gains() -> FloatArray:
        shares = _shares_of_labels(gain, there, GAIN_EDGES_YD.shape[0])
        return cut_at_goal(shares[:, bin_of] * within, batch.yardline_100)

    pmf = gains()
    touchdown, first_down = events_of_gains(pmf, batch)
    return SeasonForecast(
        gain_pmf=pmf,
        kind=_shares_of_labels(kind, there, len(KINDS)),
        p_touchdown=touchdown,
        p_first_down=first_down,
        p_drive_touchdown=_shares_of_labels(drive, there, 2)[:, 1],
        p_out_of_bounds=_shares_of_labels(out, there, 2)[:, 1],
        fit_s=fit_s,
        predict_us=1e6 * seconds_per_call(gains, repeats=1) / max(len(batch), 1),
        size_bytes=len(pickle.dumps(fitted)),
    )
