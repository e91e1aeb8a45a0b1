"""Importing a user's plays: one file in, checked seasons beside the bundled ones, all or nothing.

Everything happens in a folder of its own until the new files are complete, flushed and checked;
then a new catalog takes the place of the old one in one step (`lensyard.plays.importing.catalog`).
An import that fails, is killed or runs out of disk changes nothing.
"""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Final

from lensyard.errors import DataError, InvalidInputError, StoreError
from lensyard.files import file_sha256, flush_file
from lensyard.plays.importing.adapter import REJECT_COLUMNS, Adapter, literal, parquet_files
from lensyard.plays.importing.catalog import (
    Catalog,
    Entry,
    ImportedFile,
    Part,
    imports_dir,
    read_catalog,
    sweep_imports,
    write_catalog,
    writer_lock,
)
from lensyard.plays.importing.checks import require_few_rejects
from lensyard.plays.importing.read_file import first_line
from lensyard.plays.importing.stage import (
    ImportReport,
    OpenedFile,
    Request,
    open_file,
    private_database,
    report_on,
    stage,
    staged_file,
    work_folder,
)
from lensyard.records import Record

if TYPE_CHECKING:
    import duckdb


def import_file(
    request: Request, *, folder: Path | None = None, wait_s: float = 60.0
) -> ImportReport:
    """Import a file of plays.

    `folder`: Of the imported plays; the user's by default.
    `wait_s`: How long to wait for another import to finish. [s]

    Raises `DataError` if the file cannot be read or is refused as a whole; nothing has changed
    then; `StoreError` if the disk refuses, or another import is at work; nothing has changed then.
    """
    place = imports_dir(create=True) if folder is None else folder
    try:
        place.mkdir(parents=True, exist_ok=True)
        with writer_lock(place, wait_s=wait_s):
            catalog = read_catalog(place)
            sweep_imports(place, catalog)
            with work_folder(place) as workdir:
                return _import(request, place, workdir, catalog)
    except OSError as error:
        raise StoreError(
            f"the disk refused to store {request.path.name} in {place} "
            f"({error.strerror or error}); nothing was imported. Free some space or choose another "
            "folder with LENSYARD_DATA_DIR."
        ) from error


def _import(request: Request, place: Path, workdir: Path, catalog: Catalog) -> ImportReport:
    """Import into a locked folder."""
    name = request.path.name
    with private_database(workdir, request, readable=place) as connection:
        opened = open_file(connection, request, workdir)
        before = None if request.replace else _stored_before(opened, catalog)
        if before is not None:
            return before
        report = stage(connection, opened, request)
        require_few_rejects(
            accepted=report.kept, rejected=report.rejected, limit=request.limit_rejects, name=name
        )
        writer = _SeasonWriter(
            connection, place, workdir, opened.adapter, _imported_file(opened, report), request
        )
        with _store_errors(name):
            written = [
                writer.write(season, catalog.get(report.source, season))
                for season in report.seasons
            ]
    entries = [each.entry for each in written if each.entry is not None]
    if entries:
        for part in dict.fromkeys(part for each in written for part in each.new_files):
            os.replace(workdir / part, place / part)
        write_catalog(place, catalog.having(*entries), before=catalog)
    return replace(
        report,
        changed=bool(entries),
        stored=sum(each.stored for each in written),
        games_there=sum(each.games_there for each in written),
        games_replaced=sum(each.games_replaced for each in written),
    )


@contextmanager
def _store_errors(name: str) -> Iterator[None]:
    """Turn what DuckDB raises while files are written into a `StoreError`."""
    import duckdb

    try:
        yield
    except duckdb.Error as error:
        raise StoreError(
            f"{name} could not be stored: {first_line(error)}. Nothing was imported; free some "
            "disk space, check the folder, and try again."
        ) from error


def _stored_before(opened: OpenedFile, catalog: Catalog) -> ImportReport | None:
    """Return the report of a file that is stored in all its seasons, read the same way."""
    source = opened.adapter.name
    key = (opened.raw.sha256, opened.reader)
    of_source = {entry.season: entry for entry in catalog.entries if entry.source == source}
    stored = [file for entry in of_source.values() for file in entry.files]
    for file in stored:
        if (file.sha256, file.reader) == key and set(file.seasons) <= set(of_source):
            copies = [
                each
                for season in file.seasons
                for each in of_source[season].files
                if each.sha256 == file.sha256
            ]
            games = sum(each.games for each in copies)
            report = report_on(
                opened,
                name=file.name,
                seasons=file.seasons,
                rows=file.rows,
                kept=sum(each.kept for each in copies),
                games=games,
                passed_over=file.passed_over,
                repaired=file.repaired,
                rejected=file.rejected,
                notes=file.notes,
            )
            return replace(report, games_there=games)
    return None


