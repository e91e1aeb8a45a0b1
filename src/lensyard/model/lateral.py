"""Where plays end across the field: the lateral prior.

Left or right cannot be foreseen, but how far plays spread, how often they end out of bounds and
how the hash mark moves them can. The prior is a mixture over the scorer's labels (side, and depth
of a pass or gap of a carry), left and right forced to be equal::

    y_end = c(hash) + side * d(label, gain) + logistic noise of scale s(label, gain)

``c`` is where the ball is taken: carries follow the hash mark by 79 %, passes by 49 % of its
distance from the middle. ``d`` is the displacement toward the labeled side (for passes its
quantiles), ``s`` grows with the gain or with the yards after the catch. In bounds the noise is
truncated at the sidelines; out of bounds the end lies exactly on a sideline, with the share
measured by label and gain, moved between the hash marks in proportion to the untruncated tail.

Coordinates: `PlayPoint`; y 0 is the offense's right sideline. For college and school rules the
hash marks lie wider and ``c`` moves with them; no measured table exists for those levels.
"""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from typing import Final

import numpy as np

from lensyard.arrays import FloatArray, IntArray
from lensyard.domain.field import CENTER_Y_YD, FIELD_WIDTH_YD, RULES, FieldRules
from lensyard.model import lateral_tables as tables
from lensyard.model import outcome_grid as grid
from lensyard.model.lateral_tables import (
    NEAR_GOAL_LINES,
    LabelShares,
    bucket_of,
    bundled_shares,
    shares_of_lines,
)
from lensyard.records import ArrayRecord

HASH_SIDES: Final = (1.0, 0.0, -1.0, 0.0)
"""Sign of y, from the middle, of the hash codes left, middle, right and unknown."""
START_HASH_SHARES: Final = (0.456, 0.092, 0.452)
"""How often plays start at each (measured lateral tables, runs and passes, 2022-2025)."""
TYPICAL_PLAYS: Final = (
    (grid.RUN, 4, 0.43),
    (grid.COMPLETE, 9, 0.36),
    (grid.SACK, -6, 0.04),
    (grid.SCRAMBLE, 7, 0.03),
)
"""Kind, gain and share of a season's plays; the rest, incompletions, stay where they were snapped.
Rounded from the bundled plays of 2016 to 2018."""

_GAIN_KNOTS: Final = (-20, -4, -1, 0, 2, 3, 4, 7, 9, 10, 14, 19, 20, 29, 39, 40, 60, 99)
_AIR_KNOTS: Final = (-10, -1, 0, 4, 5, 9, 10, 14, 15, 24, 25, 70)
N_NODES: Final = 15
"""How many quantiles stand for the spread of targets."""
_INSIDE_YD: Final = 0.4
"""A catch in bounds lies at least so far from a sideline: a foot or so."""
_MAX_P_OUT: Final = 0.95


def logistic_cdf(z: FloatArray) -> FloatArray:
    """Return the logistic distribution function, without overflow."""
    return np.asarray(0.5 * (1.0 + np.tanh(0.5 * z)), dtype=np.float64)


def hash_sign(hash_code: IntArray) -> FloatArray:
    """Return 1, 0, -1, 0 for hash codes 0 left, 1 middle, 2 right, 3 unknown; same shape."""
    return np.asarray(HASH_SIDES, dtype=np.float64)[hash_code]


def hash_edges_y_yd(rules: FieldRules) -> FloatArray:
    """Return the two places that part the right, middle and left hash codes; shape (2,). [yd]

    Between the hash marks a scorer writes the nearest of the three.
    """
    half = rules.hash_off_center_yd / 2
    return np.array([CENTER_Y_YD - half, CENTER_Y_YD + half])


def start_y_yd(*, kind: IntArray, hash_code: IntArray, rules: FieldRules) -> FloatArray:
    """Return the center of the sideways spread before any label; broadcast shape. [yd]

    Runs and sacks lie where the runner takes the ball, passes and scrambles in the middle of the
    targets.
    """
    dropback = (kind == grid.COMPLETE) | (kind == grid.SCRAMBLE) | np.isin(kind, grid.AIR_KINDS)
    ratio = np.where(dropback, tables.PASS_HASH_RATIO, tables.CARRY_HASH_RATIO)
    return np.asarray(
        CENTER_Y_YD + ratio * rules.hash_off_center_yd * hash_sign(hash_code), dtype=np.float64
    )


def target_quantiles_yd(p: FloatArray) -> FloatArray:
    """Return target displacements toward the side for each pass label; shape (4, *p.shape)."""
    levels = np.array([0.0, *tables.TARGET_PERCENTILES, 1.0])
    return np.stack([np.interp(p, levels, row) for row in tables.fold_targets()])


