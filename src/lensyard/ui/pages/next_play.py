"""The page "Next play": the answer first, the situation in a few taps, the field below."""

from __future__ import annotations

import streamlit as st

from lensyard.errors import LensyardError
from lensyard.present.answer_shares import shares_of
from lensyard.present.next_play import picture_of, words_of
from lensyard.service.next_play import NextAnswer, next_play
from lensyard.ui import session, widgets
from lensyard.ui.context import context
from lensyard.ui.controls import Controls
from lensyard.ui.field import bare_picture, show_field
from lensyard.ui.style import plain, show_style
from lensyard.views.answer_panels import detail_html, lead_html
from lensyard.views.palette import LOOKS, Look
from lensyard.views.words import sentence


def page() -> None:
    """Show the page."""
    with session.one_run() as controls:
        look = LOOKS[controls.look]
        show_style(look)
        with st.container(key="ly_page"):
            _show(controls, look)


def _show(controls: Controls, look: Look) -> None:
    """Show answer and controls, then the field and what stands behind the answer."""
    with st.container(key="ly_ask"):
        answer = _answer(controls)
        with st.container(key="ly_situation"):
            widgets.situation_widgets(controls)
            widgets.standing_widget(controls)
        with st.container(key="ly_settings"):
            _settings(controls)
    with st.container(key="ly_show"):
        picture = bare_picture(controls) if answer is None else picture_of(answer, tappable=True)
        show_field(picture, look)
        if answer is not None:
            st.html(detail_html(words_of(answer), shares_of(answer), look))


def _answer(controls: Controls) -> NextAnswer | None:
    """Ask the service once and show the answer, or say why there is none."""
    if problems := session.problems():
        st.warning(plain("\n\n".join(problems)))
    try:
        answer = next_play(context(), controls.request())
    except LensyardError as error:
        st.error(plain(sentence(str(error))))
        return None
    st.html(lead_html(words_of(answer), shares_of(answer)[0]))
    return answer


def _settings(controls: Controls) -> None:
    """Show what changes seldom, one button each."""
    with st.popover("Kit", key="ly_kit", width="stretch"):
        widgets.kit_widgets(controls)
    with st.popover("Field", key="ly_ground", width="stretch"):
        widgets.ground_widgets(controls)
    with st.popover("Game", key="ly_game", width="stretch"):
        widgets.clock_widgets()
    with st.popover("Screen", key="ly_screen", width="stretch"):
        widgets.look_widget()
