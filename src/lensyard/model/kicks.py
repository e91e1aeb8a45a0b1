"""Where kicks and their returns end, and how often kicks are good.

Punts, kickoffs, field goals and tries are plays one photographs too. The tables are counted from
plays by `lensyard.model.fitting.kicks`.

Coordinates: `PlayPoint` of the kicking team, so a return runs toward x = 0. Conventions: a
touchback lies 1 to 9 yd deep, evenly; a return touchdown at x = 9, a yard into the end zone. The
source has no sideways place for kicks: in bounds they are spread evenly over the lanes.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

import numpy as np

from lensyard.arrays import AnyArray, FloatArray
from lensyard.domain.field import OWN_GOAL_LINE_X_YD, RULES, FieldRules
from lensyard.domain.situation import SNAP_TO_POSTS_YD
from lensyard.errors import ModelError, require_range
from lensyard.model.lateral import logistic_cdf
from lensyard.model.outcome_grid import N_X
from lensyard.records import Record

KICK_RESULTS: Final = (
    "returned",
    "fair_catch",
    "downed",
    "out_of_bounds",
    "touchback",
    "blocked",
    "recovered",
    "other",
)
RETURNED, OUT_OF_BOUNDS, TOUCHBACK, BLOCKED = (
    KICK_RESULTS.index(name) for name in ("returned", "out_of_bounds", "touchback", "blocked")
)
RETURN_TOUCHDOWN_X: Final = int(OWN_GOAL_LINE_X_YD) - 1


class KickOutlook(Record):
    """What is likely to become of one kick.

    - ``p_result``: shares of `KICK_RESULTS`, (8,).
    - ``down_x``: where the ball was caught, came down or was blocked, (121,).
    - ``end_x``: where the play ended, (121,).
    - ``out_x``: the part of ``end_x`` that is kicked out of bounds, (121,).
    - ``p_return_touchdown``: part of ``end_x`` at `RETURN_TOUCHDOWN_X`.
    """

    p_result: FloatArray
    down_x: FloatArray
    end_x: FloatArray
    out_x: FloatArray
    p_return_touchdown: float


class KickModel(Record):
    """Fitted kicks; every field is a plain array.

    - ``punt_result``: (99, 8): shares of `KICK_RESULTS` by yardline_100 - 1.
    - ``punt_down_x``, ``punt_end_x``, ``punt_out_x``: (99, 121): see `KickOutlook`.
    - ``punt_return_touchdown``: (99,): P(return touchdown).
    - ``kickoff_result``, ``kickoff_down_x``, ``kickoff_end_x``, ``kickoff_out_x``: (8,), (121,),
      (121,), (121,).
    - ``kickoff_return_touchdown``, ``kickoff_yard_line``: (1,): P(return touchdown), and the yard
      line of the kickoffs that were counted.
    - ``field_goal``: (4,): logit P(made) = a + b d + c d^2 + e max(d - 1.5, 0), d in tens of yards
      from 40. The last term is the end of a leg's range at 55 yd; before it only the strongest try.
    - ``field_goal_blocked``: (2,): logit P(blocked) = a + b d.
    - ``tries``: (2,): P(extra point made), by the latest seasons' snap, and P(two-point try made).
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
        terms = field_goal_terms(np.asarray(distance_yd, dtype=np.float64).ravel())
        return logistic_cdf(terms @ self.field_goal).reshape(np.shape(distance_yd))

    def p_field_goal_blocked(self, distance_yd: float) -> float:
        """Return P(blocked) by distance, snap to posts included. [yd]"""
        terms = np.array([1.0, (distance_yd - 40.0) / 10.0])
        return float(logistic_cdf(terms @ self.field_goal_blocked))

    def p_extra_point_made(self, rules: FieldRules) -> float:
        """Return P(made) of a kicked try.

        Professional tries are kicked from the 15 and counted as such; elsewhere they are snapped
        at the line of the two-point try, and the field-goal curve answers for that distance.
        """
        if rules.name == RULES["pro"].name:
            return float(self.tries[0])
        distance_yd = np.array([rules.try_yard_line + SNAP_TO_POSTS_YD], dtype=np.float64)
        return float(self.p_field_goal_made(distance_yd)[0])

    def to_arrays(self) -> dict[str, FloatArray]:
        """Return plain arrays to store, names prefixed ``kicks_``."""
        return {f"kicks_{name}": getattr(self, name) for name in self.__dataclass_fields__}

    @staticmethod
    def from_arrays(arrays: Mapping[str, AnyArray]) -> KickModel:
        """Return the model from what `to_arrays` gave.

        Raises `ModelError` if an array is missing or has another shape.
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


def tens_from_40(distance_yd: FloatArray) -> FloatArray:
    """Return distances in tens of yards from 40."""
    return np.asarray((distance_yd - 40.0) / 10.0, dtype=np.float64)


def field_goal_terms(distance_yd: FloatArray) -> FloatArray:
    """Return the terms of the field-goal curve, (n, 4)."""
    d = tens_from_40(distance_yd)
    return np.column_stack([np.ones_like(d), d, d * d, np.maximum(d - 1.5, 0.0)])
