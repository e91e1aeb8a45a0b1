"""The evidence that is kept: read as it was measured, never computed on the page."""

import json
from typing import Any

import pytest

from lensyard.cli import main
from lensyard.errors import DataError
from lensyard.features.evidence.advice_report import LIMITS, evidence_report
from lensyard.features.evidence.kept import evidence_path, read_evidence
from lensyard.features.evidence.report import POLICY_TITLES, SAFETY, backtest_report
from lensyard.model.choice import BASE_MODEL
from lensyard.model.context import load_context
from lensyard.planner.season import POLICIES
from lensyard.render.report import Interval
from lensyard.render.text import render_text
from lensyard.spots.position_rule import best_advice


@pytest.fixture
def document():
    found: dict[str, Any] = json.loads(
        evidence_path(load_context(BASE_MODEL)).read_text(encoding="utf-8")
    )
    return found


def test_what_is_kept_was_measured_with_the_model_in_use():
    assert read_evidence(load_context(BASE_MODEL)).fresh


def test_the_season_was_not_fitted_on(document):
    assert document["season"] not in document["model"]["seasons"]
    assert document["season"] not in document["evaluation"]["train_seasons"]
    assert {b["season"] for b in document["backtests"]} == {document["season"]}


@pytest.mark.slow
def test_the_page_shows_the_figures_as_they_are_kept(open_page, said, document):
    app = open_page("evidence")
    assert not app.exception
    text = said(app)
    last = document["backtests"][-1]
    for policy in last["policies"]:
        assert f"{100 * policy['value_share']:.1f}%" in text
    for scores in document["evaluation"]["models"]:
        assert f"{scores['crps_yd']:.3f}" in text
    for limit in (*LIMITS, SAFETY):
        assert limit in text
    app.button_group(key="ly_evidence_kit").set_value(0).run()
    first = document["backtests"][0]
    assert first["kit"] in said(app)


def test_the_command_says_the_same(document, capsys):
    main(["evidence", "show", "--json"])
    shown = json.loads(capsys.readouterr().out)
    assert shown["backtests"] == document["backtests"]
    main(["evidence", "show"])
    out = capsys.readouterr().out
    for policy in document["backtests"][0]["policies"]:
        assert f"{100 * policy['value_share']:.1f}%" in out


@pytest.mark.parametrize(
    "content", ["", "{", "[]", '{"format": "other"}', '{"format": "lensyard-evidence"}']
)
def test_a_damaged_file_is_told(tmp_path, content):
    path = tmp_path / "evidence.json"
    path.write_text(content, encoding="utf-8")
    with pytest.raises(DataError, match="damaged"):
        read_evidence(load_context(BASE_MODEL), path=path)


def test_without_a_file_it_is_said_how_to_measure(tmp_path):
    with pytest.raises(DataError, match="lensyard evidence build"):
        read_evidence(load_context(BASE_MODEL), path=tmp_path / "none.json")


def test_another_build_of_the_model_is_told(tmp_path, document):
    document["model"]["arrays_sha256"] = "0" * 64
    path = tmp_path / "evidence.json"
    path.write_text(json.dumps(document), encoding="utf-8")
    found = read_evidence(load_context(BASE_MODEL), path=path)
    assert not found.fresh
    assert "another build of the model" in " ".join(evidence_report(found, (0,)).sentences)


def test_every_policy_has_a_name_and_the_plan_its_interval(document):
    assert set(POLICIES) == set(POLICY_TITLES)
    for found in document["backtests"]:
        assert [policy["name"] for policy in found["policies"]] == list(POLICIES)
        report = backtest_report(found)
        shares = report.table("policies").column("value_share")
        plan = found["policies"][POLICIES.index("plan")]
        expected = Interval(plan["value_share"], plan["low"], plan["high"])
        assert shares[POLICIES.index("plan")] == expected
        assert SAFETY in render_text(report, width=400, brief=True)
        ratio = found["plan_over"]["ahead20"]["ratio"]
        assert f"{ratio:.2f}" in report.sentences[0]


def test_a_backtest_that_was_kept_reads_like_one_that_is_made_now(document):
    kept = evidence_report(read_evidence(load_context(BASE_MODEL)), (1,))
    made = backtest_report(document["backtests"][1])
    assert kept.headline == made.headline
    assert kept.table("policies_1").rows == made.table("policies").rows
    assert kept.table("zones") == made.table("zones")


def test_advice_and_sensitivity_are_kept_with_a_sentence_and_a_chart_a_kit(document):
    evidence = read_evidence(load_context(BASE_MODEL))
    assert len(evidence.advice) == len(evidence.sensitivity) == len(evidence.kits)
    report = evidence_report(evidence, (0, 1, 2))
    for kit, advice, leads in zip(
        evidence.kits, evidence.advice, evidence.sensitivity, strict=True
    ):
        name = kit.split(" (")[0]
        assert any(s.startswith(f"With {name} the best published") for s in report.sentences)
        assert any(s.startswith(f"With {name} the plan brings") for s in report.sentences)
        assert sum(chart.title.endswith(kit) for chart in report.charts) >= 2
        assert all(row["best"]["low"] <= row["best"]["value_share"] for row in advice["rows"])
        assert {lead["assumption"] for lead in leads["leads"]} == {
            "Facing", "Crop margin", "Setback", "Pace", "Weights", "End line open",
        }  # fmt: skip
    model = document["model"]["seasons"]
    assert document["season"] not in model
    assert len(document["provenance"]["sha256"]) == 64


def test_the_drill_takes_the_advice_that_brought_the_most():
    for advice in read_evidence(load_context(BASE_MODEL)).advice:
        best = next(row for row in advice["rows"] if row["kind"] != "practice")
        rule = best_advice(advice["reach_yd"])
        # Two rules by one place differ in name only.
        assert rule.words == best["best_reading"]
