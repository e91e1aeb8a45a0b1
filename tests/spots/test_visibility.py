"""From a spot to a cell: distance, facing, posts, closed areas, and the laws between them."""

import math
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.support.field import CENTER_Y_YD, FIELD_LENGTH_YD, FIELD_WIDTH_YD
from tests.support.places import nearest_station

from lensyard.domain.assignment import Faces
from lensyard.domain.field import RULES, Direction, PostSupport
from lensyard.domain.kit import Kit, Lens, Mounted, kit_of, reach_quality
from lensyard.domain.perimeter import perimeter_of
from lensyard.domain.venue import ClosedStretch, Edge, standard_venue
from lensyard.errors import OutOfRangeError
from lensyard.spots.visibility import geometry_of

OPPONENT_GOAL_LINE_X_YD = 110.0

# A coarse grid of cells over the field, end zones and both edges included.
CELL_X, CELL_Y = (
    grid.ravel()
    for grid in np.meshgrid(np.linspace(0, 120, 41), np.linspace(0, FIELD_WIDTH_YD, 17))
)
directions = st.sampled_from(Direction)
cell_x = st.floats(0, FIELD_LENGTH_YD)
cell_y = st.floats(0, FIELD_WIDTH_YD)


def seen(
    perimeter,
    *,
    x_yd=CELL_X,
    y_yd=CELL_Y,
    direction=Direction.TOWARD_B,
    faces=Faces.OFFENSE,
    limit_deg=75.0,
):
    return geometry_of(
        perimeter,
        stations=np.arange(len(perimeter)),
        cell_x_yd=np.asarray(x_yd, dtype=float),
        cell_y_yd=np.asarray(y_yd, dtype=float),
        direction=direction,
        faces=faces,
        facing_limit_deg=limit_deg,
    )


@cache
def field(name="pro", step_yd=4.0):
    perimeter = perimeter_of(standard_venue(name), step_yd=step_yd)
    return perimeter, seen(perimeter)


def bare(**change):
    """A venue without closed areas and posts."""
    return replace(standard_venue(), **({"closed": (), "posts": ()} | change))


@st.composite
def stretches(draw):
    edge = draw(st.sampled_from(Edge))
    low = draw(st.floats(-5, edge.length_yd - 3))
    return ClosedStretch(
        edge=edge,
        from_yd=low,
        to_yd=draw(st.floats(low + 1, min(low + 40, edge.length_yd + 5))),
        front_yd=draw(st.floats(0, 3)),
        depth_yd=draw(st.floats(0.5, 8)),
    )


# --- distance and facing ----------------------------------------------------------------------


@pytest.mark.parametrize("name", RULES)
@pytest.mark.parametrize("faces", Faces)
def test_facing_is_the_angle_between_the_wanted_direction_and_the_camera(name, faces):
    perimeter, _ = field(name)
    geometry = seen(perimeter, faces=faces)
    dx = perimeter.x_yd[:, None] - CELL_X
    dy = perimeter.y_yd[:, None] - CELL_Y
    toward = dx if faces is Faces.OFFENSE else -dx
    angle_deg = np.degrees(np.arctan2(np.abs(dy), toward))
    sure = np.abs(angle_deg - 75.0) > 1e-6  # on the limit itself the two roundings may differ
    assert (geometry.facing == (angle_deg <= 75.0))[sure].all()
    np.testing.assert_allclose(geometry.distance_yd, np.sqrt(dx**2 + dy**2), rtol=1e-12)


def test_a_camera_level_with_the_ball_faces_it_at_90_degrees_and_not_at_89():
    perimeter = perimeter_of(bare())
    level = nearest_station(perimeter, x_yd=60.0, y_yd=-4.0)
    x, y = perimeter.x_yd[level : level + 1], np.array([20.0])
    assert seen(perimeter, x_yd=x, y_yd=y, limit_deg=90.0).facing[level, 0]
    assert not seen(perimeter, x_yd=x, y_yd=y, limit_deg=89.0).facing[level, 0]
    assert seen(perimeter, x_yd=x, y_yd=y, limit_deg=180.0).facing.all()


