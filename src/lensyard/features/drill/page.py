"""The page "Drill": real situations to practice on, with progress.

A learner's series in this session: the question, the answers, and where they are kept.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import streamlit as st

from lensyard.dashboard import guard, session, widgets, work
from lensyard.dashboard.context import context
from lensyard.dashboard.controls import Controls
from lensyard.dashboard.field import show_field
from lensyard.dashboard.figures import offer_csv, plain, show_table
from lensyard.domain.places import named_stations
from lensyard.errors import LensyardError
from lensyard.features.drill import report as words
from lensyard.features.drill.compute import (
    DrillRequest,
    Graded,
    Question,
    Series,
    grade,
    read_answer,
    summary_of,
)
from lensyard.features.drill.report import drill_picture
from lensyard.model.context import Context
from lensyard.render.html import lead_of, progress_html
from lensyard.render.theme import THEMES, Theme
from lensyard.render.words import sentence

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
    from lensyard.features.drill.progress import series_for

    if folder is None:
        return (request, *series_for(context, request, keep=True))
    from lensyard.features.drill.compute import drill_series
    from lensyard.features.drill.progress import FILE_NAME, answers_of, read_answers
    from lensyard.features.drill.spacing import progress_of

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
    venue = under_way.request.venue
    stations = named_stations(
        side_setback_yd=venue.side_setback_yd, end_setback_yd=venue.end_setback_yd
    )
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
    from lensyard.features.drill.progress import keep_answer

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
    from lensyard.features.drill.progress import progress_document

    return progress_document(path)


LENGTH = 10
HINT = "Tap the strip around the field where you would go."


def page(controls: Controls) -> None:
    """Show the page."""
    theme = THEMES[controls.theme]
    with st.container(key="ly_plain"):
        if problems := session.problems():
            st.warning(plain("\n\n".join(problems)))
        try:
            under_way = _series(controls)
        except LensyardError as error:
            st.error(plain(sentence(str(error))))
            under_way = None
        if under_way is not None:
            _show(under_way, theme)
        with st.container(key="ly_settings"):
            widgets.settings(controls)
        if under_way is not None:
            _progress(under_way)


def _series(controls: Controls) -> Learning | None:
    """The series under way for this kit, ground and assignment; a new one where there is none."""
    request = DrillRequest(controls.kit(), controls.venue(), controls.assignment(), length=LENGTH)
    under_way = learning()
    if under_way is not None and under_way.request == request:
        return under_way
    folder = guard.data_folder()
    turn = st.session_state.get("ly_drill_round", 0)
    opened = work.run_job(
        f"drill {request!r} {folder} {work.session_word()} {turn}",
        lambda _: open_series(context(), request, folder),
        title="the plan and the rule card that you play against",
    )
    return None if opened is None else begin(opened)


def _show(under_way: Learning, theme: Theme) -> None:
    """Show the open question, what came of the last answer, or the score at the end."""
    series = under_way.series
    st.html(progress_html(len(under_way.graded), len(series.questions)))
    if under_way.over:
        _score(under_way)
        return
    question = under_way.question
    if question is not None:
        st.html(lead_of(*words.question_words(series, question)))
        if under_way.problem:
            st.warning(plain(under_way.problem))
        with st.container(key="ly_drill_row"):
            st.button("Stay here", key="ly_stay", on_click=answer, args=("stay",))
            st.text_input(
                "Or type a place",
                key=PLACE_KEY,
                placeholder="left:opp40, end:right5",
                max_chars=40,
                on_change=take_text,
            )
        picture = drill_picture(series, question)
    else:
        graded = under_way.graded[-1]
        st.html(lead_of(*words.graded_words(graded)))
        last = len(under_way.graded) == len(series.questions)
        st.button(
            "See the score" if last else "Next play",
            key="ly_go_on",
            type="primary",
            on_click=go_on,
        )
        show_table(*words.graded_rows(graded))
        picture = drill_picture(series, graded.question, graded)
    show_field(
        picture,
        theme,
        key=FIELD_KEY,
        on_tap=take_tap,
        hint=HINT if question is not None else "",
        sets_ball=False,
    )


def _score(under_way: Learning) -> None:
    summary = summary_of(under_way.graded)
    st.html(lead_of(*words.summary_words(under_way.series, summary)))
    st.button("Another series", key="ly_another", type="primary", on_click=start_over)
    table = words.summary_rows(summary)
    show_table(*table)
    offer_csv(table, name="drill")


def _progress(under_way: Learning) -> None:
    """Show how the learner stands, under the question."""
    with st.expander("Your progress", key="ly_progress"):
        try:
            found = progress(under_way.path)
        except LensyardError as error:
            st.error(plain(sentence(str(error))))
            return
        st.caption(f"{found['answered']} answers kept. {words.source_words(under_way.series)}")
        show_table(*words.progress_rows(found))
        for note in under_way.notes:
            st.caption(plain(note))
