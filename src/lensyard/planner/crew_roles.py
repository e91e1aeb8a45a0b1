"""What each photographer of a crew is there for, in words: the part of the play that falls to them.

The field is cut into parts as a play sees it from its line of scrimmage. A spot's role is the part
of which it holds most, measured by value held times share held, and a second one that comes near.
"""

from __future__ import annotations

from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from lensyard.domain.assignment import Faces
from lensyard.domain.field import (
    CENTER_Y_YD,
    DROP_BACK_YD,
    FIELD_WIDTH_YD,
    OPPONENT_GOAL_LINE_X_YD,
    FieldRules,
)
from lensyard.domain.situation import Situation
from lensyard.errors import InvalidInputError
from lensyard.model.outcome_grid import X_YD, Y_YD

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

# Runs within three yards of the line end in the pile; twenty yards are the usual "long gain".
AT_THE_LINE_YD = 3.0
DEEP_YD = 20.0
# Along the goal line within this of a sideline, a carrier can dive for the pylon.
PYLON_LANE_YD = 6.0
# More than this share on one half of the field makes a side; a second part is named when it
# scores at least this share of the first.
ONE_SIDED = 0.6
SECOND_PART = 0.5


class Part(StrEnum):
    """The parts of the field, as a play sees it from its line of scrimmage."""

    BACKFIELD = "backfield"
    LINE = "line"
    OPEN_FIELD = "open field"
    DEEP = "deep"
    PYLON = "pylon"
    END_ZONE = "end zone"


# By part: for the offense's faces, for the defense's; {side} is left side, right side, both sides.
_WORDS = {
    Part.BACKFIELD: (
        "quarterback drop-back and the backfield",
        "the rush and the sack in the backfield",
    ),
    Part.LINE: ("carrier through the line, {side}", "the tackle at the line, {side}"),
    Part.OPEN_FIELD: (
        "carrier in the open field, {side}",
        "the tackle in the open field, {side}",
    ),
    Part.DEEP: (
        "the deep ball and the long run, {side}",
        "the interception and the last tackle deep, {side}",
    ),
    Part.PYLON: ("goal line and the dive at the {pylon}",) * 2,
    Part.END_ZONE: (
        "the catch in the end zone, {side}",
        "the ball broken up in the end zone, {side}",
    ),
}
_PYLONS = {"left side": "left pylon", "right side": "right pylon", "both sides": "pylons"}


def part_cells(line_of_scrimmage_x_yd: float) -> dict[Part, BoolArray]:
    """Return which cells belong to each part, shape (121 * 18,); every cell to exactly one."""
    x, y = (grid.ravel() for grid in np.meshgrid(X_YD, Y_YD, indexing="ij"))
    ahead = x - line_of_scrimmage_x_yd
    goal = x >= OPPONENT_GOAL_LINE_X_YD - 1.0
    lane = (np.minimum(y, FIELD_WIDTH_YD - y) <= PYLON_LANE_YD) & (
        x <= OPPONENT_GOAL_LINE_X_YD + 2.0
    )
    return {
        Part.BACKFIELD: ~goal & (ahead < 0),
        Part.LINE: ~goal & (ahead >= 0) & (ahead <= AT_THE_LINE_YD),
        Part.OPEN_FIELD: ~goal & (ahead > AT_THE_LINE_YD) & (ahead < DEEP_YD),
        Part.DEEP: ~goal & (ahead >= DEEP_YD),
        Part.PYLON: goal & lane,
        Part.END_ZONE: goal & ~lane,
    }


def drop_back_cell(situation: Situation, rules: FieldRules) -> int:
    """Return the cell where the quarterback sets up, straight behind the ball."""
    x = int(np.abs(X_YD - (situation.line_of_scrimmage_x_yd - DROP_BACK_YD)).argmin())
    return x * Y_YD.size + int(np.abs(Y_YD - rules.ball_y_yd(situation.hash_mark)).argmin())


def share_out(total_value: FloatArray, covers: BoolArray) -> FloatArray:
    """Return the value that falls to each spot; what several have is divided evenly.

    Parameters
    ----------
    total_value
        By cell, shape (c,).
    covers
        Which cells each spot has, shape (spots, c).

    Returns
    -------
    ndarray, shape (spots, c)
        Sums over spots to the value that at least one has.
    """
    several = np.maximum(covers.sum(axis=0), 1)
    shared: FloatArray = covers * (total_value / several)
    return shared


def role_words(
    held: FloatArray,
    total_value: FloatArray,
    *,
    situation: Situation,
    faces: Faces = Faces.OFFENSE,
    drop_back: bool = False,
) -> str:
    """Return in words what a spot is there for.

    Parameters
    ----------
    held
        Value that falls to the spot by cell (see `share_out`), shape (c,).
    total_value
        All there is, same shape.
    situation
        Where the play starts.
    faces
        Whose faces.
    drop_back
        Whether the quarterback's drop-back is usable from the spot.

    Raises
    ------
    InvalidInputError
        If the spot holds nothing.
    """
    parts = part_cells(situation.line_of_scrimmage_x_yd)
    score = {}
    for part, cells in parts.items():
        here, there = float(held[cells].sum()), float(total_value[cells].sum())
        score[part] = here * here / there if there > 0 else 0.0
    ranked = sorted(parts, key=lambda p: (-score[p], list(Part).index(p)))
    if score[ranked[0]] <= 0:
        raise InvalidInputError("a spot that has no play has no role; leave it out of the crew")
    named = [p for p in ranked[:2] if score[p] >= SECOND_PART * score[ranked[0]]]
    words = []
    for part in named:
        side = side_words(np.where(parts[part], held, 0.0))
        form = _WORDS[part][0 if faces is Faces.OFFENSE else 1]
        words.append(form.format(side=side, pylon=_PYLONS[side]))
    if drop_back and faces is Faces.OFFENSE and Part.BACKFIELD not in named:
        words.append("the quarterback's drop-back")
    return ", and ".join(dict.fromkeys(words))


def side_words(held: FloatArray) -> str:
    """Return on which half of the field most of the value lies: left, right or both sides."""
    across = held.reshape(-1, Y_YD.size).sum(axis=0)
    total = float(across.sum())
    left = float(across[Y_YD > CENTER_Y_YD].sum()) / total if total > 0 else 0.5
    if left > ONE_SIDED:
        return "left side"
    return "right side" if left < 1 - ONE_SIDED else "both sides"
