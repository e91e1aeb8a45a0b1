"""The middle of an import: a file's rows as checked plays in the tables of a private database."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Final

from lensyard.errors import DataError, StoreError
from lensyard.plays.importing import canonical
from lensyard.plays.importing import import_write as import_check
from lensyard.plays.importing import transform as staging
from lensyard.plays.importing.adapter import Adapter, mapped_select
from lensyard.plays.importing.catalog import STAGING_PREFIX, ImportedFile, Tally, source_slug
from lensyard.plays.importing.possession_sql import drive, place
from lensyard.plays.importing.read_file import Limits, RawFile, first_line, read_raw
from lensyard.plays.importing.registry import adapter as adapter_named
from lensyard.plays.importing.registry import recognize
from lensyard.plays.importing.rejects import Reject, first_rejects, tallies
from lensyard.plays.importing.rules import SPLIT_WORDS
from lensyard.plays.importing.sql import RawColumns, identifier, literal
from lensyard.plays.store_build import keyboard_interrupts

if TYPE_CHECKING:
    import duckdb

    from lensyard.plays.importing.mapping import Mapping

LIMITS: Final = Limits()
REJECT_LIMIT: Final = 0.05
"""Largest share of unusable plays in a file that is still taken (real files have under 1 %)."""


@dataclass(frozen=True, slots=True)
class Request:
    """What to import, and how.

    Attributes
    ----------
    path
        The file.
    source
        Name of the source; None recognizes it. With a mapping: the name to store it under.
    mapping
        How to read a spreadsheet; None for known sources.
    limit_rejects
        Share of unusable plays beyond which the file is refused, 0 to 1.
    replace
        Take this file's copy of games that are stored already.
    season
        Of rows that do not say theirs.
    limits
        How much of a file is taken on.
    """

    path: Path
    source: str | None = None
    mapping: Mapping | None = None
    limit_rejects: float = REJECT_LIMIT
    replace: bool = False
    season: int | None = None
    limits: Limits = LIMITS


@dataclass(frozen=True)
class Opened:
    """A file that was recognized, before its rows are read."""

    raw: RawFile
    adapter: Adapter
    columns: RawColumns
    reader: str


@dataclass(frozen=True)
class Staged:
    """A file whose plays wait in the tables `plays` and `rejects`."""

    opened: Opened
    file: ImportedFile
    rejects: tuple[Reject, ...]
    games: int


def open_file(connection: duckdb.DuckDBPyConnection, request: Request, workdir: Path) -> Opened:
    """Return a file with the adapter that reads it.

    Raises
    ------
    DataError
        If it cannot be read, is of no known source, or lacks columns.
    """
    skip = request.mapping.skip_lines if request.mapping is not None else 0
    raw = read_raw(
        connection, request.path, workdir=workdir, limits=request.limits, skip_lines=skip
    )
    adapter = _adapter_for(request, raw)
    columns = RawColumns(raw.types, adapter.names)
    import_check.require_fields(
        adapter, columns, name=request.path.name, season_given=request.season is not None
    )
    reader = (
        f"{adapter.name} {adapter.version}"
        if request.mapping is None
        else f"mapping {request.mapping.fingerprint}"
    )
    if request.season is not None:
        reader += f" season {request.season}"
    return Opened(raw, adapter, columns, reader)


def stage(
    connection: duckdb.DuckDBPyConnection,
    opened: Opened,
    request: Request,
    *,
    most_rejects: int = 20,
) -> Staged:
    """Fill the tables `plays` and `rejects` of a private database.

    Raises
    ------
    DataError
        If the file is not usable as a whole.
    """
    import duckdb

    name, adapter = request.path.name, opened.adapter
    try:
        rows, passed, repaired = _fill(connection, opened, request)
        _split_rejects(connection, opened.raw)
        rejected = tallies(connection)
        kept, games, seasons = _counts(connection)
        rejects = first_rejects(connection, source=adapter.name, file=name, most=most_rejects)
    except duckdb.Error as error:
        raise DataError(
            f"{name} cannot be read as {adapter.title}: {first_line(error)}. Open it, check it, "
            "and save it again."
        ) from error
    if kept == 0:
        import_check.require_few_rejects(kept=0, rejected=rejected, limit=1.0, name=name)
    file = ImportedFile(
        name=name,
        sha256=opened.raw.sha256,
        reader=opened.reader,
        imported_at=datetime.now(UTC).isoformat(timespec="seconds"),
        seasons=seasons,
        rows=rows,
        kept=kept,
        games=games,
        passed_over=passed,
        repaired=repaired,
        rejected=rejected,
        notes=tuple(opened.raw.notes),
    )
    return Staged(opened, file, rejects, games)


def _adapter_for(request: Request, raw: RawFile) -> Adapter:
    """Return the adapter that the request names, or the one that the columns call for."""
    if request.mapping is not None:
        from lensyard.plays.importing.spreadsheet import adapter_of

        found = adapter_of(request.mapping, stem=request.path.stem)
        return found if request.source is None else replace(found, name=source_slug(request.source))
    if request.source is not None:
        return adapter_named(request.source)
    return recognize(raw.types, name=request.path.name)


def _fill(
    connection: duckdb.DuckDBPyConnection, opened: Opened, request: Request
) -> tuple[int, tuple[Tally, ...], tuple[Tally, ...]]:
    """Create `plays` and `rejects`; return rows, what was passed over, and what was mended."""
    raw, adapter, columns = opened.raw, opened.adapter, opened.columns
    limits, name = request.limits, request.path.name
    if adapter is canonical.ADAPTER:
        _raw_table(connection, raw, list(raw.types), limit=limits.rows)
        canonical.stage(connection, columns)
        row = connection.execute("SELECT count(*) FROM raw").fetchone() or (0,)
        return int(row[0]), (), ()
    mapped_select(adapter, columns)  # learns which columns are needed
    _raw_table(connection, raw, list(columns.used), limit=limits.rows)
    staging.map_columns(connection, adapter, columns, season=request.season)
    rows, passed = import_check.require_content(connection, adapter, columns, name=name)
    if rows > limits.rows:
        raise DataError(f"{name} has more than {limits.rows:,} rows; split it into seasons")
    cleaned = staging.mend(connection, adapter.level)
    staging.reject(connection, columns)
    cleaned |= place(connection)
    drive(connection)
    staging.canonical(connection)
    repaired = [Tally(words, n, line) for words, (n, line) in cleaned.items()]
    return rows, passed, tuple(sorted(repaired, key=lambda tally: -tally.rows))


def _raw_table(
    connection: duckdb.DuckDBPyConnection, raw: RawFile, used: list[str], *, limit: int
) -> None:
    """Create `raw`: the needed columns with the line of each row; text is read only once."""
    chosen = "".join(f", {identifier(column)}" for column in used)
    if raw.format == "parquet":
        connection.execute(
            f"CREATE VIEW raw AS SELECT file_row_number + {raw.first_line} AS line{chosen} "
            f"FROM {raw.relation}"
        )
        return
    connection.execute(
        f"CREATE TABLE raw AS SELECT row_number() OVER () + {raw.first_line - 1} AS line{chosen} "
        f"FROM {raw.relation} LIMIT {limit + 1}"
    )
    if raw.format == "csv":
        connection.execute(_SHIFT.format(before=raw.first_line - 1))


_SHIFT: Final = """UPDATE raw SET line = line + (
    SELECT count(*) FROM (
        SELECT line - row_number() OVER (ORDER BY line) AS before
        FROM (SELECT DISTINCT line FROM reject_errors) LIMIT 1000
    ) AS bad WHERE bad.before <= raw.line - {before}
) WHERE EXISTS (SELECT 1 FROM reject_errors)"""
"""Rows after a line that could not be split lie one line further down."""


def _split_rejects(connection: duckdb.DuckDBPyConnection, raw: RawFile) -> None:
    """Add the lines that could not be split into columns to `rejects`."""
    if raw.format != "csv":
        return
    connection.execute(
        "INSERT INTO rejects SELECT line, NULL, NULL, '', left(any_value(csv_line), "
        f"{staging.VALUE_LENGTH}), {literal(SPLIT_WORDS)} FROM reject_errors GROUP BY line"
    )


def _counts(connection: duckdb.DuckDBPyConnection) -> tuple[int, int, tuple[int, ...]]:
    """Return plays, games and seasons of `plays`."""
    rows = connection.execute(
        "SELECT season, count(*), count(DISTINCT game_id) FROM plays "
        "GROUP BY season ORDER BY season"
    ).fetchall()
    return (
        sum(int(row[1]) for row in rows),
        sum(int(row[2]) for row in rows),
        tuple(int(row[0]) for row in rows),
    )


@contextmanager
def work_folder(place: Path | None) -> Iterator[Path]:
    """Yield a folder for one import, inside `place` if given; it is gone afterwards."""
    if place is None:
        with tempfile.TemporaryDirectory(prefix="lensyard-") as name:
            yield Path(name)
        return
    path = Path(tempfile.mkdtemp(prefix=STAGING_PREFIX, dir=place))
    try:
        yield path
    finally:
        shutil.rmtree(path, ignore_errors=True)


@contextmanager
def private_database(
    workdir: Path, request: Request, *, readable: Path | None = None
) -> Iterator[duckdb.DuckDBPyConnection]:
    """Yield a private database that reads and writes only the files of this import."""
    import duckdb

    connection = duckdb.connect(
        ":memory:",
        config={
            "autoinstall_known_extensions": "false",
            "autoload_known_extensions": "false",
            "allow_community_extensions": "false",
            "memory_limit": request.limits.memory,
            "temp_directory": str(workdir / "spill"),
        },
    )
    try:
        folders = [str(workdir)] + ([] if readable is None else [str(readable)])
        listed = ", ".join(literal(folder + os.sep) for folder in folders)
        connection.execute("SET enable_progress_bar = false")
        connection.execute(f"SET allowed_directories = [{listed}]")
        connection.execute(f"SET allowed_paths = [{literal(str(request.path))}]")
        connection.execute("SET enable_external_access = false")
        connection.execute("SET lock_configuration = true")
        with keyboard_interrupts():
            yield connection
    finally:
        connection.close()


@contextmanager
def storing(name: str) -> Iterator[None]:
    """Turn what DuckDB raises while files are written into a `StoreError`."""
    import duckdb

    try:
        yield
    except duckdb.Error as error:
        raise StoreError(
            f"{name} could not be stored: {first_line(error)}. Nothing was imported; free some "
            "disk space, check the folder, and try again."
        ) from error
