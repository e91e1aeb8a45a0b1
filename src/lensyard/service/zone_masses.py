"""Plays by zone and cell of the field: as they ended, and as the model expects them to.

Both are counts of plays, weighted by outcome, on the model's own cells, so that one geometry scores
them alike. Nothing is drawn: each end stands for all lanes that it may have been in.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from lensyard.domain.assignment import OutcomeWeights
from lensyard.domain.field import OPPONENT_GOAL_LINE_X_YD, Zone, zone_of
from lensyard.domain.situation import UNKNOWN_HASH, SituationBatch
from lensyard.model.cells import (
    CARRIED_IN_X,
    DEEP_X,
    N_DEEP,
    N_X,
    N_Y,
    OutcomeArrays,
    cell_masses,
)
from lensyard.service.context import Context

if TYPE_CHECKING:
    from lensyard.data.zone_counts import EndCounts, SituationCounts
    from lensyard.model.lateral import LateralPrior

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

# What stands for the buckets of a gain or of air yards where a label must be guessed.
_BUCKET_YD = np.array([-2.0, 2.0, 7.0, 14.0, 28.0, 50.0])
_BLOCK = 2000
_LINEAR = ("gain", "touchdown", "air", "deep")


def observed_masses(
    ends: EndCounts, prior: LateralPrior, *, weights: tuple[OutcomeWeights, ...]
) -> FloatArray:
    """Return weighted plays by zone and cell, shape (w, zones, 121, 18).

    Parameters
    ----------
    ends
        Counts of ends.
    prior
        Of the rule set.
    weights
        w sets of weights.
    """
    places, number = _places_of(ends, prior)
    x = np.where(ends.outcome == 0, CARRIED_IN_X, OPPONENT_GOAL_LINE_X_YD - ends.to_goal_yd)
    x = np.clip(x, 0, N_X - 1).astype(np.int64)
    result = np.zeros((len(weights), len(Zone), N_X, N_Y))
    deep = ends.in_end_zone == 1
    for w, chosen in enumerate(weights):
        worth = ends.plays * _outcome_worth(chosen)[ends.outcome]
        np.add.at(
            result[w],
            (ends.zone[~deep], x[~deep]),
            worth[~deep, None] * places[number[~deep]],
        )
        within = np.zeros((len(Zone), N_Y))
        np.add.at(within, ends.zone[deep], worth[deep, None] * places[number[deep]])
        result[w, :, DEEP_X] += within[:, None, :] / N_DEEP
    return result


def _outcome_worth(weights: OutcomeWeights) -> FloatArray:
    from lensyard.data.zone_counts import OUTCOMES

    return np.array([getattr(weights, name) for name in OUTCOMES])


def _places_of(ends: EndCounts, prior: LateralPrior) -> tuple[FloatArray, IntArray]:
    """Return the different sideways spreads, (c, 18), and the number of each end's, (n,)."""
    from lensyard.model.lateral_draw import LabeledPlays
    from lensyard.model.lateral_given import places_given
    from lensyard.model.lateral_tables import bucket_of

    bucket = bucket_of(kind=ends.kind, yards=np.rint(ends.yards_yd).astype(np.int64))
    keys = np.stack(
        [ends.kind, ends.side, ends.depth, ends.gap, ends.out_of_bounds, bucket, ends.spread_yd * 2]
    )
    distinct, number = np.unique(keys, axis=1, return_inverse=True)
    kind, side, depth, gap, out, bucket = (row.astype(np.int64) for row in distinct[:6])
    spread = distinct[6] / 2
    carried = np.isin(kind, (0, 4))
    gain = np.where(carried, spread, _BUCKET_YD[bucket])
    labeled = LabeledPlays(
        kind=kind,
        side=side,
        depth=depth,
        gap=gap,
        gain_yd=gain,
        air_yd=np.where(kind == 1, gain - spread, _BUCKET_YD[bucket]),
        out_of_bounds=out == 1,
        hash_code=np.full(kind.shape[0], UNKNOWN_HASH, dtype=np.int64),
    )
    return places_given(labeled, prior), number.reshape(-1)


def predicted_masses(
    context: Context,
    situations: SituationCounts,
    prior: LateralPrior,
    *,
    weights: tuple[OutcomeWeights, ...],
) -> FloatArray:
    """Return what the model expects of situations, weighted plays, shape (w, zones, 121, 18).

    The cells are linear in the model's answer for one line of scrimmage, so the answers are added
    up first and placed once a yard line.
    """
    yardline = np.rint(situations.yardline_100).astype(np.int64)
    n = len(situations)
    batch = SituationBatch(
        down=situations.down,
        distance_yd=np.clip(np.rint(situations.distance_yd).astype(np.int64), 1, yardline),
        yardline_100=yardline,
        score_diff=np.rint(situations.score_diff).astype(np.int64),
        quarter=np.clip(np.rint(situations.quarter).astype(np.int64), 1, 5),
        half_s=situations.half_s,
        hash_code=np.full(n, UNKNOWN_HASH, dtype=np.int64),
    )
    lines = np.unique(yardline)
    totals: dict[str, FloatArray] = {}
    order = np.argsort(yardline, kind="stable")
    for start in range(0, n, _BLOCK):
        rows = order[start : start + _BLOCK]
        arrays = OutcomeArrays.of(context.model, batch.take(rows))
        firsts = np.flatnonzero(np.diff(yardline[rows], prepend=-1))
        at = np.searchsorted(lines, yardline[rows][firsts])
        for name in _LINEAR:
            values = getattr(arrays, name)
            plays = situations.plays[rows].reshape(-1, *[1] * (values.ndim - 1))
            total = totals.setdefault(name, np.zeros((lines.size, *values.shape[1:])))
            total[at] += np.add.reduceat(values * plays.astype(np.float32), firsts, axis=0)
    line_batch = SituationBatch.neutral(
        down=np.ones_like(lines), distance_yd=np.ones_like(lines), yardline_100=lines
    )
    gain, touchdown, air, deep = (totals[name].astype(np.float32) for name in _LINEAR)
    placed = cell_masses(
        OutcomeArrays(
            gain=gain,
            touchdown=touchdown,
            p_caught=context.model.p_caught_in_end_zone(line_batch).astype(np.float32),
            air=air,
            deep=deep,
            yardline_100=lines,
            hash_code=line_batch.hash_code,
        ),
        prior,
        weights=weights,
    )
    result = np.zeros((len(weights), len(Zone), N_X, N_Y))
    zone = np.array([list(Zone).index(zone_of(int(line))) for line in lines])
    for number in np.unique(zone):
        result[:, number] = placed[:, zone == number].sum(axis=1, dtype=np.float64)
    return result
