"""Which tables the model is made of, and how smooth they are.

The choices here were made on seasons up to 2017 (fitting on some, scoring on later ones); 2019 was
only ever scored.
"""

from __future__ import annotations

from typing import Final

from lensyard.model.fitting.hazard_fit import HazardTerms
from lensyard.model.fitting.splines import Term
from lensyard.model.outcome import gains_of_kind
from lensyard.model.outcome_grid import AIR_YD, GAINS_YD

_SCORES = [-21, -17, -14, -11, -8, -7, -4, -3, -2, -1, 0, 1, 3, 4, 7, 8, 11, 14, 17, 21]
_GAME_S = [0, 30, 60, 90, 120, 150, 180, 240, 300, 420, 600, 750, 900, 1200, 1800, 2400, 3600]
_HALF_S = [0, 10, 20, 30, 45, 60, 75, 90, 105, 120, 130, 150, 180, 240, 300, 400, 600, 900, 1800]
_DISTANCES = [1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 13, 15, 17, 20, 25, 30]
_YARDLINES = [1, 2, 3, 5, 8, 12, 16, 20, 25, 30, 35, 40, 50, 60, 70, 80, 85, 90, 93, 96, 98, 99]

_KIND_RIDGE = 4.0
_DRIVE_RIDGE = 12.0
_CLOCK_RIDGE = 3.0
"""For how the end of a half ends drives, which is sharp."""
_FOURTH_RIDGE = 0.15

KIND_TERMS: Final = (
    Term({"down": None, "distance": _DISTANCES}, _KIND_RIDGE),
    Term({"down": None, "yardline": _YARDLINES}, _KIND_RIDGE),
    Term({"down": None, "distance": [1, 2, 3, 4, 6, 8, 10], "goal": None}, _KIND_RIDGE),
    Term({"score": _SCORES, "game": _GAME_S}, _KIND_RIDGE),
    Term(
        {
            "down": None,
            "score": [-17, -9, -4, 0, 4, 9, 17],
            "game": [0, 60, 120, 180, 300, 600, 900, 1800, 3600],
        },
        _KIND_RIDGE,
    ),
    Term(
        {
            "down": None,
            "score": [-17, -4, 0, 4, 17],
            "half": [0, 30, 60, 120, 180, 300, 900, 1800],
        },
        _KIND_RIDGE,
    ),
    Term(
        {"distance": [1, 2, 3, 5, 8, 10, 15, 20], "game": [0, 60, 120, 300, 900, 1800, 3600]},
        _KIND_RIDGE,
    ),
    Term({"late": None, "half": _HALF_S}, _KIND_RIDGE),
    Term(
        {
            "zone": [1, 10, 20, 33, 50, 72, 92],
            "late": None,
            "half": [0, 10, 20, 30, 60, 120, 300, 600],
        },
        _KIND_RIDGE,
    ),
    Term(
        {
            "yardline": [1, 5, 10, 20, 30, 40, 50, 60, 70, 80, 90, 99],
            "half": [0, 15, 30, 60, 90, 120, 180, 300, 900, 1800],
        },
        _KIND_RIDGE,
    ),
    Term({"overtime": None}, _KIND_RIDGE),
    Term(
        {
            "down": None,
            "distance": [1, 2, 4, 7, 10, 15],
            "yardline": [1, 3, 6, 10, 15, 20, 30, 40, 50, 65, 80, 90, 99],
        },
        _KIND_RIDGE,
    ),
    Term(
        {
            "down": None,
            "distance": [1, 2, 4, 7, 10, 15],
            "score": [-17, -8, -4, 0, 4, 8, 17],
        },
        _KIND_RIDGE,
    ),
)

DRIVE_TERMS: Final = (
    Term({"down": None, "distance": [1, 2, 3, 4, 5, 6, 8, 10, 12, 15, 20, 25]}, _DRIVE_RIDGE),
    Term({"down": None, "yardline": _YARDLINES}, _DRIVE_RIDGE),
    Term(
        {"down": None, "distance": [1, 3, 6, 10, 15, 20], "zone": [1, 5, 10, 20, 33, 50, 72]},
        _DRIVE_RIDGE,
    ),
    Term(
        {"score": [-17, -11, -8, -7, -4, -3, -1, 0, 1, 3, 4, 7, 8, 11, 17], "game": _GAME_S},
        _DRIVE_RIDGE,
    ),
    Term(
        {
            "late": None,
            "half": [0, 10, 20, 30, 45, 60, 90, 120, 180, 240, 300, 420, 600, 900],
            "zone": [1, 10, 20, 33, 50, 72, 92],
        },
        _CLOCK_RIDGE,
    ),
    Term(
        {
            "late": None,
            "half": [0, 30, 60, 120, 240, 420, 600, 900],
            "score": [-17, -8, -4, -3, 0, 3, 8, 17],
        },
        _CLOCK_RIDGE,
    ),
    Term({"overtime": None}, _DRIVE_RIDGE),
)

