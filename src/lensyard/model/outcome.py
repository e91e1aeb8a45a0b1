"""The outcome model: what a play is likely to be and where it is likely to end.

For a situation it answers the probability of each kind of play, how far each kind gains, how deep
an incompletion comes down, and how the drive ends. It holds nothing but tables
(`lensyard.model.tables`) and needs nothing but NumPy. It was fitted on professional games unless
its manifest says otherwise, and knows no clubs.

Conventions: a gain equal to ``yardline_100`` is a touchdown; a gain of ``yardline_100 - 100`` ends
at or behind the own goal line (a safety); gains beyond `GAIN_MIN_YD` behind the line count as
that. Yards in the air run to the back of the end zone.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

import numpy as np

from lensyard.domain.situation import SituationBatch
from lensyard.errors import ModelError
from lensyard.model.axes import AXES, FloatArray, IntArray, axis_codes, distinct_states
from lensyard.model.manifest import ModelManifest
from lensyard.model.state_grid import YARDLINES, StateGrid
from lensyard.model.tables import AnyArray, ClassTables, HazardTables, field_bounds, terms_of

KINDS: Final = ("run", "complete", "incomplete", "sack", "scramble", "interception")
"""The kinds of play from scrimmage, in the order of every array over kinds."""
MOVING_KINDS: Final = ("run", "complete", "sack", "scramble")
"""The kinds that gain or lose yards; the others end at the line of scrimmage."""
CARRIED_KINDS: Final = ("run", "complete", "scramble")
"""The kinds that can end out of bounds."""
THROWN_KINDS: Final = ("incomplete", "interception")
"""The kinds of which yards in the air are told."""
DRIVE_ENDS: Final = (
    "touchdown",
    "field_goal",
    "missed_field_goal",
    "punt",
    "turnover",
    "downs",
    "safety",
    "end_of_half",
)
FOURTH_DOWN_CHOICES: Final = ("go", "punt", "kick")

GAIN_MIN_YD: Final = -20
GAIN_MAX_YD: Final = 99
GAINS_YD: Final = np.arange(GAIN_MIN_YD, GAIN_MAX_YD + 1)
AIR_MIN_YD: Final = -10
AIR_MAX_YD: Final = 70
AIR_YD: Final = np.arange(AIR_MIN_YD, AIR_MAX_YD + 1)
END_ZONE_YD: Final = 10
_NO_GAIN: Final = -GAIN_MIN_YD
_CHUNK: Final = 256
_YARDLINES: Final = np.arange(1, 100)

SHORTEST_GAIN_YD: Final = np.maximum(GAIN_MIN_YD, _YARDLINES - 100)
"""By `yardline_100` 1 to 99: the gain that ends at the own goal line, or `GAIN_MIN_YD`."""


def gains_of_kind(kind: str) -> IntArray:
    """Return the gains that a kind of play can have, the first part of `GAINS_YD`. [yd]"""
    return GAINS_YD[: _NO_GAIN + 1] if kind == "sack" else GAINS_YD


def gain_bounds(kind: str) -> FloatArray:
    """Return the bounds of a kind's gains by yard line, shape (99, G)."""
    longest = np.minimum(_YARDLINES, gains_of_kind(kind)[-1])
    return field_bounds(GAINS_YD, shortest=SHORTEST_GAIN_YD, longest=longest)


def air_bounds() -> FloatArray:
    """Return the bounds of yards in the air by yard line, shape (99, A)."""
    longest = np.minimum(_YARDLINES + END_ZONE_YD, AIR_MAX_YD)
    return field_bounds(AIR_YD, shortest=np.full(99, AIR_MIN_YD), longest=longest)


