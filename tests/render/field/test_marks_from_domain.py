"""Domain values become marks in the right place."""

import itertools
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.support.field import FIELD_WIDTH_YD
from tests.support.places import nearest_station

from lensyard.domain.field import Direction
from lensyard.domain.kit import DEMO_KIT
from lensyard.domain.perimeter import perimeter_of
from lensyard.domain.venue import ClosedStretch, Edge, standard_venue
from lensyard.errors import InvalidInputError
from lensyard.render.field.picture import (
    closed_marks,
    reach_rings,
    station_marks,
    walk_path,
)

PERIMETER = perimeter_of(standard_venue("pro"))


def test_a_closed_stretch_on_sideline_a_is_on_the_offenses_right_going_to_end_b():
    stretch = ClosedStretch(Edge.SIDELINE_A, 20.0, 35.0, "platform", 3.0, 4.0)
    venue = standard_venue("pro", team_area_from_yard_line=50, extra_closed=(stretch,))
    (mark,) = closed_marks(venue, Direction.TOWARD_B)
    assert (mark.x_min_yd, mark.x_max_yd) == (20.0, 35.0)
    assert (mark.y_min_yd, mark.y_max_yd) == (-7.0, -3.0)
    (turned,) = closed_marks(venue, Direction.TOWARD_A)
    assert (turned.x_min_yd, turned.x_max_yd) == (85.0, 100.0)
    assert turned.y_min_yd == pytest.approx(FIELD_WIDTH_YD + 3.0)
    assert turned.label == "platform"


def test_stations_keep_number_and_openness():
    marks = station_marks(PERIMETER, Direction.TOWARD_A)
    assert [mark.station for mark in marks] == list(range(len(PERIMETER)))
    assert [mark.is_open for mark in marks] == PERIMETER.open.tolist()


@given(
    start=st.integers(0, len(PERIMETER) - 1),
    stop=st.integers(0, len(PERIMETER) - 1),
    direction=st.sampled_from(Direction),
)
def test_a_path_is_as_long_as_the_walk(start, stop, direction):
    path = walk_path(PERIMETER, start=start, stop=stop, direction=direction)
    length = sum(math.hypot(b.x_yd - a.x_yd, b.y_yd - a.y_yd) for a, b in itertools.pairwise(path))
    # Corners are stations, so nothing is cut; float sums of some 350 steps.
    assert length == pytest.approx(float(PERIMETER.walk_yd[start, stop]), abs=1e-6)


def test_a_path_goes_round_what_is_shut():
    shut = ClosedStretch(Edge.SIDELINE_A, 50.0, 70.0, "works", 2.0, 8.0, walk_behind=False)
    venue = standard_venue("pro", team_area_from_yard_line=50, extra_closed=(shut,))
    perimeter = perimeter_of(venue)
    start = nearest_station(perimeter, x_yd=45.0, y_yd=-5.0)
    stop = nearest_station(perimeter, x_yd=75.0, y_yd=-5.0)
    path = walk_path(perimeter, start=start, stop=stop, direction=Direction.TOWARD_B)
    assert max(point.y_yd for point in path) > FIELD_WIDTH_YD


def test_no_open_way_is_said():
    works = tuple(
        ClosedStretch(edge, 50.0, 70.0, "works", 2.0, 8.0, walk_behind=False)
        for edge in (Edge.SIDELINE_A, Edge.SIDELINE_B)
    )
    venue = standard_venue("pro", team_area_from_yard_line=50, extra_closed=works)
    perimeter = perimeter_of(venue)
    start = nearest_station(perimeter, x_yd=20.0, y_yd=-5.0)
    stop = nearest_station(perimeter, x_yd=100.0, y_yd=-5.0)
    with pytest.raises(InvalidInputError, match="both ways"):
        walk_path(perimeter, start=start, stop=stop, direction=Direction.TOWARD_B)


def test_rings_come_from_the_lenses_shortest_first():
    rings = reach_rings(DEMO_KIT)
    # Common practice: ten yards of reach for every 100 mm.
    assert [(ring.label, ring.reach_yd) for ring in rings] == [("70-200", 20.0), ("400", 40.0)]
