"""The legend under the field picture: only what is in the picture, in as many lines as it takes."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from lensyard.render.field.canvas import Canvas
from lensyard.render.field.density import SHARES
from lensyard.render.field.picture import FieldPicture, SpotRole
from lensyard.render.field.spots import shape
from lensyard.render.svg import Attributes, Point, element, group, text, text_width_px
from lensyard.render.theme import Theme
from lensyard.render.words import percent

_ICON_GAP_PX = 6.0
_ITEM_GAP_PX = 18.0

Icon = Callable[[Point], str]


@dataclass(frozen=True, slots=True)
class LegendItem:
    """An icon of a width and the words beside it."""

    icon: Icon
    icon_width_px: float
    words: str


def legend_of(picture: FieldPicture, canvas: Canvas) -> tuple[str, float]:
    """Return the legend below the ground, and its height. [px]"""
    items = [*_spot_items(picture, canvas.theme), *_play_items(picture, canvas.theme)]
    if not items:
        return "", 0.0
    width, top = canvas.scale.size_px
    font = max(canvas.scale.font_px * 0.95, 11.0)
    line = font * 1.9
    left = pad = 10.0
    middle = top + line * 0.75
    parts = []
    for item in items:
        wide = item.icon_width_px + _ICON_GAP_PX + text_width_px(item.words, font)
        if left > pad and left + wide > width - pad:
            left, middle = pad, middle + line
        parts.append(item.icon((left + item.icon_width_px / 2, middle)))
        parts.append(text(item.words, (left + item.icon_width_px + _ICON_GAP_PX, middle)))
        left += wide + _ITEM_GAP_PX
    style: Attributes = {
        "font_size": font,
        "fill": canvas.theme.ink,
        "dominant_baseline": "central",
    }
    return group(parts, **style, data_role="legend"), middle + line * 0.75 - top


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
        size = {"y": top, "width": 14, "height": 12, "stroke_width": 0.8}
        return "".join(
            element("rect", x=left + 14.0 * i, **size, fill=fill, stroke=theme.band_edge)
            for i, fill in enumerate(reversed(theme.band))
        )

    return icon


def _stroke_icon(color: str, width: float, dash: str | None) -> Icon:
    def icon(at: Point) -> str:
        data = f"M{at[0] - 11:.1f} {at[1]:.1f}h22"
        return element("path", d=data, stroke=color, stroke_width=width, stroke_dasharray=dash)

    return icon
