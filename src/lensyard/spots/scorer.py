r"""From outcome to the value of a spot: paths of plays times who can photograph them.

A play is a path along a lane from its start to its end (`lensyard.model.cells`), and what a station
has of it is the best quality of its points. Along a lane the quality q(x) from a station rises and
then falls. With running maxima L(x) of q up to x and R(x) of q from x on, and the lane's peak P,
the best quality of a path from s to e is L(e) - (P - R(s)): a level of q that the lane reaches is
missed only by ending before it or by starting after it, never both. So what a situation is worth
is linear in two masses, of ends and of starts::

    E[best quality] = sum over e of ends(e) L(e)  -  sum over s of starts(s) (P - R(s))

Where q falls and rises again along a lane (behind a goal post; at distances that no lens of the kit
covers) a level is also missed by a path that lies wholly in the gap. What the sum gives too much to
a path from s to e is then min(L(s), R(e)) - max of q from s to e, where that is above 0; it is so
in gaps alone (cells whose q is below both L and R), which are few, and is taken off path by path
(`Gaps`). Tests hold the whole to the best quality of every path, played one by one.

A `Scorer` belongs to one venue, kit, direction of attack and kind of faces. It holds, for every set
of lenses that can be at hand, both matrices by station and cell, and multiplies them with the
masses of any number of situations.
"""

from __future__ import annotations

from functools import cached_property, lru_cache
from itertools import pairwise
from typing import Final

import numpy as np

from lensyard.arrays import AnyArray, BoolArray, Float32Array, FloatArray, IntArray, NDArray
from lensyard.domain.assignment import Faces
from lensyard.domain.field import FIELD_LENGTH_YD, FIELD_WIDTH_YD, Direction
from lensyard.domain.kit import Kit, Mounted
from lensyard.domain.perimeter import Perimeter
from lensyard.domain.places import spot_label
from lensyard.domain.venue import SideNames
from lensyard.model.cells import CARRY, CATCH, POINT, starts_of_catches
from lensyard.model.outcome_grid import GOAL_X, X_YD, Y_YD
from lensyard.model.paths import PathMasses, p_start
from lensyard.records import ArrayRecord
from lensyard.spots.visibility import FACING_LIMIT_DEG, Geometry, crowded_by_a_post, geometry_of

CELL_X_YD, CELL_Y_YD = (grid.ravel() for grid in np.meshgrid(X_YD, Y_YD, indexing="ij"))

# How near a spot a play must leave the field to count as a run-out there (along the edge).
RUN_OUT_WITHIN_YD = 5.0


