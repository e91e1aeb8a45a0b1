"""The spots in the field picture.

Every kind of mark has a shape of its own, so that nothing depends on color: the best spot is a
disk with a ring around it, like a lens from the front; a spot that is as good is a square; any
other spot a diamond; a habit a triangle with a letter.

Finding room for labels: first fit among preferred places, never over a mark.

Boxes are (left, top, right, bottom) in pixels. The order of calls decides who comes first, so the
result is the same for the same picture.

The legend under the field picture: only what is in the picture, in as many lines as it takes.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field

from lensyard.domain.field import CENTER_Y_YD, FIELD_LENGTH_YD, FIELD_WIDTH_YD
from lensyard.render.field.density import SHARES
from lensyard.render.field.frame import Frame
from lensyard.render.field.picture import FieldPicture, SpotMark, SpotRole
from lensyard.render.svg import Point, clean, element, group, polyline, text, text_width_px
from lensyard.render.theme import Theme
from lensyard.render.words import percent

Box = tuple[float, float, float, float]

_LINE_HEIGHT_EM = 1.15
GAP_PX = 4.0


@dataclass(frozen=True, slots=True)
class Label:
    """A text whose middle lies at a point."""

    content: str
    at: Point
    font_px: float


@dataclass(slots=True)
class Room:
    """What is taken so far.

    Attributes
    ----------
    width_px, height_px
        Of the picture; no label leaves it. [px]
    taken
        Boxes of marks and labels.
    """

    width_px: float
    height_px: float
    taken: list[Box] = field(default_factory=list)

    def take_circle(self, at: Point, radius_px: float) -> None:
        """Take the square around a circle."""
        self.taken.append(
            (at[0] - radius_px, at[1] - radius_px, at[0] + radius_px, at[1] + radius_px)
        )

    def is_free(self, box: Box) -> bool:
        """Whether a box lies inside the picture and touches nothing that is taken."""
        left, top, right, bottom = box
        if left < 1 or top < 1 or right > self.width_px - 1 or bottom > self.height_px - 1:
            return False
        return not any(
            left < other[2] and right > other[0] and top < other[3] and bottom > other[1]
            for other in self.taken
        )

    def put(
        self, content: str, font_px: float, places: Iterable[Point], *, may_shift: bool = True
    ) -> Label | None:
        """Put a label's middle on the first place with room for it; None if there is none.

        A place so near the rim that the label would leave the picture is moved inward, unless it
        may not shift.
        """
        left, top, right, bottom = text_box(content, (0.0, 0.0), font_px)
        for wanted in places:
            at = wanted
            if may_shift:
                at = (
                    min(max(wanted[0], 1.5 - left), self.width_px - 1.5 - right),
                    min(max(wanted[1], 1.5 - top), self.height_px - 1.5 - bottom),
                )
            box = text_box(content, at, font_px)
            if self.is_free(box):
                self.taken.append(box)
                return Label(content, at, font_px)
        return None


def text_box(content: str, at: Point, font_px: float, *, upright: bool = False) -> Box:
    """Return the box of a text around its middle; upright for text that runs along y."""
    half_w = text_width_px(content, font_px) / 2 + GAP_PX
    half_h = font_px * _LINE_HEIGHT_EM / 2
    if upright:
        half_w, half_h = half_h, half_w
    return at[0] - half_w, at[1] - half_h, at[0] + half_w, at[1] + half_h


_HABIT_LETTERS = "ABCDEFGH"


def mark_radius_px(role: SpotRole, frame: Frame) -> float:
    """Return the half size of a mark. [px]"""
    usual = min(max(1.25 * frame.px_per_yd, 9.5), 15.0)
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
        ring = element(
            "circle",
            cx=x,
            cy=y,
            r=radius,
            fill=theme.paper,
            stroke=theme.accent,
            stroke_width=2.2,
        )
        return ring + element("circle", cx=x, cy=y, r=radius - 3.6, fill=theme.accent)
    if role == SpotRole.EQUAL:
        return element(
            "rect",
            x=x - radius * 0.9,
            y=y - radius * 0.9,
            width=radius * 1.8,
            height=radius * 1.8,
            rx=2.5,
            fill=theme.paper,
            stroke=theme.accent,
            stroke_width=2,
        )
    if role == SpotRole.OTHER:
        wide = radius * 1.2
        corners = [(x - wide, y), (x, y - wide), (x + wide, y), (x, y + wide)]
        stroke = theme.accent
    else:
        wide = radius * 1.25
        corners = [(x - wide, y + wide * 0.75), (x, y - wide), (x + wide, y + wide * 0.75)]
        stroke = theme.ink
    return element(
        "path",
        d=polyline(corners, closed=True),
        fill=theme.paper,
        stroke=stroke,
        stroke_width=1.8,
        stroke_linejoin="round",
    )


def letter_in(role: SpotRole, at: Point, radius: float, theme: Theme, name: str) -> str:
    """Return the number or letter inside a mark."""
    color = {SpotRole.BEST: theme.on_accent, SpotRole.HABIT: theme.ink}.get(role, theme.accent)
    drop = radius * 0.2 if role == SpotRole.HABIT else 0.0
    size = radius * (0.9 if role == SpotRole.HABIT else 1.15)
    size *= 0.8 if len(name) > 1 else 1.0
    return text(
        name,
        (at[0], at[1] + drop),
        fill=color,
        font_size=size,
        font_weight="700",
        text_anchor="middle",
        dominant_baseline="central",
    )


_PRIORITY = (SpotRole.BEST, SpotRole.EQUAL, SpotRole.OTHER, SpotRole.HABIT)


@dataclass(frozen=True, slots=True)
class MarkPlaces:
    """Where marks are drawn, so that none covers another.

    Attributes
    ----------
    spots
        One pixel a spot, in the picture's order.
    standing
        The pixel of the mark of where one stands.
    """

    spots: tuple[Point, ...]
    standing: Point | None


def mark_places(picture: FieldPicture, frame: Frame) -> MarkPlaces:
    """Return a place for every mark, moved aside where an earlier one is in the way.

    The best spot comes first, then where one stands, then the others by role; a mark is moved away
    from the field, then along the strip.
    """
    taken: list[tuple[Point, float]] = []

    def settle(x_yd: float, y_yd: float, radius: float) -> Point:
        wanted = frame.at(x_yd, y_yd)
        ox, oy = outward(x_yd, y_yd, frame)
        step = 2.4 * radius
        moves = [(0.0, 0.0), (ox, oy)]
        for far in range(1, 9):
            # Along the strip one way and the other, then the same in the lane outside of it.
            along = [(-oy * far, ox * far), (oy * far, -ox * far)]
            moves += along + [(mx + ox, my + oy) for mx, my in along]
        for mx, my in moves:
            at = (wanted[0] + mx * step, wanted[1] + my * step)
            if _fits(at, radius, taken, frame):
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
                spots[index] = settle(spot.x_yd, spot.y_yd, mark_radius_px(role, frame))
        if role == SpotRole.BEST and picture.standing is not None:
            here = picture.standing
            standing = settle(here.x_yd, here.y_yd, mark_radius_px(SpotRole.OTHER, frame))
    return MarkPlaces(tuple(spots[i] for i in range(len(spots))), standing)


def _fits(at: Point, radius: float, taken: list[tuple[Point, float]], frame: Frame) -> bool:
    width, height = frame.surround_px
    if not (radius < at[0] < width - radius and radius < at[1] < height - radius):
        return False
    return all(math.dist(at, other) > 1.15 * (radius + wide) for other, wide in taken)


def leader(true: Point, drawn: Point, theme: Theme) -> str:
    """Return a line from a mark that was moved aside to its true place; nothing if it was not."""
    if math.dist(true, drawn) < 1.0:
        return ""
    line = element("path", d=polyline([drawn, true]), stroke=theme.ink, stroke_width=1)
    return line + element("circle", cx=true[0], cy=true[1], r=2, fill=theme.ink)


def spots(picture: FieldPicture, places: MarkPlaces, theme: Theme, frame: Frame, room: Room) -> str:
    """Return the marked spots with their probabilities, the best one on top."""
    drawn = []
    for role in _PRIORITY:
        for spot, at in zip(picture.spots, places.spots, strict=True):
            if spot.role == role:
                drawn.append(_spot(spot, at, picture, theme, frame, room))
    return group(reversed(drawn), data_role="spots")


def take_marks(picture: FieldPicture, places: MarkPlaces, frame: Frame, room: Room) -> None:
    """Take the places of all marks, so that no label covers one."""
    for spot, at in zip(picture.spots, places.spots, strict=True):
        room.take_circle(at, mark_radius_px(spot.role, frame) + 1)
    if places.standing is not None:
        room.take_circle(places.standing, mark_radius_px(SpotRole.OTHER, frame) + 1)


def _spot(
    spot: SpotMark, at: Point, picture: FieldPicture, theme: Theme, frame: Frame, room: Room
) -> str:
    radius = mark_radius_px(spot.role, frame)
    name = name_of(spot, picture)
    said = f"{name}, {spot.role.value}: {spot.label}, {percent(spot.p_usable)} usable"
    drawn = element("title", clean(said)) + leader(frame.at(spot.x_yd, spot.y_yd), at, theme)
    drawn += shape(spot.role, at, radius, theme) + letter_in(spot.role, at, radius, theme, name)
    font = frame.font_px * (1.3 if spot.role == SpotRole.BEST else 1.0)
    share = percent(spot.p_usable)
    beside = _beside(spot, at, radius, font, share, frame)
    label = room.put(share, font, beside, may_shift=False)
    if label is not None:
        drawn += text(
            share,
            label.at,
            font_size=font,
            font_weight="700" if spot.role == SpotRole.BEST else "500",
            fill=theme.ink,
            stroke=theme.halo,
            stroke_width=3.5,
            stroke_linejoin="round",
            paint_order="stroke",
            text_anchor="middle",
            dominant_baseline="central",
        )
    return element(
        "g",
        drawn,
        role="button" if picture.tappable else "img",
        tabindex="-1" if picture.tappable else None,
        aria_label=said,
        data_role="spot",
        data_kind=spot.role.name.lower(),
        data_rank=None if spot.rank is None else str(spot.rank),
        data_station=None if spot.station is None else str(spot.station),
        data_x_yd=f"{spot.x_yd:.2f}",
        data_y_yd=f"{spot.y_yd:.2f}",
    )


def _beside(
    spot: SpotMark, at: Point, radius: float, font: float, content: str, frame: Frame
) -> list[Point]:
    """Places for a label around a mark: away from the field first, then along, then inward."""
    half_w = text_width_px(content, font) / 2 + GAP_PX + 1.5
    half_h = font * 0.6 + 2
    out_x, out_y = outward(spot.x_yd, spot.y_yd, frame)
    places = []
    for ox, oy in ((out_x, out_y), (-out_y, out_x), (out_y, -out_x), (-out_x, -out_y)):
        places.append((at[0] + ox * (radius + half_w), at[1] + oy * (radius + half_h)))
    for ox in (-1.0, 1.0):
        for oy in (-1.0, 1.0):
            places.append((at[0] + ox * (radius + half_w), at[1] + oy * (radius + half_h)))
    return places


def outward(x_yd: float, y_yd: float, frame: Frame) -> Point:
    """Return the direction away from the field in the picture, along one axis, length 1."""
    beyond_x = max(-x_yd, x_yd - FIELD_LENGTH_YD)
    beyond_y = max(-y_yd, y_yd - FIELD_WIDTH_YD)
    if beyond_x > beyond_y:
        step = (1.0 if x_yd > FIELD_LENGTH_YD / 2 else -1.0, 0.0)
    else:
        step = (0.0, 1.0 if y_yd > CENTER_Y_YD else -1.0)
    here, there = frame.at(0.0, 0.0), frame.at(*step)
    return (
        (there[0] - here[0]) / frame.px_per_yd,
        (there[1] - here[1]) / frame.px_per_yd,
    )


_ICON_GAP_PX = 6.0
_ITEM_GAP_PX = 18.0

Icon = Callable[[Point], str]


@dataclass(frozen=True, slots=True)
class LegendItem:
    """An icon of a width and the words beside it."""

    icon: Icon
    icon_width_px: float
    words: str


def legend_of(
    picture: FieldPicture, theme: Theme, frame: Frame, *, top_px: float
) -> tuple[str, float]:
    """Return the legend and its height. [px]"""
    items = [*_spot_items(picture, theme), *_play_items(picture, theme)]
    if not items:
        return "", 0.0
    width = frame.surround_px[0]
    font = max(frame.font_px * 0.95, 11.0)
    line = font * 1.9
    left = pad = 10.0
    middle = top_px + line * 0.75
    parts = []
    for item in items:
        wide = item.icon_width_px + _ICON_GAP_PX + text_width_px(item.words, font)
        if left > pad and left + wide > width - pad:
            left, middle = pad, middle + line
        parts.append(item.icon((left + item.icon_width_px / 2, middle)))
        parts.append(text(item.words, (left + item.icon_width_px + _ICON_GAP_PX, middle)))
        left += wide + _ITEM_GAP_PX
    drawn = group(
        parts,
        font_size=font,
        fill=theme.ink,
        dominant_baseline="central",
        data_role="legend",
    )
    return drawn, middle + line * 0.75 - top_px


def _spot_items(picture: FieldPicture, theme: Theme) -> list[LegendItem]:
    words = {
        SpotRole.BEST: "best spot",
        SpotRole.EQUAL: "as good",
        SpotRole.OTHER: "next best",
        SpotRole.HABIT: "usual habit",
    }
    present = {spot.role for spot in picture.spots}
    return [
        LegendItem(_spot_icon(role, theme), 16.0, words[role]) for role in words if role in present
    ]


def _spot_icon(role: SpotRole, theme: Theme) -> Icon:
    return lambda at: shape(role, at, 6.5, theme)


def _play_items(picture: FieldPicture, theme: Theme) -> list[LegendItem]:
    items = []
    if picture.mass is not None and float(picture.mass.sum()) > 0:
        narrow, middle, wide = (percent(share) for share in reversed(SHARES))
        words = f"{narrow}, {middle}, {wide} of plays end inside"
        items.append(LegendItem(_band_icon(theme), 42.0, words))
    if picture.best is not None and picture.rings:
        items.append(LegendItem(_stroke_icon(theme.accent, 1.8, None), 22.0, "reach"))
        if any(ring.nearest_yd > 0 for ring in picture.rings):
            items.append(LegendItem(_stroke_icon(theme.accent, 1.8, "2 4"), 22.0, "too near"))
    if picture.ball is not None:
        items.append(LegendItem(_stroke_icon(theme.ink, 2.4, None), 22.0, "line of scrimmage"))
    if picture.line_to_gain_x_yd is not None:
        items.append(LegendItem(_stroke_icon(theme.ink, 2.4, "6 4"), 24.0, "line to gain"))
    return items


def _band_icon(theme: Theme) -> Icon:
    def icon(at: Point) -> str:
        left, top = at[0] - 21.0, at[1] - 6.0
        return "".join(
            element(
                "rect",
                x=left + 14.0 * i,
                y=top,
                width=14,
                height=12,
                fill=fill,
                stroke=theme.band_edge,
                stroke_width=0.8,
            )
            for i, fill in enumerate(reversed(theme.band))
        )

    return icon


def _stroke_icon(color: str, width: float, dash: str | None) -> Icon:
    def icon(at: Point) -> str:
        data = f"M{at[0] - 11:.1f} {at[1]:.1f}h22"
        return element("path", d=data, stroke=color, stroke_width=width, stroke_dasharray=dash)

    return icon
