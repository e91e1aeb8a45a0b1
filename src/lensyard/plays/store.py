"""The local DuckDB store that everything analytical queries.

It is built from the bundled Parquet file on first use and can be deleted at any time: it is
rebuilt, never migrated. Its file name carries the hash of the Parquet file and the versions of the
schema and of DuckDB, so that a process that still has an older store open is not disturbed.

Imported seasons lie beside it as Parquet files of their own (`lensyard.plays.importing.catalog`)
and join it as views: `plays` has one source a season, the bundled one first; `all_plays` has every
source, with the columns `source`, `level` and `hash_mark`; `rejects` the rows that imports refused.

Readers are locked down: the file is opened read-only, without access to files other than the
imported ones, to the network or to extensions, and none of that can be switched on again.
"""

from __future__ import annotations

import os
import sys
import threading
from collections.abc import Sequence
from dataclasses import asdict
from itertools import groupby
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from lensyard.config import user_cache_dir
from lensyard.errors import StoreError, UnknownNameError
from lensyard.files import file_sha256, is_private
from lensyard.plays.bundled import (
    Attribution,
    attributions_of,
    build_store,
    keyboard_interrupts,
    plays_path,
)
from lensyard.plays.importing.adapter import (
    EXTRA_COLUMNS,
    REJECT_COLUMNS,
    identifier,
    literal,
    parquet_files,
    without_pattern,
)
from lensyard.plays.importing.catalog import (
    BUNDLED,
    ImportedSeasons,
    Part,
    catalog_signature,
    imported_seasons,
    imports_dir,
)
from lensyard.plays.schema import COLUMN_NAMES, SCHEMA_VERSION, SEASON_TYPES, PlayKind, column
from lensyard.running import checkpoint

if TYPE_CHECKING:
    import duckdb
    import pandas as pd

_READER_SETTINGS: Final[dict[str, str | bool | int | float | list[str]]] = {
    "autoinstall_known_extensions": "false", "autoload_known_extensions": "false",
    "allow_community_extensions": "false",
}  # fmt: skip


def store_path(parquet: Path, *, folder: Path) -> Path:
    """Return the file of the store that belongs to a Parquet file."""
    import duckdb

    name = f"plays-{file_sha256(parquet)[:16]}-v{SCHEMA_VERSION}-duckdb{duckdb.__version__}.duckdb"
    return folder / name


