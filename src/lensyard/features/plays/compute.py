"""The plays behind every answer: listed, imported, fetched, measured, compared.

A measure of a season is a ratio of two sums over plays. Its standard error takes the game as the
unit, since plays of one game are alike: the usual linearized variance of a ratio with games as
clusters (W. G. Cochran, Sampling Techniques, 3rd ed., Wiley, 1977, chapter 6).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import field
from math import hypot, sqrt
from typing import TYPE_CHECKING, Any, Final

from lensyard.errors import DataError, LensyardError
from lensyard.records import Record
from lensyard.stats import Z_95

if TYPE_CHECKING:
    from lensyard.plays.bundled import Attribution, Provenance
    from lensyard.plays.importing.catalog import Entry
    from lensyard.plays.importing.stage import ImportReport, Request
    from lensyard.plays.store import Store

MOST_REJECTS = 200
"""Of rejected rows in a list."""


class StoredSeason(Record):
    """Games and plays of one season that answer when no source is named."""

    season: int
    season_type: str
    games: int
    plays: int


class ImportedSeason(Record):
    """An imported season, and whether it answers when no source is named."""

    entry: Entry = field(metadata={"json": "*"})
    name: str
    answers: bool


class StoredPlays(Record):
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


class FetchedSeason(Record):
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

    `source`: Of the file; by default the professional one, or what the file at `url` looks like.
    `url`: Another address than the source's own.
    `sha256`: What the file must have, where it is known.
    `replace`: Take the fetched copy of games that are stored already.
    `fetch`: What fetches a file; `lensyard.plays.importing.fetch.fetch_file` by default.

    Raises `InvalidInputError` if the address is not secure, or the source has no such season;
    `DataError` if it cannot be fetched or is no table of plays.
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


_LIVE: Final = "kind IN ('run', 'complete', 'incomplete', 'sack', 'scramble', 'interception')"
_DROPBACK: Final = "kind IN ('complete', 'incomplete', 'sack', 'scramble', 'interception')"
_THROW: Final = "kind IN ('complete', 'incomplete', 'interception')"
_FOURTH: Final = f"down = 4 AND ({_LIVE} OR kind IN ('punt', 'field_goal'))"
_KICKED: Final = "kind = 'kickoff'"
_RESULT_KNOWN: Final = f"{_KICKED} AND kick_result IS NOT NULL"


class Measure(Record):
    """A ratio of sums: its name, what it says, its unit, and numerator and denominator in SQL."""

    name: str
    meaning: str
    unit: str
    top: str
    base: str


def _share(name: str, meaning: str, top: str, base: str) -> Measure:
    return Measure(name, meaning, "share", f"({base}) AND ({top})", base)


MEASURES: Final[tuple[Measure, ...]] = (
    Measure("plays_per_game", "plays from scrimmage a game", "a game", _LIVE, "first"),
    _share("pass_share", "plays on which the passer dropped back", _DROPBACK, _LIVE),
    _share("completion_share", "passes completed", "kind = 'complete'", _THROW),
    _share("interception_share", "passes intercepted", "kind = 'interception'", _THROW),
    _share("sack_share", "dropbacks without a run that ended in a sack", "kind = 'sack'",
           f"{_DROPBACK} AND kind <> 'scramble'"),
    Measure("air_yards", "air yards a pass", "yd", "air_yd", f"{_THROW} AND air_yd IS NOT NULL"),
    _share("deep_share", "passes of 16 and more air yards", "air_yd >= 16",
           f"{_THROW} AND air_yd IS NOT NULL"),
    Measure("yards_per_carry", "yards a run", "yd", "gain_yd", "kind = 'run'"),
    Measure("yards_per_play", "yards a play", "yd", "gain_yd", _LIVE),
    _share("gain20_share", "plays that gain 20 and more", "gain_yd >= 20", _LIVE),
    _share("touchdown_share", "plays on which the offense scores a touchdown", "touchdown", _LIVE),
    _share("out_of_bounds_share", "carries and catches that end out of bounds", "out_of_bounds",
           "kind IN ('run', 'complete', 'scramble') AND out_of_bounds IS NOT NULL"),
    _share("fourth_down_go_share", "fourth downs played out", _LIVE, _FOURTH),
    _share("fourth_down_punt_share", "fourth downs punted", "kind = 'punt'", _FOURTH),
    _share("fourth_and_short_go_share", "fourth downs with 1 or 2 yards played out", _LIVE,
           f"{_FOURTH} AND distance_yd <= 2"),
    _share("fourth_down_conversion_share", "fourth downs played out that make it", "first_down",
           f"down = 4 AND {_LIVE}"),
    Measure("kickoffs_per_game", "kickoffs a game", "a game", _KICKED, "first"),
    _share("touchback_share", "kickoffs not run out", "kick_result = 'touchback'", _RESULT_KNOWN),
    _share("kickoff_return_share", "kickoffs returned", "kick_result = 'returned'", _RESULT_KNOWN),
    Measure("kickoff_return_yards", "yards a kickoff return", "yd", "return_yd",
            f"{_KICKED} AND kick_result = 'returned' AND return_yd IS NOT NULL"),
    Measure("start_after_touchback", "own yard line of the first play after a touchback", "yd line",
            "100 - next_line",
            f"{_KICKED} AND kick_result = 'touchback' AND next_line IS NOT NULL"),
    Measure("punts_per_game", "punts a game", "a game", "kind = 'punt'", "first"),
    Measure("field_goals_per_game", "field goals tried a game", "a game", "kind = 'field_goal'",
            "first"),
    _share("field_goal_made_share", "field goals made", "kick_result = 'made'",
           "kind = 'field_goal' AND kick_result IS NOT NULL"),
    Measure("field_goal_yards", "distance of field goals tried", "yd", "kick_distance_yd",
            "kind = 'field_goal' AND kick_distance_yd IS NOT NULL"),
    _share("extra_point_made_share", "extra points made", "kick_result = 'made'",
           "kind = 'extra_point' AND kick_result IS NOT NULL"),
    _share("two_point_share", "tries for two points", "kind = 'two_point'",
           "kind IN ('two_point', 'extra_point')"),
    _share("two_point_made_share", "tries for two points made", "kick_result = 'made'",
           "kind = 'two_point' AND kick_result IS NOT NULL"),
    _share("drive_touchdown_share", "possessions that end in a touchdown",
           "drive_end = 'touchdown'", "last_of_drive"),
)  # fmt: skip
"""Definitions follow the official statistics where there are any; carries are without scrambles
and kneels. `first` and `last_of_drive` mark one play a game and a possession."""


class Measured(Record):
    """One measure of one season.

    `value`, `error`: The ratio and its standard error over games; None where there is nothing to
        count.
    `base`, `games`: Sum of the denominator, and games.
    """

    name: str
    value: float | None
    error: float | None
    base: float
    games: int


def measure_season(
    store: Store, season: int, *, source: str | None = None, season_type: str = "REG"
) -> tuple[Measured, ...]:
    """Return every measure of a stored season.

    `source`: As in `lensyard.plays.store.load_plays`.

    Raises `UnknownNameError` if there is no such source; `DataError` if there are no such plays.
    """
    store.imported.require(source=source, seasons=[season])
    table = "plays" if source is None else "all_plays"
    where = "season = ? AND season_type = ?" + ("" if source is None else " AND source = ?")
    values = [season, season_type] + ([] if source is None else [source])
    by_game = ", ".join(
        f"sum(if({m.base}, CAST({m.top} AS DOUBLE), NULL)) AS t{at}, "
        f"count(*) FILTER (WHERE {m.base}) AS b{at}"
        if m.base != "first"
        else f"CAST(count(*) FILTER (WHERE {m.top}) AS DOUBLE) AS t{at}, 1 AS b{at}"
        for at, m in enumerate(MEASURES)
    )
    sums = ", ".join(
        f"sum(t{at}), sum(b{at}), sum(t{at} * t{at}), sum(t{at} * b{at}), sum(b{at} * b{at})"
        for at in range(len(MEASURES))
    )
    rows = store.query(
        f"""WITH chosen AS (
            SELECT *, lead(yardline_100) OVER g AS next_line,
                drive_end <> '' AND row_number() OVER d = 1 AS last_of_drive
            FROM {table} WHERE {where}
            WINDOW g AS (PARTITION BY game_id ORDER BY play_index),
                d AS (PARTITION BY game_id, drive_index, drive_end ORDER BY play_index DESC)
        ), games AS (SELECT game_id, {by_game} FROM chosen GROUP BY game_id)
        SELECT count(*), {sums} FROM games""",
        values,
    )
    numbers = [float(value) for value in rows.iloc[0].fillna(0.0)]
    games = int(numbers[0])
    if games == 0:
        raise DataError(
            f"there are no {season_type} plays of {season}"
            f"{'' if source is None else f' from {source}'}; `lensyard data list` names the seasons"
        )
    return tuple(
        _measured(m.name, numbers[1 + 5 * at : 6 + 5 * at], games) for at, m in enumerate(MEASURES)
    )


def _measured(name: str, sums: list[float], games: int) -> Measured:
    """Return a ratio and its standard error from sums over games."""
    top, base, top_top, top_base, base_base = sums
    if base <= 0:
        return Measured(name, None, None, base, games)
    ratio = top / base
    squares = top_top - 2 * ratio * top_base + ratio * ratio * base_base
    error = sqrt(max(squares, 0.0) * games / (games - 1)) / base if games > 1 else None
    return Measured(name, ratio, error, base, games)


class MeasureChange(Record):
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


class SeasonComparison(Record):
    """Two seasons side by side."""

    seasons: tuple[int, int]
    season_type: str
    games: tuple[int, int]
    measures: tuple[MeasureChange, ...]
    attributions: tuple[Attribution, ...]
    left_out: tuple[str, ...] = ()


def compare_seasons(
    store: Store, first: int, second: int, *, source: str | None = None, season_type: str = "REG"
) -> SeasonComparison:
    """Return the measures of two stored seasons side by side, with their differences.

    `source`: Name of a source; by default each season comes from one source.

    Raises `DataError` if a season has no plays.
    """
    before = measure_season(store, first, source=source, season_type=season_type)
    after = measure_season(store, second, source=source, season_type=season_type)
    changes, left_out = [], []
    absent = _never_happened(before) | _never_happened(after)
    for measure, old, new in zip(MEASURES, before, after, strict=True):
        if old.value is None or new.value is None or measure.name in absent:
            left_out.append(measure.meaning)
            continue
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
        left_out=tuple(left_out),
    )


def _never_happened(season: Sequence[Measured]) -> set[str]:
    """Return the measures of kicks and fourth downs of a season that has no such kicks at all."""
    value = {each.name: each.value for each in season}
    found: set[str] = set()
    for kick, names in _OF_KICKS.items():
        if not value[kick]:
            found |= {kick, *names}
    return found


_OF_KICKS: Final = {
    "punts_per_game": (
        "fourth_down_go_share", "fourth_down_punt_share", "fourth_and_short_go_share",
        "drive_touchdown_share",
    ),
    "kickoffs_per_game": (),
    "field_goals_per_game": (),
}  # fmt: skip
"""What a season without such kicks cannot say, by the kicks."""
