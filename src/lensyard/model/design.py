"""Which tables the model is made of, and how smooth they are.

The choices here were made on seasons up to 2017 (fitting on some, scoring on later ones); 2019 was
only ever scored.
"""

from __future__ import annotations

from typing import Final

from lensyard.model.hazard_fit import HazardTerms
from lensyard.model.outcome import AIR_YD, GAINS_YD, gains_of_kind
from lensyard.model.splines import Term

_SCORES = [-21, -17, -14, -11, -8, -7, -4, -3, -2, -1, 0, 1, 3, 4, 7, 8, 11, 14, 17, 21]
_GAME_S = [0, 30, 60, 90, 120, 150, 180, 240, 300, 420, 600, 750, 900, 1200, 1800, 2400, 3600]
_HALF_S = [0, 10, 20, 30, 45, 60, 75, 90, 105, 120, 130, 150, 180, 240, 300, 400, 600, 900, 1800]
_DISTANCES = [1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 13, 15, 17, 20, 25, 30]
_YARDLINES = [1, 2, 3, 5, 8, 12, 16, 20, 25, 30, 35, 40, 50, 60, 70, 80, 85, 90, 93, 96, 98, 99]

KIND_TERMS: Final = (
    Term({"down": None, "distance": _DISTANCES}, 8.0),
    Term({"down": None, "yardline": _YARDLINES}, 8.0),
    Term({"down": None, "distance": [1, 2, 3, 4, 6, 8, 10], "goal": None}, 8.0),
    Term({"score": _SCORES, "game": _GAME_S}, 8.0),
    Term(
        {
            "down": None,
            "score": [-17, -9, -4, 0, 4, 9, 17],
            "game": [0, 60, 120, 180, 300, 600, 900, 1800, 3600],
        },
        8.0,
    ),
    Term(
        {
            "down": None,
            "score": [-17, -4, 0, 4, 17],
            "half": [0, 30, 60, 120, 180, 300, 900, 1800],
        },
        8.0,
    ),
    Term(
        {"distance": [1, 2, 3, 5, 8, 10, 15, 20], "game": [0, 60, 120, 300, 900, 1800, 3600]}, 8.0
    ),
    Term({"late": None, "half": _HALF_S}, 8.0),
    Term(
        {
            "zone": [1, 10, 20, 33, 50, 72, 92],
            "late": None,
            "half": [0, 10, 20, 30, 60, 120, 300, 600],
        },
        8.0,
    ),
    Term(
        {
            "yardline": [1, 5, 10, 20, 30, 40, 50, 60, 70, 80, 90, 99],
            "half": [0, 15, 30, 60, 90, 120, 180, 300, 900, 1800],
        },
        8.0,
    ),
    Term({"overtime": None}, 8.0),
)

DRIVE_TERMS: Final = (
    Term({"down": None, "distance": [1, 2, 3, 4, 5, 6, 8, 10, 12, 15, 20, 25]}, 5.0),
    Term({"down": None, "yardline": _YARDLINES}, 5.0),
    Term(
        {"down": None, "distance": [1, 3, 6, 10, 15, 20], "zone": [1, 5, 10, 20, 33, 50, 72]}, 5.0
    ),
    Term({"score": [-17, -11, -8, -7, -4, -3, -1, 0, 1, 3, 4, 7, 8, 11, 17], "game": _GAME_S}, 5.0),
    Term(
        {
            "late": None,
            "half": [0, 10, 20, 30, 45, 60, 90, 120, 180, 240, 300, 420, 600, 900],
            "zone": [1, 10, 20, 33, 50, 72, 92],
        },
        5.0,
    ),
    Term(
        {
            "late": None,
            "half": [0, 30, 60, 120, 240, 420, 600, 900],
            "score": [-17, -8, -4, -3, 0, 3, 8, 17],
        },
        5.0,
    ),
    Term({"overtime": None}, 5.0),
)

FOURTH_TERMS: Final = (
    Term({"distance": [1, 2, 3, 4, 5, 7, 10, 15, 20]}, 2.0),
    Term(
        {"yardline": [1, 2, 3, 5, 8, 12, 20, 28, 31, 34, 37, 40, 43, 46, 50, 60, 75, 90, 99]}, 2.0
    ),
    Term({"distance": [1, 2, 4, 8, 15], "zone": [1, 4, 10, 20, 33, 50, 72, 92]}, 2.0),
    Term(
        {
            "score": [-17, -12, -8, -6, -4, -3, -1, 0, 1, 3, 4, 8, 12, 17],
            "game": [0, 30, 60, 120, 180, 240, 300, 420, 600, 900, 1800, 3600],
        },
        2.0,
    ),
    Term(
        {
            "zone": [1, 10, 20, 33, 50, 72],
            "score": [-17, -8, -3, 0, 3, 8],
            "game": [0, 60, 180, 300, 600, 1800],
        },
        2.0,
    ),
    Term({"late": None, "half": [0, 10, 20, 40, 60, 120], "zone": [1, 20, 33, 50, 72]}, 2.0),
    Term({"overtime": None}, 2.0),
)

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
