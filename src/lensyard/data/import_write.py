"""The last step of an import: plays and rejects as Parquet files, season by season."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Final

from lensyard.data.archive import file_sha256
from lensyard.data.rejects import COLUMNS as REJECT_COLUMNS
from lensyard.data.sources.base import Adapter
from lensyard.data.sources.catalog import Catalog, Entry, ImportedFile, Part
from lensyard.data.sources.sql import literal

if TYPE_CHECKING:
    import duckdb

_NOT_THERE: Final = " AND game_id NOT IN (SELECT game_id FROM overlap)"
_FORMAT: Final = "FORMAT parquet, COMPRESSION zstd, ROW_GROUP_SIZE 122880"


@dataclass(frozen=True, slots=True)
class Written:
    """What waits in the work folder to be moved, and the catalog's entries for it."""

    entries: tuple[Entry, ...]
    new_files: tuple[str, ...]
    stored: int
    games_there: int
    games_replaced: int

    @property
    def changed(self) -> bool:
        """Whether there is anything to move."""
        return bool(self.entries)


def write_seasons(
    connection: duckdb.DuckDBPyConnection,
    *,
    folder: Path,
    workdir: Path,
    catalog: Catalog,
    adapter: Adapter,
    file: ImportedFile,
    replace_games: bool,
) -> Written:
    """Write the tables `plays` and `rejects` as files of the catalog.

    Parameters
    ----------
    connection
        The private database of the import.
    folder, workdir
        Of the catalog (read only), and where the new files go.
    catalog
        What there is.
    adapter, file
        Where the plays come from.
    replace_games
        Take the new copy of games that are there already.
    """
    source = adapter.name
    entries: list[Entry] = []
    names: list[str] = []
    stored = there = replaced = 0
    for season in file.seasons:
        old = catalog.get(source, season)
        overlap = _overlap(connection, folder, old, season)
        fresh = f"SELECT * FROM plays WHERE season = {season}"
        kept_parts = () if old is None else old.parts
        if overlap and replace_games:
            rest = _of(folder, kept_parts)
            fresh += f" UNION ALL BY NAME SELECT * FROM {rest} WHERE true{_NOT_THERE}"
            kept_parts = ()
        elif overlap:
            fresh += _NOT_THERE
        part = _write(connection, fresh, workdir, f"{source}-{season}", order="game_id, play_index")
        if part is None or (old is not None and part in old.parts):
            there += len(overlap)
            continue
        there += 0 if replace_games else len(overlap)
        replaced += len(overlap) if replace_games else 0
        entry = _entry(connection, folder, workdir, old, adapter, source, season, file)
        rejects = _write_rejects(
            connection, folder, workdir, old, source, season, file, drop=replace_games
        )
        parts = (*kept_parts, part)
        fresh_rejects = [] if rejects is None else [rejects]
        kept_rejects = () if old is None or replace_games else old.rejects
        names += [p.name for p in (part, *fresh_rejects)]
        entries.append(
            _counted(
                connection,
                replace(entry, parts=parts, rejects=(*kept_rejects, *fresh_rejects)),
                folder,
                workdir,
            )
        )
        row = connection.execute(
            f"SELECT count(*) FROM plays WHERE season = {season}"
            + (_NOT_THERE if overlap and not replace_games else "")
        ).fetchone() or (0,)
        stored += int(row[0])
    return Written(tuple(entries), tuple(dict.fromkeys(names)), stored, there, replaced)


def _overlap(
    connection: duckdb.DuckDBPyConnection, folder: Path, old: Entry | None, season: int
) -> list[str]:
    """Return the games of a season that are there already; they become the table `overlap`."""
    there = "SELECT NULL::VARCHAR AS game_id WHERE false"
    if old is not None and old.parts:
        there = f"SELECT DISTINCT game_id FROM {_of(folder, old.parts)}"
    connection.execute(
        f"CREATE OR REPLACE TEMP TABLE overlap AS {there} INTERSECT "
        f"SELECT DISTINCT game_id FROM plays WHERE season = {season}"
    )
    return [str(row[0]) for row in connection.execute("SELECT game_id FROM overlap").fetchall()]


