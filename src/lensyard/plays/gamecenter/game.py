"""A game of the feed as a list of canonical plays.

What the source does and a reader would not expect is handled in this package and nowhere else:

- Order is the file's order; play ids do not follow the clock.
- `yrdln` is the spot before the snap, "CLUB n", a bare "50" at midfield, blank on timeouts.
- On kickoffs the row sits in the receiver's drive and `posteam` is the kicker.
- `ydsnet`, `note` and the drives' own fields say what happened later and are never read.
- After "REVERSED" only the later text counts; the statistics are those of the final ruling.
- The feed has no running score. Its summary of scoring plays has one entry a score and has the
  try as well; rows of tries after defensive and return touchdowns are often missing.
- A corrected row may stand beside the one that it replaces; see `without_restatements`.

Names of players and the text itself stay inside: no `Play` holds any.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

from lensyard.errors import DataError
from lensyard.plays.gamecenter import feed
from lensyard.plays.gamecenter.play import GameContext, Play, ScheduledGame, Score, play_of
from lensyard.plays.kinds import TRY_KINDS

QUARTER_S: Final = 900
_SAME_CLOCK_S: Final = 1
_OFFENSE_CODES: Final = (
    feed.RUSH
    | feed.PASS_INCOMPLETE
    | feed.PASS_COMPLETE
    | feed.PASS_INTERCEPTED
    | feed.SACKED
    | feed.PUNT
    | feed.FIELD_GOAL
    | feed.EXTRA_POINT
    | feed.TWO_POINT
    | feed.KICKOFF_DISTANCE
)


@dataclass(frozen=True, slots=True)
class ParsedGame:
    """The plays of a game, and whether their running score ends at the final score."""

    plays: list[Play]
    final_score_agrees: bool


def parse_game(raw: Mapping[str, Any], *, scheduled: ScheduledGame) -> ParsedGame:
    """Turn one game of the feed into canonical plays, in the file's order.

    Parameters
    ----------
    raw : mapping
        The value under the game's id in its file: `home`, `away`, `drives`, `scrsummary`.
    scheduled : ScheduledGame
        Season, season type and week.

    Returns
    -------
    ParsedGame
        Timeouts, ends of quarters and remarks without a play are left out.

    Raises
    ------
    DataError
        If the game lacks a part, or none of its rows is a play.
    """
    try:
        clubs = (str(raw["home"]["abbr"]), str(raw["away"]["abbr"]))
        entries = list(feed.read_entries(raw["drives"]))
        totals = {str(side["abbr"]): int(side["score"]["T"]) for side in (raw["home"], raw["away"])}
        kinds = [kind_of(entry) for entry in entries]
        events = scoring_events(entries, kinds, summary=raw["scrsummary"])
    except (KeyError, TypeError, ValueError, AttributeError) as error:
        raise DataError(
            f"game {scheduled.game_id} is not in the feed's shape ({error!r}); expected home, "
            "away, drives and scrsummary. Leave the game out or fetch its file again."
        ) from error
    plays, points = _plays(entries, kinds, scheduled=scheduled, clubs=clubs, events=events)
    if not plays:
        raise DataError(f"game {scheduled.game_id} holds no play; leave it out")
    agrees = all(points[club] == total for club, total in totals.items())
    return ParsedGame(plays=without_restatements(plays), final_score_agrees=agrees)


def _plays(
    entries: Sequence[feed.Entry],
    kinds: Sequence[str],
    *,
    scheduled: ScheduledGame,
    clubs: tuple[str, str],
    events: Events,
) -> tuple[list[Play], Counter[str]]:
    """Return the canonical plays, and the points of each club at the end of the game."""
    plays: list[Play] = []
    points: Counter[str] = Counter()
    quarter, clock_s = 0, QUARTER_S
    for entry, kind in zip(entries, kinds, strict=True):
        scored = tuple(events.get(entry.play_id, ()))
        if kind:
            if entry.clock_s is not None:
                clock_s = min(entry.clock_s, QUARTER_S)
            elif entry.quarter != quarter:  # without a clock: the last one of the quarter
                clock_s = QUARTER_S
            quarter = entry.quarter
            offense = _offense(entry, clubs)
            defense = clubs[1] if offense == clubs[0] else clubs[0]
            context = GameContext(
                scheduled=scheduled,
                clubs=clubs,
                offense=offense,
                defense=defense,
                index=len(plays),
                clock_s=clock_s,
                score_diff=points[offense] - points[defense],
                scored=scored,
            )
            plays.append(play_of(entry, kind, context))
        for score in scored:
            points[score.club] += score.points
    return plays, points


def _offense(entry: feed.Entry, clubs: tuple[str, str]) -> str:
    """Return the club that snapped or kicked: by the statistics, else by `posteam`."""
    booked = entry.club_of(_OFFENSE_CODES)
    return next((club for club in (booked, entry.club) if club in clubs), clubs[0])


_NO_PLAY: Final = re.compile(r"\bNo Play\b")
_BY_STATISTICS: Final = (
    ("two_point", feed.TWO_POINT),
    ("extra_point", feed.EXTRA_POINT),
    ("kickoff", feed.KICKOFF),
    ("field_goal", feed.FIELD_GOAL),
    ("punt", feed.PUNT),
    ("interception", feed.PASS_INTERCEPTED),
    ("sack", feed.SACKED),
    ("complete", feed.PASS_COMPLETE),
    ("incomplete", feed.PASS_INCOMPLETE),
    ("run", feed.RUSH | feed.RUSH_MORE),
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


def kind_of(entry: feed.Entry) -> str:
    """Return the kind of play, "" for a row that is no play.

    The statistics decide. Where they name several kinds (what a reversal voided may still be
    booked) or of none, the words of the final ruling decide.
    """
    if entry.spot is None:
        return ""
    if _NO_PLAY.search(entry.ruling):
        return "no_play"
    booked = [kind for kind, codes in _BY_STATISTICS if entry.has(codes)]
    kind = booked[0] if len(booked) == 1 else _kind_by_words(entry, booked)
    if kind == "run":
        if " kneels " in entry.action:
            return "kneel"
        return "scramble" if " scrambles " in entry.action else "run"
    if kind == "incomplete" and " spiked the ball" in entry.action:
        return "spike"
    return kind


def _kind_by_words(entry: feed.Entry, booked: Sequence[str]) -> str:
    """Return the kind that the sentence names, among the booked ones if there are any."""
    nullified = not booked and "NULLIFIED" in entry.ruling
    if not nullified:
        for kind, words in _BY_WORDS:
            if (not booked or kind in booked) and words.search(entry.action):
                return kind
    if booked:
        return booked[0]
    return "no_play" if entry.has(feed.PENALTY) or "enalty" in entry.ruling else ""


Events = Mapping[str, Sequence[Score]]
"""Play id -> what was scored on that play."""

_KINDS: Final = {"TD": "touchdown", "FG": "field_goal", "SAF": "safety"}
_POINTS: Final = {"touchdown": 6, "field_goal": 3, "safety": 2, "try": 2}
_BRACKETS: Final = re.compile(r"\(([^()]*)\)")
_FAILED: Final = re.compile(r"\b(?:failed|blocked|aborted|short)\b")
_TWO_POINT: Final = re.compile(r"\b(?:pass|run)\b")


def scoring_events(
    entries: Sequence[feed.Entry], kinds: Sequence[str], *, summary: Mapping[str, Any]
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
    for play_id, item in summary.items():
        club, description = str(item["team"]), str(item["desc"])
        kind = _score_kind(item["type"], description)
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
    """Return the points of the try that a touchdown's description has in brackets."""
    for words in _BRACKETS.findall(description):
        if _FAILED.search(words):
            return 0
        if "kick is good" in words:
            return 1
        if _TWO_POINT.search(words):
            return 2
    return 0


