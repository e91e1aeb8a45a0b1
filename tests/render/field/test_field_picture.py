"""The field picture: valid, self-contained, deterministic, accessible, complete."""

import importlib.util
import itertools
import re
import xml.etree.ElementTree as ET
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.support.field import FIELD_WIDTH_YD

from lensyard.domain.field import RULES, Direction, PlayPoint, rules_named
from lensyard.errors import InvalidInputError, OutOfRangeError, UnknownNameError
from lensyard.render.field.draw import field_svg
from lensyard.render.field.picture import (
    ClosedMark,
    FieldPicture,
    ReachRing,
    SpotMark,
    SpotRole,
)
from lensyard.render.theme import THEMES

SVG = "{http://www.w3.org/2000/svg}"

ORIENTATIONS = ("vertical", "horizontal")
ALL_WAYS = [
    (theme, orientation, rules)
    for theme in THEMES.values()
    for orientation in ORIENTATIONS
    for rules in RULES
]

SUNLIGHT = THEMES["sunlight"]


def with_role(root, role):
    return [node for node in root.iter() if node.get("data-role") == role]


def words(root):
    return ["".join(node.itertext()) for node in root.iter(f"{SVG}text")]


def outline(mark, theme):
    """The outline of a spot's mark, without its number and the line to its true place."""
    (node,) = (n for n in mark.iter() if n.get("fill") == theme.paper and n.tag != f"{SVG}text")
    return node


@pytest.mark.parametrize(("theme", "orientation", "rules"), ALL_WAYS)
def test_every_way_to_draw_it_gives_a_small_valid_document(make_picture, theme, orientation, rules):
    width = 390 if orientation == "vertical" else 1280
    svg = field_svg(make_picture(rules), theme=theme, orientation=orientation, width_px=width)  # type: ignore[arg-type]
    root = ET.fromstring(svg)
    assert root.tag == f"{SVG}svg"
    assert float(root.get("width", "0")) == width
    assert len(svg.encode()) < 120_000
    assert not re.search(r"\b(nan|inf)\b", svg)


def test_nothing_is_loaded_from_outside(make_picture):
    svg = field_svg(make_picture(), theme=SUNLIGHT)
    assert svg.count("http") == 1  # the namespace
    assert set(re.findall(r"url\((.)", svg)) == {"#"}
    for forbidden in ("<script", "<image", "<use", "@font-face", "@import", "href", "onclick"):
        assert forbidden not in svg


def test_the_same_picture_gives_the_same_bytes(make_picture):
    one = field_svg(make_picture(), theme=SUNLIGHT, orientation="vertical")
    other = field_svg(make_picture(), theme=SUNLIGHT, orientation="vertical")
    assert one == other


def test_references_find_their_one_target(make_picture):
    svg = field_svg(make_picture(), theme=SUNLIGHT)
    ids = re.findall(r' id="([^"]+)"', svg)
    assert len(ids) == len(set(ids))
    assert set(re.findall(r"url\(#([^)]+)\)", svg)) <= set(ids)
    labels = re.search(r'aria-labelledby="([^"]+)"', svg)
    assert labels
    assert set(labels[1].split()) <= set(ids)


def test_two_pictures_on_a_page_do_not_share_definitions(make_picture):
    one = field_svg(make_picture(), theme=SUNLIGHT, orientation="vertical")
    other = field_svg(make_picture(), theme=THEMES["night"], orientation="horizontal")
    assert not set(re.findall(r' id="([^"]+)"', one)) & set(re.findall(r' id="([^"]+)"', other))


@pytest.mark.parametrize("orientation", ORIENTATIONS)
def test_text_from_people_is_escaped(make_picture, orientation):
    evil = "</text><script>alert('x')</script>&\"<b>\x00\x1b"
    shown = evil.replace("\x00", "").replace("\x1b", "")
    picture = make_picture(
        end_names=(evil, evil),
        sideline_names=(evil, evil),
        closed=(ClosedMark(40.0, 80.0, -10.0, -5.0, evil),),
        rings=(ReachRing(evil, 30.0, 0.0),),
        walk_text=evil,
        title=evil,
        description=evil,
        spots=(SpotMark(92.0, 58.0, 1, evil, 0.5, SpotRole.BEST),),
    )
    svg = field_svg(picture, theme=SUNLIGHT, orientation=orientation, width_px=1600)
    assert "<script" not in svg
    assert "<b>" not in svg
    root = ET.fromstring(svg)
    title = root.find(f"{SVG}title")
    assert title is not None
    assert title.text == shown
    (mark,) = with_role(root, "spot")
    assert shown in (mark.get("aria-label") or "")


