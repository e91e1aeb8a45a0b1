"""``python -m tests.benchmarks.waiting [NAME ...]``: how long each command keeps somebody waiting.

Every command runs alone in a process of its own with empty caches; its time, the time of its first
line (of progress too), and the peak memory of its largest process stand beside a bare start of the
same run. Bars are those of two quiet cores; on a busy machine processor times say more.
"""

from __future__ import annotations

import argparse
import json
import os
import shlex
import statistics
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

NEXT = "next --down 3 --distance 7 --ball opp35"
# No figures of these come with the package, as those of the usual kit do.
OWN = "--lens 70-200 --lens 500"
KITS = ("70-200 + 500", "100-400", "24-70 + 300", "70-200 on 1.5")


@dataclass(frozen=True)
class Wait:
    """A command line and its bar: seconds, or bare starts for ``next``."""

    command: str
    bar: str


WAITS = {
    "bare": Wait("--version", ""),
    "next": Wait(NEXT, "2.2 bare starts"),
    "standing-demo": Wait(f"{NEXT} --standing left:opp20", "1.6 s; its plan is in the package"),
    "standing": Wait(f"{NEXT} --standing left:opp20 {OWN}", "1.6 s"),
    "plan-demo": Wait("plan", "5 s; its figures are in the package"),
    "plan": Wait(f"plan {OWN}", "5 s, first sentence 2 s"),
    "plan-venue": Wait("plan --venue brindle-prairie --assignment newspaper", "5 s"),
    "sheet": Wait(f"sheet {OWN} --out {{folder}}/s.pdf", "7 s"),
    "card": Wait(f"card {OWN} --out {{folder}}/c.html", "4 s"),
    "card-venue": Wait(
        "card --venue brindle-prairie --assignment newspaper --out {folder}/c.html", "4 s"
    ),
    "gear-demo": Wait("gear --kit '70-200 + 400'", "its figures are in the package"),
    "gear-1": Wait(f"gear --kit '{KITS[0]}'", ""),
    "gear-2": Wait(f"gear --kit '{KITS[0]}' --kit {KITS[1]}", "1.5 s more a kit"),
    "gear-4": Wait("gear " + " ".join(f"--kit '{kit}'" for kit in KITS), "1.5 s more a kit"),
    "crew": Wait("crew --shooters 2 --game", "4 s"),
    "crew-4": Wait("crew --shooters 4 --game", ""),
    "backtest": Wait("evidence backtest --season 2019", "5 s"),
    "advice": Wait("evidence advice --again", "20 s"),
}
# Sees the process from outside: seconds to the first output and to the end, peak memory in MB.
_WATCH = """
import json, os, resource, subprocess, sys, time
begun = time.perf_counter()
child = subprocess.Popen(sys.argv[1:], stdout=subprocess.PIPE, stderr=subprocess.STDOUT)
first = child.stdout.read(1) and time.perf_counter() - begun
child.stdout.read()
code = child.wait()
done = time.perf_counter() - begun
usage = resource.getrusage(resource.RUSAGE_CHILDREN)
spent = usage.ru_utime + usage.ru_stime
print(json.dumps([code, first or done, done, usage.ru_maxrss / 1e3, spent]))
"""


def waited(
    command: str, cache: Path, *, python: tuple[str, ...] = ("-m", "lensyard")
) -> list[float]:
    """Return exit code, times of the first output and of all [s], memory [MB], processor [s]."""
    environment = {**os.environ, "LENSYARD_CACHE_DIR": str(cache)}
    environment.pop("PYTHONDONTWRITEBYTECODE", None)
    words = [sys.executable, *python, *shlex.split(command)]
    found = subprocess.run(
        [sys.executable, "-c", _WATCH, *words],
        check=True, capture_output=True, text=True, env=environment,
    )  # fmt: skip
    return [float(figure) for figure in json.loads(found.stdout)]


def show(name: str, *, runs: int) -> None:
    """Measure one command with empty caches and print its medians."""
    rows = []
    for _ in range(runs):
        with tempfile.TemporaryDirectory() as folder:
            command = WAITS[name].command.format(folder=folder)
            rows.append(waited(command, Path(folder) / "cache"))
    code, first, done, memory, processor = (statistics.median(of) for of in zip(*rows, strict=True))
    failed = f"  exit code {code:.0f}" if code else ""
    print(
        f"{name:12} {first:6.2f} s first {done:7.2f} s all {processor:7.2f} s processor "
        f"{memory:5.0f} MB  bar {WAITS[name].bar}{failed}",
        flush=True,
    )


def main() -> None:
    """Read the command line."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("names", nargs="*", choices=[[], *WAITS], default=[])
    parser.add_argument("--runs", type=int, default=1)
    arguments = parser.parse_args()
    print(f"load {os.getloadavg()[0]:.1f}, {time.strftime('%H:%M')}")
    for name in dict.fromkeys(["bare", *(arguments.names or WAITS)]):
        show(name, runs=max(arguments.runs, 5) if name in ("bare", "next") else arguments.runs)


if __name__ == "__main__":
    main()
