"""Which imported seasons there are: one small JSON file that points at checked Parquet files.

The Parquet files are never changed, only added; their names carry the hash of their bytes. An
import writes its files first and then lets a new catalog take the place of the old one in a single
step, so that whatever happens there is the old state or the new one. Files that no catalog names
are swept later.
"""

from __future__ import annotations

import json
import os
import re
import shutil
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import asdict, field
from pathlib import Path
from typing import Any, Final

from lensyard.errors import DataError, StoreError, UnknownNameError
from lensyard.files import WRITING_SUFFIX, Lock, replacing
from lensyard.plays.importing.adapter import LEVELS
from lensyard.records import Record
from lensyard.running import uninterrupted

CATALOG_NAME: Final = "catalog.json"
CATALOG_VERSION: Final = 1
STAGING_PREFIX: Final = ".import-"
STALE_AFTER_S: Final = 3600.0
BUNDLED: Final = "bundled"
_SLUG: Final = re.compile(r"[a-z0-9][a-z0-9-]{0,39}")
_PART_NAME: Final = re.compile(r"[a-z0-9][a-z0-9-]{0,80}\.parquet")


class Part(Record):
    """One Parquet file of plays or rejects: its name in the folder, size, hash and rows."""

    name: str
    size_bytes: int
    sha256: str
    rows: int


class Tally(Record):
    """How many rows had something, and the line of the first."""

    words: str
    rows: int
    first_line: int


class ImportedFile(Record):
    """What became of one file in one season.

    `name`, `sha256`, `reader`: The file, its hash, and what read it (source, version and mapping).
    `imported_at`: UTC, to the second.
    `seasons`: That the file has plays of.
    `rows`: In the file, all seasons.
    `kept`, `games`: Usable plays of this season in the file, and games.
    `passed_over`, `repaired`, `rejected`: By reason, all seasons of the file.
    `notes`: What had to be done to read it.
    """

    name: str
    sha256: str
    reader: str
    imported_at: str
    seasons: tuple[int, ...]
    rows: int
    kept: int
    games: int
    passed_over: tuple[Tally, ...] = ()
    repaired: tuple[Tally, ...] = ()
    rejected: tuple[Tally, ...] = ()
    notes: tuple[str, ...] = ()


class Entry(Record):
    """One season of one source."""

    source: str
    season: int
    title: str
    level: str
    license: str
    attribution: str
    plays: int
    games: int
    season_types: tuple[str, ...]
    parts: tuple[Part, ...]
    rejects: tuple[Part, ...]
    files: tuple[ImportedFile, ...]
    changed_at: str

    @property
    def name(self) -> str:
        """What people call it: source/season."""
        return f"{self.source}/{self.season}"


class Catalog(Record):
    """All imported seasons, ordered by source and season."""

    entries: tuple[Entry, ...] = ()

    def get(self, source: str, season: int) -> Entry | None:
        """Return one season of one source, or None."""
        return next((e for e in self.entries if (e.source, e.season) == (source, season)), None)

    def having(self, *entries: Entry) -> Catalog:
        """Return the catalog with these seasons put in, in place of older copies."""
        merged = {(e.source, e.season): e for e in (*self.entries, *entries)}
        return Catalog(tuple(merged[key] for key in sorted(merged)))

    def without(self, source: str, season: int) -> Catalog:
        """Return the catalog without one season of one source."""
        return Catalog(tuple(e for e in self.entries if (e.source, e.season) != (source, season)))

    def part_names(self) -> frozenset[str]:
        """Return the names of all files that are in use."""
        return frozenset(part.name for e in self.entries for part in (*e.parts, *e.rejects))

    def answering(self, bundled_seasons: frozenset[int]) -> tuple[Entry, ...]:
        """Return the seasons that answer when no source is named: one source a season.

        Bundled plays come first, then professional, college, high school and other; among equals
        the one that changed last.
        """
        best: dict[int, Entry] = {}
        for entry in self.entries:
            if entry.season in bundled_seasons:
                continue
            other = best.get(entry.season)
            if other is None or _before(entry, other):
                best[entry.season] = entry
        return tuple(best[season] for season in sorted(best))


def _before(entry: Entry, other: Entry) -> bool:
    """Return whether an entry answers rather than another."""
    rank, against = LEVELS.index(entry.level), LEVELS.index(other.level)
    return rank < against or (rank == against and entry.changed_at > other.changed_at)


