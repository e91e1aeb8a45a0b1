"""The rows of games that were drawn from the model (`lensyard.model.synthetic`)."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from lensyard.model.axes import FloatArray, IntArray
from lensyard.model.outcome import KINDS

PLAYED: Final = (*KINDS, "punt", "field_goal", "kickoff")
"""The kinds of rows of a drawn game."""
ENDED: Final = ("on", "touchdown", "return_touchdown", "field_goal", "missed", "safety", "over")
"""What a snap led to: on (same offense), a score, a miss, or the ball going over."""
ON, TOUCHDOWN, RETURNED, MADE, MISSED, SAFETY, OVER = range(len(ENDED))
_KICKOFF: Final = PLAYED.index("kickoff")


@dataclass(frozen=True, slots=True)
class DrawnPlays:
    """Rows of drawn games, in the order of games and plays; every array has shape (n,).

    Attributes
    ----------
    game, half, offense, drive
        Which game (from 0), half (1 or 2), club (0 or 1) and possession of the game.
    down, distance_yd, yardline_100
        The situation; down and distance are 0 on kickoffs.
    left_s
        Time left in the half. [s]
    score_diff
        Offense's points less defense's, rounded.
    kind
        Index into `PLAYED`.
    gain_yd
        Of moving kinds, else 0. [yd]
    ended
        Index into `ENDED`.
    turnover
        Interception or fumble lost.
    last
        Whether the half had no further snap.
    """

    game: IntArray
    half: IntArray
    offense: IntArray
    drive: IntArray
    down: IntArray
    distance_yd: IntArray
    yardline_100: IntArray
    left_s: FloatArray
    score_diff: IntArray
    kind: IntArray
    gain_yd: IntArray
    ended: IntArray
    turnover: NDArray[np.bool_]
    last: NDArray[np.bool_]

    def __len__(self) -> int:
        """The number of rows."""
        return int(self.game.shape[0])

    @property
    def snaps(self) -> NDArray[np.bool_]:
        """Which rows are snaps, not kickoffs, shape (n,)."""
        return np.asarray(self.kind != _KICKOFF)


def collected(rows: list[dict[str, NDArray[Any]]]) -> DrawnPlays:
    """Return the rows of all games, each game in one piece."""
    names = DrawnPlays.__dataclass_fields__
    columns = {name: np.concatenate([row[name] for row in rows]) for name in names}
    order = np.argsort(columns["game"], kind="stable")
    return DrawnPlays(**{name: column[order] for name, column in columns.items()})
