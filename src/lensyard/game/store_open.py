"""The game log's file: its tables, their migration, and opening it.

Opening waits while another process has the file, creates it whole where there is none, and
refuses what is no log. There are no keys and indexes in the database: one process at a time holds
the file, and the log checks itself that a number is used once, so a row can be replaced inside one
transaction.
"""

from __future__ import annotations

import time
from pathlib import Path
from typing import TYPE_CHECKING, Final

from lensyard.errors import StoreError
from lensyard.files import flush_file, flush_folder, place_new, sweep_unfinished, temporary_beside
from lensyard.game.entry import LOG_SCHEMA_VERSION, Capture, Game, LoggedPlay
from lensyard.game.fields import EntryField, fields_of

if TYPE_CHECKING:
    import duckdb


SQL_TYPES: Final = {
    "text": "VARCHAR",
    "int": "INTEGER",
    "float": "DOUBLE",
    "bool": "BOOLEAN",
    "time": "TIMESTAMP",
    "texts": "VARCHAR[]",
    "floats": "DOUBLE[]",
}
_ENTRIES: Final = {"games": Game, "plays": LoggedPlay, "captures": Capture}
_HISTORY: Final = (
    "CREATE TABLE history (change_id BIGINT NOT NULL, game_id VARCHAR NOT NULL, "
    "changed_at TIMESTAMP NOT NULL, action VARCHAR NOT NULL, entity VARCHAR NOT NULL, "
    "number INTEGER NOT NULL, before VARCHAR, after VARCHAR, schema_version INTEGER NOT NULL)"
)


def columns_of(table: str) -> tuple[str, ...]:
    """Return the columns of a table in their order."""
    names = tuple(spec.name for spec in fields_of(_ENTRIES[table]))
    return names if table == "games" else ("game_id", *names)


def create_tables(connection: duckdb.DuckDBPyConnection) -> None:
    """Create an empty log of the present version."""
    connection.execute("BEGIN")
    connection.execute("CREATE TABLE meta (key VARCHAR NOT NULL, value VARCHAR NOT NULL)")
    connection.execute("INSERT INTO meta VALUES ('schema_version', ?)", [str(LOG_SCHEMA_VERSION)])
    for table in _ENTRIES:
        connection.execute(_create(table))
    connection.execute(_HISTORY)
    connection.execute("COMMIT")


def _create(table: str) -> str:
    owner = "" if table == "games" else "game_id VARCHAR NOT NULL, "
    columns = ", ".join(_column(spec) for spec in fields_of(_ENTRIES[table]))
    return f"CREATE TABLE {table} ({owner}{columns})"


def _column(spec: EntryField) -> str:
    never_missing = "" if spec.nullable else " NOT NULL"
    return f"{spec.name} {SQL_TYPES[spec.kind]}{never_missing}"


def version_of(connection: duckdb.DuckDBPyConnection, path: Path) -> int:
    """Return the version of the log in an open file.

    Raises `StoreError` if it is no game log, or one of a later version.
    """
    import duckdb

    try:
        row = connection.execute("SELECT value FROM meta WHERE key = 'schema_version'").fetchone()
        version = int(row[0]) if row else 0
    except (duckdb.Error, ValueError) as error:
        raise StoreError(
            f"{path} is a DuckDB file, but no game log; it was left as it is. Move it away, or set "
            "LENSYARD_DATA_DIR to another folder"
        ) from error
    if not 1 <= version <= LOG_SCHEMA_VERSION:
        raise StoreError(
            f"the game log {path} has version {version}; this lensyard reads versions 1 to "
            f"{LOG_SCHEMA_VERSION}. It was left as it is. Install the newer lensyard that wrote it"
        )
    return version


def migrate(connection: duckdb.DuckDBPyConnection, path: Path, *, version: int) -> Path | None:
    """Bring an open log of some version to the present one, after a backup beside it.

    Returns the backup; None where nothing had to be done.

    Raises `duckdb.Error` or `OSError` if the disk refuses. The log still has its old version then.
    """
    if version == LOG_SCHEMA_VERSION:
        return None
    backup = _back_up(connection, path, version=version)
    connection.execute("BEGIN")
    for table, entry in _ENTRIES.items():
        younger = [spec for spec in fields_of(entry) if spec.rule.since > version]
        if len(younger) == len(fields_of(entry)):
            connection.execute(_create(table))
            continue
        for spec in younger:
            connection.execute(f"ALTER TABLE {table} ADD COLUMN {spec.name} {SQL_TYPES[spec.kind]}")
            if not spec.nullable:
                connection.execute(f"UPDATE {table} SET {spec.name} = ?", [spec.neutral])
    connection.execute(
        "UPDATE meta SET value = ? WHERE key = 'schema_version'", [str(LOG_SCHEMA_VERSION)]
    )
    connection.execute("COMMIT")
    connection.execute("CHECKPOINT")
    return backup


