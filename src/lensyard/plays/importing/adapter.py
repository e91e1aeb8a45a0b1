"""What a source is (an `Adapter`), the fields that it maps, and the known sources.

Everything that a file or a user brings reaches DuckDB through `identifier` or `literal`, or as a
parameter; nothing is pasted.

An adapter knows one source: under which names its files hold what, and how that reads as football.
It returns one SQL expression for each field of `STAGED_COLUMNS`; everything else (order, checks,
repairs, possessions, the store) is the same for all sources.

To add one: write an `Adapter` in a module beside this one, add it to `_SOURCES`, and give the tests
an invented file of its shape.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from importlib import import_module
from pathlib import Path
from typing import Final

from lensyard.errors import DataError, InvalidInputError, UnknownNameError
from lensyard.records import Record

_FLOATS = ("FLOAT", "DOUBLE", "DECIMAL")


def identifier(name: str) -> str:
    """Return a quoted SQL identifier.

    >>> identifier('a "b"')
    '"a ""b\"""'
    """
    return '"' + name.replace('"', '""') + '"'


def parquet_files(paths: Iterable[Path]) -> str:
    """Return the SQL that reads Parquet files of the program's own, exactly these.

    Characters that DuckDB would take for a pattern are escaped, and folders such as ``season=1999``
    are no columns.
    """
    listed = ", ".join(literal(without_pattern(str(path))) for path in paths)
    return f"read_parquet([{listed}], union_by_name=true, hive_partitioning=false)"


def without_pattern(path: str) -> str:
    """Return a path that DuckDB does not take for a pattern.

    >>> without_pattern("plays[1]*.csv")
    'plays[[]1][*].csv'
    """
    return "".join(f"[{c}]" if c in "*?[" else c for c in path)


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

    `types`: Column of the file -> its DuckDB type.
    `names`: Field of an adapter -> names under which sources have it, best first.
    `used`: The columns that were asked for so far, in the order of asking.
    `cells`: Name of a cell read in its type -> its expression.
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

    def known_flag(self, key: str) -> str:
        """Return the name of a flag, or ``NULL`` where the file does not have it."""
        return self.flag(key) if self.has(key) else "NULL"

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


LEVELS: Final = ("pro", "college", "high-school", "other")
_TEXTS: Final = (
    "game_id", "season_type", "same_key", "home_club", "away_club", "offense", "defense", "kind",
    "side", "depth", "gap", "kick_result", "hash_mark", "inference", "skip",
)  # fmt: skip
_WHOLE_NUMBERS: Final = (
    "season", "week", "quarter", "clock_s", "down", "distance_yd", "yardline_100", "score_diff",
    "gain_yd", "air_yd", "after_catch_yd", "kick_distance_yd", "return_yd", "home_after",
    "away_after",
)  # fmt: skip
FLAGS: Final = (
    "out_of_bounds", "touchdown", "return_touchdown", "safety", "turnover", "penalty",
)  # fmt: skip
STAGED_COLUMNS: Final[dict[str, str]] = {
    **dict.fromkeys(_TEXTS, "VARCHAR"),
    **dict.fromkeys(_WHOLE_NUMBERS, "INTEGER"),
    **dict.fromkeys((*FLAGS, "first_down"), "BOOLEAN"),
    "order_key": "DOUBLE",
}
"""Field -> type of what an adapter gives for a row.

