"""Stations around the field, the walk between them, and their names."""

import math
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.support.field import FIELD_LENGTH_YD, FIELD_WIDTH_YD
from tests.support.places import nearest_station

from lensyard.domain.field import RULES, Direction
from lensyard.domain.perimeter import (
    perimeter_of,
    require_open,
)
from lensyard.domain.venue import ClosedStretch, Edge, standard_venue
from lensyard.errors import InvalidInputError, OutOfRangeError

# Sums of a few hundred lengths.
ROUNDING_YD = 1e-9

steps = st.floats(1.5, 10)
directions = st.sampled_from(Direction)


@cache
def standard(name="pro"):
    return perimeter_of(standard_venue(name))


@st.composite
def stretches(draw, *, walk_behind=None):
    edge = draw(st.sampled_from(Edge))
    low = draw(st.floats(-5, edge.length_yd - 1))
    high = draw(st.floats(low + 0.3, min(low + 40, edge.length_yd + 5)))
    behind = draw(st.booleans()) if walk_behind is None else walk_behind
    return ClosedStretch(edge=edge, from_yd=low, to_yd=high, walk_behind=behind)


# --- stations ---------------------------------------------------------------------------------


@pytest.mark.parametrize("name", RULES)
def test_stations_stand_at_the_setback_all_the_way_round(name):
    p = standard(name)
    side, end = p.venue.side_setback_yd, p.venue.end_setback_yd
    on_side = np.isclose(p.y_yd, -side) | np.isclose(p.y_yd, FIELD_WIDTH_YD + side)
    on_end = np.isclose(p.x_yd, -end) | np.isclose(p.x_yd, FIELD_LENGTH_YD + end)
    assert (on_side | on_end).all()
    assert (on_side & on_end).sum() == 4  # the corners are stations
    assert ((p.x_yd >= -end - ROUNDING_YD) & (p.x_yd <= FIELD_LENGTH_YD + end + ROUNDING_YD)).all()


@given(step=steps, name=st.sampled_from(sorted(RULES)))
def test_neighbors_are_about_a_step_apart_and_the_ring_is_closed(step, name):
    p = perimeter_of(standard_venue(name), step_yd=step)
    gap = np.hypot(p.x_yd - np.roll(p.x_yd, -1), p.y_yd - np.roll(p.y_yd, -1))
    assert gap.sum() == pytest.approx(p.length_yd, abs=1e-6)
    # An edge of length l has round(l / step) gaps, so a gap is off by at most half a gap's share.
    shortest = FIELD_WIDTH_YD + 2 * p.venue.side_setback_yd
    assert np.abs(gap - step).max() <= step * 0.5 / (round(shortest / step)) + ROUNDING_YD
    along = np.concatenate([[0.0], np.cumsum(gap)[:-1]])
    np.testing.assert_allclose(p.along_yd, along, atol=1e-6)


@given(step=steps)
def test_half_a_turn_maps_stations_on_stations(step):
    p = perimeter_of(standard_venue("college"), step_yd=step)
    np.testing.assert_allclose(p.x_yd[p.turned_index], FIELD_LENGTH_YD - p.x_yd, atol=ROUNDING_YD)
    np.testing.assert_allclose(p.y_yd[p.turned_index], FIELD_WIDTH_YD - p.y_yd, atol=ROUNDING_YD)
    assert (p.turned_index[p.turned_index] == np.arange(len(p))).all()
    assert (p.open[p.turned_index] == p.open).all()


@given(stretch=stretches(), step=steps)
def test_a_turned_venue_has_the_same_stations_open_and_the_same_walks(stretch, step):
    venue = standard_venue(extra_closed=(stretch,))
    here, there = perimeter_of(venue, step_yd=step), perimeter_of(venue.turned(), step_yd=step)
    turn = here.turned_index
    assert (there.open[turn] == here.open).all()
    np.testing.assert_allclose(
        there.walk_yd[np.ix_(turn, turn)], here.walk_yd, atol=1e-6, equal_nan=False
    )


def test_team_areas_are_closed_and_everything_else_is_open():
    p = standard("pro")
    in_area = (p.x_yd >= 40) & (p.x_yd <= 80) & ((p.y_yd < 0) | (p.y_yd > FIELD_WIDTH_YD))
    assert (p.open == ~in_area).all()
    assert (p.spots == np.flatnonzero(~in_area)).all()


