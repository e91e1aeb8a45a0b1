"""Baselines are fitted on training rows only, and end at the goal line like the model."""

import numpy as np
import pytest

from lensyard.errors import UnknownNameError
from lensyard.model import outcome_grid as grid
from lensyard.model import plays as fit_plays
from lensyard.model.evaluation import baselines
from lensyard.plays.store import load_plays

ROUNDS = 2  # enough for laws; no score is tested on so few
CHEAP = ("marginal", "cells", pytest.param("histgb", marks=pytest.mark.slow))


@pytest.fixture(scope="module")
def plays():
    frame = load_plays(
        columns=[*fit_plays.COLUMNS, "week"], seasons=[2016, 2018], season_type="REG"
    )
    live = fit_plays.live_plays(frame[frame["week"] <= 2])
    return live[live["season"] == 2016], live[live["season"] == 2018]


@pytest.mark.parametrize("name", CHEAP)
def test_what_happened_in_the_test_season_changes_nothing(plays, name):
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
    once, again = (
        baselines.baseline_forecast(name, train, part, rounds=ROUNDS) for part in (test, turned)
    )
    np.testing.assert_array_equal(once.gain_pmf, again.gain_pmf)
    np.testing.assert_array_equal(once.kind, again.kind)
    for name, p in once.p.items():
        np.testing.assert_array_equal(p, again.p[name])


@pytest.mark.parametrize("name", CHEAP)
def test_forecasts_are_distributions_that_end_at_the_goal_line(plays, name):
    train, test = plays
    forecast = baselines.baseline_forecast(name, train, test, rounds=ROUNDS)
    yardline = test["yardline_100"].to_numpy()
    # scikit-learn's probabilities are float64 sums of 40 labels
    np.testing.assert_allclose(forecast.gain_pmf.sum(axis=1), 1.0, atol=1e-9)
    np.testing.assert_allclose(forecast.kind.sum(axis=1), 1.0, atol=1e-9)
    assert forecast.kind.shape == (len(test), len(grid.KINDS))
    assert (forecast.gain_pmf * (grid.GAINS_YD[None, :] > yardline[:, None])).max() == 0.0
    touchdown = forecast.gain_pmf[np.arange(len(test)), yardline - grid.GAIN_MIN_YD]
    np.testing.assert_array_equal(forecast.p["touchdown"], touchdown)
    assert forecast.size_bytes > 0


def test_the_marginal_is_the_shares_of_the_training_plays(plays):
    train, test = plays
    forecast = baselines.baseline_forecast("marginal", train, test)
    # 50 plays' worth of the same shares, each with a tenth of a play added, move nothing by .001
    shares = np.bincount(fit_plays.kind_index(train), minlength=len(grid.KINDS)) / len(train)
    np.testing.assert_allclose(forecast.kind, np.tile(shares, (len(test), 1)), atol=1e-3)
    far = test["yardline_100"].to_numpy() > 90
    short = float((fit_plays.gains_of(train) <= 3).mean())
    found = forecast.gain_pmf[far][:, grid.GAINS_YD <= 3].sum(axis=1)
    np.testing.assert_allclose(found, short, atol=2e-3)


def test_a_baseline_that_does_not_exist_is_refused(plays):
    with pytest.raises(UnknownNameError, match="marginal"):
        baselines.baseline_forecast("forest", *plays)
    assert {"marginal", "cells"} < set(baselines.BASELINES)
