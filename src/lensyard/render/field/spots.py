"""The spots in the field picture.

Every kind of mark has a shape of its own, so that nothing depends on color: the best spot is a
disk with a ring around it, like a lens from the front; a spot that is as good is a square; any
other spot a diamond; a habit a triangle with a letter.
"""

from __future__ import annotations

import math

from lensyard.domain.field import CENTER_Y_YD, FIELD_LENGTH_YD, FIELD_WIDTH_YD
from lensyard.records import Record
from lensyard.render.field.canvas import CENTERED, GAP_PX, Canvas, Scale
from lensyard.render.field.picture import FieldPicture, SpotMark, SpotRole
from lensyard.render.html import Point, clean, element, group, polyline, text, text_width_px
from lensyard.render.theme import Theme
from lensyard.render.words import percent

_HABIT_LETTERS = "ABCDEFGH"
LEAST_LETTER_PX = 13.0
"""Of a letter in a mark, on a phone's screen. [px]"""


def mark_radius_px(role: SpotRole, scale: Scale) -> float:
    """Return the half size of a mark. [px]"""
    usual = min(max(1.25 * scale.px_per_yd, 9.5), 15.0)
    return usual * 1.3 if role == SpotRole.BEST else usual


def name_of(spot: SpotMark, picture: FieldPicture) -> str:
    """Return what stands in a mark: the rank, or a habit's letter."""
    if spot.rank is not None:
        return str(spot.rank)
    unranked = [other for other in picture.spots if other.rank is None]
    index = next(i for i, other in enumerate(unranked) if other is spot)
    return _HABIT_LETTERS[index % len(_HABIT_LETTERS)]


def shape(role: SpotRole, at: Point, radius: float, theme: Theme) -> str:
    """Return a mark without its number."""
    x, y = at
    if role == SpotRole.BEST:
        disk = {"cx": x, "cy": y}
        ring = element(
            "circle", **disk, r=radius, fill=theme.paper, stroke=theme.accent, stroke_width=2.2
        )
        return ring + element("circle", **disk, r=radius - 3.6, fill=theme.accent)
    if role == SpotRole.EQUAL:
        half = radius * 0.9
        box = {"x": x - half, "y": y - half, "width": 2 * half, "height": 2 * half, "rx": 2.5}
        return element("rect", **box, fill=theme.paper, stroke=theme.accent, stroke_width=2)
    if role == SpotRole.OTHER:
        wide = radius * 1.2
        corners = [(x - wide, y), (x, y - wide), (x + wide, y), (x, y + wide)]
    else:
        wide = radius * 1.25
        corners = [(x - wide, y + wide * 0.75), (x, y - wide), (x + wide, y + wide * 0.75)]
    return element(
        "path",
        d=polyline(corners, closed=True),
        fill=theme.paper,
        stroke=theme.accent if role == SpotRole.OTHER else theme.ink,
        stroke_width=1.8,
        stroke_linejoin="round",
    )


def letter_in(role: SpotRole, at: Point, radius: float, theme: Theme, name: str) -> str:
    """Return the number or letter inside a mark."""
    color = {SpotRole.BEST: theme.on_accent, SpotRole.HABIT: theme.ink}.get(role, theme.accent)
    drop = radius * 0.2 if role == SpotRole.HABIT else 0.0
    size = max(radius * (0.9 if role == SpotRole.HABIT else 1.15), LEAST_LETTER_PX)
    size *= 0.8 if len(name) > 1 else 1.0
    return text(
        name,
        (at[0], at[1] + drop),
        fill=color,
        font_size=size,
        font_weight="700",
        **CENTERED,
    )


_PRIORITY = (SpotRole.BEST, SpotRole.EQUAL, SpotRole.OTHER, SpotRole.HABIT)


class MarkPlaces(Record):
    """Where marks are drawn, so that none covers another.

    - ``spots``: one pixel a spot, in the picture's order.
    - ``standing``: the pixel of the mark of where one stands.
    """

    spots: tuple[Point, ...]
    standing: Point | None


def mark_places(picture: FieldPicture, scale: Scale) -> MarkPlaces:
    """Return a place for every mark, moved aside where an earlier one is in the way.

    The best spot comes first, then where one stands, then the others by role; a mark is moved away
    from the field, then along the strip.
    """
    taken: list[tuple[Point, float]] = []

    def settle(x_yd: float, y_yd: float, radius: float) -> Point:
        wanted = scale.at(x_yd, y_yd)
        ox, oy = outward(x_yd, y_yd, scale)
        step = 2.4 * radius
        moves = [(0.0, 0.0), (ox, oy)]
        for far in range(1, 9):
            # Along the strip one way and the other, then the same in the lane outside of it.
            along = [(-oy * far, ox * far), (oy * far, -ox * far)]
            moves += along + [(mx + ox, my + oy) for mx, my in along]
        for mx, my in moves:
            at = (wanted[0] + mx * step, wanted[1] + my * step)
            if _fits(at, radius, taken, scale):
                break
        else:
            at = wanted
        taken.append((at, radius))
        return at

    spots: dict[int, Point] = {}
    standing = None
    for role in _PRIORITY:
        for index, spot in enumerate(picture.spots):
            if spot.role == role:
                spots[index] = settle(spot.x_yd, spot.y_yd, mark_radius_px(role, scale))
        if role == SpotRole.BEST and picture.standing is not None:
            here = picture.standing
            standing = settle(here.x_yd, here.y_yd, mark_radius_px(SpotRole.OTHER, scale))
    return MarkPlaces(tuple(spots[i] for i in range(len(spots))), standing)


