"""``python -m tests.benchmarks.fuzz --inputs 10000``: hostile inputs, so many of them.

Works through seeds, each target in turn, and prints everything but a `LensyardError` with its seed:
``--target files --seed 17`` runs that one again. A hang ends the process with a traceback; a crash
of the interpreter is dated by the last line that was printed.
"""

from __future__ import annotations

import argparse
import faulthandler
import itertools
import json
import logging
import math
import tempfile
import time
import traceback
from collections import Counter
from pathlib import Path

from tests.benchmarks.fuzz_targets import TARGETS, run_one

HANG_S = 300.0
HEAVY = ("files", "tables", "charts", "stores")
EVERY = 4
"""Inputs that a database has to read take a hundred times as long: one to so many others."""


def main() -> None:
    """Parse the command line and run; the last line is a summary as JSON."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--inputs", type=int, default=10_000)
    parser.add_argument("--minutes", type=float, default=math.inf)
    parser.add_argument("--target", choices=sorted(TARGETS))
    parser.add_argument("--seed", type=int, help="this one only")
    parser.add_argument("--first", type=int, default=0, help="first seed")
    chosen = parser.parse_args()
    targets = [chosen.target] if chosen.target else list(TARGETS)
    seeds = itertools.count(chosen.first) if chosen.seed is None else [chosen.seed]
    logging.getLogger("exifread").setLevel(logging.CRITICAL + 1)
    until = time.monotonic() + 60 * chosen.minutes
    tried: Counter[str] = Counter()
    errors = []
    with tempfile.TemporaryDirectory() as folder:
        for seed, target in ((seed, target) for seed in seeds for target in targets):
            if len(targets) > 1 and target in HEAVY and seed % EVERY:
                continue
            if time.monotonic() > until or tried.total() >= chosen.inputs:
                break
            print(f"begin {target} {seed}", flush=True)
            tried[target] += 1
            faulthandler.dump_traceback_later(HANG_S, exit=True)
            try:
                run_one(target, seed, Path(folder) / target / "plays")
            except Exception as error:
                where = traceback.extract_tb(error.__traceback__)[-1]
                words = f"{type(error).__name__}: {str(error)[:200]} ({where.name})"
                errors.append([target, seed, words])
                print(f"error {json.dumps(errors[-1])}", flush=True)
    faulthandler.cancel_dump_traceback_later()
    print(json.dumps({"tried": dict(tried), "inputs": tried.total(), "errors": errors}))


if __name__ == "__main__":
    main()