FOURTH_TERMS: Final = (
    Term({"distance": [1, 2, 3, 4, 5, 7, 10, 15, 20]}, _FOURTH_RIDGE),
    Term(
        {"yardline": [1, 2, 3, 5, 8, 12, 20, 28, 31, 34, 37, 40, 43, 46, 50, 60, 75, 90, 99]},
        _FOURTH_RIDGE,
    ),
    Term({"distance": [1, 2, 4, 8, 15], "zone": [1, 4, 10, 20, 33, 50, 72, 92]}, _FOURTH_RIDGE),
    Term(
        {
            "score": [-17, -12, -8, -6, -4, -3, -1, 0, 1, 3, 4, 8, 12, 17],
            "game": [0, 30, 60, 120, 180, 240, 300, 420, 600, 900, 1800, 3600],
        },
        _FOURTH_RIDGE,
    ),
    Term(
        {
            "zone": [1, 10, 20, 33, 50, 72],
            "score": [-17, -8, -3, 0, 3, 8],
            "game": [0, 60, 180, 300, 600, 1800],
        },
        _FOURTH_RIDGE,
    ),
    Term(
        {"late": None, "half": [0, 10, 20, 40, 60, 120], "zone": [1, 20, 33, 50, 72]}, _FOURTH_RIDGE
    ),
    Term({"overtime": None}, _FOURTH_RIDGE),
)

NEXT_KIND_TERMS: Final = (
    Term({"down": None, "distance": [1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 13, 15, 17, 20, 25]}, 4.0),
    Term({"down": None, "yardline": _YARDLINES}, 4.0),
    Term({"down": None, "goal": None, "distance": [1, 2, 3, 4, 6, 8, 10]}, 4.0),
)
NEXT_CHOICE_TERMS: Final = (
    Term({"down": None}, 0.5),
    Term({"down": None, "yardline": [1, 3, 6, 10, 20, 28, 32, 36, 40, 45, 50, 60, 75, 99]}, 1.0),
    Term({"down": None, "distance": [1, 2, 3, 4, 5, 7, 10, 15, 20]}, 1.0),
    Term(
        {
            "down": None,
            "distance": [1, 3, 8, 15],
            "yardline": [1, 4, 10, 20, 30, 36, 42, 50, 60, 75],
        },
        1.0,
    ),
)
"""By down, distance and yard line alone: for the transitions from snap to snap."""

_FINE_PASS = [-20, -12, -8, -5, -3, *range(-1, 19), 20, 22, 25, 30, 35, 40, 50, 60, 80, 99]
_FINE_RUN = [-20, -10, -6, *range(-4, 13), 14, 16, 18, 20, 25, 30, 40, 60, 99]
_MIDDLE = [-20, -6, -3, -1, 0, 1, 2, 3, 5, 7, 9, 12, 15, 20, 30, 50]
_COARSE = [-6, -2, 0, 2, 5, 10, 15, 25, 40]

GAIN_TERMS: Final = {
    "run": HazardTerms(GAINS_YD, _FINE_RUN, _MIDDLE, _COARSE, penalty=50.0),
    "complete": HazardTerms(GAINS_YD, _FINE_PASS, _MIDDLE, _COARSE, penalty=30.0),
    "sack": HazardTerms(
        gains_of_kind("sack"),
        [-20, -15, -12, -10, -8, -6, -4, -2, 0],
        [-12, -8, -4, 0],
        [-10, -5, 0],
        line_to_gain=False,
    ),
    "scramble": HazardTerms(GAINS_YD, _FINE_PASS, _MIDDLE, _COARSE, penalty=8.0),
}

_FINE_AIR = [-10, -6, -4, -2, *range(16), 17, 19, 21, 23, 26, 30, 35, 40, 45, 50, 60, 70]
_MIDDLE_AIR = [-6, -2, 0, 2, 4, 6, 8, 10, 13, 16, 20, 25, 30, 40, 55]
_COARSE_AIR = [-4, 0, 5, 10, 15, 25, 40]

AIR_TERMS: Final = {
    "incomplete": HazardTerms(AIR_YD, _FINE_AIR, _MIDDLE_AIR, _COARSE_AIR),
    "interception": HazardTerms(AIR_YD, _MIDDLE_AIR, _COARSE_AIR, _COARSE_AIR),
}