@given(x=cell_x, y=cell_y, limits=st.lists(st.floats(0, 180), min_size=2, max_size=2))
def test_a_wider_limit_never_loses_a_face(x, y, limits):
    perimeter, _ = field()
    narrow, wide = (
        seen(perimeter, x_yd=[x], y_yd=[y], limit_deg=limit).facing for limit in sorted(limits)
    )
    assert not (narrow & ~wide).any()


def test_nobody_faces_both_ways_under_90_degrees():
    perimeter, offense = field()
    defense = seen(perimeter, faces=Faces.DEFENSE)
    assert not (offense.facing & defense.facing).any()
    # Offense's faces are seen from ahead of the play, the defense's from behind the offense.
    ahead = perimeter.x_yd[:, None] > CELL_X
    assert ahead[offense.facing].all()
    assert not ahead[defense.facing].any()


@pytest.mark.parametrize("limit", [-1.0, 181.0, math.nan, math.inf])
def test_a_facing_limit_that_is_no_angle_is_refused(limit):
    with pytest.raises(OutOfRangeError, match="facing_limit_deg"):
        seen(field()[0], limit_deg=limit)


# --- reach ------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", RULES)
def test_a_400_reaches_what_a_200_reaches_and_more_except_nearer_than_its_nearest(name):
    """Common practice, and the reason for a second body near the pylon."""
    _, geometry = field(name)
    short, long = (Mounted(Lens(f, f)) for f in (200.0, 400.0))
    in_short, in_long = (
        reach_quality(geometry.distance_yd, (short,)),
        reach_quality(geometry.distance_yd, (long,)),
    )
    lost = in_short > in_long
    assert lost.any()
    assert (geometry.distance_yd[lost] < long.nearest_yd).all()
    gained = in_long > in_short
    assert (gained.sum(axis=1) > 0).all()  # more, at every station
    # With both at hand nothing is lost.
    both = reach_quality(geometry.distance_yd, (short, long))
    assert (both == np.maximum(in_short, in_long)).all()


@given(
    wide=st.floats(10, 100),
    ends=st.lists(st.floats(100, 800), min_size=2, max_size=2),
    name=st.sampled_from(sorted(RULES)),
)
def test_longer_reach_never_lowers_in_reach_or_usable(wide, ends, name):
    _, geometry = field(name)
    short, long = (Mounted(Lens(wide, end)) for end in sorted(ends))
    assert (
        reach_quality(geometry.distance_yd, (short,))
        <= reach_quality(geometry.distance_yd, (long,)) + 1e-9
    ).all()
    assert (
        geometry.quality(Kit((short,), 1), (short,))
        <= geometry.quality(Kit((long,), 1), (long,)) + 1e-9
    ).all()


def test_a_frame_takes_all_three():
    _, geometry = field("high-school")
    kit = kit_of(["70-200"])
    lens_set = kit.mounted
    expected = reach_quality(geometry.distance_yd, lens_set) * geometry.facing * geometry.clear
    assert (geometry.quality(kit, lens_set) == expected).all()
    assert 0 < expected.mean() < 1
    wall = geometry.quality(replace(kit, crop_margin=1.0), lens_set)
    assert set(np.unique(wall)) == {0.0, 1.0}
    assert (wall <= expected).all()


# --- laws of the frames -----------------------------------------------------------------------


@pytest.mark.parametrize("name", RULES)
@pytest.mark.parametrize("faces", Faces)
def test_left_and_right_are_mirror_images(name, faces):
    perimeter, _ = field(name)
    here = seen(perimeter, faces=faces)
    there = seen(perimeter, y_yd=FIELD_WIDTH_YD - CELL_Y, faces=faces)
    mirror = np.array(
        [
            nearest_station(perimeter, x_yd=x, y_yd=FIELD_WIDTH_YD - y)
            for x, y in zip(perimeter.x_yd, perimeter.y_yd, strict=True)
        ]
    )
    assert (np.sort(mirror) == np.arange(len(perimeter))).all()
    np.testing.assert_allclose(there.distance_yd[mirror], here.distance_yd, atol=1e-9)
    assert (there.facing[mirror] == here.facing).all()
    assert (there.clear[mirror] == here.clear).all()


