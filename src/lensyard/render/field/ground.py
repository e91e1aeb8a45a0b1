"""The ground of the field picture: what would be there without a game.

Surroundings, the strip where photographers walk, the field with its lines, numbers, hash marks,
goals and pylons, the names of ends and sidelines, and the closed stretches.
"""

from __future__ import annotations

from collections.abc import Sequence

from lensyard.domain.field import (
    CENTER_Y_YD,
    END_ZONE_DEPTH_YD,
    FIELD_LENGTH_YD,
    FIELD_WIDTH_YD,
    OPPONENT_GOAL_LINE_X_YD,
    OWN_GOAL_LINE_X_YD,
    Direction,
)
from lensyard.render.field.canvas import CENTERED, Canvas, quarter_turn, text_box
from lensyard.render.field.picture import ClosedMark, FieldPicture
from lensyard.render.html import (
    Attributes,
    Point,
    element,
    group,
    number,
    shortened,
    text,
    text_width_px,
)
from lensyard.render.theme import Theme
from lensyard.units import yards_from_feet

YARD_LINES_X_YD = tuple(range(15, 106, 5))
NUMBERED_LINES_X_YD = tuple(range(20, 101, 10))
GOALS_X_YD = (OWN_GOAL_LINE_X_YD, OPPONENT_GOAL_LINE_X_YD)
# Middle of the yard-line numbers: common marking practice, 9 yd to the top of 6 ft numerals.
NUMBER_FROM_SIDELINE_YD = 9.0 - yards_from_feet(3)
_HASH_LENGTH_YD = yards_from_feet(2)
_STRIP_BEYOND_YD = 1.5


def yard_line_number(x_yd: float) -> str:
    """Return the number painted at a yard line.

    >>> yard_line_number(75), yard_line_number(60)
    ('35', '50')
    """
    return str(round(min(x_yd - OWN_GOAL_LINE_X_YD, OPPONENT_GOAL_LINE_X_YD - x_yd)))


def surroundings(picture: FieldPicture, canvas: Canvas) -> str:
    """Return the ground outside the field and the strip with its dotted way."""
    theme, px = canvas.theme, canvas.scale.px_per_yd
    width, height = canvas.scale.size_px
    strip = element(
        "rect", **_around(picture, canvas, _STRIP_BEYOND_YD), rx=px * 1.5, fill=theme.strip
    )
    way = element(
        "rect",
        **_around(picture, canvas, 0.0),
        fill="none",
        stroke=theme.hatch,
        stroke_width=max(px * 0.2, 1.3),
        stroke_linecap="round",
        stroke_dasharray=f"0 {number(2 * px)}",
    )
    return element("rect", width=width, height=height, fill=theme.surround) + strip + way


def _around(picture: FieldPicture, canvas: Canvas, beyond_yd: float) -> dict[str, float]:
    side, end = picture.side_yd + beyond_yd, picture.end_yd + beyond_yd
    return canvas.scale.box(
        x_min_yd=-end,
        x_max_yd=FIELD_LENGTH_YD + end,
        y_min_yd=-side,
        y_max_yd=FIELD_WIDTH_YD + side,
    )


def turf(canvas: Canvas) -> str:
    """Return the field's surface and its end zones."""
    theme, scale = canvas.theme, canvas.scale
    between = scale.box(x_min_yd=OWN_GOAL_LINE_X_YD, x_max_yd=OPPONENT_GOAL_LINE_X_YD)
    return element("rect", **scale.box(), fill=theme.end_zone) + element(
        "rect", **between, fill=theme.field
    )


def lines(picture: FieldPicture, canvas: Canvas) -> str:
    """Return all that is painted on the field, each line with a halo under it."""
    scale, theme = canvas.scale, canvas.theme

    def across(places_x_yd: tuple[float, ...]) -> str:
        return "".join(scale.line((x, 0.0), (x, FIELD_WIDTH_YD)) for x in places_x_yd)

    far = FIELD_LENGTH_YD
    border = scale.line((0, 0), (far, 0), (far, FIELD_WIDTH_YD), (0, FIELD_WIDTH_YD), closed=True)
    thin = max(0.09 * scale.px_per_yd, 0.7)
    layers = (
        (across(YARD_LINES_X_YD[::2]), thin * 0.9),
        (across(NUMBERED_LINES_X_YD), thin * 1.5),
        (across(GOALS_X_YD), thin * 2.4),
        (border, thin * 2.4),
    )
    halo = [element("path", d=data, stroke_width=width + 2.2) for data, width in layers[:3]]
    drawn = [element("path", d=data, stroke_width=width) for data, width in layers]
    halo.append(_hash_marks(picture, canvas, thick_px=thin + 2.2))
    drawn.append(_hash_marks(picture, canvas, thick_px=thin))
    return group(halo, fill="none", stroke=theme.halo, opacity="0.75") + group(
        drawn, fill="none", stroke=theme.line
    )


