"""The situations and moments that a card has tables for, and how chances are written in them."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from lensyard.arrays import ByteArray, IntArray
from lensyard.domain.perimeter import Tempo
from lensyard.domain.situation import HASH_CODES, Situation, SituationBatch

DOWNS, YARD_LINES = 4, 99
LONGEST_DISTANCE_YD = 20
"""Distances are exact up to here; the last one stands for itself and everything longer."""
LESS_THAN_ONE, MORE_THAN_99 = 101, 102
"""Codes of "<1%" and ">99%"; below them stand whole percents."""


def percent_codes(p: NDArray[np.floating]) -> ByteArray:
    """Return probabilities as they are shown: whole percents, or `LESS_THAN_ONE`, `MORE_THAN_99`.

    >>> percent_codes(np.array([0.0, 0.004, 0.583, 0.999, 1.0])).tolist()
    [0, 101, 58, 102, 100]
    """
    exact = np.asarray(p, dtype=np.float64)
    codes = np.rint(100.0 * exact).astype(np.uint8)
    codes[(exact > 0.0) & (exact < 0.005)] = LESS_THAN_ONE
    codes[(exact >= 0.995) & (exact < 1.0)] = MORE_THAN_99
    return codes


@dataclass(frozen=True, slots=True)
class Moment:
    """A score, a clock and a tempo that a card has tables for; they stand for similar ones.

    Attributes
    ----------
    name, text
        In the tables, and for people.
    score_diff, quarter, clock_s
        As in `lensyard.domain.situation.Situation`.
    tempo
        How much time there is to walk.
    """

    name: str
    text: str
    score_diff: int
    quarter: int
    clock_s: float
    tempo: Tempo = Tempo.USUAL


USUAL = Moment("usual", "even score, middle of the second quarter", 0, 2, 900.0)
MOMENTS = (
    Moment("ahead", "fourth quarter, the offense ahead", 7, 4, 300.0),
    Moment("behind", "fourth quarter, the offense behind", -5, 4, 300.0),
    Moment("hurry", "last two minutes of a half", -4, 2, 60.0, Tempo.HURRY),
    Moment("runout", "last two minutes, the offense ahead", 7, 4, 120.0),
)
"""Of the scores and clocks that were tried those with the least error of P(usable) over the plays
of 2019 that they stand for (``git show 38e6a27:tests/benchmarks/card_moments.py``)."""


@dataclass(frozen=True, eq=False)
class CardGrid:
    """All situations of a card at one moment.

    Row ``((down - 1) * longest + distance - 1) * 99 + yard line - 1``.

    - ``down``, ``distance_yd``, ``yardline_100``: of every row, shape (m,). Rows whose distance
      reaches beyond the goal line stand for goal to go
    """

    longest_yd: int
    down: IntArray
    distance_yd: IntArray
    yardline_100: IntArray
    moment: Moment = USUAL

    @staticmethod
    def of(longest_yd: int = LONGEST_DISTANCE_YD, moment: Moment = USUAL) -> CardGrid:
        """Lay out the rows."""
        down, distance, yardline = np.meshgrid(
            np.arange(1, DOWNS + 1),
            np.arange(1, longest_yd + 1),
            np.arange(1, YARD_LINES + 1),
            indexing="ij",
        )
        distance = np.minimum(distance, yardline)
        return CardGrid(longest_yd, down.ravel(), distance.ravel(), yardline.ravel(), moment)

    def __len__(self) -> int:
        """The number of rows."""
        return int(self.down.shape[0])

    @cached_property
    def distinct(self) -> tuple[IntArray, IntArray]:
        """The k rows that stand for all, by yard line, and the place of each row among them, (m,).

        With the goal line nearer than the line to gain all distances are one.
        """
        key = (self.yardline_100 * (DOWNS + 1) + self.down) * YARD_LINES + self.distance_yd
        _, rows, of = np.unique(key, return_index=True, return_inverse=True)
        return rows, of

    @property
    def first_downs(self) -> IntArray:
        """Rows of first and ten, or goal to go: what follows a change of possession, (99,)."""
        yardline = np.arange(1, YARD_LINES + 1)
        distance = np.minimum(min(10, self.longest_yd), yardline)
        return (distance - 1) * YARD_LINES + yardline - 1

    def batch(self, hash_code: int) -> SituationBatch:
        """Return the rows as situations of the moment."""
        plain = SituationBatch.neutral(
            down=self.down, distance_yd=self.distance_yd, yardline_100=self.yardline_100
        )
        first = self.situation(0, hash_code)
        return replace(
            plain,
            score_diff=np.full_like(plain.score_diff, first.score_diff),
            quarter=np.full_like(plain.quarter, first.quarter),
            half_s=np.full_like(plain.half_s, first.half_s),
            hash_code=np.full_like(plain.hash_code, hash_code),
        )

    def situation(self, row: int, hash_code: int) -> Situation:
        """Return one row as the library takes it."""
        return Situation(
            int(self.down[row]),
            int(self.distance_yd[row]),
            int(self.yardline_100[row]),
            hash_mark=HASH_CODES[hash_code],
            score_diff=self.moment.score_diff,
            quarter=self.moment.quarter,
            clock_s=self.moment.clock_s,
        )
