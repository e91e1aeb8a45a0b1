"""Places in words: every station has a text and a label, and both lead back to it."""

import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.support.field import FIELD_WIDTH_YD

from lensyard.domain.field import RULES, Direction
from lensyard.domain.perimeter import perimeter_of
from lensyard.domain.places import (
    named_stations,
    parse_standing,
    plain_standing,
    spot_label,
    standing_label,
    standing_text,
    turned_standing,
)
from lensyard.domain.venue import standard_venue
from lensyard.errors import ParseError
from lensyard.settings.files import VENUES, load_venue

LAW = settings(max_examples=15)
PLACES = [
    *(standard_venue(name) for name in RULES),
    *(load_venue(name) for name in VENUES.names()),
]
every_venue = pytest.mark.parametrize("venue", PLACES, ids=lambda venue: venue.name)


@every_venue
@pytest.mark.parametrize("direction", Direction)
def test_every_station_s_text_and_label_lead_back_to_it(venue, direction):
    perimeter = perimeter_of(venue)
    x, y = perimeter.play_xy_yd(direction)
    for station, (x_yd, y_yd) in enumerate(zip(x.tolist(), y.tolist(), strict=True)):
        text = standing_text(x_yd=x_yd, y_yd=y_yd, venue=venue)
        assert parse_standing(text, perimeter, direction) == station
        assert plain_standing(text) == text  # what a log stores
        # What an offline card exports: a place without its venue.
        assert standing_text(x_yd=x_yd, y_yd=y_yd) == text
        label = spot_label(x_yd=x_yd, y_yd=y_yd)
        assert standing_label(text, venue) == label
        if direction is Direction.TOWARD_B:
            assert parse_standing(plain_standing(label), perimeter, direction) == station
            assert parse_standing(turned_standing(text), perimeter, direction.reversed) == station


@every_venue
def test_names_of_sides_and_ends_hold_whoever_has_the_ball(venue):
    perimeter = perimeter_of(venue)
    named: dict[Direction, list[str]] = {}
    for direction in Direction:
        names = venue.names(direction)
        x, y = perimeter.play_xy_yd(direction)
        places = zip(x.tolist(), y.tolist(), strict=True)
        labels = [spot_label(x_yd=a, y_yd=b, names=names) for a, b in places]
        for station, label in enumerate(labels):
            assert parse_standing(label, perimeter, direction) == station
        if names is None:
            assert labels[5].startswith("offense's ")
            return
        bare, hands = zip(*(label.split(" (offense's ") for label in labels), strict=True)
        assert set(hands) == {"left)", "right)"}
        named[direction] = list(bare)
        for station, label in enumerate(bare):
            assert parse_standing(label, perimeter, direction) == station
    toward_a, toward_b = named.values()
    # Half yards and the very middle may round to a neighbor.
    same = [one == other for one, other in zip(toward_a, toward_b, strict=True)]
    assert sum(same) >= len(same) - 2


def test_a_label_names_the_nearest_station_whatever_the_spacing():
    venue = load_venue("tamarack-fork")
    far = perimeter_of(venue, step_yd=2.5)
    for direction, x_yd in ((Direction.TOWARD_A, 120.0 - 55.0), (Direction.TOWARD_B, 55.0)):
        station = parse_standing("home sideline, road end's 45", far, direction)
        x, y = (float(axis[station]) for axis in far.play_xy_yd(direction))
        assert abs(x - x_yd) <= 1.25
        assert (y > 50.0) == (direction is Direction.TOWARD_B)


def test_a_side_that_a_venue_names_comes_first():
    """Tamarack Fork: sideline A, on the right of whoever attacks end B, is the visitors'."""
    venue = load_venue("tamarack-fork")
    said = {
        direction: spot_label(x_yd=82.0, y_yd=-2.0, names=venue.names(direction))
        for direction in Direction
    }
    assert said == {
        Direction.TOWARD_B: "visitors' sideline, creek end's 28 (offense's right)",
        Direction.TOWARD_A: "home sideline, road end's 28 (offense's right)",
    }


@every_venue
def test_the_stations_that_can_be_tapped_are_all_stations(venue):
    perimeter = perimeter_of(venue)
    named = named_stations(
        side_setback_yd=venue.side_setback_yd, end_setback_yd=venue.end_setback_yd
    )
    assert [s.x_yd for s in named] == perimeter.x_yd.tolist()
    assert [s.y_yd for s in named] == perimeter.y_yd.tolist()
    found = [parse_standing(s.text, perimeter, Direction.TOWARD_B) for s in named]
    assert found == list(range(len(perimeter)))
    assert not any("." in s.text for s in named)  # whole yards


@pytest.mark.parametrize(
    ("typed", "stored"),
    [
        (" Left: opp 40 ", "left:opp40"),
        ("right:goal+4", "right:goal+4"),
        ("Offense's left sideline, own 7", "left:own7"),
        ("left back corner, 2 yd outside and 2 yd behind the pylon", "left:corner"),
        ("left:opp18.0", "left:opp18.0"),
    ],
)
def test_a_log_stores_a_form_that_is_read_again(typed, stored):
    assert plain_standing(typed) == stored


@pytest.mark.parametrize("text", ["roof", "left:opp70", "left:goal+30", ""])
def test_a_log_stores_no_place_that_cannot_be(text):
    with pytest.raises(ParseError, match="left:opp40"):
        plain_standing(text)


