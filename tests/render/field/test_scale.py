"""Yards to pixels and back, and which way the offense goes."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lensyard.domain.field import FIELD_LENGTH_YD, FIELD_WIDTH_YD, rules_named
from lensyard.errors import OutOfRangeError
from lensyard.render.field.canvas import Scale, scale_of
from lensyard.render.field.picture import FieldPicture, Orientation


def scale(orientation: Orientation, *, width_px: float = 800) -> Scale:
    return scale_of(FieldPicture(rules_named("pro")), orientation=orientation, width_px=width_px)


@given(x=st.floats(-8, 128), y=st.floats(-8, 61), orientation=st.sampled_from(Orientation))
def test_the_affine_numbers_lead_from_pixels_back_to_yards(
    x: float, y: float, orientation: Orientation
) -> None:
    made = scale(orientation)
    a, b, c, d, e, f = (float(part) for part in made.affine().split())
    px, py = made.at(x, y)
    # Six significant digits over 800 px are good for a few thousandths of a yard.
    assert (a * px + b * py + c, d * px + e * py + f) == pytest.approx((x, y), abs=0.01)


def test_the_offense_attacks_right_or_up_with_its_left_on_top_or_left() -> None:
    lying, upright = scale(Orientation.HORIZONTAL), scale(Orientation.VERTICAL)
    assert lying.at(110, 20)[0] > lying.at(10, 20)[0]
    assert lying.at(50, FIELD_WIDTH_YD)[1] < lying.at(50, 0)[1]
    assert upright.at(110, 20)[1] < upright.at(10, 20)[1]
    assert upright.at(50, FIELD_WIDTH_YD)[0] < upright.at(50, 0)[0]


@pytest.mark.parametrize("orientation", Orientation)
def test_the_whole_field_and_the_strip_fit(orientation: Orientation) -> None:
    picture = FieldPicture(rules_named("pro"))
    made = scale_of(picture, orientation=orientation, width_px=390)
    width, height = made.size_px
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
        scale(Orientation.HORIZONTAL, width_px=width)


def test_a_yard_is_as_long_along_the_field_as_across(
    make_picture: Callable[..., FieldPicture],
) -> None:
    for orientation in Orientation:
        made = scale_of(make_picture(), orientation=orientation, width_px=500)
        (ax, ay), (bx, by), (cx, cy) = made.at(50, 20), made.at(60, 20), made.at(50, 30)
        assert abs(ax - bx) + abs(ay - by) == pytest.approx(abs(ax - cx) + abs(ay - cy))
