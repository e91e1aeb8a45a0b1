"""The widgets of the page "Review", and what it offers where there is no log yet."""

from __future__ import annotations

import streamlit as st

from lensyard.fieldlog.document import GameLog
from lensyard.present.review_page import choice_words
from lensyard.ui import gamelog, review_state, session, widgets
from lensyard.ui.controls import Controls
from lensyard.ui.style import plain
from lensyard.views.page_parts import lead_of

NO_LOG = (
    "Log plays under Next play while you shoot, or with the command lensyard log; after the game "
    "this page says what was in reach, usable and kept, and what the plan would have had."
)


def offer_demo() -> None:
    """Say that there is no log yet, and offer the invented game."""
    st.html(lead_of("No game is in your log yet", (NO_LOG,)))
    if problem := gamelog.state().problem:
        st.error(plain(problem))
    st.button("Try the demo game", key="ly_review_demo", type="primary", on_click=gamelog.try_demo)
    st.caption("Teams, stadium and plays of it are invented.")
    with st.container(key="ly_settings"), st.popover("Screen", key="ly_screen"):
        widgets.look_widget()


def review_widgets(controls: Controls, games: tuple[GameLog, ...]) -> None:
    """Show which game or season is reviewed, and with which reach."""
    choices = choice_words(games)
    key = review_state.chosen_key(controls, games)
    # What an address asks for and the log does not have is no choice; any other one mends it.
    st.session_state[review_state.CHOICE_KEY] = key if key in choices else None
    with st.container(key="ly_filters"):
        st.selectbox(
            "Review of",
            list(choices),
            index=None,
            required=key in choices,
            placeholder="Choose a game or a season",
            format_func=lambda key: choices[key],
            key=review_state.CHOICE_KEY,
            on_change=review_state.choose,
            filter_mode=None,
        )
        st.segmented_control(
            "Count with",
            (False, True),
            format_func=lambda own: "your own reach too" if own else "the usual reach",
            required=True,
            key=session.key_of("own_reach"),
            on_change=session.choose,
            args=("own_reach",),
            width="stretch",
        )
    with st.container(key="ly_settings"), st.popover("Screen", key="ly_screen"):
        widgets.look_widget()
