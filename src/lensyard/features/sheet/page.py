"""The printed sheet on the page "Game plan": both sizes of paper, and what is closed."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from functools import partial

import streamlit as st

from lensyard.dashboard.shell import Shell, offer, plain
from lensyard.dashboard.work import Progress
from lensyard.errors import LensyardError
from lensyard.features.game_plan.compute import game_plan
from lensyard.features.sheet.compute import sheet_content
from lensyard.features.sheet.layout import Sheet, sheet_file
from lensyard.model.context import Context
from lensyard.planner.plans import PlanRequest
from lensyard.planner.season_data import stored_season
from lensyard.records import Record
from lensyard.render.html import section_html
from lensyard.render.words import sentence
from lensyard.sun.game_light import light_at_kickoff

PAPERS = {"letter": "letter", "a4": "A4"}


class MadeSheet(Record):
    """The sheet and its PDF by paper; where it cannot be set, none, and ``issue`` says why."""

    sheet: tuple[Sheet, ...]
    files: Mapping[str, bytes]
    issue: str = ""


def page(shell: Shell) -> None:
    """Offer the sheet as a PDF in both sizes of paper, and say what is closed."""
    controls, ticked = shell.controls, shell.ticked
    request = controls.plan_request()
    kickoff = datetime.fromisoformat(controls.kickoff) if controls.kickoff else None
    made = shell.run(
        ("sheet", request, kickoff, ticked),
        lambda progress: make_sheet(controls.answering(), request, kickoff, ticked, progress),
        title="the printed sheet",
    )
    if made is None:
        return
    if made.issue:
        st.warning(plain(made.issue))
    with st.container(key="ly_take"):
        for paper in made.files:
            made_of = partial(made.files.__getitem__, paper)
            offer(f"Sheet, {PAPERS[paper]}", f"sheet-{paper}.pdf", made_of, key=f"ly_sheet_{paper}")
    (closed,) = made.sheet[0].report.sections
    st.html(section_html("Closed to photographers", closed.lines, listed=True))


def make_sheet(
    context: Context,
    request: PlanRequest,
    kickoff: datetime | None,
    have: tuple[str, ...],
    progress: Progress,
) -> MadeSheet:
    """Return the sheet of a plan, ready for paper."""
    plays = stored_season(context)
    plan = game_plan(context, request, plays, have=have, kickoff=kickoff, progress=progress)
    light = None if kickoff is None else light_at_kickoff(request.venue, request.kit, kickoff)
    sheet = Sheet.of(sheet_content(plan, light))
    progress("setting the printed sheet")
    try:
        files = {paper: sheet_file(sheet, paper=paper) for paper in PAPERS}
    except LensyardError as error:
        return MadeSheet(sheet, {}, sentence(f"there is no printed sheet: {error}"))
    return MadeSheet(sheet, files)
