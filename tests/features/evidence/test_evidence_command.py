"""``lensyard evidence``: what is measured of the model, its documents and its refusals."""

from pathlib import Path

import pandas as pd
import pytest

from lensyard.model.context import BASE_MODEL

PUBLISHED = Path(__file__).parents[2] / "model" / "published_expected_points.csv"


@pytest.fixture
def measured(document):
    """Return the document of a measurement of the unmoved model."""

    def of(*arguments):
        found = document("evidence", *arguments)
        assert found["model"]["id"] == BASE_MODEL
        assert isinstance(found["cautions"], list)
        return found

    return of


@pytest.mark.slow
def test_simulate_prints_drawn_beside_observed(measured):
    found = measured("simulate", "--games", "64", "--seed", "1")
    again = measured("simulate", "--games", "64", "--seed", "1")
    assert found == again
    names = [row["name"] for row in found["measures"]]
    assert names[:4] == ["plays_per_drive", "drives_per_game", "points_per_drive", "p_touchdown"]
    for row in found["measures"]:
        assert row["difference"] == pytest.approx(row["simulated"] / row["observed"] - 1)
    assert found["games"] == {"simulated": 64, "observed": 256}


@pytest.mark.parametrize("command", ["simulate", "tendencies"])
def test_a_season_that_was_fitted_is_refused(run, command):
    code, out, err = run("evidence", command, "--season", "2018")
    assert (code, out) == (2, "")
    assert "fitted on season 2018" in err


def test_too_few_games_are_refused(run):
    code, _, err = run("evidence", "simulate", "--games", "3")
    assert code == 2
    assert "games" in err


@pytest.mark.slow
def test_points_stand_beside_the_published_ones(measured, run):
    found = measured("points")
    assert found["mean_absolute_difference"]["nflfastr"]["points"] <= 0.2  # the project's bar
    by_yard = {row["yardline_100"]: row for row in found["rows"]}
    assert by_yard[50]["nflfastr"] == 2.5
    assert by_yard[50]["carter_machol"] is None
    assert len(found["explained"]) == 3
    published = pd.read_csv(PUBLISHED, comment="#")
    for source in ("nflfastr", "carter_machol"):
        rows = published[published["source"] == source]
        shown = {yard: row[source] for yard, row in by_yard.items() if row[source] is not None}
        assert shown == dict(zip(rows["yardline_100"], rows["points"], strict=True))
    _, out, _ = run("evidence", "points")
    assert "nflfastR 2.1.0" in out
    assert f"{by_yard[50]['points']:.2f}" in out


@pytest.mark.slow
def test_tendencies_are_measured_and_not_used(measured):
    found = measured("tendencies")
    assert found["used"] is False
    assert found["log_loss"] - found["log_loss_with_clubs"] == pytest.approx(found["gain"])


@pytest.mark.slow
def test_by_default_a_season_is_left_between(document):
    found = document("evidence", "evaluate", "--season", "2012", "--models", "marginal")
    assert found["train_seasons"] == [2009, 2010]


@pytest.mark.parametrize(
    ("arguments", "reason"),
    [
        (["--models", "lensyard,forest"], "forest"),
        (["--train", "2018-2019"], "before 2019"),
        (["--season", "2009"], "--train"),
        (["--plot", "curves.txt"], ".png"),
        (["--model", "nowhere"], "nowhere"),
    ],
)
def test_wrong_usage_is_refused_before_anything_is_fitted(run, arguments, reason):
    code, out, err = run("evidence", "evaluate", *arguments)
    assert code != 0
    assert out == ""
    assert reason in err


@pytest.mark.slow
def test_a_saved_model_is_scored_without_a_fit(measured, tmp_path):
    plot = tmp_path / "curves.svg"
    arguments = ("--model", BASE_MODEL, "--models", "lensyard", "--plot", str(plot))
    found = measured("evaluate", *arguments)
    (own,) = found["models"]
    assert own["fit_s"] is None
    # The model was fitted on seasons up to 2018; held-out 2019 has a CRPS of 4.097 yd (DEVELOPERS).
    assert own["crps_yd"] == pytest.approx(4.10, abs=0.02)
    assert plot.stat().st_size > 10_000
