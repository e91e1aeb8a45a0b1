"""The field: published measures, and the laws of the two frames."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.support.field import FIELD_LENGTH_YD, FIELD_WIDTH_YD

from lensyard.domain.field import (
    RULES,
    Direction,
    HashMark,
    PlayPoint,
    PostSupport,
    StadiumPoint,
    play_point,
    rules_named,
    stadium_point,
)
from lensyard.errors import OutOfRangeError, UnknownNameError

END_ZONE_DEPTH_YD = 10.0
OPPONENT_GOAL_LINE_X_YD = 110.0
OWN_GOAL_LINE_X_YD = 10.0
FEET_PER_YARD = 3.0

# Exact by definition; only the division of feet by 3 is rounded.
ROUNDING_FT = 1e-9
# Coordinates are at most about 130 yd; one subtraction in each way.
ROUNDING_YD = 1e-9

coordinate = st.floats(min_value=-20, max_value=140)
direction = st.sampled_from(Direction)


@pytest.mark.parametrize(
    ("what_yd", "published_ft"),
    [
        (FIELD_LENGTH_YD, 360.0),  # NFL Official Playing Rules 2021 R1-1-1; NCAA 2021 FR-124
        (FIELD_WIDTH_YD, 160.0),  # same
        (END_ZONE_DEPTH_YD, 30.0),  # NFL Official Playing Rules 2021 R1-2-3
        (OPPONENT_GOAL_LINE_X_YD - OWN_GOAL_LINE_X_YD, 300.0),  # NFHS field diagrams 2020 p1
    ],
)
def test_field_has_the_published_size(what_yd, published_ft):
    assert what_yd * FEET_PER_YARD == pytest.approx(published_ft, abs=ROUNDING_FT)


@pytest.mark.parametrize(
    ("rules", "attribute", "published_ft"),
    [
        # NFL Official Playing Rules 2021, R1-2-1: inbound lines 70 ft 9 in from the sidelines
        ("pro", "hash_from_sideline_yd", 70.75),
        # NFL Official Playing Rules 2021, R1-3-1: crossbar 18 ft 6 in
        ("pro", "goal_width_yd", 18.5),
        # NFL Official Playing Rules 2021, R1-1-2: 6-ft border, limit line 6 ft beyond it (the field
        # markings page of the same book draws a yellow line at 15 ft)
        ("pro", "side_setback_yd", 12.0),
        # NFL Official Playing Rules 2021, field markings item 1: 6 ft beyond the border
        ("pro", "end_setback_yd", 12.0),
        # NFL Official Playing Rules 2021, bench area figure: coaches 6-12 ft, then players
        ("pro", "team_area_front_yd", 12.0),
        # NCAA Football Rules and Interpretations 2021, R1-2-1-k
        ("college", "hash_from_sideline_yd", 60.0),
        # NCAA Football Rules and Interpretations 2021, R1-2-5-b
        ("college", "goal_width_yd", 18.5),
        # NCAA Football Rules and Interpretations 2021, R1-2-3-a: limit lines
        ("college", "side_setback_yd", 12.0),
        ("college", "end_setback_yd", 12.0),
        # NCAA Football Rules and Interpretations 2021, R1-2-3-a: behind the limit line
        ("college", "team_area_front_yd", 12.0),
        # NFHS field diagrams 2020 p1: 53 ft 4 in
        ("high-school", "hash_from_sideline_yd", 160.0 / 3.0),
        # NFHS field diagrams 2020 p1: 23 ft 4 in
        ("high-school", "goal_width_yd", 70.0 / 3.0),
        # NFHS R1-2-3d (quoted by a state association, 2021): restraining line, at least 2 yd
        ("high-school", "side_setback_yd", 6.0),
        ("high-school", "end_setback_yd", 6.0),
        # NFHS R9-8-3: 2-yd belt before the team box
        ("high-school", "team_area_front_yd", 6.0),
    ],
)
def test_rule_sets_have_the_published_measures(rules, attribute, published_ft):
    in_feet = getattr(rules_named(rules), attribute) * FEET_PER_YARD
    assert in_feet == pytest.approx(published_ft, abs=ROUNDING_FT)


@pytest.mark.parametrize(
    ("rules", "published_ft"),
    [
        ("pro", 18.5),  # derived from R1-2-1; equals the goal's width
        ("college", 40.0),  # NCAA Football Rules and Interpretations 2021, FR-124
        ("high-school", 160.0 / 3.0),  # derived: the hash marks cut the field into thirds
    ],
)
def test_hash_marks_are_as_far_apart_as_published(rules, published_ft):
    left, right = (RULES[rules].ball_y_yd(mark) for mark in (HashMark.LEFT, HashMark.RIGHT))
    assert (left - right) * FEET_PER_YARD == pytest.approx(published_ft, abs=ROUNDING_FT)


@pytest.mark.parametrize(
    ("rules", "kickoff", "touchback", "attempt", "team_area"),
    [
        # NFL Official Playing Rules 2021 R6-1-2, R6 notes (2016-2023), R11-3-1; the team area
        # between the 30s is common practice (the book says 25, 30 and 32)
        ("pro", 35, 25, 2, 30),
        # NCAA Football Rules and Interpretations 2021 R6-1-1, R6-1-7, R8-3-2, R1-2-4-a
        ("college", 35, 25, 3, 20),
        # NFHS field diagrams 2020 p1, R8-5 (from memory), diagrams, R1-2-3
        ("high-school", 40, 20, 3, 25),
    ],
)
def test_rule_sets_have_the_published_yard_lines(rules, kickoff, touchback, attempt, team_area):
    found = rules_named(rules)
    assert found.kickoff_yard_line == kickoff
    assert found.touchback_yard_line == touchback
    assert found.try_yard_line == attempt
    assert found.team_area_from_yard_line == team_area


def test_unknown_rules_name_what_is_known():
    with pytest.raises(UnknownNameError, match=r"pro, college, high-school.*Did you mean 'colle"):
        rules_named("colege")


@pytest.mark.parametrize("bad", [-1.0, 50.0, math.nan, math.inf])
def test_a_support_on_the_field_or_nowhere_is_refused(bad):
    with pytest.raises(OutOfRangeError, match="behind_end_line_yd"):
        PostSupport(behind_end_line_yd=bad, off_center_yd=0.0, radius_yd=0.3)


@given(x=coordinate, y=coordinate, way=direction)
def test_frame_round_trip_is_the_identity(x, y, way):
    back = play_point(stadium_point(PlayPoint(x, y), way), way)
    assert back.x_yd == pytest.approx(x, abs=ROUNDING_YD)
    assert back.y_yd == pytest.approx(y, abs=ROUNDING_YD)
    forth = stadium_point(play_point(StadiumPoint(x, y), way), way)
    assert forth.x_yd == pytest.approx(x, abs=ROUNDING_YD)
    assert forth.y_yd == pytest.approx(y, abs=ROUNDING_YD)


@given(ax=coordinate, ay=coordinate, bx=coordinate, by=coordinate, way=direction)
def test_frames_keep_distances_and_the_sense_of_rotation(ax, ay, bx, by, way):
    a, b = (stadium_point(PlayPoint(x, y), way) for x, y in ((ax, ay), (bx, by)))
    apart = math.hypot(a.x_yd - b.x_yd, a.y_yd - b.y_yd)
    assert apart == pytest.approx(math.hypot(ax - bx, ay - by), abs=ROUNDING_YD)
    # A turn keeps left on the left; a mirror image would flip the sign of the cross product. The
    # origin of the turn is the middle of the field.
    middle = (FIELD_LENGTH_YD / 2, FIELD_WIDTH_YD / 2)
    before = (ax - middle[0]) * (by - middle[1]) - (ay - middle[1]) * (bx - middle[0])
    after = (a.x_yd - middle[0]) * (b.y_yd - middle[1]) - (a.y_yd - middle[1]) * (
        b.x_yd - middle[0]
    )
    # Products of two lengths of at most 150 yd.
    assert after == pytest.approx(before, abs=1e-6)


@given(x=coordinate, y=coordinate, way=direction)
def test_the_two_directions_are_half_a_turn_apart(x, y, way):
    here = stadium_point(PlayPoint(x, y), way)
    there = stadium_point(PlayPoint(x, y), way.reversed)
    assert here.x_yd + there.x_yd == pytest.approx(FIELD_LENGTH_YD, abs=ROUNDING_YD)
    assert here.y_yd + there.y_yd == pytest.approx(FIELD_WIDTH_YD, abs=ROUNDING_YD)
    assert way.reversed.reversed is way