def test_the_whole_picture_says_the_answer_in_words(make_picture):
    root = ET.fromstring(field_svg(make_picture(tappable=False), theme=SUNLIGHT))
    assert root.get("role") == "img"
    title, description = root.find(f"{SVG}title"), root.find(f"{SVG}desc")
    assert title is not None
    assert description is not None
    assert title.text == "Where to stand: offense's left sideline, opponent's 18, 58% usable"
    said = description.text or ""
    for part in (
        "The ball is at the opponent's 35.",
        "The line to gain is the opponent's 28.",
        "As good: 2, offense's right sideline, opponent's 12, 57% usable; 3,",
        "Usual habit: A,",
        "400 to 40 yd",
        "You stand at: offense's left sideline, 2 yd behind the opponent's goal line; "
        "the walk is 20 yd, 13 s.",
        "Closed to photographers: team area.",
    ):
        assert part in said


def test_every_spot_has_number_name_probability_and_shape(make_picture):
    picture = make_picture()
    root = ET.fromstring(field_svg(picture, theme=SUNLIGHT))
    marks = with_role(root, "spot")
    assert len(marks) == len(picture.spots)
    labels = [mark.get("aria-label") or "" for mark in marks]
    for spot in picture.spots:
        assert any(spot.label in label and "usable" in label for label in labels)
    kinds = {mark.get("data-kind") for mark in marks}
    assert kinds == {"best", "equal", "other", "habit"}
    # The best one is drawn last, so nothing covers it.
    assert marks[-1].get("data-kind") == "best"
    assert {"1", "2", "3", "4", "A", "B", "58%", "57%", "56%"} <= set(words(root))


@pytest.mark.parametrize("theme", THEMES.values(), ids=THEMES)
def test_every_kind_of_spot_has_a_shape_of_its_own(make_picture, theme):
    def bare(role):
        one = SpotMark(60.0, -4.0, None, "spot", 0.5, role)
        (mark,) = with_role(
            ET.fromstring(field_svg(make_picture(spots=(one,)), theme=theme)), "spot"
        )
        node = outline(mark, theme)
        return node.tag, len(re.findall(r"[\d.]+", node.get("d", "")))

    assert len({bare(role) for role in SpotRole}) == len(SpotRole)


def test_a_tappable_picture_carries_what_a_component_needs(make_picture):
    picture = make_picture()
    root = ET.fromstring(field_svg(picture, theme=SUNLIGHT, orientation="vertical", width_px=390))
    assert root.get("role") == "group"  # the spots inside must stay visible to screen readers
    (layer,) = with_role(root, "tap-layer")
    (holder,) = with_role(root, "stations")
    stations = list(holder)
    assert len(stations) == len(picture.stations)
    a, b, c, d, e, f = (float(part) for part in (layer.get("data-affine") or "").split())
    for node in stations[::17]:
        px, py = float(node.get("cx", "")), float(node.get("cy", ""))
        x, y = float(node.get("data-x-yd", "")), float(node.get("data-y-yd", ""))
        # Pixels are rounded to a tenth, a yard is more than 4 px.
        assert (a * px + b * py + c, d * px + e * py + f) == pytest.approx((x, y), abs=0.05)
    closed = [node for node in stations if node.get("data-closed")]
    assert len(closed) == sum(not mark.is_open for mark in picture.stations)
    assert all(mark.get("role") == "button" for mark in with_role(root, "spot"))


def test_a_picture_to_look_at_carries_no_tap_layer(make_picture):
    root = ET.fromstring(field_svg(make_picture(tappable=False), theme=SUNLIGHT))
    assert not with_role(root, "tap-layer")
    assert all(mark.get("role") == "img" for mark in with_role(root, "spot"))


