"""A crew on one play: exact, with its bound, and roles that follow from what a spot has."""

from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
from tests.support.field import FIELD_WIDTH_YD

from lensyard.domain.assignment import Faces
from lensyard.domain.kit import kit_of
from lensyard.domain.perimeter import perimeter_of
from lensyard.domain.situation import Situation
from lensyard.domain.venue import standard_venue
from lensyard.errors import InvalidInputError
from lensyard.model.outcome_grid import X_YD, Y_YD
from lensyard.planner.crew_plan import (
    crew_for,
    role_words,
)
from lensyard.spots.ranking import rank
from lensyard.spots.scorer import Scorer

LONG = kit_of(["70-200", "400"])
SHORT = kit_of(["70-200"])
ONE_BODY = kit_of(["70-200", "400"], bodies=1)
MIDFIELD = Situation(1, 10, 55)
GOAL = Situation(1, 4, 4)


@pytest.fixture(scope="module")
def perimeter():
    return perimeter_of(standard_venue("pro"), step_yd=5.0)


def scorers_for(perimeter, kits):
    return [Scorer(perimeter, kit) for kit in kits]


def had(scorer, masses):
    """What each open spot (and lenses at hand) has of each kind of path, (sites, 3 * cells)."""
    lines = np.full(int(scorer.open.sum()), masses.yardline_100)
    return np.concatenate(
        [of.had_by_start(np.flatnonzero(scorer.open), lines) for of in scorer.paths]
    ).reshape(-1, masses.by_start[1].size)


def brute_force(scorers, masses):
    """The best value of any two spots (and lenses at hand), pair by pair."""
    value = masses.by_start[1].ravel()
    first, second = (had(s, masses)[:, value > 0] for s in scorers)
    return max(float((np.maximum(a, second) @ value[value > 0]).max()) for a in first)


@pytest.mark.parametrize(
    ("situation", "kits"),
    [(MIDFIELD, (LONG, SHORT)), (MIDFIELD, (ONE_BODY, ONE_BODY)), (GOAL, (LONG, LONG))],
)
def test_two_photographers_equal_trying_every_pair(perimeter, masses_at, situation, kits):
    masses = masses_at(situation.yardline_100)
    scorers = scorers_for(perimeter, kits)
    crew = crew_for(scorers, masses, situation)
    best = brute_force(scorers, masses)
    assert crew.proven
    # Spots are chosen with qualities in quarters, and paths that end in one cell as one.
    assert crew.value == pytest.approx(best, rel=0.003)
    assert crew.bound >= crew.value - 1e-6
    assert crew.greedy_value <= crew.value + 1e-9


def test_three_photographers_equal_the_exhaustive_search(masses_at):
    perimeter = perimeter_of(standard_venue("pro"), step_yd=9.0)
    masses = masses_at(40)
    scorers = scorers_for(perimeter, [SHORT] * 3)
    crew = crew_for(scorers, masses, Situation(2, 8, 40))
    value = masses.by_start[1].ravel()
    sites, value = had(scorers[0], masses)[:, value > 0], value[value > 0]
    threes = combinations(range(len(sites)), 3)
    best = max(float(sites[list(three)].max(axis=0) @ value) for three in threes)
    assert crew.value == pytest.approx(best, rel=0.003)  # qualities in quarters


def test_a_crew_of_one_stands_where_the_ranking_says(perimeter, masses_at):
    masses = masses_at(40)
    situation = Situation(1, 10, 40)
    scorer = Scorer(perimeter, LONG)
    crew = crew_for([scorer], masses, situation)
    best = rank(scorer, masses, situation, top=1, by_value=True).spots[0]
    # No path counts less than nothing here, which the ranking's sum lets one behind a post do.
    assert crew.value == pytest.approx(best.value, rel=2e-3)
    assert crew.spots[0].p_usable == pytest.approx(best.p_usable, rel=2e-3)


def test_what_each_adds_sums_to_the_crew_and_nobody_adds_more_than_they_have(perimeter, masses_at):
    masses = masses_at(30)
    crew = crew_for(scorers_for(perimeter, [LONG, SHORT, SHORT]), masses, Situation(1, 10, 30))
    assert sum(s.added for s in crew.spots) == pytest.approx(crew.value, abs=1e-5)
    for spot in crew.spots:
        assert -1e-6 <= spot.only <= spot.added + 1e-6 <= spot.value + 2e-6
    assert crew.spots[0].added == pytest.approx(crew.spots[0].value)
    assert crew.value <= crew.value + 1e-9
    assert max(s.p_usable for s in crew.spots) <= crew.p_usable <= 1.0