class Gaps(ArrayRecord):
    """Paths that lie in a gap of a lane, e of them by station, and what L - (P - R) has too much.

    - ``station``: rows of the qualities, in order. (e,) int
    - ``start``, ``end``, ``lane``: rows and lanes of the cells, both ends included. (e,) int
    - ``excess``: by how much the formula is above the best quality of the path. (e,) float32
    """

    station: IntArray
    start: IntArray
    end: IntArray
    lane: IntArray
    excess: Float32Array

    @staticmethod
    def of(quality: Float32Array, before: Float32Array, after: Float32Array) -> Gaps:
        """Return all paths within gaps; q, L and R of shape (n, x cells, lanes)."""
        (_, n_x, lanes), found = quality.shape, []
        quality, before, after = quality.ravel(), before.ravel(), after.ravel()
        gap = np.minimum(before, after) > quality + _ROUNDING  # never the last cell of a lane
        start = end = np.flatnonzero(gap)
        best = quality[start]
        while start.size:
            excess = np.minimum(before[start], after[end]) - best
            found.append((start, end, np.maximum(excess, np.float32(0))))
            longer = np.flatnonzero(gap[end + lanes])
            start, end = start[longer], end[longer] + lanes
            best = np.maximum(best[longer], quality[end])
        if not found:
            return NO_GAPS
        start, end, excess = (np.concatenate(column) for column in zip(*found, strict=True))
        station = start // (n_x * lanes)
        order = np.argsort(station, kind="stable")
        start, end = start[order], end[order]
        at = station[order], start // lanes % n_x, end // lanes % n_x, start % lanes
        return Gaps(*at, excess[order])

    def of_station(self, station: int) -> slice:
        """Return where the paths of one station are."""
        return slice(*np.searchsorted(self.station, (station, station + 1)).tolist())

    def take_off(self, value: Float32Array, paths: PathMasses) -> None:
        """Take the excess off what m situations are worth from n stations, (m, n), in place."""
        block = max(_PATHS_AT_ONCE // max(len(paths), 1), 1)
        for first in range(0, self.station.size, block):
            some = slice(first, first + block)
            much = paths.at(self.start[some], self.end[some], self.lane[some]) * self.excess[some]
            firsts = np.flatnonzero(np.diff(self.station[some], prepend=-1))
            value[:, self.station[some][firsts]] -= np.add.reduceat(much, firsts, axis=1)


_NONE: Final = np.zeros(0, dtype=np.int64)
NO_GAPS: Final = Gaps(_NONE, _NONE, _NONE, _NONE, np.zeros(0, dtype=np.float32))
_ROUNDING = np.float32(1e-6)
_PATHS_AT_ONCE = 1 << 22
_BLOCK = 16
_STATIONS_AT_ONCE = 48  # which the processor's cache holds


class PathQuality(ArrayRecord):
    """What paths are worth from n stations with one set of lenses, float32 (n, cells) each.

    - ``point``: quality q of a frame at the cell.
    - ``reach_from``: L, the best quality along the lane up to the cell.
    - ``missed_from``: P - R, how much better the lane was before the cell than it is from there on.
    - ``gaps``: the paths for which that is too much.
    """

    point: Float32Array
    reach_from: Float32Array
    missed_from: Float32Array
    gaps: Gaps = NO_GAPS

    @staticmethod
    def of(quality: NDArray[np.floating], *, lanes: int = Y_YD.size) -> PathQuality:
        """Return both matrices of a quality by station and cell, shape (n, x cells * lanes)."""
        point = np.ascontiguousarray(quality, dtype=np.float32)
        along = point.reshape(point.shape[0], -1, lanes)
        before, after = np.empty_like(along), np.empty_like(along)
        for first in range(0, len(along), _STATIONS_AT_ONCE):
            some = slice(first, first + _STATIONS_AT_ONCE)
            # Both ways at once, and what is compared lies together.
            rows = np.empty((along.shape[1], 2, *along[some, 0].shape), dtype=np.float32)
            rows[:, 0] = rows[::-1, 1] = np.swapaxes(along[some], 0, 1)
            for last, row in pairwise(rows):
                np.maximum(row, last, out=row)
            before[some] = np.swapaxes(rows[:, 0], 0, 1)
            after[some] = np.swapaxes(rows[::-1, 1], 0, 1)
        gaps = Gaps.of(along, before, after)
        missed = np.subtract(before[:, -1:], after, out=after)
        return PathQuality(point, before.reshape(point.shape), missed.reshape(point.shape), gaps)

    def expected(self, paths: PathMasses) -> Float32Array:
        """Return the expected best quality of the paths of m situations, shape (m, n)."""
        # Plays of one part of the field leave the rest empty, and out of reach of many stations.
        rows = paths.filled_x
        cells = slice(rows.start * Y_YD.size, rows.stop * Y_YD.size)
        value = np.zeros((len(paths), len(self.point)), dtype=np.float32)
        here = self._reaching(cells)
        np.matmul(paths.ends[:, cells], self.reach_from[here, cells].T, out=value[:, here])
        value[:, here] -= paths.starts[:, cells] @ self.missed_from[here, cells].T
        self.gaps.take_off(value, paths)
        return np.maximum(value, np.float32(0), out=value)

    def _reaching(self, cells: slice) -> slice:
        """Return the stations from the first to the last that have anything of some rows."""
        peak, before = self.reach_from[:, -Y_YD.size :], self.reach_from[:, : cells.stop]
        from_here_on = peak > self.missed_from[:, cells.start : cells.start + Y_YD.size]
        found = np.flatnonzero((from_here_on & (before[:, -Y_YD.size :] > 0)).any(axis=1))
        # Whole blocks of a product, whose sums are added up alike with the rest and without.
        return (
            slice(found[0] & -_BLOCK, (found[-1] | _BLOCK - 1) + 1) if found.size else slice(0, 0)
        )

    def had_by_start(self, stations: IntArray, yardline_100: IntArray) -> Float32Array:
        """Return the expected best quality of paths by how they start and where they end.

        - ``stations``: rows of the matrices, shape (m,).
        - ``yardline_100``: line of scrimmage for each, shape (m,).

        The result: (m, 3, 121, 18) as `lensyard.model.cells.masses_by_start`, in [0, 1]; a catch is
        averaged over where such catches are.
        """
        shape = (len(yardline_100), X_YD.size, Y_YD.size)
        reach = self.reach_from[stations].reshape(shape)
        missed = self.missed_from[stations].reshape(shape)
        had = np.repeat(reach[:, np.newaxis], 3, axis=1)
        had[:, POINT] -= missed
        had[:, CARRY] -= missed[np.arange(shape[0]), GOAL_X - yardline_100][:, np.newaxis]
        for line in np.unique(yardline_100):
            some = yardline_100 == line
            had[some, CATCH] -= starts_of_catches(int(line)) @ missed[some]
        gaps = self.gaps
        for row in np.flatnonzero(np.isin(stations, gaps.station)).tolist():
            at = gaps.of_station(int(stations[row]))
            much = p_start(int(yardline_100[row]), gaps.start[at], gaps.end[at]) * gaps.excess[at]
            for kind in range(3):
                np.subtract.at(had[row, kind], (gaps.end[at], gaps.lane[at]), much[kind])
        return np.clip(had, 0.0, 1.0, out=had)


def flat(cells: AnyArray) -> AnyArray:
    """Return cells of the field in one row, from shape (..., 121, 18) to (..., 121 * 18)."""
    return cells.reshape(*cells.shape[:-2], -1)


class Scorer(ArrayRecord):
    """What each station can photograph, for one venue, kit, direction and kind of faces.

    - ``perimeter``, ``kit``, ``direction``, ``faces``, ``facing_limit_deg``: what it belongs to.
    """

    perimeter: Perimeter
    kit: Kit
    direction: Direction = Direction.TOWARD_B
    faces: Faces = Faces.OFFENSE
    facing_limit_deg: float = FACING_LIMIT_DEG

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
    def open(self) -> BoolArray:
        """Whether each station is a spot, shape (n,).

        One may shoot from there, and no goal-post support stands in the way.
        """
        crowded = crowded_by_a_post(self.perimeter, stations=self.stations)
        spots: BoolArray = self.perimeter.open[self.stations] & ~crowded
        return spots

    @cached_property
    def xy_yd(self) -> tuple[FloatArray, FloatArray]:
        """Places of the stations in the play frame, two arrays of shape (n,). [yd]"""
        x, y = self.perimeter.play_xy_yd(self.direction)
        return x[self.stations], y[self.stations]

    def label(self, station_index: int) -> str:
        """Return a station's name: the venue's where it names its sides, else the offense's."""
        x, y = (float(axis[station_index]) for axis in self.xy_yd)
        return spot_label(x_yd=x, y_yd=y, names=self._names)

    @cached_property
    def _names(self) -> SideNames | None:
        return self.perimeter.venue.names(self.direction)

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
            cell_x_yd=X_YD[:, np.newaxis],
            cell_y_yd=Y_YD[np.newaxis, :],
            direction=self.direction,
            faces=self.faces,
            facing_limit_deg=self.facing_limit_deg,
        )

    @cached_property
    def paths(self) -> list[PathQuality]:
        """What paths are worth from each station with each set of lenses at hand."""
        return [self._paths_with(lens_set) for lens_set in self.kit.lens_sets]

    @cached_property
    def at_hand(self) -> BoolArray:
        """Whether each lens of the kit is in each set that can be at hand, shape (h, lenses)."""
        return np.array([[m in some for m in self.kit.mounted] for some in self.kit.lens_sets])

    def _paths_with(self, lens_set: tuple[Mounted, ...]) -> PathQuality:
        quality = self.geometry.quality(self.kit, lens_set)
        quality[~self.open] = 0.0
        return PathQuality.of(quality)

    def expected_value(self, paths: PathMasses) -> Float32Array:
        """Return what m situations are worth with the best lenses at hand for each, (m, n)."""
        best: Float32Array = self.expected_value_by_lens_set(paths).max(axis=0)
        return best

    def expected_value_by_lens_set(self, paths: PathMasses) -> Float32Array:
        """Return what they are worth with each set of lenses at hand, shape (h, m, n)."""
        return np.stack([of.expected(paths) for of in self.paths])

    def showing(self, faces: Faces) -> Scorer:
        """Return the same stations by whose faces count."""
        if faces is self.faces:
            return self
        return shared_scorer(self.perimeter, self.kit, self.direction, faces, self.facing_limit_deg)

    def run_out_exposure(self, mass: Float32Array, stations: IntArray | None = None) -> FloatArray:
        """Return for one situation P(the play runs out at the station), shape (n,).

        ``mass`` is that of its ends, shape (121, 18); ``stations`` asks for some, in their order.
        """
        cells = self.run_out_cells(stations)
        exposure: FloatArray = (cells.reshape(len(cells), -1) @ mass.ravel()).astype(np.float64)
        return exposure

    def run_out_cells(self, stations: IntArray | None = None) -> Float32Array:
        """Return how often a play that ends in a cell counts as run out, shape (n, 121, 18).

        On a sideline: it goes out of bounds within 5 yd along the edge. Behind an end line: it
        ends in that end zone within 5 yd across the field. Twice where both hold at a corner.
        """
        x, y = self.xy_yd if stations is None else (of[stations] for of in self.xy_yd)
        cells = np.zeros((x.size, X_YD.size, Y_YD.size), dtype=np.float32)
        along = np.abs(x[:, None] - X_YD) <= RUN_OUT_WITHIN_YD
        across = np.abs(y[:, None, None] - Y_YD) <= RUN_OUT_WITHIN_YD
        for column, on_side in ((0, y < 0), (Y_YD.size - 1, y > FIELD_WIDTH_YD)):
            cells[:, :, column] += along & on_side[:, None]
        for rows, behind in ((X_YD > 110, x > FIELD_LENGTH_YD), (X_YD < 10, x < 0)):
            cells[:, rows] += across & behind[:, None, None]
        return cells


@lru_cache(maxsize=8)
def shared_scorer(
    perimeter: Perimeter,
    kit: Kit,
    direction: Direction,
    faces: Faces,
    facing_limit_deg: float = FACING_LIMIT_DEG,
) -> Scorer:
    """Return the scorer that everybody shares who asks for the same; not to be changed.

    The last few are kept: both kinds of faces and both directions of two kits.
    """
    return Scorer(perimeter, kit, direction, faces, facing_limit_deg)


def turned_station_indices(n: int) -> IntArray:
    """Return for each station of one direction the station of the other at the same place.

    A change of possession turns the play frame by 180 degrees: half way round the ring.
    """
    return (np.arange(n) + n // 2) % n
