"""Which kind of play an entry of the game feed tells of."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Final

from lensyard.plays.gamecenter.feed import Entry
from lensyard.plays.gamecenter.stat_codes import (
    EXTRA_POINT,
    FIELD_GOAL,
    KICKOFF,
    PASS_COMPLETE,
    PASS_INCOMPLETE,
    PASS_INTERCEPTED,
    PENALTY,
    PUNT,
    RUSH,
    RUSH_MORE,
    SACKED,
    TWO_POINT,
)

_NO_PLAY: Final = re.compile(r"\bNo Play\b")


_BY_STATISTICS: Final = (
    ("two_point", TWO_POINT),
    ("extra_point", EXTRA_POINT),
    ("kickoff", KICKOFF),
    ("field_goal", FIELD_GOAL),
    ("punt", PUNT),
    ("interception", PASS_INTERCEPTED),
    ("sack", SACKED),
    ("complete", PASS_COMPLETE),
    ("incomplete", PASS_INCOMPLETE),
    ("run", RUSH | RUSH_MORE),
)


_BY_WORDS: Final = (
    ("two_point", re.compile(r"TWO-POINT CONVERSION ATTEMPT")),
    ("extra_point", re.compile(r" extra point is ")),
    ("kickoff", re.compile(r"\bkicks (?:onside )?-?\d+ yards?\b")),
    ("field_goal", re.compile(r"\b\d+ yard field goal\b")),
    ("punt", re.compile(r"\bpunts -?\d+ yards?\b|\bpunt is BLOCKED\b")),
    ("interception", re.compile(r" INTERCEPTED ")),
    ("sack", re.compile(r" sacked ")),
    ("incomplete", re.compile(r" pass incomplete\b| spiked the ball\b")),
    ("complete", re.compile(r" pass (?:short|deep|left|middle|right|to)\b")),
    ("run", re.compile(r" (?:left|right) (?:end|tackle|guard)\b| up the middle\b| kneels ")),
)


def kind_of(entry: Entry) -> str:
    """Return the kind of play, "" for a row that tells of no play at all.

    The statistics decide. Where they tell of several kinds (what a reversal voided may still be
    booked) or of none, the words of the final ruling decide.
    """
    if entry.spot is None:
        return ""
    if _NO_PLAY.search(entry.ruling):
        return "no_play"
    booked = [kind for kind, codes in _BY_STATISTICS if entry.has(codes)]
    kind = booked[0] if len(booked) == 1 else _told_kind(entry, booked)
    if kind == "run":
        if " kneels " in entry.action:
            return "kneel"
        return "scramble" if " scrambles " in entry.action else "run"
    if kind == "incomplete" and " spiked the ball" in entry.action:
        return "spike"
    return kind


def _told_kind(entry: Entry, booked: Sequence[str]) -> str:
    """Return the kind that the words tell, among the booked ones if there are any."""
    nullified = not booked and "NULLIFIED" in entry.ruling
    if not nullified:
        for kind, words in _BY_WORDS:
            if (not booked or kind in booked) and words.search(entry.action):
                return kind
    if booked:
        return booked[0]
    return "no_play" if entry.has(PENALTY) or "enalty" in entry.ruling else ""
