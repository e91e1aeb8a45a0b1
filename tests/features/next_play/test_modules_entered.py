"""How much of the package one question goes through: few modules, and the model asked once.

A module is entered when a function of it runs, from `next_play` down: value checks and properties
count; what runs at import and a dataclass's own methods, those of `lensyard.records` too, do not.
The model and its prior are loaded before, as they are for every question but the first of a
process.
"""

import sys
from collections import Counter
from pathlib import Path

import lensyard
from lensyard.domain.situation import Situation
from lensyard.features.next_play.compute import NextRequest, next_play
from lensyard.model.context import load_context

PACKAGE = Path(lensyard.__file__).parent
MOST_MODULES = 18


def entered_by(request):
    """Return how often each function of ours ran while a question was answered, by module."""
    context = load_context()
    next_play(context, NextRequest(Situation(1, 10, 75), standing=request.standing))
    found: Counter[tuple[str, str]] = Counter()

    def note(frame, event, _):
        path = Path(frame.f_code.co_filename)
        if event == "call" and path.is_relative_to(PACKAGE) and path.stem != "records":
            found[str(path.relative_to(PACKAGE)), frame.f_code.co_name] += 1

    before = sys.getprofile()
    sys.setprofile(note)
    try:
        next_play(context, request)
    finally:
        sys.setprofile(before)
    return found


def test_one_question_enters_at_most_eighteen_modules():
    modules = sorted({module for module, _ in entered_by(NextRequest(Situation(3, 7, 35)))})
    assert "features/next_play/compute.py" in modules  # the count sees something
    assert len(modules) <= MOST_MODULES, modules


def test_one_question_asks_the_model_once():
    for standing in (None, "left:opp40"):
        entered = entered_by(NextRequest(Situation(3, 7, 35), standing=standing))
        assert entered["model/outcome.py", "forecast"] == 1
        assert entered["model/outcome_grid.py", "axis_codes"] == 1
