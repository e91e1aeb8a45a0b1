"""The widgets of the pages: each shows one of the controls, and reports a choice.

`widget` makes the widget of any field of `Controls` from its choice in the option table; what is
here besides is how widgets stand together.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any

import streamlit as st

from lensyard.dashboard.controls import CHOICES, GOAL, USUAL, Controls
from lensyard.dashboard.guard import mounted
from lensyard.dashboard.session import (
    FIELD_KEY,
    choose,
    flip_possession,
    key_of,
    move_ball,
    set_choices,
    take_tap,
)
from lensyard.domain.field import (
    FIELD_LENGTH_YD,
    FIELD_WIDTH_YD,
    OPPONENT_GOAL_LINE_X_YD,
    HashMark,
    PlayPoint,
)
from lensyard.domain.places import named_stations, standing_label
from lensyard.domain.venue import standard_venue
from lensyard.options.choices import Number, OneOf, Switch, Texts, default_of
from lensyard.render.field.draw import description_of, field_svg
from lensyard.render.field.picture import FieldPicture
from lensyard.render.theme import Theme

LONGEST_USUAL_YD = 20
LONGEST_LINE, LONGEST_LINES = 80, 600
# Generic focal lengths that photographers carry to games.
KITS: tuple[tuple[str, dict[str, Any]], ...] = (
    ("70-200 + 400", {"lenses": "70-200, 400", "converter": 1.0}),
    ("70-200", {"lenses": "70-200", "converter": 1.0}),
    ("24-70 + 70-200 + 400", {"lenses": "24-70, 70-200, 400", "converter": 1.0}),
    ("70-200 + 300 x1.4", {"lenses": "70-200, 300", "converter": 1.4}),
    ("100-400", {"lenses": "100-400", "converter": 1.0}),
    ("70-200 + 600", {"lenses": "70-200, 600", "converter": 1.0}),
)


def widget(
    controls: Controls,
    field: str,
    *,
    options: Sequence[Any] | None = None,
    words: Callable[[Any], str] | None = None,
    required: bool = True,
) -> None:
    """Show the widget of a field.

    A switch, and values that are few, are buttons side by side; names that files decide are a
    list; text is typed, on several lines where it may have several; another number has a stepper.

    - ``controls``: as they are; a value that is not among those offered is offered beside them.
    - ``field``: a field of `Controls`.
    - ``options``, ``words``: in place of the values that the option table offers, and of its words
      for them.
    - ``required``: whether one of the buttons is always chosen.
    """
    what = CHOICES[field]
    shared: dict[str, Any] = {"key": key_of(field), "on_change": choose, "args": (field,)}
    if options is None:
        options = _offered(controls, field)
    if not options and isinstance(what.kind, Number):
        st.number_input(
            what.label,
            min_value=int(what.kind.low),
            max_value=int(what.kind.high),
            step=1,
            **shared,
        )
    elif not options and isinstance(what.kind, Texts) and what.kind.joint == "\n":
        st.text_area(what.label, placeholder=what.example, max_chars=LONGEST_LINES, **shared)
    elif not options:
        st.text_input(what.label, placeholder=what.example, max_chars=LONGEST_LINE, **shared)
    else:
        shared["format_func"] = lambda value: (words or what.words)(_said(field, value))
        if isinstance(what.kind, OneOf) and callable(what.kind.names):
            st.selectbox(what.label, options, filter_mode=None, **shared)
        else:
            st.segmented_control(
                what.label, options, required=required, width="stretch", wrap=True, **shared
            )


def _offered(controls: Controls, field: str) -> tuple[Any, ...]:
    """The values that a widget offers, and what an address may have asked for beside them."""
    kind = CHOICES[field].kind
    offered = tuple(USUAL if value is None else value for value in CHOICES[field].offered)
    if isinstance(kind, Switch):
        return (False, True)
    if not offered and isinstance(kind, OneOf):
        return tuple(kind.make(name) for name in kind.known)
    current = controls.shown(field)
    if not offered or current is None or current in offered:
        return offered
    return tuple(sorted({*offered, current}))


def _said(field: str, value: Any) -> Any:
    return None if value == USUAL and default_of(Controls, field) is None else value


def situation_widgets(controls: Controls) -> None:
    """Show down, hash mark, distance and ball."""
    with st.container(key="ly_row"):
        widget(controls, "down")
        widget(controls, "hash_mark", required=False)
    # Three rows of seven; a distance beyond them, from an address, takes the last place.
    far = controls.distance_yd > LONGEST_USUAL_YD and not controls.goal_to_go
    last = controls.distance_yd if far else LONGEST_USUAL_YD
    yards = (*range(1, LONGEST_USUAL_YD), last, GOAL)
    widget(
        controls, "distance_yd", options=yards, words=lambda yd: "Goal" if yd == GOAL else str(yd)
    )
    ball = CHOICES["yardline_100"]
    st.button(
        "Other team's ball",
        key="ly_flip",
        on_click=flip_possession,
        help="The ball has changed hands where it lies: first and ten the other way",
    )
    with st.container(key="ly_ball"):
        st.button("−", key="ly_back", on_click=move_ball, args=(-1,), help="Ball one yard back")
        st.select_slider(
            ball.label,
            options=ball.offered,
            format_func=ball.words,
            key=key_of("yardline_100"),
            on_change=choose,
            args=("yardline_100",),
        )
        st.button("+", key="ly_ahead", on_click=move_ball, args=(1,), help="Ball one yard ahead")


def standing_widget(controls: Controls) -> None:
    """Show where one stands, and how to say it."""
    with st.container(key="ly_standing_row"):
        widget(controls, "standing")
        if controls.standing:
            st.button("Clear", key="ly_no_standing", on_click=set_choices, args=({"standing": ""},))
    if controls.standing:
        venue = controls.venue()
        st.caption(standing_label(controls.standing, venue, controls.direction(venue)))
        widget(controls, "changed_hands")
        widget(controls, "tempo")


def settings(controls: Controls, *, situation: bool = False) -> None:
    """Show what changes seldom, one button each; the clock only where a situation is asked for."""
    _folded("Kit", "ly_kit", lambda: kit_widgets(controls))
    _folded("Field", "ly_ground", lambda: venue_widgets(controls, ranking=situation))
    if situation:
        _folded("Game", "ly_game", lambda: _game_widgets(controls))
    show_themes(controls)


def show_themes(controls: Controls) -> None:
    """Show the button under which the colors are chosen."""
    _folded("Screen", "ly_screen", lambda: widget(controls, "theme"))


def _folded(title: str, key: str, show: Callable[[], None]) -> None:
    """Show a button with a box under it; what is in a closed one is not made."""
    with st.popover(title, key=key, width="stretch", on_change="rerun") as box:
        if box.open:
            show()


def _game_widgets(controls: Controls) -> None:
    for field in ("quarter", "clock", "score_diff", "pace_yd_s"):
        widget(controls, field)


def kit_widgets(controls: Controls) -> None:
    """Show lenses, converter, crop factors, cameras and crop margin."""
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
    for field in ("lenses", "converter", "crop_factors", "bodies", "crop_margin", "keep_curve"):
        widget(controls, field)


def venue_widgets(controls: Controls, *, ranking: bool = False) -> None:
    """Show assignment, whose faces, what spots are ranked by, and the venue."""
    widget(controls, "assignment_name")
    widget(controls, "faces")
    if ranking:
        widget(controls, "by_value")
    widget(controls, "model_name")
    widget(controls, "venue_name")
    if controls.venue_name:
        ends = controls.venue().end_names
        widget(controls, "attacking", options=("A", "B"), words=lambda end: ends["AB".index(end)])
        return
    widget(controls, "rules")
    widget(controls, "team_area")


LYING_PX = 880.0
NARROW_PX = 390.0
PLAIN_ENDS = standard_venue("pro").end_names

# Ten pixels of a phone on either side: no finger aims better between two close hash marks.
LEAST_MIDDLE_LANE_YD = 2.0
TAP_SETS, TAP_LOGS, TAP_STANDS = "sets", "logs", "stands"
HINT = "Tap the field to set the ball, the strip around it to say where you stand."


def show_field(
    picture: FieldPicture,
    theme: Theme,
    *,
    key: str = FIELD_KEY,
    on_tap: Callable[[], None] = take_tap,
    hint: str = HINT,
    takes: str = TAP_SETS,
) -> None:
    """Show the field; a tap comes back through a callback.

    - ``picture``, ``theme``: what is drawn.
    - ``key``, ``on_tap``: of the component, and what a tap calls.
    - ``hint``: what a tap does, in words.
    - ``takes``: what a tap on the field means: `TAP_SETS` the ball before the snap, `TAP_LOGS` the
      ball after the play, which may lie in an end zone; with `TAP_STANDS` every tap is on the
      strip.
    """
    data = field_data(picture, theme) | {"hint": hint, "takes": takes}
    data["tappable"] = picture.tappable
    # In a list: values of a mapping are asked whether they are tables, which imports pandas.
    mounted("field")(key=key, data=[data], on_tap_change=on_tap)


def field_data(picture: FieldPicture, theme: Theme) -> dict[str, Any]:
    """Return what the component is given: both drawings, and what a tap can snap to."""
    # Any field of a rule set has the offense's own end and the opponent's, not A and B; a venue has
    # names for them.
    plain = picture.end_names == PLAIN_ENDS
    drawn = replace(
        picture,
        end_names=("", "") if plain else picture.end_names,
        sideline_names=("", "") if plain else picture.sideline_names,
    )
    rules = picture.rules
    ball = picture.ball
    return {
        "lying": field_svg(drawn, theme=theme, orientation="horizontal", width_px=LYING_PX),
        "narrow": field_svg(drawn, theme=theme, width_px=NARROW_PX, legend=False),
        "stations": [
            [s.x_yd, s.y_yd, s.label]
            for s in named_stations(side_setback_yd=picture.side_yd, end_setback_yd=picture.end_yd)
        ],
        "hash_y_yd": {mark.value: rules.ball_y_yd(mark) for mark in HashMark},
        "middle_lane_yd": max(rules.hash_off_center_yd / 2, LEAST_MIDDLE_LANE_YD),
        "field_yd": [FIELD_LENGTH_YD, FIELD_WIDTH_YD],
        "ball_yd": None if ball is None else [ball.x_yd, ball.y_yd],
        "said": description_of(picture),
        "colors": {
            "ink": theme.ink,
            "halo": theme.halo,
            "accent": theme.accent,
            "page": theme.page,
        },
    }


def bare_picture(controls: Controls) -> FieldPicture:
    """Return the field with the ball and the closed stretches, for when there is no answer."""
    venue = controls.venue()
    return FieldPicture.of(
        venue,
        controls.direction(venue),
        ball=PlayPoint(
            OPPONENT_GOAL_LINE_X_YD - controls.yardline_100,
            venue.rules.ball_y_yd(controls.hash_mark),
        ),
        title="The field; there is no answer for it yet",
        tappable=True,
    )
