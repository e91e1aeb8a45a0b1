"""Building a store: all or nothing, whenever it is interrupted.

The new file grows under a temporary name in the same folder, is checked, closed and flushed to
disk, and only then takes the place of the old one.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Final

from lensyard.errors import StoreError
from lensyard.files import replacing, sweep_unfinished
from lensyard.plays.schema import COLUMN_NAMES, COLUMNS, Column

if TYPE_CHECKING:
    import duckdb

_LOADER_SETTINGS: Final[dict[str, str | bool | int | float | list[str]]] = {
    "autoinstall_known_extensions": "false",
    "autoload_known_extensions": "false",
}


@contextmanager
def keyboard_interrupts() -> Iterator[None]:
    """Let Ctrl-C during a query be a `KeyboardInterrupt`; DuckDB calls it otherwise."""
    try:
        yield
    except RuntimeError as error:
        if "interrupted" in str(error).lower():
            raise KeyboardInterrupt from error
        raise


def build_store(parquet: Path, *, target: Path) -> None:
    """Build the store of a Parquet file, replacing the target at the very end.

    `parquet`: Canonical plays.
    `target`: The store to write; an existing one stays intact until the new one is complete.

    Raises `StoreError` if the Parquet file does not hold canonical plays, or the disk refuses.
    """
    import duckdb

    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        sweep_unfinished(target.parent)
    except OSError as error:
        raise StoreError(f"cannot write to {target.parent}: {error}") from error
    try:
        with keyboard_interrupts(), replacing(target) as temporary:
            try:
                _load(parquet, temporary)
                if _wal(temporary).exists():
                    raise StoreError(f"the store {temporary} was not closed cleanly; try again")
            finally:
                _wal(temporary).unlink(missing_ok=True)
            _wal(target).unlink(missing_ok=True)  # a stale one would keep the new file from opening
    except (duckdb.Error, OSError) as error:
        raise StoreError(
            f"cannot build the store {target} from {parquet}: {error}. Check the free space and "
            "that the bundled plays are intact, then try again."
        ) from error


def _load(parquet: Path, temporary: Path) -> None:
    """Fill, check and close a new store file."""
    import duckdb

    connection = duckdb.connect(str(temporary), config=_LOADER_SETTINGS)
    try:
        declared = ", ".join(_declaration(spec) for spec in COLUMNS)
        # A slow load would otherwise draw a bar on standard output, which belongs to the answer.
        connection.execute("SET enable_progress_bar = false")
        connection.execute(f"CREATE TABLE plays ({declared})")
        connection.execute(
            f"INSERT INTO plays SELECT {', '.join(COLUMN_NAMES)} FROM read_parquet(?) "
            "ORDER BY game_id, play_index",
            [str(parquet)],
        )
        _check(connection, parquet)
        connection.execute("CHECKPOINT")
    finally:
        connection.close()


def _declaration(spec: Column) -> str:
    """Return the SQL declaration of a column, with its range and closed set as constraints."""
    required = "" if spec.nullable else "NOT NULL"
    return f"{spec.name} {spec.sql_type} {required} CHECK ({spec.sql_check})"


def _check(connection: duckdb.DuckDBPyConnection, parquet: Path) -> None:
    """Raise `StoreError` unless every row of the Parquet file arrived, each play once."""
    counts = connection.execute(
        "SELECT (SELECT count(*) FROM plays), (SELECT count(*) FROM read_parquet(?)), "
        "(SELECT count(*) FROM (SELECT DISTINCT game_id, play_index FROM plays))",
        [str(parquet)],
    ).fetchone()
    stored, given, distinct = counts or (0, -1, -1)
    if not stored == given == distinct or stored == 0:
        raise StoreError(
            f"the store holds {stored} plays ({distinct} different ones) of {given} in {parquet}; "
            "expected each once. Install the package again."
        )


def _wal(path: Path) -> Path:
    """Return the write-ahead log that DuckDB keeps beside a file."""
    return path.with_name(path.name + ".wal")
