"""Taps on the field, and the stations that they snap to."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lensyard.dashboard.controls import Controls
from lensyard.dashboard.session import after_tap
from lensyard.domain.field import HashMark
from lensyard.errors import InvalidInputError
from lensyard.features.next_play.first import request_of


@given(yardline_100=st.integers(1, 99), mark=st.sampled_from(HashMark))
def test_a_tap_on_the_field_sets_the_ball(yardline_100, mark):
    tap = {"kind": "ball", "yardline_100": yardline_100, "hash": mark.value}
    controls = after_tap(Controls(), tap)
    assert (controls.yardline_100, controls.hash_mark) == (yardline_100, mark)
    request_of(controls)


def test_whole_numbers_may_come_as_fractions():
    tap = {"kind": "ball", "yardline_100": 35.0, "hash": "left"}
    assert after_tap(Controls(), tap).yardline_100 == 35


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
def test_what_is_no_tap_is_refused(tap):
    with pytest.raises(InvalidInputError):
        after_tap(Controls(), tap)