@given(stretch=stretches(), faces=st.sampled_from(Faces), direction=directions)
def test_a_turned_venue_is_the_same_geometry(stretch, faces, direction):
    venue = standard_venue(extra_closed=(stretch,))
    here, there = perimeter_of(venue, step_yd=7.0), perimeter_of(venue.turned(), step_yd=7.0)
    one = seen(here, direction=direction, faces=faces)
    other = seen(there, direction=direction.reversed, faces=faces)
    turn = here.turned_index
    np.testing.assert_allclose(other.distance_yd[turn], one.distance_yd, atol=1e-9)
    assert (other.facing[turn] == one.facing).all()
    # A line of sight that only touches a corner may fall on either side by rounding.
    assert (other.clear[turn] != one.clear).mean() < 1e-3


@pytest.mark.parametrize("name", RULES)
def test_a_symmetric_venue_looks_the_same_in_both_directions(name):
    perimeter, toward_b = field(name)
    toward_a = seen(perimeter, direction=Direction.TOWARD_A)
    turn = perimeter.turned_index
    np.testing.assert_allclose(toward_a.distance_yd[turn], toward_b.distance_yd, atol=1e-9)
    assert (toward_a.facing[turn] == toward_b.facing).all()
    assert (toward_a.clear[turn] == toward_b.clear).all()


@given(seed=st.integers(0, 2**32 - 1))
def test_relabeling_stations_and_cells_relabels_the_answer(seed):
    perimeter, geometry = field("high-school")
    rng = np.random.default_rng(seed)
    rows, columns = rng.permutation(len(perimeter)), rng.permutation(CELL_X.size)
    shuffled = geometry_of(
        perimeter, stations=rows, cell_x_yd=CELL_X[columns], cell_y_yd=CELL_Y[columns]
    )
    pick = np.ix_(rows, columns)
    assert (shuffled.distance_yd == geometry.distance_yd[pick]).all()
    assert (shuffled.facing == geometry.facing[pick]).all()
    assert (shuffled.clear == geometry.clear[pick]).all()


# --- closed areas -----------------------------------------------------------------------------


@given(closed=st.lists(stretches(), min_size=1, max_size=3), direction=directions)
def test_closing_an_area_never_opens_anything(closed, direction):
    before = perimeter_of(standard_venue(), step_yd=7.0)
    after = perimeter_of(standard_venue(extra_closed=tuple(closed)), step_yd=7.0)
    clear_before = seen(before, direction=direction).clear & before.open[:, None]
    clear_after = seen(after, direction=direction).clear & after.open[:, None]
    assert not (clear_after & ~clear_before).any()


@given(stretch=stretches(), seed=st.integers(0, 2**32 - 1))
def test_a_line_of_sight_is_blocked_where_a_walk_along_it_meets_the_area(stretch, seed):
    """Oracle: 1,201 points along each line of sight, each looked up in the rectangle."""
    perimeter = perimeter_of(bare(closed=(stretch,)), step_yd=9.0)
    rng = np.random.default_rng(seed)
    x, y = rng.uniform(0, 120, 12), rng.uniform(0, FIELD_WIDTH_YD, 12)
    geometry = seen(perimeter, x_yd=x, y_yd=y)
    u = np.linspace(0, 1, 1201)[:, None, None]
    px = perimeter.x_yd[:, None] + u * (x - perimeter.x_yd[:, None])
    py = perimeter.y_yd[:, None] + u * (y - perimeter.y_yd[:, None])
    x0, x1, y0, y1 = stretch.rectangle_yd()
    inside = ((px > x0) & (px < x1) & (py > y0) & (py < y1)).any(axis=0)
    assert not (geometry.clear & inside).any()
    # Points are at most 0.12 yd apart: a blocked line must come at least that near.
    near = ((px > x0 - 0.12) & (px < x1 + 0.12) & (py > y0 - 0.12) & (py < y1 + 0.12)).any(axis=0)
    assert (geometry.clear | near).all()


