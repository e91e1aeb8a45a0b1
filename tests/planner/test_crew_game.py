"""Plans for a crew over a game, on a small invented game."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from lensyard.domain.assignment import Assignment, Coverage
from lensyard.domain.field import CENTER_Y_YD, Direction
from lensyard.domain.kit import kit_of
from lensyard.domain.perimeter import perimeter_of
from lensyard.domain.situation import Zone
from lensyard.domain.venue import standard_venue
from lensyard.errors import InvalidInputError
from lensyard.planner.crew_game import (
    cells_had,
    crew_plan_for_game,
    crew_reward,
    left_over,
    resting_station_indices,
)
from lensyard.planner.problem import both_directions
from lensyard.planner.solve import PlanProblem, Walking
from lensyard.spots.scorer import Scorer, turned_station_indices

YARDS = np.array([95, 85, 75, 65, 55, 45, 35, 25, 15, 5])
SIDES = both_directions(Assignment())


@pytest.fixture(scope="module")
def perimeter():
    return perimeter_of(standard_venue("pro"), step_yd=6.0)


@pytest.fixture(scope="module")
def value_of(masses_at):
    table = np.stack([masses_at(int(y)).value for y in YARDS])
    return lambda rows: table[rows]


@pytest.fixture(scope="module")
def pair(perimeter):
    return pair_of(perimeter, ["70-200"])


def pair_of(perimeter, lenses, bodies=None):
    kit = kit_of(lenses, bodies=bodies)
    return tuple(Scorer(perimeter, kit, d) for d in (Direction.TOWARD_B, Direction.TOWARD_A))


@pytest.fixture(scope="module")
def base(pair):
    """Ten yards forward with 0.7, else the other team at the same spot of the ground."""
    n, s = len(pair[0].perimeter), len(YARDS)
    same = np.zeros((s, s), dtype=np.float32)
    same[np.arange(s - 1), np.arange(1, s)] = 0.7
    changed = np.zeros((s, s), dtype=np.float32)
    changed[np.arange(s), s - 1 - np.arange(s)] = 0.3
    return PlanProblem(
        reward=np.zeros((1, s, n), dtype=np.float32),
        same=same,
        changed=changed,
        after_change=(0,),
        walk_yd=pair[0].walk_yd[None],
        turned=turned_station_indices(n),
        walking=Walking(),
        discount=0.9,
    )


def plan(crew, value_of, base, **more):
    return crew_plan_for_game(crew, value_of, base=base, sides=SIDES, yardline_100=YARDS, **more)


def test_the_first_photographer_has_the_usual_reward(pair, value_of):
    reward = crew_reward(pair, value_of, sides=SIDES, states=len(YARDS))
    everything = value_of(np.arange(len(YARDS)))
    assert reward[0] == pytest.approx(pair[0].expected_value(everything), abs=1e-6)
    assert reward[1] == pytest.approx(pair[1].expected_value(everything), abs=1e-6)


def test_what_is_left_is_never_more_and_nothing_is_left_at_the_earlier_spot(pair, value_of, base):
    result = plan([pair, pair], value_of, base)
    first, second = result.rewards
    assert (second <= first + 1e-6).all()
    assert (second < first - 1e-3).any()
    index = np.arange(len(YARDS))
    for k in range(len(SIDES)):
        assert second[k, index, result.resting[0][k]] == pytest.approx(0.0, abs=1e-7)


def test_what_they_add_sums_to_what_at_least_one_has(perimeter, value_of, base):
    # One body for two lenses: which lens is up matters.
    crew = [pair_of(perimeter, ["70-200", "400"], bodies=1), pair_of(perimeter, ["300"])]
    result = plan(crew, value_of, base)
    rows = np.arange(len(YARDS))
    value = value_of(rows).reshape(len(rows), -1)
    for k in range(len(SIDES)):
        anyone, left = np.zeros(value.shape, dtype=bool), value.copy()
        for scorers, resting in zip(crew, result.resting, strict=True):
            had = cells_had(scorers[k], resting[k], left)
            anyone |= had
            left[had] = 0.0
        union = (value * anyone).sum(axis=1)
        added = sum(r[k, rows, at[k]] for r, at in zip(result.rewards, result.resting, strict=True))
        assert added == pytest.approx(union, abs=1e-5)  # float32 sums of 2178 cells
    assert 0 < sum(result.added) <= result.value


def test_left_over_leaves_the_source_alone(pair, value_of):
    rows = np.array([0, 5])
    value = value_of(rows)
    before = value.copy()
    left = left_over(value, [(pair[0], np.full(len(YARDS), 20))], rows)
    assert (value == before).all()
    assert left.sum() < before.sum()


def test_two_photographers_take_a_sideline_each_and_keep_it(pair, value_of, base):
    result = plan([pair, pair], value_of, base)
    first = {z.on_sideline_a for z in result.zones if z.shooter == 1}
    assert first == {True}
    # Past midfield, where a short lens works the sidelines, the second one works the other side.
    spots = [z for z in result.zones if z.zone is Zone.MIDDLE_41_60]
    by_shooter = {
        shooter: {z.on_sideline_a for z in spots if z.shooter == shooter} for shooter in (1, 2)
    }
    assert by_shooter == {1: {True}, 2: {False}}


def test_after_a_change_of_possession_one_stands_on_the_same_ground(pair, value_of, base):
    # The ball always changes hands and nobody can walk: what follows is earned where one stands.
    states = np.arange(len(YARDS))
    turnover = np.zeros_like(base.changed)
    turnover[states, len(YARDS) - 1 - states] = 1.0
    stuck = replace(
        base,
        same=np.zeros_like(base.same),
        changed=turnover,
        walking=Walking(drive_limit_yd=0.0, change_limit_yd=0.0),
        discount=0.5,
    )
    result = plan([pair, pair], value_of, stuck)
    reward, solved = result.rewards[1], result.plans[1].continuation
    for k in range(2):
        following = (reward + solved)[1 - k][::-1][:, base.turned]
        assert solved[k] == pytest.approx(0.5 * following, abs=0.01)  # the solver's tolerance
    # The other direction's reward is another one, so a mix-up of directions would show.
    assert np.abs(reward[0] - reward[1]).max() > 0.05


def test_a_symmetric_game_looks_the_same_in_both_directions(pair, value_of, base):
    result = plan([pair], value_of, base)
    x, y = pair[0].xy_yd
    toward_b, toward_a = result.resting[0]
    assert x[toward_b] == pytest.approx(x[toward_a])
    # The same sideline of the stadium is right in one direction and left in the other.
    assert y[toward_b] - CENTER_Y_YD == pytest.approx(-(y[toward_a] - CENTER_Y_YD))


def test_resting_spots_are_open_and_ties_go_to_sideline_a(pair):
    scorer = pair[1]
    total = np.zeros((2, len(scorer.perimeter)))
    total[1, ~scorer.open] = 5.0  # a closed spot may be worth waiting at, not resting
    spots = resting_station_indices(scorer, total)
    assert scorer.open[spots].all()
    assert (scorer.perimeter.y_yd[scorer.stations][spots] <= CENTER_Y_YD).all()


def test_the_other_teams_plays_count_nothing_when_one_team_is_covered(pair, value_of, base):
    sides = both_directions(Assignment(coverage=Coverage.HOME))
    assert [s.ours for s in sides] == [True, True, False, False]
    result = crew_plan_for_game([pair], value_of, base=base, sides=sides, yardline_100=YARDS)
    assert (result.rewards[0][2:] == 0).all()
    assert (result.rewards[0][:2] > 0).any()
    assert {z.shooter for z in result.zones} == {1}
    assert len(result.zones) == 2 * len(Zone)


def test_blocks_change_nothing(pair, value_of, base):
    whole, bits = (plan([pair, pair], value_of, base, block=b) for b in (500, 3))
    for a, b in zip(whole.rewards, bits.rewards, strict=True):
        assert a == pytest.approx(b, abs=1e-6)
    assert [z.station_index for z in whole.zones] == [z.station_index for z in bits.zones]


def test_states_that_do_not_occur_do_not_count(pair, value_of, base):
    share = np.zeros(len(YARDS))
    share[7] = 2.0
    result = plan([pair], value_of, base, state_share=share)
    index = result.resting[0][:, 7]
    expected = np.mean([result.rewards[0][k, 7, index[k]] for k in range(2)])
    assert result.added[0] == pytest.approx(float(expected))
    assert {z.zone for z in result.zones} == {Zone.OPPONENT_21_40}
    assert result.value == pytest.approx(float(value_of(np.array([7])).sum()), rel=1e-5)


def test_what_does_not_fit_is_refused(pair, value_of, base):
    with pytest.raises(InvalidInputError, match="at least one photographer"):
        plan([], value_of, base)
    with pytest.raises(InvalidInputError, match="state_share"):
        plan([pair], value_of, base, state_share=np.zeros(len(YARDS)))
    with pytest.raises(InvalidInputError, match="10 states"):
        crew_plan_for_game([pair], value_of, base=base, sides=SIDES, yardline_100=YARDS[:4])
