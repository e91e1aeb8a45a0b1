"""The game log's DuckDB file: opened briefly, changed in transactions, never overwritten.

DuckDB lets one process at a time hold a file, so a log is opened for one command and closed again;
whoever comes meanwhile waits, and gives up with a clear message. A change is in the file, flushed,
when the method that makes it returns.
"""

from __future__ import annotations

import json
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from lensyard.errors import StoreError
from lensyard.game.entry import LOG_SCHEMA_VERSION, Capture, Game, LoggedPlay
from lensyard.game.fields import Entry, entry_of, fields_of, plain_values, time_text
from lensyard.game.store_open import (
    SQL_TYPES,
    busy_text,
    columns_of,
    connect,
    damaged_text,
    migrate,
    version_of,
)

if TYPE_CHECKING:
    import duckdb

LOG_NAME: Final = "games.duckdb"
WAIT_S: Final = 10.0
"""How long one waits for another process by default. A command holds the file for about 0.1 s."""

Run = Callable[..., None]
"""Runs a statement, with its values, in a transaction."""

# A second connection to the file in this process would not be stopped by DuckDB's lock.
_in_process: Final = threading.Lock()


@dataclass(frozen=True, slots=True)
class Edit:
    """One entry before and after; None where it is not there."""

    before: Game | LoggedPlay | None
    after: Game | LoggedPlay | None

    @property
    def number(self) -> int | None:
        """The number of the play; None where it is the game."""
        entry = self.after or self.before
        return entry.number if isinstance(entry, LoggedPlay) else None


@dataclass(frozen=True, slots=True)
class Change:
    """What one command changes in a game, all of it or nothing.

    ``captures`` are the game's captures from now on; None leaves them.
    """

    action: str
    game_id: str
    edits: tuple[Edit, ...]
    captures: tuple[Capture, ...] | None = None


class LogStore:
    """An open game log. A context manager; close it soon."""

    def __init__(self, connection: duckdb.DuckDBPyConnection, path: Path) -> None:
        self.path = path
        self.backup: Path | None = None
        self._connection: duckdb.DuckDBPyConnection | None = connection

    @classmethod
    def open(cls, folder: Path, *, wait_s: float = WAIT_S) -> LogStore:
        """Open the log of a folder, creating it first where there is none.

        Raises `StoreError` if the file is in use for longer than ``wait_s`` seconds, damaged, of
        another version, or no game log. It is never changed then.
        """
        path = folder / LOG_NAME
        deadline = time.monotonic() + wait_s
        if not _in_process.acquire(timeout=max(wait_s, 0.0)):
            raise StoreError(busy_text(path, wait_s))
        try:
            store = cls(connect(path, deadline=deadline, wait_s=wait_s), path)
        except BaseException:
            _in_process.release()
            raise
        try:
            store._make_ready()
        except BaseException:
            store.close()
            raise
        return store

    def _make_ready(self) -> None:
        import duckdb

        try:
            version = version_of(self._open, self.path)
            self.backup = migrate(self._open, self.path, version=version)
        except (duckdb.Error, OSError) as error:
            raise StoreError(
                f"cannot bring the game log {self.path} to version {LOG_SCHEMA_VERSION}: {error}. "
                "It still has its old version; free the disk and try again"
            ) from error

    def __enter__(self) -> LogStore:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Close the file for others to use; a second time does nothing."""
        connection, self._connection = self._connection, None
        if connection is not None:
            try:
                connection.close()
            finally:
                _in_process.release()

    @property
    def _open(self) -> duckdb.DuckDBPyConnection:
        if self._connection is None:
            raise StoreError("the game log is closed; open it again")
        return self._connection

    def games(self) -> tuple[Game, ...]:
        """Return all games, the oldest first."""
        return self._entries(Game, "games", "", [], "started_at, game_id")

    def plays(self, game_id: str) -> tuple[LoggedPlay, ...]:
        """Return the plays of a game in their order."""
        return self._entries(LoggedPlay, "plays", "WHERE game_id = ?", [game_id], "number")

    def captures(self, game_id: str) -> tuple[Capture, ...]:
        """Return the captures of a game in the order of time."""
        order = "corrected_at, file"
        return self._entries(Capture, "captures", "WHERE game_id = ?", [game_id], order)

    def _entries(
        self, kind: type[Entry], table: str, where: str, values: list[Any], order: str
    ) -> tuple[Entry, ...]:
        names = [spec.name for spec in fields_of(kind)]
        rows = self._all(f"SELECT {', '.join(names)} FROM {table} {where} ORDER BY {order}", values)
        return tuple(
            entry_of(
                kind,
                {name: _from_column(value) for name, value in zip(names, row, strict=True)},
                where=f"{self.path}, {table}",
                schema_version=LOG_SCHEMA_VERSION,
            )
            for row in rows
        )

    def _all(self, sql: str, values: list[Any]) -> list[tuple[Any, ...]]:
        import duckdb

        try:
            return self._open.execute(sql, values).fetchall()
        except duckdb.Error as error:
            raise StoreError(damaged_text(self.path, error)) from error

    @contextmanager
    def _transaction(self) -> Iterator[Run]:
        """BEGIN, then COMMIT or ROLLBACK; DuckDB's errors become `StoreError`."""
        import duckdb

        def run(sql: str, values: Sequence[Any] = ()) -> None:
            try:
                self._open.execute(sql, list(values))
            except duckdb.Error as error:
                raise StoreError(
                    f"cannot write the game log {self.path}: {error}. Nothing was changed; free "
                    "the disk and try again"
                ) from error

        run("BEGIN")
        try:
            yield run
        except BaseException:
            with suppress(StoreError):
                run("ROLLBACK")
            raise
        run("COMMIT")

    def apply(self, change: Change, *, at: datetime, remember: bool = True) -> None:
        """Make a change durable; when this returns it survives whatever happens to the process.

        ``remember`` says whether `undo` can take it back.

        Raises `StoreError` if the disk refuses; nothing is changed then.
        """
        with self._transaction() as run:
            if remember:
                self._remember(run, change, at)
            for edit in change.edits:
                _replace(run, change.game_id, edit)
            if change.captures is not None:
                _replace_captures(run, change.game_id, change.captures)

    def _remember(self, run: Run, change: Change, at: datetime) -> None:
        last = self._all("SELECT coalesce(max(change_id), 0) FROM history", [])[0][0]
        for edit in change.edits:
            values = [
                last + 1,
                change.game_id,
                _to_column(at),
                change.action,
                "game" if edit.number is None else "play",
                edit.number or 0,
                _json_of(edit.before),
                _json_of(edit.after),
                LOG_SCHEMA_VERSION,
            ]
            run("INSERT INTO history VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)", values)

    def undo(self, game_id: str) -> Change | None:
        """Take back the last change of a game and return it; None when nothing is left.

        Raises `StoreError` if the disk refuses; nothing is changed then.
        """
        rows = self._all(
            "SELECT change_id, action, entity, before, after, schema_version FROM history "
            "WHERE game_id = ? AND change_id = (SELECT max(change_id) FROM history "
            "WHERE game_id = ?) ORDER BY rowid",
            [game_id, game_id],
        )
        if not rows:
            return None
        edits = tuple(
            Edit(
                before=_entry_from(row[2], row[3], row[5]),
                after=_entry_from(row[2], row[4], row[5]),
            )
            for row in rows
        )
        with self._transaction() as run:
            for edit in reversed(edits):
                _replace(run, game_id, Edit(before=edit.after, after=edit.before))
            if rows[0][1] == "capture":
                _replace_captures(run, game_id, ())
            run("DELETE FROM history WHERE change_id = ?", [rows[0][0]])
        return Change(str(rows[0][1]), game_id, edits)


