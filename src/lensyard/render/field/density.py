"""Where the play is likely to end, as areas with smooth outlines.

The bands are highest-density areas: the smallest areas that hold a given share of the probability,
so "half of the plays end in the innermost area" is literally what is drawn.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import cast

import numpy as np
from contourpy import contour_generator
from numpy.typing import NDArray

from lensyard.domain.field import FIELD_LENGTH_YD, FIELD_WIDTH_YD
from lensyard.render.field.picture import MASS_SHAPE

FloatArray = NDArray[np.float64]
Loop = list[tuple[float, float]]

SHARES = (0.95, 0.80, 0.50)  # from the widest area to the narrowest
_SMOOTH_X_YD = 1.3
_SMOOTH_Y_YD = 2.4
_GRID_YD = 1.0
_OUTSIDE_YD = 2.0  # the grid reaches past the field, so that outlines close outside of it
_LEAST_AREA_YD2 = 4.0


@dataclass(frozen=True, slots=True)
class Band:
    """The smallest area that holds a share of the probability; loops of (x_yd, y_yd) points."""

    share: float
    loops: tuple[Loop, ...]


def bands_of(mass: FloatArray) -> tuple[Band, ...]:
    """Return the bands of a mass, from the widest to the narrowest.

    Parameters
    ----------
    mass
        Shape (121, 18), see `FieldPicture`. All zero gives no bands.

    Notes
    -----
    The mass is smoothed with a Gaussian kernel (mirrored at the field's edges, so nothing leaks
    out) before the outlines are drawn; islands under 4 square yards are left out.
    """
    total = float(mass.sum())
    if total <= 0.0:
        return ()
    x_grid, y_grid, along, across = _kernels()
    density = along @ (mass / total) @ across.T
    inside = density[np.ix_(_within(x_grid, FIELD_LENGTH_YD), _within(y_grid, FIELD_WIDTH_YD))]
    falling = np.sort(inside.ravel())[::-1]
    held = np.cumsum(falling) / falling.sum()
    # A rim of nothing around the grid, so that every outline closes.
    x_rim, y_rim = (
        np.pad(grid, 1, mode="reflect", reflect_type="odd") for grid in (x_grid, y_grid)
    )
    contours = contour_generator(x_rim, y_rim, np.pad(density, 1).T)
    bands = []
    for share in SHARES:
        level = float(falling[int(np.searchsorted(held, share))])
        lines = cast(list[FloatArray], contours.lines(level))
        loops = [[(x, y) for x, y in line[:-1].tolist()] for line in lines]
        large = tuple(loop for loop in loops if _area_yd2(loop) >= _LEAST_AREA_YD2)
        bands.append(Band(share, large))
    return tuple(bands)


def _within(grid: FloatArray, length_yd: float) -> NDArray[np.int64]:
    return np.flatnonzero((grid >= 0) & (grid <= length_yd))


@lru_cache(maxsize=1)
def _kernels() -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """The grid and the smoothing from cells to the grid, along and across the field."""
    rows, columns = MASS_SHAPE
    x_cells = np.arange(rows) * FIELD_LENGTH_YD / (rows - 1)
    y_cells = (np.arange(columns) + 0.5) * FIELD_WIDTH_YD / columns
    x_grid = np.arange(-_OUTSIDE_YD, FIELD_LENGTH_YD + _OUTSIDE_YD + 0.5, _GRID_YD)
    y_grid = np.linspace(-_OUTSIDE_YD, FIELD_WIDTH_YD + _OUTSIDE_YD, 58)
    along = _kernel(x_grid, x_cells, FIELD_LENGTH_YD, _SMOOTH_X_YD)
    across = _kernel(y_grid, y_cells, FIELD_WIDTH_YD, _SMOOTH_Y_YD)
    return x_grid, y_grid, along, across


def _kernel(grid: FloatArray, cells: FloatArray, length_yd: float, smooth_yd: float) -> FloatArray:
    inside = np.clip(grid, 0.0, length_yd)[:, None]
    images = (cells, -cells, 2 * length_yd - cells)
    return np.asarray(
        sum(np.exp(-0.5 * ((inside - image[None, :]) / smooth_yd) ** 2) for image in images)
    )


def _area_yd2(loop: Loop) -> float:
    x, y = np.array(loop).T
    return abs(float(0.5 * np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y)))
