"""Where a pass was caught, given what the play gained: how a completion's path starts.

A play's end is forecast; a completed pass is photographed from the catch on. The tables hold the
mean yards after the catch of each tenth of the completions with such a gain, from short to long,
counted from the bundled plays of the professional game, 2009 to 2018 (a test counts them again and
checks them on 2019). A catch beyond where the play ended, 1.4 % of completions, counts as caught
where it ended, so a path never runs backward. No other level publishes yards in the air; its
completions are taken to be caught as the professionals' are.
"""

from __future__ import annotations

from functools import cache, lru_cache
from typing import Final

import numpy as np

from lensyard.arrays import Float32Array, FloatArray, IntArray
from lensyard.model import outcome_grid as grid

TENTHS: Final = 10

# Mean gain of the band [yd], then the tenths [yd].
AFTER_CATCH_YD: Final = (
    (-6.4, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.4, 1.1, 2.9),
    (-2.8, 0.0, 0.0, 0.0, 0.0, 0.1, 1.0, 1.1, 2.0, 2.5, 4.3),
    (-0.4, 0.0, 0.0, 0.0, 0.3, 1.0, 1.6, 2.1, 3.0, 3.9, 5.9),
    (1.6, 0.0, 0.0, 0.0, 1.0, 1.1, 2.0, 2.8, 3.8, 5.1, 7.2),
    (3.6, 0.0, 0.0, 0.0, 0.9, 1.2, 2.0, 3.1, 4.2, 5.8, 8.3),
    (5.0, 0.0, 0.0, 0.0, 1.0, 1.3, 2.1, 3.2, 4.7, 6.3, 9.3),
    (6.0, 0.0, 0.0, 0.6, 1.0, 1.8, 2.5, 3.5, 5.0, 6.8, 9.9),
    (7.0, 0.0, 0.0, 1.0, 1.7, 2.1, 3.0, 4.2, 5.7, 7.6, 10.7),
    (8.0, 0.0, 0.2, 1.2, 2.0, 3.0, 3.7, 4.8, 6.4, 8.4, 11.6),
    (9.4, 0.0, 0.1, 1.3, 2.4, 3.5, 4.5, 5.6, 7.3, 9.4, 12.8),
    (11.5, 0.0, 0.0, 1.1, 2.4, 4.1, 5.6, 7.0, 8.7, 11.0, 14.7),
    (13.9, 0.0, 0.0, 0.8, 2.0, 3.5, 5.6, 7.8, 9.8, 12.5, 16.9),
    (17.3, 0.0, 0.0, 1.1, 2.1, 3.4, 5.1, 7.8, 11.4, 14.9, 20.0),
    (21.3, 0.0, 0.7, 2.1, 3.3, 4.6, 6.5, 9.2, 13.4, 17.9, 23.7),
    (25.3, 0.0, 1.6, 3.3, 5.2, 7.0, 9.0, 11.6, 16.3, 21.3, 27.5),
    (29.4, 0.0, 1.9, 3.7, 5.9, 8.8, 11.1, 14.2, 18.6, 24.9, 31.7),
    (35.1, 0.0, 1.9, 4.0, 6.5, 9.8, 13.8, 17.9, 22.5, 28.9, 37.0),
    (43.9, 0.0, 1.5, 3.3, 5.7, 10.1, 15.9, 21.9, 27.8, 36.3, 45.7),
    (56.1, 0.9, 4.1, 8.1, 13.7, 19.9, 27.9, 36.0, 42.1, 48.6, 59.4),
    (75.1, 22.5, 27.8, 33.7, 41.0, 46.0, 52.0, 55.8, 59.0, 68.4, 76.6),
)
"""Completions that did not score."""
CARRIED_IN_YD: Final = (
    (1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 1.4, 2.0, 2.0, 2.9, 5.3),
    (2.6, 1.0, 1.0, 1.0, 1.4, 2.0, 2.0, 2.6, 3.0, 4.4, 7.0),
    (4.5, 1.0, 1.0, 1.2, 2.0, 2.3, 3.0, 3.8, 4.8, 5.7, 8.2),
    (6.9, 1.0, 1.1, 2.0, 2.6, 3.6, 4.6, 5.4, 6.5, 8.2, 10.5),
    (10.0, 1.0, 1.9, 3.1, 4.2, 5.0, 6.2, 7.4, 8.7, 10.3, 13.4),
    (13.5, 1.0, 2.1, 3.6, 5.4, 7.2, 8.6, 10.4, 12.5, 14.6, 17.8),
    (17.5, 1.0, 1.5, 2.3, 4.3, 6.8, 10.4, 13.2, 16.1, 19.3, 22.1),
    (23.2, 1.0, 1.9, 2.9, 4.4, 5.7, 8.2, 11.5, 16.6, 20.8, 26.8),
    (32.8, 1.2, 2.7, 4.6, 7.2, 10.3, 13.8, 18.2, 23.6, 29.8, 36.9),
    (46.5, 1.7, 4.5, 8.4, 12.1, 16.3, 21.3, 26.9, 33.1, 38.8, 49.8),
    (61.5, 8.9, 15.8, 20.4, 25.4, 31.0, 37.0, 42.4, 50.3, 57.7, 67.5),
    (78.4, 26.2, 33.2, 38.3, 43.0, 47.3, 52.8, 60.2, 66.1, 72.5, 82.0),
)
"""Touchdown passes that were caught short of the goal line."""


