"""Opening the game log's file: waiting while it is in use, creating it whole, refusing the rest."""

from __future__ import annotations

import time
from pathlib import Path
from typing import TYPE_CHECKING, Final

from lensyard.data.log_files import flush_file, place_new, temporary_beside
from lensyard.data.log_schema import create_tables
from lensyard.errors import StoreError

if TYPE_CHECKING:
    import duckdb

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

    Parameters
    ----------
    path
        The file.
    deadline
        On the monotonic clock; after it one gives up. [s]
    wait_s
        How long that was, for the message. [s]

    Raises
    ------
    StoreError
        If it stays in use, or cannot be opened or created.
    """
    import duckdb

    while True:
        try:
            if not path.exists():
                _create(path)
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


def _create(path: Path) -> None:
    """Create an empty log under a name of its own, and give it the real one when it is whole."""
    import duckdb

    from lensyard.data.store_build import sweep

    path.parent.mkdir(parents=True, exist_ok=True)
    sweep(path.parent)
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
