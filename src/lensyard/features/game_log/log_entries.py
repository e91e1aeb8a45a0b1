"""From what a person types between two plays to a play of the log."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import datetime, timedelta, tzinfo
from typing import Any, Final

from lensyard.domain.field import HashMark
from lensyard.domain.places import parse_lane_yd, plain_standing, turned_standing
from lensyard.domain.situation import parse_ball, parse_clock
from lensyard.errors import InvalidInputError, ParseError, UnknownNameError
from lensyard.game.card_entries import home_direction, offense_going
from lensyard.game.document import GameLog
from lensyard.game.entry import Game, LoggedPlay, Result, Team
from lensyard.game.entry_values import parse_time

SAME: Final = "same"
_LOCAL_TIME: Final = re.compile(r"\s*(\d{1,2}):([0-5]\d)(?::([0-5]\d(?:\.\d+)?))?\s*")
_AHEAD_OK_S: Final = 120.0


@dataclass(frozen=True, slots=True)
class PlayEntry:
    """A play as typed; None is what was not said.

    Attributes
    ----------
    ball
        ``own20``, ``50``, ``opp35``.
    down, distance_yd
        Distance: 10, or goal to go, where only a down is given. [yd]
    hash_mark, score_diff, clock
        ``left``, ``middle``, ``right``; offense less defense; ``5:30``.
    quarter
        The quarter of the play before where it is not given, or the next one if that play ended it.
    offense
        ``home`` or ``away``; the offense of the play before, or the other one if the ball changed
        hands.
    attacking
        ``A`` or ``B`` where the offense attacks; from the first quarter's direction otherwise.
    changed_hands
        Whether the ball changed hands before this play.
    spot
        Where one stood: ``left:opp20``; ``same`` is the same ground as on the play before.
    result, gain_yd, air_yd, ended, touchdown, out_of_bounds
        What happened. ``ended`` is text for `parse_lane_yd`. [yd]
    frames, keepers, ticks
        How many, how many kept, and frames of the shot list that it brought.
    at
        When it was snapped: local time such as ``14:05:33``, or ISO 8601 with its offset.
    ends_quarter, note
        Whether the quarter is over after it; anything else.
    """

    ball: str | None = None
    down: int | None = None
    distance_yd: int | None = None
    hash_mark: str | None = None
    score_diff: int | None = None
    clock: str | None = None
    quarter: int | None = None
    offense: str | None = None
    attacking: str | None = None
    changed_hands: bool | None = None
    spot: str | None = None
    result: str | None = None
    gain_yd: int | None = None
    air_yd: int | None = None
    ended: str | None = None
    touchdown: bool | None = None
    out_of_bounds: bool | None = None
    frames: int | None = None
    keepers: int | None = None
    ticks: tuple[str, ...] = ()
    at: str | None = None
    ends_quarter: bool | None = None
    note: str | None = None


def play_of(entry: PlayEntry, log: GameLog, *, now: datetime, zone: tzinfo | None) -> LoggedPlay:
    """Return the next play of a log.

    Parameters
    ----------
    entry, log
        What was typed, after what went before.
    now
        When it is logged (UTC).
    zone
        Of the game's clock, for ``at``; None is this machine's.

    Raises
    ------
    InvalidInputError
        If something cannot be read, is missing, or cannot have happened.
    """
    if entry.ball is None:
        raise InvalidInputError("a play needs the spot of the ball; give --ball own20, 50 or opp35")
    last = log.plays[-1] if log.plays else None
    values = field_values(entry, now=now, zone=zone)
    quarter = values.pop("quarter", _quarter(last))
    offense = values.pop("offense", None) or _offense(last, entry)
    direction = _direction(entry.attacking) or _direction_of(log, offense, quarter)
    if entry.offense is None and entry.attacking is not None and last is None:
        offense = offense_going(log.game, direction=direction, quarter=quarter)
    if entry.spot is not None and entry.spot.strip().lower() == SAME:
        values["spot"] = _same_ground(last, direction)
    changed = values.pop("changed_hands", last is not None and last.offense is not offense)
    return LoggedPlay(
        number=1 if last is None else last.number + 1,
        logged_at=now,
        quarter=quarter,
        offense=offense,
        direction=direction,
        changed_hands=changed,
        **values,
    )


def field_values(entry: PlayEntry, *, now: datetime, zone: tzinfo | None) -> dict[str, Any]:
    """Return the fields of `LoggedPlay` that were said, by name; for `add` and for `edit`."""
    values: dict[str, Any] = {
        name: getattr(entry, name)
        for name in (
            "down", "distance_yd", "score_diff", "quarter", "changed_hands", "gain_yd", "air_yd",
            "touchdown", "out_of_bounds", "frames", "keepers", "ends_quarter", "note",
        )
        if getattr(entry, name) is not None
    }  # fmt: skip
    if entry.ball is not None:
        values["yardline_100"] = parse_ball(entry.ball)
        if entry.down is not None and entry.distance_yd is None:
            values["distance_yd"] = min(10, values["yardline_100"])
        if entry.touchdown and entry.gain_yd is None and entry.result != Result.INTERCEPTION:
            values["gain_yd"] = values["yardline_100"]
    if entry.hash_mark is not None:
        values["hash_mark"] = _one_of("hash", entry.hash_mark, HashMark)
    if entry.offense is not None:
        values["offense"] = _one_of("offense", entry.offense, Team)
    if entry.result is not None:
        values["result"] = _one_of("result", entry.result, Result)
    if entry.clock is not None:
        values["clock_s"] = parse_clock(entry.clock)
    if entry.ended is not None:
        values["end_y_yd"] = parse_lane_yd(entry.ended)
    if entry.spot is not None and entry.spot.strip().lower() != SAME:
        values["spot"] = plain_standing(entry.spot)
    if entry.ticks:
        values["ticks"] = tuple(dict.fromkeys(entry.ticks))
    if entry.at is not None:
        values["snap_at"] = parse_moment(entry.at, now=now, zone=zone)
    return values


def edit_values(
    entry: PlayEntry, before: LoggedPlay, *, now: datetime, zone: tzinfo | None
) -> dict[str, Any]:
    """Return what an edit changes of a play."""
    if entry.spot is not None and entry.spot.strip().lower() == SAME:
        raise InvalidInputError("an edit needs the spot itself, such as --spot left:opp20")
    values = field_values(entry, now=now, zone=zone)
    direction = _direction(entry.attacking)
    if direction is not None:
        values["direction"] = direction
    elif "offense" in values and values["offense"] is not before.offense:
        values["direction"] = -before.direction
    if entry.ticks:
        values["ticks"] = tuple(dict.fromkeys([*before.ticks, *entry.ticks]))
    return values


def _quarter(last: LoggedPlay | None) -> int:
    if last is None:
        return 1
    return min(last.quarter + 1, 5) if last.ends_quarter else last.quarter


def _offense(last: LoggedPlay | None, entry: PlayEntry) -> Team:
    if last is None:
        return Team.HOME
    return last.offense.other if entry.changed_hands else last.offense


def _direction(attacking: str | None) -> int | None:
    if attacking is None:
        return None
    said = attacking.strip().upper().removeprefix("END ")
    if said not in ("A", "B"):
        raise UnknownNameError(name="attacking", value=attacking, known=("A", "B"))
    return 1 if said == "B" else -1


def _direction_of(log: GameLog, offense: Team, quarter: int) -> int:
    """Where a team attacks: as earlier in the quarter, else by the first quarter's direction."""
    for play in reversed(log.plays):
        if play.quarter == quarter:
            return play.direction if play.offense is offense else -play.direction
    home = home_direction(log.game, quarter=quarter)
    return home if offense is Team.HOME else -home


