"""From outcome to the value of a spot: cells of the field times who can photograph them.

A `Scorer` belongs to one venue, kit, direction of attack and kind of faces. It holds, for every set
of lenses that can be at hand, the matrix "usable from station, at cell" and multiplies it with the
outcome mass of any number of situations.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from lensyard.domain.assignment import Faces
from lensyard.domain.field import FIELD_LENGTH_YD, FIELD_WIDTH_YD, Direction
from lensyard.domain.kit import Kit
from lensyard.domain.perimeter import Perimeter
from lensyard.domain.places import spot_label
from lensyard.model.outcome_grid import X_YD, Y_YD
from lensyard.spots.visibility import FACING_LIMIT_DEG, Geometry, crowded_by_a_post, geometry_of

Float32Array = NDArray[np.float32]
FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

CELL_X_YD, CELL_Y_YD = (grid.ravel() for grid in np.meshgrid(X_YD, Y_YD, indexing="ij"))

# How near a spot a play must leave the field to count as a run-out there (along the edge).
RUN_OUT_WITHIN_YD = 5.0


@dataclass
class Scorer:
    """What each station can photograph, for one venue, kit, direction and kind of faces.

    Attributes
    ----------
    perimeter, kit, direction, faces, facing_limit_deg
        What it belongs to.
    x_cells
        Which rows of `X_YD` it looks at; all by default. One situation fills only some of them.
    """

    perimeter: Perimeter
    kit: Kit
    direction: Direction = Direction.TOWARD_B
    faces: Faces = Faces.OFFENSE
    facing_limit_deg: float = FACING_LIMIT_DEG
    x_cells: slice = field(default_factory=lambda: slice(0, X_YD.size))
    _usable: list[Float32Array] = field(default_factory=list, repr=False)

    @cached_property
    def stations(self) -> IntArray:
        """The stations' numbers in the perimeter, ordered as the play frame sees them, shape (n,).

        Station 0 is the corner behind the offense on its right; a turn of the stadium by 180
        degrees leaves every station of the play frame where it is.
        """
        n = len(self.perimeter)
        order = np.arange(n)
        return order if self.direction is Direction.TOWARD_B else self.perimeter.turned_index[order]

    @cached_property
    def open(self) -> NDArray[np.bool_]:
        """Whether each station is a spot, shape (n,).

        One may shoot from there, and no goal-post support stands in the way.
        """
        crowded = crowded_by_a_post(self.perimeter, stations=self.stations)
        spots: NDArray[np.bool_] = self.perimeter.open[self.stations] & ~crowded
        return spots

    @cached_property
    def xy_yd(self) -> tuple[FloatArray, FloatArray]:
        """Places of the stations in the play frame, two arrays of shape (n,). [yd]"""
        x, y = self.perimeter.play_xy_yd(self.direction)
        return x[self.stations], y[self.stations]

    def label(self, station_index: int) -> str:
        """Return a station's name: the venue's where it names its sides, else the offense's."""
        x, y = (float(axis[station_index]) for axis in self.xy_yd)
        return spot_label(x_yd=x, y_yd=y, names=self.perimeter.venue.names(self.direction))

    @cached_property
    def walk_yd(self) -> FloatArray:
        """The walk between stations, shape (n, n). [yd]"""
        return self.perimeter.walk_yd[np.ix_(self.stations, self.stations)]

    @cached_property
    def geometry(self) -> Geometry:
        """Distances, facing and clear lines to all cells of the field."""
        return geometry_of(
            self.perimeter,
            stations=self.stations,
            cell_x_yd=self.flat(CELL_X_YD.reshape(X_YD.size, Y_YD.size)),
            cell_y_yd=self.flat(CELL_Y_YD.reshape(X_YD.size, Y_YD.size)),
            direction=self.direction,
            faces=self.faces,
            facing_limit_deg=self.facing_limit_deg,
        )

    def flat(self, cells: NDArray[Any]) -> NDArray[Any]:
        """Return the cells it looks at, from shape (..., 121, 18) to (..., cells)."""
        return cells[..., self.x_cells, :].reshape(*cells.shape[:-2], -1)

    @property
    def usable(self) -> list[Float32Array]:
        """For each set of lenses at hand 1 where a cell is usable, each of shape (n, cells)."""
        if not self._usable:
            for lens_sets in self.kit.lens_sets:
                seen = self.geometry.usable(lens_sets) & self.open[:, None]
                self._usable.append(np.ascontiguousarray(seen, dtype=np.float32))
        return self._usable

    def expected_value(self, mass: NDArray[np.float32]) -> Float32Array:
        """Return the value of each station, with the best lenses at hand for each.

        Parameters
        ----------
        mass
            Weighted outcome mass by cell, shape (m, 121, 18) or (m, cells).

        Returns
        -------
        ndarray, shape (m, n)
        """
        best: Float32Array = self.expected_value_by_lens_set(mass).max(axis=0)
        return best

    def expected_value_by_lens_set(self, mass: NDArray[np.float32]) -> Float32Array:
        """Return the value of each station with each set of lenses at hand, shape (h, m, n)."""
        flat = self.flat(mass.reshape(mass.shape[0], X_YD.size, Y_YD.size))
        # Plays of one part of the field leave the rest empty: multiply the columns between only.
        filled = np.flatnonzero(flat.max(axis=0) > 0.0) if flat.shape[0] else np.zeros(0, int)
        span = slice(int(filled[0]), int(filled[-1]) + 1) if filled.size else slice(0, 0)
        part = flat[:, span]
        return np.stack([part @ usable[:, span].T for usable in self.usable])

    def run_out_exposure(self, mass: Float32Array) -> FloatArray:
        """Return for one situation P(the play runs out at the station), shape (n,).

        On a sideline: it goes out of bounds within 5 yd along the edge. Behind an end line: it
        ends in that end zone within 5 yd across the field.
        """
        x, y = self.xy_yd
        cell = mass.reshape(X_YD.size, Y_YD.size)
        exposure = np.zeros(x.shape[0])
        for column, on_side in ((0, y < 0), (Y_YD.size - 1, y > FIELD_WIDTH_YD)):
            near = np.abs(x[:, None] - X_YD[None, :]) <= RUN_OUT_WITHIN_YD
            exposure += np.where(on_side, near @ cell[:, column], 0.0)
        for rows, behind in ((X_YD > 110, x > FIELD_LENGTH_YD), (X_YD < 10, x < 0)):
            near = np.abs(y[:, None] - Y_YD[None, :]) <= RUN_OUT_WITHIN_YD
            exposure += np.where(behind, near @ cell[rows].sum(axis=0), 0.0)
        return exposure


def turned_station_indices(n: int) -> IntArray:
    """Return for each station of one direction the station of the other at the same place.

    A change of possession turns the play frame by 180 degrees: half way round the ring.
    """
    return (np.arange(n) + n // 2) % n
