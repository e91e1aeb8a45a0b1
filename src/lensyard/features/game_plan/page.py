"""The page "Game plan": where to stand in each part of the game, the light, what to take along."""

from __future__ import annotations

from datetime import datetime
from functools import partial

import streamlit as st

from lensyard.dashboard import session, widgets, work
from lensyard.dashboard.controls import Controls
from lensyard.dashboard.figures import offer_csv, plain, show_table
from lensyard.errors import LensyardError
from lensyard.features.game_log import panel as gamelog
from lensyard.features.game_plan import report as words
from lensyard.features.game_plan.compute import PlanReport
from lensyard.features.sheet import downloads
from lensyard.features.sheet.compute import SheetContent, SheetRequest
from lensyard.render.html import lead_of, section_html
from lensyard.render.light import light_warnings
from lensyard.render.words import sentence


def page(controls: Controls) -> None:
    """Show the page."""
    with st.container(key="ly_plain"):
        if problems := session.current().issues:
            st.warning(plain("\n\n".join(problems)))
        lead = st.container()
        with st.container(key="ly_settings"):
            widgets.settings(controls)
        with st.container(key="ly_kickoff"):
            widgets.widget(controls, "kickoff")
        try:
            request = _request(controls)
            made = work.run_job(
                f"sheet {request!r}",
                partial(downloads.make_sheet, request),
                title="the plan for this kit and ground",
            )
            if made is not None:
                with lead:
                    _lead(made)
                _show(made.content)
        except LensyardError as error:
            st.error(plain(sentence(str(error))))


def _request(controls: Controls) -> SheetRequest:
    kickoff = datetime.fromisoformat(controls.kickoff) if controls.kickoff else None
    return SheetRequest(controls.plan_request(), kickoff, gamelog.ticked_for(controls))


def _lead(made: downloads.MadeSheet) -> None:
    """Show the rule to remember, and what to take along."""
    st.html(lead_of(*words.lead_words(made.content.report)))
    with st.container(key="ly_take"):
        downloads.offer_sheet(made)
        downloads.offer_card(made.content.request.plan)
    st.caption(downloads.CARD_WORDS)


def _show(content: SheetContent) -> None:
    """Show phases, zones, light, kicks, shot list, breaks, walking and cautions."""
    report = content.report
    show_table(*words.plan_table(report.phases, title="Part of the game"))
    show_table(*words.plan_table(report.zones, title="Zone of the field"))
    offer_csv(words.csv_rows(report), name="plan")
    _light(content)
    _more(report)
    st.html(section_html("Closed to photographers", content.closed, listed=True))
    st.html(section_html("Cautions", report.cautions, listed=True))


def _more(report: PlanReport) -> None:
    parts = (
        ("Kicking plays", words.kick_lines(report.kicks)),
        ("Shot list", words.shot_lines(report)),
        ("Breaks", words.break_lines(report.breaks)),
        ("Walking", words.walking_lines(report)),
        ("What the plan does not know", report.gaps),
    )
    for title, lines in parts:
        if lines:
            st.html(section_html(title, lines, listed=True))


def _light(content: SheetContent) -> None:
    """Show the light by quarter and by hour, or say what is missing for it."""
    light = None if content.light is None else content.light.light
    if light is None:
        missing = content.light.note if content.light else "say day and time of the kickoff above"
        venue = content.request.plan.venue
        if not venue.has_place and not venue.covered:
            missing = "choose a venue with its place under Field, and say the kickoff"
        st.html(section_html("Light by quarter", (sentence(missing),)))
        return
    if warnings := light_warnings(light):
        st.html(section_html("Light to mind", warnings, listed=True))
    show_table(*words.light_table(light), caption="Light on the action, by where you stand")
    show_table(*words.exposure_table(light))
