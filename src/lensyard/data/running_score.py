"""The score before every snap.

The feed has no running score. Its summary of scoring plays has one entry a score, which counts
the try as well; rows of tries after defensive and return touchdowns are often missing, so the
summary is the better source. Where only the statistics add up to the final score, they are used.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any, Final

from lensyard.data import stat_codes as stat

if TYPE_CHECKING:
    from lensyard.data.gamecenter import Entry

Events = Mapping[str, tuple[tuple[str, int], ...]]
"""Play id -> (club, points) scored on that play."""

_POINTS: Final = {"TD": 6, "FG": 3, "SAF": 2}
_BRACKETS: Final = re.compile(r"\(([^()]*)\)")
_FAILED: Final = re.compile(r"\b(?:failed|blocked|aborted|short)\b")
_DEFENSIVE_TRY_POINTS: Final = 2


class RunningScore:
    """Counts the score up, play by play."""

    def __init__(self, events: Events) -> None:
        self._events = events
        self._points: Counter[str] = Counter()

    def difference(self, club: str, other: str) -> int:
        """Return the points of one club less those of the other, so far."""
        return self._points[club] - self._points[other]

    def after(self, play_id: str) -> None:
        """Add what was scored on a play."""
        for club, points in self._events.get(play_id, ()):
            self._points[club] += points


def score_events(
    entries: Sequence[Entry],
    kinds: Sequence[str],
    *,
    summary: Mapping[str, Any],
    totals: Mapping[str, int],
) -> Events:
    """Return what was scored on which play.

    Parameters
    ----------
    entries, kinds
        The plays of a game in the file's order, and their kinds.
    summary
        The feed's summary of scoring plays: play id -> type, team, description.
    totals
        Club -> final points, to choose between the summary and the statistics.
    """
    told = from_summary(entries, kinds, summary=summary)
    if final_points(told, clubs=totals) == dict(totals):
        return told
    booked = from_statistics(entries)
    return booked if final_points(booked, clubs=totals) == dict(totals) else told


def final_points(events: Events, *, clubs: Mapping[str, int]) -> dict[str, int]:
    """Return club -> points that the events add up to."""
    points: Counter[str] = Counter(dict.fromkeys(clubs, 0))
    for scored in events.values():
        for club, number in scored:
            points[club] += number
    return dict(points)


def from_summary(
    entries: Sequence[Entry], kinds: Sequence[str], *, summary: Mapping[str, Any]
) -> Events:
    """Return the events that the feed's summary tells, each try at its own row if it has one."""
    order = {entry.play_id: at for at, entry in enumerate(entries)}
    events: dict[str, tuple[tuple[str, int], ...]] = {}
    for play_id, entry in summary.items():
        club, points = str(entry["team"]), _POINTS.get(entry["type"], _DEFENSIVE_TRY_POINTS)
        events[play_id] = (*events.get(play_id, ()), (club, points))
        extra = _try_points(str(entry["desc"])) if entry["type"] == "TD" else 0
        if extra:
            row = _try_row(entries, kinds, after=order.get(play_id))
            where = row if row is not None else play_id
            events[where] = (*events.get(where, ()), (club, extra))
    return events


def _try_points(description: str) -> int:
    """Return the points of the try that a touchdown's description tells in brackets."""
    for words in _BRACKETS.findall(description):
        if _FAILED.search(words):
            return 0
        if "kick is good" in words:
            return 1
        if re.search(r"\b(?:pass|run)\b", words):
            return 2
    return 0


def _try_row(
    entries: Sequence[Entry], kinds: Sequence[str], *, after: int | None
) -> str | None:
    """Return the play id of the good try that follows a touchdown, None where it has no row."""
    if after is None:
        return None
    for entry, kind in zip(entries[after + 1 :], kinds[after + 1 :], strict=True):
        if kind in ("extra_point", "two_point"):
            if entry.has(stat.EXTRA_POINT_MADE | stat.TWO_POINT_MADE):
                return entry.play_id
        elif kind != "no_play":
            return None
    return None


def from_statistics(entries: Sequence[Entry]) -> Events:
    """Return the events that the statistics of the plays tell."""
    events: dict[str, tuple[tuple[str, int], ...]] = {}
    for entry in entries:
        scored = [
            (club, points)
            for codes, points in (
                (stat.TOUCHDOWN, 6),
                (stat.FIELD_GOAL_MADE, 3),
                (stat.EXTRA_POINT_MADE, 1),
                (stat.TWO_POINT_MADE, 2),
                (stat.SAFETY, 2),
            )
            if (club := entry.club_of(codes)) is not None
        ]
        if scored:
            events[entry.play_id] = tuple(scored)
    return events
