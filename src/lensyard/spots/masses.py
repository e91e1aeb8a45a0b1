"""Outcome masses of one situation by cell: what spots are ranked by, and their second moments."""

from __future__ import annotations

from functools import cache

import numpy as np

from lensyard.arrays import Float32Array, FloatArray
from lensyard.domain.assignment import USABLE_WEIGHTS, OutcomeWeights
from lensyard.model.cells import starts_of_catches
from lensyard.model.lateral import LateralPrior
from lensyard.model.outcome import Forecast
from lensyard.model.outcome_grid import GOAL_X
from lensyard.model.paths import PathMasses
from lensyard.records import ArrayRecord


class Masses(ArrayRecord):
    """Outcome masses of one situation by cell, float32.

    ``paths``: two rows, the first sums to 1, the other is weighted by the assignment. ``by_start``:
    ends by how the path starts, (3, 3, 121, 18): plain, weighted, and weighted by the square.
    ``yardline_100``: of the situation. ``comparable_plays`` says how many plays stand behind it.
    """

    paths: PathMasses
    by_start: Float32Array
    yardline_100: int
    comparable_plays: float

    @staticmethod
    def of(forecast: Forecast, prior: LateralPrior, weights: OutcomeWeights) -> Masses:
        """Return the masses of the first situation of a forecast."""
        weighted = USABLE_WEIGHTS, weights, _squared(weights)
        by_start = forecast.cells_by_start(prior, *weighted)[:, 0]
        line = int(forecast.batch.yardline_100[0])
        by_start[2] *= np.float32(_SCALE**2)
        comparable = max(float(forecast.comparable_plays[0]), 1.0)
        return Masses(PathMasses.of(by_start[:2], np.full(2, line)), by_start, line, comparable)

    @property
    def plain(self) -> PathMasses:
        """The paths, one row that sums to 1."""
        return self.paths.take(slice(0, 1))

    @property
    def value(self) -> PathMasses:
        """The paths weighted by the assignment, one row."""
        return self.paths.take(slice(1, 2))

    @property
    def ends(self) -> Float32Array:
        """Where the play ends, shape (121, 18); sums to 1."""
        ends: Float32Array = self.paths.by_x[0, 0]
        return ends

    @property
    def filled_x(self) -> slice:
        """The rows along the field from the first to the last with mass."""
        return self.paths.filled_x

    def second_moments(
        self, reach: FloatArray, missed: FloatArray, *, by_value: bool
    ) -> FloatArray:
        """Return E[(w (reach(end) - missed(start)))^2], shape (k,).

        ``reach`` and ``missed`` are of the rows of `filled_x`, shape (k, rows, 18); ``w`` is the
        assignment's weight, or 1.
        """
        x = self.filled_x
        point, carried, caught = self.by_start[2 if by_value else 0, :, x]
        line = min(max(GOAL_X - self.yardline_100 - x.start, 0), reach.shape[1] - 1)
        back = starts_of_catches(self.yardline_100)[x, x]
        square = point * (reach - missed) ** 2
        square += carried * (reach - missed[:, line : line + 1]) ** 2
        square += caught * (reach - 2.0 * (back @ missed)) * reach
        square += np.matmul(back.T, caught, dtype=float) * missed**2
        moments: FloatArray = square.sum(axis=(1, 2))
        return moments


# Squares of weights within their limits would leave them; a power of two scales without rounding.
_SCALE = 16.0


@cache
def _squared(weights: OutcomeWeights) -> OutcomeWeights:
    """Return the squares of weights over `_SCALE`."""
    return OutcomeWeights(
        **{name: (getattr(weights, name) / _SCALE) ** 2 for name in weights.__dataclass_fields__}
    )
