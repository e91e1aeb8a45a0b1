"""``python -m tests.benchmarks.kill_log``: kill the log at any moment and count what is lost.

With ``--damage 5000`` its files are damaged instead: cut, bits flipped over the whole file, the
copy as well, put back from earlier states; ``--every-byte`` cuts both at every byte. A play is lost
where neither the log shows it nor a sentence says where it is. Beside it in the same run: the same
plays in a bare SQLite file and a bare DuckDB file, damaged alike.

A child process adds plays to a log and says so after each; it is killed (signal 9) some plays
later, at a moment drawn at random over two plays' time: while it opens, writes, closes or creates
the file. Then the log is opened again: every play that was acknowledged must be there, whole and in
order, and at most the one being written beyond that. Every few kills it starts with no log at all.

The child is a fork, so this needs a POSIX system.
"""

from __future__ import annotations

import argparse
import json
import os
import select
import signal
import sqlite3
import subprocess
import sys
import tempfile
import time
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import duckdb
import numpy as np
from tests.benchmarks.timing import median_s
from tests.support.logs import add, log_in, start

from lensyard.errors import LensyardError
from lensyard.game.document import read_log
from lensyard.game.entry import Result
from lensyard.game.logbook import open_log

GAME = "killed"
NEW_LOG_EVERY = 8


@dataclass
class Tally:
    """What came of it.

    - ``kills``, ``acknowledged``: how many kills, and how many plays had been acknowledged before
      them.
    - ``lost``: acknowledged plays that were not there afterwards, or not as they were written.
    - ``unasked``: plays beyond the acknowledged ones and the one being written.
    - ``unopened``: logs that did not open again.
    - ``while_creating``: kills before the game itself was acknowledged.
    - ``copies_behind``: JSON copies that lacked a play that was acknowledged.
    """

    kills: int = 0
    acknowledged: int = 0
    lost: int = 0
    unasked: int = 0
    unopened: int = 0
    while_creating: int = 0
    copies_behind: int = 0

    @property
    def clean(self) -> bool:
        """Whether nothing was lost."""
        return not (self.lost or self.unasked or self.unopened or self.copies_behind)


def entry_number(number: int) -> dict[str, Any]:
    """Return what play ``number`` holds, so that a torn one would show."""
    return {
        "yardline_100": 99 - number % 49,
        "down": 1 + number % 4,
        "distance_yd": 1 + number % 10,
        "result": Result.RUN,
        "gain_yd": number % 9,
        "frames": number % 40,
        "note": f"play {number}",
    }


def begin(folder: Path) -> None:
    """Start the game."""
    start(folder, game_id=GAME)


def child(folder: Path, first: int, pipe: int) -> None:
    """Add plays for ever, and acknowledge each on the pipe."""
    if first == 0:
        begin(folder)
        os.write(pipe, b"0\n")
        first = 1
    number = first
    while True:
        add(folder, **entry_number(number))
        os.write(pipe, f"{number}\n".encode())
        number += 1


def run_and_kill(folder: Path, *, first: int, acks: int, after_s: float) -> int | None:
    """Return the last number acknowledged before the kill; None if none was.

    The kill comes ``after_s`` after as many acknowledgments, however fast the machine is.
    """
    reading, writing = os.pipe()
    pid = os.fork()
    if pid == 0:
        os.close(reading)
        try:
            child(folder, first, writing)
        finally:
            os._exit(3)
    os.close(writing)
    said = b""
    while said.count(b"\n") < acks:
        part = os.read(reading, 65536)
        if not part:
            raise SystemExit("the child stopped by itself")
        said += part
    time.sleep(after_s)
    os.kill(pid, signal.SIGKILL)
    _, status = os.waitpid(pid, 0)
    while select.select([reading], [], [], 0)[0] and (part := os.read(reading, 65536)):
        said += part
    os.close(reading)
    if not os.WIFSIGNALED(status):
        raise SystemExit(f"the child stopped by itself with status {status}")
    return int(said.split()[-1]) if said else None


def usual_add_s() -> float:
    """Return how long adding a play takes here; also imports what every child would. [s]"""
    with tempfile.TemporaryDirectory() as warm:
        begin(Path(warm))
        add(Path(warm), **entry_number(1))
        return median_s(lambda: add(Path(warm), **entry_number(2)), runs=5, warm_up=0)


def check(folder: Path, *, promised: int, before: int, said: int | None, tally: Tally) -> int:
    """Compare the log with what was acknowledged; return how many plays it has (-1: no game).

    ``promised`` is the last number ever acknowledged (-1: not even the game), ``before`` how many
    plays the log had before this round, and ``said`` the last number acknowledged in it.
    """
    try:
        plays = log_in(folder, GAME).plays
    except Exception as error:
        if promised >= 0:
            tally.unopened += 1
            print(f"not opened: {error}", file=sys.stderr)
        else:
            tally.while_creating += 1
        return -1
    for number in range(1, promised + 1):
        if number > len(plays) or not _as_written(plays[number - 1], number):
            tally.lost += 1
    tally.unasked += max(0, len(plays) - (max(before, 0) if said is None else said) - 1)
    _check_copy(folder, promised, tally)
    return len(plays)


