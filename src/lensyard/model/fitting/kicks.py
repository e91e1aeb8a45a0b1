"""Counting kicks: results and places by line of scrimmage, smoothed over neighboring lines.

Kickoffs are counted from the latest seasons under one rule; field goals get a logistic curve in
the distance.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

import numpy as np

from lensyard.arrays import AnyArray, BoolArray, FloatArray, IntArray
from lensyard.domain.situation import SNAP_TO_POSTS_YD
from lensyard.errors import ModelError
from lensyard.model import outcome_grid as grid
from lensyard.model.kicks import (
    KICK_RESULTS,
    OUT_OF_BOUNDS,
    RETURN_TOUCHDOWN_X,
    TOUCHBACK,
    KickModel,
    field_goal_terms,
    tens_from_40,
)
from lensyard.model.lateral import logistic_cdf
from lensyard.model.outcome_grid import codes
from lensyard.records import Record

if TYPE_CHECKING:
    import pandas as pd

KICKOFF_SEASONS: Final = 2
"""Kickoffs are counted from so many of the latest seasons: rules and habits change."""
TRY_SEASONS: Final = 4
PUNT_SEASONS: Final = 4
"""Punts too: they fly a yard farther every five seasons, and fewer are returned."""
_FROM_YD: Final = 60  # index of a kick of length 0 in the arrays over distance
_N_DISTANCES: Final = 181
_BANDWIDTH_YD: Final = 2.0
_WIDE_YD: Final = 10.0
_WIDE_SHARE: Final = 0.02


class KickCounts(Record):
    """Counts by yardline_100 - 1, (99, ...); distances are counted along the kick.

    Touchbacks and return touchdowns have fixed places and are not in ``end`` and ``out``.
    """

    result: FloatArray
    down: FloatArray
    end: FloatArray
    out: FloatArray
    return_touchdown: FloatArray


def count_kicks(kicks: pd.DataFrame) -> KickCounts:
    """Count canonical plays of one kind of kick."""
    line = kicks["yardline_100"].to_numpy(dtype=np.int64)
    result = codes(kicks["kick_result"], KICK_RESULTS)
    result[result < 0] = KICK_RESULTS.index("other")
    scored = kicks["return_touchdown"].to_numpy(dtype=bool)
    length = np.nan_to_num(kicks["kick_distance_yd"].to_numpy(dtype=np.float64))
    end = line - np.nan_to_num(kicks["end_yardline_100"].to_numpy(dtype=np.float64))
    free = ~scored & (result != TOUCHBACK)
    kicked_out = free & (result == OUT_OF_BOUNDS)
    return KickCounts(
        result=_tally(line, result, len(KICK_RESULTS)),
        down=_tally(line, length + _FROM_YD, _N_DISTANCES),
        end=_tally(line[free], end[free] + _FROM_YD, _N_DISTANCES),
        out=_tally(line[kicked_out], end[kicked_out] + _FROM_YD, _N_DISTANCES),
        return_touchdown=_tally(line[scored], np.zeros(int(scored.sum())), 1)[:, 0],
    )


def _tally(line: IntArray, column: AnyArray, width: int) -> FloatArray:
    counts = np.zeros((99, width))
    np.add.at(counts, (line - 1, np.clip(column, 0, width - 1).astype(np.int64)), 1.0)
    return counts


class KickShares(Record):
    """Shares by line of scrimmage, (m, ...), places along the field in the play frame."""

    result: FloatArray
    down_x: FloatArray
    end_x: FloatArray
    out_x: FloatArray
    return_touchdown: FloatArray

    @staticmethod
    def over(counted: KickCounts, lines: IntArray) -> KickShares:
        """Smooth the counts over neighboring lines of scrimmage.

        A normal kernel of 2 yd, and a fiftieth part of one of 10 yd for lines that hardly ever
        occur. Lengths are smoothed, not places, so a punt from the 30 teaches one from the 31.
        """
        apart = lines[:, np.newaxis] - np.arange(1, 100)
        kernel = np.exp(-0.5 * (apart / _BANDWIDTH_YD) ** 2)
        kernel += _WIDE_SHARE * np.exp(-0.5 * (apart / _WIDE_YD) ** 2)
        total = kernel @ counted.result.sum(axis=1)
        share = kernel / total[:, np.newaxis]
        result = share @ counted.result
        scored = share @ counted.return_touchdown
        end_x = _placed(share @ counted.end, lines, high=grid.GOAL_X - 1)
        end_x[:, grid.DEEP_X] += result[:, TOUCHBACK, np.newaxis] / grid.N_DEEP
        end_x[:, RETURN_TOUCHDOWN_X] += scored
        # A touchback that is returned for a touchdown by a slip of the scorer counts twice.
        whole = end_x.sum(axis=1, keepdims=True)
        return KickShares(
            result=result,
            down_x=_placed(share @ counted.down, lines, high=grid.DEEP_X.stop - 1),
            end_x=end_x / whole,
            out_x=_placed(share @ counted.out, lines, high=grid.GOAL_X - 1) / whole,
            return_touchdown=scored / whole[:, 0],
        )


def _placed(by_length: FloatArray, lines: IntArray, *, high: int) -> FloatArray:
    """Return lengths as places along the field, (m, 121), nothing before 0 or beyond ``high``."""
    places = np.zeros((by_length.shape[0], grid.N_X))
    length = np.arange(_N_DISTANCES) - _FROM_YD
    for row, line in enumerate(lines):
        x = np.clip(grid.GOAL_X - line + length, 0, high)
        np.add.at(places[row], x, by_length[row])
    return places


def fit_kicks(
    plays: pd.DataFrame, *, seasons: Sequence[int], prior: KickModel | None = None
) -> KickModel:
    """Count and fit the kicks of some seasons from canonical plays.

    A kind of kick of which no result is known is the prior's. Raises `ModelError` if there is none
    and no prior.
    """
    chosen = plays[plays["season"].isin(list(seasons)) & plays["kick_result"].fillna("").ne("")]
    rows = {kind: chosen[chosen["kind"] == kind] for kind in (*_PARTS, "extra_point", "two_point")}
    empty = [kind for kind, some in rows.items() if some.empty]
    if empty and prior is None:
        raise ModelError(f"the seasons hold no {', '.join(empty)}; fit on more plays")
    arrays = {} if prior is None else {n: getattr(prior, n) for n in prior.__dataclass_fields__}
    for kind, count in _PARTS.items():
        if kind not in empty:
            arrays |= count(rows[kind])
    tries = np.array(arrays.get("tries", np.zeros(2)))
    if "extra_point" not in empty:
        tries[0] = _recent_extra_points(rows["extra_point"])
    if "two_point" not in empty:
        tries[1] = _made(rows["two_point"])
    return KickModel(**(arrays | {"tries": tries}))


def _punts(punts: pd.DataFrame) -> dict[str, FloatArray]:
    """Return the arrays of `KickModel` about punts."""
    recent = punts[punts["season"] > punts["season"].max() - PUNT_SEASONS]
    many = KickShares.over(count_kicks(recent), np.arange(1, 100))
    return {
        "punt_result": many.result,
        "punt_down_x": many.down_x,
        "punt_end_x": many.end_x,
        "punt_out_x": many.out_x,
        "punt_return_touchdown": many.return_touchdown,
    }


def _kickoffs(every: pd.DataFrame) -> dict[str, FloatArray]:
    """Return the arrays of `KickModel` about kickoffs."""
    kickoffs, spot = _latest_kickoffs(every)
    one = KickShares.over(count_kicks(kickoffs), np.array([spot]))
    return {
        "kickoff_result": one.result[0],
        "kickoff_down_x": one.down_x[0],
        "kickoff_end_x": one.end_x[0],
        "kickoff_out_x": one.out_x[0],
        "kickoff_return_touchdown": one.return_touchdown,
        "kickoff_yard_line": np.array([100.0 - spot]),
    }


def _field_goals(kicks: pd.DataFrame) -> dict[str, FloatArray]:
    """Return the arrays of `KickModel` about field goals, whose length may be the snap's."""
    snapped = kicks["yardline_100"] + SNAP_TO_POSTS_YD
    distance = kicks["kick_distance_yd"].fillna(snapped).to_numpy(dtype=np.float64)
    d = tens_from_40(distance)
    result = kicks["kick_result"].to_numpy()
    return {
        "field_goal": _fit_logistic(field_goal_terms(distance), result == "made"),
        "field_goal_blocked": _fit_logistic(
            np.column_stack([np.ones_like(d), d]), result == "blocked"
        ),
    }


