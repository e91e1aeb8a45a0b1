"""Timing that can be trusted a little: repeated, in turn, and quoted as medians."""

from __future__ import annotations

import os
import resource
import statistics
import subprocess
import sys
import time
from collections.abc import Callable, Mapping, Sequence
from functools import partial


def median_s(function: Callable[[], object], *, runs: int = 7, warm_up: int = 1) -> float:
    """Return the median wall time of a call. [s]"""
    for _ in range(warm_up):
        function()
    times = []
    for _ in range(runs):
        start = time.perf_counter()
        function()
        times.append(time.perf_counter() - start)
    return statistics.median(times)


def processor_s(function: Callable[[], object], *, runs: int = 60) -> float:
    """Return the least processor time of a call, which other work on the machine only adds to."""
    function()
    times = []
    for _ in range(runs):
        start = time.thread_time()
        function()
        times.append(time.thread_time() - start)
    return min(times)


def medians_in_turn_s(functions: Sequence[Callable[[], object]], *, runs: int = 9) -> list[float]:
    """Return the median wall times of several calls that take turns, so that drift cancels. [s]"""
    times: list[list[float]] = [[] for _ in functions]
    for run in range(runs + 1):
        for spent, function in zip(times, functions, strict=True):
            start = time.perf_counter()
            function()
            if run:  # the first round warms up
                spent.append(time.perf_counter() - start)
    return [statistics.median(spent) for spent in times]


def compare_starts(commands: Mapping[str, Sequence[str]], *, runs: int = 9) -> list[float]:
    """Print wall and processor time of Python with each arguments, in turn, beside the second.

    Bytecode is written, as an installed package has it. Wall times are medians; of processor times
    the least counts, since other work only adds to them. Returns the wall times. [s]
    """
    environment = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}
    processor: list[list[float]] = [[] for _ in commands]

    def start(arguments: Sequence[str], spent: list[float]) -> None:
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        subprocess.run(
            [sys.executable, *arguments], check=True, capture_output=True, env=environment
        )
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        spent.append(after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)

    starts = [partial(start, *pair) for pair in zip(commands.values(), processor, strict=True)]
    wall = medians_in_turn_s(starts, runs=runs)
    for name, wall_s, spent in zip(commands, wall, processor, strict=True):
        print(
            f"{name:38} {1000 * wall_s:7.1f} ms wall  {1000 * min(spent):7.1f} ms processor  "
            f"ratio {min(spent) / min(processor[1]):.2f}"
        )
    return wall
