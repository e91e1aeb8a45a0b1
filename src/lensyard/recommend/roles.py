"""What a photographer of a crew is there for, in words.

The words come from what the spot covers, never from its number in the crew: the worth of the play
is divided among the spots that have it, summed by part of the field, and each part counts by how
much of it the spot holds and how much of that part there is.
"""

from __future__ import annotations

from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from lensyard.domain.assignment import Faces
from lensyard.domain.field import CENTER_Y_YD, FIELD_WIDTH_YD, OPPONENT_GOAL_LINE_X_YD
from lensyard.errors import InvalidInputError
from lensyard.model.cells import X_YD, Y_YD

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

# Common practice: a quarterback who drops back sets up some seven yards behind the line.
DROP_BACK_YD = 7.0
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


def part_cells(line_of_scrimmage_x_yd: float) -> dict[Part, BoolArray]:
    """Return which cells belong to each part, shape (121, 18) each; every cell to exactly one."""
    x, y = np.meshgrid(X_YD, Y_YD, indexing="ij")
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


def share_out(worth: FloatArray, covers: BoolArray) -> FloatArray:
    """Return the worth that falls to each spot; what several have is divided evenly.

    Parameters
    ----------
    worth
        By cell, shape (c,).
    covers
        Which cells each spot has, shape (spots, c).

    Returns
    -------
    ndarray, shape (spots, c)
        Sums over spots to the worth that at least one has.
    """
    several = np.maximum(covers.sum(axis=0), 1)
    shared: FloatArray = covers * (worth / several)
    return shared


def role(
    held: FloatArray,
    worth: FloatArray,
    *,
    line_of_scrimmage_x_yd: float,
    faces: Faces = Faces.OFFENSE,
    drop_back: bool = False,
) -> str:
    """Return in words what a spot is there for.

    Parameters
    ----------
    held
        Worth that falls to the spot by cell (see `share_out`), shape (121, 18).
    worth
        All there is, same shape.
    line_of_scrimmage_x_yd
        Where the play starts. [yd]
    faces
        Whose faces.
    drop_back
        Whether the quarterback's drop-back is usable from the spot.

    Raises
    ------
    InvalidInputError
        If the spot holds nothing.
    """
    parts = part_cells(line_of_scrimmage_x_yd)
    score = {}
    for part, cells in parts.items():
        here, there = float(held[cells].sum()), float(worth[cells].sum())
        score[part] = here * here / there if there > 0 else 0.0
    ranked = sorted(parts, key=lambda p: (-score[p], list(Part).index(p)))
    if score[ranked[0]] <= 0:
        raise InvalidInputError("a spot that has no play has no role; leave it out of the crew")
    named = [p for p in ranked[:2] if score[p] >= SECOND_PART * score[ranked[0]]]
    words = [_words(p, np.where(parts[p], held, 0.0), faces) for p in named]
    if drop_back and faces is Faces.OFFENSE and Part.BACKFIELD not in named:
        words.append("the quarterback's drop-back")
    return ", and ".join(dict.fromkeys(words))


def side_word(held: FloatArray) -> str:
    """Return on which half of the field most of the worth lies: left, right or both sides."""
    total = float(held.sum())
    left = float(held[:, Y_YD > CENTER_Y_YD].sum()) / total if total > 0 else 0.5
    if left > ONE_SIDED:
        return "left side"
    return "right side" if left < 1 - ONE_SIDED else "both sides"


def _words(part: Part, held: FloatArray, faces: Faces) -> str:
    side = side_word(held)
    if part is Part.PYLON:
        pylon = {"left side": "left pylon", "right side": "right pylon"}.get(side, "pylons")
        return f"goal line and the dive at the {pylon}"
    if part is Part.END_ZONE:
        catch = "the catch" if faces is Faces.OFFENSE else "the ball broken up"
        return f"{catch} in the end zone, {side}"
    if part is Part.BACKFIELD:
        if faces is Faces.DEFENSE:
            return "the rush and the sack in the backfield"
        return "quarterback drop-back and the backfield"
    offense = {
        Part.LINE: "carrier through the line",
        Part.OPEN_FIELD: "carrier in the open field",
        Part.DEEP: "the deep ball and the long run",
    }
    defense = {
        Part.LINE: "the tackle at the line",
        Part.OPEN_FIELD: "the tackle in the open field",
        Part.DEEP: "the interception and the last tackle deep",
    }
    return f"{(offense if faces is Faces.OFFENSE else defense)[part]}, {side}"
