"""Where the play is likely to end, as areas with smooth outlines.

The bands are highest-density areas: the smallest areas that hold a given share of the probability,
so "half of the plays end in the innermost area" is literally what is drawn.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
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
    padded = np.pad(density, 1)
    x_padded = np.concatenate([[x_grid[0] - _GRID_YD], x_grid, [x_grid[-1] + _GRID_YD]])
    y_padded = np.concatenate([[y_grid[0] - _GRID_YD], y_grid, [y_grid[-1] + _GRID_YD]])
    bands = []
    for share in SHARES:
        level = float(falling[int(np.searchsorted(held, share))])
        loops = [loop for loop in outlines(padded, level) if abs(_area(loop)) >= _LEAST_AREA_YD2]
        bands.append(Band(share, tuple(_placed(loop, x_padded, y_padded) for loop in loops)))
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


def _area(loop: Loop) -> float:
    points = np.array(loop)
    x, y = points[:, 0], points[:, 1]
    return float(0.5 * np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))


def _placed(loop: Loop, x_grid: FloatArray, y_grid: FloatArray) -> Loop:
    points = np.array(loop)
    x = np.interp(points[:, 0], np.arange(x_grid.size), x_grid)
    y = np.interp(points[:, 1], np.arange(y_grid.size), y_grid)
    return list(zip(x.tolist(), y.tolist(), strict=True))


def outlines(values: FloatArray, level: float) -> list[Loop]:
    """Return the closed outlines of ``values >= level`` in grid coordinates (marching squares).

    Parameters
    ----------
    values
        Shape (n, m); the outermost ring must lie below the level, so that every outline closes.
    level
        Greater than 0.

    Notes
    -----
    W. E. Lorensen and H. E. Cline, "Marching cubes", SIGGRAPH 1987, in two dimensions; saddles are
    split. A crossing is named (axis, i, j): on the grid edge from (i, j) along that axis.
    """
    high = values >= level
    links: dict[tuple[int, int, int], list[tuple[int, int, int]]] = {}
    code = high[:-1, :-1] * 1 + high[1:, :-1] * 2 + high[1:, 1:] * 4 + high[:-1, 1:] * 8
    for i, j in np.argwhere((code > 0) & (code < 15)).tolist():
        sides = ((0, i, j), (1, i + 1, j), (0, i, j + 1), (1, i, j))
        for one, other in _SEGMENTS[int(code[i, j])]:
            links.setdefault(sides[one], []).append(sides[other])
            links.setdefault(sides[other], []).append(sides[one])
    loops = []
    while links:
        start, ends = next(iter(links.items()))
        loop, before, here = [start], start, ends[0]
        while here != start:
            loop.append(here)
            first, second = links[here]
            before, here = here, (second if first == before else first)
        for crossing in loop:
            del links[crossing]
        loops.append([_crossing(values, level, *crossing) for crossing in loop])
    return loops


# Sides of a cell: 0 low j, 1 high i, 2 high j, 3 low i. Which sides an outline joins, by which of
# the corners (i, j), (i + 1, j), (i + 1, j + 1), (i, j + 1) are high.
_SEGMENTS: dict[int, tuple[tuple[int, int], ...]] = {
    1: ((3, 0),),
    2: ((0, 1),),
    3: ((3, 1),),
    4: ((1, 2),),
    5: ((3, 0), (1, 2)),
    6: ((0, 2),),
    7: ((3, 2),),
    8: ((2, 3),),
    9: ((2, 0),),
    10: ((0, 1), (2, 3)),
    11: ((2, 1),),
    12: ((1, 3),),
    13: ((1, 0),),
    14: ((0, 3),),
}


def _crossing(values: FloatArray, level: float, axis: int, i: int, j: int) -> tuple[float, float]:
    near = float(values[i, j])
    far = float(values[i + 1, j] if axis == 0 else values[i, j + 1])
    share = (level - near) / (far - near)
    return (i + share, float(j)) if axis == 0 else (float(i), j + share)
