"""Text on paper is measured before it is set."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lensyard.errors import UnknownNameError
from lensyard.render.paper import paper_named, shortened, width_pt, wrapped

WORDS = st.lists(st.text(st.characters(codec="ascii", exclude_categories=["C", "Z"]), min_size=1,
                         max_size=12), max_size=20)  # fmt: skip


def test_papers_have_their_published_sizes():
    # ISO 216: A4 is 210 mm by 297 mm. ANSI/ASME Y14.1: size A is 8.5 in by 11 in.
    a4, letter = paper_named("a4"), paper_named("letter")
    assert (a4.width_in * 25.4, a4.height_in * 25.4) == pytest.approx((210.0, 297.0))
    assert (letter.width_in, letter.height_in) == (8.5, 11.0)
    with pytest.raises(UnknownNameError, match="paper"):
        paper_named("legal")


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


def test_what_does_not_fit_ends_with_an_ellipsis():
    cut = shortened("the rail of the moving camera", size_pt=9.0, room_pt=60.0)
    assert cut.endswith("…")
    assert width_pt(cut, 9.0) <= 60.0
    assert shortened("rail", size_pt=9.0, room_pt=60.0) == "rail"
