"""The log's file: durable, never overwritten, shared by waiting, migrated after a backup."""

from __future__ import annotations

import subprocess
import sys
import threading
from dataclasses import replace
from pathlib import Path

import duckdb
import pytest
from tests.support.logs import GAME, PLAY, START, add, book_at, log_in, on_log, start

from lensyard.errors import InvalidInputError, StoreError, UnknownNameError
from lensyard.features.game_log.compute import undo_last
from lensyard.game.document import read_log
from lensyard.game.entry import Game, LoggedPlay
from lensyard.game.logbook import open_log
from lensyard.game.store import Change, Edit, LogStore

# The first version's tables, as it wrote them.
VERSION_1 = """
CREATE TABLE meta (key VARCHAR NOT NULL, value VARCHAR NOT NULL);
INSERT INTO meta VALUES ('schema_version', '1');
CREATE TABLE games (game_id VARCHAR NOT NULL, home VARCHAR NOT NULL, away VARCHAR NOT NULL,
  season INTEGER NOT NULL, started_at TIMESTAMP NOT NULL, venue VARCHAR NOT NULL,
  rules VARCHAR NOT NULL, team_area DOUBLE, assignment VARCHAR NOT NULL, faces VARCHAR NOT NULL,
  lenses VARCHAR[] NOT NULL, crop_factors DOUBLE[] NOT NULL, bodies INTEGER,
  converter DOUBLE NOT NULL, home_direction INTEGER NOT NULL, ended_at TIMESTAMP);
CREATE TABLE plays (game_id VARCHAR NOT NULL, number INTEGER NOT NULL,
  logged_at TIMESTAMP NOT NULL, quarter INTEGER NOT NULL, offense VARCHAR NOT NULL,
  yardline_100 INTEGER NOT NULL, snap_at TIMESTAMP, clock_s DOUBLE, direction INTEGER NOT NULL,
  down INTEGER, distance_yd INTEGER, hash_mark VARCHAR, score_diff INTEGER NOT NULL,
  changed_hands BOOLEAN NOT NULL, spot VARCHAR NOT NULL, result VARCHAR, gain_yd INTEGER,
  touchdown BOOLEAN NOT NULL, out_of_bounds BOOLEAN NOT NULL, frames INTEGER, keepers INTEGER,
  ticks VARCHAR[] NOT NULL, note VARCHAR NOT NULL);
CREATE TABLE history (change_id BIGINT NOT NULL, game_id VARCHAR NOT NULL,
  changed_at TIMESTAMP NOT NULL, action VARCHAR NOT NULL, entity VARCHAR NOT NULL,
  number INTEGER NOT NULL, before VARCHAR, after VARCHAR, schema_version INTEGER NOT NULL);
INSERT INTO games VALUES ('old', 'Otters', 'Herons', 2025, '2025-10-04 19:00:00', '', 'pro', NULL,
  '', 'offense', ['400'], [], NULL, 1.0, 1, NULL);
INSERT INTO plays VALUES ('old', 1, '2025-10-04 19:03:00', 1, 'home', 35, NULL, NULL, 1, 3, 7,
  NULL, 0, false, 'left:opp20', 'complete', 12, false, false, 8, 2, ['catch'], '');
INSERT INTO plays VALUES ('old', 2, '2025-10-04 19:04:00', 1, 'home', 23, NULL, NULL, 1, 1, 10,
  'left', 0, false, '', 'run', 3, false, true, NULL, NULL, [], 'kept');
"""
_AFTER_1 = (
    '{"number": 2, "logged_at": "2025-10-04T19:04:00Z", "quarter": 1, "offense": "home", '
    '"yardline_100": 23, "snap_at": null, "clock_s": null, "direction": 1, "down": 1, '
    '"distance_yd": 10, "hash_mark": "left", "score_diff": 0, "changed_hands": false, "spot": "", '
    '"result": "run", "gain_yd": 3, "touchdown": false, "out_of_bounds": true, "frames": null, '
    '"keepers": null, "ticks": [], "note": "kept"}'
)


