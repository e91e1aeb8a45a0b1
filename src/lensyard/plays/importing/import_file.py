"""Importing a user's plays: one file in, checked seasons beside the bundled ones, all or nothing.

Everything happens in a folder of its own until the new files are complete, flushed and checked;
then a new catalog takes the place of the old one in one step (`lensyard.plays.importing.catalog`).
An import that fails, is killed or runs out of disk changes nothing.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

from lensyard.errors import DataError, StoreError
from lensyard.plays.importing import import_write as import_check
from lensyard.plays.importing.catalog import (
    Catalog,
    Entry,
    ImportedFile,
    Tally,
    imports_dir,
    read_catalog,
    sweep_imports,
    write_catalog,
    writer_lock,
)
from lensyard.plays.importing.import_stage import (
    Opened,
    Request,
    Staged,
    open_file,
    private_database,
    stage,
    storing,
    work_folder,
)
from lensyard.plays.importing.import_write import write_seasons
from lensyard.plays.importing.rejects import Reject


def _proceed(step: str) -> None:
    """Do nothing between two steps."""


@dataclass(frozen=True, slots=True)
class ImportReport:
    """What an import did, or a check would do.

    Attributes
    ----------
    file, source, title, level, license, attribution
        What was read, and from whom.
    seasons
        That the file has plays of.
    rows, kept
        Rows of the file, and plays that came of them.
    stored
        Plays that were added or replaced.
    games, games_there, games_replaced
        Games in the file; of those, stored already and left; replaced.
    passed_over, repaired, rejected
        By reason.
    rejects
        The first rejected rows.
    changed
        Whether the store is another than before.
    notes
        What had to be done to read the file.
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
    stored: int
    games: int
    games_there: int
    games_replaced: int
    passed_over: tuple[Tally, ...]
    repaired: tuple[Tally, ...]
    rejected: tuple[Tally, ...]
    rejects: tuple[Reject, ...]
    changed: bool
    notes: tuple[str, ...]


def import_file(
    request: Request,
    *,
    folder: Path | None = None,
    wait_s: float = 60.0,
    after_step: Callable[[str], None] = _proceed,
) -> ImportReport:
    """Import a file of plays.

    Parameters
    ----------
    request
        What and how.
    folder
        Of the imported plays; the user's by default.
    wait_s
        How long to wait for another import to finish. [s]
    after_step
        Called with the name of each finished step (read, staged, written, moved, committed); for
        tests that interrupt the import.

    Raises
    ------
    DataError
        If the file cannot be read or is refused as a whole; nothing has changed then.
    StoreError
        If the disk refuses, or another import is at work; nothing has changed then.
    """
    place = imports_dir(create=True) if folder is None else folder
    try:
        place.mkdir(parents=True, exist_ok=True)
        with writer_lock(place, wait_s=wait_s):
            catalog = read_catalog(place)
            sweep_imports(place, catalog)
            with work_folder(place) as workdir:
                return _import(request, place, workdir, catalog, after_step)
    except OSError as error:
        raise StoreError(
            f"the disk refused to store {request.path.name} in {place} "
            f"({error.strerror or error}); nothing was imported. Free some space or choose another "
            "folder with LENSYARD_DATA_DIR."
        ) from error


def check_file(request: Request, *, most_rejects: int = 50) -> ImportReport:
    """Return what an import of a file would do, with its first rejected rows; nothing is stored.

    Raises
    ------
    DataError
        If the file cannot be read or has no use as a whole. Many rejects do not raise here.
    """
    with work_folder(None) as workdir, private_database(workdir, request) as connection:
        opened = open_file(connection, request, workdir)
        return _report(stage(connection, opened, request, most_rejects=most_rejects), changed=False)


