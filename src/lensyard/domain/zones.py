"""Zones of the field by the line of scrimmage, as the offense moves: the one definition of each."""

from __future__ import annotations

from enum import StrEnum
from typing import Final

import numpy as np
from numpy.typing import NDArray

from lensyard.errors import UnknownNameError

RED_ZONE_FROM: Final = 20
"""The red zone begins at this `yardline_100` and reaches to the goal line."""


class Zone(StrEnum):
    """Six zones that together cover every line of scrimmage, in the order of a drive."""

    OWN_1_20 = "own 1-20"
    OWN_21_40 = "own 21-40"
    MIDDLE_41_60 = "own 41 to opponent's 41"
    OPPONENT_21_40 = "opponent's 40-21"
    RED_ZONE = "red zone 20-6"
    GOAL_TO_GO = "inside the 5"

    @property
    def low(self) -> int:
        """The lowest `yardline_100` of the zone."""
        return _BOUNDS[self][0]

    @property
    def high(self) -> int:
        """The highest `yardline_100` of the zone, included."""
        return _BOUNDS[self][1]

    @property
    def middle(self) -> int:
        """The `yardline_100` in the middle of the zone, rounded down."""
        return (self.low + self.high) // 2

    @property
    def key(self) -> str:
        """The short name that people type."""
        return _KEYS[self]


_BOUNDS: Final = {
    Zone.OWN_1_20: (80, 99),
    Zone.OWN_21_40: (60, 79),
    Zone.MIDDLE_41_60: (41, 59),
    Zone.OPPONENT_21_40: (RED_ZONE_FROM + 1, 40),
    Zone.RED_ZONE: (6, RED_ZONE_FROM),
    Zone.GOAL_TO_GO: (1, 5),
}
_KEYS: Final = {
    Zone.OWN_1_20: "own-1-20",
    Zone.OWN_21_40: "own-21-40",
    Zone.MIDDLE_41_60: "middle",
    Zone.OPPONENT_21_40: "opp-40-21",
    Zone.RED_ZONE: "red-zone",
    Zone.GOAL_TO_GO: "inside-5",
}


def zone_of(yardline_100: int) -> Zone:
    """Return the zone of a line of scrimmage.

    >>> [zone_of(y).name for y in (99, 75, 50)], [zone_of(y).name for y in (30, 12, 5)]
    (['OWN_1_20', 'OWN_21_40', 'MIDDLE_41_60'], ['OPPONENT_21_40', 'RED_ZONE', 'GOAL_TO_GO'])
    """
    return next(zone for zone in Zone if yardline_100 >= zone.low)


def zone_indices(yardline_100: NDArray[np.int64]) -> NDArray[np.int64]:
    """Return the position in `Zone` of lines of scrimmage from 1 to 99; same shape."""
    of_yard = np.array([list(Zone).index(zone_of(y)) for y in range(1, 100)])
    return np.asarray(of_yard[yardline_100 - 1], dtype=np.int64)


def zone_named(text: str) -> Zone:
    """Return the zone of a short name.

    Raises
    ------
    UnknownNameError
        If there is none.

    Examples
    --------
    >>> zone_named("Red zone").low
    6
    """
    key = text.strip().lower().replace(" ", "-")
    for zone in Zone:
        if zone.key == key:
            return zone
    raise UnknownNameError(name="zone", value=text, known=_KEYS.values())