def write_version_1(folder: Path) -> Path:
    path = folder / "games.duckdb"
    connection = duckdb.connect(str(path))
    for statement in VERSION_1.split(";"):
        connection.execute(statement)
    connection.execute(
        "INSERT INTO history VALUES "
        "(1, 'old', '2025-10-04 19:04:00', 'add', 'play', 2, NULL, ?, 1)",
        [_AFTER_1],
    )
    connection.close()
    return path


def put(store: LogStore, *entries: Game | LoggedPlay) -> None:
    for entry in entries:
        store.apply(Change("add", "week-5", (Edit(None, entry),)), at=START)


def test_what_was_written_is_read_again_by_another_opening(tmp_path: Path) -> None:
    with LogStore.open(tmp_path) as store:
        put(store, GAME, PLAY)
    with LogStore.open(tmp_path) as store:
        assert store.games() == (GAME,)
        assert store.plays("week-5") == (PLAY,)
    with open_log(tmp_path) as book, pytest.raises(UnknownNameError, match="week-5"):
        book.log("week-6")


def test_a_change_is_in_the_file_before_the_log_is_closed(tmp_path: Path) -> None:
    """The process dies without closing anything, right after the acknowledgment."""
    code = (
        "import os, sys; from pathlib import Path\n"
        "from lensyard.features.game_log.compute import add_play\n"
        "from lensyard.features.game_log.entries import PlayEntry\n"
        "from lensyard.game.logbook import open_log\n"
        "with open_log(Path(sys.argv[1])) as book:\n"
        "    add_play(book, PlayEntry(yardline_100=50, down=1))\n"
        "    os._exit(9)\n"
    )
    start(tmp_path)
    done = subprocess.run([sys.executable, "-c", code, str(tmp_path)], check=False)
    assert done.returncode == 9
    assert len(log_in(tmp_path).plays) == 1


def test_undo_goes_back_step_by_step_to_the_start(tmp_path: Path) -> None:
    changed = replace(PLAY, frames=3, keepers=None)
    ended = replace(GAME, ended_at=START)
    states = []
    with LogStore.open(tmp_path) as store:
        store.apply(Change("start", "week-5", (Edit(None, GAME),)), at=START, remember=False)
        for edit in (Edit(None, PLAY), Edit(PLAY, changed), Edit(GAME, ended)):
            states.append((store.games(), store.plays("week-5")))
            store.apply(Change("x", "week-5", (edit,)), at=START)
        while states:
            assert store.undo("week-5") is not None
            assert (store.games(), store.plays("week-5")) == states.pop()
        assert store.undo("week-5") is None


def test_a_failed_change_leaves_nothing_behind(tmp_path: Path) -> None:
    class BrokenError(Exception):
        pass

    def edits() -> tuple[Edit, ...]:
        return (Edit(None, PLAY), Edit(None, replace(PLAY, number=2)))

    with LogStore.open(tmp_path) as store:
        put(store, GAME)
        original = store._remember

        def fail(run: object, change: Change, at: object) -> None:
            original(run, change, at)  # type: ignore[arg-type]
            raise BrokenError

        store._remember = fail  # type: ignore[method-assign, assignment]
        with pytest.raises(BrokenError):
            store.apply(Change("add", "week-5", edits()), at=START)
        store._remember = original  # type: ignore[method-assign]
        assert store.plays("week-5") == ()
        store.apply(Change("add", "week-5", edits()), at=START)
        assert len(store.plays("week-5")) == 2


