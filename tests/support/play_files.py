"""Fixtures: invented files of every shape that can be imported, and a folder of its own each.

A conftest that wants them imports them by name.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import duckdb
import pytest
from tests.support.play_file_shapes import college_sql, invented_plays_sql, nflverse_sql

from lensyard.plays import store
from lensyard.plays.bundled import plays_path
from lensyard.plays.importing.import_file import import_file
from lensyard.plays.importing.stage import ImportReport, Request

FILES = Path(__file__).parents[1] / "plays" / "importing" / "files"
GAMES = "season = 2018 AND week = 3 AND game_id <= '2018092303'"


@pytest.fixture(autouse=True)
def user_folders(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """Keep every test's data in its own folder; the store's cache is shared."""
    folder = tmp_path / "user"
    monkeypatch.setenv("LENSYARD_DATA_DIR", str(folder))
    monkeypatch.setenv("LENSYARD_CONFIG_DIR", str(tmp_path / "config"))
    yield folder
    store.close_shared_store()


@pytest.fixture
def write_query(tmp_path: Path) -> Callable[[str, str], Path]:
    """Return a function that writes a query as a file, by its ending."""

    def write(query: str, name: str) -> Path:
        path = tmp_path / name
        options = "FORMAT parquet" if name.endswith(".parquet") else "FORMAT csv, HEADER"
        with duckdb.connect() as connection:
            connection.execute("SET enable_progress_bar = false")
            connection.execute(f"COPY ({query}) TO '{path}' ({options})")
        return path

    return write


@pytest.fixture
def invented() -> Callable[..., str]:
    """Return a function for a query over canonical plays of clubs that do not exist."""

    def query(where: str = GAMES, season: int | None = 2031) -> str:
        return invented_plays_sql(plays_path(), where=where, season=season)

    return query


@pytest.fixture
def nflverse_file(
    invented: Callable[..., str], write_query: Callable[[str, str], Path]
) -> Callable[..., Path]:
    """Return a function that writes invented plays in the shape of nflverse."""

    def write(
        name: str = "season.parquet", change: str = "SELECT * FROM plays", **which: Any
    ) -> Path:
        plays = nflverse_sql(invented(**which))
        return write_query(f"WITH plays AS ({plays}) {change}", name)

    return write


@pytest.fixture
def college_file(
    invented: Callable[..., str], write_query: Callable[[str, str], Path]
) -> Callable[..., Path]:
    """Return a function that writes invented plays with dotted college names."""

    def write(name: str = "college.parquet", change: str = "SELECT * FROM plays") -> Path:
        plays = college_sql(invented())
        return write_query(f"WITH plays AS ({plays}) {change}", name)

    return write


@pytest.fixture
def take() -> Callable[..., ImportReport]:
    """Return a function that imports a file."""

    def run(path: Path, **how: Any) -> ImportReport:
        return import_file(Request(path, **how))

    return run


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
    where = "game_id IN ('2018092300', '2018092301')"
    query = nflverse_sql(invented_plays_sql(plays_path(), where=where, season=2031))
    with duckdb.connect() as connection:
        connection.execute("SET enable_progress_bar = false")
        connection.execute(f"COPY ({query}) TO '{path}' (FORMAT parquet)")
    return path
