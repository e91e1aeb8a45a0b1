"""The offline card on the page "Game plan": made on request, then to be downloaded."""

from __future__ import annotations

from functools import partial

import streamlit as st

from lensyard.dashboard.shell import Shell
from lensyard.dashboard.work import Progress
from lensyard.model.context import Context
from lensyard.planner.plans import PlanRequest

_WANTED = "ly_card_wanted"
CARD_WORDS = (
    "The offline card is one file that answers on a phone without signal. Open it once before the "
    "game, and keep it open."
)


def page(shell: Shell) -> None:
    """Offer the card of the plan that the controls ask for."""
    request = shell.controls.plan_request()
    key = f"card {shell.model_key} {request!r}"
    st.caption(CARD_WORDS)
    if st.session_state.get(_WANTED) != key:
        st.button("Make the offline card", key="ly_make_card", on_click=_want, args=(key,))
        return
    card = shell.run(
        key, partial(_card, shell.controls.answering(), request), title="the offline card"
    )
    if card is None:
        return
    st.download_button(
        f"Offline card ({len(card) / 1000:.0f} kB)",
        data=card,
        file_name="lensyard-card.html",
        mime="text/html",
        key="ly_card",
        type="primary",
        on_click="ignore",
    )


def _want(key: str) -> None:
    st.session_state[_WANTED] = key


def _card(context: Context, request: PlanRequest, progress: Progress) -> bytes:
    from lensyard.features.card.compute import card_content
    from lensyard.features.card.report import card_html

    progress("answering every situation")
    content = card_content(context, request)
    progress("writing the page")
    return card_html(content).encode()
