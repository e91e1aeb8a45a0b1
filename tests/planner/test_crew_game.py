"""Plans for a crew over a game, on a small invented game."""

from dataclasses import replace

import numpy as np
import pytest
from tests.support.field import CENTER_Y_YD

from lensyard.domain.assignment import Assignment, Coverage
from lensyard.domain.field import Direction
from lensyard.domain.kit import kit_of
from lensyard.domain.perimeter import perimeter_of
from lensyard.domain.situation import Zone
from lensyard.domain.venue import standard_venue
from lensyard.errors import InvalidInputError
from lensyard.model.paths import PathMasses
from lensyard.planner.crew_game import crew_plan_for_game, had_from
from lensyard.planner.sides import both_directions
from lensyard.planner.solve import PlanProblem, Walking
from lensyard.spots.scorer import Scorer, turned_station_indices

YARDS = np.array([95, 85, 75, 65, 55, 45, 35, 25, 15, 5])
SIDES = both_directions(Assignment())
ALIKE = np.ones(len(YARDS))


@pytest.fixture(scope="module")
def perimeter():
    return perimeter_of(standard_venue("pro"), step_yd=6.0)


@pytest.fixture(scope="module")
def value_of(masses_at):
    table = np.stack([masses_at(int(y)).by_start[1] for y in YARDS])
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


def plan(crew, value_of, base, *, sides=SIDES, share=ALIKE):
    return crew_plan_for_game(
        crew, value_of, base=base, sides=sides, yardline_100=YARDS, state_share=share
    )


def test_what_is_left_is_never_more_and_little_is_left_at_the_earlier_spot(pair, value_of, base):
    result = plan([pair, pair], value_of, base)
    first, second = result.rewards
    for k in range(2):  # the first has the usual reward
        usual = pair[k].expected_value(PathMasses.of(value_of(np.arange(len(YARDS))), YARDS))
        assert first[k] == pytest.approx(usual, abs=1e-6)
    assert (second <= first + 1e-6).all()
    assert (second < first - 1e-3).any()
    index = np.arange(len(YARDS))
    for k in range(len(SIDES)):
        at = result.resting[0][k]
        assert (second[k, index, at] <= 0.3 * first[k, index, at]).all()


def test_what_they_add_sums_to_what_at_least_one_has(perimeter, value_of, base):
    # One body for two lenses: which lens is up matters.
    crew = [pair_of(perimeter, ["70-200", "400"], bodies=1), pair_of(perimeter, ["300"])]
    result = plan(crew, value_of, base)
    rows = np.arange(len(YARDS))
    value = value_of(rows)
    for k in range(len(SIDES)):
        left = value.copy()
        for scorers, resting in zip(crew, result.resting, strict=True):
            left *= 1 - had_from(scorers[k], resting[k], left, YARDS)
        union = (value - left).sum(axis=(1, 2, 3))
        added = sum(r[k, rows, at[k]] for r, at in zip(result.rewards, result.resting, strict=True))
        assert added == pytest.approx(union, abs=1e-5)  # float32 sums of 2178 cells


def test_the_safe_spot_takes_no_account_of_the_earlier_ones(pair, value_of, base):
    plain_of = lambda rows: value_of(rows) / 2  # noqa: E731
    result = crew_plan_for_game(
        [pair, pair], value_of, base=base, sides=SIDES, yardline_100=YARDS, state_share=ALIKE,
        safe=[1], plain_of=plain_of,
    )  # fmt: skip
    assert result.rewards[1] == pytest.approx(result.rewards[0] / 2, abs=1e-6)


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
        # From a closed place one walks on whatever the limit: the law is of the open ones.
        here = pair[SIDES[k].direction is Direction.TOWARD_A].open
        found, expected = solved[k][:, here], 0.5 * following[:, here]
        assert found == pytest.approx(expected, abs=0.01)  # the solver's tolerance
    # The other direction's reward is another one, so a mix-up of directions would show.
    assert np.abs(reward[0] - reward[1]).max() > 0.05


def test_a_symmetric_game_looks_the_same_in_both_directions(pair, value_of, base):
    result = plan([pair], value_of, base)
    x, y = pair[0].xy_yd
    toward_b, toward_a = result.resting[0]
    assert x[toward_b] == pytest.approx(x[toward_a])
    # The same sideline of the stadium is right in one direction and left in the other.
    assert y[toward_b] - CENTER_Y_YD == pytest.approx(-(y[toward_a] - CENTER_Y_YD))


def test_the_other_teams_plays_count_nothing_when_one_team_is_covered(pair, value_of, base):
    sides = both_directions(Assignment(coverage=Coverage.HOME))
    assert [s.ours for s in sides] == [True, True, False, False]
    result = plan([pair], value_of, base, sides=sides)
    assert (result.rewards[0][2:] == 0).all()
    assert (result.rewards[0][:2] > 0).any()
    assert {z.shooter for z in result.zones} == {1}
    assert len(result.zones) == 2 * len(Zone)


def test_what_does_not_fit_is_refused(pair, value_of, base):
    with pytest.raises(InvalidInputError, match="at least one photographer"):
        plan([], value_of, base)
    with pytest.raises(InvalidInputError, match="state_share"):
        plan([pair], value_of, base, share=np.zeros(len(YARDS)))
    with pytest.raises(InvalidInputError, match="10 states"):
        plan([pair], value_of, base, share=np.ones(4))
