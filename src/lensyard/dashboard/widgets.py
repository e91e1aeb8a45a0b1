"""The widgets of the pages: each shows one of the controls, and reports a choice."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import streamlit as st

from lensyard.dashboard.address import ALL_GO
from lensyard.dashboard.controls import GOAL, USUAL, Controls, ball_text
from lensyard.dashboard.named import assignment_choices, venue_choices
from lensyard.dashboard.session import choose, key_of, move_ball, set_choices
from lensyard.domain.assignment import Faces
from lensyard.domain.field import RULES, HashMark
from lensyard.domain.places import standing_label
from lensyard.domain.situation import DISTANCES_YD
from lensyard.render.theme import THEMES

LONGEST_USUAL_YD = 20
# Generic focal lengths that photographers carry to games.
KITS: tuple[tuple[str, dict[str, Any]], ...] = (
    ("70-200 + 400", {"lenses": "70-200, 400", "converter": 1.0}),
    ("70-200", {"lenses": "70-200", "converter": 1.0}),
    ("24-70 + 70-200 + 400", {"lenses": "24-70, 70-200, 400", "converter": 1.0}),
    ("70-200 + 300 x1.4", {"lenses": "70-200, 300", "converter": 1.4}),
    ("100-400", {"lenses": "100-400", "converter": 1.0}),
    ("70-200 + 600", {"lenses": "70-200, 600", "converter": 1.0}),
)
TEAM_AREAS = (20, 25, 30, 35, 50)

_ORDINALS = ("1st", "2nd", "3rd", "4th")
_SPANS = tuple(DISTANCES_YD.items())
_HASH_WORDS = {HashMark.LEFT: "Left", HashMark.MIDDLE: "Mid", HashMark.RIGHT: "Right"}


def situation_widgets(controls: Controls) -> None:
    """Show down, hash mark, distance and ball."""
    with st.container(key="ly_row"):
        _segments("Down", "down", (1, 2, 3, 4), lambda down: _ORDINALS[down - 1])
        marks = (HashMark.LEFT, HashMark.MIDDLE, HashMark.RIGHT)
        _segments("Hash", "hash_mark", marks, lambda mark: _HASH_WORDS[mark], required=False)
    # Three rows of seven; a distance beyond them, from an address, takes the last place.
    far = controls.distance_yd > LONGEST_USUAL_YD and not controls.goal_to_go
    last = controls.distance_yd if far else LONGEST_USUAL_YD
    yards = (*range(1, LONGEST_USUAL_YD), last, GOAL)
    _segments("Distance", "distance_yd", yards, lambda yd: "Goal" if yd == GOAL else str(yd))
    with st.container(key="ly_ball"):
        st.button("−", key="ly_back", on_click=move_ball, args=(-1,), help="Ball one yard back")
        st.select_slider(
            "Ball on",
            options=range(99, 0, -1),
            format_func=_ball_words,
            key=key_of("yardline_100"),
            on_change=choose,
            args=("yardline_100",),
        )
        st.button("+", key="ly_ahead", on_click=move_ball, args=(1,), help="Ball one yard ahead")


def standing_widget(controls: Controls) -> None:
    """Show where one stands, and how to say it."""
    with st.container(key="ly_standing_row"):
        st.text_input(
            "You stand",
            key=key_of("standing"),
            placeholder="tap beside the field, or left:opp40",
            on_change=choose,
            args=("standing",),
        )
        if controls.standing:
            st.button("Clear", key="ly_no_standing", on_click=set_choices, args=({"standing": ""},))
    if controls.standing:
        st.caption(standing_label(controls.standing, controls.chosen_venue()))
        _segments(
            "Time to walk",
            "changed_hands",
            (False, True),
            lambda changed: "ball changed hands" if changed else "between two plays",
        )


def settings(controls: Controls, *, situation: bool = False) -> None:
    """Show what changes seldom, one button each; the clock only where a situation is asked for."""
    with st.popover("Kit", key="ly_kit", width="stretch"):
        kit_widgets(controls)
    with st.popover("Field", key="ly_ground", width="stretch"):
        venue_widgets(controls, ranking=situation)
    if situation:
        with st.popover("Game", key="ly_game", width="stretch"):
            clock_widgets()
    with st.popover("Screen", key="ly_screen", width="stretch"):
        theme_widget()


def kit_widgets(controls: Controls) -> None:
    """Show lenses, converter, crop factors and cameras."""
    with st.container(key="ly_kits"):
        for i, (name, choices) in enumerate(KITS):
            taken = all(getattr(controls, field) == value for field, value in choices.items())
            st.button(
                name,
                key=f"ly_kit_{i}",
                type="primary" if taken else "secondary",
                on_click=set_choices,
                args=(choices,),
            )
    _text("Lenses, mm", "lenses", "70-200, 400")
    converters = _with_current((1.0, 1.4, 2.0), controls.converter)
    _segments("Converter on the longest", "converter", converters, _converter_words)
    _text("Crop factor, one for all or one a lens", "crop_factors", "1, 1.5")
    bodies = _with_current((USUAL, 1, 2, 3), controls.bodies)
    _segments("Cameras", "bodies", bodies, lambda n: "one each" if n == USUAL else str(n))


def venue_widgets(controls: Controls, *, ranking: bool = False) -> None:
    """Show ground, assignment, whose faces, and what spots are ranked by."""
    _select("Assignment", "assignment", assignment_choices(), _assignment_words)
    _segments("Faces of the", "faces", tuple(Faces), str.capitalize)
    if ranking:
        ranks = {False: "usable plays", True: "value"}
        _segments("Rank spots by", "by_value", (False, True), lambda by: ranks[by])
    _select("Venue", "venue", venue_choices(), _venue_words)
    if controls.venue:
        ends = controls.chosen_venue().end_names
        _segments("Offense attacks", "attacking", ("A", "B"), lambda end: ends["AB".index(end)])
        return
    _segments("Field", "rules", tuple(RULES), lambda name: name.replace("-", " ").capitalize())
    areas = _with_current((USUAL, *TEAM_AREAS), controls.team_area)
    _segments("Team areas between the", "team_area", areas, _team_area_words)


def zone_widgets() -> None:
    """Show which plays are counted: down and distance."""
    downs = (USUAL, 1, 2, 3, 4)
    _segments("Down", "zone_down", downs, lambda n: "All" if n == USUAL else _ORDINALS[n - 1])
    spans = {name: f"{low}-{high}" if high < 99 else f"{low}+" for name, (low, high) in _SPANS}
    _segments(
        "Yards to go",
        "to_go",
        (ALL_GO, *spans),
        lambda name: "All" if name == ALL_GO else spans[name],
    )


def clock_widgets() -> None:
    """Show quarter, clock and score."""
    _segments("Quarter", "quarter", (1, 2, 3, 4, 5), lambda n: "OT" if n == 5 else str(n))
    _text("Left in the quarter", "clock", "15:00")
    st.number_input(
        "Score, offense less defense",
        min_value=-99,
        max_value=99,
        step=1,
        key=key_of("score_diff"),
        on_change=choose,
        args=("score_diff",),
    )


def kickoff_widget() -> None:
    """Show when the game begins, on the venue's clock."""
    _text("Kickoff, on the venue's clock", "kickoff", "2026-10-03 15:30")


