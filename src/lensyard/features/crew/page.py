"""The page "Crew": where two to six photographers stand, for one play or over a game."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

import streamlit as st

from lensyard.dashboard import session, widgets
from lensyard.dashboard.controls import Controls
from lensyard.dashboard.shell import Shell, offer, plain, show_body, show_lead
from lensyard.dashboard.widgets import bare_picture, show_field
from lensyard.domain.field import Direction
from lensyard.domain.situation import Situation, Zone, zone_of
from lensyard.features.crew.compute import (
    CrewAnswer,
    CrewGame,
    CrewRequest,
    crew_game,
    crew_play,
    kits_for,
)
from lensyard.features.crew.report import (
    crew_game_report,
    crew_report,
    member_report,
    play_picture,
)
from lensyard.model.context import Context
from lensyard.render.paper_chart import report_pdf

FIELD_KEY = "crew_field_tap"
ZONE_KEY = "ly_crew_zone"
HINT = "Tap the field to set the ball."
_take_ball = partial(session.take_tap, FIELD_KEY, kinds=("ball",))


def page(shell: Shell) -> None:
    """Show the page."""
    if shell.controls.whole_game:
        _game(shell)
    else:
        _play(shell)


def request_of(controls: Controls) -> CrewRequest:
    """Return who works where.

    Raises `InvalidInputError` if a line is no kit, or there are neither one kit for all nor one
    each.
    """
    venue = controls.venue()
    return CrewRequest(
        kits=kits_for(controls.crew_size(), controls.carried_kits(controls.kit())),
        venue=venue,
        assignment=controls.assignment(),
        direction=Direction.TOWARD_B if controls.whole_game else controls.direction(venue),
        named=controls.members(),
    )


def in_zone(controls: Controls, zone: Zone) -> Controls:
    """Return the controls with the ball in the middle of a zone.

    >>> in_zone(Controls(), Zone.RED_ZONE).yardline_100
    13
    """
    return replace(controls, hash_mark=None).with_ball(zone.middle)


def _play(shell: Shell) -> None:
    controls = shell.controls
    with st.container(key="ly_ask"):
        answer = shell.attempt(lambda: _answer(shell, request_of(controls)))
        report = None if answer is None else crew_report(answer)
        if report is not None:
            with st.container(key="ly_lead"):
                show_lead(report)
        with st.container(key="ly_situation"):
            _crew_widgets(controls)
            widgets.situation_widgets(controls)
    with st.container(key="ly_show"):
        with st.container(key="ly_settings"):
            widgets.settings(controls, situation=True)
        picture = bare_picture(controls) if answer is None else play_picture(answer)
        with st.container(key="ly_field"):
            show_field(picture, shell.theme, key=FIELD_KEY, on_tap=_take_ball, hint=HINT)
        if report is not None:
            with st.container(key="ly_body"):
                show_body(report, theme=shell.theme, key=shell.name)


def _answer(shell: Shell, request: CrewRequest) -> CrewAnswer:
    situation, context = shell.controls.situation(), shell.controls.answering()
    with st.spinner("Looking for the best spots together", show_time=True):
        return _cached(f"{shell.model_key} {request!r} {situation!r}", context, request, situation)


@st.cache_resource(show_spinner=False, max_entries=32)
def _cached(
    key: str, _context: Context, _request: CrewRequest, _situation: Situation
) -> CrewAnswer:
    return crew_play(_context, _request, _situation)


def _game(shell: Shell) -> None:
    controls = shell.controls
    zone = zone_of(controls.yardline_100)
    with st.container(key="ly_ask"):
        answer = st.container(key="ly_lead")
        with st.container(key="ly_situation"):
            _crew_widgets(controls)
            _zone_widget(zone)
    with st.container(key="ly_show"):
        with st.container(key="ly_settings"):
            widgets.settings(controls)
        with answer:
            game = shell.attempt(lambda: _planned(shell))
            report = None if game is None else crew_game_report(game, zone=zone)
            if report is not None:
                show_lead(report)
        if report is not None and game is not None:
            with st.container(key="ly_body"):
                _sheets(game)
                show_body(report, theme=shell.theme, key=shell.name)


def _sheets(game: CrewGame) -> None:
    """Offer everybody's sheet; their cards are made by the command."""
    with st.container(key="ly_take"):
        for i, member in enumerate(game.members, start=1):
            made = partial(report_pdf, member_report(game, i))
            name = plain(member.name)
            offer(f"Sheet for {name}", f"crew-{i}-sheet.pdf", made, key=f"ly_crew_sheet_{i}")


def _planned(shell: Shell) -> CrewGame | None:
    request = request_of(shell.controls)
    return shell.run(
        request,
        lambda progress: crew_game(shell.controls.answering(), request, progress=progress),
        title="plans for the crew, one after another",
    )


def _crew_widgets(controls: Controls) -> None:
    widgets.widget(controls, "shooters")
    widgets.widget(controls, "whole_game")
    said = bool(controls.carried or controls.who)
    with st.expander("Who, and who carries what", expanded=said, key="ly_carried"):
        widgets.widget(controls, "who")
        widgets.widget(controls, "carried")


def _zone_widget(zone: Zone) -> None:
    """Show the zones of the field, with the one that the ball is in chosen."""
    st.session_state[ZONE_KEY] = zone.value
    st.segmented_control(
        "Ball in",
        [one.value for one in Zone],
        key=ZONE_KEY,
        required=True,
        on_change=_take_zone,
        width="stretch",
        wrap=True,
    )


def _take_zone() -> None:
    chosen = st.session_state[ZONE_KEY]
    if chosen is not None:
        session.replace_controls(lambda controls: in_zone(controls, Zone(chosen)))
