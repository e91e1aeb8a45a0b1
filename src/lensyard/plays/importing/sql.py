"""Pieces of SQL from names and values that come from outside.

Everything that a file or a user brings reaches DuckDB through `identifier` or `literal`, or as a
parameter; nothing is pasted.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

_FLOATS = ("FLOAT", "DOUBLE", "DECIMAL")


def identifier(name: str) -> str:
    """Return a quoted SQL identifier.

    >>> identifier('a "b"')
    '"a ""b\"""'
    """
    return '"' + name.replace('"', '""') + '"'


def literal(text: str) -> str:
    """Return a quoted SQL text.

    >>> literal("it's")
    "'it''s'"
    """
    return "'" + text.replace("'", "''") + "'"


def listed(values: Iterable[str]) -> str:
    """Return texts as the inside of an SQL list.

    >>> listed(("run", "sack"))
    "'run', 'sack'"
    """
    return ", ".join(literal(value) for value in values)


def clock_seconds(text: str) -> str:
    """Return an SQL expression for the seconds of a clock such as 12:34, given as an expression."""
    return (
        f"try_cast(split_part({text}, ':', 1) AS INTEGER) * 60 "
        f"+ try_cast(split_part({text}, ':', 2) AS INTEGER)"
    )


@dataclass
class RawColumns:
    """The columns of a file, found by the names that an adapter knows them under.

    Attributes
    ----------
    types
        Column of the file -> its DuckDB type.
    names
        Field of an adapter -> names under which sources have it, best first.
    used
        The columns that were asked for so far, in the order of asking.
    cells
        Name of a cell read in its type -> its expression.
    """

    types: Mapping[str, str]
    names: Mapping[str, tuple[str, ...]]
    used: dict[str, None] = field(default_factory=dict)
    cells: dict[str, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Prepare the search: names match whatever their case."""
        self._spelled: dict[str, str] = {}
        for name in self.types:
            self._spelled.setdefault(name.lower(), name)

    def origin(self, key: str) -> str | None:
        """Return the column of the file that holds a field; None if there is none."""
        for candidate in self.names.get(key, (key,)):
            if candidate.lower() in self._spelled:
                return self._spelled[candidate.lower()]
        return None

    def has(self, key: str) -> bool:
        """Return whether the file has the field."""
        return self.origin(key) is not None

    def column(self, key: str) -> str:
        """Return the quoted column of a field, or ``NULL``."""
        name = self.origin(key)
        if name is None:
            return "NULL"
        self.used[name] = None
        return identifier(name)

    def _cell(self, name: str, expression: str) -> str:
        """Add a cell and return its name; expressions stay short that way."""
        self.cells[name] = expression
        return name

    def number(self, key: str) -> str:
        """Return the name of a field as a number; what is none becomes null."""
        return self._cell(f"n_{key}", f"try_cast({self.column(key)} AS DOUBLE)")

    def whole(self, key: str) -> str:
        """Return the name of a field as a whole number; what is none becomes null."""
        return self._cell(
            f"w_{key}", f"try_cast(round(try_cast({self.column(key)} AS DOUBLE)) AS INTEGER)"
        )

    def text(self, key: str) -> str:
        """Return the name of a field as text without blanks around it; empty and NA become null.

        Numbers that lost their type (a club's id as 194.0) are written as whole numbers.
        """
        name = self.origin(key)
        column = self.column(key)
        if name is not None and self.types[name].startswith(_FLOATS):
            column = f"try_cast(round({column}) AS HUGEINT)"
        trimmed = f"trim(CAST({column} AS VARCHAR))"
        return self._cell(f"t_{key}", f"nullif(nullif({trimmed}, ''), 'NA')")

    def lower(self, key: str) -> str:
        """Return the name of a field as text in lower case, '' where there is none."""
        column = f"lower(coalesce(trim(CAST({self.column(key)} AS VARCHAR)), ''))"
        return self._cell(f"l_{key}", column)

    def flag(self, key: str) -> str:
        """Return the name of a flag; 1, 1.0, true, T, yes and y are true, all else false."""
        name = self.origin(key)
        if name is None:
            return "false"
        column = self.column(key)
        kind = self.types[name]
        if kind == "BOOLEAN":
            return self._cell(f"f_{key}", f"coalesce({column}, false)")
        if kind == "VARCHAR":
            words = "'1', '1.0', 'true', 't', 'yes', 'y', 'x'"
            column = f"coalesce(lower(trim({column})) IN ({words}), false)"
            return self._cell(f"f_{key}", column)
        return self._cell(f"f_{key}", f"coalesce(try_cast({column} AS DOUBLE) = 1, false)")

    def cells_sql(self) -> str:
        """Return the query that reads the cells that were asked for."""
        parts = "".join(f", {expression} AS {name}" for name, expression in self.cells.items())
        return f"SELECT line{parts} FROM raw"
