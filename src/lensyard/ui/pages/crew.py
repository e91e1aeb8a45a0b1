"""The page "Crew": where two to six photographers stand, for one play or over a game."""

from __future__ import annotations

from functools import partial

import streamlit as st

from lensyard.domain.field import Zone, zone_of
from lensyard.errors import LensyardError
from lensyard.present import crew_page as words
from lensyard.present.crew_picture import play_picture, zone_picture, zone_said
from lensyard.service.crew_games import CrewGame
from lensyard.service.crews import CrewAnswer
from lensyard.ui import crew_state, session, widgets, work
from lensyard.ui.controls import Controls
from lensyard.ui.crew_widgets import crew_widgets, zone_widget
from lensyard.ui.field import bare_picture, show_field
from lensyard.ui.figures import offer_csv, show_figure, show_table
from lensyard.ui.style import plain
from lensyard.views.crew_zone import rest_svg
from lensyard.views.page_parts import lead_of, section_html
from lensyard.views.palette import LOOKS, Look
from lensyard.views.picture import FieldPicture
from lensyard.views.words import sentence


def page(controls: Controls) -> None:
    """Show the page."""
    look = LOOKS[controls.look]
    if controls.whole_game:
        _game_page(controls, look)
    else:
        _play_page(controls, look)


def _play_page(controls: Controls, look: Look) -> None:
    with st.container(key="ly_page"):
        with st.container(key="ly_ask"):
            answer = _play(controls)
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
                look,
                key=crew_state.FIELD_KEY,
                on_tap=crew_state.take_tap,
                hint=crew_state.HINT,
            )
            if answer is not None:
                show_table(*words.play_table(answer))
                offer_csv(words.play_figures(answer), name="crew")
    if answer is not None:
        st.html(section_html("How good this is", words.play_notes(answer), listed=True))
        st.html(section_html("Cautions", answer.cautions, listed=True))


def _play(controls: Controls) -> CrewAnswer | None:
    """Ask for the crew's spots and show them in words, or say why there are none."""
    if problems := session.problems():
        st.warning(plain("\n\n".join(problems)))
    try:
        request = crew_state.request_of(controls)
        with st.spinner("Looking for the best spots together", show_time=True):
            answer = crew_state.play_of(request, controls.situation())
    except LensyardError as error:
        st.error(plain(sentence(str(error))))
        return None
    st.html(lead_of(*words.play_lead(answer)))
    return answer


def _game_page(controls: Controls, look: Look) -> None:
    with st.container(key="ly_plain"):
        if problems := session.problems():
            st.warning(plain("\n\n".join(problems)))
        lead = st.container()
        with st.container(key="ly_settings"):
            widgets.settings(controls)
        crew_widgets(controls)
        try:
            request = crew_state.request_of(controls)
            game = work.asked(
                f"crew {request!r}",
                partial(crew_state.game_of, request),
                title="plans for the crew, one after another",
            )
        except LensyardError as error:
            st.error(plain(sentence(str(error))))
            return
        if game is not None:
            with lead:
                st.html(lead_of(*words.game_lead(game)))
            _show_game(game, zone_of(controls.yardline_100), look)


def _show_game(game: CrewGame, zone: Zone, look: Look) -> None:
    """Show who adds what, and where each rests in the zone chosen and in the others."""
    show_table(*words.shooters_table(game))
    zone_widget(zone)
    show_figure(
        partial(_rest, zone_picture(game, zone), look),
        name="crew-game",
        said=zone_said(game, zone),
        table=words.game_figures(game),
    )
    show_table(*words.zone_table(game), caption="Where each rests, zone by zone")
    st.html(section_html("How to read this", words.game_notes(game), listed=True))
    st.html(section_html("Cautions", game.cautions, listed=True))


def _rest(picture: FieldPicture, look: Look, wide: bool) -> str:
    return rest_svg(picture, look=look, wide=wide)
