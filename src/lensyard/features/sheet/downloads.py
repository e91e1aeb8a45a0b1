"""What a game plan is taken along as: the printed sheet, and the offline card for a phone."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import partial

import streamlit as st

from lensyard.dashboard import work
from lensyard.dashboard.context import context
from lensyard.dashboard.figures import DRAWING, plain
from lensyard.errors import LensyardError
from lensyard.features.sheet.compute import SheetContent, SheetRequest
from lensyard.planner.plans import PlanRequest
from lensyard.render.words import sentence

_WANTED = "ly_card_wanted"
PAPERS = {"letter": "letter", "a4": "A4"}
CARD_WORDS = (
    "The offline card is one file that answers on a phone without signal. Open it once before the "
    "game, and keep it open."
)


@dataclass(frozen=True, slots=True)
class MadeSheet:
    """What goes on the sheet and on the page, and the sheet as PDF by paper.

    Where the sheet cannot be set, ``files`` is empty and ``problem`` says why.
    """

    content: SheetContent
    files: Mapping[str, bytes]
    problem: str = ""


def make_sheet(request: SheetRequest, progress: work.Progress) -> MadeSheet:
    """Return a plan ready for page and paper."""
    from lensyard.features.sheet.compute import sheet_content
    from lensyard.features.sheet.layout import sheet_file
    from lensyard.features.sheet.report import sheet_of

    content = sheet_content(context(), request, progress=progress)
    progress("setting the printed sheet")
    try:
        with DRAWING:
            sheet = sheet_of(content)
            files = {paper: sheet_file(sheet, paper=paper) for paper in PAPERS}
    except LensyardError as error:
        # The plan itself is there, and is shown without the sheet.
        return MadeSheet(content, {}, sentence(f"there is no printed sheet: {error}"))
    return MadeSheet(content, files)


def offer_sheet(made: MadeSheet) -> None:
    """Offer the sheet as a PDF in both sizes of paper."""
    if made.problem:
        st.warning(plain(made.problem))
    for paper, title in PAPERS.items():
        if paper not in made.files:
            continue
        st.download_button(
            f"Sheet, {title}",
            data=made.files[paper],
            file_name=f"lensyard-sheet-{paper}.pdf",
            mime="application/pdf",
            key=f"ly_sheet_{paper}",
            on_click="ignore",
        )


def offer_card(request: PlanRequest) -> None:
    """Offer the offline card: made on request, then to be downloaded."""
    key = f"card {request!r}"
    if st.session_state.get(_WANTED) != key:
        st.button("Make the offline card", key="ly_make_card", on_click=_want, args=(key,))
        return
    card = work.run_job(key, partial(_card, request), title="the offline card")
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
    from lensyard.features.card.compute import card_content
    from lensyard.features.card.html import card_html

    progress("answering every situation")
    content = card_content(context(), request)
    progress("writing the page")
    return card_html(content).encode()
