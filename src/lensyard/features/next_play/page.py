"""The page "Next play": the answer first, the situation in a few taps, the field below.

What somebody reads who is here for the first time: three sentences, and the demo.
"""

from __future__ import annotations

import streamlit as st

from lensyard.dashboard import session, widgets
from lensyard.dashboard import session as browser
from lensyard.dashboard.context import context
from lensyard.dashboard.controls import Controls
from lensyard.dashboard.field import bare_picture, show_field
from lensyard.dashboard.figures import plain, show_figure
from lensyard.errors import LensyardError
from lensyard.features.game_log import panel as gamelog
from lensyard.features.game_log.panel import log_bar
from lensyard.features.next_play.answer import NextAnswer, next_play
from lensyard.features.next_play.answer_parts import detail_html, lead_html
from lensyard.features.next_play.charts import gain_plot, gain_rows, gain_svg
from lensyard.features.next_play.report import picture_of, shares_of, words_of
from lensyard.render.theme import THEMES, Theme
from lensyard.render.words import sentence

WORDS = (
    "Set down, distance and ball below, and read on top where to stand for the next play. "
    "Tap beside the field where you stand now, and the answer minds how far you can walk. "
    "Choose your lenses under Kit once; this browser remembers them."
)
_DEMO = "ly_demo_there"


def show_welcome() -> None:
    """Show it on a first visit until it is put away."""
    kept = session.current()
    if kept.first_visit:
        with st.container(key="ly_welcome"):
            st.html(f'<p class="ly-welcome">{WORDS}</p>')
            with st.container(key="ly_welcome_row"):
                st.button("Got it", key="ly_got_it", on_click=_put_away, type="primary")
                st.button("Try the demo game", key="ly_demo", on_click=_demo)
    if st.session_state.pop(_DEMO, False):
        st.info("An invented game is in your log now; the page Review shows what it brought.")


def _put_away() -> None:
    session.current().first_visit = False
    browser.note_visit()


def _demo() -> None:
    _put_away()
    gamelog.try_demo()
    st.session_state[_DEMO] = True


NO_SIGNAL = (
    "No signal at the field? The offline card answers without one: get it before the game under "
    "Game plan."
)


def page(controls: Controls) -> None:
    """Show the page."""
    theme = THEMES[controls.theme]
    show_welcome()
    with st.container(key="ly_page"):
        with st.container(key="ly_ask"):
            answer = _answer(controls)
            log_bar(controls, None if answer is None else answer.ranking.spots[0])
            with st.container(key="ly_situation"):
                widgets.situation_widgets(controls)
                widgets.standing_widget(controls)
        with st.container(key="ly_show"):
            with st.container(key="ly_settings"):
                widgets.settings(controls, situation=True)
            _show(controls, answer, theme)


def _show(controls: Controls, answer: NextAnswer | None, theme: Theme) -> None:
    """Show the field and what stands behind the answer."""
    picture = bare_picture(controls) if answer is None else picture_of(answer, tappable=True)
    show_field(picture, theme)
    if answer is None:
        return
    st.html(detail_html(words_of(answer), shares_of(answer), theme))
    plot = gain_plot(answer)
    show_figure(
        lambda wide: gain_svg(plot, theme=theme, wide=wide),
        name="gain",
        said=plot.said,
        table=gain_rows(plot),
    )
    st.caption(NO_SIGNAL)


def _answer(controls: Controls) -> NextAnswer | None:
    """Ask the service once and show the answer, or say why there is none."""
    if problems := session.problems():
        st.warning(plain("\n\n".join(problems)))
    try:
        with st.spinner("Solving the plan for this kit, once", show_time=True):
            answer = next_play(context(), controls.request(have=gamelog.ticked_for(controls)))
    except LensyardError as error:
        st.error(plain(sentence(str(error))))
        return None
    st.html(lead_html(words_of(answer), shares_of(answer)[0]))
    return answer
