"""Published advice played over games beside the plan."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from tests.support.part_of_season import part_of_season

from lensyard.domain.kit import kit_of
from lensyard.domain.perimeter import perimeter_of
from lensyard.errors import InvalidInputError
from lensyard.features.evidence.advice import (
    advice_table,
    published_advice,
    readings_of,
    walked,
)
from lensyard.features.evidence.advice_report import (
    BESIDE_TITLES,
    advice_report,
    sensitivity_report,
)
from lensyard.features.evidence.sensitivity import Lead, Sensitivity, scenarios
from lensyard.model.context import load_context
from lensyard.planner.plans import PlanRequest, scorers_of
from lensyard.planner.season_data import season_data_of
from lensyard.planner.simulate import rule_targets, simulate_policy, simulate_rules
from lensyard.planner.solve import ends_from
from lensyard.planner.walks import UNLIMITED_YD
from lensyard.render.text import document
from lensyard.spots.position_rule import AHEAD_20, LEVEL, PositionRule, steps_toward

REQUEST = PlanRequest(kit_of(["70-200", "400"]), step_yd=6.0)
GAMES = part_of_season(games=6, training_games=3)


@pytest.fixture(autouse=True, scope="module")
def _plans(tmp_path_factory):
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("LENSYARD_CACHE_DIR", str(tmp_path_factory.mktemp("plans")))
        yield


@cache
def season_data():
    perimeter = perimeter_of(REQUEST.venue, step_yd=REQUEST.step_yd)
    scorers = scorers_of(perimeter, REQUEST.kit, REQUEST.assignment)
    return season_data_of(GAMES.replay(), scorers, REQUEST.assignment, REQUEST.walking)


@pytest.fixture(scope="module")
def table(_plans):
    return advice_table(load_context(), REQUEST, GAMES)


def test_at_least_twelve_rules_are_published_and_say_where():
    published = [advice for advice in published_advice() if advice.kind != "practice"]
    assert len(published) >= 12
    assert all(advice.source and "." in advice.address for advice in published)
    assert len({advice.id for advice in published_advice()}) == len(published_advice())


@pytest.mark.slow
def test_every_rule_has_its_figure_its_interval_its_rank_and_both_readings(table):
    assert {row.advice.id for row in table.rows} == {advice.id for advice in published_advice()}
    assert [row.rank for row in table.rows] == list(range(1, len(table.rows) + 1))
    shares = [row.best.value_share for row in table.rows]
    assert shares == sorted(shares, reverse=True)
    for row in table.rows:
        assert row.best.low <= row.best.value_share <= row.best.high
        assert row.literal.value_share <= row.best.value_share + 1e-9
        assert row.median_value_share <= row.best.value_share + 1e-9
        assert row.plan_over[0] <= row.plan_over_literal[0] + 1e-9
    beside = {one.name: one for one in table.beside}
    assert set(beside) == set(BESIDE_TITLES)
    assert beside["plan"].value_share < beside["unconstrained"].value_share
    assert beside["plan"].value_share < beside["hindsight"].value_share
    assert beside["fixed"].walk_yd_per_game == 0.0


@pytest.mark.slow
def test_many_rules_at_once_walk_as_each_does_alone():
    data = season_data()
    rules = (LEVEL, AHEAD_20, PositionRule(30.0, 35, in_from_pylon_yd=18.0))
    for rule, trace in zip(rules, simulate_rules(data, rules), strict=True):
        (wanted,) = rule_targets(data, (rule,))
        y = data.scorers[0].xy_yd[1]
        on_left = (y > float(np.mean(y))).astype(int)

        def alone(rows, here, limit_yd, wanted=wanted, on_left=on_left):  # type: ignore[no-untyped-def]
            toward_a = data.toward_a[rows].astype(int)
            target = wanted[rows, on_left[here]]
            chosen = []
            for side, start, goal, limit in zip(toward_a, here, target, limit_yd, strict=True):
                scorer = data.scorers[side]
                walk = scorer.walk_yd
                ends = (
                    scorer.open
                    if limit >= UNLIMITED_YD
                    else ends_from(walk, scorer.open, np.array([start]), limit_yd=limit)[0]
                )
                near = np.flatnonzero(ends)
                away = walk[goal, near] + 1e-6 * walk[start, near]
                chosen.append(near[away.argmin()] if np.isfinite(away).any() else start)
            return np.array(chosen)

        one = simulate_policy(data, alone)
        assert (one.station_index == trace.station_index).all()
        assert one.walk_yd == pytest.approx(trace.walk_yd)


@pytest.mark.slow
def test_each_rule_is_taken_literally_once_and_small_steps_are_small():
    data = season_data()
    for reach_yd in (20.0, 40.0):
        readings = readings_of(data, reach_yd=reach_yd)
        for name, some in readings.items():
            assert sum(reading.literal for reading in some) == 1, name
    feet = walked(data, readings["small-steps"])
    free = data.replay.free_move
    # Off closed ground one always gets to the next station, 6 yd on.
    assert max(float(trace.walk_yd[~free].max()) for trace in feet) <= 20 / 3 + REQUEST.step_yd


def test_steps_never_pass_a_closed_way():
    walk = np.array([[0.0, 1.0, np.inf], [1.0, 0.0, np.inf], [np.inf, np.inf, 0.0]])
    assert steps_toward(walk, walk <= 5.0).tolist() == [[0, 1, 0], [0, 1, 1], [2, 2, 2]]


@pytest.mark.slow
def test_the_report_says_a_sentence_a_kit_with_sources_and_one_chart(table):
    report = advice_report([document(table)])
    assert report.headline.startswith("With 70-200 + 400 the best published advice has")
    assert len(report.charts) == 1
    bounds = dict(report.tables[0].rows)
    plan = bounds["The plan"].value
    assert bounds["Best fixed place"].value < plan < bounds["Perfect hindsight"].value
    assert bounds["The plan over anywhere at once"] == plan / bounds["Anywhere at once"].value < 1.0
    (sources,) = (section.lines for section in report.sections)
    assert any("photographyroundtable.com" in line for line in sources)
    assert report.cautions


def test_a_season_that_the_model_has_seen_proves_nothing():
    with pytest.raises(InvalidInputError, match="not seen"):
        advice_table(load_context(), REQUEST, replace(GAMES, held_out=False))


def test_every_assumption_is_varied_and_the_usual_one_is_among_its_levels():
    found = list(scenarios(REQUEST))
    assumptions = {assumption for assumption, _, _ in found}
    assert assumptions == {"Facing", "Crop margin", "Setback", "Pace", "Weights", "End line open"}
    for assumption in assumptions:
        requests = [request for name, _, request in found if name == assumption]
        assert len(set(map(str, requests))) == len(requests)
        if assumption != "Setback":  # both setbacks are moved together
            assert REQUEST in requests


def test_where_the_lead_vanishes_the_report_says_so():
    leads = (
        Lead("Facing", "75 degrees", True, 0.5, 0.4, "rule", (1.25, 1.2, 1.3)),
        Lead("Pace", "jog", False, 0.5, 0.5, "rule", (1.0, 0.98, 1.02)),
    )
    found = Sensitivity(
        "key", 2019, "400 (1 body)", "any field", "plain", 4.0, leads, load_context().model_facts()
    )
    report = sensitivity_report([document(found)])
    assert "vanishes with pace jog" in report.headline
    held = sensitivity_report([document(replace(found, leads=leads[:1]))])
    assert "vanishes under none" in held.headline