@pytest.mark.parametrize(
    "content",
    [b"", b"garbage" * 1000, b"\0" * 8192],
    ids=["empty", "garbage", "zeros"],
)
def test_a_damaged_file_is_refused_and_left_as_it_is(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "games.duckdb"
    path.write_bytes(content)
    with pytest.raises(StoreError, match="log restore"):
        log_in(tmp_path)
    with pytest.raises(StoreError, match="left as it is"):
        start(tmp_path)
    assert path.read_bytes() == content


def test_a_log_cut_short_is_refused_and_its_copy_brings_the_game_back(tmp_path: Path) -> None:
    start(tmp_path)
    for _ in range(3):
        add(tmp_path)
    path = tmp_path / "games.duckdb"
    path.write_bytes(path.read_bytes()[:5000])
    cut = path.read_bytes()
    with pytest.raises(StoreError, match="game-copies"):
        add(tmp_path)
    assert path.read_bytes() == cut
    path.rename(tmp_path / "aside.duckdb")
    copy = read_log((tmp_path / "game-copies" / "g.json").read_text(encoding="utf-8"))
    with book_at(tmp_path) as book:
        book.restore(copy)
        assert book.log("g") == copy
        assert len(copy.plays) == 3


def test_a_database_that_is_no_log_is_refused(tmp_path: Path) -> None:
    connection = duckdb.connect(str(tmp_path / "games.duckdb"))
    connection.execute("CREATE TABLE other (x INTEGER)")
    connection.close()
    with pytest.raises(StoreError, match="no game log"):
        log_in(tmp_path)


def test_a_log_of_a_later_version_is_refused_and_left_as_it_is(tmp_path: Path) -> None:
    with LogStore.open(tmp_path):
        pass
    connection = duckdb.connect(str(tmp_path / "games.duckdb"))
    connection.execute("UPDATE meta SET value = '99'")
    connection.close()
    before = (tmp_path / "games.duckdb").read_bytes()
    with pytest.raises(StoreError, match="version 99"):
        log_in(tmp_path)
    assert (tmp_path / "games.duckdb").read_bytes() == before


def test_a_write_ahead_log_without_its_file_is_not_thrown_away(tmp_path: Path) -> None:
    (tmp_path / "games.duckdb.wal").write_bytes(b"last plays")
    with pytest.raises(StoreError, match="last plays would be"):
        log_in(tmp_path)
    assert (tmp_path / "games.duckdb.wal").read_bytes() == b"last plays"


def test_a_folder_that_cannot_be_made_is_a_clear_error(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x")
    with pytest.raises(StoreError, match="LENSYARD_DATA_DIR"):
        LogStore.open(tmp_path / "file" / "below")


def test_the_first_version_is_migrated_after_a_backup(tmp_path: Path) -> None:
    write_version_1(tmp_path)
    with LogStore.open(tmp_path) as store:
        (game,) = store.games()
        first, second = store.plays("old")
        assert store.backup is not None
        backup = store.backup
    assert (game.game_id, game.ticks, game.time_zone) == ("old", (), "")
    assert (first.keepers, first.ticks) == (2, ("catch",))
    assert (first.air_yd, first.ends_quarter) == (None, False)
    assert (second.note, second.hash_mark, second.out_of_bounds) == ("kept", "left", True)
    connection = duckdb.connect(str(backup), read_only=True)
    assert connection.execute("SELECT value FROM meta").fetchall() == [("1",)]
    assert connection.execute("SELECT count(*) FROM plays").fetchall() == [(2,)]
    connection.close()
    with LogStore.open(tmp_path) as store:
        assert store.backup is None
        change = store.undo("old")  # written by the first version
        assert change is not None
        assert [p.number for p in store.plays("old")] == [1]


def test_a_migration_that_fails_leaves_the_old_version_and_the_backup(tmp_path: Path) -> None:
    path = write_version_1(tmp_path)

    def change(sql: str) -> list[tuple[object, ...]]:
        with duckdb.connect(str(path)) as connection:
            return connection.execute(sql).fetchall()

    change("ALTER TABLE plays ADD COLUMN air_yd INTEGER")  # in the way of the migration
    with pytest.raises(StoreError, match="still has its old version"):
        LogStore.open(tmp_path)
    assert change("SELECT value FROM meta") == [("1",)]
    change("ALTER TABLE plays DROP COLUMN air_yd")
    with LogStore.open(tmp_path) as store:
        assert len(store.plays("old")) == 2
    assert len(list(tmp_path.glob("games-backup-v1-*.duckdb"))) == 2


_HOLD = (
    "import sys; from pathlib import Path\n"
    "from lensyard.game.store import LogStore\n"
    "with LogStore.open(Path(sys.argv[1])):\n"
    "    print('held', flush=True)\n"
    "    sys.stdin.read()\n"
)


def hold(folder: Path) -> subprocess.Popen[str]:
    """Return a process that has the log open until its input is closed."""
    return python(_HOLD, str(folder), says="held\n")


def python(code: str, *arguments: str, says: str) -> subprocess.Popen[str]:
    """Return a process that runs code, once it has said that it is ready."""
    pipe = subprocess.PIPE
    child = subprocess.Popen(
        [sys.executable, "-c", code, *arguments], stdin=pipe, stdout=pipe, stderr=pipe, text=True
    )
    assert child.stdout is not None
    assert child.stdout.readline() == says
    return child


def let_go(child: subprocess.Popen[str]) -> None:
    child.communicate()
    assert child.returncode == 0


def test_two_processes_wait_for_each_other_and_give_up_clearly(tmp_path: Path) -> None:
    start(tmp_path)
    child = hold(tmp_path)
    try:
        with pytest.raises(StoreError, match="in use by another lensyard"):
            add(tmp_path, wait_s=0.1)
        done: list[int] = []
        waiting = threading.Thread(target=lambda: done.append(len(add(tmp_path).log.plays)))
        waiting.start()
    finally:
        let_go(child)
    waiting.join()
    assert done == [1]


def test_threads_of_one_process_take_turns(tmp_path: Path) -> None:
    start(tmp_path)
    failed: list[Exception] = []

    def add_some() -> None:
        try:
            for _ in range(3):
                add(tmp_path)
        except Exception as error:
            failed.append(error)

    threads = [threading.Thread(target=add_some) for _ in range(3)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert failed == []
    assert [p.number for p in log_in(tmp_path).plays] == list(range(1, 10))


def test_a_copy_that_cannot_be_written_is_a_warning_not_a_loss(tmp_path: Path) -> None:
    start(tmp_path)
    for file in (tmp_path / "game-copies").iterdir():
        file.unlink()
    (tmp_path / "game-copies").rmdir()
    (tmp_path / "game-copies").write_text("in the way")
    answer = add(tmp_path)
    assert "its copy is not" in answer.warnings[0]
    assert len(log_in(tmp_path).plays) == 1


def test_a_game_is_never_started_twice(tmp_path: Path) -> None:
    start(tmp_path)
    with pytest.raises(InvalidInputError, match="already"):
        start(tmp_path)
    with pytest.raises(InvalidInputError, match="nothing left"):
        on_log(tmp_path, undo_last)


def test_a_closed_log_says_so(tmp_path: Path) -> None:
    store = LogStore.open(tmp_path)
    store.close()
    store.close()
    with pytest.raises(StoreError, match="closed"):
        store.games()


_ADD_SOME = (
    "import sys; from pathlib import Path\n"
    "from lensyard.features.game_log.compute import add_play\n"
    "from lensyard.features.game_log.entries import PlayEntry\n"
    "from lensyard.game.logbook import open_log\n"
    "folder = Path(sys.argv[1]); print('ready', flush=True); sys.stdin.readline()\n"
    "with open_log(folder, wait_s=60) as book: book.games()\n"
    "for _ in range(int(sys.argv[2])):\n"
    "    with open_log(folder, wait_s=60) as book:\n"
    "        add_play(book, PlayEntry(yardline_100=50, down=1))\n"
)


@pytest.mark.slow
@pytest.mark.parametrize("adds", [0, 2])
def test_processes_that_start_at_once_lose_nothing(tmp_path: Path, adds: int) -> None:
    """With 0 plays there is no log yet: they race to create it."""
    if adds:
        start(tmp_path)
    children = [python(_ADD_SOME, str(tmp_path), str(adds), says="ready\n") for _ in range(3)]
    for child in children:
        assert child.stdin is not None
        child.stdin.write("go\n")
        child.stdin.flush()
    for child in children:
        _, err = child.communicate()
        assert child.returncode == 0, err
    if adds:
        plays = log_in(tmp_path).plays
        assert [p.number for p in plays] == list(range(1, 3 * adds + 1))
    assert not list(tmp_path.glob("*.building*"))