def after_catch_tenths_yd(gain_yd: FloatArray | IntArray, *, carried_in: bool) -> FloatArray:
    """Return the tenths of the yards after the catch for gains of shape (n,), shape (n, 10)."""
    table = np.array(CARRIED_IN_YD if carried_in else AFTER_CATCH_YD)
    return np.stack([np.interp(gain_yd, table[:, 0], tenth) for tenth in table.T[1:]], axis=1)


@cache
def p_caught_at(*, carried_in: bool) -> Float32Array:
    """Return P(caught at these air yards | gain), shape (120, 120) over `GAINS_YD` twice.

    Between whole yards a tenth is split so that its mean stays; catches farther behind the line of
    scrimmage than `GAIN_MIN_YD` lie there.
    """
    table = np.zeros((grid.GAINS_YD.size, grid.GAINS_YD.size))
    row = np.arange(grid.GAINS_YD.size)
    for after in after_catch_tenths_yd(grid.GAINS_YD, carried_in=carried_in).T:
        whole = np.floor(after)
        for back, share in ((whole, 1.0 - (after - whole)), (whole + 1, after - whole)):
            np.add.at(table, (row, np.maximum(row - back.astype(int), 0)), share / TENTHS)
    return table.astype(np.float32)


@lru_cache(maxsize=128)
def starts_of_catches(yardline_100: int) -> Float32Array:
    """Return P(the catch lies at x | the play ended at x), shape (121 ends, 121 starts).

    For one line of scrimmage. The row of `CARRIED_IN_X` is that of touchdowns carried in.
    """
    line = grid.GOAL_X - yardline_100
    x = np.arange(grid.N_X)
    gain = np.clip(x - line - grid.GAIN_MIN_YD, 0, grid.GAINS_YD.size - 1)
    p = p_caught_at(carried_in=False)[gain]
    p[grid.CARRIED_IN_X] = p_caught_at(carried_in=True)[yardline_100 - grid.GAIN_MIN_YD]
    at = np.maximum(line + grid.GAINS_YD, 0)
    inside = at < grid.N_X
    starts = np.zeros((grid.N_X, grid.N_X), dtype=np.float32)
    np.add.at(starts.T, at[inside], p[:, inside].T)
    # On the end line behind it (x = 0) lie all gains that would end farther back.
    starts[0] = 0.0
    starts[0, 0] = 1.0
    return starts


def usual_catch_yd(gain_yd: FloatArray) -> FloatArray:
    """Return the mean air yards of completions with these gains, where they are not known. [yd]"""
    after = after_catch_tenths_yd(gain_yd, carried_in=False).mean(axis=1)
    caught: FloatArray = np.minimum(np.rint(gain_yd - after), gain_yd)
    return caught
