"""Calibration of every probability that a user sees, over all plays and by part of the field."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from lensyard.domain.situation import SituationBatch, Zone, zone_indices
from lensyard.model import outcome_grid as grid
from lensyard.model.evaluation.baselines import SeasonForecast
from lensyard.model.evaluation.scores import (
    ReliabilityGroup,
    brier,
    calibration_slope,
    expected_calibration_error,
    reliability,
    slope_interval,
)
from lensyard.model.outcome import OutcomeModel
from lensyard.model.outcome_grid import FloatArray, IntArray
from lensyard.model.plays import (
    SNAP_KINDS,
    batch_of,
    choice_index,
    gains_of,
    kind_index,
    live_plays,
)

if TYPE_CHECKING:
    import pandas as pd

MAX_ZONE_GAP: Final = 0.015


@dataclass(frozen=True, slots=True)
class Truth:
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
    """Predicted and observed rate of an event (touchdown or first down) in a part of the field.

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


@dataclass(frozen=True, slots=True)
class ProbabilityCheck:
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

    Parameters
    ----------
    model
        Fitted on other seasons.
    held_out
        All regular-season plays of the season.
    weights
        From `lensyard.stats.bootstrap_games`, one column a game in order of appearance among the
        live plays.
    """
    import pandas as pd

    test = live_plays(held_out)
    games = pd.Index(pd.unique(test["game_id"]))
    seen = _seen_probabilities(model, test)
    fourth = held_out[
        (held_out["down"] == 4)
        & held_out["kind"].isin(SNAP_KINDS)
        & held_out["game_id"].isin(games)
    ]
    checks = []
    for plays, events in ((test, seen), (fourth, _decisions(model, fourth))):
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
    drive, truth = forecast.p_drive_end, truth_of(test)
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
    for index, end in enumerate(grid.DRIVE_ENDS):
        seen[f"drive_{end}"] = (drive[:, index], _is(test["drive_end"], end))
    return seen


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