def _replace(run: Run, game_id: str, edit: Edit) -> None:
    if edit.number is not None:
        run("DELETE FROM plays WHERE game_id = ? AND number = ?", [game_id, edit.number])
    else:
        run("DELETE FROM games WHERE game_id = ?", [game_id])
    if isinstance(edit.after, LoggedPlay):
        _insert(run, "plays", [game_id, *_row(edit.after)])
    elif edit.after is not None:
        _insert(run, "games", _row(edit.after))


def _insert(run: Run, table: str, row: Sequence[Any]) -> None:
    names = columns_of(table)
    marks = ", ".join("?" * len(names))
    run(f"INSERT INTO {table} ({', '.join(names)}) VALUES ({marks})", row)


def _replace_captures(run: Run, game_id: str, captures: Sequence[Capture]) -> None:
    """Replace a game's captures; columns at a time, which takes thousands in one statement."""
    run("DELETE FROM captures WHERE game_id = ?", [game_id])
    if not captures:
        return
    specs = fields_of(Capture)
    columns = [list(column) for column in zip(*(_row(c) for c in captures), strict=True)]
    lists = ", ".join(f"unnest(?::{SQL_TYPES[spec.kind]}[])" for spec in specs)
    names = ", ".join(columns_of("captures"))
    run(f"INSERT INTO captures ({names}) SELECT ?, {lists}", [game_id, *columns])


def _row(entry: Game | LoggedPlay | Capture) -> list[Any]:
    return [_to_column(getattr(entry, spec.name)) for spec in fields_of(type(entry))]


def _to_column(value: Any) -> Any:
    if isinstance(value, datetime):
        return value.astimezone(UTC).replace(tzinfo=None)
    if isinstance(value, tuple):
        return list(value)
    return str(value) if isinstance(value, str) else value


def _from_column(value: Any) -> Any:
    return time_text(value.replace(tzinfo=UTC)) if isinstance(value, datetime) else value


def _json_of(entry: Game | LoggedPlay | None) -> str | None:
    return None if entry is None else json.dumps(plain_values(entry))


def _entry_from(entity: str, text: str | None, version: int) -> Game | LoggedPlay | None:
    if text is None:
        return None
    kind: type[Game] | type[LoggedPlay] = LoggedPlay if entity == "play" else Game
    return entry_of(kind, json.loads(text), where="the log's history", schema_version=version)
