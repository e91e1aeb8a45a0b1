"""Yards to pixels and back, and which way the offense goes."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lensyard.domain.field import (
    FIELD_LENGTH_YD,
    FIELD_WIDTH_YD,
    Direction,
    StadiumPoint,
    play_point,
    rules_named,
)
from lensyard.errors import OutOfRangeError
from lensyard.render.field.frame import Frame, frame_of
from lensyard.render.field.picture import FieldPicture, Orientation

ORIENTATIONS = st.sampled_from(Orientation)
DIRECTIONS = st.sampled_from(Direction)


def frame(
    orientation: Orientation,
    *,
    direction: Direction = Direction.TOWARD_B,
    stadium: bool = False,
    width_px: float = 800,
) -> Frame:
    picture = FieldPicture(rules_named("pro"), direction=direction)
    return frame_of(picture, orientation=orientation, width_px=width_px, stadium=stadium)


@given(
    x=st.floats(-8, 128),
    y=st.floats(-8, 61),
    orientation=ORIENTATIONS,
    direction=DIRECTIONS,
    stadium=st.booleans(),
)
def test_pixels_and_yards_round_trip(
    x: float, y: float, orientation: Orientation, direction: Direction, stadium: bool
) -> None:
    made = frame(orientation, direction=direction, stadium=stadium)
    back = made.play_place(*made.at(x, y))
    # float64 over a few hundred pixels
    assert (back.x_yd, back.y_yd) == pytest.approx((x, y), abs=1e-9)


@given(x=st.floats(-8, 128), y=st.floats(-8, 61), orientation=ORIENTATIONS, stadium=st.booleans())
def test_the_affine_numbers_do_the_same(
    x: float, y: float, orientation: Orientation, stadium: bool
) -> None:
    made = frame(orientation, direction=Direction.TOWARD_A, stadium=stadium)
    a, b, c, d, e, f = (float(part) for part in made.affine().split())
    px, py = made.at(x, y)
    # Six significant digits over 800 px are good for a few thousandths of a yard.
    assert (a * px + b * py + c, d * px + e * py + f) == pytest.approx((x, y), abs=0.01)


def test_the_offense_attacks_right_or_up_with_its_left_on_top_or_left() -> None:
    lying, upright = frame(Orientation.HORIZONTAL), frame(Orientation.VERTICAL)
    assert lying.at(110, 20)[0] > lying.at(10, 20)[0]
    assert lying.at(50, FIELD_WIDTH_YD)[1] < lying.at(50, 0)[1]
    assert upright.at(110, 20)[1] < upright.at(10, 20)[1]
    assert upright.at(50, FIELD_WIDTH_YD)[0] < upright.at(50, 0)[0]


@given(x=st.floats(0, 120), y=st.floats(0, 53), orientation=ORIENTATIONS)
def test_the_ground_stays_put_in_the_stadium_frame(
    x: float, y: float, orientation: Orientation
) -> None:
    pixels = []
    for direction in Direction:
        place = play_point(StadiumPoint(x, y), direction)
        made = frame(orientation, direction=direction, stadium=True)
        pixels.append(made.at(place.x_yd, place.y_yd))
    assert pixels[0] == pytest.approx(pixels[1], abs=1e-9)


@given(direction=DIRECTIONS, orientation=ORIENTATIONS)
def test_the_play_frame_ignores_the_direction(
    direction: Direction, orientation: Orientation
) -> None:
    assert frame(orientation, direction=direction) == frame(orientation)


@pytest.mark.parametrize("orientation", Orientation)
def test_the_whole_field_and_the_strip_fit(orientation: Orientation) -> None:
    picture = FieldPicture(rules_named("pro"))
    made = frame_of(picture, orientation=orientation, width_px=390, stadium=False)
    width, height = made.surround_px
    assert width == pytest.approx(390)
    corners = [
        made.at(x, y)
        for x in (-picture.end_yd, FIELD_LENGTH_YD + picture.end_yd)
        for y in (-picture.side_yd, FIELD_WIDTH_YD + picture.side_yd)
    ]
    assert all(0 < px < width and 0 < py < height for px, py in corners)


@pytest.mark.parametrize("width", [0.0, 279.0, 4001.0, float("nan")])
def test_a_width_out_of_range_is_refused(width: float) -> None:
    with pytest.raises(OutOfRangeError, match="width_px must be between 280 and 4000"):
        frame(Orientation.HORIZONTAL, width_px=width)


def test_both_orientations_have_one_scale_a_picture(
    make_picture: Callable[..., FieldPicture],
) -> None:
    for orientation in Orientation:
        made = frame_of(make_picture(), orientation=orientation, width_px=500, stadium=False)
        (ax, ay), (bx, by), (cx, cy) = made.at(50, 20), made.at(60, 20), made.at(50, 30)
        assert abs(ax - bx) + abs(ay - by) == pytest.approx(abs(ax - cx) + abs(ay - cy))