def _try_row(
    entries: Sequence[feed.Entry], kinds: Sequence[str], *, after: int | None
) -> str | None:
    """Return the play id of the good try that follows a touchdown, None where it has no row."""
    if after is None:
        return None
    for entry, kind in zip(entries[after + 1 :], kinds[after + 1 :], strict=True):
        if kind in TRY_KINDS:
            if entry.has(feed.EXTRA_POINT_MADE | feed.TWO_POINT_MADE):
                return entry.play_id
        elif kind not in ("", "no_play"):
            return None
    return None


def without_restatements(plays: Sequence[Play]) -> list[Play]:
    """Return the plays of one game with each play once, `play_index` counted anew.

    The source lists some plays twice, a corrected row beside the one that it replaces: the clock or
    a label differs, the situation does not, and without a penalty the same down from the same spot
    cannot come again. The one that scored stays, else the one that the next play follows from, else
    the later one.
    """
    single: list[Play] = []
    for at, play in enumerate(plays):
        if single and _restates(single[-1], play):
            following = plays[at + 1] if at + 1 < len(plays) else None
            single[-1] = _better(single[-1], play, following)
        else:
            single.append(play)
    return [replace(play, play_index=at) for at, play in enumerate(single)]


def _restates(before: Play, after: Play) -> bool:
    """Return whether two neighbors describe the same snap or kick."""
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
