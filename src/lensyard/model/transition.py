"""From one snap to the next: who has the ball, where, on which down and how far.

A snap is run, pass, sack or scramble, a punt or a field-goal attempt. Penalties that wipe out a
play, kneels, spikes, tries and kickoffs lie between snaps. The matrices are not stored: they are
computed from the outcome model's distribution of gains, a table of what penalties do, the choice
on fourth down, and where possessions start after a kick or a turnover (arrays named ``next_*``,
fitted by `lensyard.model.fitting.transitions`).
"""

from __future__ import annotations

from typing import Final

import numpy as np

from lensyard.arrays import Float32Array, FloatArray, IntArray
from lensyard.domain.situation import SituationBatch
from lensyard.model import outcome_grid as grid
from lensyard.model.outcome import OutcomeModel
from lensyard.model.outcome_grid import (
    CONTEXTS,
    FIRST_DOWN_BANDS,
    StateGrid,
    axis_codes,
    bins_of,
    state_index,
)
from lensyard.model.tables import ClassTables, HazardTables, plain_table, terms_of
from lensyard.records import Record

# (yards toward the opponent's goal, whether it makes a first down): what penalties between two
# snaps do to the situation. The first is no penalty.
PENALTY_MOVES: Final = (
    *((0, False), (-5, False), (-10, False), (-15, False), (-20, False), (5, False)),
    *((0, True), (3, True), (5, True), (8, True), (10, True), (15, True)),
    *((22, True), (35, True), (-10, True)),
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
    "next_context": (len(CONTEXTS),),
    "next_penalty": (3, 4, len(PENALTY_MOVES)),
    "next_opening": (len(FIRST_DOWN_BANDS),),
    "next_fumble_lost": (len(grid.KINDS),),
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


class SnapOutcomes(Record):
    """What a snap leads to from every state, before the end of a half is taken into account.

    - ``kept``, ``lost``: P(next snap without a score in between), same offense or the other's,
      shape (S, S).
    - ``p_touchdown``, ``p_field_goal``, ``p_safety``, ``p_return_touchdown``: scores by the
      offense, and by the defense, shape (S,).
    - ``p_end``: P(no further snap in this half), shape (S,); independent of the rest.
    """

    kept: FloatArray
    lost: FloatArray
    p_touchdown: FloatArray
    p_field_goal: FloatArray
    p_safety: FloatArray
    p_return_touchdown: FloatArray
    p_end: FloatArray


class TransitionModel:
    """Transitions between the states of a `StateGrid`, from the ``next_*`` tables of a model.

    Raises `ModelError` if a table is missing or has another shape.
    """

    def __init__(self, outcome: OutcomeModel) -> None:
        self.grid = StateGrid()
        self.outcome = outcome
        self._matrices: tuple[Float32Array, Float32Array, Float32Array] | None = None
        arrays, choices = outcome.arrays, len(grid.FOURTH_DOWN_CHOICES)
        self._kind = ClassTables(terms_of(arrays, "next_kind", len(grid.KINDS)))
        self._choice = ClassTables(terms_of(arrays, "next_choice", choices))
        self._tables = {name: plain_table(arrays, name, shape) for name, shape in _PLAIN.items()}

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
        return {kind: self.outcome.gain[kind].mean_context(share) for kind in grid.MOVING_KINDS}

    def transition_matrices(self) -> tuple[Float32Array, Float32Array, Float32Array]:
        """Return P(next state) as same (S, S), changed (S, S) and end (S,), computed once.

        ``same`` is with the same offense, ``changed`` with the other one (as that offense sees the
        state), ``end`` is P(the half ends first). Each row of the three sums to 1; not to be
        changed.
        """
        if self._matrices is None:
            self._matrices = self._compute_matrices()
        return self._matrices

    def _compute_matrices(self) -> tuple[Float32Array, Float32Array, Float32Array]:
        snap = self.snap_outcomes()
        after_score, again = self.after_kickoff()
        after_free_kick = self._first_downs(self._tables["next_free_kick"])
        scored = snap.p_touchdown + snap.p_field_goal
        on, first = (1.0 - snap.p_end)[:, None], self._first
        same = np.empty((self.grid.size, self.grid.size), dtype=np.float32)
        np.multiply(snap.kept, on, out=same, casting="same_kind")
        changed = np.zeros(same.shape, dtype=np.float32)
        p_return, p_safety = (p[:, None] for p in (snap.p_return_touchdown, snap.p_safety))
        kept = snap.kept[:, first] + scored[:, None] * again[first]
        same[:, first] = (kept + p_return * after_score[first]) * on
        lost = snap.lost[:, first] + scored[:, None] * after_score[first]
        lost += p_return * again[first]
        changed[:, first] = (lost + p_safety * after_free_kick[first]) * on
        return same, changed, snap.p_end.astype(np.float32)

    @property
    def _first(self) -> slice:
        """The states on first down: where possessions start, and what makes the line to gain."""
        return slice(0, len(FIRST_DOWN_BANDS) * grid.YARDLINES)

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
            out[..., band * grid.YARDLINES : (band + 1) * grid.YARDLINES] = share * yardline_pmf
        return out

    def snap_outcomes(self) -> SnapOutcomes:
        """Return what every state leads to, part by part."""
        rows, t = self._fine_rows(), self._tables
        batch = SituationBatch.neutral(
            down=rows.down, distance_yd=rows.distance_yd, yardline_100=rows.yardline_100
        )
        codes = axis_codes(batch)
        go, punt, kick = (self._choice.probabilities(codes) * rows.weight[:, None]).T
        kinds = self._kind.probabilities(codes) * go[:, None]
        fumble = t["next_fumble_lost"]
        pmf = self._gain_pmf(codes, kinds * (1.0 - fumble))
        fumbled = kinds @ fumble
        intercepted = kinds[:, grid.INTERCEPTION]
        pmf[:, -grid.GAIN_MIN_YD] -= intercepted  # it gains nothing and ends the drive
        kept, lost, touchdown, safety = self._moves(rows, pmf)
        yard = rows.yardline_100 - 1
        taken = np.zeros_like(lost)
        for name, mass in (("interception", intercepted), ("fumble", fumbled)):
            stays = 1.0 - t[f"next_{name}_touchdown"]
            taken += rows.by_column(mass * stays, yard) @ t[f"next_{name}"]
        lost += taken
        made = kick * t["next_field_goal_made"][yard]
        lost += rows.by_column(kick - made, missed_spot(rows.yardline_100) - 1)
        punted = rows.by_column(punt, yard)
        away = 1.0 - t["next_punt_kept"] - t["next_punt_touchdown"]
        lost += punted @ t["next_punt"] * away
        kept[:, :99] += punted @ t["next_punt"][:, ::-1] * t["next_punt_kept"]
        returned = punt * t["next_punt_touchdown"]
        returned = returned + intercepted * t["next_interception_touchdown"]
        returned = returned + fumbled * t["next_fumble_touchdown"]
        return SnapOutcomes(
            kept=kept,
            lost=self._first_downs(lost),
            p_touchdown=touchdown,
            p_field_goal=rows.total(made),
            p_safety=safety,
            p_return_touchdown=rows.total(returned),
            p_end=t["next_end"][self.grid.down - 1, self.grid.yardline_100 - 1],
        )

    def _fine_rows(self) -> _FineRows:
        """Return the exact distances behind every state, with their shares."""
        share = self._tables["next_distance"]
        down, distance, yard = (axis.ravel() + 1 for axis in np.indices((4, 30, 99)))
        weight = share[down - 1, distance - 1]
        goal_to_go = (down == 1) & (distance == 10) & (yard < 10)
        distance = np.where(goal_to_go, yard, distance)
        real = (weight > 0.0) & (distance <= yard)
        down, distance, yard, weight = (axis[real] for axis in (down, distance, yard, weight))
        state = state_index(down=down, distance_yd=distance, yardline_100=yard)
        total = np.bincount(state, weights=weight, minlength=self.grid.size)
        empty = np.flatnonzero(total == 0)  # a band beyond the goal line: its nearest distance
        total[empty] = 1.0
        state = np.concatenate([state, empty])
        return _FineRows(
            down=np.concatenate([down, self.grid.down[empty]]),
            distance_yd=np.concatenate([distance, self.grid.distance_yd[empty]]),
            yardline_100=np.concatenate([yard, self.grid.yardline_100[empty]]),
            state=state,
            weight=np.concatenate([weight, np.ones(empty.shape[0])]) / total[state],
            states=self.grid.size,
        )

    def _gain_pmf(self, codes: dict[str, IntArray], kinds: FloatArray) -> FloatArray:
        """Return P(gain, ball kept), shape (rows, G), at the usual mixture of contexts."""
        pmf = np.zeros((kinds.shape[0], grid.GAINS_YD.shape[0]))
        for kind, tables in self.gain_tables().items():
            part = tables.pmf(codes)
            part *= kinds[:, grid.KINDS.index(kind), None]
            pmf += part
        still = [index for index, kind in enumerate(grid.KINDS) if kind not in grid.MOVING_KINDS]
        pmf[:, -grid.GAIN_MIN_YD] += kinds[:, still].sum(axis=1)
        return pmf

    def _moves(
        self, rows: _FineRows, pmf: FloatArray
    ) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
        """Return kept (S, S), lost (S, 99), P(touchdown) and P(safety) (S,), of plays that go."""
        row, at = np.nonzero(pmf > 1e-7)
        mass, gain = pmf[row, at], grid.GAINS_YD[at]
        down, distance, state = rows.down[row], rows.distance_yd[row], rows.state[row]
        spot = rows.yardline_100[row] - gain
        moved = _FineRows(down, distance, spot, state, mass, rows.states)
        touchdown = moved.total(mass * (spot == 0))
        safety = moved.total(mass * (spot >= 100))
        live = (spot > 0) & (spot < 100)
        made = gain >= distance
        over = live & ~made & (down == 4)
        lost = moved.by_column(mass * over, np.where(over, 99 - spot, 0))
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
        size, longest = self.grid.size, int(to_go.max(initial=1))
        first = down == 1  # with 10 yards or the goal to go: all there is to know is the spot
        by_spot = np.bincount(state[first] * 99 + spot[first] - 1, mass[first], size * 99)
        later = np.flatnonzero(~first)
        place = ((down[later] - 1) * longest + to_go[later] - 1) * 99 + spot[later] - 1
        state, mass = state[later] * size, mass[later]
        every_down, every_to_go, every_spot = (
            axis.ravel() + 1 for axis in np.indices((4, longest, 99))
        )
        on_first = self._first
        at_spot = (np.minimum(10, np.arange(1, 100)) - 1) * 99 + np.arange(99)
        kernel = self._tables["next_penalty"][penalty_zone(every_spot), every_down - 1]
        kept, from_first = np.zeros(size * size), np.zeros((99, on_first.stop))
        for index in range(len(PENALTY_MOVES)):
            moved = moved_by_penalty(index, down=every_down, to_go_yd=every_to_go, spot=every_spot)
            target = state_index(down=moved[0], distance_yd=moved[1], yardline_100=moved[2])
            share = kernel[:, index]
            from_first[np.arange(99), target[at_spot]] += share[at_spot]
            np.add.at(kept, state + target[place], mass * share[place])
        found = kept.reshape(size, size)
        found[:, on_first] += by_spot.reshape(size, 99) @ from_first
        return found


def missed_spot(yardline_100: IntArray) -> IntArray:
    """Return where the other club starts after a missed field goal: its `yardline_100`, (n,)."""
    spot = np.minimum(TOUCHBACK_YARDLINE_100, 100 - yardline_100 - FIELD_GOAL_SPOT_YD)
    return np.maximum(spot, 1)


def penalty_zone(spot: IntArray) -> IntArray:
    """Return which of `PENALTY_ZONE_EDGES_YD` a `yardline_100` lies behind, shape (n,)."""
    return bins_of(spot, PENALTY_ZONE_EDGES_YD)


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

    ``index`` is one into `PENALTY_MOVES`, or one a row; the rest is what would have come next
    without a penalty, ``spot`` as `yardline_100`, shape (n,).
    """
    yards = np.array([yards for yards, _ in PENALTY_MOVES])[index]
    first = np.array([first for _, first in PENALTY_MOVES])[index]
    move = clipped_move(yards, spot)
    there = np.clip(spot - move, 1, 99)
    renewed = np.logical_or(first, (move >= to_go_yd) & (yards != 0))
    return np.where(renewed, 1, down), np.where(renewed, 10, to_go_yd - move), there


class _FineRows(Record):
    """Exact situations and the states they are part of, with weights that sum to 1 a state."""

    down: IntArray
    distance_yd: IntArray
    yardline_100: IntArray
    state: IntArray
    weight: FloatArray
    states: int

    def total(self, mass: FloatArray) -> FloatArray:
        """Return the sum of mass by state, shape (S,)."""
        total = np.bincount(self.state, weights=mass, minlength=self.states)
        return total.astype(np.float64)

    def by_column(self, mass: FloatArray, column: IntArray) -> FloatArray:
        """Return the sum of mass by state and column, shape (S, 99)."""
        flat = np.bincount(self.state * 99 + column, weights=mass, minlength=self.states * 99)
        return flat.astype(np.float64).reshape(self.states, 99)
