"""``python -m tests.benchmarks.fuzz --minutes N``: hostile inputs, until the time is up.

A child process works through seeds and says each before it begins; the parent watches for anything
but a `LensyardError`, for silence, and for a child that dies. Every fault is printed with its seed:
``--target files --seed 17`` runs that one again.
"""

from __future__ import annotations

import argparse
import json
import select
import subprocess
import sys
import tempfile
import time
import traceback
from collections import Counter
from pathlib import Path
from typing import IO

from tests.benchmarks.fuzz_targets import TARGETS, run_one

HANG_S = 60.0
IMPORTS = ("files", "tables", "charts", "catalogs")


def main() -> None:
    """Parse the command line and run."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--minutes", type=float, default=1.0)
    parser.add_argument("--target", choices=sorted(TARGETS))
    parser.add_argument("--seed", type=int)
    parser.add_argument("--first", type=int, default=0, help="first seed")
    parser.add_argument("--work", help=argparse.SUPPRESS)
    chosen = parser.parse_args()
    if chosen.work:
        _work(chosen.work.split(","), chosen.first)
    elif chosen.seed is not None and chosen.target:
        with tempfile.TemporaryDirectory() as folder:
            run_one(chosen.target, chosen.seed, Path(folder) / "plays")
    else:
        _watch(chosen.minutes, chosen.first, [chosen.target] if chosen.target else list(TARGETS))


def _work(targets: list[str], first: int) -> None:
    """Run seed after seed, each target in turn, saying what begins and what was wrong."""
    seed = first
    with tempfile.TemporaryDirectory() as folder:
        while True:
            for target in targets:
                print(f"begin {target} {seed}", flush=True)
                place = Path(folder) / target / "plays"
                try:
                    run_one(target, seed, place)
                except Exception as error:
                    where = traceback.extract_tb(error.__traceback__)[-1]
                    words = f"{type(error).__name__}: {str(error)[:200]} ({where.name})"
                    print(f"fault {json.dumps([target, seed, words])}", flush=True)
            seed += 1


def _watch(minutes: float, first: int, targets: list[str]) -> None:
    """Start workers until the time is up; print a summary as JSON."""
    until = time.monotonic() + 60 * minutes
    tried: Counter[str] = Counter()
    faults: list[list[object]] = []
    seed = first
    while time.monotonic() < until:
        command = [sys.executable, "-m", "tests.benchmarks.fuzz", "--work", ",".join(targets)]
        with subprocess.Popen(
            [*command, "--first", str(seed)],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        ) as child:
            at = _follow(child, until, tried, faults)
            child.kill()
        seed = at + 1
    print(json.dumps({"tried": dict(tried), "inputs": sum(tried.values()), "faults": faults}))


def _follow(
    child: subprocess.Popen[str], until: float, tried: Counter[str], faults: list[list[object]]
) -> int:
    """Follow one worker to its end; return the last seed."""
    target, seed = "", 0
    output: IO[str] | None = child.stdout
    while output is not None and time.monotonic() < until:
        if not select.select([output], [], [], HANG_S)[0]:
            faults.append([target, seed, f"no answer within {HANG_S:g} s"])
            break
        line = output.readline()
        if not line:
            child.wait()
            faults.append([target, seed, f"the process ended with {child.returncode}"])
            break
        word, _, rest = line.rstrip().partition(" ")
        if word == "begin":
            target, number = rest.rsplit(" ", 1)
            seed = int(number)
            tried[target] += 1
        elif word == "fault":
            faults.append(json.loads(rest))
            print(line.rstrip(), flush=True)
    return seed


if __name__ == "__main__":
    main()
