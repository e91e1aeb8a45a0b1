"""What any model says about plays, in one form, so that all are scored alike.

How good probabilities are: proper scores and calibration.

References
----------
.. [1] T. Gneiting and A. E. Raftery, "Strictly proper scoring rules, prediction, and estimation",
   Journal of the American Statistical Association 102 (2007) 359-378. CRPS, log score, Brier.
.. [2] D. R. Cox, "Two further applications of a model for binary regression", Biometrika 45 (1958)
   562-565. The calibration slope.
.. [3] C. Guo, G. Pleiss, Y. Sun, K. Q. Weinberger, "On calibration of modern neural networks",
   ICML 2017. Expected calibration error over bins of equal width.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from lensyard.domain.situation import SituationBatch
from lensyard.model.outcome import OutcomeModel
from lensyard.model.outcome_grid import DRIVE_ENDS, GAIN_MIN_YD, GAINS_YD, FloatArray, IntArray
from lensyard.stats import interval_95, wilson


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
        p_drive_touchdown=forecast.p_drive_end[:, DRIVE_ENDS.index("touchdown")],
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


P_FLOOR: Final = 1e-6
"""A log-loss never counts a probability below this."""
ECE_BINS: Final = 10


def crps_yd(pmf: FloatArray, outcome_index: IntArray) -> FloatArray:
    """Return the continuous ranked probability score of each forecast, shape (n,). [yd]

    Parameters
    ----------
    pmf
        Forecasts over values one yard apart, shape (n, g).
    outcome_index
        Which value happened, shape (n,).

    Notes
    -----
    ``sum over x of (F(x) - 1[x >= outcome])^2``, times a yard.

    Examples
    --------
    >>> crps_yd(np.array([[0.5, 0.5, 0.0]]), np.array([2])).tolist()
    [1.25]
    """
    below = np.cumsum(pmf, axis=1)
    below -= np.arange(pmf.shape[1])[None, :] >= outcome_index[:, None]
    return np.asarray(np.einsum("ng,ng->n", below, below))


def log_loss(pmf: FloatArray, outcome_index: IntArray) -> FloatArray:
    """Return minus the log probability of what happened, shape (n,); floored at `P_FLOOR`."""
    p = pmf[np.arange(pmf.shape[0]), outcome_index]
    return np.asarray(-np.log(np.maximum(p, P_FLOOR)))


def brier(p: FloatArray, happened: FloatArray) -> FloatArray:
    """Return the squared error of each probability, shape (n,)."""
    return np.asarray((p - happened) ** 2)


def binary_log_loss(p: FloatArray, happened: FloatArray) -> FloatArray:
    """Return minus the log probability of what happened, shape (n,); floored at `P_FLOOR`."""
    q = np.clip(p, P_FLOOR, 1.0 - P_FLOOR)
    return np.asarray(-(happened * np.log(q) + (1.0 - happened) * np.log1p(-q)))


def calibration_slope(
    p: FloatArray, happened: FloatArray, weight: FloatArray | None = None
) -> float:
    """Return the slope of a logistic regression of what happened on the logit of p [2]_.

    One is ideal; below it the forecasts are bolder than they should be. Forecasts of exactly 0 or
    1 (what the rules exclude, such as gaining ten yards from the five) have no logit and are left
    out.

    Parameters
    ----------
    p, happened
        Probabilities, and 0 or 1, shape (n,).
    weight
        Shape (n,), or None for 1.

    Returns
    -------
    float
        NaN where fewer than two different forecasts, or only one outcome, leave nothing to fit.
    """
    design, y, w = _logit_design(p, happened, weight)
    beta = _calibration_fit(design, y, w)
    return float("nan") if beta is None else float(beta[1])


def _logit_design(
    p: FloatArray, happened: FloatArray, weight: FloatArray | None
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return intercept and logit (m, 2), what happened and weights (m,) of possible forecasts."""
    inside = (p > P_FLOOR) & (p < 1.0 - P_FLOOR)
    logit = np.log(p[inside]) - np.log1p(-p[inside])
    w = np.ones(logit.shape[0]) if weight is None else weight[inside]
    return np.stack([np.ones_like(logit), logit], axis=1), happened[inside], w


def _calibration_fit(design: FloatArray, y: FloatArray, w: FloatArray) -> FloatArray | None:
    """Return intercept and slope, (2,), by Newton's method; None where nothing can be fitted."""
    seen = w > 0
    if not seen.any() or np.ptp(y[seen]) == 0 or np.ptp(design[seen, 1]) == 0:
        return None
    beta = np.array([0.0, 1.0])
    for _ in range(25):
        fitted = 1.0 / (1.0 + np.exp(-(design @ beta)))
        gradient = design.T @ (w * (y - fitted))
        hessian = (design * (w * fitted * (1.0 - fitted))[:, None]).T @ design
        step = np.linalg.solve(hessian + 1e-9 * np.eye(2), gradient)
        beta = beta + np.clip(step, -1.0, 1.0)
        if float(np.abs(step).max()) < 1e-8:
            break
    return np.asarray(beta)


