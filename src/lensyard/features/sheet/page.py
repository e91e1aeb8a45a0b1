"""The printed sheet on the page "Game plan": both sizes of paper, and what is closed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from functools import partial

import streamlit as st

from lensyard.dashboard.figures import DRAWING
from lensyard.dashboard.shell import Shell
from lensyard.dashboard.show import plain
from lensyard.dashboard.work import Progress
from lensyard.errors import LensyardError
from lensyard.features.sheet.compute import SheetContent, SheetRequest, sheet_content
from lensyard.model.context import load_context
from lensyard.render.html import section_html
from lensyard.render.words import sentence

PAPERS = {"letter": "letter", "a4": "A4"}


@dataclass(frozen=True, slots=True)
class MadeSheet:
    """What goes on the sheet, and the sheet as PDF by paper.

    Where the sheet cannot be set, ``files`` is empty and ``issue`` says why.
    """

    content: SheetContent
    files: Mapping[str, bytes]
    issue: str = ""


def page(shell: Shell) -> None:
    """Offer the sheet as a PDF in both sizes of paper, and say what is closed."""
    controls = shell.controls
    kickoff = datetime.fromisoformat(controls.kickoff) if controls.kickoff else None
    request = SheetRequest(controls.plan_request(), kickoff, shell.ticked)
    made = shell.run(("sheet", request), partial(make_sheet, request), title="the printed sheet")
    if made is None:
        return
    if made.issue:
        st.warning(plain(made.issue))
    with st.container(key="ly_take"):
        for paper in made.files:
            st.download_button(
                f"Sheet, {PAPERS[paper]}",
                data=made.files[paper],
                file_name=f"lensyard-sheet-{paper}.pdf",
                mime="application/pdf",
                key=f"ly_sheet_{paper}",
                on_click="ignore",
            )
    st.html(section_html("Closed to photographers", made.content.closed, listed=True))


def make_sheet(request: SheetRequest, progress: Progress) -> MadeSheet:
    """Return the sheet of a plan, ready for paper."""
    from lensyard.features.sheet.layout import sheet_file
    from lensyard.features.sheet.report import sheet_of

    content = sheet_content(load_context(), request, progress=progress)
    progress("setting the printed sheet")
    try:
        with DRAWING:
            sheet = sheet_of(content)
            files = {paper: sheet_file(sheet, paper=paper) for paper in PAPERS}
    except LensyardError as error:
        return MadeSheet(content, {}, sentence(f"there is no printed sheet: {error}"))
    return MadeSheet(content, files)
