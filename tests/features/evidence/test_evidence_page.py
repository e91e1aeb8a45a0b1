"""The evidence that is kept: read as it was measured, never computed on the page."""

import json
import shutil
from pathlib import Path

import pytest

from lensyard.model.context import BASE_MODEL
from lensyard.spots.position_rule import best_advice

MODELS = Path(__file__).parents[3] / "models"
SHOW = ("evidence", "show")
PLAN = "plan"


@pytest.fixture
def kept(document):
    return document(*SHOW)


@pytest.fixture
def own(tmp_path):
    """The evidence of a copy of the model: its text, and the command that shows what it became."""
    for ending in ("npz", "json", "evidence.json"):
        shutil.copy(MODELS / f"{BASE_MODEL}.{ending}", tmp_path)
    return tmp_path / f"{BASE_MODEL}.evidence.json", (
        *SHOW, "--model", str(tmp_path / f"{BASE_MODEL}.npz"),
    )  # fmt: skip


def test_what_is_kept_was_measured_with_the_model_in_use_on_a_season_it_has_not_seen(kept):
    assert (kept["fresh"], kept["stale"]) == (True, [])
    assert kept["model_id"] == BASE_MODEL
    assert kept["season"] not in kept["model"]["seasons"]
    assert kept["season"] not in kept["evaluation"]["train_seasons"]
    assert {b["season"] for b in kept["backtests"]} == {kept["season"]}
    assert len(kept["provenance"]["sha256"]) == 64


@pytest.mark.slow
def test_the_page_shows_the_figures_as_they_are_kept(open_page, said, kept):
    app = open_page("evidence")
    assert not app.exception
    text = said(app)
    last = kept["backtests"][-1]
    for policy in last["policies"]:
        assert f"{100 * policy['value_share']:.1f}%" in text
    for scores in kept["evaluation"]["models"]:
        assert f"{scores['crps_yd']:.3f}" in text
    for limit in ("Nobody can foresee left or right", "One season is one draw", *kept["cautions"]):
        assert limit in text
    app.button_group(key="ly_evidence_kit").set_value(0).run()
    assert kept["backtests"][0]["kit"] in said(app)


@pytest.mark.parametrize(
    "content", ["", "{", "[]", '{"format": "other"}', '{"format": "lensyard-evidence"}']
)
def test_a_damaged_file_is_told(own, run, content):
    path, show = own
    path.write_text(content, encoding="utf-8")
    code, out, err = run(*show)
    assert (code != 0, out) == (True, "")
    assert "damaged" in err


def test_without_a_file_it_is_said_how_to_measure(own, run):
    path, show = own
    path.unlink()
    code, _, err = run(*show)
    assert code != 0
    assert "lensyard evidence build" in err


def test_another_build_of_the_model_is_told(own, run):
    path, show = own
    measured = json.loads(path.read_text(encoding="utf-8"))
    measured["model"]["arrays_sha256"] = "0" * 64
    path.write_text(json.dumps(measured), encoding="utf-8")
    code, out, err = run(*show)
    assert code == 0, err
    assert "Measured with another build of the model" in " ".join(out.split())


def test_every_policy_has_a_name_and_the_plan_its_interval(kept, run):
    code, out, _ = run(*SHOW, "--more")
    text = " ".join(out.split())
    assert code == 0
    for found in kept["backtests"]:
        for policy in found["policies"]:
            share, low, high = (100 * policy[key] for key in ("value_share", "low", "high"))
            assert f"{share:.1f}% ({low:.1f}% to {high:.1f}%)" in text
        over = found["plan_over"]["ahead20"]
        assert found["policies"][4]["name"] == PLAN
        assert over["low"] < over["ratio"] < over["high"]
    assert f"That is {over['ratio']:.2f} ({over['low']:.2f} to {over['high']:.2f})" in text
    for name in ("Level with the", "Best two-number", "Best spot, no", "The plan", "Perfect"):
        assert out.count(f"\n{name}") >= len(kept["backtests"])


def test_advice_and_sensitivity_are_kept_with_a_sentence_a_kit(kept, run):
    text = " ".join(run(*SHOW)[1].split())
    assert len(kept["advice"]) == len(kept["sensitivity"]) == len(kept["backtests"]) == 3
    for found in kept["backtests"]:
        name = found["kit"].split(" (")[0]
        assert f"With {name} the best published" in text
        assert f"With {name} the plan brings" in text
        bound = next(p for p in found["policies"] if p["name"] == "unconstrained")["value_share"]
        assert f"With {name} no plan that knows no more has above {bound:.0%}" in text


def test_the_drill_takes_the_advice_that_brought_the_most(kept):
    for advice in kept["advice"]:
        best = next(row for row in advice["rows"] if row["kind"] != "practice")
        rule = best_advice(advice["reach_yd"])
        # Two rules by one place differ in name only.
        assert rule.words == best["best_reading"]
