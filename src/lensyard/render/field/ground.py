"""The ground of the field picture: what would be there without a game.

Surroundings, the strip where photographers walk, the field with its lines, numbers, hash marks,
goals and pylons, and the closed stretches.
"""

from __future__ import annotations

from lensyard.domain.field import (
    CENTER_Y_YD,
    END_ZONE_DEPTH_YD,
    FIELD_LENGTH_YD,
    FIELD_WIDTH_YD,
    OPPONENT_GOAL_LINE_X_YD,
    OWN_GOAL_LINE_X_YD,
    Direction,
)
from lensyard.render.field.frame import Frame
from lensyard.render.field.picture import ClosedMark, FieldPicture
from lensyard.render.svg import (
    Point,
    element,
    group,
    number,
    polyline,
    shortened,
    text,
    text_width_px,
)
from lensyard.render.theme import Theme
from lensyard.units import yards_from_feet

# Middle of the yard-line numbers: common marking practice, 9 yd to the top of 6 ft numerals.
_NUMBER_FROM_SIDELINE_YD = 9.0 - yards_from_feet(3)
_HASH_LENGTH_YD = yards_from_feet(2)
_STRIP_BEYOND_YD = 1.5


def surroundings(picture: FieldPicture, theme: Theme, frame: Frame) -> str:
    """Return the ground outside the field and the strip with its dotted way."""
    width, height = frame.surround_px
    strip = _around(picture, frame, _STRIP_BEYOND_YD, rx=frame.px_per_yd * 1.5, fill=theme.strip)
    way = _around(
        picture,
        frame,
        0.0,
        fill="none",
        stroke=theme.hatch,
        stroke_width=max(frame.px_per_yd * 0.2, 1.3),
        stroke_linecap="round",
        stroke_dasharray=f"0 {number(2 * frame.px_per_yd)}",
    )
    return element("rect", width=width, height=height, fill=theme.surround) + strip + way


def _around(
    picture: FieldPicture, frame: Frame, beyond_yd: float, **values: str | float | None
) -> str:
    side, end = picture.side_yd + beyond_yd, picture.end_yd + beyond_yd
    left, top, width, height = frame.box(
        x_min_yd=-end,
        x_max_yd=FIELD_LENGTH_YD + end,
        y_min_yd=-side,
        y_max_yd=FIELD_WIDTH_YD + side,
    )
    return element("rect", x=left, y=top, width=width, height=height, **values)


def turf(theme: Theme, frame: Frame) -> str:
    """Return the field's surface and its end zones."""
    parts = [_patch(frame, 0.0, FIELD_LENGTH_YD, theme.end_zone)]
    parts.append(_patch(frame, OWN_GOAL_LINE_X_YD, OPPONENT_GOAL_LINE_X_YD, theme.field))
    return "".join(parts)


def _patch(frame: Frame, x_min_yd: float, x_max_yd: float, fill: str) -> str:
    left, top, width, height = frame.box(
        x_min_yd=x_min_yd, x_max_yd=x_max_yd, y_min_yd=0.0, y_max_yd=FIELD_WIDTH_YD
    )
    return element("rect", x=left, y=top, width=width, height=height, fill=fill)


def lines(picture: FieldPicture, theme: Theme, frame: Frame) -> str:
    """Return all that is painted on the field, each line with a halo under it."""
    tens = [_across(frame, x) for x in range(20, 101, 10)]
    fives = [_across(frame, x) for x in range(15, 106, 10)]
    goals = [_across(frame, x) for x in (OWN_GOAL_LINE_X_YD, OPPONENT_GOAL_LINE_X_YD)]
    border = polyline(
        [
            frame.at(0, 0),
            frame.at(FIELD_LENGTH_YD, 0),
            frame.at(FIELD_LENGTH_YD, FIELD_WIDTH_YD),
            frame.at(0, FIELD_WIDTH_YD),
        ],
        closed=True,
    )
    thin = max(0.09 * frame.px_per_yd, 0.7)
    layers = (
        ("".join(fives), thin * 0.9),
        ("".join(tens), thin * 1.5),
        ("".join(goals), thin * 2.4),
        (border, thin * 2.4),
    )
    halo = [element("path", d=data, stroke_width=width + 2.2) for data, width in layers[:3]]
    drawn = [element("path", d=data, stroke_width=width) for data, width in layers]
    halo.append(_hash_marks(picture, frame, thick_px=thin + 2.2))
    drawn.append(_hash_marks(picture, frame, thick_px=thin))
    return group(halo, fill="none", stroke=theme.halo, opacity="0.75") + group(
        drawn, fill="none", stroke=theme.line
    )


