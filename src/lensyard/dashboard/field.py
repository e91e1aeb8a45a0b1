"""The field on the page: a component that takes taps and keys, or a still picture.

The component is one SVG from `lensyard.render.field.draw`, drawn for a wide screen and for a
phone's; the browser shows the one that fits. What it sends is described in
`lensyard.dashboard.session`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import streamlit as st

from lensyard.dashboard.controls import Controls
from lensyard.dashboard.guard import mounted
from lensyard.dashboard.session import FIELD_KEY, take_tap
from lensyard.domain.field import (
    FIELD_LENGTH_YD,
    FIELD_WIDTH_YD,
    OPPONENT_GOAL_LINE_X_YD,
    HashMark,
    PlayPoint,
)
from lensyard.domain.places import named_stations
from lensyard.domain.venue import standard_venue
from lensyard.render.field.draw import description_of, field_svg
from lensyard.render.field.picture import FieldPicture, closed_marks
from lensyard.render.theme import Theme

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
    mount = mounted("field")
    data = field_data(picture, theme) | {"hint": hint, "takes": takes}
    data["tappable"] = picture.tappable
    if mount is None:
        st.image(data["lying"], width="stretch", alt=data["said"])
        return
    mount(key=key, data=data, on_tap_change=on_tap)


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
    return FieldPicture(
        rules=venue.rules,
        ball=PlayPoint(
            OPPONENT_GOAL_LINE_X_YD - controls.yardline_100,
            venue.rules.ball_y_yd(controls.hash_mark),
        ),
        closed=closed_marks(venue, controls.direction(venue)),
        direction=controls.direction(venue),
        side_setback_yd=venue.side_setback_yd,
        end_setback_yd=venue.end_setback_yd,
        title="The field; there is no answer for it yet",
        tappable=True,
    )
