"""Parts of a page as HTML: the answer, tables, sections, and pictures with their words.

Classes begin with ``ly-``; all text is escaped, nothing is loaded from outside.
"""

from __future__ import annotations

import re
from base64 import b64encode
from collections.abc import Sequence

from lensyard.render.report import Fact, Table
from lensyard.render.svg import clean, element
from lensyard.render.words import format_value


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
            element("td", clean(cell), data_label=label)
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
    parts = [element("h1", clean(title))]
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
