"""Bearings and the kinds of light."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lensyard.errors import InvalidInputError
from lensyard.sun.direction import (
    LightKind,
    field_bearing,
    light_angle,
    light_from_spots,
    light_kinds,
    seen_kinds,
)

law = settings(derandomize=True, deadline=None, max_examples=100)
bearings = st.floats(0.0, 360.0)
elevations = st.floats(-10.0, 89.0)


def kind(bearing_deg, azimuth_deg, elevation_deg):
    """Return one `LightKind`."""
    return light_kinds(
        bearing_deg=bearing_deg,
        sun_azimuth_deg=azimuth_deg,
        sun_elevation_deg=elevation_deg,
    ).item()


# Compass by hand: end B of a field laid out to the north; y points 90 degrees left of x.
@pytest.mark.parametrize(
    ("axis_deg", "dx", "dy", "expected_deg"),
    [
        (0.0, 1, 0, 0.0),
        (0.0, 0, 1, 270.0),
        (0.0, -1, 0, 180.0),
        (0.0, 0, -1, 90.0),
        (90.0, 1, 0, 90.0),
        (90.0, 0, 1, 0.0),
        (30.0, 1, 1, 345.0),
        (350.0, 1, -1, 35.0),
    ],
)
def test_bearings_in_the_stadium_frame(axis_deg, dx, dy, expected_deg):
    bearing = field_bearing(x_axis_bearing_deg=axis_deg, dx_yd=dx, dy_yd=dy)
    assert float(bearing) == pytest.approx(expected_deg, abs=1e-9)


@law
@given(axis_deg=bearings, turn=bearings, dx=st.floats(-60, 60), dy=st.floats(-30, 30))
def test_turning_the_stadium_turns_every_bearing_with_it(axis_deg, turn, dx, dy):
    if np.hypot(dx, dy) < 1e-3:
        dx = 1.0
    before = field_bearing(x_axis_bearing_deg=axis_deg, dx_yd=dx, dy_yd=dy)
    after = field_bearing(x_axis_bearing_deg=axis_deg + turn, dx_yd=dx, dy_yd=dy)
    assert 0.0 <= float(after) < 360.0
    off = np.mod(after - before - turn + 180.0, 360.0) - 180.0
    assert abs(float(off)) < 1e-9  # float64 at a few hundred degrees


def test_a_bearing_never_rounds_up_to_360():
    assert float(field_bearing(x_axis_bearing_deg=-1e-15, dx_yd=1.0, dy_yd=0.0)) < 360.0


def test_a_direction_without_length_is_refused():
    with pytest.raises(InvalidInputError, match="different places"):
        field_bearing(x_axis_bearing_deg=0.0, dx_yd=[1.0, 0.0], dy_yd=0.0)
    with pytest.raises(InvalidInputError, match="x_axis_bearing_deg"):
        field_bearing(x_axis_bearing_deg=float("nan"), dx_yd=1.0, dy_yd=0.0)


@law
@given(bearing_deg=bearings, azimuth_deg=bearings, elevation_deg=elevations)
def test_the_angle_is_that_between_the_two_vectors(bearing_deg, azimuth_deg, elevation_deg):
    b, a, e = np.radians([bearing_deg, azimuth_deg, elevation_deg])
    theme = np.array([np.sin(b), np.cos(b), 0.0])
    sun = np.array([np.cos(e) * np.sin(a), np.cos(e) * np.cos(a), np.sin(e)])
    across, along = np.linalg.norm(np.cross(theme, sun)), theme @ sun
    angle = light_angle(
        bearing_deg=bearing_deg, sun_azimuth_deg=azimuth_deg, sun_elevation_deg=elevation_deg
    )
    # arccos loses digits near 0 and 180: half the digits of float64, 1e-6 degrees.
    assert float(angle) == pytest.approx(np.degrees(np.arctan2(across, along)), abs=3e-6)


@law
@given(bearing_deg=bearings, azimuth_deg=bearings, elevation_deg=elevations)
def test_looking_the_other_way_exchanges_front_and_back(bearing_deg, azimuth_deg, elevation_deg):
    here = light_angle(
        bearing_deg=bearing_deg, sun_azimuth_deg=azimuth_deg, sun_elevation_deg=elevation_deg
    )
    there = light_angle(
        bearing_deg=bearing_deg + 180, sun_azimuth_deg=azimuth_deg, sun_elevation_deg=elevation_deg
    )
    assert float(here + there) == pytest.approx(180.0, abs=3e-6)  # arccos, as above


# The limits are common practice: back to 45, front from 135, sun in the lens to 20, top from 60
# degrees of elevation.
@pytest.mark.parametrize(
    ("off_deg", "elevation_deg", "expected"),
    [
        (180, 35, LightKind.FRONT),
        (136, 35, LightKind.FRONT),
        (134, 35, LightKind.SIDE),
        (90, 35, LightKind.SIDE),
        (46, 35, LightKind.SIDE),
        (44, 35, LightKind.BACK),
        (0, 35, LightKind.BACK),
        (0, 12, LightKind.SUN_IN_LENS),
        (19, 2, LightKind.SUN_IN_LENS),
        (21, 2, LightKind.BACK),
        (0, 61, LightKind.TOP),
        (180, 61, LightKind.TOP),
        (0, -0.2, LightKind.SUN_IN_LENS),
        (0, -0.3, LightKind.NO_SUN),
        (180, -5, LightKind.NO_SUN),
    ],
)
@pytest.mark.parametrize("side", [1, -1])
def test_kinds_of_light(off_deg, elevation_deg, expected, side):
    assert kind(100.0, 100.0 + side * off_deg, elevation_deg) is expected


@law
@given(bearing_deg=bearings, azimuth_deg=bearings, turn=bearings, elevation_deg=elevations)
def test_only_the_difference_of_bearings_matters(bearing_deg, azimuth_deg, turn, elevation_deg):
    ground = abs((azimuth_deg - bearing_deg + 180) % 360 - 180)
    angle = float(
        light_angle(
            bearing_deg=bearing_deg, sun_azimuth_deg=azimuth_deg, sun_elevation_deg=elevation_deg
        )
    )
    borders = [abs(ground - 45), abs(ground - 135), abs(angle - 20)]
    if min(borders) < 1e-6:  # rounding may fall to either side of a border
        return
    assert kind(bearing_deg, azimuth_deg, elevation_deg) is kind(
        bearing_deg + turn, azimuth_deg + turn, elevation_deg
    )


def test_light_from_spots_is_vectorized_and_consistent():
    # A field laid out to the north, low sun in the west: sideline B (west) has the sun behind it.
    light = light_from_spots(
        spot_xy_yd=np.array([(60.0, -2.0), (60.0, 55.3), (0.0, 26.7)]),
        action_xy_yd=np.array([60.0, 26.7]),
        x_axis_bearing_deg=0.0,
        sun_azimuth_deg=270.0,
        sun_elevation_deg=25.0,
    )
    assert list(light.kinds) == [LightKind.BACK, LightKind.FRONT, LightKind.SIDE]
    assert light.angle_deg == pytest.approx([25.0, 155.0, 90.0], abs=3e-6)


def test_a_spot_on_the_action_is_refused():
    place = np.array([50.0, 0.0])
    with pytest.raises(InvalidInputError, match="different places"):
        light_from_spots(
            spot_xy_yd=place,
            action_xy_yd=place,
            x_axis_bearing_deg=0.0,
            sun_azimuth_deg=0.0,
            sun_elevation_deg=0.0,
        )


def test_the_sun_stays_in_the_lens_of_a_camera_that_stands_in_it():
    cases = [
        (LightKind.SUN_IN_LENS, False, True, LightKind.SUN_IN_LENS),
        (LightKind.SUN_IN_LENS, False, False, LightKind.SUN_IN_LENS),
        (LightKind.SUN_IN_LENS, True, False, LightKind.BACK),
        (LightKind.SUN_IN_LENS, True, True, LightKind.NO_SUN),
        (LightKind.FRONT, False, True, LightKind.NO_SUN),
        (LightKind.FRONT, True, False, LightKind.FRONT),
        (LightKind.SIDE, True, True, LightKind.NO_SUN),
    ]
    for kind_of_sun, spot, action, expected in cases:
        seen = seen_kinds([kind_of_sun], spot_in_shade=spot, action_in_shade=action)
        assert seen[0] is expected, (kind_of_sun, spot, action)
