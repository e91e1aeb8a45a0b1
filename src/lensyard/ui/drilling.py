"""A learner's series in this session: the question, the answers, and where they are kept."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import streamlit as st

from lensyard.errors import LensyardError
from lensyard.service.context import Context
from lensyard.service.drills import DrillRequest, Graded, Question, Series, grade, read_answer
from lensyard.ui.standing import named_stations
from lensyard.views.words import sentence

FIELD_KEY = "drill_field_tap"
PLACE_KEY = "drill_place"
_KEPT = "ly_drill"


@dataclass(slots=True)
class Learning:
    """A series under way.

    Attributes
    ----------
    request
        What it was made for.
    series, path, notes
        The series, where its answers are kept, and what there is to say.
    graded
        The answers so far.
    asking
        Whether the next question stands open; if not, the last answer is shown.
    problem
        Why an answer was not taken.
    """

    request: DrillRequest
    series: Series
    path: Path | None
    notes: tuple[str, ...]
    graded: list[Graded] = field(default_factory=list)
    asking: bool = True
    problem: str = ""

    @property
    def question(self) -> Question | None:
        """The open question; None when none is open."""
        if not self.asking or len(self.graded) >= len(self.series.questions):
            return None
        return self.series.questions[len(self.graded)]

    @property
    def over(self) -> bool:
        """Whether every question has been answered and looked at."""
        return self.asking and len(self.graded) >= len(self.series.questions)


def learning() -> Learning | None:
    """Return the series under way."""
    found: Learning | None = st.session_state.get(_KEPT)
    return found


def begin(opened: tuple[DrillRequest, Series, Path | None, tuple[str, ...]]) -> Learning:
    """Begin a series that was made ready."""
    request, series, path, notes = opened
    begun = Learning(request, series, path, notes)
    st.session_state[_KEPT] = begun
    return begun


def start_over() -> None:
    """Put the series away, so that a new one begins; a callback."""
    st.session_state.pop(_KEPT, None)
    st.session_state["ly_drill_round"] = st.session_state.get("ly_drill_round", 0) + 1


def open_series(
    context: Context, request: DrillRequest, folder: Path | None
) -> tuple[DrillRequest, Series, Path | None, tuple[str, ...]]:
    """Return a learner's series; a guest's answers lie in the guest's own folder."""
    from lensyard.service.drill_progress import series_for

    if folder is None:
        return (request, *series_for(context, request, keep=True))
    from lensyard.data.drill_store import FILE_NAME, read_answers
    from lensyard.recommend.spacing import progress_of
    from lensyard.service.drill_progress import answers_of
    from lensyard.service.drills import drill_series

    path = folder / FILE_NAME
    answers = answers_of(read_answers(path))
    series = drill_series(context, request, progress=progress_of(answers), answered=len(answers))
    return request, series, path, ()


def take_tap() -> None:
    """Answer with a tap on the strip; the callback of the field."""
    tap = st.session_state[FIELD_KEY].get("tap")
    under_way = learning()
    if under_way is None or not isinstance(tap, Mapping) or tap.get("kind") != "stand":
        return
    stations = named_stations(under_way.request.venue.rules.name)
    station = tap.get("station")
    if isinstance(station, int | float) and 0 <= int(station) < len(stations):
        answer(stations[int(station)].text)


def take_text() -> None:
    """Answer with a typed place; a callback."""
    text = str(st.session_state.get(PLACE_KEY, "")).strip()
    if text:
        answer(text)


def answer(text: str) -> None:
    """Answer the open question; what cannot be one is told."""
    from lensyard.service.drill_progress import keep_answer

    under_way = learning()
    if under_way is None or under_way.question is None:
        return
    try:
        position = read_answer(under_way.series, under_way.question, text)
        graded = grade(under_way.series, under_way.question, position)
        if under_way.path is not None:
            keep_answer(under_way.path, under_way.series, graded)
    except LensyardError as error:
        under_way.problem = sentence(str(error))
        return
    under_way.graded.append(graded)
    under_way.asking, under_way.problem = False, ""
    st.session_state[PLACE_KEY] = ""


def go_on() -> None:
    """Open the next question; a callback."""
    under_way = learning()
    if under_way is not None:
        under_way.asking = True


def progress(path: Path | None) -> dict[str, Any]:
    """Return how the learner stands with every card."""
    from lensyard.service.drill_progress import progress_document

    return progress_document(path)
