"""Full disks, kills, rivals, bombs, tricks: an import is all or nothing and says what is wrong."""

from __future__ import annotations

import errno
import gzip
import json
import os
import subprocess
import sys
import threading
import tracemalloc
import zipfile
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import duckdb
import pytest
from click.testing import CliRunner
from tests.benchmarks.fuzz_targets import folder_state, require_whole
from tests.benchmarks.kill_import import STEPS, interrupted
from tests.support.play_files import check, take, write_query

from lensyard.errors import DataError, LensyardError, StoreError
from lensyard.features.plays.cli import data_command
from lensyard.plays.importing import catalog
from lensyard.plays.importing import import_file as imports
from lensyard.plays.importing.stage import LIMITS
from lensyard.plays.store import load_plays

POSIX = pytest.mark.skipif(os.name == "nt", reason="signals and limits are POSIX")


class _InjectedError(Exception):
    pass


@pytest.fixture
def folder(tmp_path):
    """Return a folder of imports."""
    place = tmp_path / "plays"
    place.mkdir()
    return place


@pytest.mark.slow
@pytest.mark.parametrize("step", STEPS)
def test_an_import_that_fails_at_any_step_leaves_the_old_state_or_the_new(
    season_file, folder, step
):
    def fail():
        raise _InjectedError

    with pytest.raises(_InjectedError), interrupted(step, fail, folder):
        take(season_file, folder=folder)
    require_whole(folder)
    assert bool(catalog.read_catalog(folder).entries) == (step == "committed")
    assert take(season_file, folder=folder).changed == (step != "committed")
    assert not [p for p in folder.iterdir() if p.name.startswith(catalog.STAGING_PREFIX)]


_FULL = """
import resource, signal, sys
from pathlib import Path
from lensyard.plays.importing.stage import Request
from lensyard.plays.importing.import_file import import_file
from lensyard.errors import LensyardError

signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
for limit in map(int, sys.argv[3:]):
    resource.setrlimit(resource.RLIMIT_FSIZE, (limit, resource.RLIM_INFINITY))
    try:
        import_file(Request(Path(sys.argv[1])), folder=Path(sys.argv[2]))
    except LensyardError as error:
        print("refused", type(error).__name__, error)
    else:
        print("imported")
"""


@pytest.mark.slow
@POSIX
def test_a_full_disk_is_said_and_changes_nothing(season_file, folder):
    limits = ["0", "1", "500", "2000"]
    done = subprocess.run(
        [sys.executable, "-c", _FULL, str(season_file), str(folder), *limits],
        check=False,
        capture_output=True,
        text=True,
        env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)},
    )
    assert done.returncode == 0, done.stderr
    lines = done.stdout.splitlines()
    assert len(lines) == len(limits)
    assert all(line.startswith("refused StoreError") for line in lines), lines
    assert all("nothing was imported" in line.lower() for line in lines), lines
    assert folder_state(folder) == {}


@pytest.mark.slow
def test_a_disk_that_refuses_at_the_end_changes_nothing(season_file, folder, monkeypatch):
    def refuse(*_):
        raise OSError(errno.ENOSPC, "No space left on device")

    with monkeypatch.context() as patched:
        patched.setattr(os, "fsync", refuse)
        with pytest.raises(StoreError, match=r"No space left on device.*nothing was imported"):
            take(season_file, folder=folder)
    assert catalog.read_catalog(folder).entries == ()
    assert take(season_file, folder=folder).changed


def test_a_folder_that_cannot_be_written_is_said(season_file, tmp_path):
    blocked = tmp_path / "file"
    blocked.write_text("")
    with pytest.raises(StoreError):
        take(season_file, folder=blocked)


def test_a_second_import_waits_or_says_so(season_file, folder):
    with catalog.writer_lock(folder), pytest.raises(StoreError, match="another import is at work"):
        take(season_file, folder=folder, wait_s=0.0)


@pytest.mark.slow
@POSIX
def test_two_imports_at_once_both_arrive(season_file, folder):
    other = folder.parent / "other.parquet"
    with duckdb.connect() as connection:
        connection.execute(
            f"COPY (SELECT * REPLACE (2032 AS season) FROM read_parquet('{season_file}')) "
            f"TO '{other}' (FORMAT parquet)"
        )
    code = (
        "import sys; from pathlib import Path; "
        "from lensyard.plays.importing.import_file import import_file; "
        "from lensyard.plays.importing.stage import Request; "
        "import_file(Request(Path(sys.argv[1])), folder=Path(sys.argv[2]))"
    )
    workers = [
        subprocess.Popen([sys.executable, "-c", code, str(path), str(folder)])
        for path in (season_file, other)
    ]
    assert [worker.wait() for worker in workers] == [0, 0]
    assert [entry.season for entry in catalog.read_catalog(folder).entries] == [2031, 2032]
    require_whole(folder)


