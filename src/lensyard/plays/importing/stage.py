"""A file's rows as checked plays in the tables of a private database; nothing is stored yet."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from lensyard.errors import DataError
from lensyard.plays.bundled import keyboard_interrupts
from lensyard.plays.importing import checks, transform
from lensyard.plays.importing.adapter import (
    VALUE_LENGTH,
    Adapter,
    RawColumns,
    adapter_named,
    identifier,
    literal,
    recognize,
    staged_select,
    without_pattern,
)
from lensyard.plays.importing.catalog import STAGING_PREFIX, Tally, source_slug
from lensyard.plays.importing.checks import SPLIT_WORDS
from lensyard.plays.importing.read_file import (
    Limits,
    RawFile,
    first_line,
    read_raw,
)
from lensyard.records import Record
from lensyard.running import unfinished

if TYPE_CHECKING:
    import duckdb

    from lensyard.plays.importing.mapping import Mapping

LIMITS: Final = Limits()
REJECT_LIMIT: Final = 0.05
"""Largest share of unusable plays in a file that is still taken (real files have under 1 %)."""


class Request(Record):
    """What to import, and how.

    `source`: Name of the source; None recognizes it. With a mapping: the name to store it under.
    `limit_rejects`: Share of unusable plays beyond which the file is refused, 0 to 1.
    `replace`: Take this file's copy of games that are stored already.
    `season`: Of rows that do not say theirs.
    """

    path: Path
    source: str | None = None
    mapping: Mapping | None = None
    limit_rejects: float = REJECT_LIMIT
    replace: bool = False
    season: int | None = None
    limits: Limits = LIMITS


class Reject(Record):
    """One rejected row: where it stands, its value, and the reason in plain words."""

    source: str
    season: int | None
    file: str
    line: int
    game_id: str
    column_name: str
    value: str
    reason: str


class ImportReport(Record):
    """What an import did, or a check would do.

    `file`, `source`, `title`, `level`, `license`, `attribution`: What was read, and from whom.
    `seasons`: That the file has plays of.
    `rows`, `kept`: Rows of the file, and plays that came of them.
    `stored`: Plays that were added or replaced.
    `games`, `games_there`, `games_replaced`: Games in the file; of those, stored already and left;
        replaced.
    `passed_over`, `repaired`, `rejected`: By reason.
    `notes`: What had to be done to read the file.
    `absent`: What the file does not have, and what follows for answers.
    """

    file: str
    source: str
    title: str
    level: str
    license: str
    attribution: str
    seasons: tuple[int, ...]
    rows: int
    kept: int
    games: int
    passed_over: tuple[Tally, ...]
    repaired: tuple[Tally, ...]
    rejected: tuple[Tally, ...]
    notes: tuple[str, ...]
    rejects: tuple[Reject, ...] = ()
    absent: tuple[str, ...] = ()
    changed: bool = False
    stored: int = 0
    games_there: int = 0
    games_replaced: int = 0

    @property
    def p_rejected(self) -> float:
        """Share of unusable plays."""
        rejected = sum(tally.rows for tally in self.rejected)
        return rejected / (rejected + self.kept)


class OpenedFile(Record):
    """A file that was recognized, before its rows are read; `reader` says what will read it."""

    raw: RawFile
    adapter: Adapter
    columns: RawColumns
    reader: str


@contextmanager
def staged_file(
    request: Request, *, most_rejects: int = 20
) -> Iterator[tuple[duckdb.DuckDBPyConnection, ImportReport]]:
    """Yield a file's plays in the table `plays` of a private database, and the report on it.

    Raises as `check_file` does.
    """
    with look_into(request) as (connection, workdir):
        opened = open_file(connection, request, workdir)
        yield connection, stage(connection, opened, request, most_rejects=most_rejects)


@contextmanager
def look_into(request: Request) -> Iterator[tuple[duckdb.DuckDBPyConnection, Path]]:
    """Yield a private database that may read a file, and a work folder; both go afterwards."""
    with work_folder(None) as workdir, private_database(workdir, request) as connection:
        yield connection, workdir


def open_file(connection: duckdb.DuckDBPyConnection, request: Request, workdir: Path) -> OpenedFile:
    """Return a file with the adapter that reads it.

    Raises `DataError` if it cannot be read, is of no known source, or lacks columns.
    """
    mapping = request.mapping
    raw = read_raw(
        connection,
        request.path,
        workdir=workdir,
        limits=request.limits,
        skip_lines=0 if mapping is None else mapping.skip_lines,
    )
    if mapping is not None:
        from lensyard.plays.importing.mapping import adapter_of

        adapter = adapter_of(mapping, stem=request.path.stem)
        if request.source is not None:
            adapter = replace(adapter, name=source_slug(request.source))
        reader = f"mapping {mapping.fingerprint}"
    else:
        if request.source is not None:
            adapter = adapter_named(request.source)
        else:
            adapter = recognize(raw.types, name=request.path.name)
        reader = f"{adapter.name} {adapter.version}"
    columns = RawColumns(raw.types, adapter.names)
    checks.require_fields(
        adapter, columns, name=request.path.name, season_given=request.season is not None
    )
    if request.season is not None:
        reader += f" season {request.season}"
    return OpenedFile(raw, adapter, columns, reader)


def stage(
    connection: duckdb.DuckDBPyConnection,
    opened: OpenedFile,
    request: Request,
    *,
    most_rejects: int = 20,
) -> ImportReport:
    """Fill the tables `plays` and `rejects` of a private database.

    Raises `DataError` if the file is not usable as a whole.
    """
    import duckdb

    name, adapter = request.path.name, opened.adapter
    try:
        rows, passed_over, repaired = _fill(connection, opened, request)
        _add_split_rejects(connection, opened.raw)
        rejected = connection.execute(
            "SELECT reason, count(*), min(line) FROM rejects GROUP BY reason ORDER BY 2 DESC, 1"
        ).fetchall()
        found = connection.execute(
            "SELECT season, count(*), count(DISTINCT game_id) FROM plays "
            "GROUP BY season ORDER BY season"
        ).fetchall()
        rejects = _first_rejects(connection, adapter.name, name, most=most_rejects)
        absent = checks.absent(connection, repaired)
    except duckdb.Error as error:
        raise DataError(
            f"{name} cannot be read as {adapter.title}: {first_line(error)}. Open it, check it, "
            "and save it again."
        ) from error
    report = report_on(
        opened,
        name=name,
        seasons=tuple(int(row[0]) for row in found),
        rows=rows,
        kept=sum(int(row[1]) for row in found),
        games=sum(int(row[2]) for row in found),
        passed_over=passed_over,
        repaired=repaired,
        rejected=tuple(Tally(str(words), int(n), int(line)) for words, n, line in rejected),
        notes=opened.raw.notes,
        rejects=rejects,
        absent=absent,
    )
    if report.kept == 0:
        checks.require_few_rejects(accepted=0, rejected=report.rejected, limit=1.0, name=name)
    return report


def report_on(opened: OpenedFile, *, name: str, **found: Any) -> ImportReport:
    """Return the report on a file, with its source's title, level and license."""
    adapter = opened.adapter
    return ImportReport(
        file=name,
        source=adapter.name,
        title=adapter.title,
        level=adapter.level,
        license=adapter.license,
        attribution=adapter.attribution,
        **found,
    )


