"""Parts of a page as HTML: figures with their text alternative, tables, and figures as CSV.

Classes begin with ``ly-``; all text is escaped, nothing is loaded from outside.
"""

from __future__ import annotations

import csv
import io
from base64 import b64encode
from collections.abc import Sequence

from lensyard.errors import InvalidInputError
from lensyard.render.report import Fact, Table
from lensyard.render.svg import clean, element
from lensyard.render.words import format_value

_TRIGGERS = ("=", "+", "-", "@", "\t", "\r", "\n")
"""A text that begins with one of these is a formula to a spreadsheet (OWASP, "CSV Injection")."""


def csv_text(header: Sequence[str], rows: Sequence[Sequence[object]]) -> str:
    """Return a table as CSV (RFC 4180); texts that a spreadsheet would run get an apostrophe.

    Raises
    ------
    InvalidInputError
        If a row has not as many cells as the header.

    Examples
    --------
    >>> csv_text(["place", "yd"], [["=1+1", -3]]).splitlines()
    ['place,yd', "'=1+1,-3"]
    """
    stream = io.StringIO()
    writer = csv.writer(stream)
    for row in (header, *rows):
        if len(row) != len(header):
            raise InvalidInputError(
                f"a row has {len(row)} cells for {len(header)} columns; give one cell a column"
            )
        writer.writerow([_safe(cell) for cell in row])
    return stream.getvalue()


def _safe(cell: object) -> object:
    if cell is None:
        return ""
    if isinstance(cell, int | float):
        return cell
    text = str(cell)
    return f"'{text}" if text.startswith(_TRIGGERS) else text


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


def picture_html(png: bytes, *, said: str, heading: str = "") -> str:
    """Return a figure from a PNG, with what it says in words."""
    title = element("h2", clean(heading)) if heading else ""
    address = f"data:image/png;base64,{b64encode(png).decode()}"
    picture = element("img", src=address, alt=said, class_="ly-picture")
    words = element("figcaption", clean(said), class_="ly-note")
    return element("section", title + element("figure", picture + words), class_="ly-figure")


def table_html(header: Sequence[str], rows: Sequence[Sequence[str]], *, caption: str = "") -> str:
    """Return a table; every cell knows its column, so that a phone can show rows as blocks."""
    head = "".join(element("th", clean(name), scope="col") for name in header)
    body = []
    for row in rows:
        first = element("th", clean(row[0]), scope="row")
        cells = "".join(
            element("td", clean(cell), data_label=name)
            for name, cell in zip(header[1:], row[1:], strict=True)
        )
        body.append(element("tr", first + cells))
    title = element("caption", clean(caption)) if caption else ""
    content = title + element("thead", element("tr", head)) + element("tbody", "".join(body))
    return element("table", content, class_="ly-table")


def report_table_html(table: Table) -> str:
    """Return a report's table, its cells written in their columns' formats, with its note."""
    formats = [column.format for column in table.columns]
    rows = [
        tuple(format_value(cell, form) for cell, form in zip(row, formats, strict=True))
        for row in table.rows
    ]
    header = [column.label for column in table.columns]
    note = element("p", clean(table.note), class_="ly-note") if table.note else ""
    return table_html(header, rows, caption=table.title) + note


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
        body = element("ul", "".join(element("li", clean(text)) for text in paragraphs))
    else:
        body = "".join(element("p", clean(text)) for text in paragraphs)
    head = element("h2", clean(title)) if title else ""
    return element("section", head + body, class_=css_class)


def lead_of(title: str, sentences: Sequence[str]) -> str:
    """Return the head of a page: its answer as the heading, and a sentence or two."""
    parts = [element("h1", clean(title))]
    parts += [element("p", clean(text), class_="ly-why") for text in sentences]
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