def _fits(at: Point, radius: float, taken: list[tuple[Point, float]], scale: Scale) -> bool:
    width, height = scale.size_px
    if not (radius < at[0] < width - radius and radius < at[1] < height - radius):
        return False
    return all(math.dist(at, other) > 1.15 * (radius + wide) for other, wide in taken)


def leader(true: Point, drawn: Point, theme: Theme) -> str:
    """Return a line from a mark that was moved aside to its true place; nothing if it was not."""
    if math.dist(true, drawn) < 1.0:
        return ""
    line = element("path", d=polyline([drawn, true]), stroke=theme.ink, stroke_width=1)
    return line + element("circle", cx=true[0], cy=true[1], r=2, fill=theme.ink)


def take_marks(picture: FieldPicture, places: MarkPlaces, canvas: Canvas) -> None:
    """Take the places of all marks, so that no label covers one."""
    for spot, at in zip(picture.spots, places.spots, strict=True):
        canvas.take_circle(at, mark_radius_px(spot.role, canvas.scale) + 1)
    if places.standing is not None:
        canvas.take_circle(places.standing, mark_radius_px(SpotRole.OTHER, canvas.scale) + 1)


def spots(picture: FieldPicture, places: MarkPlaces, canvas: Canvas) -> str:
    """Return the marked spots with their probabilities, the best one on top."""
    drawn = [
        _spot(spot, at, picture, canvas)
        for role in _PRIORITY
        for spot, at in zip(picture.spots, places.spots, strict=True)
        if spot.role == role
    ]
    return group(reversed(drawn), data_role="spots")


def spot_words(spot: SpotMark, picture: FieldPicture) -> str:
    """Return a spot's number, place and probability in words."""
    usable = "" if spot.p_usable is None else f", {percent(spot.p_usable)} usable"
    return f"{name_of(spot, picture)}, {spot.label}{usable}"


def _spot(spot: SpotMark, at: Point, picture: FieldPicture, canvas: Canvas) -> str:
    theme, scale = canvas.theme, canvas.scale
    radius = mark_radius_px(spot.role, scale)
    name = name_of(spot, picture)
    usable = "" if spot.p_usable is None else f", {percent(spot.p_usable)} usable"
    alt_text = f"{name}, {spot.role.value}: {spot.label}{usable}"
    drawn = element("title", clean(alt_text)) + leader(scale.at(spot.x_yd, spot.y_yd), at, theme)
    drawn += shape(spot.role, at, radius, theme) + letter_in(spot.role, at, radius, theme, name)
    if spot.p_usable is not None:
        is_best = spot.role == SpotRole.BEST
        font = scale.font_px * (1.3 if is_best else 1.0)
        share = percent(spot.p_usable)
        beside = _beside(spot, at, radius, font, share, scale)
        weight = "700" if is_best else "500"
        drawn += canvas.words(share, beside, font_px=font, weight=weight, may_shift=False)
    return element(
        "g",
        drawn,
        role="button" if picture.tappable else "img",
        tabindex="-1" if picture.tappable else None,
        aria_label=alt_text,
        data_role="spot",
        data_kind=spot.role.name.lower(),
        data_rank=None if spot.rank is None else str(spot.rank),
        data_station=None if spot.station is None else str(spot.station),
        data_x_yd=f"{spot.x_yd:.2f}",
        data_y_yd=f"{spot.y_yd:.2f}",
    )


def _beside(
    spot: SpotMark, at: Point, radius: float, font: float, content: str, scale: Scale
) -> list[Point]:
    """Places for a label around a mark: away from the field first, then along, then inward."""
    half_w = text_width_px(content, font) / 2 + GAP_PX + 1.5
    half_h = font * 0.6 + 2
    out_x, out_y = outward(spot.x_yd, spot.y_yd, scale)
    ways = [(out_x, out_y), (-out_y, out_x), (out_y, -out_x), (-out_x, -out_y)]
    ways += [(ox, oy) for ox in (-1.0, 1.0) for oy in (-1.0, 1.0)]
    return [(at[0] + ox * (radius + half_w), at[1] + oy * (radius + half_h)) for ox, oy in ways]


def outward(x_yd: float, y_yd: float, scale: Scale) -> Point:
    """Return the direction away from the field in the picture, along one axis, length 1."""
    beyond_x = max(-x_yd, x_yd - FIELD_LENGTH_YD)
    beyond_y = max(-y_yd, y_yd - FIELD_WIDTH_YD)
    if beyond_x > beyond_y:
        step = (1.0 if x_yd > FIELD_LENGTH_YD / 2 else -1.0, 0.0)
    else:
        step = (0.0, 1.0 if y_yd > CENTER_Y_YD else -1.0)
    here, there = scale.at(0.0, 0.0), scale.at(*step)
    return (
        (there[0] - here[0]) / scale.px_per_yd,
        (there[1] - here[1]) / scale.px_per_yd,
    )
