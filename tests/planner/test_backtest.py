"""A backtest on part of a season."""

import pytest
from tests.support.part_of_season import part_of_season

from lensyard.domain.kit import kit_of
from lensyard.errors import InvalidInputError
from lensyard.model.context import BASE_MODEL, load_context
from lensyard.planner.plans import PlanRequest
from lensyard.planner.season import backtest, backtest_season

CONTEXT = load_context(BASE_MODEL)
REQUEST = PlanRequest(kit_of(["70-200", "300"]), step_yd=4.0)


@pytest.mark.slow
def test_a_backtest_orders_the_policies_as_they_must_be(tmp_path, monkeypatch):
    monkeypatch.setenv("LENSYARD_CACHE_DIR", str(tmp_path))
    result = backtest(CONTEXT, REQUEST, part_of_season(games=48, training_games=24))
    by_name = {p.name: p for p in result.policies}
    assert {"plan", "greedy", "rule", "ahead20", "level", "hindsight"} < set(by_name)
    # what perfect foresight could do under the same limits bounds everything
    assert all(p.value_share <= by_name["hindsight"].value_share for p in result.policies)
    assert by_name["plan"].value_share > by_name["greedy"].value_share
    assert result.over["ahead20"][1] > 1.1  # the lower end of the interval
    assert result.over["rule"][1] > 1.1
    # 1.5 points: the measured bar of the project; 48 games have a standard error near 0.6
    assert result.p_usable_predicted == pytest.approx(by_name["plan"].p_usable, abs=0.015)
    assert all(p.low <= p.value_share <= p.high for p in result.policies)


def test_a_season_that_was_fitted_cannot_be_backtested():
    with pytest.raises(InvalidInputError, match="fitted on season 2017"):
        backtest_season(CONTEXT, REQUEST, season=2017)
