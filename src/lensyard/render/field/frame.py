"""From yards in the play frame to pixels in a picture, and back.

The convention: unless the stadium frame is asked for, the offense attacks to the right of a
horizontal picture and to the top of a vertical one, and its left sideline is on top or on the left.
In the stadium frame end B is on the right or on top, so an offense that attacks end A goes the
other way.
"""

from __future__ import annotations

from dataclasses import dataclass

from lensyard.domain.field import FIELD_LENGTH_YD, FIELD_WIDTH_YD, Direction, PlayPoint
from lensyard.errors import require_range
from lensyard.render.field.picture import FieldPicture, Orientation
from lensyard.render.svg import Point

_BEYOND_SETBACK_SIDE_YD = 6.5
_BEYOND_SETBACK_END_YD = 5.5  # horizontal; a vertical picture is smaller, its labels are not
_BEYOND_SETBACK_END_VERTICAL_YD = 7.0
_BEYOND_CLOSED_YD = 1.0


@dataclass(frozen=True, slots=True)
class Frame:
    """A place for every yard in a picture.

    Attributes
    ----------
    orientation
        Which way the field lies.
    turned
        Whether the play frame is turned by 180 degrees (attack to the left or to the bottom).
    px_per_yd
        The scale. [px/yd]
    side_yd, end_yd
        Ground drawn beyond the sidelines and the end lines. [yd]
    font_px
        Size of usual text. [px]
    """

    orientation: Orientation
    turned: bool
    px_per_yd: float
    side_yd: float
    end_yd: float
    font_px: float

    @property
    def is_vertical(self) -> bool:
        """Whether the field stands upright."""
        return self.orientation == Orientation.VERTICAL

    @property
    def surround_px(self) -> Point:
        """Width and height of the ground, without a legend. [px]"""
        along = (FIELD_LENGTH_YD + 2 * self.end_yd) * self.px_per_yd
        across = (FIELD_WIDTH_YD + 2 * self.side_yd) * self.px_per_yd
        return (across, along) if self.is_vertical else (along, across)

    def at(self, x_yd: float, y_yd: float) -> Point:
        """Return the pixel of a place in the play frame."""
        if self.turned:
            x_yd, y_yd = FIELD_LENGTH_YD - x_yd, FIELD_WIDTH_YD - y_yd
        across = (FIELD_WIDTH_YD + self.side_yd - y_yd) * self.px_per_yd
        if self.is_vertical:
            return across, (FIELD_LENGTH_YD + self.end_yd - x_yd) * self.px_per_yd
        return (x_yd + self.end_yd) * self.px_per_yd, across

    def place(self, point: PlayPoint) -> Point:
        """Return the pixel of a point of the play."""
        return self.at(point.x_yd, point.y_yd)

    def play_place(self, px: float, py: float) -> PlayPoint:
        """Return the point of the play at a pixel; the inverse of `at`."""
        if self.is_vertical:
            x_yd = FIELD_LENGTH_YD + self.end_yd - py / self.px_per_yd
            y_yd = FIELD_WIDTH_YD + self.side_yd - px / self.px_per_yd
        else:
            x_yd = px / self.px_per_yd - self.end_yd
            y_yd = FIELD_WIDTH_YD + self.side_yd - py / self.px_per_yd
        if self.turned:
            x_yd, y_yd = FIELD_LENGTH_YD - x_yd, FIELD_WIDTH_YD - y_yd
        return PlayPoint(x_yd, y_yd)

    def box(
        self, *, x_min_yd: float, x_max_yd: float, y_min_yd: float, y_max_yd: float
    ) -> tuple[float, float, float, float]:
        """Return left, top, width and height of a rectangle of the play frame. [px]"""
        ax, ay = self.at(x_min_yd, y_min_yd)
        bx, by = self.at(x_max_yd, y_max_yd)
        return min(ax, bx), min(ay, by), abs(ax - bx), abs(ay - by)

    @property
    def attack_deg(self) -> float:
        """Rotation that makes a mark drawn pointing right point in the direction of attack."""
        base = -90.0 if self.is_vertical else 0.0
        return base + (180.0 if self.turned else 0.0)

    def affine(self) -> str:
        """Return "a b c d e f" with x_yd = a px + b py + c and y_yd = d px + e py + f."""
        origin = self.play_place(0.0, 0.0)
        right, down = self.play_place(1.0, 0.0), self.play_place(0.0, 1.0)
        rows = (
            (right.x_yd - origin.x_yd, down.x_yd - origin.x_yd, origin.x_yd),
            (right.y_yd - origin.y_yd, down.y_yd - origin.y_yd, origin.y_yd),
        )
        return " ".join(f"{value:.6g}" for row in rows for value in row)


def frame_of(
    picture: FieldPicture, *, orientation: Orientation, width_px: float, stadium: bool
) -> Frame:
    """Return the frame that fits the whole field with its surroundings into a width.

    Raises
    ------
    OutOfRangeError
        If the width is not between 280 and 4000 px.
    """
    require_range(low=280, high=4000, width_px=width_px)
    side = picture.side_yd + _BEYOND_SETBACK_SIDE_YD
    vertical = orientation == Orientation.VERTICAL
    end = picture.end_yd
    end += _BEYOND_SETBACK_END_VERTICAL_YD if vertical else _BEYOND_SETBACK_END_YD
    for mark in picture.closed:
        side = max(side, -mark.y_min_yd + _BEYOND_CLOSED_YD)
        side = max(side, mark.y_max_yd - FIELD_WIDTH_YD + _BEYOND_CLOSED_YD)
        end = max(end, -mark.x_min_yd + _BEYOND_CLOSED_YD)
        end = max(end, mark.x_max_yd - FIELD_LENGTH_YD + _BEYOND_CLOSED_YD)
    across_yd = FIELD_WIDTH_YD + 2 * side if vertical else FIELD_LENGTH_YD + 2 * end
    scale = width_px / across_yd
    # Readable at arm's length on a phone (11 px), never shouting on a projector.
    font = min(max(11.0, 1.4 * scale), 22.0)
    turned = stadium and picture.direction == Direction.TOWARD_A
    return Frame(orientation, turned, scale, side, end, font)
