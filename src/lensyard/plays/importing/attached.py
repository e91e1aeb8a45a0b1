"""The imported seasons as part of the store: the files a reader may see, and the views on them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from lensyard.errors import DataError, UnknownNameError
from lensyard.plays.importing.catalog import (
    BUNDLED,
    CATALOG_NAME,
    Catalog,
    Entry,
    Part,
    damaged_parts,
    read_catalog,
)
from lensyard.plays.importing.rejects import COLUMNS as REJECT_COLUMNS
from lensyard.plays.importing.sql import identifier, literal
from lensyard.plays.importing.transform import EXTRA_COLUMNS
from lensyard.plays.schema import COLUMN_NAMES

_NAMES: Final = ", ".join(COLUMN_NAMES)
_NO_EXTRAS: Final = ", ".join(f"NULL::{kind} AS {name}" for name, kind in EXTRA_COLUMNS.items())


@dataclass(frozen=True)
class Attached:
    """The imported seasons that a store serves beside the bundled plays.

    Attributes
    ----------
    folder
        Of the files; None for a store of the bundled plays alone.
    catalog
        What there is; damaged seasons are left out of it.
    damaged
        source/season -> what is wrong with its files.
    signature
        Changes whenever the catalog does.
    """

    folder: Path | None
    catalog: Catalog
    damaged: dict[str, str]
    signature: tuple[int, int] | None

    def views(self, database: str, bundled_seasons: frozenset[int]) -> list[str]:
        """Return the statements that create the views of a connection.

        `plays` has the canonical columns of one source a season, `all_plays` every source with
        `source`, `level` and `hash_mark` beside them, `rejects` the rejected rows.

        Parameters
        ----------
        database
            Name of the bundled store's database.
        bundled_seasons
            Its seasons.
        """
        bundled = f"{identifier(database)}.main.plays"
        answering = self.catalog.answering(bundled_seasons)
        chosen = [f"SELECT {_NAMES} FROM {bundled}"]
        if answering:
            parts = [part for entry in answering for part in entry.parts]
            chosen.append(f"SELECT {_NAMES} FROM {self._files(parts)}")
        every = [
            f"SELECT {_NAMES}, {_NO_EXTRAS}, {literal(BUNDLED)} AS source, 'pro' AS level "
            f"FROM {bundled}"
        ]
        extras = ", ".join(EXTRA_COLUMNS)
        for source, entries in self._by_source().items():
            parts = [part for entry in entries for part in entry.parts]
            every.append(
                f"SELECT {_NAMES}, {extras}, {literal(source)} AS source, "
                f"{literal(entries[0].level)} AS level FROM {self._files(parts)}"
            )
        columns = ", ".join(f"NULL::{kind} AS {name}" for name, kind in REJECT_COLUMNS.items())
        rejects = f"SELECT {columns} WHERE false"
        rejected = [part for entry in self.catalog.entries for part in entry.rejects]
        if rejected:
            rejects = f"SELECT {', '.join(REJECT_COLUMNS)} FROM {self._files(rejected)}"
        statements = {
            "plays": " UNION ALL ".join(chosen) if answering else "",
            "all_plays": " UNION ALL ".join(every),
            "rejects": rejects,
        }
        return [
            f"CREATE OR REPLACE TEMP VIEW {name} AS {query}"
            for name, query in statements.items()
            if query
        ]

    def _files(self, parts: Sequence[Part]) -> str:
        folder = Path() if self.folder is None else self.folder.absolute()
        listed = ", ".join(literal(str(folder / part.name)) for part in parts)
        return f"read_parquet([{listed}], union_by_name=true)"

    def _by_source(self) -> dict[str, list[Entry]]:
        found: dict[str, list[Entry]] = {}
        for entry in self.catalog.entries:
            found.setdefault(entry.source, []).append(entry)
        return found

    def require(self, *, source: str | None, seasons: Sequence[int] | None) -> None:
        """Refuse what cannot be answered.

        Raises
        ------
        UnknownNameError
            If there is no such source.
        DataError
            If a season that was asked for is damaged.
        """
        names = {entry.source for entry in self.catalog.entries}
        names |= {name.split("/")[0] for name in self.damaged}
        if source is not None and source not in {BUNDLED, *names}:
            raise UnknownNameError(name="source", value=source, known=(BUNDLED, *sorted(names)))
        for name, fault in self.damaged.items():
            of, season = name.split("/")
            asked = seasons is None or int(season) in {int(each) for each in seasons}
            if asked and (source == of or (source is None and seasons is not None)):
                raise DataError(
                    f"the imported season {name} is damaged: {fault}. Remove it with "
                    f"`lensyard data remove {name}` and import its file again."
                )


def attach(folder: Path) -> Attached:
    """Return the imported seasons of a folder that can be read.

    Raises
    ------
    StoreError
        If the catalog itself is damaged.
    """
    signature = signature_of(folder)
    catalog = read_catalog(folder)
    damaged = {}
    for entry in catalog.entries:
        faults = damaged_parts(folder, entry)
        if faults:
            damaged[entry.name] = "; ".join(faults)
    sound = Catalog(tuple(e for e in catalog.entries if e.name not in damaged))
    return Attached(folder, sound, damaged, signature)


def signature_of(folder: Path) -> tuple[int, int] | None:
    """Return what changes whenever a folder's catalog does; None where there is none."""
    try:
        found = (folder / CATALOG_NAME).stat()
    except OSError:
        return None
    return found.st_mtime_ns, found.st_ino