def _carry_offset_yd(kind: IntArray, label: IntArray, gain_yd: FloatArray) -> FloatArray:
    """Return a carry's displacement toward the side of its label; broadcast shape. [yd]"""
    base = np.asarray(tables.CARRY_OFFSET_YD)[label]
    wider = np.where(
        kind == grid.SCRAMBLE, tables.SCRAMBLE_EXTRA_YD * (label == len(tables.GAPS)), 0.0
    )
    growth = tables.CARRY_OFFSET_PER_YD * np.clip(gain_yd, 0.0, tables.CARRY_OFFSET_GAIN_CAP_YD)
    return np.asarray(np.where(label == 0, 0.0, base + wider + growth), dtype=np.float64)


def _scale_yd(
    kind: IntArray, label: IntArray, gain_yd: FloatArray, after_catch_yd: FloatArray
) -> FloatArray:
    """Return the scale of the noise; broadcast shape. [yd]"""
    past = np.clip(gain_yd - tables.CARRY_SCALE_GAIN_FROM_YD, 0.0, tables.CARRY_SCALE_GAIN_SPAN_YD)
    loose = np.where(kind == grid.SCRAMBLE, tables.SCRAMBLE_EXTRA_SCALE_YD, 0.0)
    carry = np.asarray(tables.CARRY_SCALE_YD)[label] + tables.CARRY_SCALE_PER_YD * past + loose
    drift = tables.DRIFT_SCALE_YD + tables.DRIFT_SCALE_PER_YD * np.maximum(after_catch_yd, 0.0)
    scale = np.where(kind == grid.SACK, tables.SACK_SCALE_YD, carry)
    scale = np.where(kind == grid.COMPLETE, np.minimum(drift, tables.DRIFT_SCALE_CAP_YD), scale)
    return np.where(np.isin(kind, grid.AIR_KINDS), tables.AIM_SCALE_YD, scale)


def noise_nodes(
    *,
    kind: IntArray,
    label: IntArray,
    side: FloatArray,
    center_y_yd: FloatArray,
    gain_yd: FloatArray,
    after_catch_yd: FloatArray,
    nodes: int = N_NODES,
) -> tuple[FloatArray, FloatArray]:
    """Return the centers of the noise, shape (..., nodes), and its scale, shape (..., 1). [yd]

    - ``kind``, ``label``: positions in `KINDS` and among the labels of the kind, shape (...).
    - ``side``: 1 toward the left, -1 toward the right, shape (...).
    - ``center_y_yd``: from `start_y_yd`.
    - ``gain_yd``, ``after_catch_yd``: the first matters for carries, the second for completions.
    - ``nodes``: how many equally likely quantiles stand for the spread of targets; one is enough
      where no kind is thrown.
    """
    thrown = ((kind == grid.COMPLETE) | np.isin(kind, grid.AIR_KINDS))[..., np.newaxis]
    targets = target_quantiles_yd((np.arange(nodes) + 0.5) / nodes)[label]
    carried = _carry_offset_yd(kind, label, gain_yd)[..., np.newaxis]
    offset = np.where(thrown, targets, carried)
    loc = np.asarray(center_y_yd)[..., np.newaxis] + side[..., np.newaxis] * offset
    caught = ((kind == grid.COMPLETE) | (kind == grid.INTERCEPTION))[..., np.newaxis]
    loc = np.where(caught, np.clip(loc, _INSIDE_YD, FIELD_WIDTH_YD - _INSIDE_YD), loc)
    return loc, _scale_yd(kind, label, gain_yd, after_catch_yd)[..., np.newaxis]


