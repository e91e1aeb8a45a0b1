"""``python -m tests.benchmarks.kill_import``: kill imports at any moment and see what is left.

A child process imports a file: the first weeks of a season, more weeks, or another copy of games
that are there, in turn. It is killed (signal 9) at a moment drawn at random, every other time right
after one of its steps, where the moments that matter lie close together. Then every file that
the catalog names must be there with its hash, the seasons must be the old ones or the new ones,
and the next import must work.

The child is a fork, so this needs a POSIX system.
"""

from __future__ import annotations

import argparse
import json
import os
import random
import signal
import tempfile
import time
from collections.abc import Callable
from contextlib import AbstractContextManager, nullcontext
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any, Final
from unittest import mock

from tests.benchmarks.fuzz_targets import require_whole

from lensyard.errors import LensyardError
from lensyard.files import file_sha256
from lensyard.plays.importing import import_file as importing
from lensyard.plays.importing.catalog import read_catalog
from lensyard.plays.importing.import_file import import_file
from lensyard.plays.importing.stage import Request


@dataclass
class Tally:
    """What came of it.

    `kills` were killed before they ended and left the `old` or the `new` state, or were `broken`
    (neither, or a file had another hash); `finished` were faster than the kill; `blocked` could not
    begin because a killed one had left something.
    """

    kills: int = 0
    finished: int = 0
    old: int = 0
    new: int = 0
    broken: int = 0
    blocked: int = 0


def in_child(work: Callable[[], object]) -> int:
    """Do something in a fork of this process, which must not start threads; return its status."""
    child = os.fork()
    if child == 0:
        work()
        os._exit(0)
    return os.waitpid(child, 0)[1]


def _write_files(folder: Path) -> None:
    """Write the files that are imported in turn."""
    from tests.support.play_file_shapes import nflverse_sql
    from tests.support.play_files import invented, write_query

    for name, weeks in (("a", "1"), ("b", "1, 2"), ("c", "2, 3")):
        query = nflverse_sql(invented(f"season = 2018 AND week IN ({weeks})"))
        write_query(query, folder / f"{name}.parquet")


def seasons(catalog) -> tuple[tuple[str, int, tuple[str, ...]], ...]:
    """Return what a catalog says, without times."""
    return tuple(
        (e.name, e.plays, tuple(p.sha256 for p in (*e.parts, *e.rejects))) for e in catalog.entries
    )


def sound(folder: Path) -> bool:
    """Return whether every file that the catalog names has the hash it should have."""
    parts = [p for e in read_catalog(folder).entries for p in (*e.parts, *e.rejects)]
    return all(file_sha256(folder / p.name) == p.sha256 for p in parts)


STEPS: Final = ("read", "staged", "written", "moved", "committed")


def interrupted(
    step: str | None, act: Callable[[], object], folder: Path
) -> AbstractContextManager[Any]:
    """Call `act` as soon as an import into a folder has finished a step; None: never."""
    commit, move = importing.write_catalog, os.replace

    def moving(source: Path, target: Path) -> None:
        if Path(target).parent == folder:
            act()
        move(source, target)

    def committing(*arguments: Any, **named: Any) -> None:
        if step == "committed":
            commit(*arguments, **named)
        act()

    if step is None:
        return nullcontext()
    place, name, call = {
        "read": (importing, "stage", lambda *_, **__: act()),
        "staged": (importing, "require_few_rejects", lambda *_, **__: act()),
        "written": (os, "replace", moving),
    }.get(step, (importing, "write_catalog", committing))
    return mock.patch.object(place, name, call)


def import_killed(
    request: Request, folder: Path, *, after_s: float, step: str | None = None
) -> bool:
    """Import in a child that is killed after a time, or a moment after one of its steps.

    Returns whether it was still at work.
    """

    def die() -> None:
        time.sleep(after_s)
        os.kill(os.getpid(), signal.SIGKILL)

    child = os.fork()
    if child == 0:
        try:
            with interrupted(step, die, folder):
                import_file(request, folder=folder, wait_s=0.0)
        except LensyardError:
            os._exit(3)
        os._exit(0)
    if step is None:
        time.sleep(after_s)
        os.kill(child, signal.SIGKILL)
    _, status = os.waitpid(child, 0)
    if os.WIFEXITED(status) and os.WEXITSTATUS(status) == 3:
        raise LensyardError("the import could not begin")
    return os.WIFSIGNALED(status)


def run(kills: int, *, seed: int, longest_s: float, work: Path) -> Tally:
    """Kill so many imports and return what came of them."""
    rng = random.Random(seed)
    files_folder, folder = work / "files", work / "plays"
    files_folder.mkdir()
    folder.mkdir()
    if in_child(lambda: _write_files(files_folder)) != 0:
        raise RuntimeError("the files could not be written")
    files = sorted(files_folder.glob("*.parquet"))
    tally = Tally()
    turn = 0
    while tally.kills < kills:
        turn += 1
        before = read_catalog(folder)
        request = Request(files[turn % len(files)], replace=turn % 2 == 0)
        try:
            step = rng.choice(STEPS) if turn % 2 else None
            after_s = 0.0 if step else rng.uniform(0.0, longest_s)
            killed = import_killed(request, folder, after_s=after_s, step=step)
        except LensyardError:
            tally.blocked += 1
            continue
        tally.kills += killed
        tally.finished += not killed
        _judge(folder, before, killed, tally)
        if turn % 25 == 0:  # begin with nothing now and then
            for path in folder.iterdir():
                if path.is_file():
                    path.unlink()
    return tally


def _judge(folder: Path, before, killed: bool, tally: Tally) -> None:
    """Count the state that a kill left."""
    try:
        fine = sound(folder)
        after = read_catalog(folder)
    except (LensyardError, OSError):
        tally.broken += 1
        return
    if not fine:
        tally.broken += 1
    elif killed:
        same = seasons(after) == seasons(before)
        tally.old += same
        tally.new += not same


def main() -> None:
    """Parse the command line and run."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kills", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--longest", type=float, default=1.0, help="latest moment of a kill, in s")
    chosen = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        work = Path(name)
        begun = time.monotonic()
        tally = run(chosen.kills, seed=chosen.seed, longest_s=chosen.longest, work=work)
        folder = work / "plays"
        last = Request(work / "files" / "b.parquet", replace=True)
        status = in_child(lambda: import_file(last, folder=folder))
        require_whole(folder)
    print(
        json.dumps(
            asdict(tally)
            | {"works_afterwards": status == 0, "seconds": round(time.monotonic() - begun, 1)}
        )
    )


if __name__ == "__main__":
    main()
