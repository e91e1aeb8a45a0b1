"""The crew of the page "Crew": who carries what, one play or a game, and taps on its field."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import streamlit as st

from lensyard.domain.field import Direction, Zone
from lensyard.domain.situation import Situation
from lensyard.present.crew_picture import middle_of
from lensyard.service.crew_games import CrewGame, crew_game
from lensyard.service.crews import CrewAnswer, CrewRequest, crew_play, kits_for
from lensyard.service.kit_text import parse_kit
from lensyard.ui import session, work
from lensyard.ui.context import context
from lensyard.ui.controls import Controls, lines_of
from lensyard.ui.taps import after_tap

FIELD_KEY = "crew_field_tap"
ZONE_KEY = "ly_crew_zone"
SHOOTERS = (2, 3, 4, 5, 6)
HINT = "Tap the field to set the ball."


def request_of(controls: Controls) -> CrewRequest:
    """Return who works where.

    Raises
    ------
    InvalidInputError
        If a line is no kit, or there are neither one kit for all nor one each.
    """
    carried = [parse_kit(line) for line in lines_of(controls.carried)] or [controls.kit()]
    return CrewRequest(
        kits=kits_for(controls.shooters, carried),
        venue=controls.ground(),
        assignment=controls.task(),
        direction=Direction.TOWARD_B if controls.whole_game else controls.direction,
    )


def play_of(request: CrewRequest, situation: Situation) -> CrewAnswer:
    """Return the crew's spots for one play; the last ones asked for are kept."""
    return _play(f"{request!r} {situation!r}", request, situation)


@st.cache_resource(show_spinner=False, max_entries=32)
def _play(key: str, _request: CrewRequest, _situation: Situation) -> CrewAnswer:
    return crew_play(context(), _request, _situation)


def game_of(request: CrewRequest, progress: work.Progress) -> CrewGame:
    """Return the crew's plans for a game; it takes long the first time."""
    return crew_game(context(), request, progress=progress)


def take_tap() -> None:
    """Set the ball where the field was tapped; the callback of the crew's field."""
    tap = st.session_state[FIELD_KEY].get("tap")
    if isinstance(tap, Mapping) and tap.get("kind") == "ball":
        session.replace_controls(lambda controls: after_tap(controls, tap))


def take_zone() -> None:
    """Put the ball into the middle of a zone; the callback of the zones."""
    chosen = st.session_state[ZONE_KEY]
    if chosen is not None:
        session.replace_controls(lambda controls: in_zone(controls, Zone(chosen)))


def in_zone(controls: Controls, zone: Zone) -> Controls:
    """Return the controls with the ball in the middle of a zone.

    >>> in_zone(Controls(), Zone.RED_ZONE).yardline_100
    13
    """
    return replace(controls, hash_mark=None).with_ball(middle_of(zone))
