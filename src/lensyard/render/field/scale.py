"""From yards in the play's coordinates to pixels.

The offense attacks to the right of a horizontal picture and to the top of a vertical one; its left
sideline is on top or on the left.
"""

from __future__ import annotations

from dataclasses import dataclass

from lensyard.domain.field import FIELD_LENGTH_YD, FIELD_WIDTH_YD, PlayPoint
from lensyard.errors import require_range
from lensyard.render.field.picture import FieldPicture, Orientation
from lensyard.render.svg import Point, polyline

_BEYOND_SETBACK_SIDE_YD = 6.5
_BEYOND_SETBACK_END_YD = 5.5  # horizontal; a vertical picture is smaller, its labels are not
_BEYOND_SETBACK_END_VERTICAL_YD = 7.0
_BEYOND_CLOSED_YD = 1.0


@dataclass(frozen=True, slots=True)
class Scale:
    """A place for every yard in a picture.

    Attributes
    ----------
    orientation
        Which way the field lies.
    px_per_yd
        The scale. [px/yd]
    side_yd, end_yd
        Ground drawn beyond the sidelines and the end lines. [yd]
    font_px
        Size of usual text. [px]
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

    Raises
    ------
    OutOfRangeError
        If the width is not between 280 and 4000 px.
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
    # Readable at arm's length on a phone (11 px), never shouting on a projector.
    return Scale(orientation, px_per_yd, side, end, min(max(11.0, 1.4 * px_per_yd), 22.0))
