"""The play in the field picture: where it starts, where it goes, where it is likely to end."""

from __future__ import annotations

import math

import numpy as np

from lensyard.domain.field import FIELD_LENGTH_YD, FIELD_WIDTH_YD
from lensyard.render.field.density import Band, Loop
from lensyard.render.field.frame import Frame
from lensyard.render.field.marks import Box, Label, Room, text_box
from lensyard.render.field.picture import FieldPicture, ReachRing, SpotMark
from lensyard.render.svg import Point, element, group, number, polyline, text
from lensyard.render.theme import Theme

_BALL_LENGTH_YD = 2.4  # not to scale: a ball of 11 in would vanish
_CHEVRONS_BEHIND_YD = (4.0, 6.0, 8.0)
_LEAST_RING_PX = 16.0


def bands(shapes: tuple[Band, ...], theme: Theme, frame: Frame) -> str:
    """Return the areas where the play is likely to end; to be clipped to the field."""
    drawn = []
    for i, band in enumerate(shapes):
        data = "".join(_smooth(loop, frame) for loop in band.loops)
        if data:
            width = (0.9, 1.1, 1.5)[i]
            dash = ("1.5 3", "5 3", None)[i]
            path = element("path", d=data, fill=theme.band[i], fill_rule="evenodd")
            edge = element("path", d=data, fill="none", stroke_width=width, stroke_dasharray=dash)
            drawn.append(path + edge)
    return group(drawn, stroke=theme.band_edge, stroke_width="0", stroke_linejoin="round")


def _smooth(loop: Loop, frame: Frame) -> str:
    """Return a closed curve: every second point of the loop is the handle between midpoints."""
    points = [frame.at(x, y) for x, y in (loop[::2] if len(loop) > 11 else loop)]
    middles = [
        ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2)
        for a, b in zip(points, [*points[1:], points[0]], strict=True)
    ]
    data = [f"M{number(middles[-1][0])} {number(middles[-1][1])}"]
    for handle, stop in zip(points, middles, strict=True):
        data.append(f"Q{number(handle[0])} {number(handle[1])} {number(stop[0])} {number(stop[1])}")
    return "".join(data) + "z"


def start(picture: FieldPicture, theme: Theme, frame: Frame) -> str:
    """Return line of scrimmage, line to gain, direction of attack and ball."""
    parts = []
    width = max(0.3 * frame.px_per_yd, 1.8)
    if picture.line_to_gain_x_yd is not None:
        dash = f"{number(width * 4)} {number(width * 2.2)}"
        parts.append(_game_line(picture.line_to_gain_x_yd, theme, frame, width=width, dash=dash))
    if picture.ball is not None:
        parts.append(_game_line(picture.ball.x_yd, theme, frame, width=width, dash=None))
        parts.append(_chevrons(picture, theme, frame))
        parts.append(_ball(frame.place(picture.ball), theme, frame))
    return "".join(parts)


def _game_line(x_yd: float, theme: Theme, frame: Frame, *, width: float, dash: str | None) -> str:
    data = polyline([frame.at(x_yd, 0.0), frame.at(x_yd, FIELD_WIDTH_YD)])
    halo = element("path", d=data, stroke=theme.halo, stroke_width=width + 3.0)
    line = element("path", d=data, stroke=theme.ink, stroke_width=width, stroke_dasharray=dash)
    return halo + line


def line_boxes(picture: FieldPicture, frame: Frame) -> list[Box]:
    """Return the boxes of line of scrimmage and line to gain, for labels to keep off."""
    places = [picture.line_to_gain_x_yd, picture.ball.x_yd if picture.ball else None]
    boxes = []
    for x in places:
        if x is not None:
            left, top, width, height = frame.box(
                x_min_yd=x - 0.3, x_max_yd=x + 0.3, y_min_yd=0.0, y_max_yd=FIELD_WIDTH_YD
            )
            boxes.append((left, top, left + width, top + height))
    return boxes


def _chevrons(picture: FieldPicture, theme: Theme, frame: Frame) -> str:
    """Three open angles behind the ball that point where the offense goes."""
    if picture.ball is None:
        return ""
    reach = max(1.1 * frame.px_per_yd, 5.0)
    data = []
    for behind in _CHEVRONS_BEHIND_YD:
        if picture.ball.x_yd - behind < 1.0:
            continue
        px, py = frame.at(picture.ball.x_yd - behind, picture.ball.y_yd)
        angle = math.radians(frame.attack_deg)
        tip = (px + math.cos(angle) * reach * 0.6, py + math.sin(angle) * reach * 0.6)
        wings = []
        for turn in (math.radians(140), math.radians(-140)):
            wings.append(
                (
                    tip[0] + math.cos(angle + turn) * reach * 1.2,
                    tip[1] + math.sin(angle + turn) * reach * 1.2,
                )
            )
        data.append(polyline([wings[0], tip, wings[1]]))
    if not data:
        return ""
    joined = "".join(data)
    halo = element("path", d=joined, stroke=theme.halo, stroke_width=4.6)
    line = element("path", d=joined, stroke=theme.ink, stroke_width=1.9)
    return group([halo, line], fill="none", stroke_linecap="round", stroke_linejoin="round")


