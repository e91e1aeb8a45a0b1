"""Possessions derived from the plays: which drive a play belongs to and how that drive ended.

The source's own drive fields tell what happened later and change their meaning over the years;
nothing of them is read.

Plays that the source lists twice: a corrected row beside the one that it replaces.

The clock or a label differs, the situation does not; without a penalty the same down from the same
spot cannot come again. One of the two goes: the one that scored stays, else the one that the next
play follows from, else the later one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from lensyard.plays.kinds import SCRIMMAGE_KINDS
from lensyard.plays.play import Play

_LAST_DOWN: Final = 4


def with_possessions(plays: Sequence[Play]) -> list[Play]:
    """Return the plays of one game with `drive_index` and `drive_end` filled.

    A possession ends with a score, a punt, a field-goal attempt, a turnover, a failed fourth
    down, a kickoff or the end of a half. A kickoff belongs to the possession that it opens, a try
    to the one that scored.
    """
    indices = _indices(plays)
    ends = {}
    for index in set(indices):
        members = [at for at, own in enumerate(indices) if own == index]
        ends[index] = _end_of(plays, members)
    return [
        replace(
            play,
            drive_index=index,
            drive_end=ends[index] if _in_series(play) else "",
        )
        for play, index in zip(plays, indices, strict=True)
    ]


def _in_series(play: Play) -> bool:
    """Return whether the play is part of a series of downs."""
    return play.kind in SCRIMMAGE_KINDS or (play.kind == "no_play" and play.down > 0)


def _indices(plays: Sequence[Play]) -> list[int]:
    """Return the possession of every play, counted from 0."""
    indices: list[int] = []
    current = 0
    last: Play | None = None
    for play in plays:
        if play.kind == "kickoff":
            current += bool(indices)
            last = None
        elif _in_series(play):
            fresh = last is not None and (
                play.offense != last.offense or play.half != last.half or _closes(last, play)
            )
            current += fresh
            last = play
        indices.append(current)
    return indices


def _closes(play: Play, following: Play) -> bool:
    """Return whether the side that has the ball again has it in a new possession.

    A kick that was blocked and recovered behind the line leaves the possession as it was.
    """
    if play.kind in ("punt", "field_goal"):
        return play.kick_result != "blocked" or following.down == 1
    return play.touchdown or play.return_touchdown or play.safety or play.turnover


def _end_of(plays: Sequence[Play], members: Sequence[int]) -> str:
    """Return how a possession ended, "" for one without a play from scrimmage."""
    series = [at for at in members if _in_series(plays[at])]
    if not series:
        return ""
    last = next((plays[at] for at in reversed(series) if plays[at].kind != "no_play"), None)
    if plays[series[-1]].safety:
        return "safety"
    if last is not None:
        if last.touchdown and last.kind != "punt":
            return "touchdown"
        if last.kind == "field_goal":
            return "field_goal" if last.kick_result == "made" else "missed_field_goal"
        if last.kind == "punt":
            return "punt"
        if last.turnover or last.return_touchdown:
            return "turnover"
    return _quiet_end(plays, series)


def _quiet_end(plays: Sequence[Play], series: Sequence[int]) -> str:
    """Return the end of a possession that no play ended by itself: downs, or the half."""
    last = plays[series[-1]]
    following = next((p for p in plays[series[-1] + 1 :] if _in_series(p)), None)
    same_half = following is not None and following.half == last.half
    failed = last.kind != "no_play" and last.down == _LAST_DOWN and not last.first_down
    return "downs" if same_half or failed else "end_of_half"


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
