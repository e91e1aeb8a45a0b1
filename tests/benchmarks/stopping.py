"""``python -m tests.benchmarks.stopping``: from Ctrl-C until nothing of a command runs any more.

The signal reaches the first process alone, at random moments of its work with empty caches; a bare
Python that sleeps, stopped the same way, stands beside. Linux: processes are looked up in /proc.
"""

from __future__ import annotations

import os
import shlex
import signal
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from random import Random

from tests.benchmarks.waiting import WAITS

STOPS = 8
NAMES = ("plan", "sheet", "card", "gear-2", "crew")
BARE = ["-c", "import time; time.sleep(60)"]


def runs(process: int) -> bool:
    """Return whether a process still runs; one that waits to be counted out does not."""
    try:
        text = Path(f"/proc/{process}/stat").read_text()
    except OSError:
        return False
    return text.rsplit(")", 1)[1].split()[0] != "Z"


def children(process: int) -> list[int]:
    """Return the processes that a process began."""
    text = Path(f"/proc/{process}/task/{process}/children").read_text()
    return [int(one) for one in text.split()]


def stopped(words: list[str], after_s: float) -> tuple[float, float, bool]:
    """Return until the first process ended, until all had [s], and whether there was a second."""
    with tempfile.TemporaryDirectory() as folder:
        words = [word.format(folder=folder) for word in words]
        environment = {**os.environ, "LENSYARD_CACHE_DIR": f"{folder}/cache"}
        process = subprocess.Popen(
            [sys.executable, *words],
            env=environment, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        )  # fmt: skip
        time.sleep(after_s)
        beside = children(process.pid)
        begun = time.perf_counter()
        process.send_signal(signal.SIGINT)
        process.wait()
        first = time.perf_counter() - begun
        while any(runs(one) for one in beside):
            time.sleep(0.002)
        return first, time.perf_counter() - begun, bool(beside)


def main() -> None:
    """Stop every command at the same random moments."""
    rng = Random(4)
    moments = [rng.uniform(0.5, 3.5) for _ in range(STOPS)]
    commands = {name: ["-m", "lensyard", *shlex.split(WAITS[name].command)] for name in NAMES}
    for name, words in {"bare": BARE, **commands}.items():
        first, everything, second = zip(*(stopped(words, at) for at in moments), strict=True)
        print(
            f"{name:8} first process {statistics.median(first):.2f} s median, {max(first):.2f} at "
            f"most; all gone {max(everything):.2f} at most; two processes in {sum(second)} of "
            f"{STOPS}",
            flush=True,
        )


if __name__ == "__main__":
    main()
