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


def _ask(controls: Controls) -> None:
    """Show how many, for what, and who carries what."""
    _segments("Photographers", "shooters", crew_state.SHOOTERS, {})
    _segments("Plan for", "whole_game", (False, True), {False: "one play", True: "a whole game"})
    with st.expander("Who carries what", expanded=bool(controls.carried), key="ly_carried"):
        st.text_area(
            "One kit a line: one for all, or one each",
            key=session.key_of("carried"),
            placeholder="empty: your own kit for all\n70-200 + 400\n24-70 + 70-200",
            max_chars=600,
            on_change=session.choose,
            args=("carried",),
        )


def _segments(
    label: str, field: str, options: tuple[object, ...], names: dict[object, str]
) -> None:
    st.segmented_control(
        label,
        options,
        format_func=lambda value: names.get(value, str(value)),
        required=True,
        key=session.key_of(field),
        on_change=session.choose,
        args=(field,),
        width="stretch",
    )


def _play_page(controls: Controls, look: Look) -> None:
    with st.container(key="ly_page"):
        with st.container(key="ly_ask"):
            answer = _play(controls)
            with st.container(key="ly_situation"):
                _ask(controls)
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
        _ask(controls)
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
    st.session_state[crew_state.ZONE_KEY] = zone.value
    st.segmented_control(
        "Ball in",
        [one.value for one in Zone],
        key=crew_state.ZONE_KEY,
        required=True,
        on_change=crew_state.take_zone,
        width="stretch",
        wrap=True,
    )
    show_figure(
        partial(_rest, zone_picture(game, zone), look),
        name="crew-game",
        said=zone_said(game, zone),
        table=words.game_figures(game),
    )
    for one in (zone, *(other for other in Zone if other is not zone)):
        show_table(*words.zone_rows(game, one))
    st.html(section_html("How to read this", words.game_notes(game), listed=True))
    st.html(section_html("Cautions", game.cautions, listed=True))


def _rest(picture: FieldPicture, look: Look, wide: bool) -> str:
    return rest_svg(picture, look=look, wide=wide)
