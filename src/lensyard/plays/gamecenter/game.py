"""A game of the feed as a list of canonical plays."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from lensyard.errors import DataError
from lensyard.plays.gamecenter import stat_codes as stat
from lensyard.plays.gamecenter.feed import Entry, read_entries
from lensyard.plays.gamecenter.kind import kind_of
from lensyard.plays.gamecenter.row import Frame, play_of
from lensyard.plays.gamecenter.running_score import RunningScore, scoring_events
from lensyard.plays.play import Play, ScheduledGame
from lensyard.plays.possession import with_possessions, without_restatements

QUARTER_S: Final = 900
_OFFENSE_CODES: Final = (
    stat.RUSH
    | stat.PASS_INCOMPLETE
    | stat.PASS_COMPLETE
    | stat.PASS_INTERCEPTED
    | stat.SACKED
    | stat.PUNT
    | stat.FIELD_GOAL
    | stat.EXTRA_POINT
    | stat.TWO_POINT
    | stat.KICKOFF_DISTANCE
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
        entries = list(read_entries(raw["drives"]))
        totals = {str(side["abbr"]): int(side["score"]["T"]) for side in (raw["home"], raw["away"])}
        kinds = [kind_of(entry) for entry in entries]
        events = scoring_events(entries, kinds, summary=raw["scrsummary"])
    except (KeyError, TypeError, ValueError, AttributeError) as error:
        raise DataError(
            f"game {scheduled.game_id} is not in the feed's shape ({error!r}); expected home, "
            "away, drives and scrsummary. Leave the game out or fetch its file again."
        ) from error
    score = RunningScore(events)
    plays = list(_plays(entries, kinds, scheduled=scheduled, clubs=clubs, score=score))
    if not plays:
        raise DataError(f"game {scheduled.game_id} holds no play; leave it out")
    agrees = all(score.points(club) == total for club, total in totals.items())
    return ParsedGame(
        plays=with_possessions(without_restatements(plays)), final_score_agrees=agrees
    )


def _plays(
    entries: Sequence[Entry],
    kinds: Sequence[str],
    *,
    scheduled: ScheduledGame,
    clubs: tuple[str, str],
    score: RunningScore,
) -> Iterator[Play]:
    """Yield the canonical plays and count the score up to the end of the game."""
    index, clock = 0, (0, QUARTER_S)
    for entry, kind in zip(entries, kinds, strict=True):
        if kind:
            clock = (entry.quarter, _clock_after(clock, entry))
            offense = _offense(entry, clubs)
            defense = clubs[1] if offense == clubs[0] else clubs[0]
            frame = Frame(
                scheduled=scheduled,
                clubs=clubs,
                offense=offense,
                defense=defense,
                index=index,
                clock_s=clock[1],
                score_diff=score.difference(offense, defense),
                scored=score.of(entry.play_id),
            )
            yield play_of(entry, kind, frame)
            index += 1
        score.after(entry.play_id)


def _clock_after(before: tuple[int, int], entry: Entry) -> int:
    """Return the entry's clock; where it has none, the last one of the quarter."""
    if entry.clock_s is not None:
        return min(entry.clock_s, QUARTER_S)
    return before[1] if before[0] == entry.quarter else QUARTER_S


def _offense(entry: Entry, clubs: tuple[str, str]) -> str:
    """Return the club that snapped or kicked: by the statistics, else by `posteam`."""
    booked = entry.club_of(_OFFENSE_CODES)
    return next((club for club in (booked, entry.club) if club in clubs), clubs[0])