def _hash_marks(picture: FieldPicture, canvas: Canvas, *, thick_px: float) -> str:
    """Ticks of two feet every yard at both hash lines and inside both sidelines.

    Each row is one line as wide as the ticks are long, dashed once a yard.
    """
    px = canvas.scale.px_per_yd
    inner = picture.rules.hash_from_sideline_yd - _HASH_LENGTH_YD / 2
    edge = 0.2 + _HASH_LENGTH_YD / 2
    rows = (inner, FIELD_WIDTH_YD - inner, edge, FIELD_WIDTH_YD - edge)
    return element(
        "path",
        d="".join(canvas.scale.line((GOALS_X_YD[0], y), (GOALS_X_YD[1], y)) for y in rows),
        stroke_width=_HASH_LENGTH_YD * px,
        stroke_dasharray=f"{thick_px:.4f} {px - thick_px:.4f}",
        stroke_dashoffset=f"{thick_px / 2:.4f}",
    )


def numbers(canvas: Canvas) -> str:
    """Return the yard-line numbers, upright to the reader; no label covers one."""
    font = max(2.0 * canvas.scale.px_per_yd, 13.0)
    parts = []
    for x in NUMBERED_LINES_X_YD:
        for y in (NUMBER_FROM_SIDELINE_YD, FIELD_WIDTH_YD - NUMBER_FROM_SIDELINE_YD):
            at = canvas.scale.at(x, y)
            parts.append(text(yard_line_number(x), at))
            canvas.taken.append(text_box(yard_line_number(x), at, font))
    return group(
        parts,
        font_size=font,
        fill=canvas.theme.line,
        stroke=canvas.theme.halo,
        stroke_width=3.0,
        paint_order="stroke",
        **CENTERED,
        letter_spacing="0.08em",
        font_weight="600",
    )


def goals_and_pylons(picture: FieldPicture, canvas: Canvas) -> str:
    """Return goals at both end lines and the eight pylons."""
    scale, theme, rules = canvas.scale, canvas.theme, picture.rules
    half = rules.goal_width_yd / 2
    supports: list[str] = []
    bars: list[str] = []
    for line_x, outward in ((0.0, -1.0), (FIELD_LENGTH_YD, 1.0)):
        bars.append(scale.line((line_x, CENTER_Y_YD - half), (line_x, CENTER_Y_YD + half)))
        for post in rules.posts:
            foot = (line_x + outward * post.behind_end_line_yd, CENTER_Y_YD + post.off_center_yd)
            x, y = scale.at(*foot)
            radius = max(post.radius_yd * scale.px_per_yd, 2.2)
            supports.append(element("circle", cx=x, cy=y, r=radius, fill=theme.ink))
            if post.behind_end_line_yd > 0:
                bars.append(scale.line(foot, (line_x, foot[1])))
    width = max(0.35 * scale.px_per_yd, 2.0)
    bar: Attributes = {"stroke": theme.ink, "stroke_width": width, "stroke_linecap": "round"}
    return element("path", d="".join(bars), **bar) + "".join(supports) + _pylons(canvas)


def _pylons(canvas: Canvas) -> str:
    size = max(0.6 * canvas.scale.px_per_yd, 3.5)
    parts = []
    for x in (0.0, *GOALS_X_YD, FIELD_LENGTH_YD):
        for y in (0.0, FIELD_WIDTH_YD):
            px, py = canvas.scale.at(x, y)
            parts.append(element("rect", x=px - size / 2, y=py - size / 2, width=size, height=size))
    return group(parts, fill=canvas.theme.ink, stroke=canvas.theme.halo, stroke_width=0.8)


def hatch_pattern(theme: Theme, identifier: str) -> str:
    """Return the definition of the hatching of closed stretches."""
    line = element(
        "path", d="M-1 1l2-2M0 7l7-7M6 8l2-2", stroke=theme.hatch, stroke_width=0.9, fill="none"
    )
    size: dict[str, float] = {"width": 7, "height": 7}
    plate = element("rect", **size, fill=theme.closed)
    return element("pattern", plate + line, id=identifier, **size, patternUnits="userSpaceOnUse")