def test_a_platform_hides_what_lies_behind_it_and_nothing_else():
    # From 35 yd along the sideline, 4 yd out; the platform reaches from 40 to 50, 2 to 10 yd out.
    # The line to (60, 2) leaves the 2-yd line at 58.3: through the platform. The line to (60, 40)
    # is at 36.1 when it passes 2 yd out: past the platform.
    stretch = ClosedStretch(Edge.SIDELINE_A, 40, 50, front_yd=2, depth_yd=8)
    perimeter = perimeter_of(bare(closed=(stretch,)))
    camera = nearest_station(perimeter, x_yd=35, y_yd=-4)
    geometry = seen(perimeter, x_yd=[60.0, 60.0], y_yd=[2.0, 40.0])
    assert geometry.clear[camera].tolist() == [False, True]
    across = nearest_station(perimeter, x_yd=45, y_yd=57.3)
    assert geometry.clear[across].all()
    low = replace(perimeter.venue, closed=(replace(stretch, blocks_view=False),))
    assert seen(perimeter_of(low), x_yd=[60.0], y_yd=[2.0]).clear.all()


def test_a_line_along_the_side_of_an_area_only_touches_it():
    # 0/0 in the slab test: camera, action and the area's side share one x.
    for side in ("from_yd", "to_yd"):
        bounds = {"from_yd": 30.0, "to_yd": 60.0} | {side: 45.0}
        stretch = ClosedStretch(Edge.SIDELINE_A, **bounds, front_yd=1, depth_yd=2)
        perimeter = perimeter_of(bare(closed=(stretch,)))
        camera = nearest_station(perimeter, x_yd=45, y_yd=-4)
        assert perimeter.x_yd[camera] == 45.0
        inward = 46.0 if side == "from_yd" else 44.0
        inner = nearest_station(perimeter, x_yd=inward, y_yd=-4)
        geometry = seen(perimeter, x_yd=[45.0, inward], y_yd=[20.0, 20.0])
        assert geometry.clear[camera, 0]
        assert not geometry.clear[inner, 1]


# --- posts ------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", RULES)
@pytest.mark.parametrize("step_yd", [1.0, 2.3])
def test_a_support_hides_what_lies_within_its_radius_of_the_line_of_sight(name, step_yd):
    """Oracle: distance from the support to 4,001 points along each line of sight."""
    venue = replace(standard_venue(name), closed=())
    perimeter = perimeter_of(venue, step_yd=step_yd)
    rng = np.random.default_rng(5)
    x = np.concatenate([rng.uniform(90, 120, 10), [120.0, 119.9]])
    y = np.concatenate([rng.uniform(0, FIELD_WIDTH_YD, 10), [48.0, 3.0]])
    clear = seen(perimeter, x_yd=x, y_yd=y).clear
    u = np.linspace(0, 1, 4001)[:, None]
    for station in np.flatnonzero(perimeter.x_yd > 100):
        px = perimeter.x_yd[station] + u * (x - perimeter.x_yd[station])
        py = perimeter.y_yd[station] + u * (y - perimeter.y_yd[station])
        nearest = np.full(x.size, np.inf)
        for post in venue.posts:
            to = np.hypot(px - 120 - post.behind_end_line_yd, py - CENTER_Y_YD - post.off_center_yd)
            nearest = np.minimum(nearest, to.min(axis=0) - post.radius_yd)
        sure = np.abs(nearest) > 0.01  # points are at most 0.03 yd apart
        assert (clear[station] == (nearest > 0))[sure].all()


