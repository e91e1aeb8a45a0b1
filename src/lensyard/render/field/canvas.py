"""A picture of the field while it is drawn: theme, scale, and which places labels have taken.

Labels find room by first fit among preferred places, never over a mark. The order of calls decides
who comes first, so the same picture gives the same result. Boxes are (left, top, right, bottom) in
pixels.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from lensyard.render.field.scale import Scale
from lensyard.render.svg import Attributes, Point, element, number, text, text_width_px
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

    Attributes
    ----------
    theme, scale
        Colors, and a pixel for every yard.
    taken
        Boxes of marks and labels so far.
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
