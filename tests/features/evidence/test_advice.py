"""``lensyard evidence advice`` and ``sensitivity``: published advice beside the plan."""

import json

import numpy as np
import pytest
from tests.support.logs import run
from tests.support.part_of_season import part_of_season

from lensyard.domain.kit import DEMO_KIT
from lensyard.features.evidence.advice_report import sensitivity_report
from lensyard.features.evidence.kept import scenarios
from lensyard.planner import season_data
from lensyard.planner.plans import PlanRequest
from lensyard.spots.position_rule import steps_toward


@pytest.fixture(scope="module")
def table(tmp_path_factory):
    """What playing six games again finds, as the command says it."""
    from click.testing import CliRunner

    from lensyard.cli import group

    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("LENSYARD_CACHE_DIR", str(tmp_path_factory.mktemp("plans")))
        games = part_of_season(games=6, training_games=3)
        patch.setattr(season_data, "stored_season", lambda *_: games)
        said = CliRunner().invoke(
            group, ["evidence", "advice", "--again", "--json"], catch_exceptions=False
        )
    (found,) = json.loads(said.stdout)["kits"]
    return found


@pytest.fixture
def kept(document):
    """What is kept of the reference kits: played over the whole season when the model was made."""
    return lambda command: document("evidence", command, "--reference-kits")["kits"]


def test_at_least_twelve_rules_are_published_and_say_where(kept):
    for found in kept("advice"):
        published = [row for row in found["rows"] if row["kind"] != "practice"]
        assert len(published) >= 12
        assert all(row["source"] and "." in row["address"] for row in published)
        assert len({row["id"] for row in found["rows"]}) == len(found["rows"])


@pytest.mark.slow
def test_every_rule_has_its_figure_its_interval_its_rank_and_both_readings(table, kept):
    assert {row["id"] for row in table["rows"]} == {row["id"] for row in kept("advice")[2]["rows"]}
    assert [row["rank"] for row in table["rows"]] == list(range(1, len(table["rows"]) + 1))
    shares = [row["best"]["value_share"] for row in table["rows"]]
    assert shares == sorted(shares, reverse=True)
    for row in table["rows"]:
        assert row["best"]["low"] <= row["best"]["value_share"] <= row["best"]["high"]
        assert row["literal"]["value_share"] <= row["best"]["value_share"] + 1e-9
        assert row["median_value_share"] <= row["best"]["value_share"] + 1e-9
        assert row["plan_over"][0] <= row["plan_over_literal"][0] + 1e-9
    beside = {one["name"]: one for one in table["beside"]}
    assert beside["plan"]["value_share"] < beside["unconstrained"]["value_share"]
    assert beside["plan"]["value_share"] < beside["hindsight"]["value_share"]
    assert beside["fixed"]["walk_yd_per_game"] == 0.0


def test_steps_never_pass_a_closed_way():
    walk = np.array([[0.0, 1.0, np.inf], [1.0, 0.0, np.inf], [np.inf, np.inf, 0.0]])
    assert steps_toward(walk, walk <= 5.0).tolist() == [[0, 1, 0], [0, 1, 1], [2, 2, 2]]


def test_the_text_says_a_sentence_a_kit_with_sources(capsys):
    code, out, _ = run(capsys, "evidence", "advice", "--more")
    text = " ".join(out.split())
    assert code == 0
    assert text.startswith("With 70-200 + 400 the best published advice has")
    assert "photographyroundtable.com" in text
    assert "Caution: A spot that is allowed is not a spot that is safe." in text


def test_a_season_that_the_model_has_seen_proves_nothing(capsys):
    code, out, err = run(capsys, "evidence", "advice", "--season", "2018")
    assert (code, out) == (2, "")
    assert "not seen" in err


def test_every_assumption_is_varied_and_the_usual_one_is_among_its_levels(kept):
    for found in kept("sensitivity"):
        levels = {}
        for lead in found["leads"]:
            levels.setdefault(lead["assumption"], []).append(lead)
        assert set(levels) == {
            "Facing", "Crop margin", "Setback", "Pace", "Weights", "End line open",
        }  # fmt: skip
        for some in levels.values():
            assert len({lead["level"] for lead in some}) == len(some) > 1
            assert sum(lead["usual"] for lead in some) == 1


def test_what_is_varied_now_is_what_was_varied_then(kept):
    request = PlanRequest(DEMO_KIT)
    found = list(scenarios(request))
    then = {(lead["assumption"], lead["level"]) for lead in kept("sensitivity")[2]["leads"]}
    assert {(assumption, level) for assumption, level, _ in found} == then
    for assumption in {assumption for assumption, _, _ in found}:
        requests = [one for name, _, one in found if name == assumption]
        assert len(set(map(str, requests))) == len(requests)
        if assumption != "Setback":  # both setbacks are moved together
            assert request in requests


def test_where_the_lead_vanishes_the_report_says_so(kept):
    (found, *_) = kept("sensitivity")
    usual = [lead for lead in found["leads"] if lead["usual"]]
    held = sensitivity_report([found | {"leads": usual}])
    assert "vanishes under none" in held.headline
    jog = {"assumption": "Pace", "level": "jog", "usual": False, "over": [1.0, 0.98, 1.02]}
    report = sensitivity_report([found | {"leads": [*usual, usual[0] | jog]}])
    assert "vanishes with pace jog" in report.headline
