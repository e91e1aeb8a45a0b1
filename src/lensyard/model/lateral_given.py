"""Where plays end across the field given what the data say of them: expected instead of drawn.

`lensyard.model.lateral_draw` draws one place a play; counting many plays needs no draw: this is the
same mixture as probabilities of the 18 places of `lensyard.model.lateral`.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from lensyard.domain.field import FieldRules
from lensyard.domain.situation import UNKNOWN_HASH
from lensyard.model.lateral import (
    LANE_EDGES_Y_YD,
    N_LANES,
    LateralPrior,
    hash_sign,
    logistic_cdf,
    start_y_yd,
)
from lensyard.model.lateral_draw import LabeledPlays, noise_nodes, placing_yards
from lensyard.model.lateral_tables import (
    AIR_KINDS,
    CARRY_LABELS,
    INCOMPLETE,
    LabelShares,
    bucket_of,
    label_of,
)

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

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
