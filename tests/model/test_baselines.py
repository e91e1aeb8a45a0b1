"""Baselines are fitted on training rows only, and end at the goal line like the model."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from lensyard.errors import UnknownNameError
from lensyard.model.evaluation.baselines import (
    BASELINES,
    baseline_forecast,
    cut_at_goal,
    events_of_gains,
)
from lensyard.model.outcome_grid import GAIN_MIN_YD, GAINS_YD, KINDS
from lensyard.model.plays import COLUMNS, batch_of, gains_of, kind_index, live_plays
from lensyard.plays.store import load_plays

ROUNDS = 2  # enough for laws; no score is tested on so few
CHEAP = ("marginal", "cells", pytest.param("histgb", marks=pytest.mark.slow))


@pytest.fixture(scope="module")
def plays() -> tuple[pd.DataFrame, pd.DataFrame]:
    frame = load_plays(columns=[*COLUMNS, "week"], seasons=[2016, 2018], season_type="REG")
    live = live_plays(frame[frame["week"] <= 2])
    return live[live["season"] == 2016], live[live["season"] == 2018]


@pytest.mark.parametrize("name", CHEAP)
def test_what_happened_in_the_test_season_changes_nothing(plays, name: str) -> None:
    train, test = plays
    turned = test.assign(
        gain_yd=-1,
        kind="sack",
        touchdown=~test["touchdown"],
        drive_end="safety",
        out_of_bounds=True,
        first_down=True,
        air_yd=np.nan,
    )
    once, again = (baseline_forecast(name, train, part, rounds=ROUNDS) for part in (test, turned))
    np.testing.assert_array_equal(once.gain_pmf, again.gain_pmf)
    np.testing.assert_array_equal(once.kind, again.kind)
    for name, p in once.p.items():
        np.testing.assert_array_equal(p, again.p[name])


@pytest.mark.parametrize("name", CHEAP)
def test_forecasts_are_distributions_that_end_at_the_goal_line(plays, name: str) -> None:
    train, test = plays
    forecast = baseline_forecast(name, train, test, rounds=ROUNDS)
    yardline = test["yardline_100"].to_numpy()
    # scikit-learn's probabilities are float64 sums of 40 labels
    np.testing.assert_allclose(forecast.gain_pmf.sum(axis=1), 1.0, atol=1e-9)
    np.testing.assert_allclose(forecast.kind.sum(axis=1), 1.0, atol=1e-9)
    assert forecast.kind.shape == (len(test), len(KINDS))
    assert (forecast.gain_pmf * (GAINS_YD[None, :] > yardline[:, None])).max() == 0.0
    touchdown = forecast.gain_pmf[np.arange(len(test)), yardline - GAIN_MIN_YD]
    np.testing.assert_array_equal(forecast.p["touchdown"], touchdown)
    assert forecast.size_bytes > 0


def test_the_marginal_is_the_shares_of_the_training_plays(plays) -> None:
    train, test = plays
    forecast = baseline_forecast("marginal", train, test)
    # 50 plays' worth of the same shares, each with a tenth of a play added, move nothing by .001
    shares = np.bincount(kind_index(train), minlength=len(KINDS)) / len(train)
    np.testing.assert_allclose(forecast.kind, np.tile(shares, (len(test), 1)), atol=1e-3)
    far = test["yardline_100"].to_numpy() > 90
    short = float((gains_of(train) <= 3).mean())
    found = forecast.gain_pmf[far][:, GAINS_YD <= 3].sum(axis=1)
    np.testing.assert_allclose(found, short, atol=2e-3)


def test_what_lies_beyond_the_goal_line_becomes_the_touchdown(plays) -> None:
    _, test = plays
    batch = batch_of(test.head(50))
    pmf = np.full((50, GAINS_YD.size), 1 / GAINS_YD.size)
    cut = cut_at_goal(pmf, batch.yardline_100)
    touchdown, made = events_of_gains(cut, batch)
    beyond = (GAINS_YD[-1] - batch.yardline_100 + 1) / GAINS_YD.size
    np.testing.assert_allclose(touchdown, beyond, atol=1e-12)
    np.testing.assert_allclose(cut.sum(axis=1), 1.0, atol=1e-12)
    assert (made >= touchdown - 1e-12).all()


def test_a_baseline_that_does_not_exist_is_refused(plays) -> None:
    with pytest.raises(UnknownNameError, match="marginal"):
        baseline_forecast("forest", *plays)
    assert {"marginal", "cells"} < set(BASELINES)
