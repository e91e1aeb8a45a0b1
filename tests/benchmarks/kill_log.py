"""``python -m tests.benchmarks.kill_log``: kill the log at any moment and count what is lost.

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
import sys
import tempfile
import time
from dataclasses import asdict, dataclass
from pathlib import Path

import numpy as np
from tests.benchmarks.timing import median_s

from lensyard.features.game_log.compute import add_play, start_game
from lensyard.features.game_log.entries import NewGameOptions, PlayEntry
from lensyard.game.document import read_log, read_text
from lensyard.game.entry import Result
from lensyard.game.logbook import open_log

GAME = "killed"
NEW_LOG_EVERY = 8


@dataclass
class Tally:
    """What came of it.

    Attributes
    ----------
    kills, acknowledged
        How many kills, and how many plays had been acknowledged before them.
    lost
        Acknowledged plays that were not there afterwards, or not as they were written.
    unasked
        Plays beyond the acknowledged ones and the one being written.
    unopened
        Logs that did not open again.
    while_creating
        Kills before the game itself was acknowledged.
    copies_behind
        JSON copies that lacked a play that was acknowledged.
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


def entry_number(number: int) -> PlayEntry:
    """Return what play ``number`` holds, so that a torn one would show."""
    return PlayEntry(
        yardline_100=99 - number % 49,
        down=1 + number % 4,
        distance_yd=1 + number % 10,
        result=Result.RUN,
        gain_yd=number % 9,
        frames=number % 40,
        note=f"play {number}",
    )


def begin(folder: Path) -> None:
    """Start the game."""
    with open_log(folder) as book:
        start_game(book, NewGameOptions("Home", "Away", game_id=GAME))


def add(folder: Path, number: int) -> None:
    """Add play ``number``, as a command does."""
    with open_log(folder) as book:
        add_play(book, entry_number(number))


def child(folder: Path, first: int, pipe: int) -> None:
    """Add plays for ever, and acknowledge each on the pipe."""
    if first == 0:
        begin(folder)
        os.write(pipe, b"0\n")
        first = 1
    number = first
    while True:
        add(folder, number)
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
        add(Path(warm), 1)
        return median_s(lambda: add(Path(warm), 2), runs=5, warm_up=0)


def check(folder: Path, *, promised: int, before: int, said: int | None, tally: Tally) -> int:
    """Compare the log with what was acknowledged; return how many plays it has (-1: no game).

    ``promised`` is the last number ever acknowledged (-1: not even the game), ``before`` how many
    plays the log had before this round, and ``said`` the last number acknowledged in it.
    """
    try:
        with open_log(folder) as book:
            plays = book.log(GAME).plays
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
    entry = entry_number(number)
    seen = tuple(getattr(play, n) for n in ("number", "down", "distance_yd", "gain_yd", "frames"))
    wanted = (number, entry.down, entry.distance_yd, entry.gain_yd, entry.frames)
    return seen == wanted and getattr(play, "note", "") == entry.note


def _check_copy(folder: Path, promised: int, tally: Tally) -> None:
    copy = folder / "game-copies" / f"{GAME}.json"
    try:
        found = len(read_log(read_text(copy)).plays)
    except Exception as error:
        if promised >= 0:
            print(f"copy: {error}", file=sys.stderr)
        found = -1
    tally.copies_behind += found < promised


def main(arguments: list[str] | None = None) -> None:
    """Run the kills and print the tally; exit 1 if anything was lost."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--kills", type=int, default=300)
    parser.add_argument("--acks", type=int, default=4, help="at most so many plays before a kill")
    parser.add_argument("--seed", type=int, default=11)
    parser.add_argument("--json", action="store_true")
    options = parser.parse_args(arguments)
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