def check_file(request: Request, *, most_rejects: int = 50) -> ImportReport:
    """Return what an import of a file would do, with its first rejected rows; nothing is stored.

    Raises `DataError` if the file cannot be read or has no use as a whole. Many rejects do not
    raise here.
    """
    with staged_file(request, most_rejects=most_rejects) as (_, report):
        return report


def remove_season(name: str, *, folder: Path | None = None) -> Entry:
    """Remove an imported season, given as source/season, and return what it was.

    Raises `InvalidInputError` if the name is not of that form; `DataError` if it is not there;
    `StoreError` if the disk refuses.
    """
    source, _, year = name.partition("/")
    if not source or not year.isdecimal() or len(year) != 4:
        raise InvalidInputError(
            f"cannot read an imported season from {name!r}; expected source/season, such as "
            "nflverse/2025. `lensyard data list` names them"
        )
    season = int(year)
    place = imports_dir(create=True) if folder is None else folder
    with writer_lock(place):
        catalog = read_catalog(place)
        entry = catalog.get(source, season)
        if entry is None:
            known = ", ".join(e.name for e in catalog.entries) or "none"
            raise DataError(f"there is no imported {name}; imported seasons: {known}")
        left = catalog.without(source, season)
        try:
            write_catalog(place, left, before=catalog)
            sweep_imports(place, left)
        except OSError as error:
            raise StoreError(f"cannot change {place}: {error.strerror or error}") from error
    return entry


def _imported_file(opened: OpenedFile, report: ImportReport) -> ImportedFile:
    """Return what the catalog keeps about a file."""
    return ImportedFile(
        name=report.file,
        sha256=opened.raw.sha256,
        reader=opened.reader,
        imported_at=datetime.now(UTC).isoformat(timespec="seconds"),
        seasons=report.seasons,
        rows=report.rows,
        kept=report.kept,
        games=report.games,
        passed_over=report.passed_over,
        repaired=report.repaired,
        rejected=report.rejected,
        notes=report.notes,
    )


_NOT_THERE: Final = " AND coalesce(game_id NOT IN (SELECT game_id FROM overlap), true)"
_FORMAT: Final = "FORMAT parquet, COMPRESSION zstd, ROW_GROUP_SIZE 122880"


class _Written(Record):
    """One season in the work folder, to be moved, and the catalog's entry; None if unchanged."""

    entry: Entry | None
    new_files: tuple[str, ...]
    stored: int
    games_there: int
    games_replaced: int


