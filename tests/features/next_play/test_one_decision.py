"""One decision on every face: open, within the walk, and as good as anything else that is."""

import numpy as np
import pytest
from tests.features.next_play.random_questions import Asked, asked, check

from lensyard.model.context import BASE_MODEL, load_context

HIGH_SCHOOL = ("--rules", "high-school", "--lens", "70-200", "--lens", "300")


def test_nobody_is_sent_into_a_team_area(document, run):
    question = ("next", *HIGH_SCHOOL, "--down", "1", "--ball", "opp25", "--standing", "left:own12")
    answer = document(*question)["answer"]
    # The team areas of this rule set lie between the 25s: 35 to 85 in play coordinates.
    assert not 35 < answer["x_yd"] < 85
    assert answer["snaps_missed"] > 0 or answer["walk_yd"] <= answer["limit_yd"]
    _, text, _ = run(*question)
    said = " ".join(text.split())
    assert "own 42" not in said
    if answer["snaps_missed"]:
        assert "keep moving" in said


def test_nobody_is_moved_by_what_the_grid_does_not_tell_apart(document):
    answer = document("next", "--down", "1", "--ball", "own25", "--standing", "right:opp29")[
        "answer"
    ]
    assert answer["walk_yd"] == 0 or answer["walk_yd"] > 2.1
    gain = answer["p_usable"] - (answer["p_staying"] or 0.0)
    assert gain <= answer["p_usable"] + 1e-9


def test_where_nothing_pays_it_is_said_with_what_to_do(document, run):
    question = ("next", "--lens", "70-200", "--down", "1", "--ball", "own25")
    answer = document(*question)["answer"]
    assert answer["p_at_most"] < 0.095
    assert answer["action"] == "nothing"
    assert answer["instead"]
    _, text, _ = run(*question)
    assert text.startswith("Nothing pays on this snap")
    assert "Use the snap for" in text
    low = document(*question, "--least", "0.001")["answer"]
    assert low["action"] == "best"


@pytest.mark.slow
def test_the_answer_takes_at_most_ninety_words(run):
    for question in (
        ("--down", "1", "--ball", "own25"),
        ("--down", "3", "--distance", "7", "--ball", "opp35", "--standing", "left:own20"),
        ("--down", "2", "--ball", "opp8", "--standing", "end:left12"),
        (*HIGH_SCHOOL, "--down", "1", "--ball", "opp25", "--standing", "left:own12"),
        ("--venue", "brindle-prairie", "--down", "1", "--ball", "opp20", "--standing", "left:50"),
    ):
        code, text, _ = run("next", *question)
        assert code == 0
        assert len(text.split()) <= 90, text
        assert text.count("Caution: ") == 1
        code, named, _ = run("next", *question, "--model", BASE_MODEL)
        assert len(named.split()) <= 90, named
        assert f"Model {BASE_MODEL}: " in " ".join(named.split())
        assert "Model " not in text


@pytest.mark.slow
def test_decisions_are_open_reachable_and_as_good_as_any_other():
    context, rng = load_context(), np.random.default_rng(20261128)
    actions = {check(context, question)[0] for question in asked(rng, 120, setups=2)}
    assert {"stay", "walk"} <= actions


def test_a_question_says_what_it_is():
    question = next(iter(asked(np.random.default_rng(1), 1, setups=1)))
    assert isinstance(question, Asked)
