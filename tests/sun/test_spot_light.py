"""The light on the action from a spot, shade counted in."""

import math
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lensyard.domain.perimeter import perimeter_of
from lensyard.domain.venue import standard_venue
from lensyard.errors import InvalidInputError
from lensyard.sun import venue_light

MIDDLE = (60.0, 26.667)
# The four middles of the edges, 4 yd out: sideline A, end B, sideline B, end A.
EDGES = ((60.0, -4.0), (124.0, 26.667), (60.0, 57.333), (-4.0, 26.667))


def venue(bearing_deg, **more):
    """A field at the place of the published solar example, on its clock (UTC-7 the year round)."""
    return replace(
        standard_venue(),
        axis_bearing_deg=bearing_deg,
        latitude_deg=39.742476,
        longitude_deg=-105.1786,
        time_zone="America/Phoenix",
        **more,
    )


# Reda and Andreas, NREL/TP-560-34302, table A5.1: 2003-10-17 12:30:30 at UTC-7.
AT = datetime(2003, 10, 17, 12, 30, 30)
AZIMUTH_DEG, ELEVATION_DEG = 194.34024, 39.88838


def test_the_sun_is_that_of_the_published_example():
    light = venue_light.light_at_spots(venue(0.0), AT, spot_xy_yd=EDGES, action_xy_yd=MIDDLE)
    # .02 degrees: the sun's low-precision formulas.
    assert light.sun.azimuth_deg == pytest.approx(AZIMUTH_DEG, abs=0.02)
    assert light.sun.elevation_deg == pytest.approx(ELEVATION_DEG, abs=0.02)
    assert "America/Phoenix" in light.when.note


def test_angles_are_those_of_plain_vectors():
    # From first principles: east, north and up, no bearing arithmetic. End B lies at 30 degrees.
    light = venue_light.light_at_spots(venue(30.0), AT, spot_xy_yd=EDGES, action_xy_yd=MIDDLE)
    azimuth, elevation = math.radians(AZIMUTH_DEG), math.radians(ELEVATION_DEG)
    sun = np.array(
        [
            math.cos(elevation) * math.sin(azimuth),
            math.cos(elevation) * math.cos(azimuth),
            math.sin(elevation),
        ]
    )
    axis = math.radians(30.0)
    x_axis = np.array([math.sin(axis), math.cos(axis), 0.0])
    y_axis = np.array([-x_axis[1], x_axis[0], 0.0])  # a quarter turn to the left of x
    for (x, y), angle_deg in zip(EDGES, light.angle_deg, strict=True):
        theme = (MIDDLE[0] - x) * x_axis + (MIDDLE[1] - y) * y_axis
        cosine = theme @ sun / np.linalg.norm(theme)
        # The sun's own .02 degrees.
        assert angle_deg == pytest.approx(math.degrees(math.acos(cosine)), abs=0.03)


def test_each_edge_has_its_light_at_midday():
    # End B due north, the sun in the south-southwest: from end B one looks into it, from end A
    # it is behind the camera, from both sidelines it comes from the side.
    light = venue_light.light_at_spots(venue(0.0), AT, spot_xy_yd=EDGES, action_xy_yd=MIDDLE)
    assert [kind.value for kind in light.kinds] == ["side", "back", "side", "front"]


@given(
    bearing=st.floats(0, 359),
    hours=st.floats(0, 24),
    seed=st.integers(0, 99),
)
def test_swapping_ends_leaves_the_light_on_the_same_ground(bearing, hours, seed):
    here = venue(bearing)
    at = datetime(2026, 9, 5, tzinfo=UTC) + timedelta(hours=hours)
    rng = np.random.default_rng(seed)
    action = rng.uniform((0, 0), (120, 160 / 3), size=(20, 2))
    perimeter = perimeter_of(here, step_yd=10.0)
    chosen = rng.integers(0, len(perimeter), size=20)
    spot = np.column_stack([perimeter.x_yd[chosen], perimeter.y_yd[chosen]])
    size = np.array([120, 160 / 3])
    one = venue_light.light_at_spots(here, at, spot_xy_yd=spot, action_xy_yd=action)
    two = venue_light.light_at_spots(
        here.turned(), at, spot_xy_yd=size - spot, action_xy_yd=size - action
    )
    # Double precision through two rotations and an arc cosine.
    np.testing.assert_allclose(one.angle_deg, two.angle_deg, atol=1e-5)
    assert (one.kinds != two.kinds).mean() <= 0.05  # at most one case on a border


def test_under_a_roof_and_at_night_there_is_no_direct_sun():
    for where, at in ((venue(0.0, covered=True), AT), (venue(0.0), datetime(2003, 10, 17, 22, 0))):
        kinds = venue_light.light_at_spots(where, at, spot_xy_yd=EDGES, action_xy_yd=MIDDLE).kinds
        assert set(kinds) == {"no direct sun"}


def test_a_stand_shades_the_action_that_its_shadow_reaches():
    # At 39.9 degrees a wall shades to height / tan(elevation), square to the edge times
    # cos(194.3 - 180): 20 m high, 15 yd behind end A (south), face at 1.7 m:
    # 18.3 / .9144 / .8357 * .969 - 15 = 8.2 yd into the end zone.
    shaded = venue(0.0, stand_height_m=(0.0, 0.0, 0.0, 20.0))
    action = np.array([(7.0, 26.0), (10.0, 26.0)])
    kinds = venue_light.light_at_spots(
        shaded, AT, spot_xy_yd=(60.0, 57.0), action_xy_yd=action
    ).kinds
    open_kinds = venue_light.light_at_spots(
        venue(0.0), AT, spot_xy_yd=(60.0, 57.0), action_xy_yd=action
    ).kinds
    assert kinds[0] == "no direct sun"
    assert kinds[1] == open_kinds[1] != "no direct sun"
    assert open_kinds[0] != "no direct sun"


def test_places_of_another_shape_are_refused():
    field = venue(0.0)
    with pytest.raises(InvalidInputError, match=r"shape \(n, 2\)"):
        venue_light.light_at_spots(field, AT, spot_xy_yd=[1.0, 2.0, 3.0], action_xy_yd=MIDDLE)
    with pytest.raises(InvalidInputError, match="2 spots and 3 places"):
        venue_light.light_at_spots(field, AT, spot_xy_yd=EDGES[:2], action_xy_yd=EDGES[:3])
    with pytest.raises(InvalidInputError, match="finite"):
        venue_light.light_at_spots(field, AT, spot_xy_yd=(math.nan, 0), action_xy_yd=MIDDLE)
    with pytest.raises(InvalidInputError, match="Add the four"):
        venue_light.light_at_spots(standard_venue(), AT, spot_xy_yd=EDGES, action_xy_yd=MIDDLE)
