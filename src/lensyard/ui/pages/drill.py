"""The page "Drill": real situations to practice on, with progress."""

from __future__ import annotations

import streamlit as st

from lensyard.errors import LensyardError
from lensyard.present import drill_page as words
from lensyard.present.drill_picture import drill_picture
from lensyard.service.drills import DrillRequest, summary_of
from lensyard.ui import drilling, guard, session, widgets, work
from lensyard.ui.context import context
from lensyard.ui.controls import Controls
from lensyard.ui.drilling import Learning
from lensyard.ui.field import show_field
from lensyard.ui.figures import offer_csv, show_table
from lensyard.ui.style import plain
from lensyard.views.page_parts import lead_of, progress_html
from lensyard.views.palette import LOOKS, Look
from lensyard.views.words import sentence

LENGTH = 10
HINT = "Tap the strip around the field where you would go."


def page(controls: Controls) -> None:
    """Show the page."""
    look = LOOKS[controls.look]
    with st.container(key="ly_plain"):
        if problems := session.problems():
            st.warning(plain("\n\n".join(problems)))
        try:
            under_way = _series(controls)
        except LensyardError as error:
            st.error(plain(sentence(str(error))))
            under_way = None
        if under_way is not None:
            _show(under_way, look)
        with st.container(key="ly_settings"):
            widgets.settings(controls)
        if under_way is not None:
            _progress(under_way)


def _series(controls: Controls) -> Learning | None:
    """The series under way for this kit, ground and assignment; a new one where there is none."""
    request = DrillRequest(controls.kit(), controls.ground(), controls.task(), length=LENGTH)
    under_way = drilling.learning()
    if under_way is not None and under_way.request == request:
        return under_way
    folder = guard.data_folder()
    turn = st.session_state.get("ly_drill_round", 0)
    opened = work.asked(
        f"drill {request!r} {folder} {work.session_word()} {turn}",
        lambda _: drilling.open_series(context(), request, folder),
        title="the plan and the rule card that you play against",
    )
    return None if opened is None else drilling.begin(opened)


def _show(under_way: Learning, look: Look) -> None:
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
            st.button("Stay here", key="ly_stay", on_click=drilling.answer, args=("stay",))
            st.text_input(
                "Or type a place",
                key=drilling.PLACE_KEY,
                placeholder="left:opp40, end:right5",
                max_chars=40,
                on_change=drilling.take_text,
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
            on_click=drilling.go_on,
        )
        show_table(*words.graded_rows(graded))
        picture = drill_picture(series, graded.question, graded)
    show_field(
        picture,
        look,
        key=drilling.FIELD_KEY,
        on_tap=drilling.take_tap,
        hint=HINT if question is not None else "",
        sets_ball=False,
    )


def _score(under_way: Learning) -> None:
    summary = summary_of(under_way.graded)
    st.html(lead_of(*words.summary_words(under_way.series, summary)))
    st.button("Another series", key="ly_another", type="primary", on_click=drilling.start_over)
    table = words.summary_rows(summary)
    show_table(*table)
    offer_csv(table, name="drill")


def _progress(under_way: Learning) -> None:
    """Show how the learner stands, under the question."""
    with st.expander("Your progress", key="ly_progress"):
        try:
            found = drilling.progress(under_way.path)
        except LensyardError as error:
            st.error(plain(sentence(str(error))))
            return
        st.caption(f"{found['answered']} answers kept. {words.source_words(under_way.series)}")
        show_table(*words.progress_rows(found))
        for note in under_way.notes:
            st.caption(plain(note))
