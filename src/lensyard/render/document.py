"""A result as one JSON document, and a report's table as CSV: for other programs.

A result dataclass becomes JSON field by field; a field's metadata say otherwise where the document
does: ``field(metadata={"json": "evidence"})`` is written under that name, ``{"json": None}`` is
left out, and the fields of one with ``{"json": "*"}`` stand among those of its owner.
"""

from __future__ import annotations

import io
import json
from collections.abc import Mapping, Sequence
from dataclasses import fields, is_dataclass
from datetime import date, time
from enum import Enum
from math import isfinite
from pathlib import Path
from typing import Any

import numpy as np

from lensyard.domain.field import Direction
from lensyard.errors import InvalidInputError
from lensyard.render.report import Interval, Table, Value

SCHEMA_VERSION = 1
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

    Parameters
    ----------
    result
        A dataclass or a mapping.
    model, cautions
        Beside it; a result that has fields of these names needs none.
    schema_version
        Comes first.

    Raises
    ------
    InvalidInputError
        If the result, or something in it, has no form in JSON.
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