def source_slug(text: str) -> str:
    """Return a source's name as it may be: lower-case letters, digits, hyphens, at most 40.

    Raises `DataError` if it is anything else, or the name of the bundled plays.
    """
    if not _SLUG.fullmatch(text) or text == BUNDLED:
        raise DataError(
            f"a source cannot be called {text!r}; expected up to 40 lower-case letters, digits and "
            f"hyphens, and not {BUNDLED!r}"
        )
    return text


def imports_dir(*, create: bool = False) -> Path:
    """Return the folder of the imported plays. Raises `StoreError` if it cannot be made."""
    from lensyard.config import user_data_dir

    folder = user_data_dir(create=create) / "plays"
    if create:
        try:
            folder.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise StoreError(f"cannot make {folder}: {error.strerror or error}") from error
    return folder


def read_catalog(folder: Path) -> Catalog:
    """Return the catalog of a folder, empty where there is none.

    Raises `StoreError` if it is damaged or of a later version.
    """
    path = folder / CATALOG_NAME
    try:
        text = path.read_text(encoding="utf-8")
    except FileNotFoundError:
        return Catalog()
    except (OSError, UnicodeDecodeError) as error:
        raise _damaged(path, str(error)) from error
    try:
        document = json.loads(text)
        if document["version"] != CATALOG_VERSION:
            raise StoreError(
                f"{path} is of version {document['version']!r}; this lensyard reads version "
                f"{CATALOG_VERSION}. Use the lensyard that wrote it, or move the folder away and "
                "import again."
            )
        entries = tuple(_entry(item) for item in document["entries"])
    except (KeyError, TypeError, ValueError, AttributeError, RecursionError) as error:
        raise _damaged(path, repr(error)) from error
    return Catalog(entries)


def _damaged(path: Path, what: str) -> StoreError:
    return StoreError(
        f"the list of imported seasons {path} is damaged ({what[:200]}). The bundled plays are not "
        "affected; move the file away and import your files again."
    )


def _entry(item: dict[str, Any]) -> Entry:
    """Return one entry from JSON, checked as far as later steps rely on it."""
    fields = dict(item)
    fields["parts"] = tuple(_part(part) for part in item["parts"])
    fields["rejects"] = tuple(_part(part) for part in item["rejects"])
    fields["season_types"] = tuple(str(kind) for kind in item["season_types"])
    fields["files"] = tuple(_file(each) for each in item["files"])
    entry = Entry(**fields)
    if not _SLUG.fullmatch(entry.source) or entry.level not in LEVELS:
        raise ValueError(f"entry {entry.source!r} of level {entry.level!r}")
    if not all(isinstance(number, int) for number in (entry.season, entry.plays, entry.games)):
        raise ValueError(f"season, plays and games of {entry.source!r} must be whole numbers")
    return entry


def _part(item: dict[str, Any]) -> Part:
    part = Part(**item)
    if not _PART_NAME.fullmatch(part.name) or not isinstance(part.size_bytes, int):
        raise ValueError(f"file name {part.name!r}")
    return part


def _file(item: dict[str, Any]) -> ImportedFile:
    fields = dict(item)
    for name in ("passed_over", "repaired", "rejected"):
        fields[name] = tuple(Tally(**tally) for tally in item[name])
    fields["notes"] = tuple(str(note) for note in item["notes"])
    fields["seasons"] = tuple(int(season) for season in item["seasons"])
    return ImportedFile(**fields)


def write_catalog(folder: Path, catalog: Catalog, *, before: Catalog | None = None) -> None:
    """Let a catalog take the place of the old one, durably and in one step.

    `before`: The old one: what only it names begins to age now and is swept later.

    Raises `OSError` if the disk refuses; the old catalog is then untouched.
    """
    document = {"version": CATALOG_VERSION, "entries": [asdict(e) for e in catalog.entries]}
    done = "the list of imported plays is changed"
    with uninterrupted(done), replacing(folder / CATALOG_NAME) as temporary:
        temporary.write_text(json.dumps(document, indent=1) + "\n", encoding="utf-8")
    for name in () if before is None else before.part_names() - catalog.part_names():
        with suppress(OSError):
            os.utime(folder / name)