class Store:
    """Read access to the plays, safe to share between threads. A context manager.

    One connection serves the process; every thread gets a cursor of its own.
    """

    def __init__(self, path: Path, imported: ImportedSeasons, *, source: Path) -> None:
        self.path = path
        self.imported = imported
        self._source = source
        self._lock = threading.Lock()
        self._is_rebuilt = False
        self._local = threading.local()
        self._connection: duckdb.DuckDBPyConnection | None = None
        self._cursors: list[duckdb.DuckDBPyConnection] = []
        if is_private(path):
            try:
                self._connect()
                return
            except StoreError:  # damaged: it holds nothing that cannot be built again
                pass
        self._rebuild("could not be opened" if path.exists() else "")

    def _connect(self) -> None:
        import duckdb

        connection = _connect(self.path, self.imported)
        try:
            self._views = _views(connection, self.imported)
        except duckdb.Error as error:
            connection.close()
            raise StoreError(f"cannot read the store {self.path}: {error}") from error
        self._connection = connection
        self._cursors = [connection]

    def _rebuild(self, why: str) -> None:
        """Build the file anew, once, and say so where there was one."""
        self.close()
        self._is_rebuilt = True
        build_store(self._source, target=self.path)
        self._connect()
        if why:
            sys.stderr.write(f"lensyard: the store {self.path} {why} and was built anew\n")

    @classmethod
    def open(
        cls, *, parquet: Path | None = None, folder: Path | None = None, imports: Path | None = None
    ) -> Store:
        """Open the store, building it first where there is none yet.

        `parquet`: The plays; the bundled ones by default.
        `folder`: Where the store lies; the user's cache folder by default.
        `imports`: The folder of imported seasons; none by default.

        Raises `DataError` if the plays are missing; `StoreError` if the folder cannot be written,
        the store can be neither built nor opened, or the list of imported seasons is damaged.
        """
        source = plays_path() if parquet is None else parquet
        place = user_cache_dir(create=True) if folder is None else folder
        try:
            path = store_path(source, folder=place)
        except OSError as error:
            raise StoreError(f"cannot read the plays {source}: {error}") from error
        if place.exists() and not is_private(place):
            raise StoreError(
                f"other accounts can write to {place}, so the store in it is not believed. Take "
                "their right away (chmod o-w), or set LENSYARD_CACHE_DIR to a folder of your own"
            )
        imported = ImportedSeasons() if imports is None else imported_seasons(imports)
        return cls(path, imported, source=source)

    def __enter__(self) -> Store:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Close the connection; later queries raise `StoreError`."""
        opened, self._cursors, self._connection = self._cursors, [], None
        self._local = threading.local()
        for connection in reversed(opened):  # all of them, or the old file stays open
            connection.close()

    def query(self, sql: str, params: Sequence[Any] | None = None) -> pd.DataFrame:
        """Run one SQL query over `plays`, `all_plays` or `rejects`.

        `sql`: A query; values go in as `?`.
        `params`: The values of the question marks, in order.

        Returns `pandas.DataFrame`: Nullable numbers are floats with NaN.

        Raises `StoreError` if the store is closed or DuckDB refuses the query.
        """
        import duckdb

        try:
            try:
                return self._answer(sql, params)
            except (duckdb.Error, UnicodeDecodeError) as error:
                if not self._heal(error):
                    raise
            return self._answer(sql, params)
        except (duckdb.Error, UnicodeDecodeError) as error:
            raise StoreError(f"the query failed: {error}") from error

    def _answer(self, sql: str, params: Sequence[Any] | None) -> pd.DataFrame:
        checkpoint()
        with keyboard_interrupts():
            return _with_plain_numbers(self._cursor().execute(sql, params).df())

    def _heal(self, error: Exception) -> bool:
        """Build the store anew where an error is one of its file; return whether to ask again."""
        import duckdb

        damage = (
            duckdb.IOException,
            duckdb.InternalException,
            duckdb.FatalException,
            duckdb.SerializationException,
            UnicodeDecodeError,
        )
        # A wrong checksum has no class of its own.
        if not isinstance(error, damage) and type(error) is not duckdb.Error:
            return False
        with self._lock:
            if not self._is_rebuilt:
                self._rebuild(f"is damaged ({str(error).splitlines()[0][:120]})")
            return True

    def plays(
        self,
        columns: Sequence[str] | None = None,
        *,
        seasons: Sequence[int] | None = None,
        season_type: str | None = None,
        kinds: Sequence[str] | None = None,
        source: str | None = None,
    ) -> pd.DataFrame:
        """Return plays in the order of games and, within a game, of the plays.

        `columns`: Canonical columns, all by default.
        `season_type`: "REG" or "POST" only.
        `source`: "bundled" or an imported source. By default each season comes from one source: the
            bundled plays, else a professional import, else the next level.

        Raises `UnknownNameError` if a column, a kind or the season type is not of the schema, or
        there is no such source; `DataError` if an imported season that was asked for is damaged;
        `StoreError` if the store is closed.
        """
        names = [column(name).name for name in (COLUMN_NAMES if columns is None else columns)]
        if not names:
            raise UnknownNameError(name="columns", value="", known=COLUMN_NAMES)
        self.imported.require(source=source, seasons=seasons)
        where, values = _conditions(
            seasons=seasons, season_type=season_type, kinds=kinds, source=source
        )
        table = "plays" if source is None else "all_plays"
        return self.query(
            f"SELECT {', '.join(names)} FROM {table}{where} ORDER BY game_id, play_index", values
        )

    def attributions(
        self, seasons: Sequence[int] | None = None, *, source: str | None = None
    ) -> tuple[Attribution, ...]:
        """Return whom to name for plays of these seasons; both arguments as in `plays`.

        Raises `UnknownNameError` if there is no such source.
        """
        return attributions_of(self.imported, seasons, source=source)

    def _cursor(self) -> duckdb.DuckDBPyConnection:
        """Return this thread's cursor."""
        connection = self._connection
        if connection is None:
            raise StoreError("the store is closed; open it again")
        cursor: duckdb.DuckDBPyConnection | None = getattr(self._local, "cursor", None)
        if cursor is None:
            cursor = connection.cursor()
            self._cursors.append(cursor)
            for view in self._views:  # views of a connection that cannot write are its own
                cursor.execute(view)
            self._local.cursor = cursor
        return cursor


