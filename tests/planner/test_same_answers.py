"""The fast ways to play a season against the plain ones, over a whole season."""

from functools import cache

import numpy as np
import pytest
from tests.support.part_of_season import part_of_season

from lensyard.domain.assignment import Assignment
from lensyard.domain.kit import kit_of
from lensyard.domain.venue import standard_venue
from lensyard.model.context import BASE_MODEL, load_context
from lensyard.model.outcome_grid import state_index
from lensyard.model.transition import (
    PENALTY_MOVES,
    TransitionModel,
    moved_by_penalty,
    penalty_zone,
)
from lensyard.planner import season_data
from lensyard.planner.plans import PlanRequest
from lensyard.planner.season import play_season
from lensyard.planner.season_data import stored_season
from lensyard.planner.simulate import rule_targets, score, simulate_policy, simulate_rules
from lensyard.planner.solve import choose_many
from lensyard.planner.walks import ends_of
from lensyard.spots.position_rule import PositionRule
from lensyard.spots.visibility import geometry_of

REQUEST = PlanRequest(kit_of(["70-200", "300"]), standard_venue(), Assignment(), step_yd=4.0)


def by_masses(scorer, forecast, prior, *weights):
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
def test_a_season_by_tables_is_the_season_by_masses(monkeypatch):
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
def test_rules_that_walk_together_walk_as_each_does_alone():
    """Beside a walk written out here: the station within the limit that is nearest to the goal."""
    context = load_context(BASE_MODEL)
    data = play_season(context, REQUEST, part_of_season(games=4, training_games=2)).season_data
    rules = [PositionRule(k, z) for k in (-5.0, 0.0, 20.0) for z in (0, 20)]
    y = data.scorers[0].xy_yd[1]
    on_left, within = (y > float(np.mean(y))).astype(int), cache(ends_of)
    for rule, trace in zip(rules, simulate_rules(data, rules), strict=True):
        (wanted,) = rule_targets(data, (rule,))

        def alone(rows, here, limit_yd, wanted=wanted):  # type: ignore[no-untyped-def]
            chosen = []
            away = data.toward_a[rows].astype(int)
            goals = wanted[rows, on_left[here]]
            for side, start, goal, limit in zip(away, here, goals, limit_yd, strict=True):
                scorer = data.scorers[side]
                near = np.flatnonzero(within(scorer, float(limit))[start])
                far = scorer.walk_yd[goal, near] + 1e-6 * scorer.walk_yd[start, near]
                chosen.append(near[far.argmin()] if np.isfinite(far).any() else start)
            return np.array(chosen)

        one = simulate_policy(data, alone)
        assert (one.station_index == trace.station_index).all()
        assert one.walk_yd == pytest.approx(trace.walk_yd)


@pytest.mark.slow
def test_the_plan_walks_as_one_choice_after_another_among_all_stations():
    context = load_context(BASE_MODEL)
    played = play_season(context, REQUEST, stored_season(context))
    data = played.season_data
    ends = {
        (way, limit): ends_of(scorer, limit)
        for way, scorer in enumerate(data.scorers)
        for limit in np.unique(data.limit_yd).tolist()
    }

    def decide(rows, here, limit_yd):
        away, at = data.toward_a[rows].astype(int), range(rows.size)
        walk = np.stack([data.scorers[away[i]].walk_yd[here[i]] for i in at])
        station, _ = choose_many(
            reward=played.reward[rows],
            continuation=played.continuation[rows],
            walk_yd=np.where(limit_yd[:, None] >= 1e6, 0.0, walk),
            allowed=np.stack([ends[int(away[i]), float(limit_yd[i])][here[i]] for i in at]),
            price_per_yd=REQUEST.walking.price_per_yd,
        )
        return station

    plain = simulate_policy(data, decide)
    assert (plain.station_index == played.plan.station_index).all()
    assert plain.walk_yd == pytest.approx(played.plan.walk_yd, abs=1e-9)


@pytest.mark.slow
def test_paths_of_a_season_are_looked_at_point_by_point():
    context = load_context(BASE_MODEL)
    data = play_season(context, REQUEST, stored_season(context)).season_data
    scorer, replay = data.scorers[0], data.replay
    lens_set = max(scorer.kit.lens_sets, key=lambda h: max(m.reach_yd for m in h))
    for row in np.random.default_rng(3).choice(len(replay), 200, replace=False).tolist():
        x = np.arange(np.rint(replay.start_x_yd[row]), np.rint(replay.end_x_yd[row]) + 1)
        geometry = geometry_of(
            scorer.perimeter,
            stations=scorer.stations,
            cell_x_yd=x,
            cell_y_yd=np.full(x.size, np.rint(3 * replay.end_y_yd[row]) / 3),
            direction=scorer.direction,
            faces=scorer.faces,
        )
        best = geometry.quality(scorer.kit, lens_set).max(axis=1) * scorer.open
        assert data.quality[row] == pytest.approx(best, abs=1e-6)


@pytest.mark.slow
def test_penalties_by_place_are_those_of_every_play(monkeypatch):
    model = load_context(BASE_MODEL).model

    def play_by_play(self, state, down, to_go, spot, mass):
        kernel, size = self.table("next_penalty"), self.grid.size
        kept = np.zeros((size, size))
        for index in range(len(PENALTY_MOVES)):
            moved = moved_by_penalty(index, down=down, to_go_yd=to_go, spot=spot)
            target = state_index(down=moved[0], distance_yd=moved[1], yardline_100=moved[2])
            share = kernel[penalty_zone(spot), down - 1, index]
            np.add.at(kept, (state, target), mass * share)
        return kept

    fast = TransitionModel(model).transition_matrices()
    monkeypatch.setattr(TransitionModel, "_penalties", play_by_play)
    for one, plain in zip(fast, TransitionModel(model).transition_matrices(), strict=True):
        assert np.abs(one - plain).max() < 1e-9