class LateralPrior(ArrayRecord):
    """Sideways distributions of one rule set, ready to be indexed.

    The last axis of ``by_gain`` and ``by_air`` has the 18 places of `Y_YD`: 0 is the right
    sideline exactly (out of bounds), 17 the left one; it sums to 1.

    - ``by_gain``: (4, 120, 3, 18): `GAIN_KINDS`, `GAINS_YD`, hash code.
    - ``by_air``: (2, 81, 3, 18): `AIR_KINDS`, `AIR_YD`, hash code. For incompletions the outer
      places hold balls that came down beyond the sideline.
    - ``inside_by_gain``, ``inside_by_air``: the same given that the play ended in bounds:
      touchdowns.
    - ``hash_by_gain``: (4, 120, 3, 3): the next snap's hash code after such a play.
    - ``hash_shares``: (3,): how often plays start at each hash code, for whoever does not know.
    """

    rules: FieldRules
    shares: LabelShares
    by_gain: FloatArray
    by_air: FloatArray
    inside_by_gain: FloatArray
    inside_by_air: FloatArray
    hash_by_gain: FloatArray
    hash_shares: FloatArray

    @staticmethod
    @lru_cache(maxsize=16)
    def build(*, rules: FieldRules, shares: LabelShares | None = None) -> LateralPrior:
        """Return the prior of a rule set; with the bundled label shares by default."""
        shares = bundled_shares() if shares is None else shares
        gain = _over_grid(grid.GAIN_KINDS, _GAIN_KNOTS, grid.GAINS_YD, rules, shares)
        air = _over_grid(grid.AIR_KINDS, _AIR_KNOTS, grid.AIR_YD, rules, shares)
        return LateralPrior(
            rules=rules,
            shares=shares,
            by_gain=gain[0],
            by_air=air[0],
            inside_by_gain=gain[1],
            inside_by_air=air[1],
            hash_by_gain=gain[2],
            hash_shares=stationary_hash_shares(gain[2]),
        )

    def at_line(self, yardline_100: int) -> LateralPrior:
        """Return the prior of plays from a line of scrimmage, one object for all equal ones."""
        near = (name for name, lines in NEAR_GOAL_LINES.items() if yardline_100 in lines)
        return _of_lines(self, name) if (name := next(near, "")) else self

    def side_pmf(self, *, kind: int, yards: int, hash_code: int) -> FloatArray:
        """Return the probabilities of the 18 places across the field; shape (18,).

        - ``yards``: gain; air yards for incompletions and interceptions. Clipped to the tables.
          [yd]
        - ``hash_code``: 0 left, 1 middle, 2 right, 3 unknown.
        """
        if kind in grid.AIR_KINDS:
            table, first = self.by_air[grid.AIR_KINDS.index(kind)], grid.AIR_MIN_YD
        else:
            table, first = self.by_gain[grid.GAIN_KINDS.index(kind)], grid.GAIN_MIN_YD
        known = table[min(max(yards - first, 0), len(table) - 1)]
        places: FloatArray = (
            known[hash_code] if hash_code < len(known) else self.hash_shares @ known
        )
        return places


@lru_cache(maxsize=16)
def _of_lines(prior: LateralPrior, lines: str) -> LateralPrior:
    near = LateralPrior.build(rules=prior.rules, shares=shares_of_lines(prior.shares, lines))
    return replace(near, hash_shares=prior.hash_shares)  # drives come there from elsewhere


def stationary_hash_shares(hash_by_gain: FloatArray) -> FloatArray:
    """Return how often plays start at each hash code in the long run, shape (3,).

    The chain of hash marks over `TYPICAL_PLAYS`; ``hash_by_gain`` as in `LateralPrior`.
    """
    chain = np.eye(3) * (1.0 - sum(share for _, _, share in TYPICAL_PLAYS))
    for kind, gain, share in TYPICAL_PLAYS:
        chain = chain + share * hash_by_gain[grid.GAIN_KINDS.index(kind), gain - grid.GAIN_MIN_YD]
    shares = np.linalg.matrix_power(chain, 64)[1]
    even = (shares + shares[::-1]) / 2
    return np.asarray(even / even.sum(), dtype=np.float64)


