"""Every station has a text that leads back to it, and so has the label that people say."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lensyard.domain.field import Direction
from lensyard.domain.perimeter import perimeter_of, spot_label
from lensyard.domain.standing import parse_standing, standing_text
from lensyard.domain.venue import standard_venue
from lensyard.errors import ParseError

LAW = settings(derandomize=True, deadline=None, max_examples=30)


@pytest.mark.parametrize(
    ("text", "x_yd", "y_yd"),
    [
        ("left:goal+4", 114.0, 57.333),
        ("right:goal+10", 120.0, -4.0),
        ("right:back", 120.0, -4.0),
        ("RIGHT : GOAL + 2", 112.0, -4.0),
        ("left:owngoal+4", 6.0, 57.333),
        ("left:ownback", 0.0, 57.333),
        ("end:right-2", 124.0, -2.0),
        ("end:left12", 124.0, 41.333),
        ("left:opp18.0", 92.0, 57.333),
        ("offense's left sideline, opponent's 18", 92.0, 57.333),
        ("Left back corner,  4 yd outside and 4 yd behind the pylon", 124.0, 57.333),
    ],
)
def test_places_beside_and_behind_the_end_zones_have_names(
    text: str, x_yd: float, y_yd: float
) -> None:
    perimeter = perimeter_of(standard_venue())
    station = parse_standing(text, perimeter, Direction.TOWARD_B)
    # half the spacing of a yard along an end line of 61 1/3 yd
    assert perimeter.x_yd[station] == pytest.approx(x_yd, abs=0.51)
    assert perimeter.y_yd[station] == pytest.approx(y_yd, abs=0.51)


@pytest.mark.parametrize(
    "text",
    [
        "left:goal+15",
        "left:owngoal+40",
        "end:left-9",
        "left:opp51",
        "left:goal-2",
        "back",
        "end:99",
    ],
)
def test_what_lies_beyond_the_corners_or_means_nothing_is_refused(text: str) -> None:
    with pytest.raises(ParseError, match="left:goal\\+4"):
        parse_standing(text, perimeter_of(standard_venue()), Direction.TOWARD_B)


@LAW
@given(
    side=st.floats(1.0, 8.0),
    end=st.floats(1.0, 8.0),
    step=st.sampled_from([0.5, 1.0, 2.0]),
    direction=st.sampled_from(Direction),
)
def test_every_station_and_every_label_leads_back(
    side: float, end: float, step: float, direction: Direction
) -> None:
    venue = replace(
        standard_venue(team_area_from_yard_line=50), side_setback_yd=side, end_setback_yd=end
    )
    perimeter = perimeter_of(venue, step_yd=step)
    labels: dict[str, int] = {}
    for station, (x, y) in enumerate(zip(*perimeter.play_xy_yd(direction), strict=True)):
        text = standing_text(x_yd=float(x), y_yd=float(y), venue=venue)
        assert parse_standing(text, perimeter, direction) == station
        labels.setdefault(spot_label(x_yd=float(x), y_yd=float(y)), station)
    for label, station in list(labels.items())[::7]:
        assert parse_standing(label, perimeter, direction) == station
