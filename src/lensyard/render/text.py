"""A report on a terminal: the headline first, figures as plain tables, cautions always.

Charts and fields are not drawn: a chart's data are one of the tables.
"""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

from lensyard.errors import require_range
from lensyard.render.report import Fact, Format, Report, Section, Table
from lensyard.render.words import format_value, sentence

GAP = "  "


LEAST_WIDTH = 40


# A column that is wrapped gets at least this much, whatever the others take. [characters]
LEAST_COLUMN = 16


def text_table(
    header: Sequence[str],
    rows: Sequence[Sequence[str]],
    *,
    wrap: int,
    left: Sequence[int] = (),
    width: int = 80,
) -> str:
    """Return a table as lines of plain text.

    Parameters
    ----------
    header, rows
        Cells; every row has as many as the header.
    wrap
        The column that is wrapped so that the table fits.
    left
        Columns that are set flush left besides the wrapped one; the others are numbers.
    width
        No line is longer unless a word is. [characters]

    Examples
    --------
    >>> print(text_table(["when", "usable"], [["red zone", "88%"]], wrap=0))
    when      usable
    red zone     88%
    """
    require_range(low=LEAST_WIDTH, high=400, width=width)
    cells = [tuple(header), *(tuple(row) for row in rows)]
    sizes = [max(len(row[i]) for row in cells) for i in range(len(header))]
    room = width - sum(size for i, size in enumerate(sizes) if i != wrap)
    room -= len(GAP) * (len(sizes) - 1)
    sizes[wrap] = min(sizes[wrap], max(room, LEAST_COLUMN))
    flush_left = {wrap, *left}
    lines = []
    for row in cells:
        parts = textwrap.wrap(row[wrap], sizes[wrap], break_long_words=False) or [""]
        for k, part in enumerate(parts):
            line = [
                (part if i == wrap else cell if k == 0 else "").ljust(sizes[i])
                if i in flush_left
                else (cell if k == 0 else "").rjust(sizes[i])
                for i, cell in enumerate(row)
            ]
            lines.append(GAP.join(line).rstrip())
    return "\n".join(lines)


def paragraph(text: str, *, width: int = 80, hang: int = 0) -> str:
    """Return a text wrapped to a width; further lines begin ``hang`` characters in."""
    return textwrap.fill(text, width, subsequent_indent=" " * hang, break_long_words=False)


def render_text(report: Report, *, width: int = 80, brief: bool = False) -> str:
    """Return a report as plain text that ends with a line break.

    Parameters
    ----------
    report
        What is said.
    width
        No line is longer unless a word is. [characters]
    brief
        Leave out what is only detail.
    """
    require_range(low=LEAST_WIDTH, high=400, width=width)
    said = report.brief() if brief else report
    blocks = [
        paragraph(sentence(said.headline), width=width),
        paragraph(" ".join(said.sentences), width=width),
        _facts(said.facts, width),
        *(_table(table, width) for table in said.tables),
        *(_section(section, width) for section in said.sections),
        _lines(said.cautions, width, before="Caution: "),
        _lines(said.notes, width),
        _lines(said.sources, width),
    ]
    text = "\n\n".join(block for block in blocks if block) + "\n"
    # Names and cells come from files: no character may steer the terminal.
    return "".join(c if c.isprintable() or c == "\n" else "?" for c in text)


def table_text(table: Table, *, width: int = 80) -> str:
    """Return a table as lines of plain text; one too wide continues below, first column repeated.

    >>> from lensyard.render.report import Column
    >>> columns = (Column("zone", "Zone"), Column("p", "Usable", Format.PERCENT))
    >>> print(table_text(Table("t", "", columns, (("red zone", 0.88),))))
    Zone      Usable
    red zone     88%
    """
    cells = [
        [format_value(row[i], column.format) for row in table.rows]
        for i, column in enumerate(table.columns)
    ]
    left = [column.format is Format.TEXT for column in table.columns]
    heads = [column.label for column in table.columns]
    least = [
        min(LEAST_COLUMN, _longest(body)) if flush else _longest(body)
        for body, flush in zip(cells, left, strict=True)
    ]
    least = [max(size, _longest(head.split())) for size, head in zip(least, heads, strict=True)]
    parts: list[list[int]] = [[0]]
    for i in range(1, len(heads)):
        taken = sum(least[k] + len(GAP) for k in parts[-1]) + least[i]
        if taken > width and len(parts[-1]) > 1:
            parts.append([0])
        parts[-1].append(i)
    return "\n\n".join(
        _part(
            [heads[i] for i in part],
            [cells[i] for i in part],
            [left[i] for i in part],
            [least[i] for i in part],
            width,
        )
        for part in parts
    )


def _part(
    heads: Sequence[str],
    cells: Sequence[Sequence[str]],
    left: Sequence[bool],
    least: Sequence[int],
    width: int,
) -> str:
    """Columns that fit beside each other; what room there is goes to the narrowest first."""
    sizes = [max(_longest(body), len(head)) for head, body in zip(heads, cells, strict=True)]
    while sum(sizes) + len(GAP) * (len(sizes) - 1) > width:
        slack = [(size, i) for i, size in enumerate(sizes) if size > least[i]]
        if not slack:
            break
        sizes[max(slack)[1]] -= 1
    lines = _row(heads, sizes, left)
    for row in zip(*cells, strict=True):
        lines += _row(row, sizes, left)
    return "\n".join(lines)


def _row(cells: Sequence[str], sizes: Sequence[int], left: Sequence[bool]) -> list[str]:
    wrapped = [
        textwrap.wrap(cell, size, break_long_words=False) if size else []
        for cell, size in zip(cells, sizes, strict=True)
    ]
    lines = []
    for k in range(max(1, *(len(parts) for parts in wrapped))):
        line = [
            (parts[k] if k < len(parts) else "").ljust(size)
            if flush
            else (parts[k] if k < len(parts) else "").rjust(size)
            for parts, size, flush in zip(wrapped, sizes, left, strict=True)
        ]
        lines.append(GAP.join(line).rstrip())
    return lines


def _longest(texts: Sequence[str]) -> int:
    return max((len(text) for text in texts), default=0)


def _facts(facts: Sequence[Fact], width: int) -> str:
    size = _longest([fact.label for fact in facts])
    return "\n".join(
        textwrap.fill(
            f"{fact.label:<{size}}{GAP}{format_value(fact.value, fact.format)}",
            width,
            subsequent_indent=" " * (size + len(GAP)),
            break_long_words=False,
        )
        for fact in facts
    )


def _table(table: Table, width: int) -> str:
    if not table.rows:
        return ""
    parts = (
        paragraph(table.title, width=width),
        table_text(table, width=width),
        paragraph(table.note, width=width),
    )
    return "\n".join(part for part in parts if part)


def _section(section: Section, width: int) -> str:
    return "\n".join((f"{section.title}:", _lines(section.lines, width, before="  ")))


def _lines(lines: Sequence[str], width: int, *, before: str = "") -> str:
    return "\n".join(
        textwrap.fill(
            line,
            width,
            initial_indent=before,
            subsequent_indent=" " * max(2, len(before) - len(before.lstrip()) + 2),
            break_long_words=False,
        )
        for line in lines
    )
