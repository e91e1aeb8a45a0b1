"""Building a store: all or nothing, whenever it is interrupted.

The new file grows under a temporary name in the same folder, is checked, closed and flushed to
disk, and only then takes the place of the old one.
"""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING, Final

from lensyard.errors import StoreError
from lensyard.files import WRITING_SUFFIX, flush_file, flush_folder, temporary_beside
from lensyard.plays.columns import COLUMNS, Column

if TYPE_CHECKING:
    import duckdb

STALE_AFTER_S: Final = 3600.0
"""A build takes seconds; a temporary file of this age belongs to none that still runs."""

_SQL_TYPES: Final = {
    "text": "VARCHAR",
    "int16": "SMALLINT",
    "int32": "INTEGER",
    "bool": "BOOLEAN",
}
_LOADER_SETTINGS: Final[dict[str, str | bool | int | float | list[str]]] = {
    "autoinstall_known_extensions": "false",
    "autoload_known_extensions": "false",
}


def _proceed(step: str) -> None:
    """Do nothing between two steps."""


@contextmanager
def keyboard_interrupts() -> Iterator[None]:
    """Let Ctrl-C during a query be a `KeyboardInterrupt`; DuckDB calls it otherwise."""
    try:
        yield
    except RuntimeError as error:
        if "interrupted" in str(error).lower():
            raise KeyboardInterrupt from error
        raise


def build_store(
    parquet: Path,
    *,
    target: Path,
    stale_after_s: float = STALE_AFTER_S,
    after_step: Callable[[str], None] = _proceed,
) -> None:
    """Build the store of a Parquet file, replacing the target at the very end.

    Parameters
    ----------
    parquet : Path
        Canonical plays.
    target : Path
        The store to write; an existing one stays intact until the new one is complete.
    stale_after_s : float
        Temporary files of interrupted builds older than this are removed. [s]
    after_step : callable
        Called with the name of each finished step (loaded, checked, closed, flushed, replaced);
        for tests that interrupt the build.

    Raises
    ------
    StoreError
        If the Parquet file does not hold canonical plays, or the disk refuses.
    """
    import duckdb

    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        sweep(target.parent, stale_after_s=stale_after_s)
    except OSError as error:
        raise StoreError(f"cannot write to {target.parent}: {error}") from error
    temporary = temporary_beside(target)
    try:
        with keyboard_interrupts():
            _load(parquet, temporary, after_step)
        flush_file(temporary)
        after_step("flushed")
        _put_in_place(temporary, target)
        after_step("replaced")
    except (duckdb.Error, OSError) as error:
        raise StoreError(
            f"cannot build the store {target} from {parquet}: {error}. Check the free space and "
            "that the bundled plays are intact, then try again."
        ) from error
    finally:
        temporary.unlink(missing_ok=True)
        _wal(temporary).unlink(missing_ok=True)


def _put_in_place(temporary: Path, target: Path) -> None:
    """Let a complete file take the place of the target, durably."""
    if _wal(temporary).exists():
        raise StoreError(f"the store {temporary} was not closed cleanly; try again")
    _wal(target).unlink(missing_ok=True)  # a stale one would keep the new file from opening
    os.replace(temporary, target)
    flush_folder(target.parent)


def sweep(folder: Path, *, stale_after_s: float = STALE_AFTER_S) -> list[Path]:
    """Remove what interrupted builds left in a folder; return what was removed."""
    removed = []
    for path in sorted(folder.glob(f"*{WRITING_SUFFIX}*")):
        with suppress(FileNotFoundError):  # another process sweeps as well
            if time.time() - path.stat().st_mtime >= stale_after_s:
                path.unlink()
                removed.append(path)
    return removed


def _load(parquet: Path, temporary: Path, after_step: Callable[[str], None]) -> None:
    """Fill, check and close a new store file."""
    import duckdb

    connection = duckdb.connect(str(temporary), config=_LOADER_SETTINGS)
    try:
        declared = ", ".join(_declaration(spec) for spec in COLUMNS)
        names = ", ".join(spec.name for spec in COLUMNS)
        # A slow load would otherwise draw a bar on standard output, which belongs to the answer.
        connection.execute("SET enable_progress_bar = false")
        connection.execute(f"CREATE TABLE plays ({declared})")
        connection.execute(
            f"INSERT INTO plays SELECT {names} FROM read_parquet(?) ORDER BY game_id, play_index",
            [str(parquet)],
        )
        after_step("loaded")
        _check(connection, parquet)
        after_step("checked")
        connection.execute("CHECKPOINT")
    finally:
        connection.close()
    after_step("closed")


def _declaration(spec: Column) -> str:
    """Return the SQL declaration of a column, with its range and closed set as constraints."""
    parts = [spec.name, _SQL_TYPES[spec.dtype]]
    if not spec.nullable:
        parts.append("NOT NULL")
    if spec.low is not None and spec.high is not None:
        parts.append(f"CHECK ({spec.name} BETWEEN {spec.low} AND {spec.high})")
    if spec.values:
        listed = ", ".join(f"'{value}'" for value in spec.values)
        parts.append(f"CHECK ({spec.name} IN ({listed}))")
    return " ".join(parts)


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
