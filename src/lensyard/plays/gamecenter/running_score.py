"""The score before every snap.

The feed has no running score. Its summary of scoring plays has one entry a score and tells the
try as well; rows of tries after defensive and return touchdowns are often missing, so the summary
is the better source.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from lensyard.plays.gamecenter import stat_codes as stat
from lensyard.plays.kinds import TRY_KINDS

if TYPE_CHECKING:
    from lensyard.plays.gamecenter.feed import Entry


@dataclass(frozen=True, slots=True)
class Score:
    """Points of one club. `kind` is touchdown, field_goal, safety or try."""

    club: str
    kind: str
    points: int


Events = Mapping[str, Sequence[Score]]
"""Play id -> what was scored on that play."""

_KINDS: Final = {"TD": "touchdown", "FG": "field_goal", "SAF": "safety"}
_POINTS: Final = {"touchdown": 6, "field_goal": 3, "safety": 2, "try": 2}
_BRACKETS: Final = re.compile(r"\(([^()]*)\)")
_FAILED: Final = re.compile(r"\b(?:failed|blocked|aborted|short)\b")
_TWO_POINT: Final = re.compile(r"\b(?:pass|run)\b")


class RunningScore:
    """Counts the score up, row by row."""

    def __init__(self, events: Events) -> None:
        self._events = events
        self._points: Counter[str] = Counter()

    def points(self, club: str) -> int:
        """Return the points of a club so far."""
        return self._points[club]

    def difference(self, club: str, other: str) -> int:
        """Return the points of one club less those of the other, so far."""
        return self._points[club] - self._points[other]

    def of(self, play_id: str) -> tuple[Score, ...]:
        """Return what was scored on a row."""
        return tuple(self._events.get(play_id, ()))

    def after(self, play_id: str) -> None:
        """Add what was scored on a row."""
        for score in self.of(play_id):
            self._points[score.club] += score.points


def scoring_events(
    entries: Sequence[Entry], kinds: Sequence[str], *, summary: Mapping[str, Any]
) -> Events:
    """Return what was scored on which row, each try at its own row if it has one.

    Parameters
    ----------
    entries, kinds
        The rows of a game in the file's order, and their kinds.
    summary
        The feed's summary of scoring plays: play id -> type, team, description.
    """
    order = {entry.play_id: at for at, entry in enumerate(entries)}
    events: dict[str, list[Score]] = {}
    for play_id, told in summary.items():
        club, description = str(told["team"]), str(told["desc"])
        kind = _score_kind(told["type"], description)
        own = play_id if play_id in order else _row_before(order, play_id)
        events.setdefault(own, []).append(Score(club, kind, _POINTS[kind]))
        extra = _try_points(description) if kind == "touchdown" else 0
        if extra:
            row = _try_row(entries, kinds, after=order.get(own))
            events.setdefault(row or own, []).append(Score(club, "try", extra))
    return events


def _row_before(order: Mapping[str, int], play_id: str) -> str:
    """Return the row whose id comes last before an id that has no row."""
    earlier = [row for row in order if int(row) < int(play_id)]
    return max(earlier, key=int, default=next(iter(order), play_id))


def _score_kind(feed_type: object, description: str) -> str:
    """Return the kind of one score.

    The feed books a safety as a touchdown now and then, and has no type for a try that the
    defense ran back.
    """
    if "for a Safety" in description:
        return "safety"
    return _KINDS.get(str(feed_type), "try")


def _try_points(description: str) -> int:
    """Return the points of the try that a touchdown's description tells in brackets."""
    for words in _BRACKETS.findall(description):
        if _FAILED.search(words):
            return 0
        if "kick is good" in words:
            return 1
        if _TWO_POINT.search(words):
            return 2
    return 0


def _try_row(entries: Sequence[Entry], kinds: Sequence[str], *, after: int | None) -> str | None:
    """Return the play id of the good try that follows a touchdown, None where it has no row."""
    if after is None:
        return None
    for entry, kind in zip(entries[after + 1 :], kinds[after + 1 :], strict=True):
        if kind in TRY_KINDS:
            if entry.has(stat.EXTRA_POINT_MADE | stat.TWO_POINT_MADE):
                return entry.play_id
        elif kind not in ("", "no_play"):
            return None
    return None