def _as_written(play: object, number: int) -> bool:
    wanted = {"number": number, **entry_number(number)}
    return {name: getattr(play, name) for name in wanted} == wanted


def _check_copy(folder: Path, promised: int, tally: Tally) -> None:
    copy = folder / "game-copies" / f"{GAME}.json"
    try:
        found = len(read_log(copy.read_text(encoding="utf-8")).plays)
    except Exception as error:
        if promised >= 0:
            print(f"copy: {error}", file=sys.stderr)
        found = -1
    tally.copies_behind += found < promised


@dataclass
class Damage:
    """What damaging files brought: how often plays were whole, lost with and without a word."""

    tried: int = 0
    whole: int = 0
    said: int = 0
    lost: int = 0
    tracebacks: int = 0


def damaged(data: bytes, rng: np.random.Generator, number: int) -> bytes:
    """Return some damage of a file: a cut, a flipped bit, a page of zeros, a run of noise."""
    at, kind = int(rng.integers(len(data))), number % 4
    hurt = bytearray(data)
    if kind == 0:
        return bytes(hurt[:at])
    if kind == 1:
        hurt[at] ^= 1 << int(rng.integers(8))
    elif kind == 2:
        hurt[at : at + 512] = bytes(len(hurt[at : at + 512]))
    else:
        hurt[at : at + 64] = rng.bytes(len(hurt[at : at + 64]))
    return bytes(hurt)


