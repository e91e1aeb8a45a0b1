"""Time and value of three ways to place a crew: exact, greedy, trying every choice.

The ground, the lenses and the lines of sight are real geometry at 1-yard spots; where plays end is
an invented smooth mass, so the figures are about the solvers and not about football. Run:

    python -m tests.benchmarks.coverage
"""

from __future__ import annotations

import argparse
import time

import numpy as np
from tests.support.exhaustive_coverage import coverage_problem

from lensyard.domain.kit import kit_of
from lensyard.domain.perimeter import perimeter_of
from lensyard.domain.venue import standard_venue
from lensyard.planner.max_coverage import (
    greedy_coverage,
    solve_coverage,
)
from lensyard.spots.scorer import CELL_X_YD, CELL_Y_YD, Scorer

# More choices than this are left out: trying them all would take minutes.


def invented_worth(yardline_100: int) -> np.ndarray:
    """Return a smooth expected worth by cell: gains near the ball, touchdowns in the end zone."""
    line, middle = 110.0 - yardline_100, 80.0 / 3.0
    across = np.exp(-0.5 * ((CELL_Y_YD - middle) / 13.0) ** 2)
    gain = np.exp(-0.5 * ((CELL_X_YD - line - 6.0) / 8.0) ** 2)
    score = 10.0 * np.exp(-yardline_100 / 12.0) * (np.abs(CELL_X_YD - 112.0) <= 2.0)
    value = across * (gain + score)
    return np.asarray(value / value.sum(), dtype=np.float64)


def timed(solve, problem):
    """Return the best time of three runs, as text, and the answer."""
    times = []
    for _ in range(3):
        start = time.perf_counter()
        answer = solve(problem)
        times.append(time.perf_counter() - start)
    return f"{1e3 * min(times):9.1f} ms", answer


def main() -> None:
    """Print one table for each kit and spot of the ball."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--step-yd", type=float, default=1.0, help="spacing of the spots")
    parser.add_argument("--shooters", type=int, nargs="+", default=[1, 2, 3, 4])
    arguments = parser.parse_args()
    perimeter = perimeter_of(standard_venue("pro"), step_yd=arguments.step_yd)
    for lenses in (["70-200"], ["70-200", "400"]):
        scorer = Scorer(perimeter, kit_of(lenses))
        covers = scorer.paths[0].point[scorer.open] >= 0.5
        print(f"\nlenses {' + '.join(lenses)}: {len(covers)} spots, {covers.shape[1]} cells")
        print(f"{'ball':>6} {'k':>2} {'way':>11} {'time':>12} {'value':>9} {'bound':>9} proven")
        for yardline_100 in (55, 20, 4):
            for k in arguments.shooters:
                problem = coverage_problem(invented_worth(yardline_100), covers, k=k)
                ways = {"exact": solve_coverage, "greedy": greedy_coverage}
                for name, solve in ways.items():
                    took, cover = timed(solve, problem)
                    print(
                        f"{yardline_100:>6} {k:>2} {name:>11} {took} {cover.value:9.6f} "
                        f"{cover.bound:9.6f} {'yes' if cover.proven else 'no'}"
                    )


if __name__ == "__main__":
    main()
