"""Freezing, depth of field and frame size against published examples and first principles."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lensyard.errors import InvalidInputError, OutOfRangeError
from lensyard.features.light import compute as optics

distances_yd = st.floats(3.0, 150.0)
focal_lengths_mm = st.floats(16.0, 1200.0)
f_numbers = st.floats(1.0, 32.0)

YD_30_M = 30.0 / 0.9144
FULL_FRAME = {"sensor_width_mm": 36.0, "sensor_height_mm": 24.0, "sensor_width_px": 6000}


# --- Freezing ---------------------------------------------------------------------------------


def test_a_crossing_player_needs_the_published_shutter_time():
    # N >= F V / (D C), C = 20 micrometers (brisk.org.uk via rcstudio 2016). 400 mm, 30 m, 9 m/s:
    # 1/6000 s. Exact arithmetic.
    time_s = optics.freezing_shutter_s(distance_yd=YD_30_M, focal_length_mm=400.0, speed_m_s=9.0)
    assert 1 / time_s == pytest.approx(6000.0, rel=1e-12)


def test_an_approaching_player_swells_as_slowly_as_projection_says():
    # First principles, no formula: project a point .915 m off the axis before and after 1 ms.
    focal_mm, distance_m, speed_m_s, off_m, step_s = 400.0, 30.0, 9.0, 0.915, 1e-3
    before = focal_mm * off_m / distance_m
    after = focal_mm * off_m / (distance_m - speed_m_s * step_s)
    got = optics.image_speed_mm_s(
        distance_yd=YD_30_M,
        focal_length_mm=focal_mm,
        speed_m_s=speed_m_s,
        heading_deg=0.0,
    )
    # The derivative at the start against a chord over 9 mm of 30 m: 3e-4 of curvature.
    assert got == pytest.approx((after - before) / step_s, rel=1e-3)
    # And smaller than crossing by r / D.
    crossing = optics.image_speed_mm_s(
        distance_yd=YD_30_M, focal_length_mm=focal_mm, speed_m_s=speed_m_s
    )
    assert got / crossing == pytest.approx(off_m / distance_m, rel=1e-9)


@given(
    distance_yd=distances_yd,
    focal_length_mm=focal_lengths_mm,
    speed_m_s=st.floats(0.5, 11.0),
    heading_deg=st.floats(0.0, 90.0),
)
def test_the_real_smear_never_exceeds_the_allowed_blur(
    distance_yd, focal_length_mm, speed_m_s, heading_deg
):
    time_s = optics.freezing_shutter_s(
        distance_yd=distance_yd,
        focal_length_mm=focal_length_mm,
        speed_m_s=speed_m_s,
        heading_deg=heading_deg,
    )
    time_s = min(time_s, 0.002)  # long exposures leave the small-step picture, and the field
    depth_m, across_m = distance_yd * 0.9144, 0.915
    moved_m = speed_m_s * time_s
    heading = math.radians(heading_deg)
    before = focal_length_mm * across_m / depth_m
    after = (
        focal_length_mm
        * (across_m + moved_m * math.sin(heading))
        / (depth_m - moved_m * math.cos(heading))
    )
    # 2 % for the curvature over up to 22 mm of approach at 2.7 m.
    assert after - before <= 0.02 * 1.02


@given(distance_yd=distances_yd, focal_length_mm=focal_lengths_mm, factor=st.floats(1.01, 3.0))
def test_a_longer_lens_and_a_nearer_player_need_a_faster_shutter(
    distance_yd, focal_length_mm, factor
):
    base = {"distance_yd": distance_yd, "focal_length_mm": focal_length_mm}
    for heading_deg in (0.0, 45.0, 90.0):
        here = optics.freezing_shutter_s(heading_deg=heading_deg, **base)
        longer = optics.freezing_shutter_s(
            distance_yd=distance_yd,
            focal_length_mm=focal_length_mm * factor,
            heading_deg=heading_deg,
        )
        farther = optics.freezing_shutter_s(
            distance_yd=distance_yd * factor,
            focal_length_mm=focal_length_mm,
            heading_deg=heading_deg,
        )
        assert longer == pytest.approx(here / factor, rel=1e-9)
        assert farther > here


def test_freezing_refuses_impossible_numbers():
    with pytest.raises(OutOfRangeError):
        optics.image_speed_mm_s(distance_yd=30.0, focal_length_mm=400.0, heading_deg=120.0)
    with pytest.raises(InvalidInputError):
        optics.freezing_shutter_s(distance_yd=0.0, focal_length_mm=400.0)


# --- Depth of field ---------------------------------------------------------------------------


# Worked examples of a published depth-of-field page, printed without the trailing + f. In mm; two
# decimals where printed.
@pytest.mark.parametrize(
    ("focal_length_mm", "f_number", "circle_mm", "published_mm"),
    [(50.0, 8.0, 0.02, 15_625.0), (35.0, 11.0, 0.03, 3712.12)],
)
def test_hyperfocal_distance_agrees_with_worked_examples(
    focal_length_mm, f_number, circle_mm, published_mm
):
    got = optics.hyperfocal_mm(
        focal_length_mm=focal_length_mm, f_number=f_number, circle_mm=circle_mm
    )
    assert got - focal_length_mm == pytest.approx(published_mm, abs=0.005)


def test_depth_of_field_agrees_with_the_worked_example():
    # 400 mm f/2.8, c = .03 mm at 30 m (Greenleaf's formulas, worked out apart): hyperfocal
    # 1905.16 m, sharp from 29.541 to 30.474 m. As printed.
    hyperfocal = optics.hyperfocal_mm(focal_length_mm=400.0, f_number=2.8, circle_mm=0.03)
    assert hyperfocal / 1000 == pytest.approx(1905.16, abs=0.005)
    depth = optics.depth_of_field(
        distance_yd=YD_30_M, focal_length_mm=400.0, f_number=2.8, circle_mm=0.03
    )
    assert depth.near_yd * 0.9144 == pytest.approx(29.541, abs=0.0005)
    assert depth.far_yd * 0.9144 == pytest.approx(30.474, abs=0.0005)
    assert depth.front_yd + depth.behind_yd == pytest.approx(depth.far_yd - depth.near_yd, rel=1e-9)


def blur_circle_mm(*, object_mm, focus_mm, focal_length_mm, f_number):
    """Return the blur of a point, traced through a thin lens focused elsewhere. [mm]"""
    sensor = focal_length_mm * focus_mm / (focus_mm - focal_length_mm)
    image = (
        focal_length_mm
        if math.isinf(object_mm)
        else focal_length_mm * object_mm / (object_mm - focal_length_mm)
    )
    return focal_length_mm / f_number * abs(image - sensor) / image


@given(distance_yd=distances_yd, focal_length_mm=focal_lengths_mm, f_number=f_numbers)
def test_at_both_limits_a_traced_ray_bundle_is_one_circle_wide(
    distance_yd, focal_length_mm, f_number
):
    depth = optics.depth_of_field(
        distance_yd=distance_yd, focal_length_mm=focal_length_mm, f_number=f_number, circle_mm=0.03
    )
    lens = {
        "focus_mm": distance_yd * 914.4,
        "focal_length_mm": focal_length_mm,
        "f_number": f_number,
    }
    near = blur_circle_mm(object_mm=depth.near_yd * 914.4, **lens)
    far = blur_circle_mm(object_mm=depth.far_yd * 914.4, **lens)
    # Differences of nearly equal image distances: 1e-16 of meters against micrometers.
    assert near == pytest.approx(0.03, rel=1e-5)
    if math.isinf(depth.far_yd):
        assert far <= 0.03 * (1 + 1e-5)
    else:
        assert far == pytest.approx(0.03, rel=1e-5)
    assert depth.near_yd < distance_yd < depth.far_yd


@given(distance_yd=distances_yd, focal_length_mm=focal_lengths_mm, factor=st.floats(1.05, 4.0))
def test_stopping_down_never_makes_the_sharp_zone_shorter(distance_yd, focal_length_mm, factor):
    wide, stopped = (
        optics.depth_of_field(distance_yd=distance_yd, focal_length_mm=focal_length_mm, f_number=n)
        for n in (2.8, 2.8 * factor)
    )
    assert stopped.front_yd > wide.front_yd
    assert stopped.behind_yd >= wide.behind_yd


def test_the_circle_scales_with_the_sensor_and_focus_inside_the_lens_is_refused():
    assert optics.circle_of_confusion_mm() == pytest.approx(0.03)
    assert optics.circle_of_confusion_mm(sensor_width_mm=24.0) == pytest.approx(0.02)
    with pytest.raises(InvalidInputError, match="beyond the focal length"):
        optics.depth_of_field(distance_yd=0.3, focal_length_mm=400.0, f_number=2.8)


# --- Frame ------------------------------------------------------------------------------------


def test_a_player_at_the_usual_reach_fills_five_sixths_of_the_frame():
    # 1.83 m * 400 mm / 36.576 m = 20.01 mm; of 24 mm 83 %. By hand, three digits.
    player = optics.player_in_frame(distance_yd=40.0, focal_length_mm=400.0, **FULL_FRAME)
    assert player.height_mm == pytest.approx(20.01, abs=0.005)
    assert player.share_of_frame == pytest.approx(0.834, abs=0.0005)
    assert player.height_px == pytest.approx(20.01 / 36.0 * 6000, abs=1.0)


# Angles of view published elsewhere, against the scene that the pixels span: 1 degree across 17.3
# mm at 991.191824 mm (conversionencyclopedia), 41.112 degrees across 22.5 mm at 30 mm
# (ScienceZero). As many digits as printed.
@pytest.mark.parametrize(
    ("focal_length_mm", "width_mm", "angle_deg", "digit"),
    [(991.191824, 17.3, 1.0, 1e-6), (30.0, 22.5, 41.112, 5e-4)],
)
def test_the_frame_spans_the_published_angle_of_view(focal_length_mm, width_mm, angle_deg, digit):
    player = optics.player_in_frame(
        distance_yd=50.0,
        focal_length_mm=focal_length_mm,
        sensor_width_mm=width_mm,
        sensor_height_mm=10.0,
        sensor_width_px=5000,
    )
    scene_m = optics.PLAYER_HEIGHT_M * 5000 / player.height_px
    got = 2 * math.degrees(math.atan(scene_m / 2 / (50.0 * 0.9144)))
    assert got == pytest.approx(angle_deg, abs=digit)


@given(distance_yd=distances_yd, focal_length_mm=focal_lengths_mm, factor=st.floats(1.01, 4.0))
def test_size_in_the_frame_goes_with_focal_length_over_distance(
    distance_yd, focal_length_mm, factor
):
    here, longer, farther = (
        optics.player_in_frame(distance_yd=d, focal_length_mm=f, **FULL_FRAME)
        for d, f in (
            (distance_yd, focal_length_mm),
            (distance_yd, focal_length_mm * factor),
            (distance_yd * factor, focal_length_mm),
        )
    )
    assert longer.height_px == pytest.approx(here.height_px * factor, rel=1e-9)
    assert farther.height_px == pytest.approx(here.height_px / factor, rel=1e-9)


@pytest.mark.parametrize(
    "change",
    [
        {"distance_yd": 0.0},
        {"focal_length_mm": -1.0},
        {"sensor_width_px": 0},
    ],
)
def test_impossible_frames_are_refused(change):
    usual = {"distance_yd": 40.0, "focal_length_mm": 400.0, **FULL_FRAME}
    with pytest.raises(InvalidInputError):
        optics.player_in_frame(**(usual | change))
