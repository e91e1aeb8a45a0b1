"""The answer in words: the sentence first, 80 columns, escaped, always with a caution."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from dataclasses import replace
from typing import Any

import pytest

from lensyard.domain.situation import Situation
from lensyard.errors import OutOfRangeError
from lensyard.features.next_play.answer_parts import text_answer
from lensyard.features.next_play.answer_view import USUAL_CAUTION, answer_view

Arguments = dict[str, Any]


def spoken(fragment: str) -> str:
    """All text of a piece of HTML, blanks evened out."""
    return " ".join(" ".join(ET.fromstring(fragment).itertext()).split())


def test_the_first_sentence_says_where_how_likely_and_why(example_answer: Arguments) -> None:
    text = text_answer(answer_view(**example_answer))
    first = text.split("\nWalk")[0].replace("\n", " ")
    assert first == (
        "Stand on the offense's left sideline, opponent's 18 (58% usable): the play comes toward "
        "you and most ends lie within 40 yd."
    )


@pytest.mark.parametrize("width", [40, 50, 66, 80, 120])
def test_no_line_is_longer_than_the_terminal(example_answer: Arguments, width: int) -> None:
    lines = text_answer(answer_view(**example_answer), width=width).splitlines()
    assert max(len(line) for line in lines) <= width


def test_text_is_plain(example_answer: Arguments) -> None:
    text = text_answer(answer_view(**example_answer))
    assert text.isascii()
    assert "\x1b" not in text
    assert text.endswith("\n")
    assert not any(line != line.rstrip() for line in text.splitlines())


def test_text_holds_everything_of_the_view(example_answer: Arguments) -> None:
    view = answer_view(**example_answer)
    text = " ".join(text_answer(view, width=200).split())
    parts = [view.headline, view.walk, view.equals, view.gain_over_habit, view.situation, view.kit]
    parts += [view.parts, *view.outcome, *view.cautions, view.attribution]
    parts += [value for s in (*view.spots, *view.habits) for value in (s.where, s.usable, s.walk)]
    for part in parts:
        assert part in text


def test_ranks_and_letters_are_those_of_the_picture(example_answer: Arguments) -> None:
    view = answer_view(**example_answer)
    assert [line.name for line in view.spots] == ["1", "2", "3"]
    assert [line.role.value for line in view.spots] == ["best", "as good", "other"]
    assert [line.name for line in view.habits] == ["A"]


def test_equals_and_the_gain_over_habit_are_said(example_answer: Arguments) -> None:
    view = answer_view(**example_answer)
    assert view.equals == "As good within the error: 2 (57%)."
    assert view.gain_over_habit == '11 points more than the habit "20 yd ahead" (47%).'
    alone = answer_view(**{**example_answer, "equals": [], "habits": []})
    assert alone.equals == ""
    assert alone.gain_over_habit == ""


def test_a_habit_that_is_better_is_not_hidden(example_answer: Arguments) -> None:
    name, figures = example_answer["habits"][0]
    better = replace(figures, p_usable=0.60, p_usable_high=0.64)
    view = answer_view(**{**example_answer, "habits": [(name, better)]})
    assert view.gain_over_habit == '2 points less than the habit "20 yd ahead" (60%).'
    same = replace(figures, p_usable=0.583)
    view = answer_view(**{**example_answer, "habits": [(name, same)]})
    assert view.gain_over_habit.startswith("No more than")


@pytest.mark.parametrize(
    ("walk_yd", "walk_s", "said", "verb"),
    [
        (None, None, "", "Stand"),
        (0.0, 0.0, "You are there.", "Stay"),
        (30.0, 20.0, "Walk: 30 yd, 20 s.", "Stand"),
        (float("inf"), None, "There is no open way to it.", "Stand"),
    ],
)
def test_the_walk_in_words(
    example_answer: Arguments, walk_yd: float | None, walk_s: float | None, said: str, verb: str
) -> None:
    best = replace(example_answer["best"], walk_yd=walk_yd, walk_s=walk_s)
    view = answer_view(**{**example_answer, "best": best})
    assert view.walk == said
    assert view.headline.startswith(verb)


def test_a_kit_that_reaches_nothing_is_not_sent_anywhere(example_answer: Arguments) -> None:
    best = replace(example_answer["best"], p_usable=0.0, p_usable_low=0.0, p_usable_high=0.0)
    view = answer_view(**{**example_answer, "best": best})
    assert view.headline.startswith("No open spot has a usable frame")
    assert view.place == "No open spot is usable with this kit."


def test_goal_to_go_has_no_first_down(example_answer: Arguments) -> None:
    view = answer_view(**{**example_answer, "situation": Situation(1, 5, 5)})
    assert "first down" not in " ".join(view.outcome)
    assert "1st and goal" in view.situation


def test_a_caution_is_always_shown(example_answer: Arguments) -> None:
    usual = answer_view(**example_answer)
    assert usual.cautions == (USUAL_CAUTION,)
    own = answer_view(**{**example_answer, "cautions": ["lightning within 8 miles: leave"]})
    assert own.cautions == ("Lightning within 8 miles: leave.",)
    for view in (usual, own):
        assert "Caution: " in text_answer(view)
        assert view.cautions[0] in text_answer(view, width=400)


def test_a_probability_out_of_range_is_refused(example_answer: Arguments) -> None:
    with pytest.raises(OutOfRangeError, match="p_clear must be between 0 and 1"):
        replace(example_answer["best"], p_clear=1.4)


def test_a_terminal_too_narrow_is_refused(example_answer: Arguments) -> None:
    with pytest.raises(OutOfRangeError, match="width must be between 40 and 400"):
        text_answer(answer_view(**example_answer), width=20)


def test_the_plan_is_said_right_below_the_sentence(example_answer: Arguments) -> None:
    view = answer_view(**example_answer, plan="stay where you are")
    assert "Plan: Stay where you are." in text_answer(view).split("\n\n")[0]
    assert "Plan" not in text_answer(answer_view(**example_answer))
