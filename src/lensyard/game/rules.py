"""What a rule book says of the course of a game: where kicks and tries start, what overtime is.

Yard lines are `yardline_100` of the team that kicks or snaps: yards to the opponent's goal line.
Usual penalties are those that a photographer meets in most games, with what follows from them.
"""

from __future__ import annotations

from enum import StrEnum
from typing import Final

from lensyard.domain.field import rules_named
from lensyard.records import Record


class Overtime(StrEnum):
    """How a tie after four quarters is played off."""

    KICKOFF = "kickoff"
    """A period that begins with a kickoff."""
    SERIES = "series"
    """Each team has a series from the same yard line, until one is ahead after both."""


class GameRules(Record):
    """The course of a game by one rule book.

    - ``kickoff_from``, ``safety_kick_from``, ``try_from``, ``two_points_from``: where a kickoff,
      the free kick after a safety, and a try by a kick or for two start. [yardline_100]
    - ``kickoff_touchback``, ``touchback``: where the receivers snap after a kickoff into the end
      zone, and after a punt, a fumble or an interception there. [yardline_100 of the receivers]
    - ``kickoff_out_yd``: where a kickoff that went out of bounds is snapped, beyond where it was
      kicked. [yd]
    - ``missed_behind_yd``: how far behind the line the ball goes over after a missed field goal:
      where it was kicked, by custom 8 yd back, in professional games. [yd]
    - ``return_on_try``: points of the defense that brings a try to the other goal line.
    - ``overtime``, ``overtime_from``: how a tie is played off; where each series starts.
      [yardline_100]
    - ``first_touchdown_wins``: whether a touchdown on the first possession of overtime ends the
      game.
    - ``tries_only_from_period``: the period of series overtime from which there are tries only; 0
      is never.
    """

    name: str
    kickoff_from: int
    safety_kick_from: int
    try_from: int
    two_points_from: int
    kickoff_touchback: int
    touchback: int
    kickoff_out_yd: int
    missed_behind_yd: int
    return_on_try: int
    overtime: Overtime
    overtime_from: int
    first_touchdown_wins: bool
    tries_only_from_period: int


# Official Playing Rules of the National Football League, 2021: R6-1-2 (kickoff line), R9-5-1
# (touchback of a scrimmage kick), R11-3 (tries), R11-4-2 (missed field goals). The kickoff
# touchback at the 35 and both teams' chance in overtime are those announced for 2025.
# NCAA Football Rules and Interpretations, 2021: R6-1-1, R6-1-7, R8-3-2, R8-6-2, R3-1-3 (overtime;
# what it says of periods from memory).
# NFHS Football Rules Book: kickoff and try lines from its field diagrams of 2020; touchbacks,
# missed field goals and the ten-yard overtime procedure from memory.
GAME_RULES: Final[dict[str, GameRules]] = {
    "pro": GameRules(
        name="pro",
        kickoff_from=65,
        safety_kick_from=80,
        try_from=15,
        two_points_from=2,
        kickoff_touchback=65,
        touchback=80,
        kickoff_out_yd=25,
        missed_behind_yd=8,
        return_on_try=2,
        overtime=Overtime.KICKOFF,
        overtime_from=0,
        first_touchdown_wins=False,
        tries_only_from_period=0,
    ),
    "college": GameRules(
        name="college",
        kickoff_from=65,
        safety_kick_from=80,
        try_from=3,
        two_points_from=3,
        kickoff_touchback=75,
        touchback=80,
        kickoff_out_yd=30,
        missed_behind_yd=0,
        return_on_try=2,
        overtime=Overtime.SERIES,
        overtime_from=25,
        first_touchdown_wins=False,
        tries_only_from_period=3,
    ),
    "high-school": GameRules(
        name="high-school",
        kickoff_from=60,
        safety_kick_from=80,
        try_from=3,
        two_points_from=3,
        kickoff_touchback=80,
        touchback=80,
        kickoff_out_yd=25,
        missed_behind_yd=0,
        return_on_try=0,
        overtime=Overtime.SERIES,
        overtime_from=10,
        first_touchdown_wins=False,
        tries_only_from_period=0,
    ),
}


def game_rules(name: str) -> GameRules:
    """Return the rules of a game by the name of its rule set.

    Raises `UnknownNameError` if there is no such rule set.
    """
    return GAME_RULES[rules_named(name).name]


class Penalty(Record):
    """A usual penalty, enforced from the line of scrimmage.

    ``key``, ``title``: its short name, and what people say. ``yards``: toward the offense's own
    goal line where it is against the offense, else toward the other. ``first_down``: whether it
    gives a new series; else the down is played again. [yd]
    """

    key: str
    title: str
    yards: int
    against_offense: bool
    first_down: bool = False


# The yardages that the three books share: pro R8, R12, R14; college R7, R9; NFHS R7, R9.
PENALTIES: Final = (
    Penalty("start", "False start", 5, against_offense=True),
    Penalty("holding", "Holding", 10, against_offense=True),
    Penalty("offside", "Offside", 5, against_offense=False),
    Penalty("defense-5", "Defense, 5 and first", 5, against_offense=False, first_down=True),
    Penalty("defense-15", "Defense, 15 and first", 15, against_offense=False, first_down=True),
    Penalty("offense-15", "Offense, 15", 15, against_offense=True),
)


def walked_off(yardline_100: int, penalty: Penalty) -> int:
    """Return where the ball is after a penalty: at most half the distance to the goal line.

    >>> walked_off(40, PENALTIES[1]), walked_off(96, PENALTIES[0]), walked_off(8, PENALTIES[2])
    (50, 98, 4)
    """
    toward_own = 100 - yardline_100 if penalty.against_offense else yardline_100
    yards = min(penalty.yards, toward_own // 2)
    return yardline_100 + yards if penalty.against_offense else yardline_100 - yards
