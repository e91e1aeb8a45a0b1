"""The page "Drill": real situations to practice on, with progress."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

import streamlit as st

from lensyard.dashboard import guard, widgets, work
from lensyard.dashboard.shell import Shell, offer, plain, show_body
from lensyard.dashboard.widgets import TAP_STANDS, show_field
from lensyard.domain.places import named_stations
from lensyard.errors import LensyardError
from lensyard.features.drill.compute import Graded, grade, keep_answer, read_answer, summary_of
from lensyard.features.drill.progress import FILE_NAME, learner_progress
from lensyard.features.drill.report import (
    class_report,
    class_table,
    drill_picture,
    graded_report,
    progress_report,
    question_report,
    source_note,
    summary_report,
)
from lensyard.features.drill.school import class_path, class_progress
from lensyard.features.drill.series import DrillRequest, Question, Series, series_for
from lensyard.render.html import progress_html
from lensyard.render.text import csv_text
from lensyard.render.words import sentence

FIELD_KEY = "drill_field_tap"
PLACE_KEY = "drill_place"
SEED_KEY, NAME_KEY = "ly_drill_seed", "ly_drill_name"
LENGTH = 10
HINT = "Tap the strip around the field where you would go."
_SITTING = "ly_drill"
_ROUND = "ly_drill_round"


@dataclass(slots=True)
class Sitting:
    """A series under way.

    - ``series``, ``path``, ``notes``: the series, where its answers are stored, and what there is
      to say
    - ``asking``: whether the next question stands open; if not, the last answer is shown
    """

    request: DrillRequest
    name: str
    series: Series
    path: Path | None
    notes: tuple[str, ...]
    graded: list[Graded] = field(default_factory=list)
    asking: bool = True
    issue: str = ""

    @property
    def question(self) -> Question | None:
        """The open question; None when none is open."""
        if not self.asking or self.over:
            return None
        return self.series.questions[len(self.graded)]

    @property
    def over(self) -> bool:
        """Whether every question has been answered and looked at."""
        return self.asking and len(self.graded) >= len(self.series.questions)


def sitting() -> Sitting | None:
    """Return the series under way."""
    found: Sitting | None = st.session_state.get(_SITTING)
    return found


def answer(text: str) -> None:
    """Answer the open question; why it cannot be one stands on the page. A callback."""
    now = sitting()
    if now is None or now.question is None:
        return
    try:
        graded = grade(now.series, now.question, read_answer(now.series, now.question, text))
        if now.path is not None:
            keep_answer(now.path, now.series, graded)
    except LensyardError as error:
        now.issue = sentence(str(error))
        return
    now.graded.append(graded)
    now.asking, now.issue = False, ""
    st.session_state[PLACE_KEY] = ""


def page(shell: Shell) -> None:
    """Show the page."""
    now = shell.attempt(lambda: _series(shell))
    if now is not None:
        _show(shell, now)
    with st.container(key="ly_settings"):
        widgets.settings(shell.controls)
    with st.expander("A class", key="ly_class"):
        _class(shell)
    if now is not None:
        _progress(shell, now)


def _series(shell: Shell) -> Sitting | None:
    """Return the series for this kit, venue and assignment; a new one where there is none."""
    controls = shell.controls
    seed = st.session_state.get(SEED_KEY)
    request = DrillRequest(
        controls.kit(), controls.venue(), controls.assignment(), length=LENGTH, seed=seed
    )
    name = str(st.session_state.get(NAME_KEY, "")).strip()
    now = sitting()
    if now is not None and (now.request, now.name) == (request, name):
        return now
    folder = guard.data_folder()
    path = folder and folder / FILE_NAME
    if name:
        path = class_path(name, folder=folder)
    made = shell.run(
        (request, path, work.session_word(), st.session_state.get(_ROUND, 0)),
        lambda _: series_for(controls.answering(), request, path=path),
        title="the plan and the rule card that you play against",
    )
    if made is None:
        return None
    now = st.session_state[_SITTING] = Sitting(request, name, *made)
    return now


def _show(shell: Shell, now: Sitting) -> None:
    """Show the open question, what came of the last answer, or the score at the end."""
    series, question = now.series, now.question
    st.html(progress_html(len(now.graded), len(series.questions)))
    if now.over:
        shell.show(summary_report(series, summary_of(now.graded)))
        st.button("Another series", key="ly_another", type="primary", on_click=_start_over)
        return
    if question is not None:
        shell.show(question_report(series, question))
        if now.issue:
            st.warning(plain(now.issue))
        with st.container(key="ly_drill_row"):
            st.button("Stay here", key="ly_stay", on_click=answer, args=("stay",))
            st.text_input(
                "Or type a place",
                key=PLACE_KEY,
                placeholder="left:opp40, end:right5",
                max_chars=40,
                on_change=_take_text,
            )
        picture = drill_picture(series, question)
    else:
        last = len(now.graded) == len(series.questions)
        st.button(
            "See the score" if last else "Next play",
            key="ly_go_on",
            type="primary",
            on_click=_go_on,
        )
        shell.show(graded_report(now.graded[-1]))
        picture = drill_picture(series, now.graded[-1].question, now.graded[-1])
    show_field(
        picture,
        shell.theme,
        key=FIELD_KEY,
        on_tap=_take_tap,
        hint=HINT if question is not None else "",
        takes=TAP_STANDS,
    )


def _class(shell: Shell) -> None:
    """Ask for the class's series and a name, and show how the class stands."""
    st.number_input(
        "Series, the same for everybody with this number (empty: your own)",
        min_value=0,
        max_value=2**32 - 1,
        value=None,
        step=1,
        key=SEED_KEY,
    )
    st.text_input("Whose answers those are", key=NAME_KEY, max_chars=40)
    folder = guard.data_folder()
    if not any(class_path("x", folder=folder).parent.glob("*.jsonl")):
        st.caption("Nobody is on the list yet: say a name above, and answer.")
        return
    found = shell.attempt(lambda: class_progress(folder=folder))
    if found is not None:
        report = class_report(found)
        st.caption(report.headline)
        show_body(report, theme=shell.theme, key="class")
        table = class_table(found)
        offer("The class as CSV", "class.csv", lambda: csv_text(table), key="ly_class_csv")


def _progress(shell: Shell, now: Sitting) -> None:
    """Show how the learner stands, under the question."""
    with st.expander("Your progress", key="ly_progress"):
        found = shell.attempt(lambda: learner_progress(now.path))
        if found is None:
            return
        report = progress_report(found)
        st.caption(f"{report.headline}. {source_note(now.series)}")
        show_body(report, theme=shell.theme, key="progress")
        for note in now.notes:
            st.caption(plain(note))


def _take_tap() -> None:
    tap = st.session_state[FIELD_KEY].get("tap")
    now = sitting()
    if now is None or not isinstance(tap, Mapping) or tap.get("kind") != "stand":
        return
    venue = now.request.venue
    stations = named_stations(
        side_setback_yd=venue.side_setback_yd, end_setback_yd=venue.end_setback_yd
    )
    station = tap.get("station")
    if isinstance(station, int | float) and 0 <= int(station) < len(stations):
        answer(stations[int(station)].text)


def _take_text() -> None:
    text = str(st.session_state.get(PLACE_KEY, "")).strip()
    if text:
        answer(text)


def _go_on() -> None:
    now = sitting()
    if now is not None:
        now.asking = True


def _start_over() -> None:
    st.session_state.pop(_SITTING, None)
    st.session_state[_ROUND] = st.session_state.get(_ROUND, 0) + 1
