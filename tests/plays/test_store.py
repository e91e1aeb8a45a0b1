"""The local store: built all or nothing, locked down, shared by threads. All plays are invented."""

import os
from concurrent.futures import ThreadPoolExecutor

import duckdb
import pandas as pd
import pytest
from data.recipes.tests.feed_games import invented_parquet

from lensyard.errors import StoreError, UnknownNameError
from lensyard.files import sweep_unfinished
from lensyard.plays import bundled, schema, store

WRITING_SUFFIX = ".building"

STEPS = {
    "loaded": "lensyard.plays.bundled._check",
    "closed": "lensyard.files.flush_file",
    "flushed": "os.replace",
    "replaced": "lensyard.files.flush_folder",
}
"""What a build has finished -> what it calls next."""


@pytest.fixture(scope="module")
def parquet(tmp_path_factory):
    return invented_parquet(tmp_path_factory.mktemp("two games"))


@pytest.fixture(scope="module")
def other_parquet(tmp_path_factory):
    return invented_parquet(tmp_path_factory.mktemp("one game"), games=1)


@pytest.fixture
def folder(tmp_path):
    return tmp_path / "cache"


@pytest.fixture(scope="module")
def opened(parquet, tmp_path_factory):
    with store.Store.open(parquet=parquet, folder=tmp_path_factory.mktemp("shared")) as opened:
        yield opened


def _names(folder):
    return sorted(path.name for path in folder.iterdir())


def test_the_first_use_builds_the_store_and_the_second_takes_it(parquet, folder):
    with store.Store.open(parquet=parquet, folder=folder) as first:
        before = first.path.stat().st_mtime_ns
        assert _names(folder) == [first.path.name]
    with store.Store.open(parquet=parquet, folder=folder) as second:
        assert second.path.stat().st_mtime_ns == before


def test_the_store_holds_the_plays_of_the_parquet_file(opened, parquet):
    plays = opened.plays()
    schema.validate(plays)
    expected = pd.read_parquet(parquet)
    assert len(plays) == len(expected) == 12
    for name in schema.COLUMN_NAMES:
        assert plays[name].isna().tolist() == expected[name].isna().tolist(), name
        assert plays[name].dropna().tolist() == expected[name].dropna().tolist(), name
    # Nullable numbers are floats, whatever the version of DuckDB.
    assert (plays["air_yd"].dtype, plays["gain_yd"].dtype) == ("float64", "int16")
    order = plays[["game_id", "play_index"]]
    assert order.equals(order.sort_values(["game_id", "play_index"], ignore_index=True))


def test_plays_can_be_narrowed_by_season_type_and_kind(opened):
    assert len(opened.plays(seasons=[2030], season_type="REG")) == 12
    assert opened.plays(seasons=[2029]).empty
    assert opened.plays(seasons=[]).empty
    assert opened.plays(season_type="POST").empty
    kinds = opened.plays(["kind"], kinds=["run", "complete"])["kind"]
    assert sorted(kinds) == ["complete", "complete", "run", "run"]


@pytest.mark.parametrize(
    "request_",
    [
        {"columns": ["gain"]},
        {"columns": ["gain_yd; DROP TABLE plays"]},
        {"columns": []},
        {"kinds": ["pass"]},
        {"season_type": "PRE"},
    ],
)
def test_what_the_schema_does_not_know_is_refused(opened, request_):
    with pytest.raises(UnknownNameError):
        opened.plays(**request_)


def test_a_query_takes_its_values_as_parameters(opened):
    sql = "SELECT count(*) AS n FROM plays WHERE kind = ? AND gain_yd >= ?"
    assert opened.query(sql, ["complete", 60])["n"].tolist() == [2]
    with pytest.raises(StoreError, match="the query failed"):
        opened.query("SELECT nothing FROM nowhere")


@pytest.mark.parametrize(
    "sql",
    [
        "SELECT * FROM read_csv('{secret}')",
        "SELECT * FROM read_text('{secret}')",
        "SELECT * FROM '{secret}'",
        "COPY plays TO '{folder}/out.csv'",
        "EXPORT DATABASE '{folder}/out'",
        "ATTACH '{folder}/new.duckdb' AS new",
        "INSTALL httpfs",
        "LOAD httpfs",
        "SET enable_external_access = true",
        "SET autoinstall_known_extensions = true",
        "SET threads = 1",
        "CREATE TABLE more (a INTEGER)",
        "DELETE FROM plays",
        "DROP TABLE plays",
    ],
)
def test_a_reader_is_locked_down(opened, tmp_path, sql):
    folder = opened.path.parent
    secret = tmp_path / "secret.csv"
    secret.write_text("a\n1\n")
    with pytest.raises(StoreError):
        opened.query(sql.format(secret=secret, folder=folder))
    assert _names(folder) == [opened.path.name]
    assert len(opened.plays(["kind"])) == 12


def test_threads_share_one_store(opened):
    def count(at):
        kind = ("run", "complete", "kickoff")[at % 3]
        return len(opened.plays(["gain_yd"], kinds=[kind]))

    with ThreadPoolExecutor(max_workers=8) as pool:
        assert list(pool.map(count, range(96))) == [2] * 96


def test_a_closed_store_says_so(parquet, folder):
    opened = store.Store.open(parquet=parquet, folder=folder)
    opened.close()
    opened.close()
    with pytest.raises(StoreError, match="closed"):
        opened.plays()


def test_new_plays_get_a_store_of_their_own_and_an_open_one_is_not_disturbed(opened, other_parquet):
    with store.Store.open(parquet=other_parquet, folder=opened.path.parent) as other:
        assert other.path != opened.path
        assert (len(other.plays(["kind"])), len(opened.plays(["kind"]))) == (6, 12)