@pytest.mark.slow
def test_readers_go_on_while_a_season_is_replaced(season_file):
    take(season_file)
    whole = len(load_plays(["kind"], seasons=[2031]))
    counts: list[int] = []
    stop = threading.Event()

    def read():
        while not stop.is_set():
            counts.append(len(load_plays(["kind"], seasons=[2031])))

    reader = threading.Thread(target=read)
    reader.start()
    half = season_file.parent / "half.parquet"
    with duckdb.connect() as connection:
        connection.execute(
            f"COPY (SELECT * FROM read_parquet('{season_file}') WHERE qtr <= 2) TO '{half}'"
        )
    stored = take(half, replace=True).kept
    take(season_file, replace=True)
    stop.set()
    reader.join()
    assert set(counts) <= {whole, stored}
    assert counts


def _zipped(path, **members):
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in members.items():
            archive.writestr(name.replace("_", "/", 1) + ".csv", content)


def _parquet(path, query):
    write_query(query, path.with_suffix(".parquet")).rename(path)


SMALL = replace(LIMITS, bytes_unpacked=1 << 20, rows=1000, columns=50, bytes_on_disk=1 << 22)
TABLE = b"a,b\n" * (1 << 20)
WIDE = ", ".join(f"{at} AS c{at}" for at in range(60))
BOMBS: list[tuple[str, Callable[[Path], object]]] = [
    ("unpacks to more than 1,048,576", lambda path: path.write_bytes(gzip.compress(TABLE))),
    ("unpacks to more than 1,048,576", lambda path: _zipped(path, x=TABLE)),
    ("holds 2 files, expected one", lambda path: _zipped(path, x=b"a,b\n", y=b"a,b\n")),
    ("cannot be read as a workbook", lambda path: _zipped(path, xl_workbook=b"<x/>")),
    (
        "claims 5,000,000 rows",
        lambda path: _parquet(path, "SELECT 1 AS a, 2 AS b FROM range(5000000)"),
    ),
    ("has 60 columns, more than the limit of 50", lambda path: _parquet(path, f"SELECT {WIDE}")),
    ("more than the limit of 4,194,304", lambda path: path.write_bytes(TABLE * 2)),
    ("cannot be read", lambda path: path.write_text("[" * 100_000)),
    (
        "longer than 1,048,576 bytes",
        lambda path: path.write_bytes(b"a,b\n" + b"x" * (3 << 20) + b",1\n"),
    ),
]


@pytest.mark.parametrize(("words", "write"), BOMBS)
def test_bombs_are_refused_before_they_go_off(tmp_path, words, write):
    path = tmp_path / "bomb"
    write(path)
    with pytest.raises(DataError, match=words):
        check(path, limits=SMALL)


@pytest.mark.slow
def test_every_spelling_of_a_file_name_is_read(season_file, folder):
    names = ["a b.parquet", "it's.parquet", "x[1]*.parquet", 'q"uote.parquet', "ünï.parquet"]
    for name in names if os.name == "posix" else names[:1]:
        path = folder.parent / name
        path.write_bytes(season_file.read_bytes())
        assert check(path).kept > 300


def test_a_folders_name_is_no_column(season_file, folder):
    place = folder.parent / "season=1999"
    place.mkdir()
    path = place / "x.parquet"
    path.write_bytes(season_file.read_bytes())
    assert check(path).seasons == check(season_file).seasons == (2031,)


@pytest.mark.slow
@pytest.mark.skipif(os.name == "nt", reason="names of a POSIX system")
def test_a_name_like_a_pattern_is_that_file_alone(nflverse_file, tmp_path):
    whole = nflverse_file(".csv").read_bytes()
    for name in ("plays1.csv", "playsx.csv"):
        (tmp_path / name).write_bytes(whole)
    lines = whole.splitlines(keepends=True)
    for name in ("plays[1].csv", "plays?.csv", "plays*.csv"):
        path = tmp_path / name
        path.write_bytes(b"".join(lines[:-5]))
        assert check(path).rows == len(lines) - 6, name


def _damaged_lzma(path):
    with zipfile.ZipFile(path, "w", zipfile.ZIP_LZMA) as archive:
        archive.writestr("plays.csv", TABLE[:40_000])
    data = bytearray(path.read_bytes())
    data[60:110] = bytes(255 - value for value in data[60:110])
    path.write_bytes(data)


def _no_utf8_name(path):
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("pl\u00e4ys.csv", b"a,b\n1,2\n")
    path.write_bytes(path.read_bytes().replace(b"pl\xc3\xa4ys", b"pl\xff\xfeys"))


