"""The log's files: durable, never forgetting silently, shared by waiting, taken over once."""

import errno
import json
import os
import subprocess
import sys
import threading
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest
from tests.support.logs import GAME, LOG, PLAY, START, add, log_in, on_log, run, start, undo

from lensyard.errors import InvalidInputError, StoreError, UnknownNameError
from lensyard.game.document import log_text, read_log
from lensyard.game.logbook import open_log

OLD_NAME = "games.duckdb"

FILE, COPY = Path("games/g.json"), Path("game-copies/g.json")


# The first version's tables, as it wrote them.
def three_plays(folder):
    start(folder)
    for _ in range(3):
        add(folder)


def start_again(folder):
    start(folder, beside=True)


def warnings_in(folder):
    with open_log(folder, writing=False) as book:
        book.log()
        return " ".join(book.warnings)


def test_what_was_written_is_read_again_by_another_opening(tmp_path, monkeypatch, capsys):
    (tmp_path / "export.json").write_text(log_text(LOG, exported_at=START), encoding="utf-8")
    monkeypatch.setenv("LENSYARD_DATA_DIR", str(tmp_path))
    assert run(capsys, "log", "restore", str(tmp_path / "export.json"))[0] == 0
    assert log_in(tmp_path, "week-5") == LOG
    with open_log(tmp_path) as book, pytest.raises(UnknownNameError, match="week-5"):
        book.log("week-6")


def test_a_change_is_in_the_file_before_the_log_is_closed(tmp_path):
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


def test_undo_goes_back_step_by_step_to_the_start(tmp_path):
    start(tmp_path)
    states = []
    for change in (
        lambda book: book.add("g", lambda log: replace(PLAY, number=1)),
        lambda book: book.edit("g", 1, {"frames": 3, "keepers": None}),
        lambda book: book.end("g"),
    ):
        states.append(log_in(tmp_path))
        on_log(tmp_path, change)
    while states:  # what can be taken back is in the file
        undo(tmp_path)
        assert log_in(tmp_path) == states.pop()
    with pytest.raises(InvalidInputError, match="nothing left"):
        undo(tmp_path)


@pytest.mark.parametrize("damage", [b"", b"garbage" * 1000, b"\0" * 8192, None])
def test_a_damaged_file_is_said_and_the_copy_takes_its_place(tmp_path, damage):
    three_plays(tmp_path)
    path = tmp_path / FILE
    damaged = path.read_bytes()[:-30] if damage is None else damage
    path.write_bytes(damaged)
    assert len(log_in(tmp_path).plays) == 3
    assert "log restore" in warnings_in(tmp_path)
    with pytest.raises(InvalidInputError, match="already"):
        start_again(tmp_path)  # whoever starts anew does not replace the last good copy
    assert len(add(tmp_path).plays) == 4
    assert (tmp_path / "games" / "g.kept-1.json").read_bytes() == damaged
    assert warnings_in(tmp_path) == ""


def test_a_lost_file_is_said_and_the_copy_takes_its_place(tmp_path):
    three_plays(tmp_path)
    (tmp_path / FILE).unlink()
    assert "is missing" in warnings_in(tmp_path)
    assert len(log_in(tmp_path).plays) == 3


def test_an_older_file_never_replaces_a_copy_that_holds_more(tmp_path):
    start(tmp_path)
    add(tmp_path)
    older = (tmp_path / FILE).read_bytes()
    add(tmp_path)
    add(tmp_path)
    (tmp_path / FILE).write_bytes(older)
    assert "holds more than its file: +2 plays" in warnings_in(tmp_path)
    answer = add(tmp_path)
    assert "holds more" in answer.warnings[0]
    assert [play.number for play in answer.plays] == [1, 2, 3, 4]
    assert warnings_in(tmp_path) == ""


def test_restoring_without_a_file_sets_right_what_the_copy_knows(tmp_path):
    start(tmp_path)
    older = (tmp_path / FILE).read_bytes()
    add(tmp_path)
    (tmp_path / FILE).write_bytes(older)
    with open_log(tmp_path) as book:
        assert book.heal() == ("g",)
        assert book.heal() == ()
    (tmp_path / COPY).unlink()
    assert len(log_in(tmp_path).plays) == 1


