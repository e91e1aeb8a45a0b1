"""The answer's two pieces of HTML: everything said, everything escaped, numbers kept."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from html import unescape
from typing import Any

import pytest

from lensyard.errors import InvalidInputError, OutOfRangeError
from lensyard.features.next_play.answer_parts import Share, detail_html, lead_html
from lensyard.features.next_play.answer_view import answer_view
from lensyard.render.theme import SUNLIGHT, THEMES, Theme

Arguments = dict[str, Any]
BEST = Share(0.583, 0.54, 0.62)
SHARES = (BEST, Share(0.566, 0.53, 0.61), Share(0.41, 0.37, 0.45), Share(0.47, 0.43, 0.51))


def spoken(fragment: str) -> str:
    """All text of a piece of HTML, blanks evened out."""
    # ElementTree needs every entity resolved and every attribute closed: the pieces are XML too.
    return " ".join(" ".join(ET.fromstring(fragment).itertext()).split())


def test_the_answer_at_a_glance_says_where_how_often_and_why(example_answer: Arguments) -> None:
    said = spoken(lead_html(answer_view(**example_answer), BEST)).replace("\u00a0", " ")
    for part in (
        "Stand on the offense's left sideline, opponent's 18",
        "58% of plays usable 54-62% within the error",
        "Lens 400",
        "Walk 20 yd, 13 s",
        "Run-out 3%",
        "As good within the error: 2 (57%).",
        "11 points more than the habit",
    ):
        assert part in said


def test_the_place_is_the_heading(example_answer: Arguments) -> None:
    root = ET.fromstring(lead_html(answer_view(**example_answer), BEST))
    assert [one.tag for one in root.iter() if one.tag.startswith("h")] == ["h1"]


def test_who_did_not_say_where_they_stand_reads_of_no_walk(example_answer: Arguments) -> None:
    best = replace(example_answer["best"], walk_yd=None, walk_s=None)
    view = answer_view(**{**example_answer, "best": best})
    assert "Walk" not in lead_html(view, BEST)


@pytest.mark.parametrize("theme", THEMES.values(), ids=list(THEMES))
def test_the_detail_says_everything_of_the_view(example_answer: Arguments, theme: Theme) -> None:
    view = answer_view(**example_answer)
    said = spoken(detail_html(view, SHARES, theme))
    for line in (*view.spots, *view.habits):
        assert line.where in said
        assert f"{line.usable_range} within the error" in said
        assert f"run-out {line.run_out}" in said
    for text in (view.parts, *view.outcome, *view.cautions, view.attribution):
        assert text in said


def test_bars_stand_for_the_shares(example_answer: Arguments) -> None:
    detail = detail_html(answer_view(**example_answer), SHARES, SUNLIGHT)
    widths = re.findall(r'class="ly-fill" style="width:([\d.]+)%"', detail)
    # Bars are written in tenths of a percent.
    assert [float(w) for w in widths] == pytest.approx([100 * s.p for s in SHARES], abs=0.051)


def test_marks_are_told_to_who_does_not_see_them(example_answer: Arguments) -> None:
    detail = detail_html(answer_view(**example_answer), SHARES, SUNLIGHT)
    marks = [unescape(mark) for mark in re.findall(r'alt="(.*?)"', detail)]
    assert marks == ["1, best", "2, as good", "3, other", "A, habit"]


def test_numbers_are_those_of_the_ranking(example_answer: Arguments) -> None:
    # The second is not as good, the third is: errors differ pair by pair.
    arguments = {
        **example_answer,
        "best": replace(example_answer["best"], rank=1),
        "others": [replace(example_answer["others"][0], rank=2)],
        "equals": [replace(example_answer["equals"][0], rank=3)],
    }
    view = answer_view(**arguments)
    assert [line.name for line in view.spots] == ["1", "2", "3"]
    assert view.spots[1].where == example_answer["others"][0].label
    assert view.equals == "As good within the error: 3 (57%)."


def test_everything_is_escaped(example_answer: Arguments) -> None:
    evil = "<script>alert('x')</script>"
    best = replace(example_answer["best"], label=evil, reason=evil, lens=evil)
    view = answer_view(**{**example_answer, "kit": evil, "best": best, "attribution": evil})
    for piece in (lead_html(view, BEST), detail_html(view, SHARES, SUNLIGHT)):
        assert "<script" not in piece.lower()


def test_each_line_needs_its_share(example_answer: Arguments) -> None:
    with pytest.raises(InvalidInputError, match="2 shares for 4"):
        detail_html(answer_view(**example_answer), SHARES[:2], SUNLIGHT)


def test_a_share_is_a_probability() -> None:
    with pytest.raises(OutOfRangeError):
        Share(1.2, 0.0, 1.0)
