"""The outcome model: what a play is likely to be and where it is likely to end.

For a situation it answers the probability of each kind of play, how far each kind gains, how deep
an incompletion comes down, and how the drive ends. It holds nothing but tables
(`lensyard.model.tables`) and needs nothing but NumPy. It was fitted on professional games unless
its manifest says otherwise, and knows no clubs.

Conventions: a gain equal to ``yardline_100`` is a touchdown; a gain of ``yardline_100 - 100`` ends
at or behind the own goal line (a safety); gains beyond `GAIN_MIN_YD` behind the line count as
that. Yards in the air run from the own goal line to the back of the other end zone.

Plays from one line of scrimmage have the same columns (`LineChances.p`), and so have the weights of
an assignment (`weight_of_chances`) and what stations have of them (`lensyard.spots.path_values`).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from functools import cached_property, lru_cache
from typing import TYPE_CHECKING, Final

import numpy as np

from lensyard.arrays import AnyArray, Float32Array, FloatArray, IntArray
from lensyard.domain.assignment import OutcomeWeights
from lensyard.domain.situation import SituationBatch
from lensyard.model import outcome_grid as grid
from lensyard.model.cells import (
    CARRIED_AT,
    COMPLETE_AT,
    FIRST_GAIN,
    NOT_CAUGHT,
    JointOutcome,
    gain_weights,
    masses_by_start,
)
from lensyard.model.lateral import LateralPrior
from lensyard.model.outcome_grid import AXES, StateGrid, axis_codes, distinct_states
from lensyard.model.paths import PathMasses, path_masses
from lensyard.model.tables import (
    ClassTables,
    HazardTables,
    field_bounds,
    lengths_pmf,
    plain_table,
    terms_of,
)
from lensyard.records import ArrayRecord

if TYPE_CHECKING:
    from lensyard.model.artifact import ModelManifest

_NO_GAIN: Final = -grid.GAIN_MIN_YD
_CHUNK: Final = 256
BLOCK = 8000
"""Situations at a time, and those of the last one's line of scrimmage. [plays]"""
_YARDLINES: Final = np.arange(1, 100)

SHORTEST_GAIN_YD: Final = np.maximum(grid.GAIN_MIN_YD, _YARDLINES - 100)
"""By `yardline_100` 1 to 99: the gain that ends at the own goal line, or `GAIN_MIN_YD`."""


def gains_of_kind(kind: str) -> IntArray:
    """Return the gains that a kind of play can have, the first part of `GAINS_YD`. [yd]"""
    return grid.GAINS_YD[: _NO_GAIN + 1] if kind == "sack" else grid.GAINS_YD


def gain_bounds(kind: str) -> FloatArray:
    """Return the bounds of a kind's gains by yard line, shape (99, G)."""
    longest = np.minimum(_YARDLINES, gains_of_kind(kind)[-1])
    return field_bounds(grid.GAINS_YD, shortest=SHORTEST_GAIN_YD, longest=longest)


def air_bounds() -> FloatArray:
    """Return the bounds of yards in the air by yard line, shape (99, A)."""
    longest = np.minimum(_YARDLINES + grid.END_ZONE_YD, grid.AIR_MAX_YD)
    shortest = np.maximum(grid.AIR_MIN_YD, _YARDLINES - 100)
    return field_bounds(grid.AIR_YD, shortest=shortest, longest=longest)


def drive_outcomes(p_drive_end: FloatArray) -> FloatArray:
    """Return chances of `DRIVE_OUTCOMES`, (n, 5), from those of `DRIVE_ENDS`, (n, 8)."""
    index = [[grid.DRIVE_ENDS.index(end) for end in ends] for ends in grid.DRIVE_OUTCOMES.values()]
    return np.stack([p_drive_end[:, columns].sum(axis=1) for columns in index], axis=1)


