"""Where kicks and their returns end, and how often kicks are good.

Punts, kickoffs, field goals and tries are plays one photographs too. The tables are counted from
plays by `lensyard.model.fitting.kicks`.

Coordinates: `PlayPoint` of the kicking team, so a return runs toward x = 0. Conventions: a
touchback lies 1 to 9 yd deep, evenly; a return touchdown at x = 9, a yard into the end zone. The
source has no sideways place for kicks: in bounds they are spread evenly over the lanes.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np

from lensyard.domain.field import OWN_GOAL_LINE_X_YD, RULES, FieldRules
from lensyard.errors import require_range
from lensyard.model.lateral import logistic_cdf
from lensyard.model.outcome_grid import N_X, N_Y, AnyArray, FloatArray
from lensyard.model.tables import plain_table

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
RETURNED, OUT_OF_BOUNDS, TOUCHBACK = (
    KICK_RESULTS.index(name) for name in ("returned", "out_of_bounds", "touchback")
)
RETURN_TOUCHDOWN_X: Final = int(OWN_GOAL_LINE_X_YD) - 1
SNAP_TO_POSTS_YD: Final = 18
"""A field goal's distance beyond the line of scrimmage: 10 yd of end zone, 7 to 8 to the holder
(nine of ten kicks in the bundled plays have 18)."""


@dataclass(frozen=True, slots=True)
class KickOutlook:
    """What is likely to become of a kick, or of one from each of several lines of scrimmage.

    Attributes
    ----------
    p_result
        Shares of `KICK_RESULTS`, (..., 8).
    down_x
        Where the ball was caught, came down or was blocked, (..., 121).
    end_x
        Where the play ended, (..., 121).
    out_x
        The part of ``end_x`` that is kicked out of bounds, (..., 121).
    p_return_touchdown
        The part of ``end_x`` at `RETURN_TOUCHDOWN_X`, (...).
    """

    p_result: FloatArray
    down_x: FloatArray
    end_x: FloatArray
    out_x: FloatArray
    p_return_touchdown: FloatArray

    def at(self, row: int) -> KickOutlook:
        """Return the outlook of one line of scrimmage."""
        return KickOutlook(*(getattr(self, name)[row] for name in self.__dataclass_fields__))

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
    """Fitted kicks.

    Attributes
    ----------
    punts
        By yardline_100 - 1, 99 rows.
    kickoffs
        From the usual line of the seasons fitted; ``p_return_touchdown`` is (1,).
    kickoff_yard_line
        (1,): the yard line of the kickoffs that were counted.
    field_goal
        (4,): logit P(made) = a + b d + c d^2 + e max(d - 1.5, 0), d in tens of yards from 40. The
        last term is the end of a leg's range at 55 yd; before it only the strongest try.
    field_goal_blocked
        (2,): logit P(blocked) = a + b d.
    tries
        (2,): P(extra point made), by the latest seasons' snap, and P(two-point try made).
    """

    punts: KickOutlook
    kickoffs: KickOutlook
    kickoff_yard_line: FloatArray
    field_goal: FloatArray
    field_goal_blocked: FloatArray
    tries: FloatArray

    def punt(self, *, yardline_100: int) -> KickOutlook:
        """Return the outlook of a punt snapped at this line of scrimmage (1 to 99)."""
        require_range(low=1, high=99, yardline_100=yardline_100)
        return self.punts.at(yardline_100 - 1)

    def kickoff(self) -> KickOutlook:
        """Return the outlook of a kickoff from the usual line of the seasons fitted.

        Kickoff rules have changed often (the professional game's in 2011, 2016, 2018, 2024 and
        2025): for other rules, treat the touchback share as unknown.
        """
        return self.kickoffs

    def p_field_goal_made(self, distance_yd: FloatArray) -> FloatArray:
        """Return P(made) by distance, snap to posts included; same shape. [yd]"""
        terms = field_goal_terms(np.asarray(distance_yd, dtype=np.float64).ravel())
        return logistic_cdf(terms @ self.field_goal).reshape(np.shape(distance_yd))

    def p_field_goal_blocked(self, distance_yd: FloatArray) -> FloatArray:
        """Return P(blocked) by distance; same shape. [yd]"""
        a, b = self.field_goal_blocked
        return logistic_cdf(a + b * tens_from_40(distance_yd))

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
        arrays = {f"kicks_{name}": getattr(self, name) for name in _PLAIN}
        for kick, outlook in (("punt", self.punts), ("kickoff", self.kickoffs)):
            for name, part in _PARTS.items():
                arrays[f"kicks_{kick}_{name}"] = getattr(outlook, part)
        return arrays

    @staticmethod
    def from_arrays(arrays: Mapping[str, AnyArray]) -> KickModel:
        """Return the model from what `to_arrays` gave.

        Raises
        ------
        ModelError
            If an array is missing or has another shape.
        """
        return KickModel(
            punts=_outlook(arrays, "punt", rows=(99,)),
            kickoffs=_outlook(arrays, "kickoff", rows=()),
            **{name: plain_table(arrays, f"kicks_{name}", shape) for name, shape in _PLAIN.items()},
        )


_PLAIN: Final = {
    "kickoff_yard_line": (1,),
    "field_goal": (4,),
    "field_goal_blocked": (2,),
    "tries": (2,),
}
_PARTS: Final = {
    "result": "p_result",
    "down_x": "down_x",
    "end_x": "end_x",
    "out_x": "out_x",
    "return_touchdown": "p_return_touchdown",
}


def _outlook(arrays: Mapping[str, AnyArray], kick: str, *, rows: tuple[int, ...]) -> KickOutlook:
    """Return stored outlooks; where they are stored coarsely, their mass is 1 again."""
    shapes = dict.fromkeys(_PARTS, (*rows, N_X)) | {
        "result": (*rows, len(KICK_RESULTS)),
        "return_touchdown": rows or (1,),
    }
    stored = {name: plain_table(arrays, f"kicks_{kick}_{name}", s) for name, s in shapes.items()}
    if arrays["kicks_punt_end_x"].dtype != np.float64:
        whole = stored["end_x"].sum(axis=-1, keepdims=True)
        for name, mass in (("out_x", whole), ("end_x", whole), ("result", None), ("down_x", None)):
            stored[name] /= stored[name].sum(axis=-1, keepdims=True) if mass is None else mass
    return KickOutlook(**{_PARTS[name]: table for name, table in stored.items()})


def tens_from_40(distance_yd: FloatArray) -> FloatArray:
    """Return distances in tens of yards from 40."""
    return np.asarray((distance_yd - 40.0) / 10.0, dtype=np.float64)


def field_goal_terms(distance_yd: FloatArray) -> FloatArray:
    """Return the terms of the field-goal curve, (n, 4)."""
    d = tens_from_40(distance_yd)
    return np.column_stack([np.ones_like(d), d, d * d, np.maximum(d - 1.5, 0.0)])
