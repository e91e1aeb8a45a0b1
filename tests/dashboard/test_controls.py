"""What the page asks: rules that tie one choice to another, and what they turn into."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lensyard.dashboard.controls import GOAL, USUAL, Controls
from lensyard.domain.assignment import Faces
from lensyard.domain.kit import DEMO_KIT
from lensyard.errors import InvalidInputError, OutOfRangeError
from lensyard.features.next_play.first import request_of

BALLS = st.integers(1, 99)
DOWNS = st.integers(1, 4)


def test_the_usual_kit_is_the_demo_kit():
    kit = Controls().kit()
    assert (kit.mounted, kit.bodies) == (DEMO_KIT.mounted, DEMO_KIT.bodies)


@pytest.mark.parametrize(
    ("before", "field", "value", "distance_yd"),
    [
        # down, distance, ball
        ((3, 2, 40), "down", 1, 10),
        ((3, 2, 6), "down", 1, 6),  # goal to go
        ((1, 7, 75), "down", 2, 7),
        ((1, 10, 40), "yardline_100", 4, 4),
        ((1, 5, 5), "yardline_100", 8, 8),  # goal to go follows the ball
        ((1, 5, 5), "yardline_100", 31, 10),  # where penalties do not lead
        ((1, 10, 14), "distance_yd", GOAL, 14),
        ((1, 10, 14), "distance_yd", 20, 14),
    ],
)
def test_the_distance_follows_down_and_ball(before, field, value, distance_yd):
    down, distance, ball = before
    controls = Controls(down=down, distance_yd=distance, yardline_100=ball).chosen(field, value)
    assert controls.distance_yd == distance_yd


def test_usual_means_not_said():
    assert replace(Controls(), bodies=2).chosen("bodies", USUAL).bodies is None
    assert replace(Controls(), team_area=20).chosen("team_area", USUAL).team_area is None


def test_the_ball_stays_between_the_goal_lines():
    assert Controls(yardline_100=1).moved(1).yardline_100 == 1
    assert Controls(yardline_100=99).moved(-5).yardline_100 == 99
    with pytest.raises(OutOfRangeError):
        Controls().with_ball(100)


@given(
    steps=st.lists(
        st.one_of(
            st.tuples(st.just("down"), DOWNS),
            st.tuples(st.just("yardline_100"), BALLS),
            st.tuples(st.just("distance_yd"), st.integers(0, 25)),
        ),
        max_size=8,
    )
)
def test_whatever_is_chosen_can_be_on_a_field(steps):
    controls = Controls()
    for field, value in steps:
        controls = controls.chosen(field, value)
    assert controls.situation().distance_yd == controls.distance_yd


def test_the_request_says_what_was_chosen():
    controls = Controls(
        down=2,
        distance_yd=4,
        yardline_100=30,
        score_diff=-3,
        quarter=4,
        clock="1:05",
        lenses="300",
        crop_factors="1.5",
        converter=1.4,
        rules="college",
        team_area=35,
        faces=Faces.DEFENSE,
        standing="left:opp40",
    )
    request = request_of(controls)
    assert request.situation.text() == "2nd and 4 at the opponent's 30"
    assert (request.situation.score_diff, request.situation.quarter) == (-3, 4)
    assert request.situation.clock_s == 65.0
    # 300 mm x 1.4 x 1.5 = 630 mm, 63 yd by the rule of ten yards for every 100 mm.
    assert request.kit.reach_yd == pytest.approx(63.0)
    assert request.venue.rules.name == "college"
    assert {(s.from_yd, s.to_yd) for s in request.venue.closed} == {(45.0, 75.0)}
    assert request.assignment.faces is Faces.DEFENSE
    assert request.standing == "left:opp40"


def test_nobody_said_where_one_stands():
    assert request_of(Controls()).standing is None


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"lenses": "abc"}, "70-200, 400"),
        ({"lenses": " , "}, "at least one lens"),
        ({"crop_factors": "full"}, "1 for full frame"),
        ({"crop_factors": "1, 1, 1"}, "3 bodies for 2 lenses"),
        ({"clock": "noon"}, "minutes and seconds"),
    ],
)
def test_what_cannot_be_is_told(change, said):
    with pytest.raises(InvalidInputError, match=said):
        request_of(replace(Controls(), **change))
