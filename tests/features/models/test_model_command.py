"""``lensyard model``: every subcommand, its document and its refusals."""

import json
from contextlib import suppress
from functools import cache

import numpy as np
import pytest
from tests.support.play_file_shapes import college_sql, nflverse_sql
from tests.support.play_files import invented, take, write_query

from lensyard.cli import main
from lensyard.domain.kit import DEMO_KIT
from lensyard.domain.situation import Situation, SituationBatch
from lensyard.errors import DataError
from lensyard.features.models import compute
from lensyard.model import artifact
from lensyard.model.context import BASE_MODEL, RULE_MODELS, load_context, model_path
from lensyard.planner.plans import PlanRequest
from lensyard.plays.store import load_plays


def run(capsys, *arguments):
    try:
        main(["model", *arguments])
        code = 0
    except SystemExit as stop:
        code = int(stop.code or 0)
    captured = capsys.readouterr()
    return code, captured.out, captured.err


def document(capsys, *arguments):
    code, out, _ = run(capsys, *arguments, "--json")
    assert code == 0, out
    found = json.loads(out)
    assert found["schema_version"] == 2
    assert found["model"]["id"] == load_context().model.model_id
    assert isinstance(found["cautions"], list)
    return found


def test_info_says_what_made_the_model_and_for_which_level(capsys):
    found = document(capsys, "info")
    manifest = artifact.load_manifest(model_path("pro"))
    assert found["model"]["data_sha256"] == manifest.data_sha256
    assert found["has_kicks"]
    assert "professional games" in found["cautions"][0]
    _, out, _ = run(capsys, "info")
    for fact in (
        manifest.model_id, "2009-2018", manifest.data_sha256, manifest.license, "numpy",
        "professional games", "seed 0",
    ):  # fmt: skip
        assert fact in " ".join(out.split())


# --- fitting


@pytest.mark.slow
def test_a_fit_on_few_games_says_what_made_it_and_how_much_it_was_shrunk(tmp_path):
    whole = season()
    few = whole[whole["game_id"].isin(whole["game_id"].drop_duplicates().head(24))]
    path = compute.fit_model(
        (2009,),
        plays=few,
        model_id="one",
        folder=tmp_path,
        prior_path=model_path(BASE_MODEL),
        prior_plays=64_000,
    )
    manifest = artifact.load(path).manifest
    assert manifest.seasons == (2009,)
    assert manifest.source == "bundled"
    assert manifest.prior == BASE_MODEL
    assert manifest.prior_plays == 64_000
    share = 64_000 / (64_000 + manifest.plays)
    assert f"{share:.0%}" in manifest.note
    assert artifact.load_kicks(path).kickoff_yard_line[0] == 30  # as it was in 2009


@pytest.mark.parametrize("name", ["../escape", "", "a/b", ".hidden"])
def test_a_model_id_is_a_plain_file_name(capsys, tmp_path, name):
    code, _, err = run(capsys, "fit", "--id", name, "--out", str(tmp_path))
    assert code == 2
    assert "model id" in err
    assert not list(tmp_path.iterdir())


def test_an_unknown_source_is_refused(capsys, tmp_path):
    code, _, err = run(
        capsys, "fit", "--id", "x", "--source", "nowhere", "--seasons", "2024", "--out",
        str(tmp_path),
    )  # fmt: skip
    assert code == 2
    assert "source" in err


# --- what plays cannot tell


@cache
def season():
    return load_plays(seasons=[2009], season_type="REG", source="bundled")


def chart(plays):
    """The charted plays of a school: no air yards, scrambles, interceptions, kicks or clock."""
    whole = season()
    whole = whole[whole["kind"].isin(("run", "complete", "incomplete", "sack"))]
    few = whole.head(plays).copy()
    few["air_yd"] = few["after_catch_yd"] = np.nan
    few["clock_s"] = np.nan
    for name in ("out_of_bounds", "turnover", "penalty", "kick_result", "drive_end"):
        few[name] = None
    return few


