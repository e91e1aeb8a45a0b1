"""A picture of the field while it is drawn: theme, scale, and which places labels have taken.

Labels find room by first fit among preferred places, never over a mark. The order of calls decides
who comes first, so the same picture gives the same result. Boxes are (left, top, right, bottom) in
pixels.

The offense attacks to the right of a horizontal picture and to the top of a vertical one; its left
sideline is on top or on the left.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from lensyard.domain.field import FIELD_LENGTH_YD, FIELD_WIDTH_YD, PlayPoint
from lensyard.errors import require_range
from lensyard.records import Record
from lensyard.render.field.picture import FieldPicture, Orientation
from lensyard.render.html import Attributes, Point, element, number, polyline, text, text_width_px
from lensyard.render.theme import Theme

Box = tuple[float, float, float, float]

CENTERED: Attributes = {
    "text_anchor": "middle",
    "dominant_baseline": "central",
}
GAP_PX = 4.0
_LINE_HEIGHT_EM = 1.15


@dataclass(slots=True)
class Canvas:
    """What every part of the drawing needs.

    - ``theme``, ``scale``: colors, and a pixel for every yard.
    - ``taken``: boxes of marks and labels so far.
    """

    theme: Theme
    scale: Scale
    taken: list[Box] = field(default_factory=list)

    def take_circle(self, at: Point, radius_px: float) -> None:
        """Take the square around a circle."""
        x, y = at
        self.taken.append((x - radius_px, y - radius_px, x + radius_px, y + radius_px))

    def take_rectangle(self, rectangle: dict[str, float]) -> None:
        """Take a rectangle as `Scale.box` returns it."""
        left, top = rectangle["x"], rectangle["y"]
        self.taken.append((left, top, left + rectangle["width"], top + rectangle["height"]))

    def is_free(self, box: Box) -> bool:
        """Whether a box lies inside the picture and touches nothing that is taken."""
        left, top, right, bottom = box
        width, height = self.scale.size_px
        if left < 1 or top < 1 or right > width - 1 or bottom > height - 1:
            return False
        return not any(
            left < other[2] and right > other[0] and top < other[3] and bottom > other[1]
            for other in self.taken
        )

    def room_for(
        self, content: str, font_px: float, places: Iterable[Point], *, may_shift: bool = True
    ) -> Point | None:
        """Take the first place with room for a text's middle; None if there is none.

        A place so near the rim that the text would leave the picture is moved inward, unless it may
        not shift.
        """
        left, top, right, bottom = text_box(content, (0.0, 0.0), font_px)
        width, height = self.scale.size_px
        for wanted in places:
            at = wanted
            if may_shift:
                at = (
                    min(max(wanted[0], 1.5 - left), width - 1.5 - right),
                    min(max(wanted[1], 1.5 - top), height - 1.5 - bottom),
                )
            box = text_box(content, at, font_px)
            if self.is_free(box):
                self.taken.append(box)
                return at
        return None

    def words(
        self,
        content: str,
        places: Iterable[Point],
        *,
        font_px: float | None = None,
        weight: str = "600",
        may_shift: bool = True,
    ) -> str:
        """Return a text with a halo on the first place with room for it; nothing without room."""
        size = self.scale.font_px if font_px is None else font_px
        at = self.room_for(content, size, places, may_shift=may_shift)
        if at is None:
            return ""
        return text(
            content,
            at,
            font_size=size,
            font_weight=weight,
            fill=self.theme.ink,
            stroke=self.theme.halo,
            stroke_width=3.5,
            stroke_linejoin="round",
            paint_order="stroke",
            **CENTERED,
        )

    def stroke(
        self,
        data: str,
        *,
        width_px: float,
        halo_px: float,
        dash: str | None = None,
        halo_opacity: str | None = None,
    ) -> str:
        """Return a path in ink over its halo, which is wider by so much."""
        wide = width_px + halo_px
        halo = element(
            "path", d=data, stroke=self.theme.halo, stroke_width=wide, opacity=halo_opacity
        )
        line: Attributes = {
            "stroke": self.theme.ink,
            "stroke_width": width_px,
            "stroke_dasharray": dash,
        }
        return halo + element("path", d=data, **line)


def text_box(content: str, at: Point, font_px: float, *, upright: bool = False) -> Box:
    """Return the box of a text around its middle; upright for text that runs along y."""
    half_w = text_width_px(content, font_px) / 2 + GAP_PX
    half_h = font_px * _LINE_HEIGHT_EM / 2
    if upright:
        half_w, half_h = half_h, half_w
    return at[0] - half_w, at[1] - half_h, at[0] + half_w, at[1] + half_h


def quarter_turn(at: Point) -> str:
    """Return the transform that makes a text at a place run upward."""
    return f"rotate(-90 {number(at[0])} {number(at[1])})"


_BEYOND_SETBACK_SIDE_YD = 6.5
_BEYOND_SETBACK_END_YD = 5.5  # horizontal; a vertical picture is smaller, its labels are not
_BEYOND_SETBACK_END_VERTICAL_YD = 7.0
_BEYOND_CLOSED_YD = 1.0


class Scale(Record):
    """A place for every yard in a picture.

    - ``px_per_yd``: the scale. [px/yd]
    - ``side_yd``, ``end_yd``: ground drawn beyond the sidelines and the end lines. [yd]
    - ``font_px``: size of usual text. [px]
    """

    orientation: Orientation
    px_per_yd: float
    side_yd: float
    end_yd: float
    font_px: float

    @property
    def is_vertical(self) -> bool:
        """Whether the field stands upright."""
        return self.orientation == Orientation.VERTICAL

    @property
    def size_px(self) -> Point:
        """Width and height of the ground, without a legend. [px]"""
        along = (FIELD_LENGTH_YD + 2 * self.end_yd) * self.px_per_yd
        across = (FIELD_WIDTH_YD + 2 * self.side_yd) * self.px_per_yd
        return (across, along) if self.is_vertical else (along, across)

    def at(self, x_yd: float, y_yd: float) -> Point:
        """Return the pixel of a place."""
        across = (FIELD_WIDTH_YD + self.side_yd - y_yd) * self.px_per_yd
        if self.is_vertical:
            return across, (FIELD_LENGTH_YD + self.end_yd - x_yd) * self.px_per_yd
        return (x_yd + self.end_yd) * self.px_per_yd, across

    def place(self, point: PlayPoint) -> Point:
        """Return the pixel of a point of the play."""
        return self.at(point.x_yd, point.y_yd)

    def line(self, *places: Point, closed: bool = False) -> str:
        """Return path data through places given in yards."""
        return polyline([self.at(x_yd, y_yd) for x_yd, y_yd in places], closed=closed)

    def box(
        self,
        *,
        x_min_yd: float = 0.0,
        x_max_yd: float = FIELD_LENGTH_YD,
        y_min_yd: float = 0.0,
        y_max_yd: float = FIELD_WIDTH_YD,
    ) -> dict[str, float]:
        """Return x, y, width and height of a rectangle; the field where no side is given. [px]"""
        ax, ay = self.at(x_min_yd, y_min_yd)
        bx, by = self.at(x_max_yd, y_max_yd)
        return {"x": min(ax, bx), "y": min(ay, by), "width": abs(ax - bx), "height": abs(ay - by)}

    @property
    def attack_deg(self) -> float:
        """Rotation that makes a mark drawn pointing right point in the direction of attack."""
        return -90.0 if self.is_vertical else 0.0

    def affine(self) -> str:
        """Return "a b c d e f" with x_yd = a px + b py + c and y_yd = d px + e py + f."""
        yd_per_px = 1.0 / self.px_per_yd
        far_x, far_y = FIELD_LENGTH_YD + self.end_yd, FIELD_WIDTH_YD + self.side_yd
        rows = (
            (0.0, -yd_per_px, far_x, -yd_per_px, 0.0, far_y)
            if self.is_vertical
            else (yd_per_px, 0.0, -self.end_yd, 0.0, -yd_per_px, far_y)
        )
        return " ".join(f"{value:.6g}" for value in rows)


def scale_of(picture: FieldPicture, *, orientation: Orientation, width_px: float) -> Scale:
    """Return the scale that fits the whole field with its surroundings into a width.

    Raises `OutOfRangeError` if the width is not between 280 and 4000 px.
    """
    require_range(low=280, high=4000, width_px=width_px)
    vertical = orientation == Orientation.VERTICAL
    side = picture.side_yd + _BEYOND_SETBACK_SIDE_YD
    end = picture.end_yd
    end += _BEYOND_SETBACK_END_VERTICAL_YD if vertical else _BEYOND_SETBACK_END_YD
    for mark in picture.closed:
        beyond_side = max(-mark.y_min_yd, mark.y_max_yd - FIELD_WIDTH_YD)
        beyond_end = max(-mark.x_min_yd, mark.x_max_yd - FIELD_LENGTH_YD)
        side = max(side, beyond_side + _BEYOND_CLOSED_YD)
        end = max(end, beyond_end + _BEYOND_CLOSED_YD)
    px_per_yd = width_px / (FIELD_WIDTH_YD + 2 * side if vertical else FIELD_LENGTH_YD + 2 * end)
    # Readable at arm's length on a phone (13 px), never shouting on a projector.
    return Scale(orientation, px_per_yd, side, end, min(max(13.0, 1.4 * px_per_yd), 22.0))
