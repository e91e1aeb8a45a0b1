"""What models say about plays, in one form, so that all are scored alike; and the baselines.

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
from dataclasses import dataclass
from importlib.util import find_spec
from typing import TYPE_CHECKING, Any, Final, Protocol

import numpy as np

from lensyard.domain.situation import SituationBatch
from lensyard.errors import UnknownNameError
from lensyard.model import outcome_grid as grid
from lensyard.model.axes import ZONE_EDGES_YD, bins_of
from lensyard.model.outcome import OutcomeModel
from lensyard.model.outcome_grid import FloatArray, IntArray
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


@dataclass(frozen=True, slots=True)
class SeasonForecast:
    """What a model says about n plays, and what it cost.

    Attributes
    ----------
    gain_pmf
        Shape (n, G) over `GAINS_YD`.
    kind
        Shape (n, 6) over `KINDS`.
    p_touchdown, p_first_down, p_drive_touchdown, p_out_of_bounds
        Shape (n,).
    fit_s
        Seconds to fit everything.
    predict_us
        Microseconds a play for `gain_pmf`, as one batch.
    size_bytes
        On disk, or pickled for the libraries' models.
    """

    gain_pmf: FloatArray
    kind: FloatArray
    p_touchdown: FloatArray
    p_first_down: FloatArray
    p_drive_touchdown: FloatArray
    p_out_of_bounds: FloatArray
    fit_s: float
    predict_us: float
    size_bytes: int


def model_forecast(
    model: OutcomeModel, batch: SituationBatch, *, fit_s: float, size_bytes: int
) -> SeasonForecast:
    """Return what the outcome model says about n plays, with its measured speed."""
    seconds = seconds_per_call(lambda: model.forecast(batch).gain_pmf)
    forecast = model.forecast(batch)
    return SeasonForecast(
        gain_pmf=forecast.gain_pmf,
        kind=forecast.p_kind,
        p_touchdown=forecast.p_touchdown,
        p_first_down=forecast.p_first_down,
        p_drive_touchdown=forecast.p_drive_end[:, grid.DRIVE_ENDS.index("touchdown")],
        p_out_of_bounds=forecast.p_out_of_bounds,
        fit_s=fit_s,
        predict_us=1e6 * seconds / max(len(batch), 1),
        size_bytes=size_bytes,
    )


def seconds_per_call(call: Callable[[], Any], *, repeats: int = 3) -> float:
    """Return the least time of some calls. [s]"""
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        call()
        times.append(time.perf_counter() - start)
    return min(times)


def cut_at_goal(pmf: FloatArray, yardline_100: IntArray) -> FloatArray:
    """Return distributions of gains, (n, G), with what lies beyond the goal line as touchdowns."""
    beyond = grid.GAINS_YD[None, :] > yardline_100[:, None]
    cut = np.where(beyond, 0.0, pmf)
    cut[np.arange(cut.shape[0]), yardline_100 - grid.GAIN_MIN_YD] += (pmf * beyond).sum(axis=1)
    return cut


def events_of_gains(pmf: FloatArray, batch: SituationBatch) -> tuple[FloatArray, FloatArray]:
    """Return P(touchdown) and P(line to gain made) that follow from gains alone, (n,) each."""
    wanted = np.minimum(batch.distance_yd, batch.yardline_100)
    enough = grid.GAINS_YD[None, :] >= wanted[:, None]
    touchdown = pmf[np.arange(len(batch)), batch.yardline_100 - grid.GAIN_MIN_YD]
    return touchdown, np.asarray((pmf * enough).sum(axis=1))


class Classifier(Protocol):
    """The part of scikit-learn's contract that is used here."""

    def fit(self, inputs: FloatArray, labels: IntArray, /) -> Any:
        """Learn labels, shape (n,), from inputs, shape (n, features)."""

    def predict_proba(self, inputs: FloatArray, /) -> Any:
        """Return probabilities of the labels, shape (n, labels)."""


