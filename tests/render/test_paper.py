"""Text on paper is measured before it is set."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lensyard.render.paper import width_pt, wrapped

WORDS = st.lists(st.text(st.characters(codec="ascii", exclude_categories=["C", "Z"]), min_size=1,
                         max_size=12), max_size=20)  # fmt: skip


def test_text_grows_with_its_size_and_its_weight():
    assert width_pt("opening series", 20.0) == pytest.approx(2 * width_pt("opening series", 10.0),
                                                             rel=0.02)  # fmt: skip
    assert width_pt("opening series", 10.0, "bold") > width_pt("opening series", 10.0)


def test_markup_is_measured_as_it_is_written():
    assert width_pt("$x_2$", 10.0) > width_pt("x2", 10.0)


@given(words=WORDS, room_pt=st.floats(60.0, 300.0))
def test_every_line_fits_and_no_short_word_is_lost(words, room_pt):
    lines = wrapped(" ".join(words), size_pt=9.0, room_pt=room_pt)
    assert all(width_pt(line, 9.0) <= room_pt for line in lines)
    if all(width_pt(word, 9.0) <= room_pt for word in words):
        assert " ".join(lines).split() == words
