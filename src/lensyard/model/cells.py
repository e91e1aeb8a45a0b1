"""Where a play can be photographed: the cells, a yard by a lane, from its start to its end.

The cells are those of `lensyard.model.outcome_grid`. A play is a path along the lane where it ends:

* runs and scrambles that gain start at the line of scrimmage (`CARRY`);
* completions start at the catch (`CATCH`, `starts_of_catches`);
* incompletions, sacks, interceptions and losses are one point, their end (`POINT`).

Conventions at the goal line:

* a touchdown that is carried in lies at x = 111, a yard into the end zone: the picture is there,
  and the goal line itself (x = 110) would be a play that did not score;
* a pass that is caught, intercepted or comes down at or beyond the goal line lies 1 to 9 yd
  deep, evenly: the source counts air yards only to the goal line;
* what would end behind the offense's own end line lies on it (x = 0).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import fields
from functools import cache, lru_cache
from typing import Final

import numpy as np

from lensyard.arrays import BoolArray, Float32Array, FloatArray, IntArray
from lensyard.domain.assignment import DROP_BACK_YD, OutcomeWeights
from lensyard.domain.field import FIELD_LENGTH_YD, OPPONENT_GOAL_LINE_X_YD
from lensyard.domain.situation import HASH_CODES, SituationBatch
from lensyard.model import outcome_grid as grid
from lensyard.model.lateral import LateralPrior
from lensyard.records import ArrayRecord

POINT, CARRY, CATCH = range(3)
"""How a path starts: on its end, at the line of scrimmage, at the catch."""

RUN_AT: Final = grid.GAIN_KINDS.index(grid.RUN)
COMPLETE_AT: Final = grid.GAIN_KINDS.index(grid.COMPLETE)
CARRIED_AT: Final = [grid.GAIN_KINDS.index(kind) for kind in (grid.RUN, grid.SCRAMBLE)]
NOT_CAUGHT: Final = [i for i, kind in enumerate(grid.GAIN_KINDS) if kind != grid.COMPLETE]
FIRST_GAIN: Final = 1 - grid.GAIN_MIN_YD


class JointOutcome(ArrayRecord):
    """P(kind and place along the field) of a batch; float32 unless another type is named.

    - ``gain``: P(kind and gain, no touchdown), (n, 4, 120), kinds as in `GAIN_KINDS`.
    - ``touchdown``: P(kind and touchdown), (n, 4).
    - ``p_caught``: P(caught in the end zone | touchdown pass), (n,).
    - ``air``: P(kind and air yards short of the goal line), (n, 2, 81), kinds as in `AIR_KINDS`.
    - ``deep``: P(kind and the ball came down at or beyond the goal line), (n, 2).
    - ``yardline_100``, ``hash_code``: of the batch, (n,) int.
    """

    gain: Float32Array
    touchdown: Float32Array
    p_caught: Float32Array
    air: Float32Array
    deep: Float32Array
    yardline_100: IntArray
    hash_code: IntArray

    @property
    def p_drop_back(self) -> Float32Array:
        """P(the quarterback drops back: anything but a run), shape (n,)."""
        runs = self.gain[:, RUN_AT].sum(axis=1) + self.touchdown[:, RUN_AT]
        return np.asarray(1.0 - runs, dtype=np.float32)

    @staticmethod
    def of(
        batch: SituationBatch,
        *,
        p_kind: FloatArray,
        gain_pmf: FloatArray | Float32Array,
        air_pmf: FloatArray,
        p_caught_in_end_zone: FloatArray,
    ) -> JointOutcome:
        """Return the joint distribution from its factors.

        - ``gain_pmf``: P(gain | kind) of `GAIN_KINDS` for gains -20 to 99, (n, 4, 120).
        - ``air_pmf``: P(air yards | kind) of `AIR_KINDS` for -10 to 70, (n, 2, 81).
        """
        kind = p_kind.astype(np.float32)
        gain = gain_pmf.astype(np.float32) * kind[:, grid.GAIN_KINDS, np.newaxis]
        air = air_pmf * kind[:, grid.AIR_KINDS, np.newaxis]
        goal = batch.yardline_100[:, np.newaxis, np.newaxis]
        scores = goal <= grid.GAINS_YD
        touchdown = np.where(scores, gain, np.float32(0)).sum(axis=2)
        beyond = goal <= grid.AIR_YD
        return JointOutcome(
            gain=np.where(scores, np.float32(0), gain),
            touchdown=touchdown,
            p_caught=p_caught_in_end_zone.astype(np.float32),
            air=np.where(beyond, 0.0, air).astype(np.float32),
            deep=np.where(beyond, air, 0.0).sum(axis=2).astype(np.float32),
            yardline_100=batch.yardline_100,
            hash_code=batch.hash_code,
        )

    def take(self, row: int) -> JointOutcome:
        """Return one of the situations."""
        return JointOutcome(**{f.name: getattr(self, f.name)[row : row + 1] for f in fields(self)})


def masses_by_start(
    outcome: JointOutcome, prior: LateralPrior, *, weights: Sequence[OutcomeWeights]
) -> Float32Array:
    """Return where n situations end, by how their paths start, for w sets of weights.

    Shape (w, n, 3, 121, 18); the starts are `POINT`, `CARRY` and `CATCH`.
    """
    n = outcome.yardline_100.shape[0]
    cells = np.zeros((len(weights), n, 3, grid.N_X, grid.N_Y), dtype=np.float32)
    for rows, yardline_100, hash_code in _groups(outcome):
        at = weighted_sides(prior.at_line(yardline_100), tuple(weights))
        block = _group_cells(outcome, at, rows, yardline_100, hash_code)
        cells[:, rows] = np.moveaxis(block.reshape(*block.shape[:3], len(weights), grid.N_Y), 3, 0)
    return cells


def draw_end_x_yd(
    rng: np.random.Generator,
    *,
    kind: IntArray,
    gain_yd: FloatArray,
    air_yd: FloatArray,
    yardline_100: IntArray,
    touchdown: BoolArray,
) -> FloatArray:
    """Return where real plays ended along the field, by the conventions of the cells.

    - ``rng``: draws the depth of what was caught or came down in the end zone.
    - ``kind``: positions in the list of kinds; others (kneels, spikes) end at their gain. (n,)
    - ``gain_yd``, ``air_yd``: gain, and air yards (NaN where unknown: the line of scrimmage for a
      ball that came down). (n,) [yd]

    The result: x in the play frame, (n,). [yd]
    """
    scrimmage = OPPONENT_GOAL_LINE_X_YD - yardline_100
    came_down = (kind == grid.INCOMPLETE) | (kind == grid.INTERCEPTION)
    air = np.nan_to_num(air_yd, nan=0.0)
    deep = rng.integers(grid.DEEP_X.start, grid.DEEP_X.stop, size=kind.shape[0]).astype(np.float64)
    in_zone = (air >= yardline_100) & (came_down | (touchdown & (kind == grid.COMPLETE)))
    x = scrimmage + np.where(came_down, air, gain_yd)
    x = np.where(touchdown & ~came_down, float(grid.CARRIED_IN_X), x)
    return np.clip(np.where(in_zone, deep, x), 0.0, FIELD_LENGTH_YD)


def start_x_yd(
    *,
    kind: IntArray,
    gain_yd: FloatArray,
    air_yd: FloatArray,
    yardline_100: IntArray,
    end_x_yd: FloatArray,
) -> FloatArray:
    """Return where the paths of real plays started along the field, shape (n,). [yd]

    Arguments as in `draw_end_x_yd`, and its result. A catch of unknown depth lies where catches of
    such gains do on average.
    """
    scrimmage = OPPONENT_GOAL_LINE_X_YD - yardline_100
    air = np.where(np.isnan(air_yd), usual_catch_yd(np.nan_to_num(gain_yd)), air_yd)
    carried = ((kind == grid.RUN) | (kind == grid.SCRAMBLE)) & (gain_yd > 0)
    start = np.where(carried, scrimmage, end_x_yd)
    start = np.where(kind == grid.COMPLETE, scrimmage + np.minimum(air, gain_yd), start)
    # Caught in the end zone is one point, wherever in it that was.
    start = np.where((kind == grid.COMPLETE) & (air_yd >= yardline_100), end_x_yd, start)
    return np.clip(np.minimum(start, end_x_yd), 0.0, FIELD_LENGTH_YD)


class WeightedSides(ArrayRecord):
    """Lane tables multiplied by the weights; the last axis is w sets of 18 places.

    ``gain`` (4, 120, 4, w*18), ``air`` (4, 81, 2, w*18), ``touchdown`` (4, 120, 4, w*18),
    ``caught`` (4, 81, w*18), ``drop_back`` (4, w*18); the first axis is the hash code, unknown
    included.
    """

    gain: Float32Array
    air: Float32Array
    touchdown: Float32Array
    caught: Float32Array
    drop_back: Float32Array

    @staticmethod
    def of(prior: LateralPrior, weights: Sequence[OutcomeWeights]) -> WeightedSides:
        gain = np.stack([gain_weights(w) for w in weights])  # (w, 120, 4)
        air = np.array([[w.incompletion, w.interception] for w in weights])  # (w, 2)
        score = np.array([w.touchdown for w in weights])
        shares = prior.hash_shares
        inside = _by_hash(prior.inside_by_gain, shares)
        drop_back = np.array([w.drop_back for w in weights])
        return WeightedSides(
            gain=_flat(np.einsum("wgk,hgky->hgkwy", gain, _by_hash(prior.by_gain, shares))),
            air=_flat(np.einsum("wk,hgky->hgkwy", air, _by_hash(prior.by_air, shares))),
            touchdown=_flat(np.einsum("w,hgky->hgkwy", score, inside)),
            caught=_flat(
                np.einsum("w,hgy->hgwy", score, _by_hash(prior.inside_by_air, shares)[:, :, 0])
            ),
            drop_back=_flat(np.einsum("w,hy->hwy", drop_back, ball_lanes(prior))),
        )


@lru_cache(maxsize=16)
def weighted_sides(prior: LateralPrior, weights: tuple[OutcomeWeights, ...]) -> WeightedSides:
    """Return the lane tables of a prior, which stays one object, for some weights."""
    return WeightedSides.of(prior, weights)


def gain_weights(weights: OutcomeWeights) -> FloatArray:
    """Return what a gain short of the goal line counts, (120, 4)."""
    table = np.full((grid.GAINS_YD.shape[0], len(grid.GAIN_KINDS)), weights.other)
    table[grid.GAINS_YD >= grid.LONG_GAIN_YD] = weights.gain20
    table[:, grid.GAIN_KINDS.index(grid.SACK)] = weights.sack
    return table


def ball_lanes(prior: LateralPrior) -> FloatArray:
    """Return where the ball is snapped across the field, by hash code, unknown included, (4, 18).

    Between two places it belongs to both, by how near they are.
    """
    marks = np.array([prior.rules.ball_y_yd(mark) for mark in HASH_CODES[:-1]])
    known = np.stack([np.interp(marks, grid.Y_YD, place) for place in np.eye(grid.N_Y)], axis=1)
    return np.concatenate([known, (prior.hash_shares @ known)[np.newaxis]])


def drop_back_x(yardline_100: int) -> int:
    """Return the row of the cells where the quarterback sets up."""
    return max(grid.GOAL_X - yardline_100 - round(DROP_BACK_YD), 0)


def _by_hash(table: FloatArray, shares: FloatArray) -> FloatArray:
    """Return (kind, yards, 3, place) as (4, yards, kind, place): the last hash code is unknown."""
    known = np.transpose(table, (2, 1, 0, 3))
    return np.concatenate([known, np.tensordot(shares, known, axes=1)[np.newaxis]])


def _flat(table: FloatArray) -> Float32Array:
    return table.reshape(*table.shape[:-2], -1).astype(np.float32)


def _groups(outcome: JointOutcome) -> Iterator[tuple[IntArray | slice, int, int]]:
    """Yield rows that share a line of scrimmage and a hash mark."""
    n_codes = len(HASH_CODES)
    key = outcome.yardline_100 * n_codes + outcome.hash_code
    if key.shape[0] and (key == key[0]).all():
        yield slice(0, key.shape[0]), int(key[0]) // n_codes, int(key[0]) % n_codes
        return
    order = np.argsort(key, kind="stable")
    starts = np.flatnonzero(np.diff(key[order], prepend=-1))
    for rows in np.split(order, starts[1:]) if key.shape[0] else []:
        yield rows, int(key[rows[0]]) // n_codes, int(key[rows[0]]) % n_codes


def _group_cells(
    outcome: JointOutcome,
    sides: WeightedSides,
    rows: IntArray | slice,
    yardline_100: int,
    hash_code: int,
) -> Float32Array:
    """Return the cells of rows with one line of scrimmage and hash mark, (r, 3, 121, w*18)."""
    line = grid.GOAL_X - yardline_100
    touchdown, gain = outcome.touchdown[rows], outcome.gain[rows]
    lanes = sides.gain[hash_code]
    block = np.zeros((touchdown.shape[0], 3, grid.N_X, sides.gain.shape[-1]), dtype=np.float32)
    first = line + grid.GAIN_MIN_YD
    lost = gain[:, NOT_CAUGHT, :FIRST_GAIN]
    _add_shifted(block[:, POINT], lost, lanes[:FIRST_GAIN, NOT_CAUGHT], first)
    carried = gain[:, CARRIED_AT, FIRST_GAIN:]
    _add_shifted(block[:, CARRY], carried, lanes[FIRST_GAIN:, CARRIED_AT], line + 1)
    caught = slice(COMPLETE_AT, COMPLETE_AT + 1)
    _add_shifted(block[:, CATCH], gain[:, caught], lanes[:, caught], first)
    _add_shifted(block[:, POINT], outcome.air[rows], sides.air[hash_code], line + grid.AIR_MIN_YD)
    at_goal = sides.touchdown[hash_code, yardline_100 - grid.GAIN_MIN_YD]
    in_end_zone = touchdown[:, COMPLETE_AT] * outcome.p_caught[rows]
    run_after = touchdown[:, COMPLETE_AT] - in_end_zone
    block[:, CARRY, grid.CARRIED_IN_X] += touchdown[:, NOT_CAUGHT] @ at_goal[NOT_CAUGHT]
    block[:, CATCH, grid.CARRIED_IN_X] += run_after[:, np.newaxis] * at_goal[COMPLETE_AT]
    deepest = min(yardline_100, grid.AIR_MAX_YD) - grid.AIR_MIN_YD
    deep = outcome.deep[rows] @ sides.air[hash_code, deepest]
    deep += in_end_zone[:, np.newaxis] * sides.caught[hash_code, deepest]
    block[:, POINT, grid.DEEP_X] += deep[:, np.newaxis] / np.float32(grid.N_DEEP)
    if sides.drop_back.any():
        face = outcome.p_drop_back[rows, np.newaxis] * sides.drop_back[hash_code]
        block[:, POINT, drop_back_x(yardline_100)] += face
    return block


def _add_shifted(
    block: Float32Array, joint: Float32Array, lanes: Float32Array, first_x: int
) -> None:
    """Add P(kind, yards) times P(place | kind, yards), yards counted from ``first_x``.

    ``joint`` is (r, kinds, yards), ``lanes`` (yards, kinds, w*18). What lies behind the end line
    goes on it; beyond the goal line there is nothing by construction.
    """
    behind = min(max(0, -first_x), joint.shape[2])
    stop = min(joint.shape[2], grid.GOAL_X + 1 - first_x)
    by_yard = np.ascontiguousarray(np.transpose(joint[:, :, :stop], (2, 0, 1)))
    multiply = np.matmul if joint.shape[1] > 1 else np.multiply
    placed = multiply(by_yard, lanes[:stop])  # (yards, r, w*18)
    block[:, first_x + behind : first_x + stop] += np.transpose(placed[behind:], (1, 0, 2))
    if behind:
        block[:, 0] += placed[:behind].sum(axis=0)


TENTHS: Final = 10


# The mean yards after the catch of each tenth of the completions with such a gain, from short to
# long, counted from the bundled plays of the professional game, 2009 to 2018 (a test counts them
# again and checks them on 2019). A catch beyond where the play ended, 1.4 % of completions, counts
# as caught where it ended, so a path never runs backward; one behind the own goal line counts as on
# it, as the source has it. No other level publishes yards in the air; its completions are taken to
# be caught as the professionals' are.
# Mean gain of the band [yd], then the tenths [yd].
AFTER_CATCH_YD: Final = (
    (-6.4, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.4, 1.1, 2.9),
    (-2.8, 0.0, 0.0, 0.0, 0.0, 0.1, 1.0, 1.1, 2.0, 2.5, 4.3),
    (-0.4, 0.0, 0.0, 0.0, 0.3, 1.0, 1.6, 2.1, 3.0, 3.9, 5.9),
    (1.6, 0.0, 0.0, 0.0, 1.0, 1.1, 2.0, 2.8, 3.8, 5.1, 7.2),
    (3.6, 0.0, 0.0, 0.0, 0.9, 1.2, 2.0, 3.1, 4.2, 5.8, 8.3),
    (5.0, 0.0, 0.0, 0.0, 1.0, 1.3, 2.1, 3.2, 4.7, 6.3, 9.3),
    (6.0, 0.0, 0.0, 0.6, 1.0, 1.8, 2.5, 3.5, 5.0, 6.8, 9.9),
    (7.0, 0.0, 0.0, 1.0, 1.7, 2.1, 3.0, 4.2, 5.7, 7.6, 10.7),
    (8.0, 0.0, 0.2, 1.2, 2.0, 3.0, 3.7, 4.8, 6.4, 8.4, 11.6),
    (9.4, 0.0, 0.1, 1.3, 2.4, 3.5, 4.5, 5.6, 7.3, 9.4, 12.8),
    (11.5, 0.0, 0.0, 1.1, 2.4, 4.1, 5.6, 7.0, 8.7, 11.0, 14.7),
    (13.9, 0.0, 0.0, 0.8, 2.0, 3.5, 5.6, 7.8, 9.8, 12.5, 16.9),
    (17.3, 0.0, 0.0, 1.1, 2.1, 3.4, 5.1, 7.8, 11.4, 14.9, 20.0),
    (21.3, 0.0, 0.7, 2.1, 3.3, 4.6, 6.5, 9.2, 13.4, 17.9, 23.7),
    (25.3, 0.0, 1.6, 3.3, 5.2, 7.0, 9.0, 11.6, 16.3, 21.3, 27.5),
    (29.4, 0.0, 1.9, 3.7, 5.9, 8.8, 11.1, 14.2, 18.6, 24.9, 31.7),
    (35.1, 0.0, 1.9, 4.0, 6.5, 9.8, 13.8, 17.9, 22.5, 28.9, 37.0),
    (43.9, 0.0, 1.5, 3.3, 5.7, 10.1, 15.9, 21.9, 27.8, 36.3, 45.7),
    (56.1, 0.9, 4.1, 8.1, 13.7, 19.9, 27.9, 36.0, 42.1, 48.6, 59.4),
    (75.1, 22.5, 27.8, 33.7, 41.0, 46.0, 52.0, 55.8, 59.0, 68.4, 76.6),
)
"""Completions that did not score."""


CARRIED_IN_YD: Final = (
    (1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 1.4, 2.0, 2.0, 2.9, 5.3),
    (2.6, 1.0, 1.0, 1.0, 1.4, 2.0, 2.0, 2.6, 3.0, 4.4, 7.0),
    (4.5, 1.0, 1.0, 1.2, 2.0, 2.3, 3.0, 3.8, 4.8, 5.7, 8.2),
    (6.9, 1.0, 1.1, 2.0, 2.6, 3.6, 4.6, 5.4, 6.5, 8.2, 10.5),
    (10.0, 1.0, 1.9, 3.1, 4.2, 5.0, 6.2, 7.4, 8.7, 10.3, 13.4),
    (13.5, 1.0, 2.1, 3.6, 5.4, 7.2, 8.6, 10.4, 12.5, 14.6, 17.8),
    (17.5, 1.0, 1.5, 2.3, 4.3, 6.8, 10.4, 13.2, 16.1, 19.3, 22.1),
    (23.2, 1.0, 1.9, 2.9, 4.4, 5.7, 8.2, 11.5, 16.6, 20.8, 26.8),
    (32.8, 1.2, 2.7, 4.6, 7.2, 10.3, 13.8, 18.2, 23.6, 29.8, 36.9),
    (46.5, 1.7, 4.5, 8.4, 12.1, 16.3, 21.3, 26.9, 33.1, 38.8, 49.8),
    (61.5, 8.9, 15.8, 20.4, 25.4, 31.0, 37.0, 42.4, 50.3, 57.7, 67.5),
    (78.4, 26.2, 33.2, 38.3, 43.0, 47.3, 52.8, 60.2, 66.1, 72.5, 82.0),
)
"""Touchdown passes that were caught short of the goal line."""


def after_catch_tenths_yd(gain_yd: FloatArray | IntArray, *, carried_in: bool) -> FloatArray:
    """Return the tenths of the yards after the catch for gains of shape (n,), shape (n, 10)."""
    table = np.array(CARRIED_IN_YD if carried_in else AFTER_CATCH_YD)
    return np.stack([np.interp(gain_yd, table[:, 0], tenth) for tenth in table.T[1:]], axis=1)


@cache
def p_caught_at(*, carried_in: bool) -> Float32Array:
    """Return P(caught at these air yards | gain), shape (120, 120) over `GAINS_YD` twice.

    Between whole yards a tenth is split so that its mean stays; catches farther behind the line of
    scrimmage than `GAIN_MIN_YD` lie there.
    """
    table = np.zeros((grid.GAINS_YD.size, grid.GAINS_YD.size))
    row = np.arange(grid.GAINS_YD.size)
    for after in after_catch_tenths_yd(grid.GAINS_YD, carried_in=carried_in).T:
        whole = np.floor(after)
        for back, share in ((whole, 1.0 - (after - whole)), (whole + 1, after - whole)):
            np.add.at(table, (row, np.maximum(row - back.astype(int), 0)), share / TENTHS)
    return table.astype(np.float32)


@lru_cache(maxsize=128)
def starts_of_catches(yardline_100: int) -> Float32Array:
    """Return P(the catch lies at x | the play ended at x), shape (121 ends, 121 starts).

    For one line of scrimmage. The row of `CARRIED_IN_X` is that of touchdowns carried in.
    """
    line = grid.GOAL_X - yardline_100
    x = np.arange(grid.N_X)
    gain = np.clip(x - line - grid.GAIN_MIN_YD, 0, grid.GAINS_YD.size - 1)
    p = p_caught_at(carried_in=False)[gain]
    p[grid.CARRIED_IN_X] = p_caught_at(carried_in=True)[yardline_100 - grid.GAIN_MIN_YD]
    at = np.maximum(line + grid.GAINS_YD, grid.OWN_GOAL_X)
    inside = at < grid.N_X
    starts = np.zeros((grid.N_X, grid.N_X), dtype=np.float32)
    np.add.at(starts.T, at[inside], p[:, inside].T)
    behind = slice(grid.OWN_GOAL_X + 1)
    starts[behind] = np.eye(grid.N_X)[behind]
    return starts


def usual_catch_yd(gain_yd: FloatArray) -> FloatArray:
    """Return the mean air yards of completions with these gains, where they are not known. [yd]"""
    after = after_catch_tenths_yd(gain_yd, carried_in=False).mean(axis=1)
    caught: FloatArray = np.minimum(np.rint(gain_yd - after), gain_yd)
    return caught