def test_a_copy_of_another_game_is_kept(tmp_path):
    three_plays(tmp_path)
    other = (tmp_path / COPY).read_bytes()
    for folder in ("games", "game-copies"):
        for path in (tmp_path / folder).glob("*.json"):
            path.unlink()
    start(tmp_path)
    (tmp_path / COPY).write_bytes(other)
    assert "another state" in warnings_in(tmp_path)
    answer = add(tmp_path)
    assert len(answer.plays) == 1
    assert (tmp_path / "game-copies" / "g.kept-1.json").read_bytes() == other
    assert "g.kept-1.json" in warnings_in(tmp_path)


def test_a_game_that_is_damaged_twice_stops_only_itself(tmp_path, monkeypatch, capsys):
    three_plays(tmp_path)
    start(tmp_path, game_id="h", beside=True)
    for path in (tmp_path / FILE, tmp_path / COPY, tmp_path / "game-copies" / "g.before.json"):
        path.write_bytes(path.read_bytes()[:-40])
    with pytest.raises(StoreError, match="left as they are"):
        log_in(tmp_path, "g")
    with pytest.raises(StoreError, match="--game"):
        add(tmp_path)  # it might be the game going on
    assert log_in(tmp_path, "h").game.game_id == "h"
    with open_log(tmp_path) as book:
        assert "h" in [game.game_id for game in book.games()]
    monkeypatch.setenv("LENSYARD_DATA_DIR", str(tmp_path))
    assert "g cannot be read" in " ".join(run(capsys, "log", "games")[1].split())
    with pytest.raises(InvalidInputError, match="already"):
        start_again(tmp_path)


def test_every_flipped_bit_is_noticed(tmp_path):
    """The long form, over file and copy: ``python -m tests.benchmarks.kill_log --damage 5000``."""
    start(tmp_path)
    add(tmp_path)
    path, before = tmp_path / FILE, log_in(tmp_path)
    whole = path.read_bytes()
    for position in range(0, len(whole), 29):
        hurt = bytearray(whole)
        hurt[position] ^= 1 << position % 8
        path.write_bytes(hurt)
        with open_log(tmp_path, writing=False) as book:
            assert book.log("g") == before
            assert "cannot be used" in book.warnings[0], position


def test_the_current_game_is_the_last_started_whatever_the_clock_says(tmp_path):
    start(tmp_path, game_id="saturday")
    with open_log(tmp_path) as book:
        book.start(replace(GAME, game_id="sunday", started_at=START - timedelta(days=9000)))
    assert log_in(tmp_path).game.game_id == "sunday"


@pytest.mark.skipif(not hasattr(os, "geteuid"), reason="permissions of a POSIX system")
def test_a_folder_that_cannot_be_written_can_be_listed_and_exported(tmp_path, monkeypatch):
    three_plays(tmp_path)
    for folder in (tmp_path / "games", tmp_path):
        folder.chmod(0o555)
    opened = os.open

    def refuse(path, flags, *more):
        if flags & os.O_CREAT:  # whoever runs this may be root, who is never refused
            raise PermissionError(errno.EACCES, "Permission denied", str(path))
        return opened(path, flags, *more)  # type: ignore[arg-type]

    monkeypatch.setattr(os, "open", refuse)
    with open_log(tmp_path, writing=False) as book:
        assert len(book.log().plays) == 3
    with pytest.raises(StoreError, match="listed and exported"):
        add(tmp_path)
    for folder in (tmp_path, tmp_path / "games"):
        folder.chmod(0o755)


def test_a_full_disk_says_so_and_changes_nothing(tmp_path, monkeypatch):
    start(tmp_path)

    def full(_):
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    with monkeypatch.context() as patch:
        patch.setattr(os, "fsync", full)
        with pytest.raises(StoreError, match=r"No space left on device.*Nothing was changed"):
            add(tmp_path)
    assert log_in(tmp_path).plays == ()
    assert not list(tmp_path.rglob("*.building"))