def expected_calibration_error(
    p: FloatArray, happened: FloatArray, weight: FloatArray | None = None
) -> float:
    """Return the mean gap between forecast and frequency over ten bins of equal width [3]_."""
    w = np.ones(p.shape[0]) if weight is None else weight
    bins = np.minimum((p * ECE_BINS).astype(np.int64), ECE_BINS - 1)
    gap = np.bincount(bins, weights=w * (p - happened), minlength=ECE_BINS)
    return float(np.abs(gap).sum() / w.sum())


def pit_deciles(pmf: FloatArray, outcome_index: IntArray) -> FloatArray:
    """Return the share of outcomes in each tenth of its forecast, shape (10,); .1 each is ideal.

    The probability integral transform of a distribution over whole yards is spread evenly over
    the step at the outcome (the non-randomized form of Czado, Gneiting and Held, Biometrics 65
    (2009) 1254-1261), so no random draw enters.
    """
    below = np.cumsum(pmf, axis=1)
    rows = np.arange(pmf.shape[0])
    high = below[rows, outcome_index]
    low = high - pmf[rows, outcome_index]
    edges = np.linspace(0.0, 1.0, 11)[:, None]
    reached = np.clip((edges - low) / np.maximum(high - low, 1e-12), 0.0, 1.0)
    return np.asarray(np.diff(reached.mean(axis=1)))


@dataclass(frozen=True, slots=True)
class Reliability:
    """A reliability curve: forecast against frequency in bins of equally many plays.

    Attributes
    ----------
    p_mean, observed, low, high
        Mean forecast, frequency and its 95 % interval (Wilson), shape (bins,).
    plays
        In each bin, shape (bins,).
    """

    p_mean: FloatArray
    observed: FloatArray
    low: FloatArray
    high: FloatArray
    plays: IntArray


def reliability(p: FloatArray, happened: FloatArray, *, bins: int = 12) -> Reliability:
    """Return the reliability curve of probabilities, shape (n,), of what happened (0 or 1)."""
    order = np.argsort(p, kind="stable")
    groups = [group for group in np.array_split(order, bins) if group.size]
    n = np.array([group.size for group in groups])
    observed = np.array([happened[group].mean() for group in groups])
    low, high = wilson(observed, n)
    return Reliability(
        p_mean=np.array([p[group].mean() for group in groups]),
        observed=observed,
        low=low,
        high=high,
        plays=n,
    )


def bootstrap_interval(
    score: FloatArray, game: IntArray, weights: FloatArray
) -> tuple[float, float]:
    """Return the 95 % interval of a mean score when games are drawn again.

    Parameters
    ----------
    score, game
        By play, shape (n,); games count from 0.
    weights
        From `lensyard.stats.bootstrap_games`.
    """
    total = weights @ np.bincount(game, weights=score, minlength=weights.shape[1])
    plays = weights @ np.bincount(game, minlength=weights.shape[1])
    return interval_95(total / plays)


def slope_interval(
    p: FloatArray, happened: FloatArray, game: IntArray, weights: FloatArray
) -> tuple[float, float]:
    """Return the 95 % interval of a calibration slope when games are drawn again.

    Each draw takes one step of Newton's method from the slope of all games. NaN where there is no
    slope.

    Parameters
    ----------
    p, happened, game
        By play, shape (n,); games count from 0.
    weights
        From `lensyard.stats.bootstrap_games`.
    """
    design, y, w = _logit_design(p, happened, None)
    beta = _calibration_fit(design, y, w)
    if beta is None:
        return float("nan"), float("nan")
    inside = (p > P_FLOOR) & (p < 1.0 - P_FLOOR)
    fitted = 1.0 / (1.0 + np.exp(-(design @ beta)))
    games, played = weights.shape[1], game[inside]

    def by_game(values: FloatArray) -> FloatArray:
        return np.asarray(np.bincount(played, weights=values, minlength=games), dtype=np.float64)

    score = np.stack([by_game(c * (y - fitted)) for c in design.T], axis=1)
    pairs = [a * b * fitted * (1.0 - fitted) for a in design.T for b in design.T]
    information = np.stack([by_game(pair) for pair in pairs], axis=1)
    curvature = (weights @ information).reshape(-1, 2, 2) + 1e-9 * np.eye(2)
    steps = np.linalg.solve(curvature, (weights @ score)[:, :, None])[:, 1, 0]
    return interval_95(beta[1] + steps)