def _across(frame: Frame, x_yd: float) -> str:
    return polyline([frame.at(x_yd, 0.0), frame.at(x_yd, FIELD_WIDTH_YD)])


def _hash_marks(picture: FieldPicture, frame: Frame, *, thick_px: float) -> str:
    """Ticks of two feet every yard at both hash lines and inside both sidelines.

    Each row is one line as wide as the ticks are long, dashed once a yard.
    """
    inner = picture.rules.hash_from_sideline_yd - _HASH_LENGTH_YD / 2
    edge = 0.2 + _HASH_LENGTH_YD / 2
    rows = (inner, FIELD_WIDTH_YD - inner, edge, FIELD_WIDTH_YD - edge)
    data = "".join(
        polyline([frame.at(OWN_GOAL_LINE_X_YD, y), frame.at(OPPONENT_GOAL_LINE_X_YD, y)])
        for y in rows
    )
    return element(
        "path",
        d=data,
        stroke_width=_HASH_LENGTH_YD * frame.px_per_yd,
        stroke_dasharray=f"{thick_px:.4f} {frame.px_per_yd - thick_px:.4f}",
        stroke_dashoffset=f"{thick_px / 2:.4f}",
    )


def number_font_px(frame: Frame) -> float:
    """Return the size of the yard-line numbers. [px]"""
    return max(2.0 * frame.px_per_yd, 10.0)


def number_places(frame: Frame) -> list[tuple[int, Point]]:
    """Return the yard-line numbers with the pixels of their middles."""
    rows = (_NUMBER_FROM_SIDELINE_YD, FIELD_WIDTH_YD - _NUMBER_FROM_SIDELINE_YD)
    return [(min(x - 10, 110 - x), frame.at(x, y)) for x in range(20, 101, 10) for y in rows]


def numbers(theme: Theme, frame: Frame) -> str:
    """Return the yard-line numbers, upright for whoever looks at the picture."""
    font = number_font_px(frame)
    parts = [text(str(yard), at) for yard, at in number_places(frame)]
    return group(
        parts,
        font_size=font,
        fill=theme.line,
        stroke=theme.halo,
        stroke_width=3.0,
        paint_order="stroke",
        text_anchor="middle",
        dominant_baseline="central",
        letter_spacing="0.08em",
        font_weight="600",
    )


def goals_and_pylons(picture: FieldPicture, theme: Theme, frame: Frame) -> str:
    """Return goals at both end lines and the eight pylons."""
    half = picture.rules.goal_width_yd / 2
    support: list[str] = []
    crossbars: list[str] = []
    for line_x, outward in ((0.0, -1.0), (FIELD_LENGTH_YD, 1.0)):
        crossbars.append(
            polyline([frame.at(line_x, CENTER_Y_YD - half), frame.at(line_x, CENTER_Y_YD + half)])
        )
        for post in picture.rules.posts:
            foot_x = line_x + outward * post.behind_end_line_yd
            foot_y = CENTER_Y_YD + post.off_center_yd
            at = frame.at(foot_x, foot_y)
            radius = max(post.radius_yd * frame.px_per_yd, 2.2)
            support.append(element("circle", cx=at[0], cy=at[1], r=radius, fill=theme.ink))
            if post.behind_end_line_yd > 0:
                crossbars.append(polyline([at, frame.at(line_x, foot_y)]))
    width = max(0.35 * frame.px_per_yd, 2.0)
    bars = element(
        "path", d="".join(crossbars), stroke=theme.ink, stroke_width=width, stroke_linecap="round"
    )
    return bars + "".join(support) + _pylons(theme, frame)


