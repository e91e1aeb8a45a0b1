"""Taps on the field, and the stations that they snap to."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lensyard.dashboard.controls import Controls
from lensyard.dashboard.session import after_tap
from lensyard.dashboard.standing import named_stations, standing_label
from lensyard.domain.field import FIELD_LENGTH_YD, FIELD_WIDTH_YD, RULES, Direction, HashMark
from lensyard.domain.perimeter import parse_standing, perimeter_of
from lensyard.domain.venue import standard_venue
from lensyard.errors import InvalidInputError


@given(yardline_100=st.integers(1, 99), mark=st.sampled_from(HashMark))
def test_a_tap_on_the_field_sets_the_ball(yardline_100: int, mark: HashMark) -> None:
    tap = {"kind": "ball", "yardline_100": yardline_100, "hash": mark.value}
    controls = after_tap(Controls(), tap)
    assert (controls.yardline_100, controls.hash_mark) == (yardline_100, mark)
    controls.request()


def test_whole_numbers_may_come_as_fractions() -> None:
    tap = {"kind": "ball", "yardline_100": 35.0, "hash": "left"}
    assert after_tap(Controls(), tap).yardline_100 == 35


@pytest.mark.parametrize("rules", list(RULES))
def test_a_tap_on_the_strip_says_where_one_stands(rules: str) -> None:
    stations = named_stations(rules)
    perimeter = perimeter_of(standard_venue(rules))
    for index in range(0, len(stations), 23):
        controls = after_tap(Controls(rules=rules), {"kind": "stand", "station": index})
        found = parse_standing(controls.standing, perimeter, Direction.TOWARD_B)
        place = (perimeter.x_yd[found], perimeter.y_yd[found])
        assert place == pytest.approx((stations[index].x_yd, stations[index].y_yd))


@pytest.mark.parametrize(
    "tap",
    [
        {},
        {"kind": "sky"},
        {"kind": "ball"},
        {"kind": "ball", "yardline_100": 0, "hash": "left"},
        {"kind": "ball", "yardline_100": 35.5, "hash": "left"},
        {"kind": "ball", "yardline_100": float("nan"), "hash": "left"},
        {"kind": "ball", "yardline_100": True, "hash": "left"},
        {"kind": "ball", "yardline_100": "35", "hash": "left"},
        {"kind": "ball", "yardline_100": 35, "hash": "up"},
        {"kind": "ball", "yardline_100": 35},
        {"kind": "stand", "station": -1},
        {"kind": "stand", "station": 10_000},
    ],
)
def test_what_is_no_tap_is_refused(tap: dict[str, Any]) -> None:
    with pytest.raises(InvalidInputError):
        after_tap(Controls(), tap)


@pytest.mark.parametrize("rules", list(RULES))
def test_named_stations_lie_around_the_field_a_yard_apart(rules: str) -> None:
    stations = named_stations(rules)
    xy = np.array([(s.x_yd, s.y_yd) for s in stations])
    outside = (xy[:, 0] < 0) | (xy[:, 0] > FIELD_LENGTH_YD)
    outside |= (xy[:, 1] < 0) | (xy[:, 1] > FIELD_WIDTH_YD)
    assert outside.all()
    assert len({s.text for s in stations}) == len(stations)
    between_goal_lines = (xy[:, 1] < 0) & (xy[:, 0] > 11) & (xy[:, 0] < 109)
    steps = np.diff(np.sort(xy[between_goal_lines, 0]))
    # Stations are spaced evenly around the perimeter, so a step is a yard give or take 2 %.
    assert steps == pytest.approx(1.0, abs=0.02)


def test_a_place_is_named_as_photographers_say_it() -> None:
    assert standing_label("end:middle", "pro").startswith("behind the end line")