def test_lines_are_drawn_over_the_density_with_a_halo(make_picture):
    svg = field_svg(make_picture(), theme=SUNLIGHT)
    density = svg.index('data-role="density"')
    halo = svg.index(f'stroke="{SUNLIGHT.halo}" opacity')
    line = svg.index(f'<g fill="none" stroke="{SUNLIGHT.line}"')
    assert density < halo < line


@pytest.mark.parametrize("rules", RULES)
def test_hash_marks_and_goals_follow_the_rule_set(rules):
    picture = FieldPicture(rules_named(rules), tappable=True)
    svg = field_svg(picture, theme=SUNLIGHT, width_px=1280)
    (layer,) = with_role(ET.fromstring(svg), "tap-layer")
    *_, yd_per_px, at_top_yd = (float(part) for part in (layer.get("data-affine") or "").split())
    row = re.search(r'd="([^"]+)" stroke-width="[\d.]+" stroke-dasharray="[\d. ]+"', svg)
    assert row
    heights = [float(y) for y in re.findall(r"M[\d.]+ ([\d.]+)", row[1])]
    away = [at_top_yd + yd_per_px * y for y in heights]
    inner = [y for y in away if 5 < y < FIELD_WIDTH_YD - 5]
    spread_yd = max(inner) - min(inner)
    # The ticks' middles lie a foot outside the hash lines; a tenth of a pixel each.
    expected = 2 * picture.rules.hash_off_center_yd + 2 / 3
    assert spread_yd == pytest.approx(expected, abs=0.3 * abs(yd_per_px))
    assert svg.count(f'fill="{SUNLIGHT.ink}"') > 0


def test_the_end_that_is_attacked_lies_ahead(make_picture):
    for direction, ahead in ((Direction.TOWARD_B, "South end"), (Direction.TOWARD_A, "North end")):
        picture = make_picture(direction=direction, end_names=("North end", "South end"))
        root = ET.fromstring(field_svg(picture, theme=SUNLIGHT, width_px=1200))
        places = {"".join(t.itertext()): float(t.get("x", "")) for t in root.iter(f"{SVG}text")}
        assert max(("North end", "South end"), key=lambda name: places[name]) == ahead


def test_sideline_names_stay_with_their_sidelines(make_picture):
    for direction, top in ((Direction.TOWARD_B, "visitors"), (Direction.TOWARD_A, "home")):
        picture = make_picture(
            direction=direction,
            spots=(),
            rings=(),
            path=(),
            standing=None,
            sideline_names=("home", "visitors"),
        )
        root = ET.fromstring(field_svg(picture, theme=SUNLIGHT))
        places = {"".join(t.itertext()): float(t.get("y", "")) for t in root.iter(f"{SVG}text")}
        other = {"home": "visitors", "visitors": "home"}[top]
        assert places[top] < places[other]  # the offense's left is on top


def test_the_legend_names_only_what_is_there(make_picture):
    full = " ".join(words(ET.fromstring(field_svg(make_picture(), theme=SUNLIGHT))))
    for part in ("best spot", "as good", "usual habit", "50%, 80%, 95% of plays end inside"):
        assert part in full
    bare = FieldPicture(rules_named("pro"))
    empty = " ".join(words(ET.fromstring(field_svg(bare, theme=SUNLIGHT))))
    assert "best spot" not in empty
    assert "plays end inside" not in empty


@given(
    marks=st.lists(
        st.tuples(st.floats(-4, 124), st.booleans(), st.sampled_from(SpotRole)), max_size=5
    ),
    orientation=st.sampled_from(ORIENTATIONS),
)
def test_no_mark_covers_another_where_there_is_room(marks, orientation):
    spots = tuple(
        SpotMark(x, FIELD_WIDTH_YD + 5 if left else -5.0, i, "spot", 0.5, role)
        for i, (x, left, role) in enumerate(marks, 1)
    )
    picture = FieldPicture(rules_named("pro"), spots=spots)
    root = ET.fromstring(
        field_svg(picture, theme=SUNLIGHT, orientation=orientation, width_px=1200, legend=False)
    )
    width, height = (float(root.get(name, "")) for name in ("width", "height"))
    drawn = [center_and_half(mark) for mark in with_role(root, "spot")]
    assert len(drawn) == len(spots)
    for (one, half), (other, wide) in itertools.combinations(drawn, 2):
        assert np.hypot(*(one - other)) > 0.9 * (half + wide)
    assert all(0 < x < width and 0 < y < height for (x, y), _ in drawn)


