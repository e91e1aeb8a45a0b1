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

Frame: `PlayPoint`; y 0 is the offense's right sideline. For college and school rules the hash
marks lie wider and ``c`` moves with them; no measured table exists for those levels.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final

import numpy as np
from numpy.typing import NDArray

from lensyard.domain.field import CENTER_Y_YD, FIELD_WIDTH_YD, RULES, FieldRules
from lensyard.model import lateral_tables as tables
from lensyard.model.lateral_tables import (
    AIR_KINDS,
    COMPLETE,
    INCOMPLETE,
    INTERCEPTION,
    LATERAL_KINDS,
    RUN,
    SACK,
    SCRAMBLE,
    LabelShares,
    bucket_of,
    bundled_shares,
    near_goal_shares,
)

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

N_LANES: Final = 16
LANE_WIDTH_YD: Final = FIELD_WIDTH_YD / N_LANES
LANE_EDGES_Y_YD: Final[FloatArray] = np.linspace(0.0, FIELD_WIDTH_YD, N_LANES + 1)
LANE_CENTERS_Y_YD: Final[FloatArray] = (LANE_EDGES_Y_YD[:-1] + LANE_EDGES_Y_YD[1:]) / 2

GAIN_LOW_YD: Final = -20
GAIN_HIGH_YD: Final = 99
AIR_LOW_YD: Final = -10
AIR_HIGH_YD: Final = 70
GAIN_KINDS: Final = (RUN, COMPLETE, SACK, SCRAMBLE)
"""The kinds of the first axis of `LateralPrior.by_gain`; `AIR_KINDS` are those of ``by_air``."""

HASH_SIDES: Final = (1.0, 0.0, -1.0, 0.0)
"""Sign of y, from the middle, of the hash codes left, middle, right and unknown."""
START_HASH_SHARES: Final = (0.456, 0.092, 0.452)
"""How often plays start at each (measured lateral tables, runs and passes, 2022-2025)."""

_GAIN_KNOTS: Final = (-20, -4, -1, 0, 2, 3, 4, 7, 9, 10, 14, 19, 20, 29, 39, 40, 60, 99)
_AIR_KNOTS: Final = (-10, -1, 0, 4, 5, 9, 10, 14, 15, 24, 25, 70)
_N_NODES: Final = 15
_INSIDE_YD: Final = 0.4
"""A catch in bounds lies at least so far from a sideline: a foot or so."""
_MAX_P_OUT: Final = 0.95


def logistic_cdf(z: FloatArray) -> FloatArray:
    """Return the logistic distribution function, without overflow."""
    return np.asarray(0.5 * (1.0 + np.tanh(0.5 * z)), dtype=np.float64)


def hash_sign(hash_code: IntArray) -> FloatArray:
    """Return 1, 0, -1, 0 for hash codes 0 left, 1 middle, 2 right, 3 unknown; same shape."""
    return np.asarray(HASH_SIDES, dtype=np.float64)[hash_code]


def start_y_yd(*, kind: IntArray, hash_code: IntArray, rules: FieldRules) -> FloatArray:
    """Return the center of the sideways spread before any label; shape (n,). [yd]

    Runs and sacks lie where the runner takes the ball, passes and scrambles in the middle of the
    targets.
    """
    dropback = (kind == COMPLETE) | (kind == SCRAMBLE) | np.isin(kind, AIR_KINDS)
    ratio = np.where(dropback, tables.PASS_HASH_RATIO, tables.CARRY_HASH_RATIO)
    return np.asarray(
        CENTER_Y_YD + ratio * rules.hash_off_center_yd * hash_sign(hash_code), dtype=np.float64
    )


def carry_offset_yd(*, kind: IntArray, label: IntArray, gain_yd: FloatArray) -> FloatArray:
    """Return a carry's displacement toward the side of its label; broadcast shape. [yd]"""
    base = np.asarray(tables.CARRY_OFFSET_YD)[label]
    wider = np.where(kind == SCRAMBLE, tables.SCRAMBLE_EXTRA_YD * (label == len(tables.GAPS)), 0.0)
    growth = tables.CARRY_OFFSET_PER_YD * np.clip(gain_yd, 0.0, tables.CARRY_OFFSET_GAIN_CAP_YD)
    return np.asarray(np.where(label == 0, 0.0, base + wider + growth), dtype=np.float64)


