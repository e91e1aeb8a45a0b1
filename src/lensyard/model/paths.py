"""Paths of plays as masses: where they end, where they start, and how often one is both."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from lensyard.arrays import Float32Array, IntArray
from lensyard.domain.assignment import OutcomeWeights
from lensyard.model import outcome_grid as grid
from lensyard.model.cells import (
    CARRY,
    CATCH,
    POINT,
    JointOutcome,
    masses_by_start,
    starts_of_catches,
)
from lensyard.model.lateral import LateralPrior
from lensyard.records import ArrayRecord


def p_start(yardline_100: int, start_x: IntArray, end_x: IntArray) -> Float32Array:
    """Return P(the path starts there | how it starts, and that it ends there), shape (3, e).

    ``start_x`` and ``end_x`` are rows of the cells, shape (e,), for one line of scrimmage.
    """
    p = np.empty((3, start_x.size), dtype=np.float32)
    p[POINT] = start_x == end_x
    p[CARRY] = start_x == grid.GOAL_X - yardline_100
    p[CATCH] = starts_of_catches(yardline_100)[end_x, start_x]
    return p


class PathMasses(ArrayRecord):
    """Paths of n situations, float32.

    - ``by_start``: where they end, by how they start, (n, 3, rows, 18); the starts are `POINT`,
      `CARRY` and `CATCH`.
    - ``by_x``: where they end and where they start, (n, 2, rows, 18).
    - ``yardline_100``: lines of scrimmage, (n,).
    - ``filled_x``: the rows from the first to the last with mass.
    - ``first_x``: the row of the field that comes first.
    """

    by_start: Float32Array
    by_x: Float32Array
    yardline_100: IntArray
    filled_x: slice
    first_x: int = 0

    @staticmethod
    def of(by_start: Float32Array, yardline_100: IntArray) -> PathMasses:
        """Return paths by where they end, (n, 3, 121, 18) as of `masses_by_start`."""
        by_x = _with_starts(by_start, yardline_100)
        return PathMasses(by_start, by_x, yardline_100, _filled_x(by_x))

    @staticmethod
    def of_points(mass: Float32Array) -> PathMasses:
        """Return single points, shape (n, 121, 18), as paths that start where they end."""
        by_start = np.zeros((len(mass), 3, *mass.shape[1:]), dtype=np.float32)
        by_start[:, POINT] = mass
        by_x = np.repeat(by_start[:, POINT : POINT + 1], 2, axis=1)
        return PathMasses(by_start, by_x, np.full(len(mass), 50), _filled_x(by_x))

    def __len__(self) -> int:
        return len(self.by_start)

    @property
    def ends(self) -> Float32Array:
        """Where they end, shape (n, rows * 18)."""
        return self.by_x[:, 0].reshape(len(self), -1)

    @property
    def starts(self) -> Float32Array:
        """Where they start, shape (n, rows * 18)."""
        return self.by_x[:, 1].reshape(len(self), -1)

    def take(self, rows: IntArray | slice | list[int]) -> PathMasses:
        """Return some of the situations."""
        by_start, by_x = self.by_start[rows], self.by_x[rows]
        return PathMasses(by_start, by_x, self.yardline_100[rows], self.filled_x, self.first_x)

    def filled(self) -> PathMasses:
        """Return the rows of the field that hold them."""
        rows = self.filled_x
        by_start, by_x = self.by_start[:, :, rows], self.by_x[:, :, rows]
        every = slice(0, by_x.shape[2])
        return PathMasses(by_start, by_x, self.yardline_100, every, self.first_x + rows.start)

    def at(self, start_x: IntArray, end_x: IntArray, lane: IntArray) -> Float32Array:
        """Return how often a path starts and ends in those places, shape (n, e).

        Places are rows and lanes of ``by_start``, shape (e,) each.
        """
        found = np.zeros((len(self), start_x.size), dtype=np.float32)
        for line in set(self.yardline_100.tolist()):
            here = self.yardline_100 == line
            by_start = self.by_start if here.all() else self.by_start[here]
            p = p_start(line, start_x + self.first_x, end_x + self.first_x)
            found[here] = (by_start[:, :, end_x, lane] * p).sum(axis=1)
        return found


def _filled_x(by_x: Float32Array) -> slice:
    rows = np.flatnonzero(by_x.any(axis=(0, 1, 3)))
    return slice(int(rows[0]), int(rows[-1]) + 1) if rows.size else slice(0, 0)


def path_masses(
    outcome: JointOutcome, prior: LateralPrior, *, weights: Sequence[OutcomeWeights]
) -> list[PathMasses]:
    """Return the paths of n situations for each of some weights."""
    by_start = masses_by_start(outcome, prior, weights=weights)
    return [PathMasses.of(one, outcome.yardline_100) for one in by_start]


def _with_starts(by_start: Float32Array, yardline_100: IntArray) -> Float32Array:
    """Return the masses of ends and of starts, shape (..., n, 2, 121, 18).

    ``by_start`` is of `masses_by_start`, for these lines of scrimmage, shape (n,). Both masses have
    the same sum.
    """
    paths = np.empty((*by_start.shape[:-3], 2, grid.N_X, grid.N_Y), dtype=np.float32)
    by_start.sum(axis=-3, out=paths[..., 0, :, :])
    starts = paths[..., 1, :, :]
    starts[:] = by_start[..., POINT, :, :]
    carried = by_start[..., CARRY, :, :].sum(axis=-2)
    lines = set(yardline_100.tolist())
    for line in lines:
        here = slice(None) if len(lines) == 1 else np.flatnonzero(yardline_100 == line)
        starts[..., here, grid.GOAL_X - line, :] += carried[..., here, :]
        # Plays end at least `GAIN_MIN_YD` from the line, and so do their catches.
        first = max(0, grid.GOAL_X - line + grid.GAIN_MIN_YD)
        back = starts_of_catches(line)[first : grid.CARRIED_IN_X + 1, first:]
        caught = by_start[..., here, CATCH, first : grid.CARRIED_IN_X + 1, :]
        starts[..., here, first:, :] += np.matmul(back.T, caught)
    return paths
