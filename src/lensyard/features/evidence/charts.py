"""Figures with their intervals as SVG; only the review's page still draws them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from lensyard.errors import InvalidInputError
from lensyard.render.svg import FONT_FAMILY, element, group, number, shortened, text
from lensyard.render.theme import Theme

_FONT_PX = 13.0


@dataclass(frozen=True, slots=True)
class IntervalRow:
    """One figure with its interval; ``strong`` sets it apart."""

    name: str
    value: float
    low: float
    high: float
    shown: str
    strong: bool = False


def interval_svg(
    rows: Sequence[IntervalRow], *, theme: Theme, wide: bool = True, unit: str = "%"
) -> str:
    """Return the rows as SVG text; the scale starts at 0 for shares, else close to the figures."""
    if not rows:
        raise InvalidInputError("an interval plot needs at least one row")
    width = 760.0 if wide else 370.0
    line = 34.0 if wide else 46.0
    name_px = 230.0 if wide else 0.0
    shown_px = 74.0
    low, high = min(row.low for row in rows), max(row.high for row in rows)
    start = 0.0 if unit == "%" else low - (high - low) * 0.15
    end = high + (high - start) * 0.04
    scale = (width - name_px - shown_px - 20.0) / (end - start)
    parts = []
    for i, row in enumerate(rows):
        y = 12.0 + i * line + (0.0 if wide else 18.0)
        base = name_px + 8.0
        weight = "700" if row.strong else "400"
        color = theme.accent if row.strong else theme.ink
        room = name_px - 10 if wide else width - 10
        name = shortened(row.name, font_px=_FONT_PX, room_px=room)
        if wide:
            parts.append(text(name, (name_px, y + 5), text_anchor="end", font_weight=weight))
        else:
            parts.append(text(name, (base, y - 9), font_weight=weight))
        a, b, m = (base + (v - start) * scale for v in (row.low, row.high, row.value))
        parts.append(
            element("line", x1=base, x2=width - shown_px, y1=y, y2=y, stroke=theme.surround)
        )
        parts.append(element("line", x1=a, x2=b, y1=y, y2=y, stroke=color, stroke_width=3.0))
        parts += [
            element("line", x1=end, x2=end, y1=y - 7, y2=y + 7, stroke=color, stroke_width=2.0)
            for end in (a, b)
        ]
        parts.append(element("circle", cx=m, cy=y, r=4.0, fill=color))
        parts.append(
            text(row.shown, (width - 6, y + 5), text_anchor="end", font_weight="700", fill=color)
        )
    return _page(parts, theme, width=width, height=12.0 + len(rows) * line)


def _page(parts: Sequence[str], theme: Theme, *, width: float, height: float) -> str:
    return element(
        "svg",
        element("rect", width=width, height=height, fill=theme.page)
        + group(parts, font_size=_FONT_PX, fill=theme.ink),
        xmlns="http://www.w3.org/2000/svg",
        viewBox=f"0 0 {number(width)} {number(height)}",
        width=width,
        height=height,
        font_family=FONT_FAMILY,
    )