@pytest.mark.slow
@given(closed=st.lists(stretches(), min_size=1, max_size=3))
def test_closing_a_stretch_never_opens_a_station_nor_shortens_a_walk(closed):
    before = perimeter_of(standard_venue(), step_yd=3.0)
    after = perimeter_of(standard_venue(extra_closed=tuple(closed)), step_yd=3.0)
    assert not (after.open & ~before.open).any()
    assert (after.walk_yd >= before.walk_yd - ROUNDING_YD).all()


def test_a_corner_belongs_to_both_of_its_edges():
    for edge, low, high in ((Edge.SIDELINE_A, 115.0, 128.0), (Edge.END_B, -8.0, 2.0)):
        p = perimeter_of(standard_venue(extra_closed=(ClosedStretch(edge, low, high),)))
        assert not p.open[nearest_station(p, x_yd=124.0, y_yd=-4.0)]


def test_a_venue_without_a_spot_is_refused():
    everything = tuple(ClosedStretch(e, -10, e.length_yd + 10) for e in Edge)
    with pytest.raises(InvalidInputError, match="open at least one stretch"):
        perimeter_of(standard_venue(extra_closed=everything))


@pytest.mark.parametrize("step", [0.0, 0.2, 11.0, math.nan, math.inf])
def test_a_step_out_of_range_is_refused(step):
    with pytest.raises(OutOfRangeError, match="step_yd"):
        perimeter_of(standard_venue(), step_yd=step)


# --- walking ----------------------------------------------------------------------------------


def check_metric(walk):
    assert (np.diag(walk) == 0).all()
    np.testing.assert_allclose(walk, walk.T, atol=ROUNDING_YD)
    through = (walk[:, :, None] + walk[None, :, :]).min(axis=1)
    assert (walk <= through + ROUNDING_YD).all()


@given(closed=st.lists(stretches(), max_size=3), step=st.floats(4, 10))
def test_the_walk_is_a_metric(closed, step):
    check_metric(perimeter_of(standard_venue(extra_closed=tuple(closed)), step_yd=step).walk_yd)


@pytest.mark.parametrize("name", RULES)
def test_the_walk_leads_along_the_perimeter_the_shorter_way(name):
    p = standard(name)
    straight = np.hypot(p.x_yd[:, None] - p.x_yd, p.y_yd[:, None] - p.y_yd)
    assert (p.walk_yd >= straight - ROUNDING_YD).all()
    assert p.walk_yd.max() <= p.length_yd / 2 + ROUNDING_YD
    same_edge = p.edge[:, None] == p.edge[None, :]
    # Along one straight edge the walk is the straight line.
    np.testing.assert_allclose(p.walk_yd[same_edge], straight[same_edge], atol=ROUNDING_YD)
    opposite = p.walk_yd[np.arange(len(p)), p.turned_index]
    np.testing.assert_allclose(opposite, p.length_yd / 2, atol=ROUNDING_YD)


def walk_by_graph(p):
    """Shortest paths over links between neighbors, the oracle being SciPy's graph search.

    A link is shut if any of many points on it lies in a stretch that may not be passed.
    """
    from scipy.sparse import csr_matrix
    from scipy.sparse.csgraph import shortest_path

    n = len(p)
    nxt = np.roll(np.arange(n), -1)
    u = np.linspace(0, 1, 4001)[:, None]
    x = p.x_yd + u * (p.x_yd[nxt] - p.x_yd)
    y = p.y_yd + u * (p.y_yd[nxt] - p.y_yd)
    shut = np.zeros(n, dtype=bool)
    for s in p.venue.closed:
        if s.walk_behind:
            continue
        line = {
            Edge.SIDELINE_A: np.isclose(y, p.y_yd.min()),
            Edge.SIDELINE_B: np.isclose(y, p.y_yd.max()),
            Edge.END_A: np.isclose(x, p.x_yd.min()),
            Edge.END_B: np.isclose(x, p.x_yd.max()),
        }[s.edge]
        along = x if s.edge.is_sideline else y
        shut |= (line & (along >= s.from_yd) & (along <= s.to_yd)).any(axis=0)
    gap = np.hypot(p.x_yd[nxt] - p.x_yd, p.y_yd[nxt] - p.y_yd)
    free = np.flatnonzero(~shut)
    graph = csr_matrix((gap[free], (free, nxt[free])), shape=(n, n))
    found: np.ndarray = shortest_path(graph, directed=False)
    return found


