"""What a game plan is taken along as: the printed sheet, and the offline card for a phone."""

from __future__ import annotations

from functools import partial

import streamlit as st

from lensyard.service.plans import PlanRequest
from lensyard.service.sheet_content import SheetContent, SheetRequest
from lensyard.ui import work
from lensyard.ui.context import context

_WANTED = "ly_card_wanted"
CARD_WORDS = (
    "The offline card is one file that answers on a phone without signal. Open it once before the "
    "game, and keep it open."
)


def offer_sheet(content: SheetContent) -> None:
    """Offer the sheet as a PDF; it is set when somebody asks for it."""
    for paper in ("letter", "a4"):
        st.download_button(
            f"Sheet, {paper.upper() if paper == 'a4' else paper}",
            data=partial(sheet_bytes, content, paper, "pdf"),
            file_name=f"lensyard-sheet-{paper}.pdf",
            mime="application/pdf",
            key=f"ly_sheet_{paper}",
            on_click="ignore",
        )


def sheet_bytes(content: SheetContent, paper: str, form: str) -> bytes:
    """Return the sheet as a file."""
    from lensyard.present.sheet import sheet_of
    from lensyard.sheets.plan_sheet import sheet_file

    return sheet_file(sheet_of(content), paper=paper, form=form)


def make_sheet(request: SheetRequest, progress: work.Progress) -> SheetContent:
    """Return what goes on the sheet, and on the page."""
    from lensyard.service.sheet_content import sheet_content

    return sheet_content(context(), request, progress=progress)


def offer_card(request: PlanRequest) -> None:
    """Offer the offline card: made on request, then to be downloaded."""
    key = f"card {request!r}"
    if st.session_state.get(_WANTED) != key:
        st.button("Make the offline card", key="ly_make_card", on_click=_want, args=(key,))
        return
    card = work.asked(key, partial(_card, request), title="the offline card")
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


def _card(request: PlanRequest, progress: work.Progress) -> bytes:
    from lensyard.present.card import card_page
    from lensyard.service.card_content import card_content
    from lensyard.sheets.card import card_html

    progress("answering every situation")
    content = card_content(context(), request)
    progress("writing the page")
    return card_html(card_page(content)).encode()