def _conditions(
    *,
    seasons: Sequence[int] | None,
    season_type: str | None,
    kinds: Sequence[str] | None,
    source: str | None,
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
    if source is not None:
        conditions.append("source = ?")
        values.append(source)
    return (f" WHERE {' AND '.join(conditions)}" if conditions else ""), values


def _with_plain_numbers(table: pd.DataFrame) -> pd.DataFrame:
    """Return the table with nullable integers as floats, whatever version of DuckDB made it."""
    from pandas.api import types

    nullable = {
        name: "float64"
        for name, dtype in table.dtypes.items()
        if types.is_extension_array_dtype(dtype) and types.is_numeric_dtype(dtype)
        if not types.is_bool_dtype(dtype)
    }
    return table.astype(nullable)


def _known(value: str, *, name: str, known: Sequence[str]) -> str:
    if value not in known:
        raise UnknownNameError(name=name, value=value, known=known)
    return value


def _connect(path: Path, imported: ImportedSeasons) -> duckdb.DuckDBPyConnection:
    """Open a store file for reading, locked down."""
    import duckdb

    try:
        connection = duckdb.connect(str(path), read_only=True, config=_READER_SETTINGS)
        _lock_down(connection, imported)
        connection.execute("SELECT 1 FROM plays LIMIT 1")
    except duckdb.Error as error:
        raise StoreError(
            f"cannot open the store {path}: {error}. Delete the file; it is built anew."
        ) from error
    return connection


def _lock_down(connection: duckdb.DuckDBPyConnection, imported: ImportedSeasons) -> None:
    """Leave a connection nothing but the imported files; none of it can be taken back.

    Connections of one process to one file share their settings, so a second one finds them set.
    """
    folder = imported.folder
    names = [] if folder is None else [str(folder.absolute()) + os.sep]
    allowed = list(dict.fromkeys([*names, *map(without_pattern, names)]))
    locked = connection.execute(
        "SELECT current_setting('lock_configuration'), current_setting('allowed_directories')"
    ).fetchone()
    if locked is not None and locked[0]:
        if not set(allowed) <= {str(name) for name in locked[1]}:
            connection.close()
            raise StoreError(
                f"the plays are open already without those in {imported.folder}; close the open "
                "store first"
            )
        return
    folders = ", ".join(literal(name) for name in allowed)
    connection.execute(f"SET allowed_directories = [{folders}]")
    connection.execute("SET enable_external_access = false")
    connection.execute("SET lock_configuration = true")


def _views(connection: duckdb.DuckDBPyConnection, imported: ImportedSeasons) -> list[str]:
    """Return the statements that create the views of a cursor.

    `plays` has the canonical columns of one source a season, `all_plays` every source with
    `source`, `level` and `hash_mark` beside them, `rejects` the rejected rows.
    """
    database = connection.execute("SELECT current_database()").fetchone() or ("",)
    bundled = f"{identifier(str(database[0]))}.main.plays"
    seasons = connection.execute("SELECT DISTINCT season FROM plays").fetchall()
    answering = imported.catalog.answering(frozenset(int(row[0]) for row in seasons))
    entries = imported.catalog.entries
    names, extras = ", ".join(COLUMN_NAMES), ", ".join(EXTRA_COLUMNS)
    no_extras = ", ".join(f"NULL::{kind} AS {name}" for name, kind in EXTRA_COLUMNS.items())
    every = [
        f"SELECT {names}, {no_extras}, {literal(BUNDLED)} AS source, 'pro' AS level FROM {bundled}"
    ]
    for source, group in groupby(entries, key=lambda entry: entry.source):
        of_source = list(group)
        parts = [part for entry in of_source for part in entry.parts]
        every.append(
            f"SELECT {names}, {extras}, {literal(source)} AS source, "
            f"{literal(of_source[0].level)} AS level FROM {_files(imported, parts)}"
        )
    columns = ", ".join(f"NULL::{kind} AS {name}" for name, kind in REJECT_COLUMNS.items())
    rejects = f"SELECT {columns} WHERE false"
    if rejected := [part for entry in entries for part in entry.rejects]:
        rejects = f"SELECT {', '.join(REJECT_COLUMNS)} FROM {_files(imported, rejected)}"
    statements = {"all_plays": " UNION ALL ".join(every), "rejects": rejects}
    if answering:
        files = _files(imported, [part for entry in answering for part in entry.parts])
        chosen = (f"SELECT {names} FROM {source}" for source in (bundled, files))
        statements["plays"] = " UNION ALL ".join(chosen)
    return [f"CREATE OR REPLACE TEMP VIEW {name} AS {query}" for name, query in statements.items()]


def _files(imported: ImportedSeasons, parts: Sequence[Part]) -> str:
    """Return the SQL that reads files of the imports."""
    folder = Path() if imported.folder is None else imported.folder.absolute()
    return parquet_files(folder / part.name for part in parts)


_shared_lock: Final = threading.Lock()
_shared: dict[int, Store] = {}


def shared_store() -> Store:
    """Return the process's one store of the bundled and the imported plays, opened on first use.

    An import by whatever process opens it anew; who still holds the old one keeps what it had.
    Raises as `Store.open` does. A forked child opens its own.
    """
    with _shared_lock:
        folder = imports_dir()
        held = _shared.get(os.getpid())
        if held is not None and held.imported.folder != folder:
            held.close()
            held = None
        if held is None or held.imported.signature != catalog_signature(folder):
            held = _shared[os.getpid()] = Store.open(imports=folder)
        return held


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
    source: str | None = None,
) -> pd.DataFrame:
    """Return plays from the shared store; see `Store.plays`."""
    return shared_store().plays(
        columns, seasons=seasons, season_type=season_type, kinds=kinds, source=source
    )


def attributions_document(
    seasons: Sequence[int] | None = None, *, source: str | None = None
) -> list[dict[str, Any]]:
    """Return whom to name for plays of these seasons, for any document that uses them."""
    imported = imported_seasons(imports_dir())
    return [asdict(each) for each in attributions_of(imported, seasons, source=source)]
