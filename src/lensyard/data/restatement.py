"""Plays that the source lists twice: a corrected row beside the one that it replaces.

The clock or a label differs, the situation does not; without a penalty the same down from the same
spot cannot come again. One of the two goes: the one that scored stays, else the one that the next
play follows from, else the later one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from lensyard.data.play import Play

_SAME_CLOCK_S: Final = 1


def without_restatements(plays: Sequence[Play]) -> list[Play]:
    """Return the plays of one game with each play once, `play_index` counted anew."""
    kept: list[Play] = []
    for at, play in enumerate(plays):
        if kept and _restates(kept[-1], play):
            following = plays[at + 1] if at + 1 < len(plays) else None
            kept[-1] = _better(kept[-1], play, following)
        else:
            kept.append(play)
    return [replace(play, play_index=at) for at, play in enumerate(kept)]


def _restates(before: Play, after: Play) -> bool:
    """Return whether two neighbors tell of the same snap or kick."""
    if before.penalty or "no_play" in (before.kind, after.kind):
        return False
    same_situation = _situation(before) == _situation(after)
    same_clock = abs(before.clock_s - after.clock_s) <= _SAME_CLOCK_S
    same_result = _result(before) == _result(after)
    if before.down == 0:
        return same_situation and same_clock and same_result
    return same_situation and (same_clock or same_result)


def _situation(play: Play) -> tuple[str, int, int, int, int]:
    return play.offense, play.quarter, play.down, play.distance_yd, play.yardline_100


def _result(play: Play) -> tuple[str, int, int | None, int | None]:
    return play.kind, play.gain_yd, play.kick_distance_yd, play.end_yardline_100


def _better(before: Play, after: Play, following: Play | None) -> Play:
    """Return the one of two statements of a play that stands."""
    if before.score_diff != after.score_diff:  # points were booked on the earlier row
        return before
    if following is not None and _follows(before, following) and not _follows(after, following):
        return before
    return after


def _follows(play: Play, following: Play) -> bool:
    """Return whether a play ends where, and on the down that, the next one starts."""
    down = 1 if play.first_down else play.down + 1
    return (play.offense, play.end_yardline_100, down) == (
        following.offense,
        following.yardline_100,
        following.down,
    )