def closed_stretches(picture: FieldPicture, canvas: Canvas, pattern: str) -> str:
    """Return the closed stretches, hatched and labeled; no label covers one."""
    return "".join(_closed(mark, canvas, pattern) for mark in picture.closed)


def _closed(mark: ClosedMark, canvas: Canvas, pattern: str) -> str:
    theme, font = canvas.theme, canvas.scale.font_px
    box = canvas.scale.box(
        x_min_yd=mark.x_min_yd,
        x_max_yd=mark.x_max_yd,
        y_min_yd=mark.y_min_yd,
        y_max_yd=mark.y_max_yd,
    )
    canvas.take_rectangle(box)
    rect = element("rect", **box, rx=2, fill=f"url(#{pattern})", stroke=theme.hatch, stroke_width=1)
    label = shortened(mark.label, font_px=font, room_px=max(box["width"], box["height"]) - 8)
    if not label:
        return rect
    middle = (box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    half_w, half_h = text_width_px(label, font) / 2 + 6, font * 0.8
    plate = element(
        "rect", x=middle[0] - half_w, y=middle[1] - half_h, width=2 * half_w, height=2 * half_h,
        rx=half_h, fill=theme.closed,
    )  # fmt: skip
    words = text(label, middle, fill=theme.ink, font_size=font, **CENTERED)
    turn = quarter_turn(middle) if box["height"] > box["width"] else None
    return rect + element("g", plate + words, transform=turn)


def end_names(picture: FieldPicture, canvas: Canvas) -> str:
    """Return the names of both ends, written along the end zones."""
    scale = canvas.scale
    forward = picture.direction == Direction.TOWARD_B
    ahead, behind = picture.end_names[::-1] if forward else picture.end_names
    font = scale.font_px * 1.05
    parts = []
    room = FIELD_WIDTH_YD * scale.px_per_yd / 1.3
    for names, x in (
        ((behind,) if behind else ("offense's own end", "own end"), END_ZONE_DEPTH_YD / 2),
        (
            (ahead,) if ahead else ("opponent's end", "opponent's"),
            FIELD_LENGTH_YD - END_ZONE_DEPTH_YD / 2,
        ),
    ):
        label = _fitting(names, font_px=font, room_px=room)
        parts.append(_along(label, scale.at(x, CENTER_Y_YD), upright=not scale.is_vertical))
    return group(
        parts,
        fill=canvas.theme.ink_soft,
        stroke=canvas.theme.halo,
        stroke_width=3.0,
        paint_order="stroke",
        font_size=font,
        letter_spacing="0.14em",
        **CENTERED,
    )


def sideline_names(picture: FieldPicture, canvas: Canvas) -> str:
    """Return the names of both sidelines on the outer ground, where there is room."""
    scale = canvas.scale
    forward = picture.direction == Direction.TOWARD_B
    right, left = picture.sideline_names if forward else picture.sideline_names[::-1]
    font = scale.font_px
    outer = scale.side_yd - max(1.3, 0.75 * font / scale.px_per_yd)
    parts = []
    for names, y in (
        (
            (left,) if left else ("offense's left sideline", "left sideline"),
            FIELD_WIDTH_YD + outer,
        ),
        ((right,) if right else ("offense's right sideline", "right sideline"), -outer),
    ):
        content = _fitting(names, font_px=font, room_px=36 * scale.px_per_yd)
        for x in (20.0, 100.0, 28.0, 92.0, 60.0):
            box = text_box(content, scale.at(x, y), font, upright=scale.is_vertical)
            if canvas.is_free(box):
                canvas.taken.append(box)
                parts.append(_along(content, scale.at(x, y), upright=scale.is_vertical))
                break
    return group(
        parts, fill=canvas.theme.ink_soft, font_size=font, letter_spacing="0.03em", **CENTERED
    )


def _fitting(names: Sequence[str], *, font_px: float, room_px: float) -> str:
    """Return the first of the names that there is room for, or the last one shortened."""
    fitted = [shortened(name, font_px=font_px, room_px=room_px) for name in names]
    return next((one for one, name in zip(fitted, names, strict=True) if one == name), fitted[-1])


def _along(content: str, at: Point, *, upright: bool) -> str:
    return text(content, at, transform=quarter_turn(at) if upright else None)
