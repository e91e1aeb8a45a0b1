"""The widgets of the page "Crew"."""

from __future__ import annotations

import streamlit as st

from lensyard.domain.field import Zone
from lensyard.ui import crew_state, session
from lensyard.ui.controls import Controls


def crew_widgets(controls: Controls) -> None:
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


def zone_widget(zone: Zone) -> None:
    """Show the zones of the field, with the one that the ball is in chosen."""
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
