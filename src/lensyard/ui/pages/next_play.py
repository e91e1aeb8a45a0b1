"""The page "Next play": the answer first, the situation in a few taps, the field below."""

from __future__ import annotations

import streamlit as st

from lensyard.errors import LensyardError
from lensyard.present.answer_shares import shares_of
from lensyard.present.gain import gain_plot
from lensyard.present.next_play import picture_of, words_of
from lensyard.service.next_play import NextAnswer, next_play
from lensyard.ui import gamelog, session, widgets
from lensyard.ui.context import context
from lensyard.ui.controls import Controls
from lensyard.ui.field import bare_picture, show_field
from lensyard.ui.figures import show_figure
from lensyard.ui.log_bar import log_bar
from lensyard.ui.style import plain
from lensyard.ui.welcome import show_welcome
from lensyard.views.answer_panels import detail_html, lead_html
from lensyard.views.gain_plot import gain_rows, gain_svg
from lensyard.views.palette import LOOKS, Look
from lensyard.views.words import sentence

NO_SIGNAL = (
    "No signal at the field? The offline card answers without one: get it before the game under "
    "Game plan."
)


def page(controls: Controls) -> None:
    """Show the page."""
    look = LOOKS[controls.look]
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
            _show(controls, answer, look)


def _show(controls: Controls, answer: NextAnswer | None, look: Look) -> None:
    """Show the field and what stands behind the answer."""
    picture = bare_picture(controls) if answer is None else picture_of(answer, tappable=True)
    show_field(picture, look)
    if answer is None:
        return
    st.html(detail_html(words_of(answer), shares_of(answer), look))
    plot = gain_plot(answer)
    show_figure(
        lambda wide: gain_svg(plot, look=look, wide=wide),
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
