"""What any model says about plays, in one form, so that all are scored alike."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from lensyard.domain.situation import SituationBatch
from lensyard.model.axes import FloatArray, IntArray
from lensyard.model.outcome import DRIVE_ENDS, GAIN_MIN_YD, GAINS_YD, OutcomeModel


@dataclass(frozen=True, slots=True)
class Forecast:
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
) -> Forecast:
    """Return what the outcome model says about n plays, with its measured speed."""
    seconds = seconds_per_call(lambda: model.gain_pmf(batch))
    return Forecast(
        gain_pmf=model.gain_pmf(batch),
        kind=model.kind_probabilities(batch),
        p_touchdown=model.p_touchdown(batch),
        p_first_down=model.p_first_down(batch),
        p_drive_touchdown=model.drive_end(batch)[:, DRIVE_ENDS.index("touchdown")],
        p_out_of_bounds=model.p_out_of_bounds(batch),
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
    """Return distributions of gains with what lies beyond the goal line counted as touchdowns.

    Parameters
    ----------
    pmf
        Shape (n, G) over `GAINS_YD`.
    yardline_100
        Yards to the goal line, shape (n,). [yd]
    """
    beyond = GAINS_YD[None, :] > yardline_100[:, None]
    cut = np.where(beyond, 0.0, pmf)
    cut[np.arange(cut.shape[0]), yardline_100 - GAIN_MIN_YD] += (pmf * beyond).sum(axis=1)
    return cut


def events_of_gains(pmf: FloatArray, batch: SituationBatch) -> tuple[FloatArray, FloatArray]:
    """Return P(touchdown) and P(line to gain made) that follow from gains alone, (n,) each."""
    wanted = np.minimum(batch.distance_yd, batch.yardline_100)
    enough = GAINS_YD[None, :] >= wanted[:, None]
    touchdown = pmf[np.arange(len(batch)), batch.yardline_100 - GAIN_MIN_YD]
    return touchdown, np.asarray((pmf * enough).sum(axis=1))
