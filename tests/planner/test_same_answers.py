"""The fast ways to play a season against the plain ones, over a whole season."""

from __future__ import annotations

import numpy as np
import pytest

from lensyard.arrays import Float32Array
from lensyard.domain.assignment import Assignment, OutcomeWeights
from lensyard.domain.kit import kit_of
from lensyard.domain.venue import standard_venue
from lensyard.model.choice import BASE_MODEL
from lensyard.model.context import load_context
from lensyard.model.lateral import LateralPrior
from lensyard.model.outcome import Forecast
from lensyard.planner import season_data
from lensyard.planner.plans import PlanRequest
from lensyard.planner.season import play_season
from lensyard.planner.season_data import stored_season
from lensyard.planner.simulate import score, simulate_rules
from lensyard.spots.position_rule import PositionRule
from lensyard.spots.scorer import Scorer

REQUEST = PlanRequest(kit_of(["70-200", "300"]), standard_venue(), Assignment(), step_yd=4.0)


def by_masses(
    scorer: Scorer, forecast: Forecast, prior: LateralPrior, *weights: OutcomeWeights
) -> Float32Array:
    """`expected_values` by the masses of every situation in every cell, in double precision."""
    found = np.empty((len(weights), len(forecast), len(scorer.perimeter)), dtype=np.float32)
    paths = [
        (one.reach_from.T.astype(float), one.missed_from.T.astype(float), one.gaps)
        for one in scorer.paths
    ]
    for rows in np.array_split(np.arange(len(forecast)), 1 + len(forecast) // 1000):
        for w, masses in enumerate(forecast.take(rows).cells(prior, *weights)):
            ends, starts = masses.ends.astype(float), masses.starts.astype(float)
            each = [ends @ reach - starts @ missed for reach, missed, _ in paths]
            for one, (_, _, gaps) in zip(each, paths, strict=True):
                gaps.take_off(one, masses)
            found[w, rows] = np.maximum(np.max(each, axis=0), 0.0)
    return found


@pytest.mark.slow
def test_a_season_by_tables_is_the_season_by_masses(monkeypatch: pytest.MonkeyPatch) -> None:
    """Values differ by single precision; what the plan brings over a season does not."""
    context = load_context(BASE_MODEL)
    plays = stored_season(context)
    fast = play_season(context, REQUEST, plays)
    monkeypatch.setattr(season_data, "expected_values", by_masses)
    plain = play_season(context, REQUEST, plays)
    assert fast.expected.usable == pytest.approx(plain.expected.usable, abs=2e-6)
    assert (fast.plan.station_index == plain.plan.station_index).all()
    first, second = (score(one.season_data, one.plan, name="plan") for one in (fast, plain))
    assert first.value_share == pytest.approx(second.value_share, abs=1e-9)
    assert first.walk_yd_per_game == pytest.approx(second.walk_yd_per_game, abs=1e-9)


@pytest.mark.slow
def test_rules_that_walk_together_walk_as_each_does_alone() -> None:
    context = load_context(BASE_MODEL)
    data = play_season(context, REQUEST, stored_season(context)).season_data
    rules = [PositionRule(k, z) for k in (-5.0, 0.0, 20.0) for z in (0, 20)]
    together = simulate_rules(data, rules)
    for rule, trace in zip(rules, together, strict=True):
        (alone,) = simulate_rules(data, (rule,))
        assert (trace.station_index == alone.station_index).all()
        assert (trace.walk_yd == alone.walk_yd).all()
