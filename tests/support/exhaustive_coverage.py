"""Covering problems solved by trying every choice: the yardstick for the exact solver."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations, product
from math import comb, prod

import numpy as np
from numpy.typing import ArrayLike

from lensyard.planner.max_coverage import CoverageProblem, covered_weight


def coverage_problem(weight: ArrayLike, covers: ArrayLike, *, k: int) -> CoverageProblem:
    """Return the problem of choosing k sites of one kind."""
    return CoverageProblem(np.asarray(weight, float), (np.asarray(covers, bool),), (k,))


def exhaustive_value(problem: CoverageProblem, *, most: int = 5_000_000) -> float:
    """Return the largest weight that any choice covers; refuse more than ``most`` choices."""
    sizes = [(len(a), min(m, len(a))) for a, m in zip(problem.covers, problem.picks, strict=True)]
    count = prod(comb(n, m) for n, m in sizes)
    if count > most:
        raise ValueError(f"{count} choices are too many to try one by one (at most {most})")
    best = -1.0
    for head, last in _all_but_last(sizes):
        left = problem.weight.copy()
        for sites, covers in zip(head, problem.covers, strict=True):
            left[covers[list(sites)].any(axis=0)] = 0.0
        gain = problem.covers[-1][last:] @ left
        site = int(gain.argmax())
        best = max(best, covered_weight(problem, (*head[:-1], (*head[-1], last + site))))
    return best


def _all_but_last(sizes: list[tuple[int, int]]) -> Iterator[tuple[list[tuple[int, ...]], int]]:
    """Yield every choice without its last site, and the lowest number that one may have."""
    *others, (n, m) = sizes
    for before in product(*(combinations(range(size), pick) for size, pick in others)):
        for start in combinations(range(n - 1), m - 1):
            yield [*before, start], (start[-1] + 1 if start else 0)