def carry_scale_yd(*, kind: IntArray, label: IntArray, gain_yd: FloatArray) -> FloatArray:
    """Return the scale of a carry's noise; broadcast shape. [yd]"""
    past = gain_yd - tables.CARRY_SCALE_GAIN_FROM_YD
    growth = tables.CARRY_SCALE_PER_YD * np.clip(past, 0.0, tables.CARRY_SCALE_GAIN_SPAN_YD)
    loose = np.where(kind == SCRAMBLE, tables.SCRAMBLE_EXTRA_SCALE_YD, 0.0)
    carry = np.asarray(tables.CARRY_SCALE_YD)[label] + growth + loose
    return np.asarray(np.where(kind == SACK, tables.SACK_SCALE_YD, carry), dtype=np.float64)


def drift_scale_yd(after_catch_yd: FloatArray) -> FloatArray:
    """Return the scale of the sideways drift after a catch; same shape. [yd]"""
    grown = tables.DRIFT_SCALE_PER_YD * np.maximum(after_catch_yd, 0.0)
    return np.minimum(tables.DRIFT_SCALE_YD + grown, tables.DRIFT_SCALE_CAP_YD)


@dataclass(frozen=True, slots=True)
class LateralPrior:
    """Sideways distributions of one rule set, ready to be indexed.

    The last axis of ``by_gain`` and ``by_air`` has 18 places: 0 is the right sideline exactly (out
    of bounds), 1 to 16 the lanes from right to left, 17 the left sideline; it sums to 1.

    Attributes
    ----------
    rules
        Whose hash marks.
    shares
        Label shares that it was built from.
    by_gain
        (4, 120, 3, 18): `GAIN_KINDS`, gain -20 to 99, hash code.
    by_air
        (2, 81, 3, 18): `AIR_KINDS`, air yards -10 to 70, hash code. For incompletions the outer
        places hold balls that came down beyond the sideline.
    inside_by_gain, inside_by_air
        The same given that the play ended in bounds: touchdowns.
    hash_by_gain
        (4, 120, 3, 3): the next snap's hash code after such a play.
    hash_shares
        (3,): how often plays start at each hash code, for whoever does not know.
    """

    rules: FieldRules
    shares: LabelShares
    by_gain: FloatArray
    by_air: FloatArray
    inside_by_gain: FloatArray
    inside_by_air: FloatArray
    hash_by_gain: FloatArray
    hash_shares: FloatArray
    _near_goal: list[LateralPrior] = field(default_factory=list, repr=False, compare=False)

    @staticmethod
    def build(*, rules: FieldRules, shares: LabelShares | None = None) -> LateralPrior:
        """Return the prior of a rule set; with the bundled label shares by default."""
        shares = bundled_shares() if shares is None else shares
        gain = [_tables_of(k, np.array(_GAIN_KNOTS), rules, shares) for k in GAIN_KINDS]
        air = [_tables_of(k, np.array(_AIR_KNOTS), rules, shares) for k in AIR_KINDS]
        to_gain = _interpolation(_GAIN_KNOTS, np.arange(GAIN_LOW_YD, GAIN_HIGH_YD + 1))
        to_air = _interpolation(_AIR_KNOTS, np.arange(AIR_LOW_YD, AIR_HIGH_YD + 1))
        hash_by_gain = np.stack([_spread_over(to_gain, t.next_hash) for t in gain])
        return LateralPrior(
            rules=rules,
            shares=shares,
            by_gain=np.stack([_spread_over(to_gain, t.mass) for t in gain]),
            by_air=np.stack([_spread_over(to_air, t.mass) for t in air]),
            inside_by_gain=np.stack([_spread_over(to_gain, t.inside) for t in gain]),
            inside_by_air=np.stack([_spread_over(to_air, t.inside) for t in air]),
            hash_by_gain=hash_by_gain,
            hash_shares=stationary_hash_shares(hash_by_gain),
        )

    def near_goal(self) -> LateralPrior:
        """Return the prior of plays from the `NEAR_GOAL_YD` line in, built once."""
        if not self._near_goal:
            near = LateralPrior.build(rules=self.rules, shares=near_goal_shares(self.shares))
            self._near_goal.append(near)
        return self._near_goal[0]

    def side_pmf(self, *, kind: int, yards: int, hash_code: int) -> FloatArray:
        """Return the probabilities of the 18 places across the field; shape (18,).

        Parameters
        ----------
        kind
            Position in `LATERAL_KINDS`.
        yards
            Gain; air yards for incompletions and interceptions. Clipped to the tables. [yd]
        hash_code
            0 left, 1 middle, 2 right, 3 unknown.
        """
        if kind in AIR_KINDS:
            table, first = self.by_air[AIR_KINDS.index(kind)], AIR_LOW_YD
        else:
            table, first = self.by_gain[GAIN_KINDS.index(kind)], GAIN_LOW_YD
        at = min(max(yards - first, 0), len(table) - 1)
        known = table[at]
        places: FloatArray = (
            known[hash_code] if hash_code < len(known) else self.hash_shares @ known
        )
        return places

    def lane_pmf(self, *, kind: int, yards: int, hash_code: int) -> FloatArray:
        """Return `side_pmf` with each sideline counted in the lane beside it; shape (16,)."""
        places = self.side_pmf(kind=kind, yards=yards, hash_code=hash_code)
        lanes = places[1:-1].copy()
        lanes[0] += places[0]
        lanes[-1] += places[-1]
        return lanes