@pytest.mark.parametrize("write", [_damaged_lzma, _no_utf8_name])
def test_archives_that_are_not_what_they_say_are_refused(tmp_path, write):
    path = tmp_path / "plays.zip"
    write(path)
    with pytest.raises(DataError, match="cannot be unpacked"):
        check(path)


@pytest.mark.skipif(sys.platform != "linux", reason="names of bytes")
def test_a_name_that_is_no_text_is_refused(season_file, tmp_path):
    path = tmp_path / os.fsdecode(b"plays\xff.parquet")
    path.write_bytes(season_file.read_bytes())
    with pytest.raises(DataError, match="rename the file"):
        check(path)


def test_one_long_line_takes_no_memory(tmp_path):
    path = tmp_path / "line.zip"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("line.csv", b"a,b\n" + b"x" * (64 << 20))
    assert path.stat().st_size < 100_000
    tracemalloc.start()
    with pytest.raises(DataError, match="longer than"):
        check(path)
    _, most = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert most < 24 << 20


def test_control_characters_of_a_header_do_not_reach_the_terminal(tmp_path):
    path = tmp_path / "plays.csv"
    path.write_bytes(b"a\x1b[31mred,b\x07,down\r\n1,2,3\r\n")
    shown = CliRunner().invoke(data_command, ["check", str(path)])
    said = shown.output + str(shown.exception)
    assert "no source that is known" in said
    assert not set(said) & {"\x1b", "\x07"}


@pytest.mark.parametrize("name", ["../x", "X", "", "a" * 41, "bundled", "a/b", "a.b", "-a"])
def test_a_source_cannot_be_called_like_a_path(name):
    with pytest.raises(DataError, match="a source cannot be called"):
        catalog.source_slug(name)


def test_names_that_steer_terminals_spreadsheets_or_pages_stay_text(season_file, tmp_path):
    hostile = "<script>alert(1)</script>", "=cmd|' /C calc'!A0"
    path = tmp_path / "hostile\x1b[2J.parquet"
    with duckdb.connect() as connection:
        connection.execute(
            "COPY (SELECT * REPLACE (replace(game_id, 'G', '\x1b[31mG') AS game_id, "
            "if(play_id = 75, ?, play_type) AS play_type, if(play_id = 82, ?, posteam) AS posteam) "
            f"FROM read_parquet('{season_file}')) TO '{path}' (FORMAT parquet)",
            list(hostile),
        )
    runner = CliRunner()
    shown = runner.invoke(data_command, ["import", str(path)], catch_exceptions=False)
    assert shown.exit_code == 0
    listed = runner.invoke(data_command, ["list", "--rejects"], catch_exceptions=False)
    for text in (shown.output, listed.output):
        assert "\x1b" not in text
    assert "<script>alert(1)</script>" in listed.output
    document = runner.invoke(data_command, ["list", "--rejects", "--json"], catch_exceptions=False)
    values = {row["value"] for row in json.loads(document.output)["rejects"]}
    assert hostile[0] in values


def test_an_import_cannot_read_other_files(season_file, folder, monkeypatch):
    secret = folder.parent / "secret.csv"
    secret.write_text("a\n1\n")
    seen: list[str] = []
    original: Callable[..., Any] = imports.stage

    def spy(connection, *rest, **more):
        for sql in (
            f"SELECT * FROM read_csv('{secret}')",
            f"COPY (SELECT 1) TO '{folder.parent / 'out.csv'}'",
            "INSTALL httpfs",
            "SET enable_external_access = true",
        ):
            with pytest.raises(duckdb.Error):
                connection.execute(sql)
            seen.append(sql)
        return original(connection, *rest, **more)

    monkeypatch.setattr(imports, "stage", spy)
    take(season_file, folder=folder)
    assert len(seen) == 4


def test_every_refusal_is_one_of_ours(tmp_path):
    for content in (
        b"",
        b"\x00" * 100,
        b"PAR1",
        b"PAR1" + b"x" * 50 + b"PAR1",
        b"\x1f\x8b",
        b"PK\x03\x04",
    ):
        path = tmp_path / "x"
        path.write_bytes(content)
        with pytest.raises(LensyardError):
            check(path)
    with pytest.raises(DataError, match="not a file"):
        check(tmp_path)


def test_an_interrupted_query_is_a_keyboard_interrupt(season_file, folder):
    def interrupt():
        raise RuntimeError("Query interrupted")  # what DuckDB raises at Ctrl-C

    with pytest.raises(KeyboardInterrupt), interrupted("staged", interrupt, folder):
        take(season_file, folder=folder)
    assert folder_state(folder) == {}
