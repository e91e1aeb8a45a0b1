"""Timing that can be trusted a little: repeated, in turn, and quoted as medians."""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable, Sequence


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
