"""The usual habits, as stations, and rules of two numbers.

Habits are common practice among photographers at American football: stay level with the ball, stand
some 20 yards ahead of it and go to a corner behind the goal line inside the 20, or stay behind the
offense for the defense's faces. They are shown beside every recommendation, and a backtest plays
them.

Positions are numbered as in `lensyard.spots.scorer.Scorer` (play frame).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lensyard.domain.assignment import Faces
from lensyard.domain.field import (
    CENTER_Y_YD,
    FIELD_LENGTH_YD,
    FIELD_WIDTH_YD,
    OPPONENT_GOAL_LINE_X_YD,
)
from lensyard.domain.zones import RED_ZONE_FROM
from lensyard.errors import require_range

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class TwoNumberRule:
    """Stand ``ahead_yd`` ahead of the ball; from ``end_line_from`` in, go behind the end line.

    Attributes
    ----------
    ahead_yd
        Ahead of the line of scrimmage along the sideline; negative is behind the ball. [yd]
    end_line_from
        From this `yardline_100` in, behind the end line near a corner; 0 never. [yd line]
    name
        Its key in documents.
    in_from_pylon_yd
        How far in from the back pylon one stands there; None is the corner of the perimeter. [yd]
    title
        For people.
    """

    ahead_yd: float
    end_line_from: int
    name: str = "rule"
    in_from_pylon_yd: float | None = None
    title: str = ""

    def __post_init__(self) -> None:
        """Refuse numbers that no field has."""
        require_range(low=-60, high=100, ahead_yd=self.ahead_yd)
        require_range(low=0, high=100, end_line_from=self.end_line_from)

    def target_x_yd(self, yardline_100: IntArray) -> FloatArray:
        """Return where the rule wants one to stand along the field, shape as given. [yd]"""
        line = OPPONENT_GOAL_LINE_X_YD - yardline_100
        return np.clip(line + self.ahead_yd, 0.0, FIELD_LENGTH_YD)


LEVEL = TwoNumberRule(0.0, 0, "level", title="level with the ball")
AHEAD_20 = TwoNumberRule(
    20.0, RED_ZONE_FROM, "ahead20", title="20 yd ahead of the ball; inside the 20 a back corner"
)
BEHIND_OFFENSE = TwoNumberRule(-15.0, 0, "behind", title="15 yd behind the offense")


def habit_for(faces: Faces) -> TwoNumberRule:
    """Return the usual habit for whose faces are wanted: what every comparison takes as habit."""
    return BEHIND_OFFENSE if faces is Faces.DEFENSE else AHEAD_20


def usual_habits(faces: Faces) -> tuple[TwoNumberRule, ...]:
    """Return the habits that are shown beside a recommendation."""
    return tuple(dict.fromkeys((LEVEL, AHEAD_20, habit_for(faces))))


def targets(
    rule: TwoNumberRule,
    *,
    yardline_100: IntArray,
    left_side: BoolArray,
    xy_yd: tuple[FloatArray, FloatArray],
    may_shoot: BoolArray,
) -> IntArray:
    """Return the position that a rule wants, for m situations.

    Parameters
    ----------
    rule
        The rule.
    yardline_100, left_side
        The situations, and whether one works the offense's left side; shape (m,).
    xy_yd
        Places of the positions in the play frame, two arrays of shape (n,). [yd]
    may_shoot
        Open positions, shape (n,). A closed target gives way to the nearest open one.
    """
    x, y = xy_yd
    side_setback = -float(y.min())
    end = yardline_100 <= rule.end_line_from
    want_x = np.where(end, float(x.max()), rule.target_x_yd(yardline_100))
    corner_y = -side_setback if rule.in_from_pylon_yd is None else rule.in_from_pylon_yd
    want_y = np.where(end, corner_y, -side_setback)
    want_y = np.where(left_side, FIELD_WIDTH_YD - want_y, want_y)
    away = np.hypot(x[None, :] - want_x[:, None], y[None, :] - want_y[:, None])
    # Stay on one's own side of the field.
    own_side = (y[None, :] > CENTER_Y_YD) == left_side[:, None]
    allowed = np.where(may_shoot[None, :] & own_side, away, np.inf)
    return np.asarray(allowed.argmin(axis=1), dtype=np.int64)


def step_toward(
    *, standing: IntArray, target: IntArray, walk_yd: FloatArray, limit_yd: FloatArray
) -> IntArray:
    """Return how far toward a target one gets within a walk, for m people.

    Parameters
    ----------
    standing, target
        Positions, shape (m,).
    walk_yd
        Between all positions, shape (n, n). [yd]
    limit_yd
        Shape (m,). [yd]

    Returns
    -------
    ndarray, shape (m,)
        The reachable position nearest to the target (walking), the shortest walk among equals.
    """
    reachable = walk_yd[standing] <= limit_yd[:, None] + 1e-6
    left = np.where(reachable, walk_yd[target], np.inf)
    left = np.where(np.isfinite(left), left + 1e-6 * walk_yd[standing], np.inf)
    return np.where(np.isfinite(left.min(axis=1)), left.argmin(axis=1), standing)
