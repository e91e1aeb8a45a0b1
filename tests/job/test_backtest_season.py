"""The plan on a season that nobody fitted: what it promises, what it walks, what it earns.

The plays are real (2019 regular season of the bundled data); lanes and hash marks are drawn with a
fixed seed. One kit, 70-200 and 300; ``lensyard evidence backtest`` prints the same for any other.
"""

from dataclasses import replace

import numpy as np
import pytest

from lensyard.domain.kit import kit_of
from lensyard.model.context import BASE_MODEL, load_context
from lensyard.planner.plans import PlanRequest
from lensyard.planner.season import backtest_season, play_season
from lensyard.planner.season_data import stored_season

REQUEST = PlanRequest(kit_of(["70-200", "300"]))


@pytest.fixture(scope="module")
def context():
    return load_context(BASE_MODEL)


@pytest.fixture(scope="module")
def result(context):
    return backtest_season(context, REQUEST, season=2019)


@pytest.mark.slow
def test_the_plan_gets_what_it_promised(result):
    by_name = {p.name: p for p in result.policies}
    assert abs(result.p_usable_predicted - by_name["plan"].p_usable) <= 0.015
    for zone in result.zones:
        assert abs(zone.p_usable - zone.p_usable_predicted) <= 0.03, zone.zone


@pytest.mark.slow
def test_the_plan_beats_habit_and_the_best_two_number_rule(result):
    for name, least in (("ahead20", 1.25), ("rule", 1.2), ("greedy", 1.1)):
        ratio, low, _ = result.over[name]
        assert ratio >= least, name
        assert low > 1.1, name


@pytest.mark.slow
def test_no_plan_beats_standing_best_at_every_snap_nor_that_perfect_foresight(result):
    by_name = {p.name: p.value_share for p in result.policies}
    assert by_name["greedy"] < by_name["plan"] < by_name["unconstrained"] < by_name["hindsight"]


@pytest.mark.slow
def test_the_usual_price_keeps_the_walk_short_and_loses_little(result, context):
    by_name = {p.name: p for p in result.policies}
    assert by_name["plan"].walk_yd_per_game <= 2000
    free = replace(REQUEST, walks=replace(REQUEST.walking, price_per_yd=0.0))
    played = play_season(context, free, stored_season(context, 2019))
    season_data = played.season_data
    without = season_data.value_share(played.plan.station_index)
    assert by_name["plan"].value_share >= 0.96 * without


def test_the_hash_marks_of_a_replay_are_those_of_real_snaps(context):
    # Measured lateral tables, 2022-2025: runs and passes start left .456, middle .092, right .452.
    # The chain is drawn, its long run comes from the lateral prior: within .02 for the middle,
    # .015 for the sides (32,000 plays; standard error .003).
    replay = stored_season(context, 2019).replay()
    left, middle, right = np.bincount(replay.batch.hash_code, minlength=3) / len(replay)
    assert left == pytest.approx(0.456, abs=0.015)
    assert middle == pytest.approx(0.092, abs=0.02)
    assert right == pytest.approx(0.452, abs=0.015)
