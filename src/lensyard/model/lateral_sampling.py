"""Where plays end across the field given what the data say of them: drawn, or as probabilities.

The backtest replays real plays, of which the data say side, depth or gap, gain and whether the
ball went out of bounds, but not where across the field they ended. Both functions follow the
mixture of `lensyard.model.lateral`: `draw_end_y_yd` draws one place a play, `places_given` returns
the probabilities of all 18.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from lensyard.arrays import BoolArray, FloatArray, IntArray
from lensyard.domain.field import CENTER_Y_YD, FIELD_WIDTH_YD, FieldRules
from lensyard.domain.situation import UNKNOWN_HASH
from lensyard.errors import InvalidInputError
from lensyard.model import outcome_grid as grid
from lensyard.model.lateral import (
    LateralPrior,
    hash_edges_y_yd,
    hash_sign,
    logistic_cdf,
    noise_nodes,
    start_y_yd,
    target_quantiles_yd,
)
from lensyard.model.lateral_tables import (
    AIM_SCALE_YD,
    CARRY_LABELS,
    DEPTHS,
    GAPS,
    SIDES,
    LabelShares,
    bucket_of,
    bundled_shares,
    label_of,
)
from lensyard.model.outcome_grid import codes

if TYPE_CHECKING:
    import pandas as pd

INCOMPLETE_STAYS_PROB: Final = (0.980, 0.945)
"""After an incompletion the ball stays at an outer hash mark, at the middle (measured lateral
tables, 2022-2025: .982 and .979, .945; what is missing are penalties and scorers' slips)."""
_EDGE_YD: Final = 1e-6
_UNKNOWN_AIR_YD: Final = 8.0


@dataclass(frozen=True, slots=True)
class LabeledPlays:
    """What the data say about plays, as arrays of shape (n,).

    Codes are positions in `KINDS`, `SIDES`, `DEPTHS` and `GAPS`; -1 where unknown. Kind -1 (kneel,
    spike) stays where the ball was snapped. ``air_yd`` may be NaN.
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

    @staticmethod
    def of(plays: pd.DataFrame, hash_code: IntArray) -> LabeledPlays:
        """Return the labels of canonical plays, snapped at these hash marks, shape (n,)."""
        return LabeledPlays(
            kind=codes(plays["kind"], grid.KINDS),
            side=codes(plays["side"], SIDES),
            depth=codes(plays["depth"], DEPTHS),
            gap=codes(plays["gap"], GAPS),
            gain_yd=plays["gain_yd"].to_numpy(np.float64),
            air_yd=plays["air_yd"].to_numpy(np.float64),
            out_of_bounds=plays["out_of_bounds"].to_numpy(bool),
            hash_code=hash_code,
        )

    def __len__(self) -> int:
        """The number of plays."""
        return int(self.kind.shape[0])

    @property
    def after_catch_yd(self) -> FloatArray:
        """Yards after the catch; half of the gain where the air yards are unknown."""
        return np.where(np.isnan(self.air_yd), self.gain_yd / 2, self.gain_yd - self.air_yd)

    @property
    def placing_yd(self) -> IntArray:
        """Air yards for balls that came down, else the gain."""
        air = np.where(np.isnan(self.air_yd), _UNKNOWN_AIR_YD, self.air_yd)
        return np.where(np.isin(self.kind, grid.AIR_KINDS), air, self.gain_yd).astype(np.int64)

    def take(self, rows: IntArray, *, hash_code: int) -> LabeledPlays:
        """Return some plays, snapped at one hash mark."""
        chosen = LabeledPlays(*(getattr(self, f.name)[rows] for f in fields(self)))
        return replace(chosen, hash_code=np.full(rows.size, hash_code, dtype=np.int64))


def draw_end_y_yd(
    rng: np.random.Generator, plays: LabeledPlays, *, rules: FieldRules
) -> FloatArray:
    """Draw where plays end across the field, given their labels.

    An unknown label is drawn from its share given kind, bucket and whether the play went out of
    bounds.

    The result: y in the play's coordinates, shape (n,): exactly 0 or the field's width for plays
    that went out of bounds and for incompletions that came down beyond a sideline; strictly between
    else. [yd]
    """
    kind = np.maximum(plays.kind, 0)
    share, p_left = _label_distribution(plays, bundled_shares())
    label = _drawn(rng, np.cumsum(share, axis=1))
    side = np.where(rng.random(len(plays)) < p_left, 1.0, -1.0)
    center = start_y_yd(kind=kind, hash_code=plays.hash_code, rules=rules)
    loc, scale = noise_nodes(
        kind=kind,
        label=label,
        side=side,
        center_y_yd=center,
        gain_yd=plays.gain_yd,
        after_catch_yd=plays.after_catch_yd,
    )
    y = _draw_inside(rng, loc, scale)
    out = plays.out_of_bounds & ~np.isin(kind, grid.AIR_KINDS)
    y = np.where(out, _draw_sideline(rng, loc, scale), y)
    y = np.where(kind == grid.INCOMPLETE, _draw_aim(rng, label, center, side), y)
    ball_y_yd = CENTER_Y_YD + rules.hash_off_center_yd * hash_sign(plays.hash_code)
    return np.asarray(np.where(plays.kind < 0, ball_y_yd, y), dtype=np.float64)


def _label_distribution(plays: LabeledPlays, shares: LabelShares) -> tuple[FloatArray, FloatArray]:
    """Return P(label) of every play, (n, 4), and P(its side is the left), (n,).

    Both are certain where the data say. A side without its gap or depth keeps the side, a middle
    without a depth is a short one. A middle label counts as left: its targets are symmetric.
    """
    kind = np.maximum(plays.kind, 0)
    label = label_of(kind=kind, side=plays.side, depth=plays.depth, gap=plays.gap)
    bucket = bucket_of(kind=kind, yards=plays.placing_yd)
    p_out = shares.p_out[kind, bucket]
    share = shares.weight[kind, bucket]
    share = share * np.where(plays.out_of_bounds[:, np.newaxis], p_out + 1e-9, 1.0 - p_out)
    share /= share.sum(axis=1, keepdims=True)
    certain = np.eye(len(CARRY_LABELS))
    partly, middle = (plays.side >= 0) & (label < 0), plays.side == SIDES.index("middle")
    sided = share.copy()
    sided[:, 1] += sided[:, 0]
    sided[:, 0] = 0.0
    share = np.where((partly & middle)[:, np.newaxis], certain[0], share)
    share = np.where((partly & ~middle)[:, np.newaxis], sided, share)
    share = np.where((label >= 0)[:, np.newaxis], certain[np.maximum(label, 0)], share)
    p_left = np.where(plays.side < 0, 0.5, np.where(plays.side == SIDES.index("right"), 0.0, 1.0))
    return share, p_left


def _drawn(rng: np.random.Generator, below: FloatArray) -> IntArray:
    """Return one drawn column a row from cumulative probabilities, shape (n, k)."""
    return np.asarray((rng.random((len(below), 1)) > below[:, :-1]).sum(axis=1), dtype=np.int64)


def _draw_inside(rng: np.random.Generator, loc: FloatArray, scale: FloatArray) -> FloatArray:
    """Draw from the noise truncated at the sidelines; (n,)."""
    weight = logistic_cdf((FIELD_WIDTH_YD - loc) / scale) - logistic_cdf(-loc / scale)
    node = _drawn(rng, np.cumsum(weight, axis=1) / weight.sum(axis=1, keepdims=True))
    center = np.take_along_axis(loc, node[:, np.newaxis], axis=1)[:, 0]
    width = scale[:, 0]
    low = logistic_cdf(-center / width)
    high = logistic_cdf((FIELD_WIDTH_YD - center) / width)
    y = center + width * _logit(low + rng.random(len(loc)) * (high - low))
    return np.clip(y, _EDGE_YD, FIELD_WIDTH_YD - _EDGE_YD)


def _logit(p: FloatArray) -> FloatArray:
    """Return log-odds, kept finite."""
    u = np.clip(p, 1e-12, 1.0 - 1e-12)
    return np.asarray(np.log(u) - np.log1p(-u), dtype=np.float64)


def _draw_sideline(rng: np.random.Generator, loc: FloatArray, scale: FloatArray) -> FloatArray:
    """Draw the sideline that was crossed, in proportion to the mass beyond each; (n,)."""
    right = logistic_cdf(-loc / scale).sum(axis=1)
    left = logistic_cdf((loc - FIELD_WIDTH_YD) / scale).sum(axis=1)
    return np.where(rng.random(len(loc)) * (left + right) < left, FIELD_WIDTH_YD, 0.0)


def _draw_aim(
    rng: np.random.Generator, label: IntArray, center: FloatArray, side: FloatArray
) -> FloatArray:
    """Draw where incomplete passes came down, sidelines exactly when beyond; (n,)."""
    p = rng.random(len(label))
    offset = np.take_along_axis(target_quantiles_yd(p), label[np.newaxis], axis=0)[0]
    y: FloatArray = center + side * offset + AIM_SCALE_YD * _logit(rng.random(len(label)))
    return np.clip(y, 0.0, FIELD_WIDTH_YD)


def nearest_hash_code(*, y_end_yd: FloatArray, rules: FieldRules) -> IntArray:
    """Return the hash code (0 left, 1 middle, 2 right) nearest to where the ball was dead; (n,).

    Beyond a hash mark the ball comes back to it; between them it stays where it is, and the
    scorer's code is the nearest of the three.
    """
    right, left = hash_edges_y_yd(rules)
    return np.where(y_end_yd > left, 0, np.where(y_end_yd < right, 2, 1)).astype(np.int64)


def draw_hash(
    rng: np.random.Generator,
    *,
    y_end_yd: FloatArray,
    kind: IntArray,
    hash_code: IntArray,
    rules: FieldRules,
) -> IntArray:
    """Draw the next snap's hash code; shape (n,).

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
    pmf = np.where((kind == grid.INCOMPLETE)[:, np.newaxis], stays, moved)
    return _drawn(rng, np.cumsum(pmf, axis=1))


def places_given(plays: LabeledPlays, prior: LateralPrior) -> FloatArray:
    """Return how likely n plays end at each of the 18 places, given their labels, shape (n, 18).

    Where the hash code is unknown, all three count as often as snaps lie there. Rows sum to 1.
    """
    share, p_left = _label_distribution(plays, prior.shares)
    unknown = plays.hash_code == UNKNOWN_HASH
    result = np.zeros((len(plays), grid.N_Y))
    for code, code_share in enumerate(prior.hash_shares):
        for side, p_side in ((-1.0, 1.0 - p_left), (1.0, p_left)):
            for label in range(len(CARRY_LABELS)):
                here = p_side * share[:, label]
                here = here * np.where(unknown, code_share, plays.hash_code == code)
                rows = np.flatnonzero(here > 0.0)
                if rows.size:
                    places = _places(plays.take(rows, hash_code=code), label, side, prior.rules)
                    result[rows] += here[rows, np.newaxis] * places
    return result


def _places(plays: LabeledPlays, label: int, side: float, rules: FieldRules) -> FloatArray:
    """Return the places of plays with one label toward one side, shape (n, 18)."""
    n = len(plays)
    loc, scale = noise_nodes(
        kind=plays.kind,
        label=np.full(n, label, dtype=np.int64),
        side=np.full(n, side),
        center_y_yd=start_y_yd(kind=plays.kind, hash_code=plays.hash_code, rules=rules),
        gain_yd=plays.gain_yd,
        after_catch_yd=plays.after_catch_yd,
    )
    below = logistic_cdf(
        (grid.LANE_EDGES_Y_YD - loc[:, :, np.newaxis]) / scale[:, :, np.newaxis]
    ).mean(axis=1)
    beyond = np.stack([below[:, 0], 1.0 - below[:, -1]], axis=1)
    lanes = np.diff(below, axis=1)
    inside = lanes / lanes.sum(axis=1, keepdims=True)
    out = beyond / beyond.sum(axis=1, keepdims=True)
    went_out = (plays.out_of_bounds & ~np.isin(plays.kind, grid.AIR_KINDS))[:, np.newaxis]
    came_down = (plays.kind == grid.INCOMPLETE)[:, np.newaxis]
    middle = np.where(came_down, lanes, np.where(went_out, 0.0, inside))
    sides = np.where(came_down, beyond, np.where(went_out, out, 0.0))
    return np.concatenate([sides[:, :1], middle, sides[:, 1:]], axis=1)
