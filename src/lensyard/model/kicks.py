"""Where kicks and their returns end, and how often kicks are good.

Punts, kickoffs, field goals and tries are plays one photographs too. Everything here is counted
from plays: results and end spots of punts by line of scrimmage, smoothed over neighboring lines;
kickoffs from the latest seasons under one rule; field goals by a logistic curve in the distance.
Answers need NumPy only.

Frame: `PlayPoint` of the kicking team, so a return runs toward x = 0. Conventions: a touchback
lies 1 to 9 yd deep, evenly; a return touchdown at x = 9, a yard into the end zone. The source has
no sideways place for kicks: in bounds they are spread evenly over the lanes.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np
from numpy.typing import NDArray

from lensyard.domain.field import RULES, FieldRules
from lensyard.errors import ModelError, require_range
from lensyard.model.fitting.fit import KICK_RESULTS, KickShares, count_kicks
from lensyard.model.outcome_grid import N_X, N_Y

if TYPE_CHECKING:
    import pandas as pd

FloatArray = NDArray[np.float64]

KICKOFF_SEASONS: Final = 2
"""Kickoffs are counted from so many of the latest seasons: rules and habits change."""
TRY_SEASONS: Final = 4
SNAP_TO_POSTS_YD: Final = 18
"""A field goal's distance beyond the line of scrimmage: 10 yd of end zone, 7 to 8 to the holder
(nine of ten kicks in the bundled plays have 18)."""


@dataclass(frozen=True, slots=True)
class KickOutlook:
    """What is likely to become of one kick.

    Attributes
    ----------
    p_result
        Shares of `KICK_RESULTS`, (8,).
    down_x
        Where the ball was caught, came down or was blocked, (121,).
    end_x
        Where the play ended, (121,).
    out_x
        The part of ``end_x`` that is kicked out of bounds, (121,).
    p_return_touchdown
        Part of ``end_x`` at `RETURN_TOUCHDOWN_X`.
    """

    p_result: FloatArray
    down_x: FloatArray
    end_x: FloatArray
    out_x: FloatArray
    p_return_touchdown: float

    def end_cells(self) -> FloatArray:
        """Return the end as cells of the model's grid, (121, 18); sums to 1.

        Out of bounds lies half on each sideline, the rest evenly over the lanes.
        """
        cells = np.zeros((N_X, N_Y))
        cells[:, 1:-1] = (self.end_x - self.out_x)[:, np.newaxis] / (N_Y - 2)
        cells[:, 0] = cells[:, -1] = self.out_x / 2
        return cells


@dataclass(frozen=True, slots=True)
class KickModel:
    """Fitted kicks; every field is a plain array.

    Attributes
    ----------
    punt_result
        (99, 8): shares of `KICK_RESULTS` by yardline_100 - 1.
    punt_down_x, punt_end_x, punt_out_x
        (99, 121): see `KickOutlook`.
    punt_return_touchdown
        (99,): P(return touchdown).
    kickoff_result, kickoff_down_x, kickoff_end_x, kickoff_out_x
        (8,), (121,), (121,), (121,).
    kickoff_return_touchdown, kickoff_yard_line
        (1,): P(return touchdown), and the yard line of the kickoffs that were counted.
    field_goal
        (4,): logit P(made) = a + b d + c d^2 + e max(d - 1.5, 0), d in tens of yards from 40. The
        last term is the end of a leg's range at 55 yd; before it only the strongest try.
    field_goal_blocked
        (2,): logit P(blocked) = a + b d.
    tries
        (2,): P(extra point made), by the latest seasons' snap, and P(two-point try made).
    """

    punt_result: FloatArray
    punt_down_x: FloatArray
    punt_end_x: FloatArray
    punt_out_x: FloatArray
    punt_return_touchdown: FloatArray
    kickoff_result: FloatArray
    kickoff_down_x: FloatArray
    kickoff_end_x: FloatArray
    kickoff_out_x: FloatArray
    kickoff_return_touchdown: FloatArray
    kickoff_yard_line: FloatArray
    field_goal: FloatArray
    field_goal_blocked: FloatArray
    tries: FloatArray

    def punt(self, *, yardline_100: int) -> KickOutlook:
        """Return the outlook of a punt snapped at this line of scrimmage (1 to 99)."""
        require_range(low=1, high=99, yardline_100=yardline_100)
        at = yardline_100 - 1
        return KickOutlook(
            p_result=self.punt_result[at],
            down_x=self.punt_down_x[at],
            end_x=self.punt_end_x[at],
            out_x=self.punt_out_x[at],
            p_return_touchdown=float(self.punt_return_touchdown[at]),
        )

    def kickoff(self) -> KickOutlook:
        """Return the outlook of a kickoff from the usual line of the seasons fitted.

        Kickoff rules have changed often (the professional game's in 2011, 2016, 2018, 2024 and
        2025): for other rules, treat the touchback share as unknown.
        """
        return KickOutlook(
            p_result=self.kickoff_result,
            down_x=self.kickoff_down_x,
            end_x=self.kickoff_end_x,
            out_x=self.kickoff_out_x,
            p_return_touchdown=float(self.kickoff_return_touchdown[0]),
        )

    def p_field_goal_made(self, distance_yd: FloatArray) -> FloatArray:
        """Return P(made) by distance, snap to posts included; same shape. [yd]"""
        terms = _field_goal_terms(np.asarray(distance_yd, dtype=np.float64).ravel())
        return _logistic(terms @ self.field_goal).reshape(np.shape(distance_yd))

    def p_field_goal_blocked(self, distance_yd: FloatArray) -> FloatArray:
        """Return P(blocked) by distance; same shape. [yd]"""
        a, b = self.field_goal_blocked
        return _logistic(a + b * _tens_from_40(distance_yd))

    def p_extra_point_made(self, rules: FieldRules) -> float:
        """Return P(made) of a kicked try.

        Professional tries are kicked from the 15 and counted as such; elsewhere they are snapped
        at the line of the two-point try, and the field-goal curve answers for that distance.
        """
        if rules.name == RULES["pro"].name:
            return float(self.tries[0])
        distance_yd = np.array([rules.try_yard_line + SNAP_TO_POSTS_YD], dtype=np.float64)
        return float(self.p_field_goal_made(distance_yd)[0])

    @property
    def p_two_point_made(self) -> float:
        """P(a two-point try succeeds)."""
        return float(self.tries[1])

    def to_arrays(self) -> dict[str, FloatArray]:
        """Return plain arrays to store, names prefixed ``kicks_``."""
        return {f"kicks_{name}": getattr(self, name) for name in self.__dataclass_fields__}

    @staticmethod
    def from_arrays(arrays: Mapping[str, NDArray[Any]]) -> KickModel:
        """Return the model from what `to_arrays` gave.

        Raises
        ------
        ModelError
            If an array is missing or has another shape.
        """
        values = {}
        for name, shape in _SHAPES.items():
            stored = arrays.get(f"kicks_{name}")
            if stored is None or stored.shape != shape:
                found = "missing" if stored is None else f"of shape {stored.shape}"
                raise ModelError(f"the model's kicks_{name} is {found}; fit the model again")
            values[name] = np.asarray(stored, dtype=np.float64)
        if arrays["kicks_punt_end_x"].dtype != np.float64:  # stored coarsely: mass 1 again
            for kick in ("punt", "kickoff"):
                whole = values[f"{kick}_end_x"].sum(axis=-1, keepdims=True)
                values[f"{kick}_out_x"] /= whole
                values[f"{kick}_end_x"] /= whole
                for name in (f"{kick}_result", f"{kick}_down_x"):
                    values[name] /= values[name].sum(axis=-1, keepdims=True)
        return KickModel(**values)


_SHAPES: Final[dict[str, tuple[int, ...]]] = {
    "punt_result": (99, len(KICK_RESULTS)),
    "punt_down_x": (99, N_X),
    "punt_end_x": (99, N_X),
    "punt_out_x": (99, N_X),
    "punt_return_touchdown": (99,),
    "kickoff_result": (len(KICK_RESULTS),),
    "kickoff_down_x": (N_X,),
    "kickoff_end_x": (N_X,),
    "kickoff_out_x": (N_X,),
    "kickoff_return_touchdown": (1,),
    "kickoff_yard_line": (1,),
    "field_goal": (4,),
    "field_goal_blocked": (2,),
    "tries": (2,),
}


def fit_kicks(plays: pd.DataFrame, *, seasons: Sequence[int]) -> KickModel:
    """Count and fit the kicks of some seasons.

    Parameters
    ----------
    plays : pandas.DataFrame
        Canonical plays: season, kind, yardline_100, kick_distance_yd, end_yardline_100,
        kick_result, return_touchdown.
    seasons : sequence of int
        Those to use; kickoffs and tries from the latest of them.

    Returns
    -------
    KickModel

    Raises
    ------
    ModelError
        If the seasons lack any kind of kick.
    """
    chosen = plays[plays["season"].isin(list(seasons))]
    by_kind = {
        kind: chosen[chosen["kind"] == kind]
        for kind in ("punt", "kickoff", "field_goal", "extra_point", "two_point")
    }
    empty = [kind for kind, rows in by_kind.items() if rows.empty]
    if empty:
        raise ModelError(f"the seasons hold no {', '.join(empty)}; fit on more plays")
    punts = count_kicks(by_kind["punt"])
    at = np.arange(1, 100)
    kickoffs, spot = _latest_kickoffs(by_kind["kickoff"])
    one = KickShares.over(count_kicks(kickoffs), np.array([spot]))
    many = KickShares.over(punts, at)
    distance = by_kind["field_goal"]["kick_distance_yd"].to_numpy(dtype=np.float64)
    d = _tens_from_40(distance)
    result = by_kind["field_goal"]["kick_result"].to_numpy()
    return KickModel(
        punt_result=many.result,
        punt_down_x=many.down_x,
        punt_end_x=many.end_x,
        punt_out_x=many.out_x,
        punt_return_touchdown=many.return_touchdown,
        kickoff_result=one.result[0],
        kickoff_down_x=one.down_x[0],
        kickoff_end_x=one.end_x[0],
        kickoff_out_x=one.out_x[0],
        kickoff_return_touchdown=one.return_touchdown,
        kickoff_yard_line=np.array([100.0 - spot]),
        field_goal=_fit_logistic(_field_goal_terms(distance), result == "made"),
        field_goal_blocked=_fit_logistic(
            np.column_stack([np.ones_like(d), d]), result == "blocked"
        ),
        tries=np.array([_recent_extra_points(by_kind["extra_point"]), _made(by_kind["two_point"])]),
    )


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


def _tens_from_40(distance_yd: FloatArray) -> FloatArray:
    return np.asarray((distance_yd - 40.0) / 10.0, dtype=np.float64)


def _field_goal_terms(distance_yd: FloatArray) -> FloatArray:
    """Return the terms of the field-goal curve, (n, 4)."""
    d = _tens_from_40(distance_yd)
    return np.column_stack([np.ones_like(d), d, d * d, np.maximum(d - 1.5, 0.0)])


def _logistic(z: FloatArray) -> FloatArray:
    return np.asarray(0.5 * (1.0 + np.tanh(0.5 * z)), dtype=np.float64)


def _fit_logistic(x: FloatArray, y: NDArray[np.bool_]) -> FloatArray:
    """Return coefficients of a logistic regression by Newton's method; x is (n, p), y (n,)."""
    weight = np.zeros(x.shape[1])
    ridge = 1e-3 * np.eye(x.shape[1])  # keeps a sample without a miss finite
    for _ in range(30):
        p = _logistic(x @ weight)
        slope = x.T @ (y - p) - ridge @ weight
        step = np.linalg.solve((x * (p * (1.0 - p))[:, np.newaxis]).T @ x + ridge, slope)
        weight = weight + np.clip(step, -2.0, 2.0)
        if np.abs(step).max() < 1e-8:
            break
    return weight