@pytest.mark.parametrize("plays", [100, 150])
def test_a_small_chart_moves_the_prior_a_little_and_says_what_is_the_priors(tmp_path, plays):
    path = compute.fit_model(
        (2009,),
        plays=chart(plays),
        model_id="school",
        folder=tmp_path,
        level="high-school",
        shrink=True,
    )
    model, base = artifact.load(path), artifact.load(model_path(RULE_MODELS["college"]))
    for part in (
        "scrambles", "interceptions", "yards in the air", "out of bounds", "lost fumbles",
        "fourth downs", "how drives end", "punts", "kickoffs", "field goals", "tries",
    ):  # fmt: skip
        assert part in model.manifest.from_prior
    grid = load_context().transition().grid.batch()
    ours, theirs = model.forecast(grid), base.forecast(grid)
    moved = np.abs(ours.p_kind - theirs.p_kind).max()
    assert 0.001 < moved < 0.2
    # Without kicks no drive ends in one: the ends are the prior's.
    np.testing.assert_allclose(ours.p_drive_end, theirs.p_drive_end, atol=1e-3)
    np.testing.assert_allclose(ours.p_drive_end.sum(axis=1), 1.0)
    outside = (grid.yardline_100 > 5) & (grid.down < 4)  # a punt on 4th and long is all but sure
    assert ours.p_drive_end[outside].max() < 0.95
    np.testing.assert_allclose(ours.p_fourth_down_choice, theirs.p_fourth_down_choice, atol=1e-3)
    # A scramble counts as a run there; its ratio to the other dropbacks stays the prior's.
    ratio = [f.p_kind[:, 4] / (1.0 - f.p_kind[:, 0] - f.p_kind[:, 4]) for f in (ours, theirs)]
    np.testing.assert_allclose(np.median(ratio[0] / ratio[1]), 1.0, atol=0.25)
    old, new = artifact.load_kicks(model_path(RULE_MODELS["college"])), artifact.load_kicks(path)
    np.testing.assert_allclose(new.punt_result, old.punt_result, atol=1e-3)


@pytest.mark.slow
def test_bundled_and_imported_seasons_make_one_model(tmp_path, monkeypatch):
    monkeypatch.setenv("LENSYARD_DATA_DIR", str(tmp_path))
    season = write_query(nflverse_sql(invented()), tmp_path / "season.parquet")
    report = take(season)
    path = compute.fit_model(
        (2018, 2031), sources=("bundled", "nflverse"), model_id="both", folder=tmp_path
    )
    manifest = artifact.load_manifest(path)
    assert manifest.seasons == (2018, 2031)
    assert manifest.source == "bundled; nflverse"
    assert 30_000 < manifest.plays < 33_000 + report.kept
    assert compute.fit_model(
        (2031,), model_id="late", folder=tmp_path
    ).exists()  # found by its year


@pytest.mark.slow
def test_seasons_that_lack_much_are_fitted_and_keep_the_priors_drives(tmp_path, monkeypatch):
    """A college season; and a professional one that does not say what became of its kicks."""
    monkeypatch.setenv("LENSYARD_DATA_DIR", str(tmp_path))
    without = ("field_goal_result", "extra_point_result", "touchback", "air_yards", "out_of_bounds",
               "return_touchdown")  # fmt: skip
    no_kicks = f"SELECT * EXCLUDE ({', '.join(without)}) FROM ({nflverse_sql(invented())})"
    take(write_query(no_kicks, tmp_path / "pro.parquet"))
    take(write_query(college_sql(invented(season=2032)), tmp_path / "college.parquet"))
    late = Situation(down=3, distance_yd=7, yardline_100=25)
    for source, prior in (("nflverse", "pro"), ("sportsdataverse", "college")):
        path = compute.fit_model(model_id=f"from-{source}", folder=tmp_path, sources=(source,))
        model, before = artifact.load(path), artifact.load(model_path(prior))
        assert {"yards in the air"} <= set(model.manifest.from_prior)
        ours, theirs = (m.forecast(SituationBatch.of([late])).p_drive_end[0] for m in
                        (model, before))  # fmt: skip
        np.testing.assert_allclose(ours, theirs, atol=0.1)
        assert ours[1] > 0.3  # field goals


