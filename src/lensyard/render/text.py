"""A report on a terminal: the headline first, figures as plain tables, cautions always.

Charts and fields are not drawn: a chart's data are one of the tables.
"""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from itertools import zip_longest

from lensyard.errors import require_range
from lensyard.records import Record
from lensyard.render.report import Fact, Format, Report, Section, Table
from lensyard.render.words import format_value, sentence

GAP = "  "
LEAST_WIDTH = 40
# A column that is wrapped gets at least this much, whatever the others take. [characters]
LEAST_COLUMN = 16


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
        _filled(sentence(said.headline), width),
        _filled(" ".join(said.sentences), width),
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
    columns = [
        _TextColumn(
            column.label,
            tuple(format_value(row[i], column.format) for row in table.rows),
            column.format is Format.TEXT,
        )
        for i, column in enumerate(table.columns)
    ]
    parts = [[columns[0]]]
    for column in columns[1:]:
        taken = sum(other.least + len(GAP) for other in parts[-1]) + column.least
        if taken > width and len(parts[-1]) > 1:
            parts.append([columns[0]])
        parts[-1].append(column)
    return "\n\n".join(_beside(part, width) for part in parts)


class _TextColumn(Record):
    """A column in words; texts are flush left and may be wrapped, numbers are neither."""

    head: str
    cells: tuple[str, ...]
    is_text: bool

    @property
    def least(self) -> int:
        """How narrow it may become. [characters]"""
        body = _longest(self.cells)
        return max(min(LEAST_COLUMN, body) if self.is_text else body, _longest(self.head.split()))


def _beside(columns: Sequence[_TextColumn], width: int) -> str:
    """Columns beside each other; while they are too wide, the widest gives way."""
    sizes = [max(_longest(column.cells), len(column.head)) for column in columns]
    while sum(sizes) + len(GAP) * (len(sizes) - 1) > width:
        slack = [(size, i) for i, size in enumerate(sizes) if size > columns[i].least]
        if not slack:
            break
        sizes[max(slack)[1]] -= 1
    rows = zip(*((column.head, *column.cells) for column in columns), strict=True)
    return "\n".join(line for row in rows for line in _row(row, columns, sizes))


def _row(cells: Sequence[str], columns: Sequence[_TextColumn], sizes: Sequence[int]) -> list[str]:
    wrapped = [
        textwrap.wrap(cell, size, break_long_words=False) if size else []
        for cell, size in zip(cells, sizes, strict=True)
    ]
    lines = []
    for parts in zip_longest(*wrapped, fillvalue="") if any(wrapped) else [[""] * len(cells)]:
        placed = [
            part.ljust(size) if column.is_text else part.rjust(size)
            for part, column, size in zip(parts, columns, sizes, strict=True)
        ]
        lines.append(GAP.join(placed).rstrip())
    return lines


def _longest(texts: Sequence[str]) -> int:
    return max((len(text) for text in texts), default=0)


def _filled(text: str, width: int, *, before: str = "", hang: int = 0) -> str:
    """A text wrapped to a width; ``before`` begins its first line, ``hang`` blanks the others."""
    return textwrap.fill(
        text,
        width,
        initial_indent=before,
        subsequent_indent=" " * hang,
        break_long_words=False,
    )


def _facts(facts: Sequence[Fact], width: int) -> str:
    known = [(fact.label, format_value(fact.value, fact.format)) for fact in facts]
    known = [(label, value) for label, value in known if value]
    size = _longest([label for label, _ in known]) + len(GAP)
    return "\n".join(
        _filled(value, width, before=f"{label:<{size}}", hang=size) for label, value in known
    )


def _table(table: Table, width: int) -> str:
    if not table.rows:
        return ""
    parts = (
        _filled(table.title, width),
        table_text(table, width=width),
        _filled(table.note, width),
    )
    return "\n".join(part for part in parts if part)


def _section(section: Section, width: int) -> str:
    return "\n".join((f"{section.title}:", _lines(section.lines, width, before="  ")))


def _lines(lines: Sequence[str], width: int, *, before: str = "") -> str:
    hang = len(before) - len(before.lstrip()) + 2
    return "\n".join(_filled(line, width, before=before, hang=hang) for line in lines)
