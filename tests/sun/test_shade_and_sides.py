"""Shade against ray casting, and the table of sides."""

from dataclasses import replace
from datetime import date, datetime
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.support.field import FIELD_LENGTH_YD, FIELD_WIDTH_YD, METERS_PER_YARD

from lensyard.domain.venue import Edge, standard_venue
from lensyard.sun import position, venue_light

stands_strategy = st.lists(
    st.builds(
        venue_light.Stand,
        st.sampled_from(Edge),
        height_m=st.floats(1.0, 60.0),
        behind_yd=st.floats(0.0, 40.0),
    ),
    max_size=4,
)


def ray_hits(stands, x, y, axis_deg, azimuth_deg, elevation_deg):
    """Return whether a ray from the ground toward the sun meets a wall below its top."""
    # The sun's bearing turned into the frame: counterclockwise from x.
    angle = np.radians(axis_deg - azimuth_deg)
    step = np.array([np.cos(angle), np.sin(angle)])
    rise = np.tan(np.radians(elevation_deg))
    hit = np.zeros(np.shape(x), dtype=bool)
    for stand in stands:
        axis, plane = {
            Edge.SIDELINE_A: (1, -stand.behind_yd),
            Edge.SIDELINE_B: (1, FIELD_WIDTH_YD + stand.behind_yd),
            Edge.END_A: (0, -stand.behind_yd),
            Edge.END_B: (0, FIELD_LENGTH_YD + stand.behind_yd),
        }[stand.edge]
        if step[axis] == 0.0:
            continue
        along = (plane - (x, y)[axis]) / step[axis]
        hit |= (along > 0) & (along * rise < stand.height_m / METERS_PER_YARD)
    return hit


@given(
    stands=stands_strategy,
    axis_deg=st.floats(0, 360),
    azimuth_deg=st.floats(0, 360),
    elevation_deg=st.floats(1.0, 80.0),
)
def test_shade_agrees_with_ray_casting(stands, axis_deg, azimuth_deg, elevation_deg):
    # Off-center grid, 60 x 40: no place lies exactly on a shadow's border.
    x, y = np.meshgrid(
        (np.arange(60) + 0.4937) * FIELD_LENGTH_YD / 60,
        (np.arange(40) + 0.4911) * FIELD_WIDTH_YD / 40,
    )
    sun = venue_light.FieldSun(axis_deg, azimuth_deg, elevation_deg)
    ours = venue_light.in_shade(stands, sun, np.stack([x, y], axis=-1))
    assert np.array_equal(ours, ray_hits(stands, x, y, axis_deg, azimuth_deg, elevation_deg))
    # Up to four strip borders, each off by at most half a row or column of the grid.
    assert venue_light.shaded_share(stands, sun) == pytest.approx(
        ours.mean(), abs=2 * 0.51 / 40 + 2 * 0.51 / 60
    )


def test_a_shadow_is_as_long_as_trigonometry_says():
    # By hand: 20 m high, sun at 30 degrees: 20 / tan 30 = 34.641 m = 37.884 yd; 60 degrees off the
    # wall's normal leaves half, 18.942 yd; 10 yd back leaves 8.942 yd of field.
    stand = venue_light.Stand(Edge.SIDELINE_B, height_m=20.0, behind_yd=10.0)
    reach = venue_light.shadow_reach_yd(stand, venue_light.FieldSun(0.0, 210.0, 30.0))
    assert reach == pytest.approx(8.942, abs=0.0005)  # as many digits as written above


def test_a_face_leaves_the_shade_before_the_ground_does():
    stand = venue_light.Stand(Edge.END_A, height_m=15.0, behind_yd=5.0)
    sun = venue_light.FieldSun(0.0, 180.0, 20.0)
    ground = venue_light.shadow_reach_yd(stand, sun)
    face = venue_light.shadow_reach_yd(stand, sun, target_height_m=1.7)
    expected = 1.7 / np.tan(np.radians(20.0)) / METERS_PER_YARD
    assert ground - face == pytest.approx(expected, abs=1e-9)


@given(
    stands=stands_strategy,
    axis_deg=st.floats(0, 360),
    azimuth_deg=st.floats(0, 360),
    low_deg=st.floats(0.5, 80.0),
    climb_deg=st.floats(0.0, 9.0),
)
def test_a_higher_sun_never_shades_more(stands, axis_deg, azimuth_deg, low_deg, climb_deg):
    low, high = (
        venue_light.shaded_share(stands, venue_light.FieldSun(axis_deg, azimuth_deg, elevation_deg))
        for elevation_deg in (low_deg, low_deg + climb_deg)
    )
    assert 0 <= high <= low + 1e-12
    assert low <= 1