@pytest.mark.slow
@given(
    closed=st.lists(stretches(walk_behind=False), min_size=1, max_size=3),
    step=st.floats(5, 10),
)
def test_walking_round_impassable_stretches_is_the_shortest_path(closed, step):
    p = perimeter_of(standard_venue(extra_closed=tuple(closed)), step_yd=step)
    np.testing.assert_allclose(p.walk_yd, walk_by_graph(p), atol=1e-6)


def test_one_impassable_stretch_sends_one_round_and_two_cut_the_field_in_half():
    p = perimeter_of(standard_venue(team_area_from_yard_line=50))
    near, far = nearest_station(p, x_yd=39, y_yd=-4), nearest_station(p, x_yd=81, y_yd=-4)
    across = nearest_station(p, x_yd=39, y_yd=57)
    area = ClosedStretch(Edge.SIDELINE_A, 40, 80, walk_behind=False)
    one = perimeter_of(replace(p.venue, closed=(area,)))
    two = perimeter_of(replace(p.venue, closed=(area, area.turned())))
    assert p.walk_yd[near, far] == pytest.approx(42)
    assert one.walk_yd[near, far] == pytest.approx(p.length_yd - 42)
    assert one.walk_yd[near, across] == pytest.approx(p.walk_yd[near, across])
    assert two.walk_yd[near, far] == math.inf
    assert two.walk_yd[near, across] == pytest.approx(p.walk_yd[near, across])


def test_a_stretch_shorter_than_a_step_still_stops_the_walk():
    gate = ClosedStretch(Edge.SIDELINE_A, 61.0, 61.5, walk_behind=False)
    p = perimeter_of(standard_venue(extra_closed=(gate,)), step_yd=2.0)
    assert not ((p.x_yd >= 61.0) & (p.x_yd <= 61.5)).any()  # no station stands in it
    before, after = nearest_station(p, x_yd=60, y_yd=-4), nearest_station(p, x_yd=62, y_yd=-4)
    assert p.walk_yd[before, after] == pytest.approx(p.length_yd - 2)


def test_nobody_may_wait_inside_an_impassable_stretch():
    shut = perimeter_of(standard_venue(walk_behind=False))
    inside = nearest_station(shut, x_yd=60, y_yd=-4)
    with pytest.raises(InvalidInputError, match=r"'left:50' lies inside a closed stretch"):
        require_open(shut, inside, text="left:50")
    assert np.isinf(np.delete(shut.walk_yd[inside], inside)).all()
    # The stretch begins on a station: not even that one can be reached from outside.
    first, outside = (
        nearest_station(shut, x_yd=40, y_yd=-4),
        nearest_station(shut, x_yd=39, y_yd=-4),
    )
    assert shut.walk_yd[outside, first] == math.inf
    passable = standard()
    assert not passable.open[inside]
    require_open(passable, inside, text="left:50")  # one may wait behind the team area


@given(closed=st.lists(stretches(), min_size=1, max_size=3), step=st.floats(0.5, 6.0))
def test_no_open_station_is_inside_any_closed_stretch(closed, step):
    p = perimeter_of(standard_venue(extra_closed=tuple(closed)), step_yd=step)
    x, y = p.x_yd, p.y_yd
    lines = {
        Edge.SIDELINE_A: np.isclose(y, y.min()),
        Edge.SIDELINE_B: np.isclose(y, y.max()),
        Edge.END_A: np.isclose(x, x.min()),
        Edge.END_B: np.isclose(x, x.max()),
    }
    for stretch in p.venue.closed:
        # By its ground: strictly inside the rectangle, on whichever edge the station counts.
        x0, x1, y0, y1 = stretch.rectangle_yd()
        assert not ((x > x0) & (x < x1) & (y > y0) & (y < y1) & p.open).any()
        # By its place along the edge, corners included, at whatever depth it lies.
        along = x if stretch.edge.is_sideline else y
        beside = lines[stretch.edge] & (along >= stretch.from_yd) & (along <= stretch.to_yd)
        assert not (beside & p.open).any()