def _of(folder: Path, parts: Sequence[Part]) -> str:
    """Return the SQL that reads files of the catalog."""
    listed = ", ".join(literal(str(folder / part.name)) for part in parts)
    return f"read_parquet([{listed}], union_by_name=true)"


def _write(
    connection: duckdb.DuckDBPyConnection, query: str, workdir: Path, stem: str, *, order: str
) -> Part | None:
    """Write a query as a file named after its content; None where there are no rows."""
    temporary = workdir / "part"
    row = connection.execute(
        f"COPY ({query} ORDER BY {order}) TO {literal(str(temporary))} ({_FORMAT})"
    ).fetchone() or (0,)
    rows = int(row[0])
    if rows == 0:
        temporary.unlink(missing_ok=True)
        return None
    with temporary.open("rb+") as stream:
        os.fsync(stream.fileno())
    sha256 = file_sha256(temporary)
    name = f"{stem}-{sha256[:16]}.parquet"
    os.replace(temporary, workdir / name)
    return Part(name, (workdir / name).stat().st_size, sha256, rows)


def _write_rejects(
    connection: duckdb.DuckDBPyConnection,
    folder: Path,
    workdir: Path,
    old: Entry | None,
    source: str,
    season: int,
    file: ImportedFile,
    *,
    drop: bool,
) -> Part | None:
    """Write a season's rejects; those without a season go with the file's first.

    Where games are replaced, earlier rejects of those games and of the same file are dropped.
    """
    own = f"season = {season}"
    if season == file.seasons[0]:
        listed = ", ".join(str(each) for each in file.seasons)
        own = f"({own} OR season IS NULL OR season NOT IN ({listed}))"
    chosen = {
        "source": literal(source),
        "file": literal(file.name),
        "season": str(season),
    }
    select = ", ".join(
        f"CAST({chosen.get(name, name)} AS {kind}) AS {name}"
        for name, kind in REJECT_COLUMNS.items()
    )
    query = f"SELECT {select} FROM rejects WHERE {own}"
    if drop and old is not None and old.rejects:
        query += (
            f" UNION ALL BY NAME SELECT * FROM {_of(folder, old.rejects)} "
            f"WHERE file <> {literal(file.name)} AND coalesce(true{_NOT_THERE}, true)"
        )
    return _write(connection, query, workdir, f"{source}-{season}-rejects", order="file, line")


def _entry(
    connection: duckdb.DuckDBPyConnection,
    folder: Path,
    workdir: Path,
    old: Entry | None,
    adapter: Adapter,
    source: str,
    season: int,
    file: ImportedFile,
) -> Entry:
    """Return the entry of a season, before its files are counted."""
    row = connection.execute(
        f"SELECT count(*), count(DISTINCT game_id) FROM plays WHERE season = {season}"
    ).fetchone()
    kept, games = row or (0, 0)
    file = replace(file, kept=int(kept), games=int(games))
    earlier = () if old is None else old.files
    earlier = tuple(f for f in earlier if (f.sha256, f.reader) != (file.sha256, file.reader))
    return Entry(
        source=source,
        season=season,
        title=adapter.title,
        level=adapter.level,
        license=adapter.license,
        attribution=adapter.attribution,
        plays=0,
        games=0,
        season_types=(),
        parts=(),
        rejects=(),
        files=(*earlier, file),
        changed_at=file.imported_at,
    )


def _counted(
    connection: duckdb.DuckDBPyConnection, entry: Entry, folder: Path, workdir: Path
) -> Entry:
    """Return the entry with plays, games and season types counted in its files."""
    paths = [
        workdir / part.name if (workdir / part.name).exists() else folder / part.name
        for part in entry.parts
    ]
    listed = ", ".join(literal(str(path)) for path in paths)
    row = connection.execute(
        "SELECT count(*), count(DISTINCT game_id), list_sort(list_distinct(list(season_type))) "
        f"FROM read_parquet([{listed}], union_by_name=true)"
    ).fetchone()
    plays, games, kinds = row or (0, 0, [])
    return replace(
        entry, plays=int(plays), games=int(games), season_types=tuple(str(kind) for kind in kinds)
    )