def _fill(
    connection: duckdb.DuckDBPyConnection, opened: OpenedFile, request: Request
) -> tuple[int, tuple[Tally, ...], tuple[Tally, ...]]:
    """Create `plays` and `rejects`; return rows, what was passed over, and what was repaired."""
    raw, adapter, columns = opened.raw, opened.adapter, opened.columns
    limit, name = request.limits.rows, request.path.name
    if adapter is checks.CANONICAL:
        _create_raw(connection, raw, list(raw.types), limit=limit)
        checks.stage_canonical(connection, columns)
        row = connection.execute("SELECT count(*) FROM raw").fetchone() or (0,)
        return int(row[0]), (), ()
    staged = staged_select(adapter, columns, season=request.season)  # `used` is complete now
    _create_raw(connection, raw, list(columns.used), limit=limit)
    connection.execute(f"CREATE TABLE staged AS {staged}")
    rows, passed_over = checks.require_content(connection, adapter, columns, name=name)
    if rows > limit:
        raise DataError(f"{name} has more than {limit:,} rows; split it into seasons")
    return rows, passed_over, transform.transform(connection, columns, level=adapter.level)


def _create_raw(
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


def _add_split_rejects(connection: duckdb.DuckDBPyConnection, raw: RawFile) -> None:
    """Add the lines that could not be split into columns to `rejects`."""
    if raw.format == "csv":
        connection.execute(
            "INSERT INTO rejects SELECT line, NULL, NULL, '', left(any_value(csv_line), "
            f"{VALUE_LENGTH}), {literal(SPLIT_WORDS)} FROM reject_errors GROUP BY line"
        )


def _first_rejects(
    connection: duckdb.DuckDBPyConnection, source: str, file: str, *, most: int
) -> tuple[Reject, ...]:
    """Return the first rows of the table `rejects`, by line."""
    rows = connection.execute(
        "SELECT season, line, game_id, column_name, value, reason FROM rejects "
        "ORDER BY line LIMIT ?",
        [most],
    ).fetchall()
    return tuple(
        Reject(source, season, file, int(line), *(str(text or "") for text in texts))
        for season, line, *texts in rows
    )


@contextmanager
def work_folder(place: Path | None) -> Iterator[Path]:
    """Yield a folder for one import, inside `place` if given; it is gone afterwards."""
    if place is None:
        with tempfile.TemporaryDirectory(prefix="lensyard-") as name, unfinished(name):
            yield Path(name)
        return
    path = Path(tempfile.mkdtemp(prefix=STAGING_PREFIX, dir=place))
    with unfinished(path):
        try:
            yield path
        finally:
            shutil.rmtree(path, ignore_errors=True)


def _require_plain_name(path: Path) -> None:
    """Raise `DataError` if a path is no text, so that it could be neither shown nor kept."""
    try:
        str(path).encode()
    except UnicodeEncodeError:
        raise DataError(
            f"the name of {path.name!a} is no UTF-8, so it can be neither shown nor kept; "
            "rename the file"
        ) from None


@contextmanager
def private_database(
    workdir: Path, request: Request, *, readable: Path | None = None
) -> Iterator[duckdb.DuckDBPyConnection]:
    """Yield a private database that reads and writes only the files of this import."""
    import duckdb

    _require_plain_name(request.path)
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
        names = [folder + os.sep for folder in folders]
        listed = ", ".join(literal(name) for name in (*names, *map(without_pattern, names)))
        connection.execute("SET enable_progress_bar = false")
        connection.execute(f"SET allowed_directories = [{listed}]")
        # It is read through a link, behind which the database looks.
        real = literal(os.path.realpath(request.path))
        connection.execute(f"SET allowed_paths = [{real}]")
        connection.execute("SET enable_external_access = false")
        connection.execute("SET lock_configuration = true")
        with keyboard_interrupts():
            yield connection
    finally:
        connection.close()