def test_without_a_sun_everything_is_in_shade_and_without_stands_nothing():
    night, dusk, day = (venue_light.FieldSun(0.0, 100.0, deg) for deg in (-5.0, 0.0, 5.0))
    assert [venue_light.shaded_share([], sun) for sun in (night, dusk, day)] == [1.0, 1.0, 0.0]
    place = np.array([[1.0, 1.0]])
    assert venue_light.in_shade([], night, place).all()
    assert not venue_light.in_shade([], day, place).any()
    stand = venue_light.Stand(Edge.END_A, height_m=5.0, behind_yd=0.0)
    assert venue_light.shadow_reach_yd(stand, dusk) == np.inf


def test_a_place_behind_the_stand_is_not_shaded_by_it():
    stand = venue_light.Stand(Edge.SIDELINE_A, height_m=20.0, behind_yd=10.0)
    sun = venue_light.FieldSun(0.0, 90.0, 20.0)
    places = np.array([(60.0, -11.0), (60.0, -9.0), (60.0, 5.0)])
    shaded = venue_light.in_shade([stand], sun, places)
    assert list(shaded) == [False, True, True]


def field(bearing_deg=0.0, **more):
    """Return a field with a place."""
    return replace(
        standard_venue(),
        axis_bearing_deg=bearing_deg,
        latitude_deg=41.9,
        longitude_deg=-87.6,
        time_zone="America/Chicago",
        **more,
    )


def afternoon(venue):
    """Return the sides every half hour from 13:00 on an October afternoon."""
    start = datetime(2026, 10, 3, 13, 0, tzinfo=ZoneInfo("America/Chicago"))
    times = position.time_steps(start=start, minutes=330, step_min=30)
    return [venue_light.side_light(venue, at) for at in times]


def test_edges_without_height_have_no_stand():
    venue = field(stand_height_m=(20.0, 0.0, 12.0, 0.0), stand_distance_yd=(10.0, 15.0, 8.0, 15.0))
    assert [
        (stand.edge, stand.height_m, stand.behind_yd) for stand in venue_light.stands_of(venue)
    ] == [
        (Edge.SIDELINE_A, 20.0, 10.0),
        (Edge.SIDELINE_B, 12.0, 8.0),
    ]


def test_an_october_afternoon_lights_a_north_south_field_from_the_west():
    # End B to the north, so sideline B is the west side. At 17:00 daylight time the sun is in the
    # west-southwest: the photographer with it behind him is on the west side.
    rows = {row.at.strftime("%H:%M"): row for row in afternoon(field())}
    late = rows["17:00"]
    assert 225 < late.sun_azimuth_deg < 270
    assert late.edge(Edge.SIDELINE_B).light == "front"
    assert late.edge(Edge.SIDELINE_A).light in ("back", "sun in the lens")
    assert late.edge(Edge.SIDELINE_A).angle_deg < 45 < late.edge(Edge.END_A).angle_deg
    assert late.field_shaded_share == 0.0
    assert not late.is_golden
    assert rows["18:30"].is_golden


def test_every_edge_turns_dark_when_the_sun_sets():
    zone = ZoneInfo("America/Chicago")
    events = position.sun_events(
        on=date(2026, 10, 3), zone=zone, latitude_deg=41.9, longitude_deg=-87.6
    )
    for row in afternoon(field()):
        is_dark = all(light.light == "no direct sun" for light in row.edges)
        assert is_dark == (row.at > events.sunset)


def test_a_west_stand_shades_its_own_photographer_first_and_then_the_field():
    rows = afternoon(
        field(
            side_setback_yd=2.0,
            stand_height_m=(0.0, 0.0, 25.0, 0.0),
            stand_distance_yd=(12.0, 12.0, 12.0, 12.0),
        )
    )
    spot = [row.edge(Edge.SIDELINE_B).spot_in_shade for row in rows]
    action = [row.edge(Edge.SIDELINE_B).action_in_shade for row in rows]
    shares = [row.field_shaded_share for row in rows]
    assert spot == sorted(spot)
    assert action == sorted(action)
    assert spot.index(True) < action.index(True)
    assert shares == sorted(shares)
    assert 0.0 < shares[spot.index(True)] < 1.0


@settings(max_examples=12)
@given(
    axis_deg=st.integers(0, 359),
    heights=st.tuples(*[st.sampled_from([0.0, 10.0, 30.0])] * 4),
)
def test_turning_the_stadium_half_round_exchanges_the_edges_and_nothing_else(axis_deg, heights):
    venue = field(float(axis_deg), stand_height_m=heights)
    for row, other in zip(afternoon(venue), afternoon(venue.turned()), strict=True):
        assert row.sun_azimuth_deg == other.sun_azimuth_deg
        assert row.field_shaded_share == pytest.approx(other.field_shaded_share, abs=1e-9)
        for edge in Edge:
            here, there = row.edge(edge), other.edge(edge.opposite)
            assert here.angle_deg == pytest.approx(there.angle_deg, abs=1e-9)  # float64
            assert here.light is there.light
            assert here.name == there.name
