"""An invented outcome mass that stands in for a model: simple, symmetric, and easy to reason on."""

import numpy as np
import pytest

from lensyard.model.cells import CARRY, POINT
from lensyard.model.outcome_grid import X_YD, Y_YD
from lensyard.model.paths import PathMasses
from lensyard.spots.masses import Masses


def stand_in_parts(yardline_100, *, tilt_yd=0.0):
    """Return (parts, worth weights): by outcome a mass (121, 18); the parts sum to 1 together."""
    line = 110.0 - yardline_100
    across = np.exp(-0.5 * ((Y_YD - Y_YD.mean() - tilt_yd) / 13.0) ** 2)
    across /= across.sum()

    def along(center, spread, low, high):
        cells = X_YD
        x = np.exp(-0.5 * ((cells - center) / spread) ** 2) * (cells >= low) * (cells <= high)
        return x / x.sum()

    p_touchdown = 0.01 + 0.25 * np.exp(-yardline_100 / 8.0)
    rest = 1.0 - p_touchdown
    shapes = {
        "sack": (0.07 * rest, along(line - 7, 2.0, 0, line - 1)),
        "other": (0.60 * rest, along(line + 4, 5.0, max(line - 4, 0), 110)),
        "gain20": (0.08 * rest, along(min(line + 27, 109), 6.0, 0, 110)),
        "incompletion": (0.25 * rest, along(min(line + 10, 117), 7.0, max(line - 3, 0), 119)),
        "touchdown": (p_touchdown, along(111, 1.5, 111, 119)),
    }
    weights = {"sack": 1.0, "other": 1.0, "gain20": 4.0, "incompletion": 0.5, "touchdown": 10.0}
    parts = {name: p * x[:, None] * across[None, :] for name, (p, x) in shapes.items()}
    return parts, weights


@pytest.fixture(scope="session")
def masses_at():
    """A function: yardline_100 -> `Masses` of the stand-in."""

    def make(yardline_100, *, tilt_yd=0.0):
        parts, weights = stand_in_parts(yardline_100, tilt_yd=tilt_yd)
        ends = [
            np.sum([parts[n] * weights[n] ** power for n in parts], axis=0).astype(np.float32)
            for power in (0, 1, 2)
        ]
        # Sacks and balls that came down are points, the others run from the line of scrimmage.
        by_start = np.zeros((3, 3, *ends[0].shape), dtype=np.float32)
        for name, part in parts.items():
            carried = name in ("other", "gain20", "touchdown")
            x = 110 - yardline_100 <= X_YD if carried else np.zeros(X_YD.size, dtype=bool)
            for power in (0, 1, 2):
                weighted = part * weights[name] ** power
                by_start[power, CARRY] += weighted * x[:, None]
                by_start[power, POINT] += weighted * ~x[:, None]
        paths = PathMasses.of(by_start[:2], np.full(2, yardline_100))
        return Masses(paths, by_start, yardline_100, comparable_plays=500.0)

    return make
