"""The offline card on the page "Game plan": made on request, to download or hand to a phone."""

from __future__ import annotations

import threading
from dataclasses import dataclass
from functools import partial
from http.server import ThreadingHTTPServer

import streamlit as st

from lensyard.dashboard import guard
from lensyard.dashboard.serve import network_address
from lensyard.dashboard.shell import Shell
from lensyard.dashboard.work import Progress
from lensyard.features.card.serve import KEEP_OPEN, hand_out, qr_image
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
    if guard.role() is guard.Role.OWNER:
        _phone(shell, card)


@dataclass
class HandedOut:
    """The one card that this process hands to phones, and where; nothing while it does not."""

    server: ThreadingHTTPServer | None = None
    where: str = ""

    def start(self, card: bytes) -> None:
        """Hand out a card in place of the one before. Raises `LensyardError` without a network."""
        self.stop()
        self.server, self.where = hand_out(card, address=network_address(), port=0)
        threading.Thread(target=self.server.serve_forever, daemon=True).start()

    def stop(self) -> None:
        """Hand out nothing."""
        if self.server is not None:
            self.server.shutdown()
            self.server.server_close()
        self.server, self.where = None, ""


@st.cache_resource(show_spinner=False)
def handed_out() -> HandedOut:
    """Return what this server hands out."""
    return HandedOut()


def _phone(shell: Shell, card: bytes) -> None:
    """Offer to hand the card to a phone by a QR code; a guest of the dashboard cannot."""
    handed = handed_out()
    if st.button("Hand it to a phone", key="ly_card_phone"):
        shell.attempt(partial(handed.start, card))
    if not handed.where:
        return
    st.html(
        f'<figure class="ly-qr"><img src="{qr_image(handed.where)}" alt="QR code of the address '
        f'below"><figcaption>{handed.where}</figcaption></figure>'
    )
    st.caption(KEEP_OPEN)
    st.button("Stop handing it out", key="ly_card_stop", on_click=handed.stop)


def _want(key: str) -> None:
    st.session_state[_WANTED] = key


def _card(context: Context, request: PlanRequest, progress: Progress) -> bytes:
    from lensyard.features.card.compute import card_content
    from lensyard.features.card.report import card_html

    progress("answering every situation")
    content = card_content(context, request)
    progress("writing the page")
    return card_html(content).encode()
