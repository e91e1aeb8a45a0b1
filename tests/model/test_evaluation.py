"""The evaluation on a small cut: what it returns, and that nothing of the season leaks into it."""

import json
from dataclasses import replace

import numpy as np
import pytest

from lensyard.errors import InvalidInputError
from lensyard.model import outcome_grid as grid
from lensyard.model import plays as fit_plays
from lensyard.model.evaluation import evaluate as evaluation
from lensyard.model.evaluation import scores as scoring
from lensyard.model.evaluation.baselines import SeasonForecast
from lensyard.plays.store import load_plays
from lensyard.render.text import document
from lensyard.stats import bootstrap_games


@pytest.fixture(scope="module")
def plays():
    frame = load_plays(
        columns=[*fit_plays.COLUMNS, "week"], seasons=[2016, 2017], season_type="REG"
    )
    return frame[frame["week"] <= np.where(frame["season"] == 2016, 3, 1)]


@pytest.fixture(scope="module")
def result(plays):
    return evaluation.evaluate(
        plays, season=2017, train_seasons=[2016], models=("lensyard", "marginal", "cells"), draws=20
    )


@pytest.fixture(scope="module")
def perfect(plays):
    """A forecast that knows what happens."""
    test = fit_plays.live_plays(plays[plays["season"] == 2017])
    truth = scoring.truth_of(test)
    return (
        SeasonForecast(
            gain_pmf=np.eye(grid.GAINS_YD.size)[truth.gain_index],
            kind=np.eye(len(grid.KINDS))[truth.kind],
            p=truth.happened,
            fit_s=0.0,
            predict_us=0.0,
            size_bytes=0,
        ),
        truth,
        test,
    )


@pytest.mark.slow
def test_it_says_what_was_fitted_and_scored(result, plays):
    test = fit_plays.live_plays(plays[plays["season"] == 2017])
    assert result.train_seasons == (2016,)
    assert (result.plays, result.games) == (len(test), test["game_id"].nunique())
    assert [scores.name for scores in result.models] == ["lensyard", "marginal", "cells"]
    for scores in result.models:
        assert scores.low["crps_yd"] <= scores.scores["crps_yd"] <= scores.high["crps_yd"]
        assert sum(scores.pit_deciles) == pytest.approx(1.0, abs=1e-9)
    own = result.models[0]
    assert set(own.versus_low.values()) == set(own.versus_high.values()) == {0.0}


@pytest.mark.slow
def test_knowing_the_situation_beats_not_knowing_it(result):
    own, marginal, cells = (scores.scores for scores in result.models)
    # three weeks of plays already tell third and long from goal to go
    assert own["kind_log_loss"] < cells["kind_log_loss"] < marginal["kind_log_loss"]
    assert own["log_loss"] < min(cells["log_loss"], marginal["log_loss"])
    assert cells["drive_touchdown_brier"] < marginal["drive_touchdown_brier"]


def test_the_same_seed_draws_the_same_games(perfect):
    forecast, truth, test = perfect
    rng = np.random.default_rng(1)
    dull = replace(
        forecast, gain_pmf=rng.dirichlet(np.ones(grid.GAINS_YD.size), size=test.shape[0])
    )
    runs = [
        evaluation.score_models(
            {"dull": dull},
            truth,
            bootstrap_games(int(truth.game.max()) + 1, seed=seed, draws=12),
        )[0]
        for seed in (5, 5, 6)
    ]
    assert runs[0].low == runs[1].low
    assert runs[0].high == runs[1].high
    assert runs[0].low != runs[2].low
    assert runs[0].scores["crps_yd"] == runs[2].scores["crps_yd"]


def test_foresight_scores_zero(perfect):
    forecast, truth, test = perfect
    weights = bootstrap_games(int(truth.game.max()) + 1, seed=0, draws=4)
    (scores,) = evaluation.score_models({"foresight": forecast}, truth, weights)
    scored = scores.scores
    assert scored["crps_yd"] == scored["touchdown_brier"] == scored["ece_gain10"] == 0.0
    # a logarithm of a probability of 1 less the floor of 1e-6
    assert scored["log_loss"] == pytest.approx(0.0, abs=1e-12)
    assert scored["touchdown_log_loss"] == pytest.approx(1e-6, rel=1e-3)
    for zone in scoring.check_zones(forecast, truth, fit_plays.batch_of(test)):
        assert zone.predicted == zone.observed
        assert zone.agrees


@pytest.mark.parametrize(
    ("gap", "error", "agrees"),
    [(0.014, 0.001, True), (0.016, 0.001, False), (0.03, 0.02, True), (0.05, 0.02, False)],
)
def test_a_zone_agrees_within_points_or_standard_errors(gap, error, agrees):
    zone = scoring.ZoneCheck("red zone", "touchdown", 100, 0.2 + gap, 0.2, error)
    assert zone.agrees is agrees


@pytest.mark.slow
def test_every_probability_that_users_see_is_checked(result):
    names = {check.name for check in result.checks}
    assert {"touchdown", "first_down", "turnover", "out_of_bounds", "pass", "gain_10"} <= names
    assert {f"kind_{kind}" for kind in grid.KINDS} <= names
    assert {"drive_touchdown", "drive_field_goal", "fourth_down_go", "fourth_down_punt"} <= names
    assert {(check.down, check.outcome) for check in result.drives} == {
        (down, outcome) for down in (1, 2, 3, 4) for outcome in grid.DRIVE_OUTCOMES
    }
    assert result.fourth_down.low < result.fourth_down.high
    for check in result.checks:
        assert 0.0 <= check.predicted <= 1.0
        assert sum(group.plays for group in check.groups) == check.plays


@pytest.mark.parametrize("training", [[], [2017], [2018], [2016, 2017]])
def test_seasons_that_are_not_before_are_refused(plays, training):
    with pytest.raises(InvalidInputError, match="before 2017"):
        evaluation.evaluate(plays, season=2017, train_seasons=training)


def test_unknown_models_are_refused_before_anything_is_fitted(plays):
    with pytest.raises(InvalidInputError, match="forest"):
        evaluation.evaluate(plays, season=2017, train_seasons=[2016], models=("forest",))


@pytest.mark.slow
def test_the_document_keeps_its_contract(result):
    made = json.loads(json.dumps(document(result), allow_nan=False))
    assert {"schema_version", "model", "cautions", "clipping", "models", "zones"} <= set(made)
    contract = {
        "name", "crps_yd", "log_loss", "slope_gain10", "ece_gain10", "kind_log_loss",
        "touchdown_brier", "first_down_brier", "drive_touchdown_brier", "fit_s", "predict_us",
        "size_bytes", "low", "high",
    }  # fmt: skip
    for scores in made["models"]:
        assert contract <= set(scores)
    for zone in made["zones"]:
        assert {"zone", "event", "plays", "predicted", "observed", "agrees"} <= set(zone)
    assert made["model"]["seasons"] == [2016]
