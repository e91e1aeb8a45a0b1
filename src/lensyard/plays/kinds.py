"""The closed sets of the canonical schema: kinds of play, directions, results."""

from __future__ import annotations

from enum import StrEnum
from typing import Final


class PlayKind(StrEnum):
    """What kind of play it was, after any replay review."""

    RUN = "run"
    COMPLETE = "complete"
    INCOMPLETE = "incomplete"
    SACK = "sack"
    SCRAMBLE = "scramble"
    INTERCEPTION = "interception"
    KNEEL = "kneel"
    SPIKE = "spike"
    PUNT = "punt"
    FIELD_GOAL = "field_goal"
    EXTRA_POINT = "extra_point"
    TWO_POINT = "two_point"
    KICKOFF = "kickoff"
    NO_PLAY = "no_play"


PASS_KINDS: Final = ("complete", "incomplete", "interception")
CARRY_KINDS: Final = ("run", "scramble")
LIVE_KINDS: Final = ("run", "complete", "incomplete", "sack", "scramble", "interception")
"""Plays from scrimmage on which a photographer has something to photograph."""
SCRIMMAGE_KINDS: Final = (*LIVE_KINDS, "kneel", "spike", "punt", "field_goal")
"""Every play of a series of downs (tries and kickoffs are not)."""
TRY_KINDS: Final = ("extra_point", "two_point")
KICK_KINDS: Final = ("punt", "field_goal", "extra_point", "kickoff")

SIDES: Final = ("", "left", "middle", "right")
DEPTHS: Final = ("", "short", "deep")
GAPS: Final = ("", "end", "tackle", "guard")
KICK_RESULTS: Final = (
    "",
    "made",
    "missed",
    "blocked",
    "touchback",
    "fair_catch",
    "returned",
    "downed",
    "out_of_bounds",
    "recovered",
)
DRIVE_ENDS: Final = (
    "",
    "touchdown",
    "field_goal",
    "missed_field_goal",
    "punt",
    "turnover",
    "downs",
    "safety",
    "end_of_half",
)
SEASON_TYPES: Final = ("REG", "POST")
