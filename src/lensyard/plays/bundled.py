"""The bundled plays: their provenance, the store built of them, whose plays an answer rests on.

A store is built all or nothing, whenever it is interrupted: the new file grows under a temporary
name in the same folder, is checked, closed and flushed to disk, and only then takes the place of
the old one.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from lensyard.config import data_dir
from lensyard.errors import DataError, InvalidInputError, StoreError
from lensyard.files import replacing, sweep_unfinished
from lensyard.plays.importing.catalog import BUNDLED, ImportedSeasons
from lensyard.plays.schema import COLUMN_NAMES, COLUMNS, Column
from lensyard.records import Record
from lensyard.running import checkpoint

if TYPE_CHECKING:
    import duckdb


PLAYS_NAME: Final = "plays.parquet"
PROVENANCE_NAME: Final = "plays.json"


class Provenance(Record):
    """Where the bundled plays come from.

    `sha256` and `rows` describe the Parquet file, `source_sha256` the archive it was built from.
    """

    source: str
    source_version: str
    source_url: str
    source_sha256: str
    license: str
    attribution: str
    schema_version: int
    seasons: tuple[int, ...]
    columns: tuple[str, ...]
    games: int
    rows: int
    size_bytes: int
    sha256: str
    built_with: str
    games_with_running_score_at_final_score: int
    missing: tuple[str, ...]


def plays_path() -> Path:
    """Return the Parquet file of the bundled plays. Raises `DataError` if it is missing."""
    path = data_dir() / PLAYS_NAME
    if not path.is_file():
        raise DataError(f"the bundled plays {path} are missing. Install the package again.")
    return path


def provenance(path: Path | None = None) -> Provenance:
    """Return where the bundled plays come from, or those that another such file describes.

    Raises `DataError` if the provenance file is missing or damaged.
    """
    path = data_dir() / PROVENANCE_NAME if path is None else path
    try:
        fields: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
        values: dict[str, Any] = {
            name: tuple(value) if isinstance(value, list) else value
            for name, value in fields.items()
        }
        return Provenance(**values)
    except (OSError, ValueError, TypeError, AttributeError) as error:
        raise DataError(
            f"the provenance {path} is missing or damaged ({error}). Install the package again."
        ) from error


class Attribution(Record):
    """One source behind an answer: whom to name, under which license, for which seasons."""

    source: str
    title: str
    level: str
    license: str
    text: str
    seasons: tuple[int, ...]

    @property
    def line(self) -> str:
        """The text with its license, for people."""
        return f"{self.text} License: {self.license}"


def attributions_of(
    imported: ImportedSeasons, seasons: Sequence[int] | None = None, *, source: str | None = None
) -> tuple[Attribution, ...]:
    """Return whom to name for plays of these seasons, the bundled ones first.

    `seasons`, `source`: As given to `lensyard.plays.store.load_plays`.

    Raises `UnknownNameError` if there is no such source.
    """
    imported.require(source=source, seasons=None)
    origin = provenance()
    bundled = frozenset(origin.seasons)
    wanted = None if seasons is None else {int(season) for season in seasons}
    found = []
    own = tuple(sorted(s for s in bundled if wanted is None or s in wanted))
    if own and source in (None, BUNDLED):
        found.append(
            Attribution(BUNDLED, origin.source, "pro", origin.license, origin.attribution, own)
        )
    entries = imported.catalog.answering(bundled) if source is None else imported.catalog.entries
    grouped: dict[tuple[str, str, str, str, str], list[int]] = {}
    for entry in entries:
        if source in (None, entry.source) and (wanted is None or entry.season in wanted):
            key = (entry.source, entry.title, entry.level, entry.license, entry.attribution)
            grouped.setdefault(key, []).append(entry.season)
    found += [Attribution(*key, tuple(sorted(of))) for key, of in sorted(grouped.items())]
    return tuple(found)


def parse_seasons(text: str) -> tuple[int, ...]:
    """Return seasons from text such as ``2009-2018``, ``2016,2018`` or ``2016-2018,2031``.

    Raises `InvalidInputError` if it is none of them.

    >>> parse_seasons("2016-2018"), parse_seasons("2016-2017,2031")
    ((2016, 2017, 2018), (2016, 2017, 2031))
    """
    seasons: list[int] = []
    for part in text.split(","):
        first, _, last = (end.strip() for end in part.partition("-"))
        years = [end for end in (first, last or first) if len(end) == 4 and end.isdecimal()]
        if len(years) < 2 or not 1900 <= int(years[0]) <= int(years[1]) <= 2200:
            raise InvalidInputError(
                f"cannot read seasons from {text!r}; expected 2009-2018 or 2016,2018,2031"
            )
        seasons += range(int(years[0]), int(years[1]) + 1)
    return tuple(dict.fromkeys(seasons))


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
        checkpoint()
        connection.execute(
            f"INSERT INTO plays SELECT {', '.join(COLUMN_NAMES)} FROM read_parquet(?) "
            "ORDER BY game_id, play_index",
            [str(parquet)],
        )
        checkpoint()
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
