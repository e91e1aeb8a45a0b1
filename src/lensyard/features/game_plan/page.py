"""The page "Game plan": where to stand in each part of the game, the light, what to bring home."""

from __future__ import annotations

from datetime import datetime

import streamlit as st

from lensyard.dashboard import widgets
from lensyard.dashboard.controls import Controls
from lensyard.dashboard.shell import Shell
from lensyard.dashboard.work import Progress
from lensyard.features.game_plan.compute import after_ticks, first_look, game_plan, ticked_keys
from lensyard.features.game_plan.report import first_look_text, plan_report
from lensyard.features.game_plan.result import GamePlan
from lensyard.planner.plans import PlanRequest
from lensyard.planner.season_data import stored_season
from lensyard.records import Record
from lensyard.sun.game_light import KickoffLight, light_at_kickoff


class PlanPage(Record):
    """What is asked for: the plan, the kickoff where it is known, and the frames one has."""

    plan: PlanRequest
    kickoff: datetime | None
    have: tuple[str, ...]


def page(shell: Shell) -> None:
    """Show the page."""
    with st.container(key="ly_settings"):
        widgets.settings(shell.controls)
    with st.container(key="ly_kickoff"):
        widgets.widget(shell.controls, "kickoff")
    asked = _asked(shell.controls, shell.ticked)

    def make(progress: Progress) -> tuple[GamePlan, KickoffLight | None]:
        context = shell.controls.answering()
        ticked = after_ticks(asked.plan, ticked_keys(asked.plan, asked.have))
        progress(first_look_text(first_look(context, ticked)))
        plays = stored_season(context)
        plan = game_plan(
            context, asked.plan, plays, have=asked.have, kickoff=asked.kickoff, progress=progress
        )
        if asked.kickoff is None:
            return plan, None
        return plan, light_at_kickoff(asked.plan.venue, asked.plan.kit, asked.kickoff)

    made = shell.run(asked, make, title="the plan for this kit and venue")
    if made is None:
        return
    plan, light = made
    shell.show(plan_report(plan, light=light))
    if light is None or light.light is None:
        venue = asked.plan.venue
        known = venue.has_place or venue.covered
        st.caption(
            "For the light by quarter, say day and time of the kickoff above"
            f"{'' if known else ', and choose a venue with its place under Field'}."
        )


def _asked(controls: Controls, ticked: tuple[str, ...]) -> PlanPage:
    kickoff = datetime.fromisoformat(controls.kickoff) if controls.kickoff else None
    return PlanPage(controls.plan_request(), kickoff, ticked)