def center_and_half(mark):
    """The middle of a spot's mark, a leader to its true place apart, and half of its width."""
    node = outline(mark, SUNLIGHT)
    if node.get("r"):
        return np.array([float(node.get("cx")), float(node.get("cy"))]), float(node.get("r"))
    if node.get("d"):
        steps = np.array(re.findall(r"-?[\d.]+", node.get("d")), dtype=float).reshape(-1, 2)
        corners = steps.cumsum(axis=0)
        low, wide = corners.min(axis=0), np.ptp(corners[:, 0])
    else:
        low, wide = np.array([float(node.get("x")), float(node.get("y"))]), float(node.get("width"))
    return low + wide / 2, wide / 2


@given(
    x=st.floats(1, 119),
    y=st.floats(0, FIELD_WIDTH_YD),
    gain=st.floats(0, 30),
    spot_x=st.floats(-4, 124),
    reach=st.floats(5, 80),
    orientation=st.sampled_from(ORIENTATIONS),
    direction=st.sampled_from(Direction),
    text=st.text(max_size=40),
)
def test_any_situation_can_be_drawn(x, y, gain, spot_x, reach, orientation, direction, text):
    picture = FieldPicture(
        rules_named("college"),
        ball=PlayPoint(x, y),
        line_to_gain_x_yd=min(x + gain, 110.0),
        spots=(SpotMark(spot_x, -4.0, 1, text, 0.5, SpotRole.BEST),),
        rings=(ReachRing(text, reach, 3.0),),
        standing=PlayPoint(spot_x, -4.0),
        direction=direction,
        end_names=(text, text),
    )
    svg = field_svg(picture, theme=SUNLIGHT, orientation=orientation, width_px=390)
    ET.fromstring(svg)


@pytest.mark.parametrize(
    ("changes", "match"),
    [
        ({"ball": PlayPoint(130.0, 20.0)}, "ball_x_yd must be between 0 and 120"),
        ({"line_to_gain_x_yd": -1.0}, "line_to_gain_x_yd must be between"),
        ({"mass": np.zeros((18, 121))}, r"expected \(121, 18\)"),
        ({"mass": np.full((121, 18), -1.0)}, "negative or missing"),
        ({"mass": np.full((121, 18), np.nan)}, "negative or missing"),
        ({"standing": PlayPoint(500.0, 0.0)}, "x_yd must be between"),
        ({"side_setback_yd": 40.0}, "side_setback_yd must be between"),
    ],
)
def test_what_cannot_be_drawn_is_refused(make_picture, changes, match):
    with pytest.raises(InvalidInputError, match=match):
        make_picture(**changes)


def test_bad_marks_are_refused():
    with pytest.raises(OutOfRangeError, match="p_usable"):
        SpotMark(92.0, 58.0, 1, "spot", 1.2, SpotRole.BEST)
    with pytest.raises(InvalidInputError, match="has no area"):
        ClosedMark(80.0, 40.0, -9.0, -5.0, "team area")
    with pytest.raises(OutOfRangeError, match="reach_yd"):
        ReachRing("400", -1.0)


@pytest.mark.parametrize("width", [0.1, 279.0, 4001.0, float("nan")])
def test_a_width_out_of_range_is_refused(width):
    with pytest.raises(OutOfRangeError, match="width_px must be between 280 and 4000"):
        field_svg(FieldPicture(rules_named("pro")), theme=SUNLIGHT, width_px=width)


def test_an_unknown_orientation_is_refused():
    with pytest.raises(UnknownNameError, match="horizontal, vertical"):
        field_svg(FieldPicture(rules_named("pro")), theme=SUNLIGHT, orientation="diagonal")  # type: ignore[arg-type]


def build_golden():
    path = Path(__file__).with_name("build_golden.py")
    spec = importlib.util.spec_from_file_location("build_golden", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_the_drawing_is_the_golden_one():
    golden = build_golden()
    assert golden.GOLDEN.read_text(encoding="utf-8") == golden.golden_text(), (
        "the drawing changed; if that is wanted, run build_golden.py and look at the picture"
    )