@pytest.mark.parametrize("damage", ["version", "junk", "cut", "empty"])
def test_a_store_of_another_version_or_damaged_is_built_anew(parquet, folder, damage):
    with store.Store.open(parquet=parquet, folder=folder) as first:
        path = first.path
    content = path.read_bytes()
    path.write_bytes(
        {
            # The storage version stands behind the eight bytes of the checksum.
            "version": content[:12] + bytes([content[12] ^ 0xFF]) + content[13:],
            "junk": b"junk" * 5000,
            "cut": content[:5000],
            "empty": b"",
        }[damage]
    )
    with store.Store.open(parquet=parquet, folder=folder) as again:
        assert len(again.plays(["kind"])) == 12


@pytest.mark.slow
def test_a_flipped_bit_in_the_plays_heals_and_says_so(parquet, folder, capsys):
    """The long form: ``python -m tests.benchmarks.fuzz --target stores``."""
    with store.Store.open(parquet=parquet, folder=folder) as first:
        path, whole = first.path, first.plays()
    content = path.read_bytes()
    said = 0
    for position in range(4096, len(content), len(content) // 12):
        hurt = bytearray(content)
        hurt[position] ^= 1
        path.write_bytes(hurt)
        with store.Store.open(parquet=parquet, folder=folder) as again:
            assert again.plays().equals(whole), position
        said += "built anew" in capsys.readouterr().err
    assert said >= 3


@pytest.mark.skipif(os.name == "nt", reason="owners and modes of a POSIX system")
def test_what_other_accounts_may_write_is_not_believed(parquet, folder):
    with store.Store.open(parquet=parquet, folder=folder) as first:
        path = first.path
    path.chmod(0o666)
    with duckdb.connect(str(path)) as connection:  # as another account would
        connection.execute("UPDATE plays SET gain_yd = 1")
    with store.Store.open(parquet=parquet, folder=folder) as again:
        assert again.plays(["gain_yd"])["gain_yd"].nunique() > 1
    folder.chmod(0o777)
    with pytest.raises(StoreError, match="other accounts can write"):
        store.Store.open(parquet=parquet, folder=folder)
    folder.chmod(0o700)


def test_a_stale_log_beside_the_store_does_not_stop_it(parquet, folder):
    folder.mkdir()
    target = store.store_path(parquet, folder=folder)
    target.with_name(target.name + ".wal").write_bytes(b"stale")
    with store.Store.open(parquet=parquet, folder=folder) as opened:
        assert len(opened.plays(["kind"])) == 12
    assert _names(folder) == [target.name]


class _InjectedError(Exception):
    pass


@pytest.mark.parametrize("step", STEPS)
def test_a_build_that_fails_at_any_step_leaves_the_old_store_or_the_new_one(
    parquet, other_parquet, folder, step, monkeypatch
):
    target = folder / "plays.duckdb"
    bundled.build_store(parquet, target=target)

    def fail(*_):
        raise _InjectedError

    monkeypatch.setattr(STEPS[step], fail)
    with pytest.raises(_InjectedError):
        bundled.build_store(other_parquet, target=target)
    assert _names(folder) == ["plays.duckdb"]
    assert _count(target) == (6 if step == "replaced" else 12)


def test_the_sweep_leaves_a_build_that_may_still_run(folder):
    folder.mkdir()
    young = folder / f"plays.duckdb.1-ab{WRITING_SUFFIX}"
    old = folder / f"plays.duckdb.2-cd{WRITING_SUFFIX}"
    young.write_bytes(b"")
    old.write_bytes(b"")
    os.utime(old, (0, 0))
    sweep_unfinished(folder)
    assert _names(folder) == [young.name]


def _count(path):
    with duckdb.connect(str(path), read_only=True) as connection:
        row = connection.execute("SELECT count(*) FROM plays").fetchone()
    assert row is not None
    return int(row[0])


def test_plays_that_break_the_schema_are_not_stored(parquet, folder):
    broken = pd.read_parquet(parquet)
    broken["down"] = 7
    path = parquet.with_name("broken.parquet")
    broken.to_parquet(path)
    with pytest.raises(StoreError, match="CHECK constraint"):
        store.Store.open(parquet=path, folder=folder)
    assert _names(folder) == []


def test_a_play_that_is_there_twice_is_not_stored(parquet, folder):
    plays = pd.read_parquet(parquet)
    path = parquet.with_name("twice.parquet")
    pd.concat([plays, plays.tail(1)]).to_parquet(path)
    with pytest.raises(StoreError, match=r"13 plays \(12 different ones\)"):
        store.Store.open(parquet=path, folder=folder)


def test_missing_plays_are_a_store_error(folder, tmp_path):
    with pytest.raises(StoreError, match="cannot read the plays"):
        store.Store.open(parquet=tmp_path / "absent.parquet", folder=folder)


def test_the_shared_store_is_one_for_the_process_and_reopens_after_closing(
    parquet, folder, monkeypatch
):
    store.close_shared_store()
    monkeypatch.setattr(store, "plays_path", lambda: parquet)
    monkeypatch.setenv("LENSYARD_CACHE_DIR", str(folder))
    monkeypatch.setenv("LENSYARD_DATA_DIR", str(folder.with_name("data")))
    try:
        shared = store.shared_store()
        assert store.shared_store() is shared
        assert len(store.load_plays(["kind"], kinds=["run"])) == 2
        store.close_shared_store()
        assert store.shared_store() is not shared
    finally:
        store.close_shared_store()
