"""Bearings and the kinds of light."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lensyard.errors import InvalidInputError
from lensyard.sun import direction

bearings = st.floats(0.0, 360.0)
elevations = st.floats(-10.0, 89.0)


def light(bearing_deg, azimuth_deg, elevation_deg):
    """Return angle and `LightKind` of one line."""
    angle, kinds = direction.light_of_lines(
        bearing_deg=bearing_deg, sun_azimuth_deg=azimuth_deg, sun_elevation_deg=elevation_deg
    )
    return float(angle), kinds.item()


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
    bearing = direction.field_bearing(x_axis_bearing_deg=axis_deg, dx_yd=dx, dy_yd=dy)
    assert float(bearing) == pytest.approx(expected_deg, abs=1e-9)


@given(axis_deg=bearings, turn=bearings, dx=st.floats(-60, 60), dy=st.floats(-30, 30))
def test_turning_the_stadium_turns_every_bearing_with_it(axis_deg, turn, dx, dy):
    if np.hypot(dx, dy) < 1e-3:
        dx = 1.0
    before = direction.field_bearing(x_axis_bearing_deg=axis_deg, dx_yd=dx, dy_yd=dy)
    after = direction.field_bearing(x_axis_bearing_deg=axis_deg + turn, dx_yd=dx, dy_yd=dy)
    assert 0.0 <= float(after) < 360.0
    off = np.mod(after - before - turn + 180.0, 360.0) - 180.0
    assert abs(float(off)) < 1e-9  # float64 at a few hundred degrees


def test_a_bearing_never_rounds_up_to_360():
    assert float(direction.field_bearing(x_axis_bearing_deg=-1e-15, dx_yd=1.0, dy_yd=0.0)) < 360.0


def test_a_direction_without_length_is_refused():
    with pytest.raises(InvalidInputError, match="different places"):
        direction.field_bearing(x_axis_bearing_deg=0.0, dx_yd=[1.0, 0.0], dy_yd=0.0)
    with pytest.raises(InvalidInputError, match="x_axis_bearing_deg"):
        direction.field_bearing(x_axis_bearing_deg=float("nan"), dx_yd=1.0, dy_yd=0.0)


@given(bearing_deg=bearings, azimuth_deg=bearings, elevation_deg=elevations)
def test_the_angle_is_that_between_the_two_vectors(bearing_deg, azimuth_deg, elevation_deg):
    b, a, e = np.radians([bearing_deg, azimuth_deg, elevation_deg])
    theme = np.array([np.sin(b), np.cos(b), 0.0])
    sun = np.array([np.cos(e) * np.sin(a), np.cos(e) * np.cos(a), np.sin(e)])
    across, along = np.linalg.norm(np.cross(theme, sun)), theme @ sun
    angle, _ = light(bearing_deg, azimuth_deg, elevation_deg)
    # arccos loses digits near 0 and 180: half the digits of float64, 1e-6 degrees.
    assert angle == pytest.approx(np.degrees(np.arctan2(across, along)), abs=3e-6)


# The limits are common practice: back to 45, front from 135, sun in the lens to 20, top from 60
# degrees of elevation.
@pytest.mark.parametrize(
    ("off_deg", "elevation_deg", "expected"),
    [
        (180, 35, direction.LightKind.FRONT),
        (136, 35, direction.LightKind.FRONT),
        (134, 35, direction.LightKind.SIDE),
        (90, 35, direction.LightKind.SIDE),
        (46, 35, direction.LightKind.SIDE),
        (44, 35, direction.LightKind.BACK),
        (0, 35, direction.LightKind.BACK),
        (0, 12, direction.LightKind.SUN_IN_LENS),
        (19, 2, direction.LightKind.SUN_IN_LENS),
        (21, 2, direction.LightKind.BACK),
        (0, 61, direction.LightKind.TOP),
        (180, 61, direction.LightKind.TOP),
        (0, -0.2, direction.LightKind.SUN_IN_LENS),
        (0, -0.3, direction.LightKind.NO_SUN),
        (180, -5, direction.LightKind.NO_SUN),
    ],
)
@pytest.mark.parametrize("side", [1, -1])
def test_kinds_of_light(off_deg, elevation_deg, expected, side):
    assert light(100.0, 100.0 + side * off_deg, elevation_deg)[1] is expected


@given(bearing_deg=bearings, azimuth_deg=bearings, turn=bearings, elevation_deg=elevations)
def test_only_the_difference_of_bearings_matters(bearing_deg, azimuth_deg, turn, elevation_deg):
    ground = abs((azimuth_deg - bearing_deg + 180) % 360 - 180)
    angle, kind = light(bearing_deg, azimuth_deg, elevation_deg)
    borders = [abs(ground - 45), abs(ground - 135), abs(angle - 20)]
    if min(borders) < 1e-6:  # rounding may fall to either side of a border
        return
    assert light(bearing_deg + turn, azimuth_deg + turn, elevation_deg)[1] is kind


def test_the_sun_stays_in_the_lens_of_a_camera_that_stands_in_it():
    cases = [
        (direction.LightKind.SUN_IN_LENS, False, True, direction.LightKind.SUN_IN_LENS),
        (direction.LightKind.SUN_IN_LENS, False, False, direction.LightKind.SUN_IN_LENS),
        (direction.LightKind.SUN_IN_LENS, True, False, direction.LightKind.BACK),
        (direction.LightKind.SUN_IN_LENS, True, True, direction.LightKind.NO_SUN),
        (direction.LightKind.FRONT, False, True, direction.LightKind.NO_SUN),
        (direction.LightKind.FRONT, True, False, direction.LightKind.FRONT),
        (direction.LightKind.SIDE, True, True, direction.LightKind.NO_SUN),
    ]
    for kind_of_sun, spot, action, expected in cases:
        seen = direction.seen_kinds([kind_of_sun], spot_in_shade=spot, action_in_shade=action)
        assert seen[0] is expected, (kind_of_sun, spot, action)