class _SeasonWriter(Record):
    """Writes the tables `plays` and `rejects` of an import as files of the catalog.

    `folder`, `workdir`: Of the catalog (read only), and where the new files go.
    `request`: Says whether the new copy of games that are there already is taken.
    """

    connection: duckdb.DuckDBPyConnection
    folder: Path
    workdir: Path
    adapter: Adapter
    file: ImportedFile
    request: Request

    def write(self, season: int, old: Entry | None) -> _Written:
        """Write one season, beside or in place of what there is of it."""
        replacing = self.request.replace
        overlap = self._overlap(old, season)
        staying = () if old is None else old.parts
        fresh = f"SELECT * FROM plays WHERE season = {season}"
        if not replacing:
            fresh += _NOT_THERE
        query = fresh
        if overlap and replacing:
            query += f" UNION ALL BY NAME SELECT * FROM {self._of(staying)} WHERE true{_NOT_THERE}"
            staying = ()
        part = self._write(query, f"{self.adapter.name}-{season}", order="game_id, play_index")
        if part is None or (old is not None and part in old.parts):
            return _Written(None, (), 0, overlap, 0)
        rejects = self._rejects(old, season)
        earlier = () if old is None or replacing else old.rejects
        new_files = [part] if rejects is None else [part, rejects]
        return _Written(
            entry=self._entry(
                old, season, parts=(*staying, part), rejects=(*earlier, *new_files[1:])
            ),
            new_files=tuple(new.name for new in new_files),
            stored=self._count(fresh)[0],
            games_there=0 if replacing else overlap,
            games_replaced=overlap if replacing else 0,
        )

    def _overlap(self, old: Entry | None, season: int) -> int:
        """Put the games that are there already into the table `overlap`; return how many."""
        there = "SELECT NULL::VARCHAR AS game_id WHERE false"
        if old is not None and old.parts:
            there = f"SELECT DISTINCT game_id FROM {self._of(old.parts)}"
        self.connection.execute(
            f"CREATE OR REPLACE TEMP TABLE overlap AS {there} INTERSECT "
            f"SELECT DISTINCT game_id FROM plays WHERE season = {season}"
        )
        return self._count("SELECT game_id FROM overlap")[0]

    def _count(self, query: str) -> tuple[int, int]:
        """Return rows and games of a query."""
        row = self.connection.execute(
            f"SELECT count(*), count(DISTINCT game_id) FROM ({query})"
        ).fetchone()
        rows, games = row or (0, 0)
        return int(rows), int(games)

    def _of(self, parts: Sequence[Part]) -> str:
        """Return the SQL that reads files of the catalog, old or new."""
        new = {part.name for part in parts if (self.workdir / part.name).exists()}
        paths = [(self.workdir if part.name in new else self.folder) / part.name for part in parts]
        return parquet_files(paths)

    def _write(self, query: str, stem: str, *, order: str) -> Part | None:
        """Write a query as a file named after its content; None where there are no rows."""
        temporary = self.workdir / "part"
        row = self.connection.execute(
            f"COPY ({query} ORDER BY {order}) TO {literal(str(temporary))} ({_FORMAT})"
        ).fetchone() or (0,)
        rows = int(row[0])
        if rows == 0:
            temporary.unlink(missing_ok=True)
            return None
        flush_file(temporary)
        sha256 = file_sha256(temporary)
        target = self.workdir / f"{stem}-{sha256[:16]}.parquet"
        os.replace(temporary, target)
        return Part(target.name, target.stat().st_size, sha256, rows)

    def _rejects(self, old: Entry | None, season: int) -> Part | None:
        """Write a season's rejects; those without a season go with the file's first.

        Where games are replaced, earlier rejects of those games and of the same file are dropped;
        otherwise those of games that stay as they were are not added.
        """
        own = f"season = {season}"
        if season == self.file.seasons[0]:
            listed = ", ".join(str(each) for each in self.file.seasons)
            own = f"({own} OR season IS NULL OR season NOT IN ({listed}))"
        chosen = {
            "source": literal(self.adapter.name),
            "file": literal(self.file.name),
            "season": str(season),
        }
        select = ", ".join(
            f"CAST({chosen.get(name, name)} AS {kind}) AS {name}"
            for name, kind in REJECT_COLUMNS.items()
        )
        query = f"SELECT {select} FROM rejects WHERE {own}"
        if not self.request.replace:
            query += _NOT_THERE
        elif old is not None and old.rejects:
            query += (
                f" UNION ALL BY NAME SELECT * FROM {self._of(old.rejects)} "
                f"WHERE file <> {literal(self.file.name)}{_NOT_THERE}"
            )
        return self._write(query, f"{self.adapter.name}-{season}-rejects", order="file, line")

    def _entry(
        self, old: Entry | None, season: int, *, parts: tuple[Part, ...], rejects: tuple[Part, ...]
    ) -> Entry:
        """Return the entry of a season, with what its files hold."""
        usable, games_in_file = self._count(f"SELECT * FROM plays WHERE season = {season}")
        file = replace(self.file, kept=usable, games=games_in_file)
        earlier = () if old is None else old.files
        key = (file.sha256, file.reader)
        plays, games = self._count(f"SELECT game_id FROM {self._of(parts)}")
        kinds = self.connection.execute(
            f"SELECT DISTINCT season_type FROM {self._of(parts)} ORDER BY season_type"
        ).fetchall()
        return Entry(
            source=self.adapter.name,
            season=season,
            title=self.adapter.title,
            level=self.adapter.level,
            license=self.adapter.license,
            attribution=self.adapter.attribution,
            plays=plays,
            games=games,
            season_types=tuple(str(row[0]) for row in kinds),
            parts=parts,
            rejects=rejects,
            files=(*(f for f in earlier if (f.sha256, f.reader) != key), file),
            changed_at=file.imported_at,
        )
