r"""What many situations are worth from every station, without their masses by cell.

A `Scorer` multiplies the mass of a situation in every cell with what stations have of the cell.
Situations of one line of scrimmage and hash mark share where across the field each kind of play
ends, so for them the sum over lanes can be taken first. With ``F`` a situation's probabilities of
kind and yards (`lensyard.model.cells.JointOutcome`), lanes ``l`` given kind and yards, and for the
three ways in which a path starts (symbols of `lensyard.spots.scorer`)

===========  =============================================================
``POINT``    ``q(x, y)``
``CARRY``    ``L(x, y) - M(line, y)``, with ``M = P - R``
``CATCH``    ``L(x, y) - sum over s of P(caught at s | ended at x) M(s, y)``
===========  =============================================================

without what that is too much in gaps (`lensyard.spots.scorer.Gaps`), a table
``T(kind and yards, station) = sum over y of l(y) * one of these`` belongs to the line and the hash
mark, and the value is ``F w T`` with the weights ``w`` of kind and yards: some 400 columns in place
of two masses in 2,178 cells, and equal but for the order of the sums.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from lensyard.arrays import Float32Array, IntArray
from lensyard.domain.assignment import USABLE_WEIGHTS, OutcomeWeights
from lensyard.model import outcome_grid as grid
from lensyard.model.cells import (
    CARRIED_AT,
    CARRY,
    CATCH,
    COMPLETE_AT,
    FIRST_GAIN,
    NOT_CAUGHT,
    WeightedSides,
    ball_lanes,
    drop_back_x,
    starts_of_catches,
    weighted_sides,
)
from lensyard.model.lateral import LateralPrior
from lensyard.model.outcome import Forecast, lengths_to_goal, weight_of_chances
from lensyard.model.paths import p_start
from lensyard.records import ArrayRecord
from lensyard.running import checkpoint
from lensyard.spots.scorer import Gaps, PathQuality, Scorer


def expected_values(
    scorer: Scorer,
    forecast: Forecast,
    prior: LateralPrior,
    *weights: OutcomeWeights,
    tables: StationTables | None = None,
    one_by_one: bool = False,
) -> Float32Array:
    """Return what m situations are worth with the best lenses at hand, for w sets of weights.

    Shape (w, m, n); as `Scorer.expected_value` of their masses. ``tables``, ``one_by_one``: as in
    `path_values`.
    """
    tables = tables or StationTables(scorer.paths, prior)
    found: Float32Array = path_values(
        tables, forecast, *weights, one_by_one=one_by_one, best_only=True
    )[0]
    return found


def path_values(
    tables: StationTables,
    forecast: Forecast,
    *weights: OutcomeWeights,
    one_by_one: bool = False,
    best_only: bool = False,
) -> Float32Array:
    """Return what m situations are worth by each of p qualities of paths, for w sets of weights.

    Shape (p, w, m, n), or with ``best_only`` (1, w, m, n); as `PathQuality.expected` of their
    masses. ``one_by_one``: add the numbers of each situation up as if it were the only one; it
    takes longer, and results differ in the last bits.
    """
    shape = (1 if best_only else len(tables.fields), len(weights), len(forecast), tables.n)
    found = np.zeros(shape, np.float32)
    for chances in forecast.by_line:
        checkpoint()
        line, hash_code = chances.yardline_100, chances.hash_code
        by_weight = [chances.p * weight_of_chances(one, line) for one in weights]
        for code, of_code in tables.at(line, np.unique(hash_code).tolist()).items():
            some = np.flatnonzero(hash_code == code)
            rows, p_drop_back = chances.rows[some, np.newaxis], chances.p_drop_back[some]
            for p, of in enumerate(of_code):
                for w, weighted in enumerate(by_weight):
                    if one_by_one:
                        value = np.matmul(weighted[some, np.newaxis], of.table)[:, 0]
                    else:
                        value = weighted[some] @ of.table
                    if weights[w].drop_back:
                        face = p_drop_back[:, np.newaxis] * of.drop_back
                        value += np.float32(weights[w].drop_back) * face
                    into, at = found[0 if best_only else p, w], (rows, of.stations)
                    into[at] = np.maximum(value, into[at] if best_only and p else np.float32(0))
    return found


class StationTable(ArrayRecord):
    """What k stations have of paths from one line of scrimmage and hash mark.

    - ``stations``: which of all they are, (k,); the others have nothing
    - ``table``: of each column of `LineChances`, shape (c, k)
    - ``drop_back``: of the quarterback where he sets up, shape (k,)
    """

    stations: IntArray
    table: Float32Array
    drop_back: Float32Array


class StationTables:
    """What stations have of paths by line of scrimmage and hash mark, for p qualities of paths.

    ``hash_codes``: of which tables are made together, and kept; by default they are made anew each
    time.
    """

    def __init__(
        self, paths: Sequence[PathQuality], prior: LateralPrior, hash_codes: Sequence[int] = ()
    ) -> None:
        self.n, self.hash_codes, self._prior = len(paths[0].point), hash_codes, prior
        self.fields = [_Field.of(path) for path in paths]
        self._lanes = ball_lanes(prior).astype(np.float32)
        self._kept: dict[tuple[int, int], list[StationTable]] = {}

    def at(self, line: int, hash_codes: Sequence[int]) -> dict[int, list[StationTable]]:
        """Return the tables of each of the qualities, by hash code."""
        found = {code: self._kept.get((line, code), []) for code in hash_codes}
        if not all(found.values()):
            fields = [field.at_line(line) for field in self.fields]
            sides = weighted_sides(self._prior.at_line(line), _PLAIN)
            made = {
                code: [
                    StationTable(
                        field.stations,
                        at_line.table(sides, code),
                        self._lanes[code] @ at_line.drop_back,
                    )
                    for field, at_line in zip(self.fields, fields, strict=True)
                ]
                for code in self.hash_codes or hash_codes
            }
            if self.hash_codes:
                self._kept |= {(line, code): tables for code, tables in made.items()}
            found = {code: made[code] for code in hash_codes}
        return found


_PLAIN = (USABLE_WEIGHTS,)


class _Field(ArrayRecord):
    """Qualities of paths by place, of the k stations that have any: (121, 18, k) each."""

    stations: IntArray
    point: Float32Array
    reach_from: Float32Array
    missed_from: Float32Array
    gaps: Gaps

    @staticmethod
    def of(path: PathQuality) -> _Field:
        """Lay the places first, so that a lane's stations lie together."""
        stations = np.flatnonzero(path.reach_from.any(axis=1))
        if not stations.size:
            stations = np.zeros(1, dtype=np.int64)  # nothing is in reach from anywhere
        shape = (stations.size, grid.N_X, grid.N_Y)
        point, reach, missed = (
            np.ascontiguousarray(np.moveaxis(of[stations].reshape(shape), 0, 2))
            for of in (path.point, path.reach_from, path.missed_from)
        )
        gaps = replace(path.gaps, station=np.searchsorted(stations, path.gaps.station))
        return _Field(stations, point, reach, missed, gaps)

    def at_line(self, line: int) -> _AtLine:
        """Return the qualities of paths from one line of scrimmage."""
        x0, (gains, depths) = grid.GOAL_X - line, lengths_to_goal(line)
        ends = np.maximum(x0 + grid.GAINS_YD[:gains], 0)
        first, stop = int(ends[0]), grid.CARRIED_IN_X + 1
        lanes = self.missed_from.shape[1:]
        caught_at = starts_of_catches(line)[first:stop, first:stop]
        caught = self.reach_from[first:stop].copy()
        if self.missed_from[-1].any():  # it grows along a lane
            missed = caught_at @ self.missed_from[first:stop].reshape(stop - first, -1)
            caught -= missed.reshape(-1, *lanes)
        carried = self.reach_from[x0:stop] - self.missed_from[x0]
        gaps = self.gaps
        if gaps.station.size:
            much = p_start(line, gaps.start, gaps.end) * gaps.excess
            for kind, kept, low in ((CARRY, carried, x0), (CATCH, caught, first)):
                some = np.flatnonzero((much[kind] > 0) & (gaps.end >= low) & (gaps.end < stop))
                at = gaps.end[some] - low, gaps.lane[some], gaps.station[some]
                np.subtract.at(kept, at, much[kind][some])
        thrown = slice(x0 + grid.AIR_MIN_YD, x0 + grid.AIR_MIN_YD + depths)
        return _AtLine(
            line=line,
            lost=self.point[ends[:FIRST_GAIN]],
            carried=carried[1 : grid.GOAL_X - x0],
            caught=caught[ends - first],
            thrown=self.point[thrown],
            carried_in=carried[-1],
            run_in=caught[-1],
            deep=self.point[grid.DEEP_X].sum(axis=0) / np.float32(grid.N_DEEP),
            drop_back=self.point[drop_back_x(line)],
        )