def test_the_shadow_of_a_support_is_as_wide_as_trigonometry_says():
    # A camera d behind a support of radius r loses the half-angle asin(r / d).
    perimeter = perimeter_of(bare(posts=standard_venue().posts))
    (post,) = perimeter.venue.posts
    camera = nearest_station(perimeter, x_yd=124, y_yd=CENTER_Y_YD)
    cx, cy = perimeter.x_yd[camera], perimeter.y_yd[camera]
    y = np.linspace(10, 43, 3301)
    hidden = y[~seen(perimeter, x_yd=np.full(y.size, 110.0), y_yd=y).clear[camera]]
    px, py = 122.0, CENTER_Y_YD
    half = math.asin(post.radius_yd / math.hypot(cx - px, cy - py))
    axis = math.atan2(py - cy, cx - px)
    low, high = (cy + (cx - 110) * math.tan(axis + s * half) for s in (-1, 1))
    # The grid is 0.01 yd fine.
    assert hidden.min() == pytest.approx(low, abs=0.011)
    assert hidden.max() == pytest.approx(high, abs=0.011)


@pytest.mark.parametrize("name", ["pro", "college"])
def test_behind_the_middle_of_the_end_line_the_support_hides_one_pylon_at_the_corners_none(name):
    """Common practice: not behind the goal post, for it hides one side of the end zone."""
    perimeter = perimeter_of(standard_venue(name), step_yd=0.5)
    pylons = seen(
        perimeter,
        x_yd=[OPPONENT_GOAL_LINE_X_YD] * 2,
        y_yd=[0.0, FIELD_WIDTH_YD],
    ).clear
    behind = perimeter.x_yd > FIELD_LENGTH_YD
    hides = behind & (pylons.sum(axis=1) == 1)
    off = np.abs(perimeter.y_yd - CENTER_Y_YD)
    assert hides.any()
    assert (off[hides] < 8).all()  # near the middle only
    # Left of the post the right pylon is hidden, right of it the left one.
    left = perimeter.y_yd > CENTER_Y_YD
    assert not pylons[hides & left, 0].any()
    assert not pylons[hides & ~left, 1].any()
    near_corner = behind & (off > FIELD_WIDTH_YD / 2 - 8)
    assert pylons[near_corner].all()
    # Straight behind the support the middle of the field is lost.
    middle = int(np.argmin(np.where(behind, off, np.inf)))
    straight = seen(perimeter, x_yd=[100.0], y_yd=[perimeter.y_yd[middle]]).clear
    assert not straight[middle, 0]


@pytest.mark.parametrize("name", RULES)
def test_supports_hide_nothing_from_the_sidelines_short_of_the_end_line(name):
    perimeter = perimeter_of(replace(standard_venue(name), closed=()), step_yd=2.0)
    beside = (perimeter.x_yd > 1) & (perimeter.x_yd < 119)
    inside = (CELL_X > 1) & (CELL_X < 119)
    assert seen(perimeter).clear[np.ix_(beside, inside)].all()


def test_a_camera_in_front_of_the_support_sees_past_it_and_one_inside_sees_nothing():
    post = PostSupport(behind_end_line_yd=2.0, off_center_yd=0.0, radius_yd=0.35)
    for setback, free in ((1.0, True), (2.0, False)):
        perimeter = perimeter_of(bare(end_setback_yd=setback, posts=(post,)), step_yd=0.25)
        camera = nearest_station(perimeter, x_yd=120 + setback, y_yd=CENTER_Y_YD)
        facing_field = (CELL_X > 1) & (CELL_X < 119)
        clear = seen(perimeter).clear[camera, facing_field]
        assert clear.all() if free else not clear.any()


def test_no_cells_and_no_stations_are_no_error():
    perimeter, _ = field()
    empty = np.array([])
    assert seen(perimeter, x_yd=empty, y_yd=empty).clear.shape == (len(perimeter), 0)
    nobody = geometry_of(
        perimeter, stations=np.array([], dtype=np.int64), cell_x_yd=CELL_X, cell_y_yd=CELL_Y
    )
    assert nobody.quality(kit_of(["400"]), kit_of(["400"]).mounted).shape == (0, CELL_X.size)