def test_equal_kits_under_two_names_are_exchangeable(perimeter, masses_at):
    named = replace(SHORT, name="the other bag")
    scorers = scorers_for(perimeter, [SHORT, named])
    crew = crew_for(scorers, masses_at(55), MIDFIELD)
    assert [s.shooter for s in crew.spots] == [1, 2]
    assert crew.spots[0].value >= crew.spots[1].value


def test_each_kit_stays_with_its_photographer(perimeter, masses_at):
    for order in ([LONG, SHORT], [SHORT, LONG]):
        crew = crew_for(scorers_for(perimeter, order), masses_at(55), MIDFIELD)
        assert [s.kit for s in crew.spots] == [kit.text for kit in order]


def test_those_who_would_add_nothing_are_named(masses_at):
    # One open spot is all there is: ten yards apart on a field closed almost everywhere.
    perimeter = perimeter_of(standard_venue("pro"), step_yd=10.0)
    scorer = Scorer(perimeter, SHORT)
    open_only = np.zeros(len(perimeter), dtype=bool)
    best = int(scorer.expected_value(masses_at(55).value)[0].argmax())
    open_only[best] = True
    scorer.__dict__["open"] = open_only
    crew = crew_for([scorer, scorer], masses_at(55), MIDFIELD)
    assert [s.shooter for s in crew.spots] == [1]
    assert crew.idle == (2,)


def test_a_crew_that_reaches_nothing_is_told_what_to_do(perimeter, masses_at):
    with pytest.raises(InvalidInputError, match="longer lens"):
        crew_for(scorers_for(perimeter, [kit_of(["14"])]), masses_at(55), MIDFIELD)


def test_the_mirrored_play_gets_the_mirrored_crew(perimeter, masses_at):
    situation = MIDFIELD
    scorers = scorers_for(perimeter, [SHORT, SHORT])
    left = crew_for(scorers, masses_at(55, tilt_yd=7.0), situation)
    right = crew_for(scorers, masses_at(55, tilt_yd=-7.0), situation)
    assert left.value == pytest.approx(right.value, rel=1e-5)  # float32 masses
    # The field's own sides are covered from the matching sidelines.
    mirrored = sorted((round(s.x_yd, 3), round(FIELD_WIDTH_YD - s.y_yd, 3)) for s in right.spots)
    assert sorted((round(s.x_yd, 3), round(s.y_yd, 3)) for s in left.spots) == mirrored


# --- what each is there for

AT_THE_50 = Situation(1, 10, 50)  # the line of scrimmage lies at x = 60
X, Y = (grid.ravel() for grid in np.meshgrid(X_YD, Y_YD, indexing="ij"))
ONES = np.ones(X.size)


@pytest.mark.parametrize(
    ("held", "words"),
    [
        ((X < 58) & (X > 50), "quarterback drop-back and the backfield"),
        ((X > 65) & (X < 75) & (Y > 30), "carrier in the open field, left side"),
        ((X > 65) & (X < 75) & (Y < 20), "carrier in the open field, right side"),
        ((X > 65) & (X < 75), "carrier in the open field, both sides"),
        (X == 61, "carrier through the line, both sides"),
        ((X > 85) & (X < 100), "the deep ball and the long run, both sides"),
        ((X >= 109) & (X <= 112) & (Y > 48), "goal line and the dive at the left pylon"),
        ((X > 113) & (Y < 20) & (Y > 8), "the catch in the end zone, right side"),
    ],
)
def test_the_role_follows_from_what_the_spot_has(held, words):
    assert role_words(held.astype(float), ONES, situation=AT_THE_50) == words


def test_the_role_names_a_second_part_and_the_drop_back():
    held = (((X > 63) & (X < 80)) | (X >= 80) & (X < 105)).astype(float)
    text = role_words(held, ONES, situation=AT_THE_50, drop_back=True)
    assert text.startswith("the deep ball and the long run, both sides, and carrier in the open")
    assert text.endswith("and the quarterback's drop-back")


def test_the_role_of_the_defense_speaks_of_the_defense():
    held = ((X < 58) & (X > 50)).astype(float)
    text = role_words(held, ONES, situation=AT_THE_50, faces=Faces.DEFENSE, drop_back=True)
    assert text == "the rush and the sack in the backfield"


def test_a_spot_without_plays_has_no_role():
    with pytest.raises(InvalidInputError, match="no role"):
        role_words(np.zeros(X.size), ONES, situation=AT_THE_50)