def baseline_forecast(
    name: str, train: pd.DataFrame, test: pd.DataFrame, *, rounds: int = ROUNDS
) -> SeasonForecast:
    """Fit a baseline on live plays and forecast others; only the situations of these are read.

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
    return find_spec("lightgbm") is not None


def _labels(train: pd.DataFrame) -> tuple[IntArray, IntArray, IntArray, IntArray]:
    """Return gains counted from `GAIN_MIN_YD`, kinds, drive touchdowns, out of bounds; (n,)."""
    return (
        gains_of(train) - grid.GAIN_MIN_YD,
        kind_index(train),
        np.asarray(train["drive_end"].to_numpy(dtype=object) == "touchdown", dtype=np.int64),
        np.asarray(train["out_of_bounds"], dtype=np.int64),
    )


def _cell(batch: SituationBatch, *, cells: bool) -> tuple[IntArray, int]:
    """Return the cell of each play and how many cells there are."""
    if not cells:
        return np.zeros(len(batch), dtype=np.int64), 1
    states = StateGrid()
    block = states.index_of(batch) // grid.YARDLINES
    zone = bins_of(batch.yardline_100, ZONE_EDGES_YD)
    zones = ZONE_EDGES_YD.shape[0]
    return block * zones + zone, (states.size // grid.YARDLINES) * zones


def _forecast(
    batch: SituationBatch,
    gains: Callable[[], FloatArray],
    kind: FloatArray,
    *,
    drive: FloatArray,
    out: FloatArray,
    fit_s: float,
    size_bytes: int,
    repeats: int,
) -> SeasonForecast:
    """Return a baseline's forecast from its gains, which are also timed."""
    pmf = gains()
    touchdown, first_down = events_of_gains(pmf, batch)
    return SeasonForecast(
        gain_pmf=pmf,
        kind=kind,
        p_touchdown=touchdown,
        p_first_down=first_down,
        p_drive_touchdown=drive[:, 1],
        p_out_of_bounds=out[:, 1],
        fit_s=fit_s,
        predict_us=1e6 * seconds_per_call(gains, repeats=repeats) / max(len(batch), 1),
        size_bytes=size_bytes,
    )


def _histogram(train: pd.DataFrame, batch: SituationBatch, *, cells: bool) -> SeasonForecast:
    """Forecast by shares in cells, each smoothed by the overall shares."""
    start = time.perf_counter()
    cell, count = _cell(batch_of(train), cells=cells)
    plays = np.bincount(cell, minlength=count).astype(np.float64)

    def shares(label: IntArray, width: int) -> FloatArray:
        table = np.bincount(cell * width + label, minlength=count * width).reshape(count, width)
        overall = (table.sum(axis=0) + 0.1) / (table.sum() + 0.1 * width)
        return np.asarray((table + CELL_PLAYS * overall) / (plays + CELL_PLAYS)[:, None])

    widths = (grid.GAINS_YD.shape[0], len(grid.KINDS), 2, 2)
    tables = [shares(label, w) for label, w in zip(_labels(train), widths, strict=True)]
    gain, kind, drive, out = tables
    fit_s = time.perf_counter() - start
    where = _cell(batch, cells=cells)[0]
    return _forecast(
        batch,
        lambda: cut_at_goal(gain[_cell(batch, cells=cells)[0]], batch.yardline_100),
        kind[where],
        drive=drive[where],
        out=out[where],
        fit_s=fit_s,
        size_bytes=sum(table.nbytes for table in tables),
        repeats=3,
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
    bin_of = bins_of(grid.GAINS_YD, GAIN_EDGES_YD)
    count = np.bincount(gain_index, minlength=grid.GAINS_YD.shape[0]) + 0.5
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

    return _forecast(
        batch,
        gains,
        _shares_of_labels(kind, there, len(grid.KINDS)),
        drive=_shares_of_labels(drive, there, 2),
        out=_shares_of_labels(out, there, 2),
        fit_s=fit_s,
        size_bytes=len(pickle.dumps(fitted)),
        repeats=1,
    )