_TYPICAL_PLAYS: Final = ((RUN, 4, 0.43), (COMPLETE, 9, 0.36), (SACK, -6, 0.04), (SCRAMBLE, 7, 0.03))
"""Kind, gain and share of a season's plays; the rest, incompletions, stay where they were snapped.
Rounded from the bundled plays of 2016 to 2018."""


def stationary_hash_shares(hash_by_gain: FloatArray) -> FloatArray:
    """Return how often plays start at each hash code in the long run, shape (3,).

    The chain of hash marks over typical plays, ``hash_by_gain`` as in `LateralPrior`.
    """
    chain = np.eye(3) * (1.0 - sum(share for _, _, share in _TYPICAL_PLAYS))
    for kind, gain, share in _TYPICAL_PLAYS:
        chain = chain + share * hash_by_gain[GAIN_KINDS.index(kind), gain - GAIN_LOW_YD]
    shares = np.linalg.matrix_power(chain, 64)[1]
    even = (shares + shares[::-1]) / 2
    return np.asarray(even / even.sum(), dtype=np.float64)


@dataclass(frozen=True, slots=True)
class _Tables:
    """One kind's tables over its knots: mass (Y, 3, 18), inside (Y, 3, 18), next_hash (Y, 3, 3)."""

    mass: FloatArray
    inside: FloatArray
    next_hash: FloatArray


@dataclass(frozen=True, slots=True)
class _Spread:
    """Displacement toward the side, (Y, L, Q), and scale, (Y, L), of one kind over its knots."""

    offset: FloatArray
    scale: FloatArray


def hash_edges_y_yd(rules: FieldRules) -> FloatArray:
    """Return the two places that part the right, middle and left hash codes; shape (2,). [yd]

    Between the hash marks a scorer writes the nearest of the three.
    """
    half = rules.hash_off_center_yd / 2
    return np.array([CENTER_Y_YD - half, CENTER_Y_YD + half])


def target_quantiles_yd(p: FloatArray) -> FloatArray:
    """Return target displacements toward the side for each pass label; shape (4, *p.shape)."""
    levels = np.array([0.0, *tables.TARGET_PERCENTILES, 1.0])
    return np.stack([np.interp(p, levels, row) for row in tables.fold_targets()])


def _spread(kind: int, yards: IntArray, shares: LabelShares) -> _Spread:
    """Return a kind's displacement and scale over its knots."""
    label = np.arange(len(tables.CARRY_LABELS))[np.newaxis, :]
    gain = yards[:, np.newaxis].astype(np.float64)
    kinds = np.full(np.broadcast(gain, label).shape, kind)
    if kind in (RUN, SCRAMBLE, SACK):
        offset = carry_offset_yd(kind=kinds, label=label, gain_yd=gain)
        if kind == SACK:
            offset = np.zeros_like(offset)
        return _Spread(
            offset=offset[:, :, np.newaxis],
            scale=carry_scale_yd(kind=kinds, label=label, gain_yd=gain),
        )
    nodes = target_quantiles_yd((np.arange(_N_NODES) + 0.5) / _N_NODES)
    offset = np.broadcast_to(nodes, (yards.shape[0], *nodes.shape))
    if kind != COMPLETE:
        return _Spread(offset=offset, scale=np.full(kinds.shape, tables.AIM_SCALE_YD))
    after = shares.after_catch_yd[bucket_of(kind=kinds[:, 0], yards=yards)]
    return _Spread(offset=offset, scale=drift_scale_yd(np.minimum(after, np.maximum(gain, 1.0))))


def _tables_of(kind: int, yards: IntArray, rules: FieldRules, shares: LabelShares) -> _Tables:
    """Return one kind's tables over its knots."""
    spread = _spread(kind, yards, shares)
    bucket = bucket_of(kind=np.full(yards.shape, kind), yards=yards)
    weight = shares.weight[kind][bucket]
    typical = _typical_tail(kind, spread)
    by_hash = []
    for hash_code in (0, 1):
        loc = _locations(kind, spread, hash_code, rules)
        tail = _tails(loc, spread)  # (Y, L, sign, side)
        whole = tail.sum(axis=3)
        if kind == INCOMPLETE:
            p_out = whole
        else:
            scaled = shares.p_out[kind][bucket][:, :, np.newaxis] * whole
            p_out = np.minimum(scaled / typical[:, :, np.newaxis], _MAX_P_OUT)
        out = np.einsum("yl,ylsr->yr", weight / 2, tail * (p_out / whole)[..., np.newaxis])
        edges = np.concatenate([LANE_EDGES_Y_YD, hash_edges_y_yd(rules)])
        below = _below(loc, spread, edges)  # (Y, L, sign, 19) given in bounds
        stays = weight[:, :, np.newaxis] / 2 * (1.0 - p_out)
        by_hash.append(
            (
                out,
                np.einsum("yls,ylse->ye", stays, below),
                np.einsum("yl,ylse->ye", weight / 2, below),
            )
        )
    return _by_three_hashes(by_hash)


