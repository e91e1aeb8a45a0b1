"""Rejected rows: each is kept with its line, its value and the reason in plain words."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from lensyard.plays.importing.catalog import Tally

if TYPE_CHECKING:
    import duckdb

COLUMNS: Final = {
    "source": "VARCHAR",
    "season": "INTEGER",
    "file": "VARCHAR",
    "line": "BIGINT",
    "game_id": "VARCHAR",
    "column_name": "VARCHAR",
    "value": "VARCHAR",
    "reason": "VARCHAR",
}
"""Of the table `rejects` in the store. `column_name` is the column as the file calls it."""


@dataclass(frozen=True, slots=True)
class Reject:
    """One rejected row."""

    source: str
    season: int | None
    file: str
    line: int
    game_id: str
    column_name: str
    value: str
    reason: str


def tallies(connection: duckdb.DuckDBPyConnection) -> tuple[Tally, ...]:
    """Return the table `rejects` of an import by reason, most frequent first."""
    rows = connection.execute(
        "SELECT reason, count(*), min(line) FROM rejects GROUP BY reason ORDER BY 2 DESC, 1"
    ).fetchall()
    return tuple(Tally(str(words), int(n), int(line)) for words, n, line in rows)


def first_rejects(
    connection: duckdb.DuckDBPyConnection, *, source: str, file: str, most: int
) -> tuple[Reject, ...]:
    """Return the first rows of the table `rejects` of an import, by line."""
    rows = connection.execute(
        "SELECT season, line, game_id, column_name, value, reason FROM rejects "
        "ORDER BY line LIMIT ?",
        [most],
    ).fetchall()
    return tuple(
        Reject(
            source=source,
            season=None if season is None else int(season),
            file=file,
            line=int(line),
            game_id=str(game_id or ""),
            column_name=str(column or ""),
            value=str(value or ""),
            reason=str(reason),
        )
        for season, line, game_id, column, value, reason in rows
    )