def _ball(at: Point, theme: Theme, frame: Frame) -> str:
    long = max(_BALL_LENGTH_YD * frame.px_per_yd, 13.0) / 2
    short = long * 0.58
    turn = f"rotate({number(frame.attack_deg)} {number(at[0])} {number(at[1])})"
    # Two arcs that meet in points, as a ball does.
    radius = (long * long + short * short) / (2 * short)
    left, right = at[0] - long, at[0] + long
    data = (
        f"M{number(left)} {number(at[1])}A{number(radius)} {number(radius)} 0 0 1 {number(right)}"
        f" {number(at[1])}A{number(radius)} {number(radius)} 0 0 1 {number(left)} {number(at[1])}z"
    )
    seam = f"M{number(at[0] - long * 0.4)} {number(at[1])}h{number(long * 0.8)}"
    body = element("path", d=data, fill=theme.ink, stroke=theme.halo, stroke_width=1.6)
    lace = element("path", d=seam, stroke=theme.halo, stroke_width=1.1)
    return element("g", body + lace, transform=turn, data_role="ball")


def rings(picture: FieldPicture, theme: Theme, frame: Frame) -> str:
    """Return reach (solid) and nearest distance (dashed) of each lens around the best spot."""
    best = picture.best
    if best is None:
        return ""
    at = frame.at(best.x_yd, best.y_yd)
    parts = []
    for ring in picture.rings:
        parts.append(_circle(at, ring.reach_yd * frame.px_per_yd, theme, dash=None))
        nearest_px = ring.nearest_yd * frame.px_per_yd
        if nearest_px > _LEAST_RING_PX:
            parts.append(_circle(at, nearest_px, theme, dash="2 4"))
    return group(parts, fill="none", data_role="reach")


def _circle(at: Point, radius_px: float, theme: Theme, *, dash: str | None) -> str:
    halo = element(
        "circle",
        cx=at[0],
        cy=at[1],
        r=radius_px,
        stroke=theme.halo,
        stroke_width=4.0,
        opacity="0.8",
    )
    line = element(
        "circle",
        cx=at[0],
        cy=at[1],
        r=radius_px,
        stroke=theme.accent,
        stroke_width=1.7,
        stroke_dasharray=dash,
    )
    return halo + line


def ring_labels(picture: FieldPicture, theme: Theme, frame: Frame, room: Room) -> str:
    """Return the lenses' names on their rings, inside the field, where there is room."""
    best = picture.best
    if best is None:
        return ""
    parts = []
    for ring in picture.rings:
        content = f"{ring.label}: {ring.reach_yd:.0f} yd"
        places = _ring_places(best, ring, frame, content)
        label = room.put(content, frame.font_px, places)
        if label is not None:
            parts.append(_plate(label, theme) + text(label.content, label.at, fill=theme.accent))
    return group(
        parts,
        font_size=frame.font_px,
        font_weight="600",
        text_anchor="middle",
        dominant_baseline="central",
    )


def _plate(label: Label, theme: Theme) -> str:
    """The ground of a label on a line."""
    left, top, right, bottom = text_box(label.content, label.at, label.font_px)
    high = bottom - top
    return element(
        "rect", x=left, y=top, width=right - left, height=high, rx=high / 2, fill=theme.halo
    )


def _ring_places(best: SpotMark, ring: ReachRing, frame: Frame, content: str) -> list[Point]:
    """Middles for a label on a ring that keep it on the field, the rearmost ones first.

    Behind the line of scrimmage there is the least to cover.
    """
    angles = np.radians(np.arange(0.0, 360.0, 4.0))
    x = best.x_yd + ring.reach_yd * np.cos(angles)
    y = best.y_yd + ring.reach_yd * np.sin(angles)
    left, top, right, bottom = text_box(content, (0.0, 0.0), frame.font_px)
    half_w = (right - left) / 2 / frame.px_per_yd
    half_h = (bottom - top) / 2 / frame.px_per_yd
    along, across = (half_h, half_w) if frame.is_vertical else (half_w, half_h)
    inside = (x > along) & (x < FIELD_LENGTH_YD - along)
    inside &= (y > across) & (y < FIELD_WIDTH_YD - across)
    order = np.argsort(x[inside], kind="stable")
    return [
        frame.at(float(a), float(b))
        for a, b in zip(x[inside][order], y[inside][order], strict=True)
    ]