@LAW
@given(
    side=st.floats(1.0, 8.0),
    end=st.floats(1.0, 8.0),
    step=st.sampled_from([0.5, 1.0, 2.0]),
    direction=st.sampled_from(Direction),
)
def test_every_station_and_every_label_leads_back(side, end, step, direction):
    venue = replace(
        standard_venue(team_area_from_yard_line=50), side_setback_yd=side, end_setback_yd=end
    )
    perimeter = perimeter_of(venue, step_yd=step)
    labels: dict[str, int] = {}
    for station, (x, y) in enumerate(zip(*perimeter.play_xy_yd(direction), strict=True)):
        text = standing_text(x_yd=float(x), y_yd=float(y), venue=venue, step_yd=step)
        assert parse_standing(text, perimeter, direction) == station
        labels.setdefault(spot_label(x_yd=float(x), y_yd=float(y)), station)
    for label, station in list(labels.items())[::7]:
        assert parse_standing(label, perimeter, direction) == station


def test_names_are_unique_where_stations_fall_on_half_yards():
    p = perimeter_of(replace(standard_venue(), side_setback_yd=4.5, end_setback_yd=3.5))
    labels = [spot_label(x_yd=float(a), y_yd=float(b)) for a, b in zip(p.x_yd, p.y_yd, strict=True)]
    assert len(set(labels)) == len(labels)


@LAW
@given(data=st.data())
def test_mirrored_stations_have_mirrored_names(data):
    p = perimeter_of(standard_venue("college"))
    i = data.draw(st.integers(0, len(p) - 1))
    x, y = float(p.x_yd[i]), float(p.y_yd[i])
    here, there = spot_label(x_yd=x, y_yd=y), spot_label(x_yd=x, y_yd=FIELD_WIDTH_YD - y)
    swap = here.replace("left", "#").replace("right", "left").replace("#", "right")
    if y != pytest.approx(FIELD_WIDTH_YD / 2):
        assert there == swap


@pytest.mark.parametrize(
    ("x_yd", "y_yd", "label"),
    [
        (92.0, 58.3, "offense's left sideline, opponent's 18"),
        (60.0, -5.0, "offense's right sideline, the 50"),
        (10.2, -5.0, "offense's right sideline, own goal line"),
        (114.0, -5.0, "offense's right sideline, 4 yd behind the opponent's goal line"),
        (4.0, 58.3, "offense's left sideline, 6 yd behind its own goal line"),
        (124.0, 58.3, "left back corner, 5 yd outside and 4 yd behind the pylon"),
        (-4.0, -5.0, "right corner behind the offense, 5 yd outside and 4 yd behind the pylon"),
        (124.0, 45.3, "behind the end line, 8 yd in from the left back pylon"),
        (124.0, 26.0, "behind the end line, by the goal post, 26 yd in from the right back pylon"),
        (-4.0, 10.0, "behind the offense's own end line, 10 yd in from the right pylon"),
    ],
)
def test_stations_are_named_as_photographers_say_them(x_yd, y_yd, label):
    assert spot_label(x_yd=x_yd, y_yd=y_yd) == label


@pytest.mark.parametrize("direction", Direction)
@pytest.mark.parametrize(
    ("text", "x_yd", "y_yd"),
    [
        ("left:goal+4", 114.0, 57.333),
        ("right:goal+10", 120.0, -4.0),
        ("right:back", 120.0, -4.0),
        ("left:owngoal+4", 6.0, 57.333),
        ("left:ownback", 0.0, 57.333),
        ("end:right-2", 124.0, -2.0),
        ("end:left12", 124.0, 41.333),
        ("ownend:right5", -4.0, 5.0),
        ("right:own20", 30.0, -4.0),
        ("left:opp18.0", 92.0, 57.333),
        ("offense's left sideline, opponent's 18", 92.0, 57.333),
        ("Left back corner,  4 yd outside and 4 yd behind the pylon", 124.0, 57.333),
        ("left:50", 60.0, 57.333),
        ("LEFT : goal", 110.0, 57.333),
        ("right:owngoal", 10.0, -4.0),
        ("left:corner", 124.0, 57.333),
        ("right:owncorner", -4.0, -4.0),
        ("end:middle", 124.0, 26.667),
        ("ownend:middle", -4.0, 26.667),
    ],
)
def test_places_with_names_are_found(text, x_yd, y_yd, direction):
    p = perimeter_of(standard_venue("college"))  # 12 ft outside all round
    station = parse_standing(text, p, direction)
    x, y = p.play_xy_yd(direction)
    # Stations are at most 1.006 yd apart.
    assert math.hypot(x[station] - x_yd, y[station] - y_yd) <= 0.51


@pytest.mark.parametrize(
    "text",
    [
        *("", "left", "left:opp70", "left:40", "middle:50", "end:12", "end:left", "end:", "back"),
        # beyond the corners
        *("end:left60", "left:goal+15", "left:owngoal+40", "end:left-9", "left:opp51"),
        *("left:goal-2", "end:99"),
    ],
)
def test_a_place_that_is_unclear_is_refused_with_the_forms(text):
    # "end:12" could be counted from either pylon, so it is not guessed.
    with pytest.raises(ParseError, match="left:opp40, right:own20"):
        parse_standing(text, perimeter_of(standard_venue()), Direction.TOWARD_B)