def _by_three_hashes(by_hash: list[tuple[FloatArray, FloatArray, FloatArray]]) -> _Tables:
    """Return tables of all hash codes; the right one is the left one mirrored, exactly."""
    mass, inside, following = [], [], []
    for out, below, below_in in by_hash:
        lanes = np.diff(below[:, : N_LANES + 1], axis=1)
        mass.append(np.hstack([out[:, :1], lanes, out[:, 1:]]))
        bare = np.diff(below_in[:, : N_LANES + 1], axis=1)
        inside.append(np.pad(bare, ((0, 0), (1, 1))))
        right, not_left, all_in = below[:, -2], below[:, -1], below[:, N_LANES]
        following.append(
            np.stack([all_in - not_left + out[:, 1], not_left - right, right + out[:, 0]], axis=1)
        )
    stacked = []
    for left, middle in (mass, inside, following):
        even = (middle + middle[:, ::-1]) / 2
        three = np.stack([left, even, left[:, ::-1]], axis=1)
        stacked.append(three / three.sum(axis=2, keepdims=True))
    return _Tables(*stacked)


def _locations(kind: int, spread: _Spread, hash_code: int, rules: FieldRules) -> FloatArray:
    """Return the centers of the noise, (Y, L, 2 sides, Q): toward the right, toward the left."""
    center = start_y_yd(kind=np.array(kind), hash_code=np.array(hash_code), rules=rules)
    sides = np.array([-1.0, 1.0])[:, np.newaxis]
    loc = center + sides * spread.offset[:, :, np.newaxis, :]
    if kind in (COMPLETE, INTERCEPTION):
        loc = np.clip(loc, _INSIDE_YD, FIELD_WIDTH_YD - _INSIDE_YD)
    return np.asarray(loc, dtype=np.float64)


def _tails(loc: FloatArray, spread: _Spread) -> FloatArray:
    """Return the untruncated mass beyond the right and the left sideline, (Y, L, 2, 2)."""
    scale = spread.scale[:, :, np.newaxis, np.newaxis]
    right = logistic_cdf(-loc / scale).mean(axis=3)
    left = logistic_cdf((loc - FIELD_WIDTH_YD) / scale).mean(axis=3)
    return np.stack([right, left], axis=3)


def _typical_tail(kind: int, spread: _Spread) -> FloatArray:
    """Return the mean tail over sides and starting hash marks of the measured game, (Y, L)."""
    tails = [
        _tails(_locations(kind, spread, code, RULES["pro"]), spread).sum(axis=3).mean(axis=2)
        for code in range(3)
    ]
    return np.asarray(np.tensordot(START_HASH_SHARES, np.stack(tails), axes=1), dtype=np.float64)


def _below(loc: FloatArray, spread: _Spread, edges: FloatArray) -> FloatArray:
    """Return P(y <= edge) given in bounds, averaged over the nodes, (Y, L, 2, E)."""
    scale = spread.scale[:, :, np.newaxis, np.newaxis, np.newaxis]
    at = logistic_cdf((edges - loc[..., np.newaxis]) / scale)
    low, high = at[..., :1], at[..., N_LANES : N_LANES + 1]
    # Not given in bounds node by node: a node beyond the sideline must not weigh as one within.
    inside = (high - low).mean(axis=3)
    return np.asarray((at - low).mean(axis=3) / inside, dtype=np.float64)


def _interpolation(knots: tuple[int, ...], grid: IntArray) -> FloatArray:
    """Return weights that interpolate linearly from the knots to a grid, (grid, knots)."""
    eye = np.eye(len(knots))
    return np.stack([np.interp(grid, knots, row) for row in eye], axis=1)


def _spread_over(weights: FloatArray, at_knots: FloatArray) -> FloatArray:
    return np.ascontiguousarray(np.tensordot(weights, at_knots, axes=1))


def kind_code(name: str) -> int:
    """Return the position of a kind's name in `LATERAL_KINDS`."""
    return LATERAL_KINDS.index(name)
