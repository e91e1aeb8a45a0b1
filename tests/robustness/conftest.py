"""Folders of their own for every test."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from lensyard.plays import store


@pytest.fixture(autouse=True)
def user_folders(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """Keep every test's data in its own folder; the store's cache is shared."""
    folder = tmp_path / "user"
    monkeypatch.setenv("LENSYARD_DATA_DIR", str(folder))
    monkeypatch.setenv("LENSYARD_CONFIG_DIR", str(tmp_path / "config"))
    yield folder
    store.close_shared_store()


@pytest.fixture(scope="session")
def season_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return an invented season in the shape of nflverse."""
    import duckdb
    from tests.support.play_file_shapes import invented_plays_sql, nflverse_sql

    from lensyard.plays.bundled import plays_path

    path = tmp_path_factory.mktemp("files") / "season.parquet"
    where = "game_id IN ('2018092300', '2018092301')"
    query = nflverse_sql(invented_plays_sql(plays_path(), where=where, season=2031))
    with duckdb.connect() as connection:
        connection.execute("SET enable_progress_bar = false")
        connection.execute(f"COPY ({query}) TO '{path}' (FORMAT parquet)")
    return path
