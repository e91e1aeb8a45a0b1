"""From one snap to the next: who has the ball, where, on which down and how far.

A snap is run, pass, sack or scramble, a punt or a field-goal attempt. Penalties that wipe out a
play, kneels, spikes, tries and kickoffs lie between snaps. The matrices are not stored: they are
computed from the outcome model's distribution of gains, a table of what penalties do, the choice
on fourth down, and where possessions start after a kick or a turnover (arrays named ``next_*``,
fitted by `lensyard.model.fitting.transitions`).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from lensyard.domain.situation import SituationBatch
from lensyard.errors import ModelError
from lensyard.model.axes import axis_codes
from lensyard.model.outcome import OutcomeModel
from lensyard.model.outcome_grid import (
    FOURTH_DOWN_CHOICES,
    GAINS_YD,
    KINDS,
    MOVING_KINDS,
    YARDLINES,
    FloatArray,
    IntArray,
)
from lensyard.model.state_grid import FIRST_DOWN_BANDS, StateGrid, state_index
from lensyard.model.tables import ClassTables, HazardTables, terms_of

Float32Array = NDArray[np.float32]

# (yards toward the opponent's goal, whether it makes a first down): what penalties between two
# snaps do to the situation. The first is no penalty.
PENALTY_MOVES: Final = (
    (0, False),
    (-5, False),
    (-10, False),
    (-15, False),
    (-20, False),
    (5, False),
    (0, True),
    (3, True),
    (5, True),
    (8, True),
    (10, True),
    (15, True),
    (22, True),
    (35, True),
    (-10, True),
)
PENALTY_ZONE_EDGES_YD: Final = np.array([1, 6, 21])
"""Flags by yards to the goal line: near it far more of them bring a first down."""
LONGEST_WALKED_OFF_YD: Final = 15
FIELD_GOAL_SPOT_YD: Final = 7
"""The ball goes over where a missed field goal was kicked, so far behind the line. [yd]"""
TOUCHBACK_YARDLINE_100: Final = 80
_PLAIN: Final = {
    "next_end": (4, 99),
    "next_distance": (4, 30),
    "next_context": None,
    "next_penalty": (3, 4, len(PENALTY_MOVES)),
    "next_opening": (len(FIRST_DOWN_BANDS),),
    "next_fumble_lost": (len(KINDS),),
    "next_punt": (99, 99),
    "next_punt_kept": (),
    "next_punt_touchdown": (),
    "next_interception": (99, 99),
    "next_interception_touchdown": (),
    "next_fumble": (99, 99),
    "next_fumble_touchdown": (),
    "next_field_goal_made": (99,),
    "next_kickoff": (99,),
    "next_kickoff_kept": (),
    "next_kickoff_touchdown": (),
    "next_free_kick": (99,),
}


@dataclass(frozen=True, slots=True)
class SnapOutcomes:
    """What a snap leads to from every state, before the end of a half is taken into account.

    Attributes
    ----------
    kept, lost
        P(next snap without a score in between), same offense or the other's, shape (S, S).
    p_touchdown, p_field_goal, p_safety, p_return_touchdown
        Scores by the offense, and by the defense, shape (S,).
    p_end
        P(no further snap in this half), shape (S,); independent of the rest.
    """

    kept: FloatArray
    lost: FloatArray
    p_touchdown: FloatArray
    p_field_goal: FloatArray
    p_safety: FloatArray
    p_return_touchdown: FloatArray
    p_end: FloatArray


class TransitionModel:
    """Transitions between the states of a `StateGrid`.

    Parameters
    ----------
    outcome
        A model whose arrays hold the ``next_*`` tables.

    Raises
    ------
    ModelError
        If a table is missing or has another shape.
    """

    def __init__(self, outcome: OutcomeModel) -> None:
        self.grid = StateGrid()
        self._matrices: tuple[Float32Array, Float32Array, Float32Array] | None = None
        self._outcome = outcome
        self._kind = ClassTables(terms_of(outcome.arrays, "next_kind", len(KINDS)))
        choices = len(FOURTH_DOWN_CHOICES)
        self._choice = ClassTables(terms_of(outcome.arrays, "next_choice", choices))
        self._tables: dict[str, FloatArray] = {}
        for name, shape in _PLAIN.items():
            array = outcome.arrays.get(name)
            if array is None or (shape is not None and array.shape != shape):
                raise ModelError(f"the model lacks table {name!r} of shape {shape}; fit it again")
            self._tables[name] = array.astype(np.float64)

    @property
    def outcome(self) -> OutcomeModel:
        """The model whose tables these are."""
        return self._outcome

    def table(self, name: str) -> FloatArray:
        """Return one of the plain tables, such as ``next_punt``; do not change it."""
        return self._tables[name]

    def choice_probabilities(self, codes: dict[str, IntArray]) -> FloatArray:
        """Return P(go, punt, kick) on any down, at the usual clock and score, shape (n, 3)."""
        return self._choice.probabilities(codes)

    def kind_probabilities(self, codes: dict[str, IntArray]) -> FloatArray:
        """Return P(kind | go) at the usual clock and score, shape (n, 6)."""
        return self._kind.probabilities(codes)

    def gain_tables(self) -> dict[str, HazardTables]:
        """Return P(gain | kind) at the usual mixture of contexts, by moving kind."""
        share = self._tables["next_context"]
        return {kind: self._outcome.gain[kind].mean_context(share) for kind in MOVING_KINDS}

    def transition_matrices(self) -> tuple[Float32Array, Float32Array, Float32Array]:
        """Return transitions to the next snap, worked out once; not to be changed.

        Returns
        -------
        same, changed : float32 arrays of shape (S, S)
            P(next state, same offense) and P(next state, the other offense), in the frame of the
            offense of the next snap.
        end : float32 array of shape (S,)
            P(the half ends first). Each row of the three sums to 1.
        """
        if self._matrices is None:
            self._matrices = self._worked_out()
        return self._matrices

    def _worked_out(self) -> tuple[Float32Array, Float32Array, Float32Array]:
        snap = self.snap_outcomes()
        after_score, again = self.after_kickoff()
        after_free_kick = self._first_downs(self._tables["next_free_kick"])
        scored = snap.p_touchdown + snap.p_field_goal
        same = snap.kept + scored[:, None] * again
        same += snap.p_return_touchdown[:, None] * after_score
        changed = snap.lost + scored[:, None] * after_score
        changed += snap.p_return_touchdown[:, None] * again
        changed += snap.p_safety[:, None] * after_free_kick
        on = (1.0 - snap.p_end)[:, None]
        return (
            (same * on).astype(np.float32),
            (changed * on).astype(np.float32),
            snap.p_end.astype(np.float32),
        )

    def after_kickoff(self) -> tuple[FloatArray, FloatArray]:
        """Return where the next possession starts after a score: two arrays of shape (S,).

        First for the club that received, then for the club that scored (it recovered its own
        kick, or the return went for a touchdown and it receives in turn).
        """
        start = self._first_downs(self._tables["next_kickoff"])
        kept, touchdown = self._tables["next_kickoff_kept"], self._tables["next_kickoff_touchdown"]
        short = self._first_downs(np.eye(99)[54])
        return (1.0 - kept - touchdown) * start, kept * short + touchdown * start

    def _first_downs(self, yardline_pmf: FloatArray) -> FloatArray:
        """Return the distribution over states of a possession's first snap, shape (..., S)."""
        out = np.zeros((*yardline_pmf.shape[:-1], self.grid.size))
        for band, share in enumerate(self._tables["next_opening"]):
            out[..., band * YARDLINES : (band + 1) * YARDLINES] = share * yardline_pmf
        return out

    def snap_outcomes(self) -> SnapOutcomes:
        """Return what every state leads to, part by part."""
        rows = self._fine_rows()
        batch = SituationBatch.neutral(
            down=rows.down, distance_yd=rows.distance_yd, yardline_100=rows.yardline_100
        )
        codes = axis_codes(batch)
        choice = self._choice.probabilities(codes) * rows.weight[:, None]
        go, punt, kick = choice.T
        kinds = self._kind.probabilities(codes) * go[:, None]
        fumble = self._tables["next_fumble_lost"]
        pmf = self._gain_pmf(codes, kinds * (1.0 - fumble))
        fumbled = kinds @ fumble
        intercepted = kinds[:, KINDS.index("interception")]
        pmf[:, -GAINS_YD[0]] -= intercepted  # an interception gains nothing and ends the drive
        kept, lost, touchdown, safety = self._moves(rows, pmf)
        by_state = _Adder(rows.state, self.grid.size)
        lost += self._turnovers(by_state, intercepted, fumbled, rows)
        t = self._tables
        yard = rows.yardline_100 - 1
        made = kick * t["next_field_goal_made"][yard]
        by_state.add_first_downs(lost, missed_spot(rows.yardline_100), kick - made)
        punted = by_state.matrix(punt, yard)
        away = 1.0 - t["next_punt_kept"] - t["next_punt_touchdown"]
        lost[:, :99] += punted @ t["next_punt"] * away
        kept[:, :99] += punted @ t["next_punt"][:, ::-1] * t["next_punt_kept"]
        returned = punt * t["next_punt_touchdown"]
        returned = returned + intercepted * t["next_interception_touchdown"]
        returned = returned + fumbled * t["next_fumble_touchdown"]
        return SnapOutcomes(
            kept=kept,
            lost=self._first_downs(lost[:, :YARDLINES]),
            p_touchdown=touchdown,
            p_field_goal=by_state.total(made),
            p_safety=safety,
            p_return_touchdown=by_state.total(returned),
            p_end=t["next_end"][self.grid.down - 1, self.grid.yardline_100 - 1],
        )

    def _fine_rows(self) -> _FineRows:
        """Return the exact distances behind every state, with their shares."""
        share = self._tables["next_distance"]
        down, distance = (axis.ravel() for axis in np.indices((4, 30)))
        yard = np.arange(1, 100)
        grid = np.broadcast_arrays(down[:, None] + 1, distance[:, None] + 1, yard[None, :])
        rows_down, rows_distance, rows_yard = (axis.ravel() for axis in grid)
        weight = np.repeat(share[down, distance], 99)
        goal_to_go = (rows_down == 1) & (rows_distance == 10) & (rows_yard < 10)
        rows_distance = np.where(goal_to_go, rows_yard, rows_distance)
        real = (weight > 0.0) & (rows_distance <= rows_yard)
        down_, distance_, yard_ = rows_down[real], rows_distance[real], rows_yard[real]
        state = state_index(down=down_, distance_yd=distance_, yardline_100=yard_)
        total = np.bincount(state, weights=weight[real], minlength=self.grid.size)
        empty = np.flatnonzero(total == 0)  # a band beyond the goal line: its nearest distance
        state = np.concatenate([state, empty])
        weights = np.concatenate([weight[real], np.ones(empty.shape[0])])
        total[empty] = 1.0
        return _FineRows(
            down=np.concatenate([down_, self.grid.down[empty]]),
            distance_yd=np.concatenate([distance_, self.grid.distance_yd[empty]]),
            yardline_100=np.concatenate([yard_, self.grid.yardline_100[empty]]),
            state=state,
            weight=weights / total[state],
        )

    def _gain_pmf(self, codes: dict[str, IntArray], kinds: FloatArray) -> FloatArray:
        """Return P(gain, ball kept), shape (rows, G), at the usual mixture of contexts."""
        pmf = np.zeros((kinds.shape[0], GAINS_YD.shape[0]))
        for kind, tables in self.gain_tables().items():
            part = tables.pmf(codes)
            part *= kinds[:, KINDS.index(kind), None]
            pmf += part
        still = [index for index, kind in enumerate(KINDS) if kind not in MOVING_KINDS]
        pmf[:, -GAINS_YD[0]] += kinds[:, still].sum(axis=1)
        return pmf

    def _moves(
        self, rows: _FineRows, pmf: FloatArray
    ) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
        """Return kept and lost (S, S), and P(touchdown) and P(safety) (S,), of plays that go."""
        size = self.grid.size
        row, at = np.nonzero(pmf > 1e-7)
        mass = pmf[row, at]
        gain = GAINS_YD[at]
        down, distance = rows.down[row], rows.distance_yd[row]
        state = rows.state[row]
        spot = rows.yardline_100[row] - gain
        adder = _Adder(state, size)
        touchdown = adder.total(mass * (spot == 0))
        safety = adder.total(mass * (spot >= 100))
        live = (spot > 0) & (spot < 100)
        made = gain >= distance
        over = live & ~made & (down == 4)
        lost = np.zeros((size, size))
        lost[:, :99] = np.bincount(
            state[over] * 99 + 99 - spot[over], weights=mass[over], minlength=size * 99
        ).reshape(size, 99)
        goes = live & (made | (down < 4))
        next_down = np.where(made, 1, np.minimum(down + 1, 4))[goes]
        spot = spot[goes]
        to_go = np.where(next_down == 1, np.minimum(10, spot), (distance - gain)[goes])
        kept = self._penalties(state[goes], next_down, to_go, spot, mass[goes])
        return kept, lost, touchdown, safety

    def _penalties(
        self, state: IntArray, down: IntArray, to_go: IntArray, spot: IntArray, mass: FloatArray
    ) -> FloatArray:
        """Return P(next state) (S, S) when penalties may move the ball before the next snap."""
        size = self.grid.size
        kernel = self._tables["next_penalty"]
        kept = np.zeros(size * size)
        for index in range(len(PENALTY_MOVES)):
            moved = moved_by_penalty(index, down=down, to_go_yd=to_go, spot=spot)
            target = state_index(down=moved[0], distance_yd=moved[1], yardline_100=moved[2])
            weights = mass * kernel[penalty_zone(spot), down - 1, index]
            kept += np.bincount(state * size + target, weights=weights, minlength=size * size)
        return kept.reshape(size, size)

    def _turnovers(
        self, by_state: _Adder, intercepted: FloatArray, fumbled: FloatArray, rows: _FineRows
    ) -> FloatArray:
        """Return P(next state) after an interception or a lost fumble, no score, (S, S)."""
        yard = rows.yardline_100 - 1
        t = self._tables
        lost = np.zeros((self.grid.size, self.grid.size))
        keep = 1.0 - t["next_interception_touchdown"]
        lost[:, :99] += by_state.matrix(intercepted * keep, yard) @ t["next_interception"]
        keep = 1.0 - t["next_fumble_touchdown"]
        lost[:, :99] += by_state.matrix(fumbled * keep, yard) @ t["next_fumble"]
        return lost