class OutcomeModel:
    """Probabilities of what happens on a play, from tables.

    Raises `ModelError` if a table is missing or has another shape than its axes say.
    """

    def __init__(self, arrays: Mapping[str, AnyArray], manifest: ModelManifest) -> None:
        self.arrays = dict(arrays)
        self.manifest = manifest
        self.kind = ClassTables(terms_of(arrays, "kind", len(grid.KINDS)))
        self.drive = ClassTables(terms_of(arrays, "drive", len(grid.DRIVE_ENDS)))
        self.fourth = ClassTables(terms_of(arrays, "fourth", len(grid.FOURTH_DOWN_CHOICES)))
        self.gain = {
            kind: HazardTables(
                terms_of(arrays, f"gain_{kind}", gains_of_kind(kind).shape[0]), gain_bounds(kind)
            )
            for kind in grid.MOVING_KINDS
        }
        air = air_bounds()
        self.air = {
            kind: HazardTables(terms_of(arrays, f"air_{kind}", grid.AIR_YD.shape[0]), air)
            for kind in grid.THROWN_KINDS
        }
        self.p_fumble_lost = plain_table(arrays, "fumble_lost", (len(grid.KINDS),))
        self.p_out = plain_table(
            arrays,
            "out_of_bounds",
            (len(grid.CARRIED_KINDS), AXES["context"].size, grid.GAINS_YD.shape[0]),
        )
        self.comparable = plain_table(
            arrays, "comparable_plays", (StateGrid().size // grid.YARDLINES, grid.YARDLINES)
        )
        self.caught_in_end_zone = plain_table(arrays, "caught_in_end_zone", (99,))
        self.p_field_goal_made = plain_table(arrays, "next_field_goal_made", (99,))

    @property
    def model_id(self) -> str:
        """The id that every answer carries."""
        return self.manifest.model_id

    def forecast(self, batch: SituationBatch) -> Forecast:
        """Return everything that the model says of n situations; hand it on, ask once."""
        return Forecast(self, batch)


class Forecast:
    """What the model says of n situations; every part is computed once, when first asked for.

    Arrays are shared with everybody who holds the forecast: do not change them.
    """

    def __init__(self, model: OutcomeModel, batch: SituationBatch) -> None:
        self.batch = batch
        self._model = model

    def __len__(self) -> int:
        """The number of situations."""
        return len(self.batch)

    def take(self, rows: IntArray) -> Forecast:
        """Return the forecast of the situations at these positions, asked anew."""
        return Forecast(self._model, self.batch.take(rows))

    def alone(self, row: int) -> Forecast:
        """Return the forecast of one situation, with what is known of it already."""
        found = self.take(np.array([row]))
        found.joint = self.joint.take(row)
        return found

    def at_hash(self, hash_code: int) -> Forecast:
        """Return the forecast of the same plays with the ball elsewhere across the field.

        No table of the model asks where, so what is known by line of scrimmage is known there too.
        """
        codes = np.full_like(self.batch.hash_code, hash_code)
        found = Forecast(self._model, replace(self.batch, hash_code=codes))
        found.by_line = tuple(replace(one, hash_code=codes[one.rows]) for one in self.by_line)
        return found

    @cached_property
    def codes(self) -> dict[str, IntArray]:
        """The bin of every situation on every axis of the tables, shape (n,) each."""
        return axis_codes(self.batch)

    @cached_property
    def _states(self) -> tuple[dict[str, IntArray], IntArray | None]:
        """The s distinct states that lengths depend on, and the state of every situation."""
        return distinct_states(self.codes)

    @cached_property
    def _state_pmf(self) -> FloatArray:
        """P(gain | kind) of `MOVING_KINDS` by distinct state, shape (s, 4, G)."""
        return lengths_pmf([self._model.gain[kind] for kind in grid.MOVING_KINDS], self._states[0])

    def _by_situation(self, by_state: FloatArray) -> FloatArray:
        """Return an array by distinct state as one by situation."""
        _, row = self._states
        return by_state if row is None else by_state[row]

    @cached_property
    def p_kind(self) -> FloatArray:
        """P(kind), shape (n, 6) in the order of `KINDS`; rows sum to 1."""
        return self._model.kind.probabilities(self.codes)

    @cached_property
    def kind_gain_pmf(self) -> FloatArray:
        """P(gain | kind), shape (n, 6, G) over `GAINS_YD`; every row sums to 1."""
        pmf = np.zeros((self._state_pmf.shape[0], len(grid.KINDS), grid.GAINS_YD.shape[0]))
        pmf[:, :, _NO_GAIN] = 1.0
        pmf[:, grid.GAIN_KINDS] = self._state_pmf
        return self._by_situation(pmf)

    @cached_property
    def gain_pmf(self) -> FloatArray:
        """P(gain) over all kinds, shape (n, G) over `GAINS_YD`; rows sum to 1."""
        pmf, (_, row) = self._state_pmf, self._states
        moving = np.ascontiguousarray(self.p_kind[:, grid.GAIN_KINDS])
        mixture: FloatArray
        if row is None:
            mixture = np.matmul(moving[:, None, :], pmf)[:, 0]
        else:
            mixture = np.empty((len(self), grid.GAINS_YD.shape[0]))
            buffer = np.empty((_CHUNK, *pmf.shape[1:]))
            for start in range(0, len(self), _CHUNK):
                part = slice(start, min(start + _CHUNK, len(self)))
                rows = buffer[: part.stop - start]
                np.take(pmf, row[part], axis=0, out=rows, mode="clip")
                np.matmul(moving[part, None, :], rows, out=mixture[part, None, :])
        mixture[:, _NO_GAIN] += 1.0 - moving.sum(axis=1)
        return mixture

    @cached_property
    def air_pmf(self) -> FloatArray:
        """P(yards in the air | kind), shape (n, 2, A) over `AIR_YD` and `THROWN_KINDS`.

        Where an incompletion came down or an interception was caught; nothing lies beyond the
        back of the end zone, where deeper throws are counted.
        """
        air = self._model.air
        by_state = lengths_pmf([air[kind] for kind in grid.THROWN_KINDS], self._states[0])
        return self._by_situation(by_state)

    @cached_property
    def joint(self) -> JointOutcome:
        """Kind and place along the field in one distribution: what the cells are made of."""
        gain = self._by_situation(self._state_pmf.astype(np.float32))
        return JointOutcome.of(
            self.batch,
            p_kind=self.p_kind,
            gain_pmf=gain,
            air_pmf=self.air_pmf,
            p_caught_in_end_zone=self.p_caught_in_end_zone,
        )

    @cached_property
    def by_line(self) -> tuple[LineChances, ...]:
        """P(kind and yards) of all situations, by line of scrimmage."""
        return tuple(chances_by_line(self))

    def cells(self, prior: LateralPrior, *weights: OutcomeWeights) -> list[PathMasses]:
        """Return the paths of all situations for each set of weights."""
        return path_masses(self.joint, prior, weights=weights)

    def cells_by_start(self, prior: LateralPrior, *weights: OutcomeWeights) -> Float32Array:
        """Return where paths end by how they start, shape (w, n, 3, 121, 18)."""
        return masses_by_start(self.joint, prior, weights=weights)

    @property
    def p_caught_in_end_zone(self) -> FloatArray:
        """The share of touchdown catches that are made in the end zone, shape (n,)."""
        return self._model.caught_in_end_zone[self.batch.yardline_100 - 1]

    @property
    def p_touchdown(self) -> FloatArray:
        """P(the offense scores a touchdown on this play), shape (n,)."""
        return self.gain_pmf[np.arange(len(self)), self.batch.yardline_100 + _NO_GAIN]

    @cached_property
    def p_first_down(self) -> FloatArray:
        """P(the play makes the line to gain and the offense keeps the ball), shape (n,)."""
        distance = np.minimum(self.batch.distance_yd, self.batch.yardline_100)
        enough = grid.GAINS_YD[None, :] >= distance[:, None]
        pmf, moving = self._by_situation(self._state_pmf), list(grid.GAIN_KINDS)
        made = np.einsum("nkg,ng->nk", pmf, enough.astype(np.float64))
        kept = 1.0 - self._model.p_fumble_lost[moving]
        return np.asarray((self.p_kind[:, moving] * made * kept).sum(axis=1))

    @property
    def p_turnover(self) -> FloatArray:
        """P(interception or fumble lost), shape (n,)."""
        fumbled = self.p_kind @ self._model.p_fumble_lost
        return np.asarray(fumbled + self.p_kind[:, grid.INTERCEPTION])

    @cached_property
    def p_out_of_bounds(self) -> FloatArray:
        """P(the ball carrier goes out of bounds short of the goal line), shape (n,)."""
        states, _ = self._states
        short = grid.GAINS_YD[None, :] < states["yardline"][:, None] + 1
        total = np.zeros(len(self))
        for index, kind in enumerate(grid.CARRIED_KINDS):
            share = self._model.p_out[index, states["context"]] * short
            pmf = self._state_pmf[:, grid.MOVING_KINDS.index(kind)]
            part = np.einsum("sg,sg->s", pmf, share)
            total += self.p_kind[:, grid.KINDS.index(kind)] * self._by_situation(part)
        return total

    @property
    def p_pass(self) -> FloatArray:
        """P(the ball is thrown), shape (n,); sacks and scrambles are not throws."""
        thrown = [grid.KINDS.index(kind) for kind in ("complete", *grid.THROWN_KINDS)]
        return np.asarray(self.p_kind[:, thrown].sum(axis=1))

    @cached_property
    def p_drive_end_going(self) -> FloatArray:
        """How the drive ends if this snap is no kick, shape (n, 8) in the order of `DRIVE_ENDS`."""
        return self._model.drive.probabilities(self.codes)

    @cached_property
    def p_drive_end(self) -> FloatArray:
        """How the drive ends, shape (n, 8) in the order of `DRIVE_ENDS`; rows sum to 1.

        On fourth down a mixture: of going for it, of the punt, and of the field goal, which is
        made as often as from this yard line.
        """
        ends = self.p_drive_end_going
        fourth = np.flatnonzero(self.batch.down == 4)
        if fourth.shape[0] == 0:
            return ends
        go, punt, kick = self.p_fourth_down_choice[fourth].T
        made = kick * self._model.p_field_goal_made[self.batch.yardline_100[fourth] - 1]
        mixed = ends.copy()
        mixed[fourth] *= go[:, None]
        kicked = {"punt": punt, "field_goal": made, "missed_field_goal": kick - made}
        for end, p in kicked.items():
            mixed[fourth, grid.DRIVE_ENDS.index(end)] += p
        return mixed

    @property
    def p_drive_outcome(self) -> FloatArray:
        """How the drive ends as people are told, shape (n, 5) in the order of `DRIVE_OUTCOMES`."""
        return drive_outcomes(self.p_drive_end)

    @cached_property
    def p_fourth_down_choice(self) -> FloatArray:
        """P(go, punt, kick) as if it were fourth down, shape (n, 3)."""
        return self._model.fourth.probabilities(self.codes)

    @property
    def comparable_plays(self) -> FloatArray:
        """How many fitted plays are comparable: same down and band, within 5 yd; shape (n,)."""
        return self._model.comparable.reshape(-1)[StateGrid.index_of(self.batch)]


class LineChances(ArrayRecord):
    """The r situations of a forecast from one line of scrimmage, of m in all.

    - ``rows``: which of the m they are, shape (r,)
    - ``hash_code``: where their ball lies across the field, shape (r,)
    - ``p``: P(kind and yards), float32 (r, c); rows sum to 1. The columns: what gains nothing by
      gain and kind, carries by gain and kind, completions by gain, balls in the air by yards and
      kind, touchdowns carried by kind, passes carried in, caught in the end zone, balls that came
      down there by kind
    - ``p_drop_back``: P(the quarterback drops back), float32 (r,)
    """

    yardline_100: int
    rows: IntArray
    hash_code: IntArray
    p: Float32Array
    p_drop_back: Float32Array


def chances_by_line(forecast: Forecast) -> Iterator[LineChances]:
    """Yield the situations of a forecast by line of scrimmage."""
    lines = forecast.batch.yardline_100
    order = np.argsort(lines, kind="stable")
    start = 0
    while start < order.size:
        last = lines[order[min(start + BLOCK, order.size) - 1]]
        stop = int(np.searchsorted(lines[order], last, side="right"))
        block = order[start:stop] if stop - start < order.size else np.arange(order.size)
        outcome = (forecast.take(block) if block.size < order.size else forecast).joint
        p_drop_back = outcome.p_drop_back
        for line in np.unique(outcome.yardline_100).tolist():
            here = np.flatnonzero(outcome.yardline_100 == line)
            yield LineChances(
                line,
                block[here],
                outcome.hash_code[here],
                _chances(outcome, here, line),
                p_drop_back[here],
            )
        start = stop


def _chances(outcome: JointOutcome, rows: IntArray, line: int) -> Float32Array:
    """Return the columns of `LineChances` for rows from one line of scrimmage."""
    gains, depths = lengths_to_goal(line)
    gain = np.swapaxes(outcome.gain[rows], 1, 2)
    touchdown = outcome.touchdown[rows]
    in_end_zone = touchdown[:, COMPLETE_AT] * outcome.p_caught[rows]
    parts = (
        gain[:, :FIRST_GAIN, NOT_CAUGHT],
        gain[:, FIRST_GAIN:gains, CARRIED_AT],
        gain[:, :gains, COMPLETE_AT],
        np.swapaxes(outcome.air[rows, :, :depths], 1, 2),
        touchdown[:, NOT_CAUGHT],
        touchdown[:, COMPLETE_AT] - in_end_zone,
        in_end_zone,
        outcome.deep[rows],
    )
    return np.concatenate([part.reshape(rows.size, -1) for part in parts], axis=1)


@lru_cache(maxsize=512)
def weight_of_chances(weights: OutcomeWeights, line: int) -> Float32Array:
    """Return what each column of `LineChances` counts, shape (c,); not to be changed."""
    gains, depths = lengths_to_goal(line)
    gain = gain_weights(weights)
    thrown = (weights.incompletion, weights.interception)
    parts = (
        gain[:FIRST_GAIN, NOT_CAUGHT].ravel(),
        gain[FIRST_GAIN:gains, CARRIED_AT].ravel(),
        gain[:gains, COMPLETE_AT],
        np.tile(thrown, depths),
        np.full(len(NOT_CAUGHT) + 2, weights.touchdown),
        thrown,
    )
    return np.concatenate(parts).astype(np.float32)


def lengths_to_goal(line: int) -> tuple[int, int]:
    """Return how many gains and yards in the air end short of the goal line."""
    return line - grid.GAIN_MIN_YD, min(line, grid.AIR_MAX_YD + 1) - grid.AIR_MIN_YD