def _over_grid(
    kinds: tuple[int, ...],
    knots: tuple[int, ...],
    yards: IntArray,
    rules: FieldRules,
    shares: LabelShares,
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return mass, mass in bounds and next hash code of some kinds over yards.

    They are computed at the knots and interpolated linearly; the first axis is the kind.
    """
    weights = np.stack([np.interp(yards, knots, row) for row in np.eye(len(knots))], axis=1)
    at_knots = [_at_knots(kind, np.array(knots), rules, shares) for kind in kinds]
    mass, inside, following = (
        np.stack([np.ascontiguousarray(np.tensordot(weights, t, axes=1)) for t in part])
        for part in zip(*at_knots, strict=True)
    )
    return mass, inside, following


def _at_knots(
    kind: int, yards: IntArray, rules: FieldRules, shares: LabelShares
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return one kind's mass (Y, 3, 18), mass in bounds, and next hash code (Y, 3, 3)."""
    bucket = bucket_of(kind=np.full(yards.shape, kind), yards=yards)
    weight = shares.weight[kind][bucket] / 2  # toward each side
    loc, scale = _noise(kind, yards, rules, shares)
    tail = _tails(loc, scale)  # (hash code, Y, L, sign, side)
    p_out = whole = tail.sum(axis=-1)
    if kind != grid.INCOMPLETE:
        pro = whole
        if rules is not RULES["pro"]:
            pro = _tails(*_noise(kind, yards, RULES["pro"], shares)).sum(axis=-1)
        left, middle, right = START_HASH_SHARES  # the right hash code is the left one mirrored
        typical = (left + right) * pro[0].mean(axis=-1) + middle * pro[1].mean(axis=-1)
        scaled = shares.p_out[kind][bucket][:, :, np.newaxis] * whole
        p_out = np.minimum(scaled / typical[:, :, np.newaxis], _MAX_P_OUT)
    out = np.einsum("yl,hylsr->hyr", weight, tail * (p_out / whole)[..., np.newaxis])
    edges = np.concatenate([grid.LANE_EDGES_Y_YD, hash_edges_y_yd(rules)])
    below = _below(loc, scale, edges)  # (hash code, Y, L, sign, 19) given in bounds
    stays = weight[:, :, np.newaxis] * (1.0 - p_out)
    mass, inside, following = map(
        _three_hashes,
        _places(
            out,
            np.einsum("hyls,hylse->hye", stays, below),
            np.einsum("yl,hylse->hye", weight, below),
        ),
    )
    return mass, inside, following


def _noise(
    kind: int, yards: IntArray, rules: FieldRules, shares: LabelShares
) -> tuple[FloatArray, FloatArray]:
    """Return centers (2, Y, L, 2, Q), from the left and the middle hash code, and scales.

    The axis of two before the last: toward the right, toward the left.
    """
    bucket = bucket_of(kind=np.full(yards.shape, kind), yards=yards)
    gain = yards[:, np.newaxis, np.newaxis].astype(np.float64)
    label = np.arange(len(tables.CARRY_LABELS))[np.newaxis, :, np.newaxis]
    after = shares.after_catch_yd[bucket][:, :, np.newaxis]
    side = np.broadcast_to([-1.0, 1.0], (yards.shape[0], label.shape[1], 2))
    codes = np.arange(2).reshape(-1, 1, 1, 1)
    return noise_nodes(
        kind=np.array(kind),
        label=label,
        side=side,
        center_y_yd=start_y_yd(kind=np.array(kind), hash_code=codes, rules=rules),
        gain_yd=gain,
        after_catch_yd=np.minimum(after, np.maximum(gain, 1.0)),
        nodes=1 if kind in (grid.RUN, grid.SACK, grid.SCRAMBLE) else N_NODES,
    )


def _places(
    out: FloatArray, below: FloatArray, below_in: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return mass and mass in bounds of the 18 places and of the next hash codes, (2, Y, ...)."""
    lanes = np.diff(below[..., : grid.N_LANES + 1])
    mass = np.concatenate([out[..., :1], lanes, out[..., 1:]], axis=-1)
    inside = np.zeros_like(mass)
    inside[..., 1:-1] = np.diff(below_in[..., : grid.N_LANES + 1])
    right, not_left, all_in = below[..., -2], below[..., -1], below[..., grid.N_LANES]
    following = np.stack(
        [all_in - not_left + out[..., 1], not_left - right, right + out[..., 0]], axis=-1
    )
    return mass, inside, following


def _three_hashes(left_and_middle: FloatArray) -> FloatArray:
    """Return (Y, 3, places), normalized; the right hash code is the left one mirrored, exactly."""
    left, middle = left_and_middle
    even = (middle + middle[:, ::-1]) / 2
    three = np.stack([left, even, left[:, ::-1]], axis=1)
    return np.asarray(three / three.sum(axis=2, keepdims=True))


def _tails(loc: FloatArray, scale: FloatArray) -> FloatArray:
    """Return the untruncated mass beyond the right and the left sideline, (..., 2)."""
    right = logistic_cdf(-loc / scale).mean(axis=-1)
    left = logistic_cdf((loc - FIELD_WIDTH_YD) / scale).mean(axis=-1)
    return np.stack([right, left], axis=-1)


def _below(loc: FloatArray, scale: FloatArray, edges: FloatArray) -> FloatArray:
    """Return P(y <= edge) given in bounds, averaged over the nodes, (..., E)."""
    at = logistic_cdf((edges - loc[..., np.newaxis]) / scale[..., np.newaxis]).mean(axis=-2)
    low, high = at[..., :1], at[..., grid.N_LANES : grid.N_LANES + 1]
    # Not given in bounds node by node: a node beyond the sideline must not weigh as one within.
    return np.asarray((at - low) / (high - low), dtype=np.float64)
