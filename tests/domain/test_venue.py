"""The venue: closed stretches, team areas, and the half turn."""

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.support.field import FIELD_LENGTH_YD, FIELD_WIDTH_YD

from lensyard.domain.field import PostSupport
from lensyard.domain.venue import ClosedStretch, Edge, standard_venue
from lensyard.errors import InvalidInputError, OutOfRangeError

# One or two subtractions of lengths up to 130 yd.
ROUNDING_YD = 1e-9


@st.composite
def stretches(draw):
    edge = draw(st.sampled_from(Edge))
    low = draw(st.floats(-5, edge.length_yd - 1))
    high = draw(st.floats(low + 0.5, edge.length_yd + 5))
    return ClosedStretch(
        edge=edge,
        from_yd=low,
        to_yd=high,
        front_yd=draw(st.floats(0, 10)),
        depth_yd=draw(st.floats(0.5, 10)),
        blocks_view=draw(st.booleans()),
        walk_behind=draw(st.booleans()),
    )


@given(stretch=stretches())
def test_a_stretch_turned_is_its_rectangle_turned(stretch):
    x0, x1, y0, y1 = stretch.rectangle_yd()
    turned = (FIELD_LENGTH_YD - x1, FIELD_LENGTH_YD - x0, FIELD_WIDTH_YD - y1, FIELD_WIDTH_YD - y0)
    assert stretch.turned().rectangle_yd() == pytest.approx(turned, abs=ROUNDING_YD)


@given(stretch=stretches())
def test_a_stretch_lies_outside_the_field(stretch):
    x0, x1, y0, y1 = stretch.rectangle_yd()
    assert x0 < x1
    assert y0 < y1
    assert x1 <= 0 or x0 >= FIELD_LENGTH_YD or y1 <= 0 or y0 >= FIELD_WIDTH_YD


@given(closed=st.lists(stretches(), max_size=3))
def test_a_venue_with_its_own_turn_added_is_symmetric(closed):
    both = tuple(closed) + tuple(s.turned() for s in closed)
    assert standard_venue(extra_closed=both).symmetric


def test_a_stretch_on_one_side_only_is_not_symmetric():
    platform = ClosedStretch(Edge.SIDELINE_A, 20, 24, name="television platform")
    assert not standard_venue(extra_closed=(platform,)).symmetric
    # Whether one may walk behind it is part of where one may stand.
    twin = replace(platform.turned(), walk_behind=False)
    assert not standard_venue(extra_closed=(platform, twin)).symmetric


@given(closed=st.lists(stretches(), max_size=3), bearing=st.floats(0, 359.9))
def test_turning_a_venue_twice_changes_nothing(closed, bearing):
    venue = replace(
        standard_venue(extra_closed=tuple(closed)),
        end_names=("north", "south"),
        sideline_names=("press box", "visitors"),
        axis_bearing_deg=bearing,
        stand_height_m=(1.0, 2.0, 3.0, 4.0),
        stand_distance_yd=(5.0, 6.0, 7.0, 8.0),
    )
    once = venue.turned()
    assert once.end_names == ("south", "north")
    assert once.sideline_names == ("visitors", "press box")
    # Behind sideline A, end B, sideline B, end A: opposite stands change places.
    assert once.stand_height_m == (3.0, 4.0, 1.0, 2.0)
    twice = once.turned()
    assert twice.axis_bearing_deg == pytest.approx(bearing, abs=1e-9)
    assert [s.same_ground() for s in twice.closed] == [s.same_ground() for s in venue.closed]
    same = {"axis_bearing_deg": 0.0, "closed": ()}
    assert replace(twice, **same) == replace(venue, **same)


@pytest.mark.parametrize(
    ("rules", "low_yd", "back_ft"),
    [
        # between the 30s: common practice; back line 24 ft behind the 6-ft border: NFL Official
        # Playing Rules 2021, field plan (read off the drawing)
        ("pro", 40.0, 30.0),
        # between the 20s: NCAA Football Rules and Interpretations 2021, R1-2-4-a
        ("college", 30.0, None),
        # between the 25s: NFHS R1-2-3
        ("high-school", 35.0, None),
    ],
)
def test_team_areas_lie_where_the_rule_set_says(rules, low_yd, back_ft):
    a, b = standard_venue(rules).closed
    assert {a.edge, b.edge} == {Edge.SIDELINE_A, Edge.SIDELINE_B}
    for area in (a, b):
        assert (area.from_yd, area.to_yd) == (low_yd, FIELD_LENGTH_YD - low_yd)
        if back_ft is not None:
            assert (area.front_yd + area.depth_yd) * 3 == pytest.approx(back_ft)


def test_team_areas_can_be_set_and_a_team_area_from_the_50_closes_nothing():
    assert standard_venue(team_area_from_yard_line=25).closed[0].from_yd == 35.0
    assert standard_venue(team_area_from_yard_line=50).closed == ()
    assert all(s.walk_behind for s in standard_venue().closed)
    assert not any(s.walk_behind for s in standard_venue(walk_behind=False).closed)


@pytest.mark.parametrize(
    "change",
    [
        {"side_setback_yd": 0.0},
        {"end_setback_yd": math.nan},
        {"axis_bearing_deg": 361.0},
        {"latitude_deg": 91.0, "longitude_deg": 0.0},
        {"latitude_deg": 45.0, "longitude_deg": math.inf},
        {"illuminance_lx": -1.0},
        {"stand_height_m": (0.0, -1.0, 0.0, 0.0)},
        {"stand_distance_yd": (0.0, 0.0, math.nan, 0.0)},
    ],
)
def test_a_place_that_cannot_be_is_refused(change):
    with pytest.raises(OutOfRangeError, match="must be between"):
        replace(standard_venue(), **change)


def test_half_a_position_is_refused():
    with pytest.raises(InvalidInputError, match="together, or neither"):
        replace(standard_venue(), latitude_deg=45.0)


def test_a_support_without_its_twin_is_refused():
    lonely = (PostSupport(behind_end_line_yd=2.0, off_center_yd=1.0, radius_yd=0.3),)
    with pytest.raises(InvalidInputError, match="twin on the other side"):
        replace(standard_venue(), posts=lonely)


@pytest.mark.parametrize(
    "change",
    [
        {"from_yd": 60.0},
        {"from_yd": math.nan},
        {"to_yd": 500.0},
        {"front_yd": -1.0},
        {"depth_yd": 0.0},
        {"depth_yd": math.inf},
    ],
)
def test_a_stretch_that_cannot_be_is_refused(change):
    values = {"edge": Edge.SIDELINE_A, "from_yd": 40.0, "to_yd": 60.0} | change
    with pytest.raises(InvalidInputError):
        ClosedStretch(**values)  # type: ignore[arg-type]
