"""The bundled plays with their provenance, and whose plays an answer about seasons rests on."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from lensyard.config import data_dir
from lensyard.errors import DataError, InvalidInputError
from lensyard.plays.importing.catalog import BUNDLED, ImportedSeasons

PLAYS_NAME: Final = "plays.parquet"
PROVENANCE_NAME: Final = "plays.json"


@dataclass(frozen=True, slots=True)
class Provenance:
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
        raise DataError(
            f"the bundled plays {path} are missing. Install the package again, or rebuild them "
            "with `lensyard data build`."
        )
    return path


def provenance() -> Provenance:
    """Return where the bundled plays come from.

    Raises `DataError` if the provenance file is missing or damaged.
    """
    return read_provenance(data_dir() / PROVENANCE_NAME)


def read_provenance(path: Path) -> Provenance:
    """Read a provenance file; see `provenance`."""
    try:
        fields: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
        values: dict[str, Any] = {
            name: tuple(value) if isinstance(value, list) else value
            for name, value in fields.items()
        }
        return Provenance(**values)
    except (OSError, ValueError, TypeError, AttributeError) as error:
        raise DataError(
            f"the provenance {path} is missing or damaged ({error}). Install the package again, "
            "or rebuild the plays with `lensyard data build`."
        ) from error


@dataclass(frozen=True, slots=True)
class Attribution:
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

    `imported`: The imported seasons.
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
    """Return seasons from text such as ``2009-2018`` or ``2016,2018``.

    Raises `InvalidInputError` if it is neither.

    Examples
    --------
    >>> parse_seasons("2016-2018"), parse_seasons("2016,2018")
    ((2016, 2017, 2018), (2016, 2018))
    """
    try:
        if "-" in text:
            first, last = (int(part) for part in text.split("-"))
            seasons = tuple(range(first, last + 1))
        else:
            seasons = tuple(int(part) for part in text.split(","))
    except ValueError:
        seasons = ()
    if not seasons or not all(1900 <= season <= 2200 for season in seasons):
        raise InvalidInputError(
            f"cannot read seasons from {text!r}; expected 2009-2018 or 2016,2018"
        )
    return seasons
