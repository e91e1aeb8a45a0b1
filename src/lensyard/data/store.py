"""The local DuckDB store that everything analytical queries.

It is built from the bundled Parquet file on first use and can be thrown away at any time: it is
rebuilt, never migrated. Its file name carries the hash of the Parquet file and the versions of the
schema and of DuckDB, so that a process that still has an older store open is not disturbed.

Readers are locked down: the file is opened read-only, without access to other files, the network
or extensions, and none of that can be switched on again.
"""

from __future__ import annotations

import os
import threading
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from lensyard.data.archive import file_sha256
from lensyard.data.bundled import plays_path
from lensyard.data.schema import COLUMN_NAMES, SCHEMA_VERSION, SEASON_TYPES, PlayKind, column
from lensyard.data.store_build import build_store
from lensyard.errors import StoreError, UnknownNameError

if TYPE_CHECKING:
    import duckdb
    import pandas as pd

_READER_SETTINGS: Final[dict[str, str | bool | int | float | list[str]]] = {
    "enable_external_access": "false",
    "autoinstall_known_extensions": "false",
    "autoload_known_extensions": "false",
    "allow_community_extensions": "false",
    "lock_configuration": "true",
}


def store_path(parquet: Path, *, folder: Path) -> Path:
    """Return the file of the store that belongs to a Parquet file."""
    import duckdb

    name = f"plays-{file_sha256(parquet)[:16]}-v{SCHEMA_VERSION}-duckdb{duckdb.__version__}.duckdb"
    return folder / name


class Store:
    """Read access to the plays, safe to share between threads. A context manager.

    One connection serves the process; every thread gets a cursor of its own.
    """

    def __init__(self, connection: duckdb.DuckDBPyConnection, path: Path) -> None:
        self.path = path
        self._connection: duckdb.DuckDBPyConnection | None = connection
        self._local = threading.local()

    @classmethod
    def open(cls, *, parquet: Path | None = None, folder: Path | None = None) -> Store:
        """Open the store, building it first where there is none yet.

        Parameters
        ----------
        parquet : Path, optional
            The plays; the bundled ones by default.
        folder : Path, optional
            Where the store lies; the user's cache folder by default.

        Raises
        ------
        DataError
            If the plays are missing.
        StoreError
            If the folder cannot be written, or the store can be neither built nor opened.
        """
        from lensyard.config import user_cache_dir

        source = plays_path() if parquet is None else parquet
        place = user_cache_dir(create=True) if folder is None else folder
        try:
            path = store_path(source, folder=place)
        except OSError as error:
            raise StoreError(f"cannot read the plays {source}: {error}") from error
        if not path.is_file():
            build_store(source, target=path)
        try:
            return cls(_connect(path), path)
        except StoreError:  # damaged: it holds nothing that cannot be built again
            build_store(source, target=path)
            return cls(_connect(path), path)

    def __enter__(self) -> Store:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Close the connection; later queries raise `StoreError`."""
        connection, self._connection = self._connection, None
        self._local = threading.local()
        if connection is not None:
            connection.close()

    def query(self, sql: str, params: Sequence[Any] | None = None) -> pd.DataFrame:
        """Run one SQL query over the table `plays`.

        Parameters
        ----------
        sql : str
            A query; values go in as `?`.
        params : sequence, optional
            The values of the question marks, in order.

        Returns
        -------
        pandas.DataFrame
            Nullable numbers are floats with NaN.

        Raises
        ------
        StoreError
            If the store is closed or DuckDB refuses the query.
        """
        import duckdb

        try:
            return _with_plain_numbers(self._cursor().execute(sql, params).df())
        except duckdb.Error as error:
            raise StoreError(f"the query failed: {error}") from error

    def plays(
        self,
        columns: Sequence[str] | None = None,
        *,
        seasons: Sequence[int] | None = None,
        season_type: str | None = None,
        kinds: Sequence[str] | None = None,
    ) -> pd.DataFrame:
        """Return plays in the order of games and, within a game, of the plays.

        Parameters
        ----------
        columns : sequence of str, optional
            Canonical columns, all by default.
        seasons : sequence of int, optional
            Only these seasons.
        season_type : str, optional
            "REG" or "POST" only.
        kinds : sequence of str, optional
            Only these kinds of play.

        Raises
        ------
        UnknownNameError
            If a column, a kind or the season type is not of the schema.
        StoreError
            If the store is closed.
        """
        names = [column(name).name for name in (COLUMN_NAMES if columns is None else columns)]
        if not names:
            raise UnknownNameError(name="columns", value="", known=COLUMN_NAMES)
        where, values = _conditions(seasons=seasons, season_type=season_type, kinds=kinds)
        return self.query(
            f"SELECT {', '.join(names)} FROM plays{where} ORDER BY game_id, play_index", values
        )

    def _cursor(self) -> duckdb.DuckDBPyConnection:
        """Return this thread's cursor."""
        connection = self._connection
        if connection is None:
            raise StoreError("the store is closed; open it again")
        cursor: duckdb.DuckDBPyConnection | None = getattr(self._local, "cursor", None)
        if cursor is None:
            cursor = self._local.cursor = connection.cursor()
        return cursor


