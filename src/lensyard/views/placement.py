"""Finding room for labels: first fit among preferred places, never over a mark.

Boxes are (left, top, right, bottom) in pixels. The order of calls decides who comes first, so the
result is the same for the same picture.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from lensyard.views.svg import Point, text_width_px

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