def theme_widget() -> None:
    """Show the looks of the screen."""
    _segments("Screen", "theme", tuple(THEMES), str.capitalize)


def _segments(
    label: str,
    field: str,
    options: Sequence[Any],
    words: Callable[[Any], str],
    *,
    required: bool = True,
) -> None:
    st.segmented_control(
        label,
        options,
        format_func=words,
        required=required,
        key=key_of(field),
        on_change=choose,
        args=(field,),
        width="stretch",
        wrap=True,
    )


def _text(label: str, field: str, example: str) -> None:
    st.text_input(
        label,
        key=key_of(field),
        placeholder=example,
        max_chars=80,
        on_change=choose,
        args=(field,),
    )


def _select(label: str, field: str, options: Sequence[str], words: Callable[[str], str]) -> None:
    st.selectbox(
        label,
        options,
        format_func=words,
        key=key_of(field),
        on_change=choose,
        args=(field,),
        filter_mode=None,
    )


def _with_current(options: tuple[Any, ...], current: Any) -> tuple[Any, ...]:
    """The options, and what an address may have asked for beside them."""
    return options if current is None or current in options else tuple(sorted({*options, current}))


def _assignment_words(name: str) -> str:
    return name.replace("-", " ").capitalize() if name else "plain: every play counts"


def _venue_words(name: str) -> str:
    return name.replace("-", " ").title() if name else "any field"


def _ball_words(yardline_100: int) -> str:
    return ball_text(yardline_100).replace("own", "own ").replace("opp", "opponent's ")


def _converter_words(converter: float) -> str:
    return "none" if converter == 1.0 else f"x{converter:g}"


def _team_area_words(yard_line: int) -> str:
    if yard_line == USUAL:
        return "usual"
    return "none" if yard_line == 50 else f"{yard_line}s"