def _conditions(
    *, seasons: Sequence[int] | None, season_type: str | None, kinds: Sequence[str] | None
) -> tuple[str, list[Any]]:
    """Return a WHERE clause ("" for none) and the values of its question marks."""
    conditions: list[str] = []
    values: list[Any] = []
    if seasons is not None:
        conditions.append("list_contains(?::SMALLINT[], season)")
        values.append([int(season) for season in seasons])
    if season_type is not None:
        conditions.append("season_type = ?")
        values.append(_known(season_type, name="season_type", known=SEASON_TYPES))
    if kinds is not None:
        known = tuple(kind.value for kind in PlayKind)
        conditions.append("list_contains(?::VARCHAR[], kind)")
        values.append([_known(str(kind), name="kinds", known=known) for kind in kinds])
    return (f" WHERE {' AND '.join(conditions)}" if conditions else ""), values


def _with_plain_numbers(frame: pd.DataFrame) -> pd.DataFrame:
    """Return the table with nullable integers as floats, whatever version of DuckDB made it."""
    from pandas.api import types

    nullable = {
        name: "float64"
        for name, dtype in frame.dtypes.items()
        if types.is_extension_array_dtype(dtype) and types.is_numeric_dtype(dtype)
        if not types.is_bool_dtype(dtype)
    }
    return frame.astype(nullable)


def _known(value: str, *, name: str, known: Sequence[str]) -> str:
    if value not in known:
        raise UnknownNameError(name=name, value=value, known=known)
    return value


def _connect(path: Path) -> duckdb.DuckDBPyConnection:
    """Open a store file for reading, locked down."""
    import duckdb

    try:
        connection = duckdb.connect(str(path), read_only=True, config=_READER_SETTINGS)
        connection.execute("SELECT 1 FROM plays LIMIT 1")
    except duckdb.Error as error:
        raise StoreError(
            f"cannot open the store {path}: {error}. Delete the file; it is built anew."
        ) from error
    return connection


_shared_lock: Final = threading.Lock()
_shared: dict[int, Store] = {}


def shared_store() -> Store:
    """Return the process's one store of the bundled plays, opened on first use.

    Raises as `Store.open` does. A forked child opens its own.
    """
    with _shared_lock:
        if os.getpid() not in _shared:
            _shared[os.getpid()] = Store.open()
        return _shared[os.getpid()]


def close_shared_store() -> None:
    """Close the process's shared store; the next use opens it again."""
    with _shared_lock:
        store = _shared.pop(os.getpid(), None)
    if store is not None:
        store.close()


def load_plays(
    columns: Sequence[str] | None = None,
    *,
    seasons: Sequence[int] | None = None,
    season_type: str | None = None,
    kinds: Sequence[str] | None = None,
) -> pd.DataFrame:
    """Return bundled plays from the shared store; see `Store.plays`."""
    return shared_store().plays(columns, seasons=seasons, season_type=season_type, kinds=kinds)