def damage_log(files: int, seed: int, *, plays: int = 24) -> Damage:
    """Damage file or copy, or put an earlier state in its place, and look for the plays."""
    rng, tally = np.random.default_rng(seed), Damage()
    with tempfile.TemporaryDirectory() as top:
        folder = Path(top)
        paths = [folder / place / f"{GAME}.json" for place in ("games", "game-copies")]
        begin(folder)
        earlier = []
        for number in range(1, plays + 1):
            earlier.append([path.read_bytes() for path in paths])
            add(folder, **entry_number(number))
        whole = [path.read_bytes() for path in paths]
        for number in range(files):
            which = number % 2
            old = earlier[int(rng.integers(len(earlier)))][which]
            hurt = old if number % 5 == 0 else damaged(whole[which], rng, number // 2)
            paths[which].write_bytes(hurt)
            _look(folder, plays, tally)
            paths[which].write_bytes(whole[which])
    return tally


def cut_everywhere(*, plays: int = 24) -> Damage:
    """Cut file and copy at every byte, one at a time, and look for the plays."""
    tally = Damage()
    with tempfile.TemporaryDirectory() as top:
        folder = Path(top)
        begin(folder)
        for number in range(1, plays + 1):
            add(folder, **entry_number(number))
        for path in (folder / place / f"{GAME}.json" for place in ("games", "game-copies")):
            whole = path.read_bytes()
            for at in range(len(whole)):
                path.write_bytes(whole[:at])
                _look(folder, plays, tally)
            path.write_bytes(whole)
    return tally


def _look(folder: Path, plays: int, tally: Damage) -> None:
    tally.tried += 1
    try:
        with open_log(folder, writing=False) as book:
            found = book.log(GAME).plays
            all_there = len(found) == plays and all(
                _as_written(play, number) for number, play in enumerate(found, start=1)
            )
            tally.whole += all_there
            tally.said += bool(book.warnings)
            tally.lost += not all_there
    except LensyardError:
        tally.said += 1
    except Exception:
        tally.tracebacks += 1


def damage_bare(files: int, seed: int, kind: str, *, plays: int = 24) -> Damage:
    """Damage a database that holds the same plays as JSON in rows, or its write-ahead log."""
    rng, tally = np.random.default_rng(seed), Damage()
    rows = [(number, json.dumps(entry_number(number))) for number in range(1, plays + 1)]
    with tempfile.TemporaryDirectory() as top:
        path = Path(top) / "plays"
        _ask(path, kind, "CREATE TABLE plays (number INTEGER, entry TEXT)", rows)
        files_of_it = {found: found.read_bytes() for found in Path(top).iterdir()}
        hit = path.with_name("plays.wal") if kind == "duckdb wal" else path
        for number in range(files):
            for place, content in files_of_it.items():
                place.write_bytes(damaged(content, rng, number // 2) if place == hit else content)
            tally.tried += 1
            try:
                found = _ask(path, kind, "SELECT number, entry FROM plays ORDER BY number")
                tally.whole += found == rows
                tally.lost += found != rows
            except Exception:
                tally.said += 1
            for left in Path(top).glob("plays?*"):
                left.unlink()
    return tally


def _ask(path: Path, kind: str, sql: str, rows: list[tuple[int, str]] | None = None) -> list[Any]:
    connection: Any = sqlite3.connect(path) if kind == "sqlite" else duckdb.connect(str(path))
    try:
        found: list[Any] = connection.execute(sql).fetchall()
        if rows is not None:
            if kind == "duckdb wal":  # as a log is that had no checkpoint since its plays
                connection.execute("CHECKPOINT")
                connection.execute("PRAGMA disable_checkpoint_on_shutdown")
            connection.executemany("INSERT INTO plays VALUES (?, ?)", rows)
            connection.commit()
        return found
    finally:
        connection.close()


@dataclass
class Interrupts:
    """What Ctrl-C brought: how often a command ended with 130, was through, or ended otherwise.

    ``too_early``: the interpreter had not read the program yet. ``wrong``: what it said of the play
    is not so, or it ended in anything but one line.
    """

    tried: int = 0
    interrupted: int = 0
    through: int = 0
    too_early: int = 0
    wrong: int = 0


def interrupt_commands(count: int, seed: int) -> Interrupts:
    """Press Ctrl-C at any moment of ``lensyard log add``."""
    rng, tally = np.random.default_rng(seed), Interrupts()
    with tempfile.TemporaryDirectory() as top:
        folder = Path(top)
        begin(folder)
        environment = {**os.environ, "LENSYARD_DATA_DIR": top}
        command = [sys.executable, "-m", "lensyard", "log", "add", "--down", "1", "--ball", "50"]
        began = time.monotonic()
        subprocess.run(command, check=True, env=environment, stdout=subprocess.DEVNULL)
        longest_s, plays = time.monotonic() - began, 1
        for _ in range(count):
            child = subprocess.Popen(
                command, env=environment, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
            )
            time.sleep(float(rng.uniform(0.03, longest_s)))
            child.send_signal(signal.SIGINT)
            _, err = child.communicate()
            with open_log(folder, writing=False) as book:
                now = len(book.log(GAME).plays)
            _judge(child.returncode, err, now - plays, tally)
            plays = now
    return tally


def _judge(code: int, err: str, added: int, tally: Interrupts) -> None:
    tally.tried += 1
    if code == 0:
        tally.through += 1
        is_right = added == 1
    elif code == 130 and err.startswith("lensyard: interrupted"):
        tally.interrupted += 1
        is_right = ("is logged" in err) == (added == 1) and err.count("\n") == 1
    else:  # the interpreter says so itself where it had not come to the program
        tally.too_early += 1
        is_right = added == 0 and "features" not in err
    if not is_right:
        tally.wrong += 1
        print(f"code {code}, {added} plays: {err}", file=sys.stderr)


def main(arguments: list[str] | None = None) -> None:
    """Run the kills and print the tally; exit 1 if anything was lost."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--kills", type=int, default=300)
    parser.add_argument("--acks", type=int, default=4, help="at most so many plays before a kill")
    parser.add_argument("--seed", type=int, default=11)
    parser.add_argument("--json", action="store_true")
    parser.add_argument("--damage", type=int, default=0, help="damage so many files instead")
    parser.add_argument("--every-byte", action="store_true", help="cut at every byte instead")
    parser.add_argument("--interrupts", type=int, default=0, help="press Ctrl-C so often instead")
    options = parser.parse_args(arguments)
    if options.interrupts:
        pressed = interrupt_commands(options.interrupts, options.seed)
        print(json.dumps(asdict(pressed)))
        sys.exit(1 if pressed.wrong else 0)
    if options.every_byte:
        cuts = cut_everywhere()
        print(json.dumps(asdict(cuts)))
        sys.exit(1 if cuts.lost or cuts.tracebacks else 0)
    if options.damage:
        found = {"log": damage_log(options.damage, options.seed)} | {
            kind: damage_bare(options.damage, options.seed, kind)
            for kind in ("sqlite", "duckdb", "duckdb wal")
        }
        if options.json:
            print(json.dumps({name: asdict(tally) for name, tally in found.items()}))
        else:
            print(f"{'':<11}" + "".join(f"{name:>12}" for name in asdict(found["log"])))
            for name, tally in found.items():
                print(f"{name:<11}" + "".join(f"{value:>12}" for value in asdict(tally).values()))
        sys.exit(1 if found["log"].lost or found["log"].tracebacks else 0)
    longest_s = 2.0 * usual_add_s()
    rng = np.random.default_rng(options.seed)
    tally = Tally()
    with tempfile.TemporaryDirectory() as top:
        plays, promised, folder = -1, -1, Path(top)
        for kill in range(options.kills):
            if kill % NEW_LOG_EVERY == 0:
                folder, plays, promised = Path(top) / f"log{kill}", -1, -1
                folder.mkdir()
            acks, after_s = int(rng.integers(options.acks + 1)), float(rng.uniform(0.0, longest_s))
            before = plays
            said = run_and_kill(folder, first=before + 1, acks=acks, after_s=after_s)
            tally.kills += 1
            if said is not None:
                tally.acknowledged += said - max(before, 0)
                promised = said
            plays = check(folder, promised=promised, before=before, said=said, tally=tally)
    if options.json:
        print(json.dumps(asdict(tally)))
    else:
        print("\n".join(f"{name:<16}{value:>7}" for name, value in asdict(tally).items()))
    sys.exit(0 if tally.clean else 1)


if __name__ == "__main__":
    main()
