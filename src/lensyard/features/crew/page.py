"""The page "Crew": where two to six photographers stand, for one play or over a game.

The crew of the page "Crew": who carries what, one play or a game, and taps on its field.

The widgets of the page "Crew".
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from functools import partial

import streamlit as st

from lensyard.dashboard import session, widgets, work
from lensyard.dashboard.context import context
from lensyard.dashboard.controls import Controls
from lensyard.dashboard.field import bare_picture, show_field
from lensyard.dashboard.figures import offer_csv, plain, show_figure, show_table
from lensyard.dashboard.session import after_tap
from lensyard.domain.field import Direction
from lensyard.domain.situation import Situation
from lensyard.domain.zones import Zone, zone_of
from lensyard.errors import LensyardError
from lensyard.features.crew import report as words
from lensyard.features.crew.game import CrewGame, crew_game
from lensyard.features.crew.one_play import CrewAnswer, CrewRequest, crew_play, kits_for
from lensyard.features.crew.report import play_picture, zone_picture, zone_said
from lensyard.render.field.draw import rest_svg
from lensyard.render.field.picture import FieldPicture
from lensyard.render.html import lead_of, section_html
from lensyard.render.theme import THEMES, Theme
from lensyard.render.words import sentence

FIELD_KEY = "crew_field_tap"
ZONE_KEY = "ly_crew_zone"
HINT = "Tap the field to set the ball."


def request_of(controls: Controls) -> CrewRequest:
    """Return who works where.

    Raises
    ------
    InvalidInputError
        If a line is no kit, or there are neither one kit for all nor one each.
    """
    venue = controls.venue()
    return CrewRequest(
        kits=kits_for(controls.crew_size(), controls.carried_kits(controls.kit())),
        venue=venue,
        assignment=controls.assignment(),
        direction=Direction.TOWARD_B if controls.whole_game else controls.direction(venue),
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
    return replace(controls, hash_mark=None).with_ball(zone.middle)


def crew_widgets(controls: Controls) -> None:
    """Show how many, for what, and who carries what."""
    widgets.widget(controls, "shooters")
    widgets.widget(controls, "whole_game")
    with st.expander("Who carries what", expanded=bool(controls.carried), key="ly_carried"):
        widgets.widget(controls, "carried")


def zone_widget(zone: Zone) -> None:
    """Show the zones of the field, with the one that the ball is in chosen."""
    st.session_state[ZONE_KEY] = zone.value
    st.segmented_control(
        "Ball in",
        [one.value for one in Zone],
        key=ZONE_KEY,
        required=True,
        on_change=take_zone,
        width="stretch",
        wrap=True,
    )


def page(controls: Controls) -> None:
    """Show the page."""
    theme = THEMES[controls.theme]
    if controls.whole_game:
        _game_page(controls, theme)
    else:
        _play_page(controls, theme)


def _play_page(controls: Controls, theme: Theme) -> None:
    with st.container(key="ly_page"):
        with st.container(key="ly_ask"):
            answer = _crew_play(controls)
            with st.container(key="ly_situation"):
                crew_widgets(controls)
                widgets.situation_widgets(controls)
        with st.container(key="ly_show"):
            with st.container(key="ly_settings"):
                widgets.settings(controls, situation=True)
            picture = bare_picture(controls) if answer is None else play_picture(
                answer, tappable=True
            )  # fmt: skip
            show_field(
                picture,
                theme,
                key=FIELD_KEY,
                on_tap=take_tap,
                hint=HINT,
            )
            if answer is not None:
                show_table(*words.play_table(answer))
                offer_csv(words.play_figures(answer), name="crew")
    if answer is not None:
        st.html(section_html("How good this is", words.play_notes(answer), listed=True))
        st.html(section_html("Cautions", answer.cautions, listed=True))


def _crew_play(controls: Controls) -> CrewAnswer | None:
    """Ask for the crew's spots and show them in words, or say why there are none."""
    if problems := session.problems():
        st.warning(plain("\n\n".join(problems)))
    try:
        request = request_of(controls)
        with st.spinner("Looking for the best spots together", show_time=True):
            answer = play_of(request, controls.situation())
    except LensyardError as error:
        st.error(plain(sentence(str(error))))
        return None
    st.html(lead_of(*words.play_lead(answer)))
    return answer


def _game_page(controls: Controls, theme: Theme) -> None:
    with st.container(key="ly_plain"):
        if problems := session.problems():
            st.warning(plain("\n\n".join(problems)))
        lead = st.container()
        with st.container(key="ly_settings"):
            widgets.settings(controls)
        crew_widgets(controls)
        try:
            request = request_of(controls)
            game = work.run_job(
                f"crew {request!r}",
                partial(game_of, request),
                title="plans for the crew, one after another",
            )
        except LensyardError as error:
            st.error(plain(sentence(str(error))))
            return
        if game is not None:
            with lead:
                st.html(lead_of(*words.game_lead(game)))
            _show_game(game, zone_of(controls.yardline_100), theme)


def _show_game(game: CrewGame, zone: Zone, theme: Theme) -> None:
    """Show who adds what, and where each rests in the zone chosen and in the others."""
    show_table(*words.shooters_table(game))
    zone_widget(zone)
    show_figure(
        partial(_rest, zone_picture(game, zone), theme),
        name="crew-game",
        said=zone_said(game, zone),
        table=words.game_figures(game),
    )
    show_table(*words.zone_table(game), caption="Where each rests, zone by zone")
    st.html(section_html("How to read this", words.game_notes(game), listed=True))
    st.html(section_html("Cautions", game.cautions, listed=True))


def _rest(picture: FieldPicture, theme: Theme, wide: bool) -> str:
    return rest_svg(picture, theme=theme, wide=wide)
