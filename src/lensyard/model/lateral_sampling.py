"""Drawing the sideways end of plays whose labels are known, and the next snap's hash mark.

The backtest replays real plays, of which the data say side, depth or gap, gain and whether the
ball went out of bounds, but not where across the field they ended. The draws follow the same
mixture as `lensyard.model.lateral.LateralPrior`, given what the data do say.

Where plays end across the field given what the data say of them: expected instead of drawn.

`lensyard.model.lateral_sampling` draws one place a play; counting many plays needs no draw: this
is the
same mixture as probabilities of the 18 places of `lensyard.model.lateral`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from lensyard.domain.field import CENTER_Y_YD, FIELD_WIDTH_YD, FieldRules
from lensyard.domain.situation import UNKNOWN_HASH
from lensyard.errors import InvalidInputError
from lensyard.model.lateral import (
    LANE_EDGES_Y_YD,
    N_LANES,
    LateralPrior,
    carry_offset_yd,
    carry_scale_yd,
    drift_scale_yd,
    hash_edges_y_yd,
    hash_sign,
    logistic_cdf,
    start_y_yd,
    target_quantiles_yd,
)
from lensyard.model.lateral_tables import (
    AIM_SCALE_YD,
    AIR_KINDS,
    CARRY_LABELS,
    COMPLETE,
    INCOMPLETE,
    INTERCEPTION,
    LabelShares,
    bucket_of,
    bundled_shares,
    label_of,
)

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

INCOMPLETE_STAYS_PROB: Final = (0.980, 0.945)
"""After an incompletion the ball stays at an outer hash mark, at the middle (measured lateral
tables, 2022-2025: .982 and .979, .945; what is missing are penalties and scorers' slips)."""

_N_NODES: Final = 15
_INSIDE_YD: Final = 0.4
_EDGE_YD: Final = 1e-6


@dataclass(frozen=True, slots=True)
class LabeledPlays:
    """What the data say about plays, as arrays of shape (n,).

    Codes are positions in the lists of `lensyard.model.lateral_tables`; -1 where unknown. Kind -1
    (kneel, spike) stays where the ball was snapped. ``air_yd`` may be NaN.
    """

    kind: IntArray
    side: IntArray
    depth: IntArray
    gap: IntArray
    gain_yd: FloatArray
    air_yd: FloatArray
    out_of_bounds: BoolArray
    hash_code: IntArray

    def __post_init__(self) -> None:
        """Refuse arrays of different lengths."""
        lengths = {len(getattr(self, name)) for name in self.__dataclass_fields__}
        if len(lengths) != 1:
            raise InvalidInputError(
                f"labeled plays need arrays of one length; got lengths {sorted(lengths)}"
            )


def draw_end_y_yd(
    rng: np.random.Generator,
    plays: LabeledPlays,
    *,
    rules: FieldRules,
    shares: LabelShares | None = None,
) -> FloatArray:
    """Draw where plays end across the field, given their labels.

    Parameters
    ----------
    rng
        Source of the draws.
    plays
        Their labels. An unknown label is drawn from its share given kind, bucket and whether the
        play went out of bounds.
    rules
        Whose hash marks.
    shares
        Label shares; the bundled ones by default.

    Returns
    -------
    ndarray of float
        y in the play frame, shape (n,): exactly 0 or the field's width for plays that went out of
        bounds and for incompletions that came down beyond a sideline; strictly between else. [yd]
    """
    shares = bundled_shares() if shares is None else shares
    kind = np.maximum(plays.kind, 0)
    yards = placing_yards(plays)
    label, side = _labels(rng, plays, kind, yards, shares)
    center = start_y_yd(kind=kind, hash_code=plays.hash_code, rules=rules)
    loc, scale, weight = noise_nodes(plays, kind, label, center, side)
    y = _draw_inside(rng, loc, scale, weight)
    out = plays.out_of_bounds & ~np.isin(kind, AIR_KINDS)
    y = np.where(out, _draw_sideline(rng, loc, scale), y)
    y = np.where(kind == INCOMPLETE, _draw_aim(rng, kind, label, center, side), y)
    ball_y_yd = CENTER_Y_YD + rules.hash_off_center_yd * hash_sign(plays.hash_code)
    return np.asarray(np.where(plays.kind < 0, ball_y_yd, y), dtype=np.float64)


def placing_yards(plays: LabeledPlays) -> IntArray:
    """Return air yards for balls that came down, else the gain; (n,)."""
    air = np.where(np.isnan(plays.air_yd), 8.0, plays.air_yd)
    return np.where(np.isin(plays.kind, AIR_KINDS), air, plays.gain_yd).astype(np.int64)


def _labels(
    rng: np.random.Generator,
    plays: LabeledPlays,
    kind: IntArray,
    yards: IntArray,
    shares: LabelShares,
) -> tuple[IntArray, FloatArray]:
    """Return labels and signs of the side (+1 left), unknown ones drawn; (n,) each."""
    label = label_of(kind=kind, side=plays.side, depth=plays.depth, gap=plays.gap)
    bucket = bucket_of(kind=kind, yards=yards)
    weight = shares.weight[kind, bucket]
    p_out = shares.p_out[kind, bucket]
    weight = weight * np.where(plays.out_of_bounds[:, np.newaxis], p_out + 1e-9, 1.0 - p_out)
    below = np.cumsum(weight, axis=1) / weight.sum(axis=1, keepdims=True)
    drawn = (rng.random((len(kind), 1)) > below[:, :-1]).sum(axis=1)
    toss = np.where(rng.random(len(kind)) < 0.5, 1.0, -1.0)
    known = plays.side >= 0
    # A side without its gap or depth keeps the side; a middle without a depth is a short one.
    partly = known & (label < 0)
    middle = plays.side == 1
    drawn = np.where(partly & ~middle, np.maximum(drawn, 1), np.where(partly, 0, drawn))
    side = np.where(known, hash_sign(np.maximum(plays.side, 0)), toss)
    return np.where(label < 0, drawn, label), np.asarray(side, dtype=np.float64)


def noise_nodes(
    plays: LabeledPlays, kind: IntArray, label: IntArray, center: FloatArray, side: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return centers of the noise (n, Q), its scale (n, 1), and P(in bounds) by node (n, Q)."""
    after = np.where(np.isnan(plays.air_yd), plays.gain_yd / 2, plays.gain_yd - plays.air_yd)
    carry = carry_scale_yd(kind=kind, label=label, gain_yd=plays.gain_yd)
    scale = np.where(kind == COMPLETE, drift_scale_yd(after), carry)
    scale = np.where(np.isin(kind, AIR_KINDS), AIM_SCALE_YD, scale)[:, np.newaxis]
    targets = target_quantiles_yd((np.arange(_N_NODES) + 0.5) / _N_NODES)[label]
    throw = (kind == COMPLETE) | np.isin(kind, AIR_KINDS)
    run_offset = carry_offset_yd(kind=kind, label=label, gain_yd=plays.gain_yd)[:, np.newaxis]
    offset = np.where(throw[:, np.newaxis], targets, np.broadcast_to(run_offset, targets.shape))
    # The targets of a middle label are symmetric; the sign only orders them.
    loc = center[:, np.newaxis] + np.where(side == 0, 1.0, side)[:, np.newaxis] * offset
    caught = ((kind == COMPLETE) | (kind == INTERCEPTION))[:, np.newaxis]
    loc = np.where(caught, np.clip(loc, _INSIDE_YD, FIELD_WIDTH_YD - _INSIDE_YD), loc)
    inside = logistic_cdf((FIELD_WIDTH_YD - loc) / scale) - logistic_cdf(-loc / scale)
    return loc, scale, inside


def _draw_inside(
    rng: np.random.Generator, loc: FloatArray, scale: FloatArray, weight: FloatArray
) -> FloatArray:
    """Draw from the noise truncated at the sidelines; (n,)."""
    below = np.cumsum(weight, axis=1) / weight.sum(axis=1, keepdims=True)
    node = (rng.random((len(loc), 1)) > below[:, :-1]).sum(axis=1)[:, np.newaxis]
    center = np.take_along_axis(loc, node, axis=1)[:, 0]
    width = scale[:, 0]
    low = logistic_cdf(-center / width)
    high = logistic_cdf((FIELD_WIDTH_YD - center) / width)
    u = np.clip(low + rng.random(len(loc)) * (high - low), 1e-12, 1.0 - 1e-12)
    y: FloatArray = center + width * (np.log(u) - np.log1p(-u))
    return np.clip(y, _EDGE_YD, FIELD_WIDTH_YD - _EDGE_YD)


def _draw_sideline(rng: np.random.Generator, loc: FloatArray, scale: FloatArray) -> FloatArray:
    """Draw the sideline that was crossed, in proportion to the mass beyond each; (n,)."""
    right = logistic_cdf(-loc / scale).sum(axis=1)
    left = logistic_cdf((loc - FIELD_WIDTH_YD) / scale).sum(axis=1)
    return np.where(rng.random(len(loc)) * (left + right) < left, FIELD_WIDTH_YD, 0.0)


def _draw_aim(
    rng: np.random.Generator,
    kind: IntArray,
    label: IntArray,
    center: FloatArray,
    side: FloatArray,
) -> FloatArray:
    """Draw where incomplete passes came down, sidelines exactly when beyond; (n,)."""
    p = rng.random(len(kind))
    offset = np.take_along_axis(target_quantiles_yd(p), label[np.newaxis], axis=0)[0]
    u = np.clip(rng.random(len(kind)), 1e-12, 1.0 - 1e-12)
    noise = AIM_SCALE_YD * (np.log(u) - np.log1p(-u))
    y: FloatArray = center + np.where(side == 0, 1.0, side) * offset + noise
    return np.clip(y, 0.0, FIELD_WIDTH_YD)


def nearest_hash_code(*, y_end_yd: FloatArray, rules: FieldRules) -> IntArray:
    """Return the hash code (0 left, 1 middle, 2 right) nearest to where the ball was dead; (n,).

    Beyond a hash mark the ball comes back to it; between them it stays where it is, and the
    scorer's code is the nearest of the three.
    """
    right, left = hash_edges_y_yd(rules)
    return np.where(y_end_yd > left, 0, np.where(y_end_yd < right, 2, 1)).astype(np.int64)


def next_hash_pmf(
    *, y_end_yd: FloatArray, kind: IntArray, hash_code: IntArray, rules: FieldRules
) -> FloatArray:
    """Return the next snap's hash code's probabilities, columns left, middle, right; (n, 3).

    After an incompletion the ball goes back to the hash mark where it was snapped, but for the
    few that `INCOMPLETE_STAYS_PROB` leaves; else it is the nearest hash mark for certain.
    """
    moved = np.eye(3)[nearest_hash_code(y_end_yd=y_end_yd, rules=rules)]
    outer, middle = INCOMPLETE_STAYS_PROB
    stays = np.array(
        [
            [outer, (1 - outer) / 4, 3 * (1 - outer) / 4],
            [(1 - middle) / 2, middle, (1 - middle) / 2],
            [3 * (1 - outer) / 4, (1 - outer) / 4, outer],
        ]
    )[hash_code]
    return np.where((kind == INCOMPLETE)[:, np.newaxis], stays, moved)


def draw_hash(
    rng: np.random.Generator,
    *,
    y_end_yd: FloatArray,
    kind: IntArray,
    hash_code: IntArray,
    rules: FieldRules,
) -> IntArray:
    """Draw the next snap's hash code from `next_hash_pmf`; shape (n,)."""
    pmf = next_hash_pmf(y_end_yd=y_end_yd, kind=kind, hash_code=hash_code, rules=rules)
    above = rng.random((len(pmf), 1)) > np.cumsum(pmf, axis=1)[:, :-1]
    return np.asarray(above.sum(axis=1), dtype=np.int64)


N_PLACES = N_LANES + 2
_SIDES = (-1.0, 1.0)


def places_given(plays: LabeledPlays, prior: LateralPrior) -> FloatArray:
    """Return how likely plays end at each of the 18 places across the field, given their labels.

    Parameters
    ----------
    plays
        What the data say, n plays. Where the hash code is unknown, all three count as often as
        snaps lie there.
    prior
        Of the rule set.

    Returns
    -------
    ndarray of float, shape (n, 18)
        The right sideline, the lanes from right to left, the left sideline; rows sum to 1.
    """
    weight = _label_weights(plays, prior.shares)  # (n, 2 sides, 4 labels)
    unknown = plays.hash_code == UNKNOWN_HASH
    result = np.zeros((len(plays.kind), N_PLACES))
    for code, share in enumerate(prior.hash_shares):
        for s, sign in enumerate(_SIDES):
            for label in range(len(CARRY_LABELS)):
                here = weight[:, s, label] * np.where(unknown, share, plays.hash_code == code)
                rows = np.flatnonzero(here > 0.0)
                if rows.size:
                    places = _places(_from_hash(plays, rows, code), label, sign, prior.rules)
                    result[rows] += here[rows, np.newaxis] * places
    return result


def _from_hash(plays: LabeledPlays, rows: IntArray, code: int) -> LabeledPlays:
    """Return some plays, snapped at one hash mark."""
    chosen = {name: getattr(plays, name)[rows] for name in LabeledPlays.__dataclass_fields__}
    chosen["hash_code"] = np.full(rows.size, code, dtype=np.int64)
    return LabeledPlays(**chosen)


def _label_weights(plays: LabeledPlays, shares: LabelShares) -> FloatArray:
    """Return the weight of every side (right, left) and label, shape (n, 2, 4)."""
    kind = plays.kind
    label = label_of(kind=kind, side=plays.side, depth=plays.depth, gap=plays.gap)
    bucket = bucket_of(kind=kind, yards=placing_yards(plays))
    p_out = shares.p_out[kind, bucket]
    likely = shares.weight[kind, bucket]
    likely = likely * np.where(plays.out_of_bounds[:, np.newaxis], p_out + 1e-9, 1.0 - p_out)
    likely /= likely.sum(axis=1, keepdims=True)
    # A side without its gap or depth keeps the side; a middle without a depth is a short one.
    partly, middle = (plays.side >= 0) & (label < 0), plays.side == 1
    sided = likely.copy()
    sided[:, 1] += sided[:, 0]
    sided[:, 0] = 0.0
    short = np.eye(likely.shape[1])[np.zeros(len(kind), dtype=np.int64)]
    likely = np.where((partly & middle)[:, np.newaxis], short, likely)
    likely = np.where((partly & ~middle)[:, np.newaxis], sided, likely)
    known = (label >= 0)[:, np.newaxis]
    likely = np.where(known, np.eye(likely.shape[1])[np.maximum(label, 0)], likely)
    sign = np.where(plays.side >= 0, hash_sign(np.maximum(plays.side, 0)), 0.0)
    toss = (plays.side < 0) & (label < 0)
    # A middle label is drawn toward the left, as in `lateral_draw`; its targets are symmetric.
    left = np.where(toss | (plays.side < 0), 0.5, np.where(sign == 0, 1.0, (sign + 1) / 2))
    side = np.stack([1.0 - left, left], axis=1)
    weights: FloatArray = side[:, :, np.newaxis] * likely[:, np.newaxis, :]
    return weights


def _places(plays: LabeledPlays, label: int, sign: float, rules: FieldRules) -> FloatArray:
    """Return the places of plays with one label toward one side, shape (n, 18)."""
    n = len(plays.kind)
    center = start_y_yd(kind=plays.kind, hash_code=plays.hash_code, rules=rules)
    labels = np.full(n, label, dtype=np.int64)
    loc, scale, _ = noise_nodes(plays, plays.kind, labels, center, np.full(n, sign))
    below = logistic_cdf((LANE_EDGES_Y_YD - loc[:, :, np.newaxis]) / scale[:, :, np.newaxis]).mean(
        axis=1
    )
    beyond = np.stack([below[:, 0], 1.0 - below[:, -1]], axis=1)
    lanes = np.diff(below, axis=1)
    inside = lanes / lanes.sum(axis=1, keepdims=True)
    out = beyond / beyond.sum(axis=1, keepdims=True)
    went_out = (plays.out_of_bounds & ~np.isin(plays.kind, AIR_KINDS))[:, np.newaxis]
    came_down = (plays.kind == INCOMPLETE)[:, np.newaxis]
    middle = np.where(came_down, lanes, np.where(went_out, 0.0, inside))
    sides = np.where(came_down, beyond, np.where(went_out, out, 0.0))
    return np.concatenate([sides[:, :1], middle, sides[:, 1:]], axis=1)


__all__ = ["N_PLACES", "places_given"]