def test_too_few_plays_are_refused_before_anything_is_fitted(tmp_path):
    with pytest.raises(DataError, match="40 plays are too few"):
        compute.fit_model((2009,), plays=chart(40), model_id="school", folder=tmp_path, shrink=True)
    runs = chart(600).query("kind == 'run'")
    with pytest.raises(DataError, match="no complete"):
        compute.fit_model((2009,), plays=runs, model_id="school", folder=tmp_path, shrink=True)
    assert not list(tmp_path.iterdir())


def test_a_fit_can_be_cancelled_and_leaves_nothing(tmp_path):
    steps: list[str] = []

    def cancel(text):
        steps.append(text)
        if len(steps) == 2:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        compute.fit_model(
            (2009,), plays=chart(150), model_id="school", folder=tmp_path, shrink=True,
            progress=cancel,
        )  # fmt: skip
    assert not list(tmp_path.iterdir())


# --- choosing


@pytest.fixture
def school(tmp_path, monkeypatch):
    """A fitted model among one's own, in folders of one's own."""
    for variable in ("LENSYARD_DATA_DIR", "LENSYARD_CONFIG_DIR"):
        monkeypatch.setenv(variable, str(tmp_path / variable.lower()))
    return compute.fit_model((2009,), plays=chart(150), model_id="school", level="high-school",
                             shrink=True)  # fmt: skip


def answer(capsys, *more):
    try:
        main(["next", "--down", "3", "--distance", "7", "--ball", "opp35", *more])
        code = 0
    except SystemExit as stop:
        code = int(stop.code or 0)
    captured = capsys.readouterr()
    return code, captured.out, captured.err


def test_a_chosen_model_answers_everywhere_until_it_is_left_to_the_rules(
    school, capsys, monkeypatch
):
    def used(*more):
        code, out, err = answer(capsys, "--json", *more)
        assert code == 0, err
        return str(json.loads(out)["model"]["id"])

    assert used() == RULE_MODELS["pro"]
    assert used("--rules", "high-school") == RULE_MODELS["high-school"]
    assert used("--model", "school") == "school"
    assert run(capsys, "use", "school")[0] == 0
    assert used() == "school"
    assert load_context().model.model_id == "school"
    assert used("--model", BASE_MODEL) == BASE_MODEL
    monkeypatch.setenv("LENSYARD_MODEL", BASE_MODEL)
    assert used() == BASE_MODEL
    monkeypatch.delenv("LENSYARD_MODEL")
    _, out, _ = answer(capsys, "--more")
    said = " ".join(out.split())
    assert "Model school: 150 high-school plays" in said
    assert "yards in the air" in said
    _, out, _ = answer(capsys, "--more", "--rules", "high-school", "--model", BASE_MODEL)
    assert "those of college games until you fit your own" in " ".join(out.split())
    assert run(capsys, "use", "--rules")[0] == 0
    assert used() == RULE_MODELS["pro"]


def test_every_command_that_answers_takes_a_model(capsys):
    for command in (
        "next", "plan", "sheet", "card", "gear", "crew", "drill", "review", "zones",
        "evidence evaluate", "evidence backtest", "evidence simulate", "evidence points",
    ):  # fmt: skip
        with suppress(SystemExit):
            main([*command.split(), "--help"])
        assert "--model" in capsys.readouterr().out, command


@pytest.mark.parametrize("damage", ["gone", "damaged"])
def test_a_chosen_model_whose_file_is_not_whole_is_an_error_not_another_model(
    school, capsys, damage
):
    assert run(capsys, "use", "school")[0] == 0
    if damage == "gone":
        school.unlink()
    else:
        school.write_bytes(school.read_bytes()[:-1])
    code, out, err = answer(capsys)
    assert code != 0
    assert not out
    assert "school" in err
    assert "`lensyard model use" in err
    assert "Traceback" not in err


def test_plans_of_two_models_are_kept_apart(school):
    request = PlanRequest(DEMO_KIT)
    keys = {
        request.key(load_context(name).model.manifest.arrays_sha256)
        for name in ("school", BASE_MODEL)
    }
    assert len(keys) == 2
