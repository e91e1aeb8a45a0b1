"""Writing SVG: escaping, short numbers, and the few elements that the drawings need.

Drawings are strings of UTF-8 text without scripts, fonts or any other outside resource; the same
input gives the same bytes.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from html import escape  # what it leaves, &#x27; included, is XML too; saxutils imports urllib

FONT_FAMILY = "system-ui, -apple-system, 'Segoe UI', Roboto, 'Helvetica Neue', Arial, sans-serif"
# Mean advance of a glyph in the families above, as a share of the font size: from memory, on the
# safe side for mixed text. Only label placement depends on it.
GLYPH_WIDTH_EM = 0.55

# What XML 1.0 allows (production 2, "Char"); anything else would make the document unreadable.
_NOT_XML = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")

Point = tuple[float, float]
Attributes = dict[str, str | float | None]


def clean(text: str) -> str:
    """Return text for use between tags: escaped, without characters that XML forbids.

    >>> clean("<b> & 'x'")
    "&lt;b&gt; &amp; 'x'"
    """
    return escape(_NOT_XML.sub("", text), quote=False)


def number(value: float) -> str:
    """Return a coordinate with at most one decimal and no needless characters.

    >>> [number(v) for v in (12.0, 3.14159, -0.04, 100.26)]
    ['12', '3.1', '0', '100.3']
    """
    text = f"{value:.1f}"
    text = text.removesuffix(".0")
    return "0" if text == "-0" else text


def attributes(values: dict[str, str | float | None]) -> str:
    """Return attributes with a leading blank; ``None`` leaves one out, ``_`` becomes ``-``."""
    parts = []
    for name, value in values.items():
        if value is None:
            continue
        text = value if isinstance(value, str) else number(value)
        parts.append(f' {name.rstrip("_").replace("_", "-")}="{escape(_NOT_XML.sub("", text))}"')
    return "".join(parts)


def element(name: str, content: str | None = None, /, **values: str | float | None) -> str:
    """Return an element; ``content`` must already be escaped or built by this module."""
    if content is None:
        return f"<{name}{attributes(values)}/>"
    return f"<{name}{attributes(values)}>{content}</{name}>"


def group(parts: Iterable[str], **values: str | float | None) -> str:
    """Return a ``<g>`` around parts; nothing if there are none."""
    content = "".join(parts)
    return element("g", content, **values) if content else ""


def text(content: str, at: Point, **values: str | float | None) -> str:
    """Return text at a point; the content is escaped here."""
    return element("text", clean(content), x=at[0], y=at[1], **values)


def polyline(points: Iterable[Point], *, closed: bool = False) -> str:
    """Return path data through points, in relative steps to save bytes."""
    data: list[str] = []
    last = (0.0, 0.0)
    for px, py in points:
        if not data:
            data.append(f"M{number(px)} {number(py)}")
            last = (round(px, 1), round(py, 1))
            continue
        dx, dy = px - last[0], py - last[1]
        data.append(f"l{number(dx)} {number(dy)}")
        last = (last[0] + round(dx, 1), last[1] + round(dy, 1))
    return "".join(data) + ("z" if closed and data else "")


def text_width_px(content: str, font_px: float) -> float:
    """Return about how wide a text is. [px]"""
    return len(content) * font_px * GLYPH_WIDTH_EM


def shortened(content: str, *, font_px: float, room_px: float) -> str:
    """Return the text cut to a room, with an ellipsis where something is missing."""
    if text_width_px(content, font_px) <= room_px:
        return content
    keep = int(room_px / (font_px * GLYPH_WIDTH_EM)) - 1
    return content[:keep].rstrip() + "…" if keep > 0 else ""