def missed_spot(yardline_100: IntArray) -> IntArray:
    """Return where the other club starts after a missed field goal: its `yardline_100`, (n,)."""
    spot = np.minimum(TOUCHBACK_YARDLINE_100, 100 - yardline_100 - FIELD_GOAL_SPOT_YD)
    return np.maximum(spot, 1)


def penalty_zone(spot: IntArray) -> IntArray:
    """Return which of `PENALTY_ZONE_EDGES_YD` a `yardline_100` lies behind, shape (n,)."""
    return np.searchsorted(PENALTY_ZONE_EDGES_YD, spot, side="right") - 1


def clipped_move(yards: IntArray, spot: IntArray) -> IntArray:
    """Return penalty yards as far as the field allows, toward the opponent's goal; broadcasts.

    Half the distance to the goal line at most; a long one marks the spot of a foul downfield,
    and one in the end zone brings the ball to the 1.
    """
    toward = np.where(yards > LONGEST_WALKED_OFF_YD, spot - 1, spot // 2)
    return np.asarray(np.clip(yards, -((100 - spot) // 2), toward))


def moved_by_penalty(
    index: IntArray | int, *, down: IntArray, to_go_yd: IntArray, spot: IntArray
) -> tuple[IntArray, IntArray, IntArray]:
    """Return down, distance and `yardline_100` after a penalty move, each of shape (n,).

    Parameters
    ----------
    index
        Into `PENALTY_MOVES`, one or one a row.
    down, to_go_yd, spot
        What would have come next without a penalty, shape (n,); ``spot`` is `yardline_100`.
    """
    yards = np.array([yards for yards, _ in PENALTY_MOVES])[index]
    first = np.array([first for _, first in PENALTY_MOVES])[index]
    move = clipped_move(yards, spot)
    there = np.clip(spot - move, 1, 99)
    renewed = np.logical_or(first, (move >= to_go_yd) & (yards != 0))
    return np.where(renewed, 1, down), np.where(renewed, 10, to_go_yd - move), there


@dataclass(frozen=True, slots=True)
class _FineRows:
    """Exact situations and the states they are part of, with weights that sum to 1 a state."""

    down: IntArray
    distance_yd: IntArray
    yardline_100: IntArray
    state: IntArray
    weight: FloatArray


class _Adder:
    """Adds rows up into their states."""

    def __init__(self, state: IntArray, size: int) -> None:
        self._state = state
        self._size = size

    def total(self, mass: FloatArray) -> FloatArray:
        """Return the sum of mass by state, shape (S,)."""
        total = np.bincount(self._state, weights=mass, minlength=self._size)
        return total.astype(np.float64)

    def matrix(self, mass: FloatArray, column: IntArray) -> FloatArray:
        """Return the sum of mass by state and column, shape (S, 99)."""
        flat = np.bincount(self._state * 99 + column, weights=mass, minlength=self._size * 99)
        return flat.astype(np.float64).reshape(self._size, 99)

    def add_first_downs(self, matrix: FloatArray, yardline_100: IntArray, mass: FloatArray) -> None:
        """Add mass to first downs at these yard lines."""
        matrix[:, :99] += self.matrix(mass, yardline_100 - 1)