def _same_ground(last: LoggedPlay | None, direction: int) -> str:
    if last is None or not last.spot:
        raise InvalidInputError(
            "the play before has no spot that this one could share; give --spot left:opp20"
        )
    return last.spot if last.direction == direction else turned_standing(last.spot)


def _one_of(name: str, text: str, kind: Any) -> Any:
    said = text.strip().lower()
    if said not in tuple(kind):
        raise UnknownNameError(name=name, value=text, known=tuple(kind))
    return kind(said)


def parse_moment(text: str, *, now: datetime, zone: tzinfo | None) -> datetime:
    """Return the moment of a local time of day, or of an ISO 8601 time with its offset (UTC).

    A time of day is the last one that has been: shortly after midnight, 23:50 was yesterday.

    Raises
    ------
    ParseError
        If it is neither.
    """
    match = _LOCAL_TIME.fullmatch(text)
    if match is None or int(match[1]) > 23:
        if "T" in text.upper():
            return parse_time(text, name="at")
        raise ParseError(
            name="at", text=text, expected="local time such as 14:05:33, or ISO 8601 with offset"
        )
    seconds = float(match[3] or 0)
    local = now.astimezone(zone)
    moment = local.replace(
        hour=int(match[1]), minute=int(match[2]), second=int(seconds),
        microsecond=round(seconds % 1 * 1e6) % 1_000_000,
    )  # fmt: skip
    if moment > local + timedelta(seconds=_AHEAD_OK_S):
        moment -= timedelta(days=1)
    return moment.astimezone(now.tzinfo)


def zone_of_game(game: Game) -> tzinfo | None:
    """Return the time zone of a game's clock; None where only this machine's is known."""
    from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

    if not game.time_zone:
        return None
    try:
        return ZoneInfo(game.time_zone)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        return None
