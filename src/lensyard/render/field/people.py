"""The person in the field picture: where one stands, the walk, and the sun overhead.

Where one stands is a surveyor's mark, a circle with two filled quarters, unlike any spot's shape.
"""

from __future__ import annotations

import math
from itertools import pairwise

from lensyard.domain.field import CENTER_Y_YD, FIELD_LENGTH_YD, FIELD_WIDTH_YD
from lensyard.render.field.frame import Frame
from lensyard.render.field.marks import GAP_PX, MarkPlaces, Room, leader, mark_radius_px
from lensyard.render.field.picture import FieldPicture, SpotRole
from lensyard.render.svg import Point, element, group, number, polyline, text, text_width_px
from lensyard.render.theme import Theme


def walk(picture: FieldPicture, theme: Theme, frame: Frame) -> str:
    """Return the way from where one stands, dashed, with an arrow at its end."""
    points = [frame.place(point) for point in picture.path]
    if len(points) < 2:
        return ""
    data = polyline(points)
    halo = element("path", d=data, stroke=theme.halo, stroke_width=5.0, opacity="0.9")
    line = element("path", d=data, stroke=theme.ink, stroke_width=2.2, stroke_dasharray="7 4")
    return group(
        [halo, line, _arrow(points, theme, frame)],
        fill="none",
        stroke_linejoin="round",
        data_role="walk",
    )


def _arrow(points: list[Point], theme: Theme, frame: Frame) -> str:
    """The head of the arrow, just before the best spot's mark."""
    size = 6.0
    before_px = mark_radius_px(SpotRole.BEST, frame) + size + 2.0
    tip, angle = _on_the_way(points, before_px=before_px)
    wings = [
        (tip[0] + size * math.cos(angle + turn), tip[1] + size * math.sin(angle + turn))
        for turn in (math.radians(145), math.radians(-145))
    ]
    nose = (tip[0] + size * math.cos(angle), tip[1] + size * math.sin(angle))
    return element(
        "path",
        d=polyline([wings[0], nose, wings[1]], closed=True),
        fill=theme.ink,
        stroke=theme.halo,
        stroke_width=1.2,
    )


def _on_the_way(points: list[Point], *, before_px: float) -> tuple[Point, float]:
    """The place so far before the end of a way, and the heading there in radians."""
    left = before_px
    legs = list(pairwise(points))
    for a, b in reversed(legs):
        length = math.dist(a, b)
        if left <= length and length > 0:
            share = left / length
            at = (b[0] + share * (a[0] - b[0]), b[1] + share * (a[1] - b[1]))
            return at, math.atan2(b[1] - a[1], b[0] - a[0])
        left -= length
    a, b = legs[0]
    return points[0], math.atan2(b[1] - a[1], b[0] - a[0])


def _length_px(points: list[Point]) -> float:
    return sum(math.dist(a, b) for a, b in pairwise(points))


def walk_label(picture: FieldPicture, theme: Theme, frame: Frame, room: Room) -> str:
    """Return how long the walk is, beside the middle of the way."""
    points = [frame.place(point) for point in picture.path]
    if len(points) < 2 or not picture.walk_text:
        return ""
    (x, y), _ = _on_the_way(points, before_px=_length_px(points) / 2)
    half_w = text_width_px(picture.walk_text, frame.font_px) / 2 + 7
    half_h = frame.font_px
    places = [
        (x + ox * half_w, y + oy * half_h)
        for ox, oy in ((0, -1.1), (0, 1.1), (1, 0), (-1, 0), (0, -2.4), (0, 2.4))
    ]
    return _words(picture.walk_text, places, theme, frame, room)


