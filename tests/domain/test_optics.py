"""Lenses, bodies and kits: what reach means, and the laws of bands."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.support.field import METERS_PER_YARD

from lensyard.domain.kit import (
    DEMO_KIT,
    Body,
    Kit,
    Lens,
    Mounted,
    kit_of,
    parse_kit,
    reach_quality,
)
from lensyard.errors import InvalidInputError

FULL_FRAME_WIDTH_MM = 36.0

PLAYER_M = 1.83

focal_mm = st.floats(min_value=10, max_value=800)
crop = st.floats(min_value=0.7, max_value=2.7)


def image_mm(*, size_m, focal_length_mm, distance_yd):
    """Size on the sensor, pinhole model: f times size over distance."""
    return focal_length_mm * size_m / (distance_yd * METERS_PER_YARD)


@given(f_mm=focal_mm, crop_factor=crop)
def test_a_player_at_reach_is_83_percent_of_the_frame_height(f_mm, crop_factor):
    """Common practice (10 yd for every 100 mm) has this physical meaning, on any sensor."""
    mounted = Mounted(Lens(f_mm, f_mm), Body(crop_factor))
    image = image_mm(size_m=PLAYER_M, focal_length_mm=f_mm, distance_yd=mounted.reach_yd)
    # 10 * 1.83 / 0.9144 = 20.013 mm on full frame; "20.0" and "83 %" are rounded to what is shown.
    assert image * crop_factor == pytest.approx(20.0, abs=0.05)
    assert image / (24.0 / crop_factor) == pytest.approx(0.83, abs=0.005)


def test_the_thin_lens_agrees_with_the_pinhole_within_a_percent():
    # m = f / (d - f): S. F. Ray, Applied Photographic Optics (from memory).
    for f_mm in (70.0, 200.0, 400.0, 600.0):
        d_mm = Mounted(Lens(f_mm, f_mm)).reach_yd * METERS_PER_YARD * 1000
        thin = f_mm / (d_mm - f_mm) * PLAYER_M * 1000
        # d is 91.44 f at reach, whatever the lens: 1 part in 90.
        assert thin == pytest.approx(20.0, rel=0.015)


@given(f_mm=focal_mm)
def test_half_a_player_fills_the_long_side_at_the_nearest_distance(f_mm):
    near_yd = Mounted(Lens(f_mm, f_mm, minimum_focus_m=0.0)).nearest_yd
    image = image_mm(size_m=PLAYER_M / 2, focal_length_mm=f_mm, distance_yd=near_yd)
    # Rounding only.
    assert image == pytest.approx(FULL_FRAME_WIDTH_MM, rel=1e-12)


@given(f_mm=focal_mm, focus_m=st.floats(0, 5))
def test_nothing_is_nearer_than_the_minimum_focus_distance(f_mm, focus_m):
    bare_m, near_m = (
        Mounted(Lens(f_mm, f_mm, minimum_focus_m=focus)).nearest_yd * METERS_PER_YARD
        for focus in (0.0, focus_m)
    )
    assert near_m >= focus_m * (1 - 1e-12)
    assert near_m >= bare_m * (1 - 1e-12)


@pytest.mark.parametrize(
    ("converter", "stops"),
    [(1.4, 1.0), (2.0, 2.0)],  # 2 log2(M): Photography Stack Exchange, question 99286
)
def test_a_converter_costs_the_published_stops_and_multiplies_the_focal_length(converter, stops):
    bare, longer = (
        Mounted(Lens(300, 300, 2.8, 2.2)),
        Mounted(Lens(300, 300, 2.8, 2.2), converter=converter),
    )
    lost = 2 * math.log2(longer.f_number / bare.f_number)
    # 1.4 stands for the square root of 2: 0.971 stop, sold as 1.
    assert lost == pytest.approx(stops, abs=0.03)
    assert longer.focal_length_mm == pytest.approx(300 * converter)
    assert longer.reach_yd == pytest.approx(bare.reach_yd * converter)


def test_a_converter_leaves_the_minimum_focus_distance_as_it_is():
    # An afocal converter behind the lens; common practice.
    macro = Lens(50, 50, 2.8, 3.0)  # so far a focus limit that it binds with and without
    assert Mounted(macro, converter=1.4).nearest_yd == Mounted(macro).nearest_yd


@pytest.mark.parametrize(
    ("crop_factor", "published_mm"),
    [
        (1.0, 36.0),  # common data sheets
        (1.5, 23.5),  # common data sheets (from memory)
        (1.6, 22.3),  # common data sheets (from memory)
        (2.0, 17.3),  # Micro Four Thirds, common data sheets
        (2.7, 13.2),  # 1-inch (from memory)
    ],
)
def test_sensor_width_is_near_the_published_one(crop_factor, published_mm):
    # Crop factors compare diagonals and are rounded to one decimal; 4:3 sensors are 4 % narrower.
    assert Body(crop_factor).sensor_width_mm == pytest.approx(published_mm, rel=0.045)


@pytest.mark.parametrize(
    ("text", "low_m", "high_m"),
    [
        # published data sheets of the classes
        ("70-200/2.8", 0.7, 1.5),
        ("300/2.8", 2.0, 2.5),
        ("400/2.8", 2.5, 4.0),
        ("600/4", 4.2, 4.5),
    ],
)
def test_assumed_focus_distance_lies_in_the_published_class(text, low_m, high_m):
    assert low_m <= parse_kit(text).mounted[0].lens.minimum_focus_m <= high_m


@given(
    focals=st.lists(focal_mm, min_size=2, max_size=2),
    distance=st.lists(st.floats(0, 120), min_size=1, max_size=30),
)
def test_a_longer_prime_reaches_more_except_nearer_than_its_nearest_distance(focals, distance):
    shorter, longer = (Mounted(Lens(f, f)) for f in sorted(focals))
    d = np.array(distance)
    lost = reach_quality(d, (shorter,)) > reach_quality(d, (longer,)) + 1e-9
    assert (d[lost] < longer.nearest_yd).all()


@given(
    wide=st.floats(10, 200),
    ends=st.lists(st.floats(200, 800), min_size=2, max_size=2),
    distance=st.lists(st.floats(0, 120), min_size=1, max_size=30),
)
def test_a_longer_long_end_never_loses_a_distance(wide, ends, distance):
    shorter, longer = (Mounted(Lens(wide, long)) for long in sorted(ends))
    d = np.array(distance)
    assert (reach_quality(d, (shorter,)) <= reach_quality(d, (longer,)) + 1e-9).all()


@given(focals=st.lists(focal_mm, min_size=1, max_size=4), distance=st.floats(0, 120))
def test_a_kit_covers_the_union_of_its_lenses_and_holes_are_the_rest(focals, distance):
    kit = Kit(tuple(Mounted(Lens(f, f)) for f in focals), bodies=len(focals))
    covered = bool(reach_quality(distance, kit.mounted, crop_margin=1.0))
    assert covered == any(m.nearest_yd <= distance <= m.reach_yd for m in kit.mounted)
    in_hole = any(low < distance < high for low, high in kit.coverage_gaps_yd())
    at_edge = any(distance in hole for hole in kit.coverage_gaps_yd())
    assert at_edge or covered != (in_hole or distance > kit.reach_yd)


def test_a_long_prime_alone_has_a_hole_that_a_second_body_closes():
    ((low, high),) = kit_of(["400"]).coverage_gaps_yd()
    # 400 * 0.915 / 36 m = 10.17 m
    assert (low, high) == (0.0, pytest.approx(11.12, abs=0.005))
    assert all(high < 3 for _, high in kit_of(["70-200", "400"]).coverage_gaps_yd())
    assert DEMO_KIT.reach_yd == 40.0


def test_fewer_bodies_than_lenses_leave_a_choice():
    kit = kit_of(["24-70", "70-200", "400"], bodies=2)
    assert len(kit.lens_sets) == 3
    assert all(len(hand) == 2 for hand in kit.lens_sets)
    assert kit_of(["24-70", "70-200"]).lens_sets == (kit_of(["24-70", "70-200"]).mounted,)


def test_the_converter_sits_on_the_longest_lens():
    kit = kit_of(["400", "70-200"], converter=1.4)
    assert [m.converter for m in kit.mounted] == [1.4, 1.0]
    assert kit.reach_yd == pytest.approx(56.0)


def test_a_crop_body_lengthens_the_reach_of_its_own_lens_only():
    kit = kit_of(["400", "70-200"], crop_factors=[1.0, 1.5])
    assert [m.reach_yd for m in kit.mounted] == [pytest.approx(40.0), pytest.approx(30.0)]


@pytest.mark.parametrize(
    ("text", "wide", "long", "f_number"),
    [
        ("70-200", 70, 200, 2.8),
        (" 70 - 200 mm f/4 ", 70, 200, 4.0),
        ("400", 400, 400, 2.8),
        ("600/4", 600, 600, 4.0),
        ("400mm f2.8", 400, 400, 2.8),
    ],
)
def test_lenses_read_as_people_write_them(text, wide, long, f_number):
    lens = parse_kit(text).mounted[0].lens
    assert (lens.wide_mm, lens.long_mm, lens.f_number) == (wide, long, f_number)


@pytest.mark.parametrize(
    "build",
    [
        lambda: kit_of([]),
        lambda: kit_of(["400"], bodies=0),
        lambda: kit_of(["400"], converter=0.7),
        lambda: kit_of(["400"], converter=math.nan),
        lambda: kit_of(["400"], crop_factors=[0.0]),
        lambda: kit_of(["400"], crop_factors=[1.0, 1.5]),
        lambda: Lens(math.nan, math.nan),
        lambda: Lens(0.0, 0.0),
        lambda: Body(width_px=10),
        lambda: Lens(70, 200, minimum_focus_m=math.nan),
    ],
)
def test_a_kit_that_cannot_be_is_refused(build):
    with pytest.raises(InvalidInputError):
        build()  # type: ignore[operator]


@pytest.mark.parametrize(
    ("texts", "says"),
    [
        (
            ("", "long one", "-200", "70-", "nan", "inf", "70-200-300"),
            r"70-200, 400 or 70-200/2\.8",
        ),
        (("0", "1", "5000", "70-9000", "200/0"), "must be between"),
        (("200-70",), "Write 70-200"),
    ],
)
def test_what_is_no_lens_is_refused_with_the_way_out(texts, says):
    for text in texts:
        with pytest.raises(InvalidInputError, match=says):
            kit_of([text])
