"""A report as text, as JSON and as CSV: on a terminal and for other programs.

On a terminal the headline comes first, figures are plain tables, cautions are always there.
Charts and fields are not drawn: a chart's data are one of the tables.

As one JSON document: a result dataclass becomes JSON field by field; a field's metadata say
otherwise where the document does: ``field(metadata={"json": "evidence"})`` is written under that
name, ``{"json": None}`` is left out, and the fields of one with ``{"json": "*"}`` stand among those
of its owner.
"""

from __future__ import annotations

import io
import json
import textwrap
from collections.abc import Mapping, Sequence
from dataclasses import fields, is_dataclass
from datetime import date, time
from enum import Enum
from itertools import zip_longest
from math import isfinite
from pathlib import Path
from typing import Any

import numpy as np

from lensyard.domain.field import Direction
from lensyard.errors import InvalidInputError, require_range
from lensyard.records import Record
from lensyard.render.report import Fact, Format, Interval, Report, Section, Table, Value
from lensyard.render.words import format_value, sentence

GAP = "  "
LEAST_WIDTH = 40
# A column that is wrapped gets at least this much, whatever the others take. [characters]
LEAST_COLUMN = 16


def render_text(report: Report, *, width: int = 80, brief: bool = False) -> str:
    """Return a report as plain text that ends with a line break.

    - ``width``: no line is longer unless a word is. [characters]
    - ``brief``: leave out what is only detail.
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


SCHEMA_VERSION = 2
"""Raised when fields of a document change their meaning."""

CSV_DIGITS = 7
"""Significant digits of a number in CSV."""

_TRIGGERS = ("=", "+", "-", "@", "\t", "\r", "\n")
"""A text that begins with one of these is a formula to a spreadsheet (OWASP, "CSV Injection")."""


def document(
    result: object,
    *,
    model: Mapping[str, object] | None = None,
    cautions: Sequence[str] = (),
    schema_version: int = SCHEMA_VERSION,
) -> dict[str, Any]:
    """Return a result as one JSON document.

    - ``result``: a dataclass or a mapping.
    - ``model``, ``cautions``: beside it; a result that has fields of these names needs none.
    - ``schema_version``: comes first.

    Raises `InvalidInputError` if the result, or something in it, has no form in JSON.
    """
    found = plain(result)
    if not isinstance(found, dict):
        raise InvalidInputError(
            f"a document is made of a dataclass or a mapping; got {type(result).__name__}"
        )
    made = {"schema_version": schema_version, **found}
    if model is not None:
        made["model"] = plain(model)
    if cautions:
        made["cautions"] = list(cautions)
    return made


def plain(value: object) -> Any:
    """Return a value as JSON has it; a number that is not finite becomes null.

    >>> from lensyard.render.report import Interval
    >>> plain({"gain": Interval(1.0, 0.5, float("inf")), "at": (1, 2)})
    {'gain': {'value': 1.0, 'low': 0.5, 'high': None}, 'at': [1, 2]}
    """
    if value is None or isinstance(value, bool):
        return value
    if isinstance(value, Direction):
        return "toward B" if value is Direction.TOWARD_B else "toward A"
    if isinstance(value, Enum):
        return plain(value.value)
    if isinstance(value, str | int):
        return value
    if isinstance(value, float):
        return value if isfinite(value) else None
    if is_dataclass(value) and not isinstance(value, type):
        return _of_dataclass(value)
    if isinstance(value, Mapping):
        return {str(plain(key)): plain(item) for key, item in value.items()}
    if isinstance(value, np.ndarray | np.generic):
        return plain(value.tolist())
    if isinstance(value, list | tuple):
        return [plain(item) for item in value]
    if isinstance(value, set | frozenset):
        return sorted(plain(item) for item in value)
    if isinstance(value, date | time):
        return value.isoformat().replace("+00:00", "Z")
    if isinstance(value, Path):
        return str(value)
    raise InvalidInputError(f"a {type(value).__name__} has no form in JSON; got {value!r}")


def _of_dataclass(value: Any) -> dict[str, Any]:
    made: dict[str, Any] = {}
    for part in fields(value):
        name = part.metadata.get("json", part.name)
        if name is None:
            continue
        item = plain(getattr(value, part.name))
        if name == "*":
            made.update(item)
        else:
            made[name] = item
    return made


def json_text(made: Mapping[str, Any]) -> str:
    """Return a document as indented text.

    >>> print(json_text({"schema_version": 1}))
    {
      "schema_version": 1
    }
    """
    return json.dumps(made, indent=2, allow_nan=False)


def csv_text(table: Table) -> str:
    """Return a table's raw values as CSV (RFC 4180) under the keys of its columns.

    An interval takes three columns: its value, ``_low`` and ``_high``. Texts that a spreadsheet
    would run get an apostrophe.

    >>> from lensyard.render.report import Column, Interval
    >>> columns = (Column("place", "Place"), Column("gain", "Gain"))
    >>> csv_text(Table("t", "", columns, (("=1+1", Interval(3.0, 2.0, 4.0)),))).splitlines()
    ['place,gain,gain_low,gain_high', "'=1+1,3.0,2.0,4.0"]
    """
    import csv

    stream = io.StringIO()
    writer = csv.writer(stream)
    wide = [
        any(isinstance(cell, Interval) for cell in table.column(column.key))
        for column in table.columns
    ]
    header: list[str] = []
    for column, triple in zip(table.columns, wide, strict=True):
        key = column.key
        header += [key, f"{key}_low", f"{key}_high"] if triple else [key]
    writer.writerow(header)
    for row in table.rows:
        cells: list[object] = []
        for cell, triple in zip(row, wide, strict=True):
            cells += _three(cell) if triple else [_csv_cell(cell)]
        writer.writerow(cells)
    return stream.getvalue()


def _three(cell: Value) -> list[object]:
    if isinstance(cell, Interval):
        return [_csv_cell(cell.value), _csv_cell(cell.low), _csv_cell(cell.high)]
    return [_csv_cell(cell), "", ""]


def _csv_cell(cell: Value) -> object:
    if cell is None:
        return ""
    if isinstance(cell, float):
        return float(f"{cell:.{CSV_DIGITS}g}") if isfinite(cell) else ""
    if isinstance(cell, str):
        return f"'{cell}" if cell.startswith(_TRIGGERS) else cell
    return cell