class _AtLine(ArrayRecord):
    """Qualities of paths from one line of scrimmage, by yards, lane and station: (y, 18, k).

    ``lost``: points, of what gains nothing; ``carried``, ``caught``: by gain; ``thrown``: points,
    by yards in the air. Without the first axis: ``carried_in`` and ``run_in`` of touchdowns;
    ``deep``: points in the end zone; ``drop_back``: points where the quarterback sets up.
    """

    line: int
    lost: Float32Array
    carried: Float32Array
    caught: Float32Array
    thrown: Float32Array
    carried_in: Float32Array
    run_in: Float32Array
    deep: Float32Array
    drop_back: Float32Array

    def table(self, sides: WeightedSides, hash_code: int) -> Float32Array:
        """Return what stations have of each of column of `LineChances`, shape (c, k)."""
        gains, depths = lengths_to_goal(self.line)
        gain, air = sides.gain[hash_code], sides.air[hash_code]
        at_goal = sides.touchdown[hash_code, gains]
        deepest = min(self.line, grid.AIR_MAX_YD) - grid.AIR_MIN_YD
        parts = (
            np.matmul(gain[:FIRST_GAIN, NOT_CAUGHT], self.lost),
            np.matmul(gain[FIRST_GAIN:gains, CARRIED_AT], self.carried),
            np.matmul(gain[:gains, COMPLETE_AT, np.newaxis], self.caught),
            np.matmul(air[:depths], self.thrown),
            at_goal[NOT_CAUGHT] @ self.carried_in,
            at_goal[COMPLETE_AT] @ self.run_in,
            sides.caught[hash_code, deepest] @ self.deep,
            air[deepest] @ self.deep,
        )
        return np.concatenate([part.reshape(-1, part.shape[-1]) for part in parts])
