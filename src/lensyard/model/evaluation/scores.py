"""How good probabilities are: proper scores and calibration.

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

from dataclasses import dataclass
from typing import Final

import numpy as np

from lensyard.model.outcome_grid import FloatArray, IntArray
from lensyard.stats import interval_95, wilson

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
    """Return the slope of a logistic regression of what happened (0 or 1) on the logit of p [2]_.

    One is ideal; below it the forecasts are bolder than they should be. Forecasts of exactly 0 or
    1 (what the rules exclude, such as gaining ten yards from the five) have no logit and are left
    out. NaN where fewer than two different forecasts, or only one outcome, leave nothing to fit.
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
class ReliabilityGroup:
    """One group of plays of a reliability curve: mean forecast, frequency and its 95 % interval."""

    p_mean: float
    observed: float
    low: float
    high: float
    plays: int


def reliability(
    p: FloatArray, happened: FloatArray, *, bins: int = 12
) -> tuple[ReliabilityGroup, ...]:
    """Return the reliability curve of probabilities of what happened (0 or 1), shape (n,) each.

    Groups have equally many plays; the intervals are Wilson's.
    """
    order = np.argsort(p, kind="stable")
    groups = []
    for group in np.array_split(order, bins):
        if group.size:
            rate = float(happened[group].mean())
            low, high = wilson(rate, group.size)
            groups.append(ReliabilityGroup(float(p[group].mean()), rate, low, high, group.size))
    return tuple(groups)


def bootstrap_interval(
    score: FloatArray, game: IntArray, weights: FloatArray
) -> tuple[float, float]:
    """Return the 95 % interval of a mean score when games are drawn again.

    ``score`` and ``game`` (from 0) are by play, shape (n,); the weights are those of
    `lensyard.stats.bootstrap_games`.
    """
    total = weights @ np.bincount(game, weights=score, minlength=weights.shape[1])
    plays = weights @ np.bincount(game, minlength=weights.shape[1])
    return interval_95(total / plays)


def slope_interval(
    p: FloatArray, happened: FloatArray, game: IntArray, weights: FloatArray
) -> tuple[float, float]:
    """Return the 95 % interval of a calibration slope when games are drawn again.

    Each draw takes one step of Newton's method from the slope of all games. NaN where there is no
    slope. Arguments as in `bootstrap_interval`.
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
