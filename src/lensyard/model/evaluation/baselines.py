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
from collections.abc import Callable, Mapping, Sequence
from importlib.util import find_spec
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from lensyard.arrays import FloatArray, IntArray
from lensyard.domain.situation import SituationBatch
from lensyard.errors import UnknownNameError
from lensyard.model import outcome_grid as grid
from lensyard.model.outcome import OutcomeModel
from lensyard.model.outcome_grid import ZONE_EDGES_YD, StateGrid, bins_of
from lensyard.model.plays import batch_of, gains_of, kind_index
from lensyard.records import Record

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

EVENTS: Final = ("touchdown", "first_down", "drive_touchdown", "out_of_bounds")


class SeasonForecast(Record):
    """What a model says about n plays, and what it cost.

    ``gain_pmf`` is (n, G) over `GAINS_YD`, ``kind`` (n, 6) over `KINDS`, ``p`` has the probability
    of each of `EVENTS`, shape (n,). Costs: seconds to fit everything, microseconds a play for the
    gains as one batch, bytes on disk (pickled for the libraries' models).
    """

    gain_pmf: FloatArray
    kind: FloatArray
    p: Mapping[str, FloatArray]
    fit_s: float
    predict_us: float
    size_bytes: int


def model_forecast(
    model: OutcomeModel, batch: SituationBatch, *, fit_s: float, size_bytes: int
) -> SeasonForecast:
    """Return what the outcome model says about n plays that are no kicks, with its speed."""
    seconds = seconds_per_call(lambda: model.forecast(batch).gain_pmf)
    forecast = model.forecast(batch)
    drive_touchdown = forecast.p_drive_end_going[:, grid.DRIVE_ENDS.index("touchdown")]
    events = (
        forecast.p_touchdown,
        forecast.p_first_down,
        drive_touchdown,
        forecast.p_out_of_bounds,
    )
    return SeasonForecast(
        gain_pmf=forecast.gain_pmf,
        kind=forecast.p_kind,
        p=dict(zip(EVENTS, events, strict=True)),
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


def baseline_forecast(
    name: str, train: pd.DataFrame, test: pd.DataFrame, *, rounds: int = ROUNDS
) -> SeasonForecast:
    """Fit a baseline on live plays and forecast others; only the situations of these are read.

    Raises `UnknownNameError` if there is no such baseline; `ModuleNotFoundError` if the library of
    a boosted one is not installed.
    """
    if name not in BASELINES:
        raise UnknownNameError(name="baseline", value=name, known=BASELINES)
    if name in {"marginal", "cells"}:
        return _histogram(train, batch_of(test), cells=name == "cells")
    return _boosted([_classifier(name, rounds) for _ in range(4)], train, batch_of(test))


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
    batch: SituationBatch, gains: Callable[[], FloatArray], *, repeats: int = 3, **parts: Any
) -> SeasonForecast:
    """Return a baseline's forecast from its gains, which are also timed, and the other parts."""
    pmf = gains()
    touchdown, first_down = events_of_gains(pmf, batch)
    events = (touchdown, first_down, parts.pop("drive")[:, 1], parts.pop("out")[:, 1])
    return SeasonForecast(
        gain_pmf=pmf,
        p=dict(zip(EVENTS, events, strict=True)),
        predict_us=1e6 * seconds_per_call(gains, repeats=repeats) / max(len(batch), 1),
        **parts,
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
        kind=kind[where],
        drive=drive[where],
        out=out[where],
        fit_s=fit_s,
        size_bytes=sum(table.nbytes for table in tables),
    )


def _inputs(batch: SituationBatch) -> FloatArray:
    """Return the inputs of the boosted models, shape (n, 6)."""
    names = ("down", "distance_yd", "yardline_100", "score_diff", "half_s", "quarter")
    columns = [getattr(batch, name) for name in names]
    return np.stack(columns, axis=1).astype(np.float64)


def _classifier(name: str, rounds: int) -> Any:
    """Return a boosted classifier of one of the two libraries, with like settings."""
    if name == "histgb":
        from sklearn.ensemble import HistGradientBoostingClassifier

        return HistGradientBoostingClassifier(
            learning_rate=0.06,
            max_iter=rounds,
            max_leaf_nodes=15,
            min_samples_leaf=100,
            early_stopping=False,
            random_state=0,
        )
    from lightgbm import LGBMClassifier

    return LGBMClassifier(
        learning_rate=0.06,
        n_estimators=rounds,
        num_leaves=15,
        min_child_samples=100,
        random_state=0,
        verbose=-1,
    )


def _shares_of_labels(model: Any, inputs: FloatArray, labels: int) -> FloatArray:
    """Return probabilities of all labels, shape (n, labels); zero for those never seen."""
    shares = np.zeros((inputs.shape[0], labels))
    shares[:, np.asarray(model.classes_, dtype=np.int64)] = model.predict_proba(inputs)
    return shares


def _boosted(
    classifiers: Sequence[Any], train: pd.DataFrame, batch: SituationBatch
) -> SeasonForecast:
    """Forecast by boosted classifiers of gains, kinds, drive touchdowns and out of bounds."""
    start = time.perf_counter()
    inputs = _inputs(batch_of(train))
    gain_index, *labels = _labels(train)
    bin_of = bins_of(grid.GAINS_YD, GAIN_EDGES_YD)
    count = np.bincount(gain_index, minlength=grid.GAINS_YD.shape[0]) + 0.5
    within = count / np.bincount(bin_of, weights=count)[bin_of]
    for classifier, label in zip(classifiers, (bin_of[gain_index], *labels), strict=True):
        classifier.fit(inputs, label)
    fit_s = time.perf_counter() - start
    there = _inputs(batch)
    gain, kind, drive, out = classifiers

    def gains() -> FloatArray:
        shares = _shares_of_labels(gain, there, GAIN_EDGES_YD.shape[0])
        return cut_at_goal(shares[:, bin_of] * within, batch.yardline_100)

    return _forecast(
        batch,
        gains,
        kind=_shares_of_labels(kind, there, len(grid.KINDS)),
        drive=_shares_of_labels(drive, there, 2),
        out=_shares_of_labels(out, there, 2),
        fit_s=fit_s,
        size_bytes=len(pickle.dumps(list(classifiers))),
        repeats=1,
    )
