"""How good probabilities are: proper scores; calibration over all plays and by part of the field.

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

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from lensyard.arrays import FloatArray, IntArray
from lensyard.domain.situation import SituationBatch, Zone, zone_indices
from lensyard.model import outcome_grid as grid
from lensyard.model.evaluation.baselines import SeasonForecast
from lensyard.model.outcome import OutcomeModel
from lensyard.model.plays import (
    SNAP_KINDS,
    batch_of,
    choice_index,
    gains_of,
    kind_index,
    live_plays,
)
from lensyard.records import Record
from lensyard.stats import interval_95, wilson

if TYPE_CHECKING:
    import pandas as pd

MAX_ZONE_GAP: Final = 0.015


class Truth(Record):
    """What happened on n plays, each of shape (n,).

    ``gain_index`` counts from `GAIN_MIN_YD`, ``kind`` is the index into `KINDS`, games count from
    0; ``happened`` is 1 or 0 for each of `EVENTS`.
    """

    gain_index: IntArray
    kind: IntArray
    game: IntArray
    happened: Mapping[str, FloatArray]

    @property
    def gain_yd(self) -> IntArray:
        """The gains. [yd]"""
        return self.gain_index + grid.GAIN_MIN_YD


def _is(column: pd.Series[Any], value: str) -> FloatArray:
    """Return 1 where a column has the value and 0 elsewhere, shape (n,)."""
    return np.asarray(column.to_numpy(dtype=object) == value, dtype=np.float64)


def truth_of(test: pd.DataFrame) -> Truth:
    """Return what happened on live plays."""
    import pandas as pd

    events: dict[str, FloatArray] = {
        name: test[name].to_numpy(dtype=np.float64)
        for name in ("touchdown", "first_down", "out_of_bounds")
    }
    return Truth(
        gain_index=gains_of(test) - grid.GAIN_MIN_YD,
        kind=kind_index(test),
        game=np.asarray(pd.factorize(test["game_id"])[0], dtype=np.int64),
        happened=events | {"drive_touchdown": _is(test["drive_end"], "touchdown")},
    )


@dataclass(frozen=True, slots=True)
class ZoneCheck:
    """Predicted and observed rate of an event in a part of the field, or of a choice at a distance.

    ``standard_error`` is that of the observed rate if the predicted probabilities are right; the
    rates agree when they differ by at most 1.5 points or two standard errors.
    """

    zone: str
    event: str
    plays: int
    predicted: float
    observed: float
    standard_error: float
    agrees: bool = field(init=False)

    def __post_init__(self) -> None:
        """Compare the rates."""
        gap = abs(self.predicted - self.observed)
        object.__setattr__(self, "agrees", gap <= max(MAX_ZONE_GAP, 2 * self.standard_error))


def check_zones(
    forecast: SeasonForecast, truth: Truth, batch: SituationBatch
) -> tuple[ZoneCheck, ...]:
    """Return predicted and observed touchdown and first-down rates by part of the field.

    Parts without plays are left out.
    """
    checks = []
    for index, zone in enumerate(Zone):
        here = zone_indices(batch.yardline_100) == index
        plays = int(here.sum())
        for event in ("touchdown", "first_down") if plays else ():
            p, happened = forecast.p[event], truth.happened[event]
            variance = float((p[here] * (1.0 - p[here])).sum())
            checks.append(
                ZoneCheck(
                    zone=zone.value,
                    event=event,
                    plays=plays,
                    predicted=float(p[here].mean()),
                    observed=float(happened[here].mean()),
                    standard_error=float(np.sqrt(variance)) / plays,
                )
            )
    return tuple(checks)


class ProbabilityCheck(Record):
    """Calibration of one probability that users see.

    Mean probability and rate, Brier score, expected calibration error, calibration slope with its
    95 % interval from drawing games again (NaN where the probability does not vary enough to have
    one), and the reliability curve.
    """

    name: str
    plays: int
    predicted: float
    observed: float
    brier: float
    ece: float
    slope: float
    slope_low: float
    slope_high: float
    groups: tuple[ReliabilityGroup, ...]


def check_probabilities(
    model: OutcomeModel, held_out: pd.DataFrame, weights: FloatArray
) -> tuple[ProbabilityCheck, ...]:
    """Return the calibration of every probability that users see, on one season.

    - ``held_out``: all regular-season plays of the season.
    - ``weights``: from `lensyard.stats.bootstrap_games`, one column a game in order of appearance
      among the live plays.
    """
    import pandas as pd

    test = live_plays(held_out)
    games = pd.Index(pd.unique(test["game_id"]))
    snaps = held_out[
        held_out["down"].between(1, 4)
        & held_out["kind"].isin(SNAP_KINDS)
        & held_out["game_id"].isin(games)
    ]
    fourth = snaps[snaps["down"] == 4]
    checks = []
    for plays, events in (
        (test, _seen_probabilities(model, test)),
        (snaps, _drive_ends(model, snaps)),
        (fourth, _decisions(model, fourth)),
    ):
        game = np.asarray(games.get_indexer(pd.Index(plays["game_id"])), dtype=np.int64)
        for name, (p, happened) in events.items() if len(plays) else ():
            checks.append(_check(name, p, happened, game=game, weights=weights))
    return tuple(checks)


Events = dict[str, tuple[FloatArray, FloatArray]]


def _seen_probabilities(model: OutcomeModel, test: pd.DataFrame) -> Events:
    """Return by name the probabilities of live plays and whether it happened, each (n,)."""
    forecast = model.forecast(batch_of(test))
    pmf, gain = forecast.gain_pmf, gains_of(test)
    kind, kinds = kind_index(test), forecast.p_kind
    truth = truth_of(test)
    thrown = np.isin(
        kind, [grid.KINDS.index(k) for k in ("complete", "incomplete", "interception")]
    )
    seen: Events = {
        "touchdown": (forecast.p_touchdown, truth.happened["touchdown"]),
        "first_down": (forecast.p_first_down, truth.happened["first_down"]),
        "turnover": (forecast.p_turnover, test["turnover"].to_numpy(dtype=np.float64)),
        "out_of_bounds": (forecast.p_out_of_bounds, truth.happened["out_of_bounds"]),
        "pass": (forecast.p_pass, thrown.astype(np.float64)),
    }
    for yards in (5, 10, 20):
        far = np.greater_equal(grid.GAINS_YD, yards)
        seen[f"gain_{yards}"] = (pmf @ far, (gain >= yards).astype(np.float64))
    for index, name in enumerate(grid.KINDS):
        seen[f"kind_{name}"] = (kinds[:, index], (kind == index).astype(np.float64))
    return seen


def _drive_ends(model: OutcomeModel, snaps: pd.DataFrame) -> Events:
    """Return by name the probabilities of drive ends, kicks included, and whether it ended so."""
    drive = model.forecast(batch_of(snaps)).p_drive_end
    return {
        f"drive_{end}": (drive[:, index], _is(snaps["drive_end"], end))
        for index, end in enumerate(grid.DRIVE_ENDS)
    }


def _decisions(model: OutcomeModel, fourth: pd.DataFrame) -> Events:
    """Return by name the probabilities of choices on fourth down and whether they were made."""
    p = model.forecast(batch_of(fourth)).p_fourth_down_choice
    chosen = choice_index(fourth)
    return {
        f"fourth_down_{choice}": (p[:, index], (chosen == index).astype(np.float64))
        for index, choice in enumerate(grid.FOURTH_DOWN_CHOICES)
    }


def _check(
    name: str, p: FloatArray, happened: FloatArray, *, game: IntArray, weights: FloatArray
) -> ProbabilityCheck:
    """Return the calibration of one probability."""
    low, high = slope_interval(p, happened, game, weights)
    return ProbabilityCheck(
        name=name,
        plays=int(p.shape[0]),
        predicted=float(p.mean()),
        observed=float(happened.mean()),
        brier=float(brier(p, happened).mean()),
        ece=expected_calibration_error(p, happened),
        slope=calibration_slope(p, happened),
        slope_low=low,
        slope_high=high,
        groups=reliability(p, happened),
    )


P_FLOOR: Final = 1e-6
"""A log-loss never counts a probability below this."""

ECE_BINS: Final = 10


def crps_yd(pmf: FloatArray, outcome_index: IntArray) -> FloatArray:
    """Return the continuous ranked probability score of each forecast, shape (n,). [yd]

    - ``pmf``: forecasts over values one yard apart, shape (n, g).
    - ``outcome_index``: which value happened, shape (n,).

    ``sum over x of (F(x) - 1[x >= outcome])^2``, times a yard.

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


class ReliabilityGroup(Record):
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