_PARTS: Final = {"punt": _punts, "kickoff": _kickoffs, "field_goal": _field_goals}


def _latest_kickoffs(kickoffs: pd.DataFrame) -> tuple[pd.DataFrame, int]:
    """Return the latest seasons' kickoffs from the usual line, and that line's yardline_100."""
    latest = int(kickoffs["season"].max())
    spot = int(kickoffs.loc[kickoffs["season"] == latest, "yardline_100"].mode().iloc[0])
    recent = kickoffs["season"] > latest - KICKOFF_SEASONS
    return kickoffs[recent & (kickoffs["yardline_100"] == spot)], spot


def _recent_extra_points(tries: pd.DataFrame) -> float:
    """Return P(made) of the latest seasons' tries from their usual line."""
    latest = int(tries["season"].max())
    spot = tries.loc[tries["season"] == latest, "yardline_100"].mode().iloc[0]
    recent = tries["season"] > latest - TRY_SEASONS
    return _made(tries[recent & (tries["yardline_100"] == spot)])


def _made(tries: pd.DataFrame) -> float:
    return float((tries["kick_result"] == "made").mean())


def _fit_logistic(x: FloatArray, y: BoolArray) -> FloatArray:
    """Return coefficients of a logistic regression by Newton's method; x is (n, p), y (n,)."""
    weight = np.zeros(x.shape[1])
    ridge = 1e-3 * np.eye(x.shape[1])  # keeps a sample without a miss finite
    for _ in range(30):
        p = logistic_cdf(x @ weight)
        slope = x.T @ (y - p) - ridge @ weight
        step = np.linalg.solve((x * (p * (1.0 - p))[:, np.newaxis]).T @ x + ridge, slope)
        weight = weight + np.clip(step, -2.0, 2.0)
        if np.abs(step).max() < 1e-8:
            break
    return weight
