"""What somebody reads who is here for the first time: three sentences, and the demo."""

from __future__ import annotations

import streamlit as st

from lensyard.ui import browser, gamelog, session

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
