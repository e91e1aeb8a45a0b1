"""Invented files of every shape that can be imported, and fixtures that write them.

A conftest that wants the fixtures imports them by name.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import duckdb
import pytest
from tests.support.play_file_shapes import college_sql, invented_plays_sql, nflverse_sql

from lensyard.plays import store
from lensyard.plays.bundled import plays_path
from lensyard.plays.importing.import_file import check_file, import_file
from lensyard.plays.importing.mapping import parse_mapping
from lensyard.plays.importing.stage import Request
from lensyard.plays.store import load_plays

FILES = Path(__file__).parents[1] / "plays" / "importing" / "files"
Files = Callable[..., Path]
GAMES = "season = 2018 AND week = 3 AND game_id <= '2018092303'"
TWO_GAMES = "game_id IN ('2018092300', '2018092301')"


def invented(where: str = GAMES, season: int | None = 2031) -> str:
    """Return a query for canonical plays of clubs that do not exist."""
    return invented_plays_sql(plays_path(), where=where, season=season)


@cache
def school_chart(plays: int = 150, *, words: tuple[str, ...] = ("Run", "Pass")) -> str:
    """Return a chart as a school keeps it: no air yards, scrambles, kicks, clock, score or season.

    `words`: What it calls a run and a pass.
    """
    found = load_plays(
        ["down", "distance_yd", "yardline_100", "quarter", "kind", "gain_yd"],
        seasons=[2009],
        season_type="REG",
        kinds=("run", "complete", "incomplete", "sack"),
        source="bundled",
    ).head(plays)
    result = {"run": "", "complete": "Complete", "incomplete": "Incomplete", "sack": "Sack"}
    lines = ["QTR,DN,DIST,YARD LN,PLAY TYPE,RESULT,GN/LS"]
    for play in found.itertuples(index=False):
        line = play.yardline_100 if play.yardline_100 <= 50 else play.yardline_100 - 100
        word = words[play.kind != "run"]
        lines.append(
            f"{play.quarter},{play.down},{play.distance_yd},{line},{word},{result[play.kind]},"
            f"{play.gain_yd}"
        )
    return "\n".join(lines) + "\n"


def write_query(query: str, path: Path) -> Path:
    """Write a query as a file, by its ending."""
    path.write_bytes(written(query, path.suffix))
    return path


@cache
def written(query: str, suffix: str) -> bytes:
    """Return a query as the bytes of a file."""
    options = "FORMAT parquet" if suffix == ".parquet" else "FORMAT csv, HEADER"
    with TemporaryDirectory() as folder, duckdb.connect() as connection:
        path = Path(folder) / f"query{suffix}"
        connection.execute("SET enable_progress_bar = false")
        connection.execute(f"COPY ({query}) TO '{path}' ({options})")
        return path.read_bytes()


def request(path: Path, *, mapping: str | Path | None = None, **how: Any) -> Request:
    """Return a request; a mapping is a TOML text or the path of one."""
    if mapping is not None:
        text = mapping if isinstance(mapping, str) else mapping.read_text(encoding="utf-8")
        how["mapping"] = parse_mapping(text)
    return Request(path, **how)


def take(path: Path, *, folder: Path | None = None, wait_s: float = 60.0, **how: Any):
    """Import a file."""
    return import_file(request(path, **how), folder=folder, wait_s=wait_s)


def check(path: Path, **how: Any):
    """Return what an import of a file would do."""
    return check_file(request(path, **how))


@pytest.fixture(autouse=True)
def user_folders(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """Keep every test's data in its own folder; the store's cache is shared."""
    folder = tmp_path / "user"
    monkeypatch.setenv("LENSYARD_DATA_DIR", str(folder))
    monkeypatch.setenv("LENSYARD_CONFIG_DIR", str(tmp_path / "config"))
    yield folder
    store.close_shared_store()


def _file_writer(tmp_path: Path, shape: Callable[[str], str], usual: str) -> Files:
    def write(name: str = usual, change: str = "SELECT * FROM plays", **which: Any) -> Path:
        plays = shape(invented(**which))
        return write_query(f"WITH plays AS ({plays}) {change}", tmp_path / name)

    return write


@pytest.fixture
def nflverse_file(tmp_path: Path) -> Files:
    """Return a function that writes invented plays in the shape of nflverse."""
    return _file_writer(tmp_path, nflverse_sql, "season.parquet")


@pytest.fixture
def college_file(tmp_path: Path) -> Files:
    """Return a function that writes invented plays with dotted college names."""
    return _file_writer(tmp_path, college_sql, "college.parquet")


@pytest.fixture
def chart(tmp_path: Path) -> Path:
    """Return an invented chart of a school's game, one row a play."""
    path = tmp_path / "week 3.csv"
    path.write_bytes((FILES / "chart.csv").read_bytes())
    return path


@pytest.fixture
def mapping_file(tmp_path: Path) -> Path:
    """Return the mapping that reads the chart."""
    path = tmp_path / "riverton.toml"
    path.write_bytes((FILES / "riverton.toml").read_bytes())
    return path


@pytest.fixture(scope="session")
def season_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return two invented games of a season in the shape of nflverse."""
    path = tmp_path_factory.mktemp("files") / "season.parquet"
    return write_query(nflverse_sql(invented(TWO_GAMES)), path)
