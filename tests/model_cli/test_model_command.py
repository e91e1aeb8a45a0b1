"""``lensyard model``: every subcommand, its document and its refusals."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from lensyard.features.models.fit import bundled_model_path, fit_model

from lensyard.cli import main
from lensyard.domain.situation import Situation
from lensyard.errors import ModelError
from lensyard.features.game_plan.kicks import kick_outlook
from lensyard.features.models.cli import points_text
from lensyard.model.artifact import load, load_kicks, load_manifest
from lensyard.model.context import load_context


def run(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str, str]:
    try:
        main(["model" if arguments[0] in ("info", "fit") else "evidence", *arguments])
        code = 0
    except SystemExit as stop:
        code = int(stop.code or 0)
    captured = capsys.readouterr()
    return code, captured.out, captured.err


def document(capsys: pytest.CaptureFixture[str], *arguments: str) -> dict:
    code, out, _ = run(capsys, *arguments, "--json")
    assert code == 0
    found = json.loads(out)
    assert found["schema_version"] == 1
    assert found["model"]["id"] == load_context().model.model_id
    assert isinstance(found["cautions"], list)
    return found


def test_info_says_what_made_the_model_and_for_which_level(
    capsys: pytest.CaptureFixture[str],
) -> None:
    found = document(capsys, "info")
    manifest = load_manifest(bundled_model_path())
    assert found["model"]["data_sha256"] == manifest.data_sha256
    assert found["has_kicks"]
    assert "professional games" in found["cautions"][0]
    _, out, _ = run(capsys, "info")
    for fact in (
        manifest.model_id, "2009-2018", manifest.data_sha256, manifest.license, "numpy",
        "professional games", "seed 0",
    ):  # fmt: skip
        assert fact in out


def test_simulate_prints_drawn_beside_observed(capsys: pytest.CaptureFixture[str]) -> None:
    found = document(capsys, "simulate", "--games", "64", "--seed", "1")
    again = document(capsys, "simulate", "--games", "64", "--seed", "1")
    assert found == again
    names = [row["name"] for row in found["measures"]]
    assert names[:4] == ["plays_per_drive", "drives_per_game", "points_per_drive", "p_touchdown"]
    for row in found["measures"]:
        assert row["difference"] == pytest.approx(row["simulated"] / row["observed"] - 1)
    assert found["games"] == {"simulated": 64, "observed": 256}


@pytest.mark.parametrize("command", ["simulate", "tendencies"])
def test_a_season_that_was_fitted_is_refused(
    capsys: pytest.CaptureFixture[str], command: str
) -> None:
    code, out, err = run(capsys, command, "--season", "2018")
    assert (code, out) == (2, "")
    assert "fitted on season 2018" in err


def test_too_few_games_are_refused(capsys: pytest.CaptureFixture[str]) -> None:
    code, _, err = run(capsys, "simulate", "--games", "3")
    assert code == 2
    assert "games" in err


def test_points_stand_beside_the_published_ones(capsys: pytest.CaptureFixture[str]) -> None:
    found = document(capsys, "points")
    assert found["mean_absolute_difference"]["nflfastr"]["points"] <= 0.2  # the project's bar
    by_yard = {row["yardline_100"]: row for row in found["rows"]}
    assert by_yard[50]["nflfastr"] == 2.5
    assert by_yard[50]["carter_machol"] is None
    assert len(found["explained"]) == 3
    out = points_text(found)
    assert "nflfastR 2.1.0" in out
    assert f"{by_yard[50]['points']:.2f}" in out


def test_tendencies_are_measured_and_not_used(capsys: pytest.CaptureFixture[str]) -> None:
    found = document(capsys, "tendencies")
    assert found["used"] is False
    assert found["log_loss"] - found["log_loss_with_clubs"] == pytest.approx(found["gain"])


# --- fitting


def test_a_fit_on_few_games_says_what_made_it_and_how_much_it_was_shrunk(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from lensyard.plays import store

    whole = store.load_plays(seasons=[2009], season_type="REG", source="bundled")
    few = whole[whole["game_id"].isin(whole["game_id"].drop_duplicates().head(24))]
    monkeypatch.setattr(store, "load_plays", lambda **_: few)
    path = fit_model(
        seasons=(2009,), model_id="one", folder=tmp_path, prior_path=bundled_model_path(),
        prior_plays=64_000,
    )  # fmt: skip
    manifest = load(path).manifest
    assert manifest.seasons == (2009,)
    assert manifest.source == "bundled"
    assert manifest.prior == load_context().model.model_id
    assert manifest.prior_plays == 64_000
    share = 64_000 / (64_000 + manifest.plays)
    assert f"{share:.0%}" in manifest.note
    assert load_kicks(path).kickoff_yard_line[0] == 30  # as it was in 2009


@pytest.mark.parametrize("name", ["../escape", "", "a/b", ".hidden"])
def test_a_model_id_is_a_plain_file_name(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, name: str
) -> None:
    code, _, err = run(capsys, "fit", "--id", name, "--out", str(tmp_path))
    assert code == 2
    assert "model id" in err
    assert not list(tmp_path.iterdir())


def test_an_unknown_source_is_refused(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    code, _, err = run(
        capsys, "fit", "--id", "x", "--source", "nowhere", "--seasons", "2024", "--out",
        str(tmp_path),
    )  # fmt: skip
    assert code == 2
    assert "source" in err


# --- kicks on fourth down


def test_fourth_and_long_far_back_is_a_punt_and_its_picture_is_downfield() -> None:
    outlook = kick_outlook(Situation(down=4, distance_yd=9, yardline_100=70))
    assert outlook.p_go + outlook.p_punt + outlook.p_field_goal == pytest.approx(1.0, abs=1e-9)
    assert outlook.p_punt > 0.9
    low, middle, high = outlook.punt.down_x_yd
    # A punt nets some 45 yd gross from the line of scrimmage at x = 40 (line of scrimmage to
    # where it comes down; the usual 43 to 48 of professional punters, from memory).
    assert 80 <= middle <= 90
    assert low < middle < high <= 119
    assert sum(outlook.punt.p_result.values()) == pytest.approx(1.0, abs=1e-9)
    assert outlook.model_id == load_context().model.model_id


def test_fourth_and_long_near_the_goal_is_a_field_goal_seven_yards_behind_the_line() -> None:
    outlook = kick_outlook(Situation(down=4, distance_yd=8, yardline_100=18))
    assert outlook.p_field_goal > 0.85
    kick = outlook.field_goal
    assert kick.distance_yd == 18 + 10 + 7
    assert (kick.line_x_yd, kick.kick_x_yd, kick.posts_x_yd) == (92.0, 85.0, 120.0)
    assert 0.85 < kick.p_made < 0.97
    assert 0.0 < kick.p_blocked < 0.05


def test_a_longer_field_goal_is_less_likely_to_be_made() -> None:
    made = [
        kick_outlook(Situation(down=4, distance_yd=5, yardline_100=yard)).field_goal.p_made
        for yard in range(5, 45, 5)
    ]
    assert (np.diff(made) < 0).all()


def test_kicks_of_an_unknown_model_say_where_they_are_read_from(tmp_path: Path) -> None:
    from dataclasses import replace

    from lensyard.features.game_plan.kicks import kicks_of
    from lensyard.model.context import Context

    model = load(bundled_model_path())
    model.manifest = replace(model.manifest, model_id="elsewhere")
    with pytest.raises(ModelError, match="load_kicks"):
        kicks_of(Context(model))
