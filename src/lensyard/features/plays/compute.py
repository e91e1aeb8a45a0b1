"""The plays behind every answer: listed, imported, fetched, mapped, compared."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from math import hypot
from pathlib import Path
from typing import TYPE_CHECKING, Any

from lensyard.errors import LensyardError
from lensyard.stats import Z_95

if TYPE_CHECKING:
    from lensyard.plays.bundled import Provenance
    from lensyard.plays.importing.catalog import Entry
    from lensyard.plays.importing.stage import ImportReport, Request
    from lensyard.plays.seasons import Attribution
    from lensyard.plays.store import Store

MOST_REJECTS = 200
"""Of rejected rows in a list."""


@dataclass(frozen=True, slots=True)
class StoredSeason:
    """Games and plays of one season that answer when no source is named."""

    season: int
    season_type: str
    games: int
    plays: int


@dataclass(frozen=True, slots=True)
class ImportedSeason:
    """An imported season, and whether it answers when no source is named."""

    entry: Entry = field(metadata={"json": "*"})
    name: str
    answers: bool


@dataclass(frozen=True, slots=True)
class StoredPlays:
    """What plays there are, and the first rejected rows of the imports (None: not asked for).

    ``source`` is that of the bundled plays; ``damaged`` is source/season -> what is wrong with it.
    """

    source: Provenance
    seasons: tuple[StoredSeason, ...]
    imported: tuple[ImportedSeason, ...]
    damaged: Mapping[str, str]
    attributions: tuple[Attribution, ...]
    rejects: tuple[Mapping[Any, Any], ...] | None = None


def stored_plays(store: Store, source: Provenance, *, rejects: bool = False) -> StoredPlays:
    """Return what plays a store has; `source` is that of the bundled ones."""
    table = store.query(
        "SELECT season, season_type, count(DISTINCT game_id) AS games, count(*) AS plays "
        "FROM plays GROUP BY ALL ORDER BY season, season_type DESC"
    )
    catalog = store.imported.catalog
    answering = {entry.name for entry in catalog.answering(frozenset(source.seasons))}
    rows = None
    if rejects:
        found = store.query(
            f"SELECT * FROM rejects ORDER BY source, season, file, line LIMIT {MOST_REJECTS}"
        )
        rows = tuple(found.astype(object).where(found.notna(), None).to_dict("records"))
    return StoredPlays(
        source=source,
        seasons=tuple(
            StoredSeason(int(season), str(season_type), int(games), int(plays))
            for season, season_type, games, plays in table.itertuples(index=False)
        ),
        imported=tuple(
            ImportedSeason(entry, entry.name, entry.name in answering) for entry in catalog.entries
        ),
        damaged=store.imported.damaged,
        attributions=store.attributions(),
        rejects=rows,
    )


def import_files(
    requests: Iterable[Request],
) -> tuple[tuple[ImportReport, ...], LensyardError | None]:
    """Import files one after the other, each all or nothing, up to the first that is refused.

    Returns what was imported, and why the next one was not; None where all were.
    """
    from lensyard.plays.importing.import_file import import_file

    reports: list[ImportReport] = []
    for request in requests:
        try:
            reports.append(import_file(request))
        except LensyardError as error:
            return tuple(reports), error
    return tuple(reports), None


@dataclass(frozen=True, slots=True)
class FetchedSeason:
    """A season that was fetched and imported: from where, and where its file lies."""

    report: ImportReport = field(metadata={"json": None})
    url: str
    sha256: str
    file: str


def fetch_season(
    season: int,
    *,
    source: str | None = None,
    url: str | None = None,
    sha256: str | None = None,
    replace: bool = False,
    fetch: Callable[..., str] | None = None,
) -> FetchedSeason:
    """Fetch a season over HTTPS and import it.

    Parameters
    ----------
    season
        The year.
    source
        Of the file; by default the professional one, or what the file at `url` looks like.
    url
        Another address than the source's own.
    sha256
        What the file must have, where it is known.
    replace
        Take the fetched copy of games that are stored already.
    fetch
        What fetches a file; `lensyard.plays.importing.fetch.fetch_file` by default.

    Raises
    ------
    InvalidInputError
        If the address is not secure, or the source has no such season.
    DataError
        If it cannot be fetched or is no table of plays.
    """
    from lensyard.config import user_cache_dir
    from lensyard.plays.importing.adapter import season_address
    from lensyard.plays.importing.fetch import fetch_file
    from lensyard.plays.importing.import_file import import_file
    from lensyard.plays.importing.stage import Request

    address = url or season_address(source or "nflverse", season)
    target = user_cache_dir(create=True) / "downloads" / f"{source or 'season'}-{season}.table"
    found = (fetch or fetch_file)(address, target, sha256=sha256)
    report = import_file(Request(target, source=source, replace=replace, season=season))
    return FetchedSeason(report, address, found, str(target))


@dataclass(frozen=True, slots=True)
class GuessedMapping:
    """A mapping as TOML, what is in doubt, and how it reads; no report where it does not yet.

    ``plays`` are the first ones, with the columns `lensyard.plays.importing.guess.PLAY_COLUMNS`.
    """

    file: str
    columns: Mapping[str, str]
    toml: str
    doubts: tuple[str, ...]
    plays: tuple[Mapping[str, Any], ...] = field(default=(), metadata={"json": None})
    report: ImportReport | None = field(default=None, metadata={"json": None})


def guess_mapping(
    path: Path,
    columns: Mapping[str, str],
    *,
    source: str = "charted",
    level: str = "high-school",
    us: str = "US",
    them: str = "THEM",
    season: int | None = None,
) -> GuessedMapping:
    """Return a mapping for a spreadsheet, with the first plays as it reads them.

    Parameters
    ----------
    path
        The file.
    columns
        Field -> column, where the guess is to be overruled; "" for none.
    source, level
        Under which name, and of which level of play.
    us, them
        The club that charts, and the other where the file does not name it.
    season
        Where the file does not say it.

    Raises
    ------
    DataError
        If the file cannot be read.
    """
    from lensyard.plays.importing import guess
    from lensyard.plays.importing.mapping import parse_mapping
    from lensyard.plays.importing.stage import Request

    found = guess.guess_columns(guess.header_of(path)) | dict(columns)
    columns = {name: column for name, column in found.items() if column}
    guessed = guess.guess(columns, guess.cells_of(path, columns))
    dated = {} if season is None else {"season": season}
    text = guess.mapping_text(
        guessed,
        comments=(
            f"How {path.name} reads as plays. Check it, then:",
            "  lensyard data import FILE --mapping THIS.toml",
            *(f"Look at: {doubt}" for doubt in guessed.doubts),
        ),
        about={
            "source": source,
            "title": f"{us} charting",
            "level": level,
            "license": "private; not to be passed on",
            "attribution": "Plays charted by the user.",
        },
        defaults={"us": us, "them": them, **dated},
    )
    doubts = tuple(guessed.doubts)
    try:
        report, plays = guess.first_plays(Request(path, mapping=parse_mapping(text)))
    except LensyardError as error:
        why = " ".join(str(error).split())
        return GuessedMapping(path.name, columns, text, (*doubts, f"it does not read yet: {why}"))
    return GuessedMapping(path.name, columns, text, doubts, plays, report)


@dataclass(frozen=True, slots=True)
class MeasureChange:
    """One measure of two seasons; None where there is nothing to count.

    ``difference`` is second less first, ``low`` to ``high`` its 95 % interval (errors count games),
    and ``differs`` says whether that leaves out zero.
    """

    name: str
    meaning: str
    unit: str
    first: float | None
    second: float | None
    first_base: float
    second_base: float
    difference: float | None = None
    low: float | None = None
    high: float | None = None
    differs: bool | None = None


@dataclass(frozen=True, slots=True)
class SeasonComparison:
    """Two seasons side by side."""

    seasons: tuple[int, int]
    season_type: str
    games: tuple[int, int]
    measures: tuple[MeasureChange, ...]
    attributions: tuple[Attribution, ...]


def compare_seasons(
    store: Store, first: int, second: int, *, source: str | None = None, season_type: str = "REG"
) -> SeasonComparison:
    """Return the measures of two stored seasons side by side, with their differences.

    Parameters
    ----------
    store
        The plays.
    first, second
        The seasons.
    source
        Name of a source; by default each season comes from one source.
    season_type
        "REG" or "POST".

    Raises
    ------
    DataError
        If a season has no plays.
    """
    from lensyard.plays.season_measures import MEASURES, measure_season

    before = measure_season(store, first, source=source, season_type=season_type)
    after = measure_season(store, second, source=source, season_type=season_type)
    changes = []
    for measure, old, new in zip(MEASURES, before, after, strict=True):
        found: dict[str, Any] = {}
        if old.value is not None and new.value is not None:
            found["difference"] = difference = new.value - old.value
            if old.error is not None and new.error is not None:
                margin = Z_95 * hypot(old.error, new.error)
                found |= {"low": difference - margin, "high": difference + margin}
                found["differs"] = abs(difference) > margin
        about = (measure.name, measure.meaning, measure.unit)
        changes.append(MeasureChange(*about, old.value, new.value, old.base, new.base, **found))
    return SeasonComparison(
        seasons=(first, second),
        season_type=season_type,
        games=(before[0].games, after[0].games),
        measures=tuple(changes),
        attributions=store.attributions([first, second], source=source),
    )