They mean what the canonical columns of the same name mean, and may be null where the row does not
say. Beyond those: `order_key` puts the plays of a game in order (null: as the file has them),
`same_key` is the same only on copies of one play (null: no copies are looked for),
`safety` says that the play ended in one, `hash_mark` is left, middle or right, `home_after` and
`away_after` are the score after the play where `score_diff` is not given, `inference` says in words
what the adapter had to infer, and `skip` why a row is no play at all (null: it is one).
`first_down` may be null: then gain and distance decide.
"""
EXTRA_COLUMNS: Final = {"hash_mark": "VARCHAR"}
"""Stored beside the canonical columns where a source has them."""
REJECT_COLUMNS: Final = {
    "source": "VARCHAR", "season": "INTEGER", "file": "VARCHAR", "line": "BIGINT",
    "game_id": "VARCHAR", "column_name": "VARCHAR", "value": "VARCHAR", "reason": "VARCHAR",
}  # fmt: skip
"""Of the rejected rows in the store. `column_name` is the column as the file calls it."""


class Adapter(Record):
    """One source.

    `name`: For commands and file names: lower-case letters, digits and hyphens.
    `title`, `level`, `license`, `attribution`: For people; the attribution goes into every output
        that uses the plays.
    `names`: Field -> names under which the files have it.
    `needs`: Fields without which a file cannot be read: (field, what it is in plain words).
    `signature_columns`: Columns of the file that no other source has together; they choose the
        adapter.
    `map_columns`: Returns field of `STAGED_COLUMNS` -> SQL expression over the table `raw`. Fields
        left out are null.
    `address`: Where a season can be fetched, with ``{season}``; None if nowhere.
    `first_season`: First season at that address.
    `version`: Raised when the same file would be read otherwise than before.
    """

    name: str
    title: str
    level: str
    license: str
    attribution: str
    names: Mapping[str, tuple[str, ...]]
    needs: tuple[tuple[str, str], ...]
    signature_columns: tuple[tuple[str, ...], ...]
    map_columns: Callable[[RawColumns], dict[str, str]]
    address: str | None = None
    first_season: int | None = None
    version: int = 1

    def recognizes(self, columns: frozenset[str]) -> bool:
        """Return whether a file with these columns (lower case) is of this source."""
        return any(all(name in columns for name in sign) for sign in self.signature_columns)


def staged_select(adapter: Adapter, columns: RawColumns, *, season: int | None = None) -> str:
    """Return the SELECT that turns the table `raw` into rows of `STAGED_COLUMNS`.

    `columns`: The columns of the file; afterwards `columns.used` names those that are needed.
    `season`: Of rows that do not say theirs.
    """
    expressions = adapter.map_columns(columns)
    if season is not None:
        expressions["season"] = f"coalesce({expressions.get('season', 'NULL')}, {int(season)})"
    parts = [
        f"TRY_CAST({expressions.get(name, 'NULL')} AS {sql_type}) AS {name}"
        for name, sql_type in STAGED_COLUMNS.items()
    ]
    return f"SELECT line, {', '.join(parts)} FROM ({columns.cells_sql()})"


_SOURCES: Final = {
    "nflverse": ("lensyard.plays.importing.nflverse", "ADAPTER"),
    "ncaa": ("lensyard.plays.importing.college", "NCAA"),
    "sportsdataverse": ("lensyard.plays.importing.college", "SPORTSDATAVERSE"),
    "cfbd": ("lensyard.plays.importing.college", "CFBD"),
    "canonical": ("lensyard.plays.importing.checks", "CANONICAL"),
}


def adapter_named(name: str) -> Adapter:
    """Return the adapter of a source.

    Raises `UnknownNameError` if there is no such source.
    """
    if name not in _SOURCES:
        raise UnknownNameError(name="source", value=name, known=tuple(_SOURCES))
    module, attribute = _SOURCES[name]
    found: Adapter = getattr(import_module(module), attribute)
    return found


def recognize(columns: Iterable[str], *, name: str) -> Adapter:
    """Return the adapter of a file by its columns.

    Raises `DataError` if no source has such columns.
    """
    lower = frozenset(column.lower() for column in columns)
    for source in _SOURCES:
        candidate = adapter_named(source)
        if candidate.recognizes(lower):
            return candidate
    some = ", ".join(sorted(lower)[:12])
    raise DataError(
        f"{name} is of no source that is known ({', '.join(_SOURCES)}); its columns are {some}"
        f"{' …' if len(lower) > 12 else ''}. Write a mapping with `lensyard data map FILE`, then "
        "import it with --mapping, or name the source with --source."
    )


def season_address(source: str, season: int) -> str:
    """Return where a season of a source is published.

    Raises `UnknownNameError` if there is no such source; `InvalidInputError` if the source
    publishes no such season, or nothing that could be fetched.
    """
    found = adapter_named(source)
    if found.address is None:
        raise InvalidInputError(
            f"{found.title} has no address to fetch from; give --url, or import a file"
        )
    first = found.first_season or 0
    if season < first or season > 2100:
        raise InvalidInputError(f"{found.title} begins with season {first}; got {season}")
    return found.address.format(season=season)


VALUE_LENGTH: Final = 200