def test_a_file_of_a_later_version_is_refused_and_left_as_it_is(tmp_path):
    text = log_text(LOG, exported_at=START)
    (tmp_path / "games").mkdir()
    path = tmp_path / "games" / "week-5.json"
    path.write_text(text.replace(f'"version": {json.loads(text)["version"]}', '"version": 99'))
    before = path.read_bytes()
    with pytest.raises(StoreError, match="version 99"):
        log_in(tmp_path)
    assert path.read_bytes() == before


def test_a_folder_that_cannot_be_made_is_a_clear_error(tmp_path):
    (tmp_path / "file").write_text("x")
    with pytest.raises(StoreError, match="LENSYARD_DATA_DIR"):
        start(tmp_path / "file" / "below")


# --- the log of earlier versions ------------------------------------------------------------------


@pytest.mark.parametrize("content", [b"", b"garbage" * 1000])
def test_an_earlier_versions_log_is_named_and_its_copies_are_the_games(tmp_path, content):
    (tmp_path / "game-copies").mkdir()
    (tmp_path / "game-copies" / "week-5.json").write_text(log_text(LOG, exported_at=START))
    path = tmp_path / OLD_NAME
    path.write_bytes(content)
    with open_log(tmp_path) as book:
        assert f"{path} is the log of an earlier version" in " ".join(book.warnings)
        assert book.log("week-5") == LOG
    assert path.read_bytes() == content


def test_a_copy_is_an_export_that_can_be_restored(tmp_path):
    three_plays(tmp_path)
    text = (tmp_path / COPY).read_text(encoding="utf-8")
    assert read_log(text) == log_in(tmp_path)
    with pytest.raises(InvalidInputError, match="checksum"):
        read_log(text.replace('"down":1', '"down":2', 1))


_HOLD = (
    "import sys; from pathlib import Path\n"
    "from lensyard.game.store import LogStore\n"
    "with LogStore.open(Path(sys.argv[1])):\n"
    "    print('held', flush=True)\n"
    "    sys.stdin.read()\n"
)


def hold(folder):
    """Return a process that has the log open until its input is closed."""
    return python(_HOLD, str(folder), says="held\n")


def python(code, *arguments, says):
    """Return a process that runs code, once it has said that it is ready."""
    pipe = subprocess.PIPE
    child = subprocess.Popen(
        [sys.executable, "-c", code, *arguments], stdin=pipe, stdout=pipe, stderr=pipe, text=True
    )
    assert child.stdout is not None
    assert child.stdout.readline() == says
    return child


def let_go(child):
    child.communicate()
    assert child.returncode == 0


def test_two_processes_wait_for_each_other_and_give_up_clearly(tmp_path):
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


def test_threads_of_one_process_take_turns(tmp_path):
    start(tmp_path)
    failed: list[Exception] = []

    def add_some():
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


def test_a_copy_that_cannot_be_written_is_a_warning_not_a_loss(tmp_path):
    start(tmp_path)
    for file in (tmp_path / "game-copies").iterdir():
        file.unlink()
    (tmp_path / "game-copies").rmdir()
    (tmp_path / "game-copies").write_text("in the way")
    answer = add(tmp_path)
    assert "its copy is not" in " ".join(answer.warnings)
    assert len(log_in(tmp_path).plays) == 1


def test_a_game_is_never_started_twice(tmp_path):
    start(tmp_path)
    with pytest.raises(InvalidInputError, match="already"):
        start_again(tmp_path)
    with pytest.raises(InvalidInputError, match="nothing left"):
        undo(tmp_path)


def test_a_closed_log_says_so(tmp_path):
    with open_log(tmp_path) as book:
        pass
    with pytest.raises(StoreError, match="closed"):
        book.games()


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
def test_processes_that_start_at_once_lose_nothing(tmp_path, adds):
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
    assert not list(tmp_path.rglob("*.building*"))
