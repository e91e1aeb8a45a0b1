"""The grids on which outcomes are counted: kinds of plays, yards gained and in the air, cells.

Every array of the model over kinds, gains, air yards or cells has the order of these constants.
Along the field the cells are centered on whole yards, as play-by-play counts; across it they are
18 places: the right sideline itself, sixteen lanes, the left sideline (`PlayPoint` coordinates).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from lensyard.domain.field import FIELD_LENGTH_YD, FIELD_WIDTH_YD, OPPONENT_GOAL_LINE_X_YD

FloatArray = NDArray[np.float64]
Float32Array = NDArray[np.float32]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]
AnyArray = NDArray[Any]

KINDS: Final = ("run", "complete", "incomplete", "sack", "scramble", "interception")
"""The kinds of play from scrimmage, in the order of every array over kinds."""
RUN, COMPLETE, INCOMPLETE, SACK, SCRAMBLE, INTERCEPTION = range(len(KINDS))
MOVING_KINDS: Final = ("run", "complete", "sack", "scramble")
"""The kinds that gain or lose yards; the others end at the line of scrimmage."""
CARRIED_KINDS: Final = ("run", "complete", "scramble")
"""The kinds that can end out of bounds."""
THROWN_KINDS: Final = ("incomplete", "interception")
"""The kinds that end where the ball came down: the model has their yards in the air."""
GAIN_KINDS: Final = tuple(KINDS.index(kind) for kind in MOVING_KINDS)
AIR_KINDS: Final = tuple(KINDS.index(kind) for kind in THROWN_KINDS)
"""`MOVING_KINDS` and `THROWN_KINDS` as positions in `KINDS`."""

DRIVE_ENDS: Final = (
    "touchdown",
    "field_goal",
    "missed_field_goal",
    "punt",
    "turnover",
    "downs",
    "safety",
    "end_of_half",
)
FOURTH_DOWN_CHOICES: Final = ("go", "punt", "kick")
CHOICE_OF_KIND: Final = {**dict.fromkeys(KINDS, 0), "punt": 1, "field_goal": 2}
"""By kind of snap the position in `FOURTH_DOWN_CHOICES`."""

GAIN_MIN_YD: Final = -20
GAIN_MAX_YD: Final = 99
GAINS_YD: Final = np.arange(GAIN_MIN_YD, GAIN_MAX_YD + 1)
AIR_MIN_YD: Final = -10
AIR_MAX_YD: Final = 70
AIR_YD: Final = np.arange(AIR_MIN_YD, AIR_MAX_YD + 1)
END_ZONE_YD: Final = 10
YARDLINES: Final = 99
"""How many yard lines a snap can be at: `yardline_100` 1 to 99."""

N_LANES: Final = 16
LANE_EDGES_Y_YD: Final[FloatArray] = np.linspace(0.0, FIELD_WIDTH_YD, N_LANES + 1)
LANE_CENTERS_Y_YD: Final[FloatArray] = (LANE_EDGES_Y_YD[:-1] + LANE_EDGES_Y_YD[1:]) / 2
X_YD: Final[FloatArray] = np.arange(FIELD_LENGTH_YD + 1)
"""Centers of the cells along the field, shape (121,). [yd]"""
Y_YD: Final[FloatArray] = np.concatenate([[0.0], LANE_CENTERS_Y_YD, [FIELD_WIDTH_YD]])
"""Places across the field, shape (18,); the first and the last are the sidelines. [yd]"""
N_X: Final = X_YD.shape[0]
N_Y: Final = Y_YD.shape[0]
GOAL_X: Final = int(OPPONENT_GOAL_LINE_X_YD)
CARRIED_IN_X: Final = GOAL_X + 1
"""Where a touchdown lies that is carried in."""
DEEP_X: Final = slice(GOAL_X + 1, GOAL_X + 10)
"""Where passes lie that are caught, or come down, at or beyond the goal line, evenly spread."""
N_DEEP: Final = DEEP_X.stop - DEEP_X.start
LONG_GAIN_YD: Final = 20


def codes(values: Iterable[str], names: Sequence[str]) -> IntArray:
    """Return positions in ``names``, -1 for anything else; shape (n,)."""
    lookup = {name: i for i, name in enumerate(names)}
    return np.array([lookup.get(value, -1) for value in values], dtype=np.int64)
