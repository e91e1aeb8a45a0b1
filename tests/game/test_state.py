"""What follows from a play: laws on random games, cases of the rule books, a season replayed."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.support.random_games import random_game
from tests.support.replay import PRO_2019, replay

from lensyard.domain.situation import Situation
from lensyard.errors import InvalidInputError
from lensyard.game.course import likely_results
from lensyard.game.entry import Result, Team
from lensyard.game.rules import GAME_RULES, PENALTIES
from lensyard.game.state import (
    GameState,
    Phase,
    PlayResult,
    apply,
    end_quarter,
    flag_result,
    kickoff_out,
    other_team,
)

PRO = GAME_RULES["pro"]
COLLEGE = GAME_RULES["college"]


def snap(down=1, distance=10, ball=75, **more):
    values = {"phase": Phase.SCRIMMAGE, "down": down, "distance_yd": distance, **more}
    return GameState(**{"rules": PRO, "yardline_100": ball, **values})  # type: ignore[arg-type]


def said(state):
    situation = state.situation()
    return state.phase.value if situation is None else situation.text()


@given(seed=st.integers(0, 2**32 - 1), rules=st.sampled_from(sorted(GAME_RULES)))
def test_laws_of_every_step(seed, rules):
    for before, (name, _), after in random_game(
        GAME_RULES[rules], np.random.default_rng(seed), steps=60
    ):
        assert 1 <= after.yardline_100 <= 99
        points = (after.home_points - before.home_points, after.away_points - before.away_points)
        assert min(points) == 0
        assert max(points) in (0, 1, 2, 3, 6)
        if after.phase is Phase.SCRIMMAGE:
            assert isinstance(after.situation(), Situation)  # which refuses what is on no field
        else:
            assert after.down is after.distance_yd is after.situation() is None
        if after.offense is not before.offense and name != "break" and after.quarter < 5:
            assert after.direction == -before.direction
        if name == "break" and after.phase is not Phase.OVER:
            assert after.direction_of(Team.HOME) == -before.direction_of(Team.HOME)
        if name != "break":
            assert after.changed_hands <= (after.offense is not before.offense)


@given(seed=st.integers(0, 2**32 - 1))
def test_the_two_teams_are_mirror_images(seed):
    def mirrored(state):
        return replace(
            state,
            offense=state.offense.other,
            direction=-state.direction,
            opened_by=state.opened_by.other,
            home_points=state.away_points,
            away_points=state.home_points,
            first=None if state.first is None else state.first.other,
        )

    for before, (_, what), after in random_game(PRO, np.random.default_rng(seed), steps=40):
        if isinstance(what, PlayResult):
            assert apply(mirrored(before), what) == mirrored(after)


@pytest.mark.parametrize(
    ("before", "result", "after"),
    [
        (snap(1, 10, 75), (Result.GAIN, 71), "2nd and 6 at its own 29"),
        (snap(3, 2, 40), (Result.RUN, 35), "1st and 10 at the opponent's 35"),
        (snap(2, 8, 8), (Result.GAIN, 3), "3rd and goal at the opponent's 3"),
        (snap(3, 8, 60), (Result.INCOMPLETE, None), "4th and 8 at its own 40"),
        (snap(4, 8, 60), (Result.INCOMPLETE, None), "1st and 10 at the opponent's 40"),
        (snap(4, 8, 60), (Result.KICK, 18), "1st and 10 at its own 18"),
        (snap(4, 8, 60), (Result.KICK, 0), "1st and 10 at its own 20"),
        (snap(4, 8, 60), (Result.KICK_KEPT, 20), "1st and 10 at the opponent's 20"),
        (snap(2, 5, 40), (Result.INTERCEPTION, 12), "1st and 10 at its own 12"),
        (snap(2, 5, 40), (Result.FUMBLE, 97), "1st and goal at the opponent's 3"),
        (snap(4, 5, 30), (Result.MISSED, None), "1st and 10 at its own 38"),
        (snap(4, 3, 8), (Result.MISSED, None), "1st and 10 at its own 20"),
        (snap(3, 5, 40), (Result.NO_PLAY, 50), "3rd and 15 at midfield"),
        (snap(3, 5, 40), (Result.NO_PLAY, 35), "1st and 10 at the opponent's 35"),
        (snap(1, 10, 6 + 10), (Result.GAIN, 0), "try"),
        (snap(1, 10, 97), (Result.SACK, 100), "kickoff"),
    ],
)
def test_a_result_sets_up_the_next_snap(before, result, after):
    assert said(apply(before, PlayResult(*result))) == after


def test_a_score_the_try_and_the_kickoff():
    state = snap(2, 3, 3, offense=Team.AWAY, direction=-1)
    state = apply(state, PlayResult(Result.GAIN, 0))
    assert (state.phase, state.away_points, state.offense) == (Phase.TRY, 6, Team.AWAY)
    state = apply(state, PlayResult(Result.FIELD_GOAL))
    assert (state.phase, state.away_points, state.yardline_100) == (Phase.KICKOFF, 7, 65)
    assert state.direction == -1
    out = apply(state, kickoff_out(state))
    assert said(out) == "1st and 10 at its own 40"
    back = apply(state, PlayResult(Result.KICK))
    # 2025 R6: a kickoff into the end zone that is not returned comes out to the 35.
    assert said(back) == "1st and 10 at its own 35"
    assert (back.offense, back.direction, back.score_diff) == (Team.HOME, 1, -7)
    assert back.changed_hands
    assert not apply(back, PlayResult(Result.RUN, 60)).changed_hands


def test_a_ball_run_back_on_a_try_counts_two_but_not_at_school():
    for rules, points in (("pro", 2), ("college", 2), ("high-school", 0)):
        state = GameState(GAME_RULES[rules], phase=Phase.TRY, yardline_100=3)
        assert apply(state, PlayResult(Result.INTERCEPTION, 100)).away_points == points


def test_a_safety_is_followed_by_a_free_kick_from_the_twenty():
    state = apply(snap(2, 10, 98), PlayResult(Result.SAFETY))
    assert (state.away_points, state.offense, state.yardline_100) == (2, Team.HOME, 80)
    assert state.phase is Phase.KICKOFF


@pytest.mark.parametrize(
    ("ball", "key", "after"),
    [
        # Half the distance to the goal: pro R14-2, college R10-2, NFHS R10-1.
        (96, "holding", "2nd and 8 at its own 2"),
        (8, "offside", "2nd and 2 at the opponent's 4"),
        (50, "start", "2nd and 11 at its own 45"),
        (50, "defense-15", "1st and 10 at the opponent's 35"),
        (50, "offside", "2nd and 1 at the opponent's 45"),
    ],
)
def test_usual_penalties(ball, key, after):
    state = snap(2, 6, ball)
    penalty = next(one for one in PENALTIES if one.key == key)
    assert said(apply(state, flag_result(state, penalty))) == after


def test_quarters_change_ends_and_the_second_half_is_kicked_off_by_the_other_team():
    state = snap(3, 4, 30, opened_by=Team.HOME, offense=Team.AWAY, direction=1)
    second = end_quarter(state)
    assert (said(second), second.direction, second.quarter) == (said(state), -1, 2)
    third = end_quarter(second)
    assert (third.phase, third.offense, third.quarter) == (Phase.KICKOFF, Team.AWAY, 3)
    assert third.direction == 1  # as in the first quarter
    over = end_quarter(replace(third, quarter=4, home_points=3))
    assert over.phase is Phase.OVER
    with pytest.raises(InvalidInputError, match="over"):
        apply(over, PlayResult(Result.RUN, 50))


def test_overtime_of_the_professionals_gives_both_a_possession():
    tied = GameState(PRO, phase=Phase.SCRIMMAGE, quarter=4, down=1, distance_yd=10, yardline_100=50)
    kick = end_quarter(tied)
    assert (kick.phase, kick.quarter) == (Phase.KICKOFF, 5)
    first = apply(kick, PlayResult(Result.KICK))
    scored = apply(first, PlayResult(Result.GAIN, 0))
    assert scored.phase is Phase.TRY  # since 2025 the other team has its chance all the same
    second = apply(apply(scored, PlayResult(Result.FIELD_GOAL)), PlayResult(Result.KICK))
    level = apply(apply(second, PlayResult(Result.GAIN, 0)), PlayResult(Result.FIELD_GOAL))
    assert level.phase is Phase.KICKOFF
    assert level.home_points == level.away_points
    third = apply(level, PlayResult(Result.KICK))
    assert apply(third, PlayResult(Result.FIELD_GOAL)).phase is Phase.OVER
    before_2022 = replace(first, rules=PRO_2019)
    assert apply(before_2022, PlayResult(Result.GAIN, 0)).phase is Phase.OVER
    assert apply(before_2022, PlayResult(Result.FIELD_GOAL)).phase is Phase.KICKOFF
    assert apply(before_2022, PlayResult(Result.INTERCEPTION, 100)).phase is Phase.OVER


def test_overtime_of_the_colleges_is_a_series_each_toward_the_same_end():
    tied = GameState(
        COLLEGE, phase=Phase.SCRIMMAGE, quarter=4, down=1, distance_yd=10, yardline_100=50
    )
    first = end_quarter(tied)
    assert said(first) == "1st and 10 at the opponent's 25"
    second = apply(first, PlayResult(Result.FIELD_GOAL))
    assert said(second) == "1st and 10 at the opponent's 25"
    assert (second.offense, second.direction) == (first.offense.other, first.direction)
    again = apply(second, PlayResult(Result.FIELD_GOAL))
    assert (again.period, again.offense) == (2, second.offense)  # who was second goes first
    assert apply(second, PlayResult(Result.INTERCEPTION, 10)).phase is Phase.OVER
    assert apply(second, PlayResult(Result.GAIN, 0)).phase is Phase.OVER
    third = apply(apply(again, PlayResult(Result.FIELD_GOAL)), PlayResult(Result.FIELD_GOAL))
    assert (third.period, third.phase) == (3, Phase.TRY)


def test_a_kickoff_cannot_be_incomplete():
    with pytest.raises(InvalidInputError, match="kickoff cannot turn into incomplete"):
        apply(GameState(PRO), PlayResult(Result.INCOMPLETE))
    with pytest.raises(InvalidInputError, match="yardline_100"):
        PlayResult(Result.GAIN, 101)


def test_by_hand_the_other_team():
    state = snap(3, 4, 30)
    assert said(other_team(state)) == "1st and 10 at its own 30"
    assert other_team(state).direction == -state.direction


def test_likely_results_come_in_order_and_sum_to_at_most_one():
    gains = {-5: 0.1, 0: 0.4, 3: 0.2, 12: 0.2, 40: 0.1}
    found = likely_results(
        snap(2, 10, 40), p_gain=gains, p_incomplete=0.3, p_turnover=0.03, p_choice=(1.0, 0.0, 0.0)
    )
    assert [one.p for one in found] == sorted((one.p for one in found), reverse=True)
    assert 0.9 < sum(one.p for one in found) <= 1.03 + 1e-9
    assert found[0].result.kind is Result.GAIN
    punting = likely_results(
        snap(4, 10, 60), p_gain=gains, p_incomplete=0.3, p_turnover=0.03, p_choice=(0.1, 0.9, 0.0)
    )
    assert punting[0].result == PlayResult(Result.KICK, 18)
    state = GameState(PRO, phase=Phase.TRY, yardline_100=15)
    tries = likely_results(state, p_gain={}, p_incomplete=0.0, p_turnover=0.0)
    assert tries[0].result.kind is Result.FIELD_GOAL


@pytest.mark.slow
@pytest.mark.statistical
def test_at_least_99_of_100_snaps_of_a_season_follow_from_the_plays_before():
    found = replay(2019)
    assert found.right.total() + found.wrong.total() > 43_000
    assert found.share >= 0.99
    assert found.share_of("no flag") >= 0.99