class OutcomeModel:
    """Probabilities of what happens on a play, from tables.

    Parameters
    ----------
    arrays
        The tables, by name; see `lensyard.model.artifact` for where they are kept.
    manifest
        What the tables were fitted on.

    Raises
    ------
    ModelError
        If a table is missing or has another shape than its axes say.
    """

    def __init__(self, arrays: Mapping[str, AnyArray], manifest: ModelManifest) -> None:
        self.arrays = dict(arrays)
        self.manifest = manifest
        self.kind = ClassTables(terms_of(arrays, "kind", len(KINDS)))
        self.drive = ClassTables(terms_of(arrays, "drive", len(DRIVE_ENDS)))
        self.fourth = ClassTables(terms_of(arrays, "fourth", len(FOURTH_DOWN_CHOICES)))
        self.gain = {
            kind: HazardTables(
                terms_of(arrays, f"gain_{kind}", gains_of_kind(kind).shape[0]), gain_bounds(kind)
            )
            for kind in MOVING_KINDS
        }
        air = air_bounds()
        self.air = {
            kind: HazardTables(terms_of(arrays, f"air_{kind}", AIR_YD.shape[0]), air)
            for kind in THROWN_KINDS
        }
        self.p_fumble_lost = self._plain("fumble_lost", (len(KINDS),))
        self.p_out = self._plain(
            "out_of_bounds", (len(CARRIED_KINDS), AXES["context"].size, GAINS_YD.shape[0])
        )
        self._comparable = self._plain(
            "comparable_plays", (StateGrid().size // YARDLINES, YARDLINES)
        )
        self._caught = self._plain("caught_in_end_zone", (99,))
        self._caught_depth = self._plain("caught_depth", (END_ZONE_YD + 1,))

    def _plain(self, name: str, shape: tuple[int, ...]) -> FloatArray:
        """Return a table without axes of its own, checked."""
        array = self.arrays.get(name)
        if array is None or array.shape != shape:
            raise ModelError(f"the model lacks table {name!r} of shape {shape}; fit it again")
        return array.astype(np.float64)

    def comparable_plays(self, batch: SituationBatch) -> FloatArray:
        """Return how many fitted plays are comparable: same down and band, within 5 yd; (n,)."""
        state = StateGrid().index_of(batch)
        return self._comparable.reshape(-1)[state]

    @property
    def model_id(self) -> str:
        """The id that every answer carries."""
        return self.manifest.model_id

    def kind_probabilities(self, batch: SituationBatch) -> FloatArray:
        """Return the probability of each kind of play, shape (n, 6) in the order of `KINDS`."""
        return self.kind.probabilities(axis_codes(batch))

    def kind_gain_pmf(self, batch: SituationBatch) -> FloatArray:
        """Return P(gain | kind), shape (n, 6, G) over `GAINS_YD`; every row sums to 1."""
        codes, row = distinct_states(axis_codes(batch))
        pmf = np.zeros((codes["down"].shape[0], len(KINDS), GAINS_YD.shape[0]))
        pmf[:, :, _NO_GAIN] = 1.0
        for kind, tables in self.gain.items():
            index = KINDS.index(kind)
            pmf[:, index, _NO_GAIN] = 0.0
            tables.write_pmf(codes, pmf[:, index])
        return pmf if row is None else pmf[row]

    def gain_pmf(self, batch: SituationBatch) -> FloatArray:
        """Return P(gain) over all kinds, shape (n, G) over `GAINS_YD`; rows sum to 1."""
        codes = axis_codes(batch)
        kinds = self.kind.probabilities(codes)
        states, row = distinct_states(codes)
        pmf = self._moving_pmf(states)
        moving = np.ascontiguousarray(kinds[:, [KINDS.index(kind) for kind in MOVING_KINDS]])
        mixture: FloatArray
        if row is None:
            mixture = np.matmul(moving[:, None, :], pmf)[:, 0]
        else:
            mixture = np.empty((len(batch), GAINS_YD.shape[0]))
            buffer = np.empty((_CHUNK, *pmf.shape[1:]))
            for start in range(0, len(batch), _CHUNK):
                part = slice(start, min(start + _CHUNK, len(batch)))
                rows = buffer[: part.stop - start]
                np.take(pmf, row[part], axis=0, out=rows, mode="clip")
                np.matmul(moving[part, None, :], rows, out=mixture[part, None, :])
        mixture[:, _NO_GAIN] += 1.0 - moving.sum(axis=1)
        return mixture

    def _moving_pmf(self, states: dict[str, IntArray]) -> FloatArray:
        """Return P(gain | kind) of `MOVING_KINDS`, shape (s, 4, G)."""
        pmf = np.zeros((states["down"].shape[0], len(MOVING_KINDS), GAINS_YD.shape[0]))
        for index, kind in enumerate(MOVING_KINDS):
            self.gain[kind].write_pmf(states, pmf[:, index])
        return pmf

    def air_pmf(self, batch: SituationBatch) -> FloatArray:
        """Return P(yards in the air | kind), shape (n, 2, A) over `AIR_YD` and `THROWN_KINDS`.

        Where an incompletion came down or an interception was caught; nothing lies beyond the
        back of the end zone, where deeper throws are counted.
        """
        codes, row = distinct_states(axis_codes(batch))
        pmf = np.stack([self.air[kind].pmf(codes) for kind in THROWN_KINDS], axis=1)
        return pmf if row is None else pmf[row]

    def p_caught_in_end_zone(self, batch: SituationBatch) -> FloatArray:
        """Return the share of touchdown catches that are made in the end zone, shape (n,)."""
        return self._caught[batch.yardline_100 - 1]

    def end_zone_depth_pmf(self) -> FloatArray:
        """Return how far behind the goal line such catches are made, 0 to 10 yd, shape (11,)."""
        return self._caught_depth.copy()

    def p_gain_at_least(self, batch: SituationBatch, yards_yd: IntArray | int) -> FloatArray:
        """Return P(gain >= yards), shape (n,); a touchdown gains ``yardline_100``. [yd]"""
        wanted = np.broadcast_to(np.asarray(yards_yd), (len(batch),))
        enough = GAINS_YD[None, :] >= wanted[:, None]
        return np.asarray((self.gain_pmf(batch) * enough).sum(axis=1))

    def p_touchdown(self, batch: SituationBatch) -> FloatArray:
        """Return P(the offense scores a touchdown on this play), shape (n,)."""
        return self.gain_pmf(batch)[np.arange(len(batch)), batch.yardline_100 + _NO_GAIN]

    def p_first_down(self, batch: SituationBatch) -> FloatArray:
        """Return P(the play makes the line to gain and the offense keeps the ball), shape (n,)."""
        distance = np.minimum(batch.distance_yd, batch.yardline_100)
        enough = GAINS_YD[None, :] >= distance[:, None]
        kinds = self.kind_probabilities(batch)
        made = np.einsum("nkg,ng->nk", self.kind_gain_pmf(batch), enough.astype(np.float64))
        return np.asarray((kinds * made * (1.0 - self.p_fumble_lost)).sum(axis=1))

    def p_turnover(self, batch: SituationBatch) -> FloatArray:
        """Return P(interception or fumble lost), shape (n,)."""
        kinds = self.kind_probabilities(batch)
        fumbled = kinds @ self.p_fumble_lost
        return np.asarray(fumbled + kinds[:, KINDS.index("interception")])

    def p_out_of_bounds(self, batch: SituationBatch) -> FloatArray:
        """Return P(the ball carrier goes out of bounds short of the goal line), shape (n,)."""
        codes = axis_codes(batch)
        kinds = self.kind.probabilities(codes)
        states, row = distinct_states(codes)
        short = GAINS_YD[None, :] < states["yardline"][:, None] + 1
        total = np.zeros(len(batch))
        for index, kind in enumerate(CARRIED_KINDS):
            share = self.p_out[index, states["context"]] * short
            part = np.einsum("sg,sg->s", self.gain[kind].pmf(states), share)
            total += kinds[:, KINDS.index(kind)] * (part if row is None else part[row])
        return total

    def p_pass(self, batch: SituationBatch) -> FloatArray:
        """Return P(the ball is thrown), shape (n,); sacks and scrambles are not throws."""
        kinds = self.kind_probabilities(batch)
        thrown = [KINDS.index(kind) for kind in ("complete", *THROWN_KINDS)]
        return np.asarray(kinds[:, thrown].sum(axis=1))

    def drive_end(self, batch: SituationBatch) -> FloatArray:
        """Return how the drive ends, shape (n, 8) in the order of `DRIVE_ENDS`."""
        return self.drive.probabilities(axis_codes(batch))

    def fourth_down_decision(self, batch: SituationBatch) -> FloatArray:
        """Return P(go, punt, kick) as if it were fourth down, shape (n, 3)."""
        return self.fourth.probabilities(axis_codes(batch))