class ImportedSeasons(Record):
    """The imported seasons of a folder that can be read, and what is wrong with the others.

    `folder`: Of the files; None for the bundled plays alone.
    `catalog`: What there is; damaged seasons are left out of it.
    `damaged`: source/season -> what is wrong with its files.
    `signature`: Changes whenever the catalog does.
    """

    folder: Path | None = None
    catalog: Catalog = field(default_factory=Catalog)
    damaged: dict[str, str] = field(default_factory=dict)
    signature: tuple[int, int] | None = None

    def require(self, *, source: str | None, seasons: Sequence[int] | None) -> None:
        """Refuse what cannot be answered.

        Raises `UnknownNameError` if there is no such source; `DataError` if a season that was asked
        for is damaged.
        """
        names = {entry.source for entry in self.catalog.entries}
        names |= {name.split("/")[0] for name in self.damaged}
        if source is not None and source not in {BUNDLED, *names}:
            raise UnknownNameError(name="source", value=source, known=(BUNDLED, *sorted(names)))
        for name, issue in self.damaged.items():
            of, season = name.split("/")
            asked = seasons is None or int(season) in {int(each) for each in seasons}
            if asked and (source == of or (source is None and seasons is not None)):
                raise DataError(
                    f"the imported season {name} is damaged: {issue}. Remove it with "
                    f"`lensyard data remove {name}` and import its file again."
                )


def imported_seasons(folder: Path) -> ImportedSeasons:
    """Return the imported seasons of a folder.

    Raises `StoreError` if the catalog itself is damaged.
    """
    signature = catalog_signature(folder)
    catalog = read_catalog(folder)
    issues = {entry.name: _damage(folder, entry) for entry in catalog.entries}
    damaged = {name: "; ".join(words) for name, words in issues.items() if words}
    sound = Catalog(tuple(e for e in catalog.entries if e.name not in damaged))
    return ImportedSeasons(folder, sound, damaged, signature)


def catalog_signature(folder: Path) -> tuple[int, int] | None:
    """Return what changes whenever a folder's catalog does; None where there is none."""
    try:
        found = (folder / CATALOG_NAME).stat()
    except OSError:
        return None
    return found.st_mtime_ns, found.st_ino


def _damage(folder: Path, entry: Entry) -> list[str]:
    """Return what is wrong with an entry's files, in words; size and presence only."""
    issues = []
    for part in (*entry.parts, *entry.rejects):
        try:
            size = (folder / part.name).stat().st_size
        except OSError:
            issues.append(f"{part.name} is missing")
            continue
        if size != part.size_bytes:
            issues.append(f"{part.name} has {size:,} bytes, expected {part.size_bytes:,}")
    return issues


@contextmanager
def writer_lock(folder: Path, *, wait_s: float = 60.0) -> Iterator[None]:
    """Hold the right to change a folder's imports; one process at a time.

    The lock goes with the process, so that a killed import leaves none behind.

    Raises `StoreError` if another process holds it for longer than `wait_s`, or the folder cannot
    be written.
    """
    try:
        lock = Lock.take(folder / "lock", wait_s=wait_s)
    except OSError as error:
        raise StoreError(f"cannot write to {folder}: {error.strerror or error}") from error
    if lock is None:
        raise StoreError(
            f"another import is at work in {folder} and did not finish within {wait_s:g} s; wait "
            "for it, then try again"
        )
    try:
        yield
    finally:
        lock.release()


def sweep_imports(folder: Path, catalog: Catalog) -> None:
    """Remove what interrupted imports left and what no catalog names.

    The caller holds the writer's lock, so that no other import is under way. Files of plays that
    fell out of use within the last `STALE_AFTER_S` stay: another process may still read them.
    """
    used = catalog.part_names()
    for path in sorted(folder.iterdir()):
        left_over = path.name.startswith(STAGING_PREFIX) or path.name.endswith(WRITING_SUFFIX)
        unused = path.suffix == ".parquet" and path.name not in used
        if not (left_over or unused):
            continue
        with suppress(OSError):
            if unused and time.time() - path.stat().st_mtime < STALE_AFTER_S:
                continue
            if path.is_dir() and not path.is_symlink():
                shutil.rmtree(path)
            else:
                path.unlink()