def _import(
    request: Request,
    place: Path,
    workdir: Path,
    catalog: Catalog,
    after_step: Callable[[str], None],
) -> ImportReport:
    """Import into a locked folder."""
    with private_database(workdir, request, readable=place) as connection:
        opened = open_file(connection, request, workdir)
        after_step("read")
        before = None if request.replace else _stored_before(opened, catalog)
        if before is not None:
            return before
        staged = stage(connection, opened, request)
        import_check.require_few_rejects(
            kept=staged.file.kept,
            rejected=staged.file.rejected,
            limit=request.limit_rejects,
            name=request.path.name,
        )
        after_step("staged")
        with storing(request.path.name):
            written = write_seasons(
                connection,
                folder=place,
                workdir=workdir,
                catalog=catalog,
                adapter=opened.adapter,
                file=staged.file,
                replace_games=request.replace,
            )
    after_step("written")
    if written.changed:
        for name in written.new_files:
            os.replace(workdir / name, place / name)
        after_step("moved")
        write_catalog(place, catalog.having(*written.entries), before=catalog)
        after_step("committed")
    return _report(
        staged,
        changed=written.changed,
        stored=written.stored,
        games_there=written.games_there,
        games_replaced=written.games_replaced,
    )


def _stored_before(opened: Opened, catalog: Catalog) -> ImportReport | None:
    """Return the report of a file that is stored in all its seasons, read the same way."""
    source = opened.adapter.name
    for entry in catalog.entries:
        for file in entry.files:
            if entry.source != source or (file.sha256, file.reader) != (
                opened.raw.sha256,
                opened.reader,
            ):
                continue
            if all(catalog.get(source, season) is not None for season in file.seasons):
                again = replace(file, kept=_kept_of(file, source, catalog))
                games = _games_of(file, source, catalog)
                staged = Staged(opened, again, (), games)
                return _report(staged, changed=False, games_there=games)
    return None


def _kept_of(file: ImportedFile, source: str, catalog: Catalog) -> int:
    """Return how many plays of a file were kept over all its seasons."""
    entries = (catalog.get(source, season) for season in file.seasons)
    return sum(f.kept for e in entries if e is not None for f in e.files if f.sha256 == file.sha256)


def _games_of(file: ImportedFile, source: str, catalog: Catalog) -> int:
    """Return how many games of a file are stored over all its seasons."""
    entries = (catalog.get(source, season) for season in file.seasons)
    return sum(
        f.games for e in entries if e is not None for f in e.files if f.sha256 == file.sha256
    )


def _report(
    staged: Staged,
    *,
    changed: bool,
    stored: int = 0,
    games_there: int = 0,
    games_replaced: int = 0,
) -> ImportReport:
    adapter, file = staged.opened.adapter, staged.file
    return ImportReport(
        file=file.name,
        source=adapter.name,
        title=adapter.title,
        level=adapter.level,
        license=adapter.license,
        attribution=adapter.attribution,
        seasons=file.seasons,
        rows=file.rows,
        kept=file.kept,
        stored=stored,
        games=staged.games,
        games_there=games_there,
        games_replaced=games_replaced,
        passed_over=file.passed_over,
        repaired=file.repaired,
        rejected=file.rejected,
        rejects=staged.rejects,
        changed=changed,
        notes=file.notes,
    )


def imported_entries(folder: Path | None = None) -> tuple[Entry, ...]:
    """Return the imported seasons, ordered by source and season."""
    return read_catalog(imports_dir() if folder is None else folder).entries


def remove_season(source: str, season: int, *, folder: Path | None = None) -> Entry:
    """Remove one imported season of one source and return what it was.

    Raises
    ------
    DataError
        If it is not there.
    StoreError
        If the disk refuses.
    """
    place = imports_dir(create=True) if folder is None else folder
    with writer_lock(place):
        catalog = read_catalog(place)
        entry = catalog.get(source, season)
        if entry is None:
            known = ", ".join(e.name for e in catalog.entries) or "none"
            raise DataError(f"there is no imported {source}/{season}; imported seasons: {known}")
        left = catalog.without(source, season)
        try:
            write_catalog(place, left, before=catalog)
            sweep_imports(place, left)
        except OSError as error:
            raise StoreError(f"cannot change {place}: {error.strerror or error}") from error
    return entry
