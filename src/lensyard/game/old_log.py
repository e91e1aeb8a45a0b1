"""The game log of earlier versions, a DuckDB file: read once, never written."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from lensyard.errors import LensyardError, StoreError
from lensyard.game.document import GameLog
from lensyard.game.entry import Capture, Game, LoggedPlay
from lensyard.game.fields import Entry, entry_of, fields_of, plain_values, time_text
from lensyard.game.store import COPIES_NAME
from lensyard.game.stored import StoredGame

if TYPE_CHECKING:
    import duckdb

_LAST_VERSION: Final = 3
_SETTINGS: Final[dict[str, str | bool | int | float | list[str]]] = {
    "threads": 1,
    "enable_external_access": "false",
    "autoinstall_known_extensions": "false",
    "autoload_known_extensions": "false",
    "lock_configuration": "true",
}


def read_old_log(path: Path) -> dict[str, StoredGame]:
    """Return the games of a log that an earlier version wrote, by id.

    Raises `StoreError` if it cannot be read; it is never changed.
    """
    import duckdb

    try:
        with duckdb.connect(str(path), read_only=True, config=_SETTINGS) as connection:
            return _games(connection, str(path))
    except (duckdb.Error, LensyardError, ValueError, TypeError) as error:
        raise StoreError(
            f"cannot read the log of an earlier version, {path}: {error}. It was left as it is. "
            f"Close whatever has it open; if another version of DuckDB wrote it, install that one. "
            f"Else move {path.name} (and {path.name}.wal) away: the copies in "
            f"{path.parent / COPIES_NAME} take its place, and `lensyard log restore` writes them "
            "into the log"
        ) from error


def _games(connection: duckdb.DuckDBPyConnection, where: str) -> dict[str, StoredGame]:
    row = connection.execute("SELECT value FROM meta WHERE key = 'schema_version'").fetchone()
    version = int(row[0]) if row else 0
    if not 1 <= version <= _LAST_VERSION:
        raise StoreError(f"it has version {version}, expected 1 to {_LAST_VERSION}")

    def entries(kind: type[Entry], table: str, more: str, values: list[Any]) -> tuple[Entry, ...]:
        names = [spec.name for spec in fields_of(kind) if spec.rule.since <= version]
        sql = f"SELECT {', '.join(names)} FROM {table} {more}"
        return tuple(
            entry_of(
                kind,
                {name: _plain(value) for name, value in zip(names, row, strict=True)},
                where=f"{where}, {table}",
                schema_version=version,
            )
            for row in connection.execute(sql, values).fetchall()
        )

    found: dict[str, StoredGame] = {}
    for game in entries(Game, "games", "ORDER BY started_at, game_id", []):
        own = [game.game_id]
        plays = entries(LoggedPlay, "plays", "WHERE game_id = ? ORDER BY number", own)
        captures: tuple[Capture, ...] = ()
        if version >= 2:
            order = "WHERE game_id = ? ORDER BY corrected_at, file"
            captures = entries(Capture, "captures", order, own)
        log = GameLog(game, plays, captures)
        stored = StoredGame.of(log, started=len(found) + 1)
        found[game.game_id] = stored.holding(log, history=_history(connection, game.game_id))
    return found


def _history(connection: duckdb.DuckDBPyConnection, game_id: str) -> tuple[dict[str, Any], ...]:
    """Return what could be taken back, the oldest first."""
    rows = connection.execute(
        "SELECT change_id, action, entity, number, before, schema_version FROM history "
        "WHERE game_id = ? ORDER BY change_id, rowid",
        [game_id],
    ).fetchall()
    steps: dict[int, dict[str, Any]] = {}
    for change_id, action, entity, number, before, version in rows:
        step = steps.setdefault(change_id, {"action": action, "before": []})
        kind: type[Game] | type[LoggedPlay] = LoggedPlay if entity == "play" else Game
        values = None
        if before is not None:
            entry = entry_of(
                kind, json.loads(before), where="the log's history", schema_version=version
            )
            values = plain_values(entry)
        step["before"].append([number if entity == "play" else None, values])
    return tuple(steps.values())


def _plain(value: Any) -> Any:
    return time_text(value.replace(tzinfo=UTC)) if isinstance(value, datetime) else value


def moment_of(game: Game) -> datetime:
    """Return when a game was last known to be changed, for the copy's date."""
    return game.ended_at or game.started_at