def _pylons(theme: Theme, frame: Frame) -> str:
    size = max(0.6 * frame.px_per_yd, 3.5)
    parts = []
    for x in (0.0, OWN_GOAL_LINE_X_YD, OPPONENT_GOAL_LINE_X_YD, FIELD_LENGTH_YD):
        for y in (0.0, FIELD_WIDTH_YD):
            px, py = frame.at(x, y)
            parts.append(element("rect", x=px - size / 2, y=py - size / 2, width=size, height=size))
    return group(parts, fill=theme.ink, stroke=theme.halo, stroke_width=0.8)


def hatch_pattern(theme: Theme, identifier: str) -> str:
    """Return the definition of the hatching of closed stretches."""
    line = element(
        "path", d="M-1 1l2-2M0 7l7-7M6 8l2-2", stroke=theme.hatch, stroke_width=0.9, fill="none"
    )
    return element(
        "pattern",
        element("rect", width=7, height=7, fill=theme.closed) + line,
        id=identifier,
        width=7,
        height=7,
        patternUnits="userSpaceOnUse",
    )


def closed_stretches(picture: FieldPicture, theme: Theme, frame: Frame, pattern: str) -> str:
    """Return the closed stretches, hatched and labeled."""
    return "".join(_closed(mark, theme, frame, pattern) for mark in picture.closed)


def _closed(mark: ClosedMark, theme: Theme, frame: Frame, pattern: str) -> str:
    left, top, width, height = frame.box(
        x_min_yd=mark.x_min_yd,
        x_max_yd=mark.x_max_yd,
        y_min_yd=mark.y_min_yd,
        y_max_yd=mark.y_max_yd,
    )
    rect = element(
        "rect",
        x=left,
        y=top,
        width=width,
        height=height,
        rx=2,
        fill=f"url(#{pattern})",
        stroke=theme.hatch,
        stroke_width=1,
    )
    upright = height > width
    label = shortened(mark.label, font_px=frame.font_px, room_px=max(width, height) - 8)
    if not label:
        return rect
    middle = (left + width / 2, top + height / 2)
    half_w = text_width_px(label, frame.font_px) / 2 + 6
    half_h = frame.font_px * 0.8
    plate = element(
        "rect",
        x=middle[0] - half_w,
        y=middle[1] - half_h,
        width=2 * half_w,
        height=2 * half_h,
        rx=half_h,
        fill=theme.closed,
    )
    words = text(
        label,
        middle,
        fill=theme.ink,
        font_size=frame.font_px,
        text_anchor="middle",
        dominant_baseline="central",
    )
    turn = f"rotate(-90 {number(middle[0])} {number(middle[1])})" if upright else None
    return rect + element("g", plate + words, transform=turn)


def end_names(picture: FieldPicture, theme: Theme, frame: Frame) -> str:
    """Return the names of both ends, written along the end zones."""
    forward = picture.direction == Direction.TOWARD_B
    ahead, behind = picture.end_names[::-1] if forward else picture.end_names
    named = (
        (behind or "offense's own end", END_ZONE_DEPTH_YD / 2),
        (ahead or "opponent's end", FIELD_LENGTH_YD - END_ZONE_DEPTH_YD / 2),
    )
    font = frame.font_px * 1.05
    room = FIELD_WIDTH_YD * frame.px_per_yd / 1.3
    parts = []
    for name, x in named:
        at = frame.at(x, CENTER_Y_YD)
        turn = None if frame.is_vertical else f"rotate(-90 {number(at[0])} {number(at[1])})"
        label = shortened(name, font_px=font, room_px=room)
        parts.append(text(label, at, transform=turn))
    return group(
        parts,
        fill=theme.ink_soft,
        stroke=theme.halo,
        stroke_width=3.0,
        paint_order="stroke",
        font_size=font,
        letter_spacing="0.14em",
        text_anchor="middle",
        dominant_baseline="central",
    )
