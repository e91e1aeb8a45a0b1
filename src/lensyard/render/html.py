"""Parts of a page as HTML: the answer, tables, sections, and pictures with their words.

Classes begin with ``ly-``; all text is escaped, nothing is loaded from outside.
"""

from __future__ import annotations

import re
from base64 import b64encode
from collections.abc import Iterable, Sequence
from functools import cache
from html import escape

from lensyard.render.report import Fact, Table
from lensyard.render.words import format_value

_RANGE = re.compile(r"\d+-\d+")
"""Two yards with a hyphen, which no line may break."""
SHORT_CELL = 18
"""Cells of at most so many letters stay on one line where the screen is wide."""


def figure_html(wide: str, narrow: str, *, alt_text: str, heading: str = "") -> str:
    """Return a figure: the drawing for wide and for narrow screens, and what it says in words."""
    title = element("h2", clean(heading)) if heading else ""
    pictures = "".join(
        element("img", src=_data_address(svg), alt=alt_text, class_=f"ly-figure-{size}")
        for svg, size in ((wide, "wide"), (narrow, "narrow"))
    )
    words = element("figcaption", clean(alt_text), class_="ly-note")
    return element("section", title + element("figure", pictures + words), class_="ly-figure")


def _data_address(svg: str) -> str:
    return f"data:image/svg+xml;base64,{b64encode(svg.encode()).decode()}"


def table_html(table: Table) -> str:
    """Return a table with its note; a cell knows its column, so a phone can show rows as blocks."""
    labels = [column.label for column in table.columns]
    head = "".join(element("th", clean(label), scope="col") for label in labels)
    body = []
    for row in table.rows:
        first, *rest = (
            format_value(cell, column.format)
            for cell, column in zip(row, table.columns, strict=True)
        )
        cells = "".join(
            element(
                "td",
                clean(cell),
                data_label=label,
                class_="ly-short" if len(cell) <= SHORT_CELL else None,
            )
            for label, cell in zip(labels[1:], rest, strict=True)
        )
        body.append(element("tr", element("th", clean(first), scope="row") + cells))
    title = element("caption", clean(table.title)) if table.title else ""
    content = title + element("thead", element("tr", head)) + element("tbody", "".join(body))
    note = element("p", clean(table.note), class_="ly-note") if table.note else ""
    return element("table", content, class_="ly-table") + note


def facts_html(facts: Sequence[Fact]) -> str:
    """Return figures of the answer, each with its label."""
    parts = (
        element(
            "div",
            element("dt", clean(fact.label))
            + element("dd", clean(format_value(fact.value, fact.format))),
        )
        for fact in facts
    )
    return element("dl", "".join(parts), class_="ly-figures")


def folded_html(summary: str, content: str) -> str:
    """Return HTML that is shown on demand."""
    return element("details", element("summary", clean(summary)) + content, class_="ly-fold")


def section_html(
    title: str, paragraphs: Sequence[str], *, listed: bool = False, css_class: str = "ly-section"
) -> str:
    """Return a section of sentences, or of a list of them; the title may be empty."""
    if listed:
        body = element("ul", "".join(element("li", _words(text)) for text in paragraphs))
    else:
        body = "".join(element("p", _words(text)) for text in paragraphs)
    head = element("h2", clean(title)) if title else ""
    return element("section", head + body, class_=css_class)


def _words(text: str) -> str:
    """Return a sentence, what stands between backticks as code."""
    return re.sub("`([^`]+)`", r"<code>\1</code>", clean(text))


def lead_html(title: str, sentences: Sequence[str]) -> str:
    """Return the head of a page: its answer as the heading, and a sentence or two."""
    unbroken = _RANGE.sub(r'<span class="ly-nobr">\g<0></span>', clean(title))
    parts = [element("h1", unbroken)]
    parts += [element("p", _words(text), class_="ly-why") for text in sentences]
    return element("section", "".join(parts), class_="ly-lead")


def progress_html(done: int, of: int) -> str:
    """Return how much of a series is done, as a bar that is read as words."""
    share = 100 * done / max(of, 1)
    return element(
        "div",
        element("i", "", class_="ly-fill", style=f"width:{share:.0f}%"),
        class_="ly-bar ly-progress",
        role="img",
        aria_label=f"{done} of {of} answered",
    )


FONT_FAMILY = "system-ui, -apple-system, 'Segoe UI', Roboto, 'Helvetica Neue', Arial, sans-serif"

# Mean advance of a glyph in the families above, as a share of the font size: from memory, on the
# safe side for mixed text. Only label placement depends on it.
GLYPH_WIDTH_EM = 0.55

# What XML 1.0 allows (production 2, "Char"); anything else would make the document unreadable.
_NOT_XML = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
# The same and the five signs that stand for something in an attribute, in one set: it is fast.
_TO_ESCAPE = re.compile("[^\t\n\r !#-%(-;=?-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
_NO_DECIMAL = re.compile(r"\.0(?!\d)")
_NEGATIVE_ZERO = re.compile(r"-0(?![.\d])")
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


def path_data(steps: str, coordinates: Sequence[float]) -> str:
    """Return path data; ``steps`` has a ``%.1f`` for each coordinate, written as by `number`.

    >>> path_data("M%.1f %.1fh%.1f", (12.0, -0.04, 100.26))
    'M12 0h100.3'
    """
    return _NEGATIVE_ZERO.sub("0", _NO_DECIMAL.sub("", steps % tuple(coordinates)))


def element(name: str, content: str | None = None, /, **values: str | float | None) -> str:
    """Return an element; ``content`` must already be escaped or built by this module.

    Of attributes ``None`` leaves one out, and ``_`` becomes ``-``.
    """
    head = name
    for key, value in values.items():
        if value is not None:
            text = value if isinstance(value, str) else number(value)
            if text is value and _TO_ESCAPE.search(text):
                text = escape(_NOT_XML.sub("", text))
            head += f' {_attribute(key)}="{text}"'
    return f"<{head}/>" if content is None else f"<{head}>{content}</{name}>"


@cache
def _attribute(key: str) -> str:
    return key.rstrip("_").replace("_", "-")


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
