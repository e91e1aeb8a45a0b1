"""The grids on which outcomes are counted, and situations as codes on the tables' axes.

Every array of the model over kinds, gains, air yards or cells has the order of these constants.
Along the field the cells are centered on whole yards, as play-by-play counts; across it they are
18 places: the right sideline itself, sixteen lanes, the left sideline (`PlayPoint` coordinates).

A fitted model is a handful of tables that are added up (`lensyard.model.tables`). Each axis of a
table is one property of the situation, cut into bins. Times are binned finely near the end of a
half, where calling changes by the second. The length of a play depends on `STATE_AXES` only: a
season has some 32,000 plays in some 9,000 distinct states, so distributions of lengths are computed
once a state.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Final

import numpy as np

from lensyard.arrays import FloatArray, IntArray
from lensyard.domain.field import (
    FIELD_LENGTH_YD,
    FIELD_WIDTH_YD,
    OPPONENT_GOAL_LINE_X_YD,
    OWN_GOAL_LINE_X_YD,
)
from lensyard.domain.situation import SituationBatch
from lensyard.units import SECONDS_PER_QUARTER

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
DRIVE_OUTCOMES: Final = {
    "touchdown": ("touchdown",),
    "field_goal": ("field_goal",),
    "punt": ("punt",),
    "turnover": ("turnover", "downs"),
    "other": ("missed_field_goal", "safety", "end_of_half"),
}
"""How a drive ends as people are told, by name the `DRIVE_ENDS` that it is made of."""
FOURTH_DOWN_CHOICES: Final = ("go", "punt", "kick")
UNTOLD_CHOICES: Final = "fourth downs"
"""What a manifest calls choices on fourth down that its plays or counts do not tell."""
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
OWN_GOAL_X: Final = int(OWN_GOAL_LINE_X_YD)
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
    if not hasattr(values, "factorize"):
        return np.array([lookup.get(value, -1) for value in values], dtype=np.int64)
    code, found = values.factorize()  # a column; missing values have code -1, the last one here
    table = np.array([*(lookup.get(value, -1) for value in found), -1], dtype=np.int64)
    return np.asarray(table[code], dtype=np.int64)


MAX_DISTANCE_YD = 30
MAX_SCORE_DIFF = 21

GAME_EDGES_S = np.array(
    [
        *range(0, 180, 10),
        *range(180, 420, 30),
        *range(420, 960, 60),
        *range(960, 1920, 120),
        *range(1920, 3600, 240),
    ],
    dtype=np.float64,
)
"""Lower edges of the bins of time left in the game. [s]"""

HALF_EDGES_S = np.array(
    [*range(0, 60, 5), *range(60, 180, 10), *range(180, 420, 30), *range(420, 1800, 120)],
    dtype=np.float64,
)
"""Lower edges of the bins of time left in the half. [s]"""

ZONE_EDGES_YD = np.array([1, 3, 6, 11, 16, 21, 29, 37, 45, 55, 65, 80, 90, 96])
"""Lower edges of the zones by `yardline_100`. [yd]"""

CONTEXTS: tuple[str, ...] = (
    "usual",
    "end of first half",
    "last seconds of first half",
    "late and ahead",
    "late and behind",
    "last minutes and ahead",
    "last minutes and behind",
    "last seconds, not ahead",
)
"""Clock and score in a few words: what changes how a play of a given kind unfolds."""


def _middles(edges: FloatArray, last: float) -> FloatArray:
    """Return the middles of half-open bins from their lower edges and the last upper one."""
    return np.asarray((edges + np.append(edges[1:], last)) / 2, dtype=np.float64)


AXES: dict[str, FloatArray] = {
    "all": np.zeros(1),
    "down": np.arange(1.0, 5.0),
    "distance": np.arange(1.0, MAX_DISTANCE_YD + 1.0),
    "yardline": np.arange(1.0, 100.0),
    "zone": _middles(ZONE_EDGES_YD.astype(np.float64), 100.0) - 0.5,
    "goal": np.arange(2.0),
    "score": np.arange(-float(MAX_SCORE_DIFF), MAX_SCORE_DIFF + 1.0),
    "game": _middles(GAME_EDGES_S, 3600.0),
    "half": _middles(HALF_EDGES_S, 1800.0),
    "late": np.arange(2.0),
    "overtime": np.arange(2.0),
    "context": np.arange(float(len(CONTEXTS))),
}
"""By name what each bin of an axis stands for, shape (bins,): its value, or its middle."""

STATE_AXES = ("down", "distance", "yardline", "context")
_STATE_SIZES = tuple(AXES[name].size for name in STATE_AXES)
_FEW = 16


def bins_of(values: FloatArray | IntArray, edges: FloatArray | IntArray) -> IntArray:
    """Return the half-open bin of each value, from the lower edges of the bins; same shape."""
    return np.asarray(edges.searchsorted(values, side="right") - 1)


def _context(batch: SituationBatch) -> IntArray:
    """Return the index into `CONTEXTS`, shape (n,)."""
    left = batch.half_s
    code = np.zeros(len(batch), dtype=np.int64)
    if not (left <= 600).any():
        return code
    second, fourth = batch.quarter == 2, batch.quarter >= 4
    ahead, behind = batch.score_diff > 0, batch.score_diff < 0
    code[second & (left <= 120)] = 1
    code[second & (left <= 20)] = 2
    code[fourth & (left <= 600) & ahead] = 3
    code[fourth & (left <= 600) & behind] = 4
    code[fourth & (left <= 180) & ahead] = 5
    code[fourth & (left <= 120) & behind] = 6
    code[fourth & (left <= 20) & ~ahead] = 7
    return code


def axis_codes(batch: SituationBatch) -> dict[str, IntArray]:
    """Return the bin of n situations on every axis, shape (n,) each, from 0.

    Values beyond an axis fall into its last bin.
    """
    distance = np.minimum(batch.distance_yd, batch.yardline_100)
    game_s = batch.half_s + 2 * SECONDS_PER_QUARTER * (batch.quarter <= 2)
    return {
        "all": np.zeros(len(batch), dtype=np.int64),
        "down": batch.down - 1,
        "distance": np.minimum(distance, MAX_DISTANCE_YD) - 1,
        "yardline": batch.yardline_100 - 1,
        "zone": bins_of(batch.yardline_100, ZONE_EDGES_YD),
        "goal": (distance == batch.yardline_100).astype(np.int64),
        "score": np.clip(batch.score_diff, -MAX_SCORE_DIFF, MAX_SCORE_DIFF) + MAX_SCORE_DIFF,
        "game": bins_of(game_s, GAME_EDGES_S),
        "half": bins_of(batch.half_s, HALF_EDGES_S),
        "late": (batch.quarter > 2).astype(np.int64),
        "overtime": (batch.quarter > 4).astype(np.int64),
        "context": _context(batch),
    }


def rows_of(codes: Mapping[str, IntArray], rows: IntArray) -> dict[str, IntArray]:
    """Return the codes of some situations."""
    return {axis: code[rows] for axis, code in codes.items()}


def flat_code(names: tuple[str, ...], codes: Mapping[str, IntArray]) -> IntArray:
    """Return the row of a table with these axes (last one fastest), shape (n,)."""
    code = codes[names[0]]
    for name in names[1:]:
        code = code * AXES[name].size + codes[name]
    return code


def table_rows(names: tuple[str, ...]) -> int:
    """Return how many rows a table with these axes has."""
    return int(np.prod([AXES[name].size for name in names]))


def state_key(codes: Mapping[str, IntArray]) -> IntArray:
    """Return one number for the bins on `STATE_AXES`, shape (n,)."""
    return flat_code(STATE_AXES, codes)


def state_codes(key: IntArray) -> dict[str, IntArray]:
    """Return the bins on `STATE_AXES` from `state_key`."""
    parts = np.unravel_index(key, _STATE_SIZES)
    return {name: np.asarray(part) for name, part in zip(STATE_AXES, parts, strict=True)}


def distinct_states(
    codes: Mapping[str, IntArray],
) -> tuple[dict[str, IntArray], IntArray | None]:
    """Return the distinct states and, for every situation, its row among them.

    For a few situations the states are the situations, and the rows are None.
    """
    if codes["down"].shape[0] <= _FEW:
        return {name: codes[name] for name in STATE_AXES}, None
    keys, row = np.unique(state_key(codes), return_inverse=True)
    return state_codes(keys), row


FIRST_DOWN_BANDS: Final = ((10, 10), (1, 9), (11, 15), (16, 99))
"""Distance bands of first down, both ends included; ten-or-goal comes first. [yd]"""

LATER_DOWN_BANDS: Final = ((1, 1), (2, 3), (4, 6), (7, 9), (10, 10), (11, 15), (16, 99))
"""Distance bands of second to fourth down, both ends included. [yd]"""

FIRST_DOWN_DISTANCES_YD: Final = (10, 5, 15, 20)

LATER_DOWN_DISTANCES_YD: Final = (1, 2, 5, 8, 10, 13, 18)
"""A distance that stands for each band. [yd]"""

_BANDS_PER_LATER_DOWN: Final = len(LATER_DOWN_BANDS)
_FIRST: Final = len(FIRST_DOWN_BANDS)


def _band_tables() -> IntArray:
    """Return the block number (down and band) by down less 1 and distance, shape (4, 100)."""
    table = np.zeros((4, 100), dtype=np.int64)
    for band, (low, high) in enumerate(FIRST_DOWN_BANDS):
        table[0, low : high + 1] = band
    for down in (2, 3, 4):
        for band, (low, high) in enumerate(LATER_DOWN_BANDS):
            first = _FIRST + (down - 2) * _BANDS_PER_LATER_DOWN
            table[down - 1, low : high + 1] = first + band
    return table


_BLOCK: Final = _band_tables()


class StateGrid:
    """All states: blocks of (down, distance band), each with 99 yard lines.

    State ``block * 99 + yardline_100 - 1``. First and goal counts as first and ten.

    - ``down``, ``distance_yd``, ``yardline_100``: of every state, shape (S,); the distance stands
      for its band and never reaches beyond the goal line.
    """

    def __init__(self) -> None:
        downs = [1] * _FIRST + [d for d in (2, 3, 4) for _ in LATER_DOWN_BANDS]
        distances = [*FIRST_DOWN_DISTANCES_YD, *(LATER_DOWN_DISTANCES_YD * 3)]
        yardline = np.tile(np.arange(1, YARDLINES + 1), len(downs))
        self.down = np.repeat(downs, YARDLINES)
        self.distance_yd = np.minimum(np.repeat(distances, YARDLINES), yardline)
        self.yardline_100 = yardline

    @property
    def size(self) -> int:
        """How many states."""
        return int(self.down.shape[0])

    def batch(self) -> SituationBatch:
        """Return the states as situations: even score, middle of the second quarter."""
        return SituationBatch.neutral(
            down=self.down, distance_yd=self.distance_yd, yardline_100=self.yardline_100
        )

    @staticmethod
    def index_of(batch: SituationBatch) -> IntArray:
        """Return the state of every situation, shape (n,)."""
        return state_index(
            down=batch.down, distance_yd=batch.distance_yd, yardline_100=batch.yardline_100
        )


def state_index(*, down: IntArray, distance_yd: IntArray, yardline_100: IntArray) -> IntArray:
    """Return the index of states from arrays that broadcast to one shape.

    >>> grid = StateGrid()
    >>> goal = state_index(
    ...     down=np.array([1]), distance_yd=np.array([4]), yardline_100=np.array([4])
    ... )
    >>> int(grid.distance_yd[goal[0]]), int(goal[0])
    (4, 3)
    """
    distance = np.clip(distance_yd, 1, yardline_100)
    goal_to_go = (down == 1) & (distance == yardline_100) & (distance < 10)
    distance = np.where(goal_to_go, 10, distance)
    return np.asarray(_BLOCK[down - 1, distance] * YARDLINES + yardline_100 - 1)