def _back_up(connection: duckdb.DuckDBPyConnection, path: Path, *, version: int) -> Path:
    """Copy the whole database through the open connection, which alone holds the lock."""
    stem, number = f"{path.stem}-backup-v{version}", 1
    while (backup := path.with_name(f"{stem}-{number}.duckdb")).exists():
        number += 1
    temporary = temporary_beside(backup)
    quoted = str(temporary).replace("'", "''")
    row = connection.execute("SELECT current_database()").fetchone()
    name = str(row[0] if row else "").replace('"', '""')
    connection.execute(f"ATTACH '{quoted}' AS backup_of_the_log")
    connection.execute(f'COPY FROM DATABASE "{name}" TO backup_of_the_log')
    connection.execute("CHECKPOINT backup_of_the_log")
    connection.execute("DETACH backup_of_the_log")
    flush_file(temporary)
    temporary.rename(backup)
    flush_folder(backup.parent)
    return backup


COPIES_NAME: Final = "game-copies"
"""The folder beside the log with each game as a JSON export, renewed with every change."""

_SETTINGS: Final[dict[str, str | bool | int | float | list[str]]] = {
    "threads": 1,
    "autoinstall_known_extensions": "false",
    "autoload_known_extensions": "false",
    "allow_community_extensions": "false",
}
_BUSY: Final = ("could not set lock", "being used by another process", "conflicting lock")
_BETWEEN_TRIES_S: Final = 0.03


def connect(path: Path, *, deadline: float, wait_s: float) -> duckdb.DuckDBPyConnection:
    """Open the file, creating it where there is none, waiting while it is in use.

    After ``deadline`` on the monotonic clock one gives up; ``wait_s`` is for the message. [s]

    Raises `StoreError` if it stays in use, or cannot be opened or created.
    """
    import duckdb

    while True:
        try:
            if not path.exists():
                _create_file(path)
            return duckdb.connect(str(path), config=_SETTINGS)
        except duckdb.Error as error:
            if not any(word in str(error).lower() for word in _BUSY):
                raise StoreError(damaged_text(path, error)) from error
            if time.monotonic() >= deadline:
                raise StoreError(busy_text(path, wait_s)) from error
            time.sleep(_BETWEEN_TRIES_S)
        except OSError as error:
            raise StoreError(
                f"cannot create the game log {path} ({error.strerror or error}); free the disk or "
                "set LENSYARD_DATA_DIR to another folder"
            ) from error


def _create_file(path: Path) -> None:
    """Create an empty log under a name of its own, and give it the real one when it is whole."""
    import duckdb

    path.parent.mkdir(parents=True, exist_ok=True)
    sweep_unfinished(path.parent)
    wal = path.with_name(path.name + ".wal")
    if wal.exists():
        raise StoreError(
            f"{wal} is there without {path.name}, which it belongs to; its last plays would be "
            f"lost. Put {path.name} back beside it, or move it away"
        )
    temporary = temporary_beside(path)
    try:
        connection = duckdb.connect(str(temporary), config=_SETTINGS)
        try:
            create_tables(connection)
            connection.execute("CHECKPOINT")
        finally:
            connection.close()
        flush_file(temporary)
        place_new(temporary, path)
    finally:
        temporary.unlink(missing_ok=True)


def busy_text(path: Path, wait_s: float) -> str:
    """Return what to say of a log that somebody else has open."""
    return (
        f"the game log {path} is in use by another lensyard, and was still so after {wait_s:g} s. "
        "Nothing was changed; try again, or close the other one"
    )


def damaged_text(path: Path, error: Exception) -> str:
    """Return what to say of a log that cannot be read, and how its games come back."""
    return (
        f"cannot read the game log {path}: {error}. It was left as it is. If another version of "
        f"DuckDB wrote it, install that one. Else move {path.name} (and {path.name}.wal) away and "
        f"bring each game back with `lensyard log restore {path.parent / COPIES_NAME}/GAME.json`"
    )