def standing(
    picture: FieldPicture, places: MarkPlaces, theme: Theme, frame: Frame, room: Room
) -> str:
    """Return the mark of where one stands, with the word "you"."""
    if picture.standing is None or places.standing is None:
        return ""
    x, y = places.standing
    radius = mark_radius_px(SpotRole.OTHER, frame) * 0.95
    r, n = number(radius), number
    quarters = (
        f"M{n(x)} {n(y)}v-{r}A{r} {r} 0 0 1 {n(x + radius)} {n(y)}z"
        f"M{n(x)} {n(y)}v{r}A{r} {r} 0 0 1 {n(x - radius)} {n(y)}z"
    )
    mark = element(
        "circle", cx=x, cy=y, r=radius, fill=theme.paper, stroke=theme.ink, stroke_width=1.8
    ) + element("path", d=quarters, fill=theme.ink)
    far = radius + 5
    half_w = text_width_px("you", frame.font_px) / 2 + GAP_PX
    beside = [
        (x, y - far - frame.font_px * 0.4),
        (x, y + far + frame.font_px * 0.4),
        (x + far + half_w, y),
        (x - far - half_w, y),
    ]
    words = _words("you", beside, theme, frame, room)
    true = leader(frame.place(picture.standing), places.standing, theme)
    return element("g", true + mark + words, data_role="standing")


def sun(picture: FieldPicture, theme: Theme, frame: Frame, room: Room) -> str:
    """Return the sun on the rim of the picture, on the side where it stands."""
    if picture.sun is None or picture.sun.elevation_deg <= 0:
        return ""
    radius = min(max(0.8 * frame.px_per_yd, 5.5), 9.0)
    x, y = _sun_place(picture.sun.bearing_deg, 2.1 * radius, frame, room)
    rays = [
        polyline(
            [
                (x + 1.5 * radius * math.cos(turn), y + 1.5 * radius * math.sin(turn)),
                (x + 2.1 * radius * math.cos(turn), y + 2.1 * radius * math.sin(turn)),
            ]
        )
        for turn in (math.pi / 4 * i for i in range(8))
    ]
    disk = element("circle", cx=x, cy=y, r=radius, fill=theme.sun)
    beams = element(
        "path", d="".join(rays), stroke=theme.sun, stroke_width=1.8, stroke_linecap="round"
    )
    room.take_circle((x, y), radius * 2.1)
    content = f"sun {picture.sun.elevation_deg:.0f}° up"
    half_w = text_width_px(content, frame.font_px) / 2 + radius * 2.4 + 3
    low = radius * 2.4 + frame.font_px * 0.7
    level, stacked = [(x + half_w, y), (x - half_w, y)], [(x, y + low), (x, y - low)]
    places = stacked + level if frame.is_vertical else level + stacked
    return element("g", disk + beams + _words(content, places, theme, frame, room), data_role="sun")


def _sun_place(bearing_deg: float, radius_px: float, frame: Frame, room: Room) -> Point:
    """The place on the rim nearest to a bearing where no mark is in the way."""
    places = []
    for aside_deg in (0, -4, 4, -8, 8, -12, 12, -16, 16):
        bearing = math.radians(bearing_deg + aside_deg)
        x, y = _on_rim(math.cos(bearing), -math.sin(bearing), frame)
        if room.is_free((x - radius_px, y - radius_px, x + radius_px, y + radius_px)):
            return x, y
        places.append((x, y))
    return places[0]


def _on_rim(toward_x: float, toward_y: float, frame: Frame) -> Point:
    """Where a ray from the middle of the field meets the outer ground, in pixels."""
    inset = 2.6
    half_x = FIELD_LENGTH_YD / 2 + frame.end_yd - inset
    half_y = FIELD_WIDTH_YD / 2 + frame.side_yd - inset
    scale = min(
        half_x / max(abs(toward_x), 1e-9),
        half_y / max(abs(toward_y), 1e-9),
    )
    return frame.at(FIELD_LENGTH_YD / 2 + scale * toward_x, CENTER_Y_YD + scale * toward_y)


def _words(content: str, places: list[Point], theme: Theme, frame: Frame, room: Room) -> str:
    label = room.put(content, frame.font_px, places)
    if label is None:
        return ""
    return text(
        label.content,
        label.at,
        fill=theme.ink,
        stroke=theme.halo,
        stroke_width=3.5,
        stroke_linejoin="round",
        paint_order="stroke",
        font_size=frame.font_px,
        font_weight="600",
        text_anchor="middle",
        dominant_baseline="central",
    )
