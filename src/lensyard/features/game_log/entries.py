"""From what a person types, between two plays or as a game starts, to a play or a game of the log.

`PlayEntry` declares what may be typed: its choices take their limits from `LoggedPlay`.
"""

from __future__ import annotations

import re
from dataclasses import fields, replace
from datetime import datetime, timedelta, tzinfo
from pathlib import Path
from typing import Any, Final

from lensyard.domain.assignment import Faces
from lensyard.domain.field import Direction, HashMark
from lensyard.domain.perimeter import perimeter_of
from lensyard.domain.places import (
    parse_lane_yd,
    parse_standing,
    plain_standing,
    standing_text,
    turned_standing,
)
from lensyard.domain.situation import parse_ball, parse_clock
from lensyard.errors import InvalidInputError, ParseError, UnknownNameError
from lensyard.game.course import state_after
from lensyard.game.document import GameLog
from lensyard.game.entry import Game, LoggedPlay, Result, Team, game_setup_of
from lensyard.game.fields import fields_of, parse_time
from lensyard.game.state import MOVES, TAKEN, GameState, Phase, start_of
from lensyard.options.choices import Kind, OneOf, Switch, Text, Texts, choice, parts_of, whole
from lensyard.options.groups import AssignmentOptions, LensOptions, VenueOptions
from lensyard.records import Record

SAME: Final = "same"
_LOCAL_TIME: Final = re.compile(r"\s*(\d{1,2}):([0-5]\d)(?::([0-5]\d(?:\.\d+)?))?\s*")
_AHEAD_OK_S: Final = 120.0


def _typed(name: str, text: str, kind: Kind | str) -> Any:
    """Return a field that may be left out: its flag, its help, and its kind.

    In place of a kind a field of `LoggedPlay` may be named, whose limits or closed set it has.
    """
    if isinstance(kind, Kind):
        return choice(None, kind, name, "", text)
    spec = next(spec for spec in fields_of(LoggedPlay) if spec.name == kind)
    if spec.choices:
        return _typed(name, text, OneOf(spec.choices, spec.type))
    if spec.kind == "bool":
        return _typed(name, text, Switch("no", "yes", is_flag=True))
    return _typed(name, text, whole(int(spec.rule.low or 0), int(spec.rule.high or 0)))


def parse_direction(text: str) -> int:
    """Return the direction of attack of an end's letter: +1 toward B, -1 toward A."""
    end = text.strip().upper().removeprefix("END ")
    if end not in ("A", "B"):
        raise UnknownNameError(name="attacking", value=text, known=("A", "B"))
    return 1 if end == "B" else -1


def parse_spot(text: str) -> str:
    """Return where one stood in its shortest form; ``same`` stays what it is.

    So does a place by the venue's own names, which `spot_of` reads.
    """
    word = text.strip()
    if word.lower() == SAME:
        return SAME
    try:
        return plain_standing(word)
    except ParseError:
        if not word or "," not in word:
            raise
        return word


def spot_of(text: str, game: Game, direction: int) -> str:
    """Return a spot in its shortest form, also of a place by the names of the game's venue.

    Raises `ParseError` if neither names it.
    """
    try:
        return plain_standing(text)
    except ParseError:
        venue, way = game_setup_of(game).venue, Direction(direction)
        perimeter = perimeter_of(venue, step_yd=1.0)
        station = parse_standing(text, perimeter, way)
        x, y = (float(axis[station]) for axis in perimeter.play_xy_yd(way))
        return standing_text(x_yd=x, y_yd=y, venue=venue)


def parse_end(text: str) -> int:
    """Return where a ball is after a play, 0 to 100: a spot, or one of the goal lines.

    >>> parse_end("opp35"), parse_end("goal"), parse_end("own-goal")
    (35, 0, 100)
    """
    goals = {"goal": 0, "own-goal": 100}
    word = text.strip().lower()
    return goals[word] if word in goals else parse_ball(text)


class PlayEntry(Record):
    """A play as typed, by the fields of `LoggedPlay`; None is what was not said.

    ``spot`` may be ``same``: the same place in the stadium as on the play before. ``at`` is when it
    was snapped: local time such as ``14:05:33``, or ISO 8601 with its offset. ``ticks`` are keys of
    frames between commas. What follows from the play before is left to `play_of`.
    """

    yardline_100: int | None = _typed(
        "ball",
        "own20, 50 or opp35. Default, with down and distance: from the play before.",
        Text(parse_ball),
    )
    down: int | None = _typed("down", "1 to 4; none on a kickoff or a try.", "down")
    distance_yd: int | None = _typed(
        "distance", "Yards to the line to gain. Default: 10, or the goal.", "distance_yd"
    )
    hash_mark: HashMark | None = _typed("hash", "As the offense sees it.", "hash_mark")
    spot: str | None = _typed(
        "spot",
        "Where you stood: left:opp20, end:left12, a place as the venue names it, or same.",
        Text(parse_spot),
    )
    result: Result | None = _typed("result", "What happened.", "result")
    gain_yd: int | None = _typed("gain", "Yards gained or lost.", "gain_yd")
    end_yardline_100: int | None = _typed(
        "to",
        "Where the ball is now, as the team sees it that snapped or kicked: own25, 50, opp35, goal "
        "or own-goal.",
        Text(parse_end),
    )
    first_down: bool | None = _typed(
        "first-down/--no-first-down", "Whether a flag gave a new series.", "first_down"
    )
    air_yd: int | None = _typed("air", "Where an incompletion came down.", "air_yd")
    end_y_yd: float | None = _typed(
        "ended",
        "Across the field: left-sideline, left, middle, right, right-sideline (the offense's), or "
        "yards from its right sideline.",
        Text(parse_lane_yd),
    )
    touchdown: bool | None = _typed("touchdown/--no-touchdown", "Whether it scored.", "touchdown")
    out_of_bounds: bool | None = _typed(
        "out/--in-bounds", "Whether it went out of bounds.", "out_of_bounds"
    )
    frames: int | None = _typed("frames", "How many you shot.", "frames")
    keepers: int | None = _typed("keepers", "How many you keep.", "keepers")
    ticks: str = choice(
        "", Texts(parts_of, ","), "tick", "", "A must-have that it brought. Repeat for more."
    )
    quarter: int | None = _typed(
        "quarter",
        "1 to 4; 5 is overtime. Default: as before, or the next where that play ended it.",
        "quarter",
    )
    clock_s: float | None = _typed("clock", "Left in the quarter, 5:30.", Text(parse_clock))
    score_diff: int | None = _typed("score", "Offense's points less defense's.", "score_diff")
    offense: Team | None = _typed(
        "offense",
        "Who has the ball. Default: as before, or the other where the ball changed hands.",
        "offense",
    )
    direction: int | None = _typed(
        "attacking",
        "The end the offense attacks: A or B. Default: from the first quarter's.",
        Text(parse_direction),
    )
    changed_hands: bool | None = _typed(
        "ball-changed-hands/--same-offense",
        "Whether the ball changed hands before it. Default: where the offense is another one.",
        "changed_hands",
    )
    at: str | None = _typed("at", "When it was snapped: 14:05:33. Better capture matching.", Text())
    ends_quarter: bool | None = _typed(
        "end-of-quarter/--no-end-of-quarter",
        "Whether it was the last play of its quarter.",
        "ends_quarter",
    )
    note: str | None = _typed("note", "Anything else.", Text(str))

    def ticked(self) -> tuple[str, ...]:
        """Return the keys of the frames, each once."""
        return tuple(dict.fromkeys(parts_of(self.ticks)))


def play_of(entry: PlayEntry, log: GameLog, *, now: datetime) -> LoggedPlay:
    """Return the next play of a log.

    ``entry``, ``log``: what was typed, after what went before. ``now``: when it is logged (UTC).

    Raises `InvalidInputError` if something is missing, or cannot have happened.
    """
    last = log.plays[-1] if log.plays else None
    state = state_after(log.game, log.plays)
    if state is not None and last is None and entry.offense is not None:
        state = start_of(log.game, kicking=entry.offense)
    if state is not None:
        entry = _followed(entry, state)
    if entry.yardline_100 is None:
        raise InvalidInputError(
            "a play needs the spot of the ball, since nobody said what the play before became; "
            "give --ball own20, 50 or opp35"
        )
    values = _said_values(entry, now=now, zone=log.game.zone())
    quarter = values.pop("quarter", _quarter(last))
    offense = values.pop("offense", _offense(last, entry, state))
    direction = values.pop("direction", _direction(log, offense, quarter))
    if entry.offense is None and entry.direction is not None and last is None:
        offense = log.game.team_going(direction, quarter=quarter)
    if entry.spot == SAME:
        values["spot"] = _same_spot(last, direction)
    elif entry.spot:
        values["spot"] = spot_of(entry.spot, log.game, direction)
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


def _followed(entry: PlayEntry, state: GameState) -> PlayEntry:
    """Return what was typed, with the situation that follows where none was; and the score."""
    if state.phase is Phase.OVER and entry.yardline_100 is None:
        raise InvalidInputError("the game is over; take back the last play, or end the log")
    same_team = entry.offense in (None, state.offense) and not entry.changed_hands
    follows: dict[str, Any] = {}
    if entry.yardline_100 is None and entry.down is None and same_team:
        follows = {"yardline_100": state.yardline_100, "down": state.down}
        if entry.distance_yd is None:
            follows["distance_yd"] = state.distance_yd
    if entry.score_diff is None:
        theirs = entry.offense not in (None, state.offense) or bool(entry.changed_hands)
        follows["score_diff"] = -state.score_diff if theirs else state.score_diff
    return replace(entry, **follows)


def _said_values(entry: PlayEntry, *, now: datetime, zone: tzinfo | None) -> dict[str, Any]:
    """Return the fields of `LoggedPlay` that were said, by name."""
    values = {one.name: getattr(entry, one.name) for one in fields(entry)}
    values["ticks"] = entry.ticked() or None
    at = values.pop("at")
    values["snap_at"] = None if at is None else parse_moment(at, now=now, zone=zone)
    ball = entry.yardline_100
    if ball is not None and entry.down is not None and entry.distance_yd is None:
        values["distance_yd"] = min(10, ball)
    if entry.touchdown and entry.gain_yd is None and entry.result not in TAKEN:
        values["gain_yd"] = ball
    end = entry.end_yardline_100
    if end is not None and ball is not None and entry.gain_yd is None and entry.result in MOVES:
        values["gain_yd"] = ball - end
        if end == 0 and entry.touchdown is None:
            values["touchdown"] = True
    return {name: value for name, value in values.items() if value is not None}


def edit_values(
    entry: PlayEntry, before: LoggedPlay, *, now: datetime, game: Game
) -> dict[str, Any]:
    """Return what an edit changes of a play."""
    if entry.spot == SAME:
        raise InvalidInputError("an edit needs the spot itself, such as --spot left:opp20")
    values = _said_values(entry, now=now, zone=game.zone())
    if entry.direction is None and values.get("offense", before.offense) is not before.offense:
        values["direction"] = -before.direction
    if entry.spot:
        direction = values.get("direction", before.direction)
        values["spot"] = spot_of(entry.spot, game, direction)
    if entry.ticks:
        values["ticks"] = tuple(dict.fromkeys([*before.ticks, *entry.ticked()]))
    return values


def _quarter(last: LoggedPlay | None) -> int:
    if last is None:
        return 1
    return min(last.quarter + 1, 5) if last.ends_quarter else last.quarter


def _offense(last: LoggedPlay | None, entry: PlayEntry, state: GameState | None) -> Team:
    if state is not None and entry.changed_hands is None:
        return state.offense
    if last is None:
        return Team.HOME
    return last.offense.other if entry.changed_hands else last.offense


def _direction(log: GameLog, offense: Team, quarter: int) -> int:
    """Where a team attacks: as earlier in the quarter, else by the first quarter's direction."""
    for play in reversed(log.plays):
        if play.quarter == quarter:
            return play.direction if play.offense is offense else -play.direction
    return log.game.direction_of(offense, quarter=quarter)


def _same_spot(last: LoggedPlay | None, direction: int) -> str:
    if last is None or not last.spot:
        raise InvalidInputError(
            "the play before has no spot that this one could share; give --spot left:opp20"
        )
    return last.spot if last.direction == direction else turned_standing(last.spot)


def parse_moment(text: str, *, now: datetime, zone: tzinfo | None) -> datetime:
    """Return the moment of a local time of day, or of an ISO 8601 time with its offset (UTC).

    A time of day is the last one that has been: shortly after midnight, 23:50 was yesterday.

    Raises `ParseError` if it is neither.
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


class NewGameOptions(Record):
    """A game to log: its teams, and what it is called."""

    home: str = choice("", Text(), "home", "", "What you call the home team.", required=True)
    away: str = choice("", Text(), "away", "", "What you call the visitors.", required=True)
    game_id: str | None = choice(None, Text(), "id", "", "The game's id. Default: day and teams.")
    season: int | None = choice(None, whole(1900, 2200), "season", "", "Default: this one.")
    home_attacks: str = choice(
        "B",
        OneOf(("A", "B")),
        "home-attacks",
        "",
        "The end that the home team attacks in the first quarter.",
    )

    beside: bool = choice(
        False,
        Switch("no", "yes", is_flag=True),
        "new",
        "",
        "Start it although another game is going on.",
    )

    def id_on(self, now: datetime) -> str:
        """Return the id; one of the day and the teams where none was said."""
        words = re.sub(r"[^a-z0-9]+", "-", f"{self.away}-{self.home}".lower()).strip("-")
        return self.game_id or f"{now.astimezone():%Y-%m-%d}-{words}"[:64].rstrip("-")

    def season_on(self, now: datetime) -> int:
        """Return the season; a game in January or February belongs to the year before."""
        return self.season or (now.year if now.month > 2 else now.year - 1)


def game_of(
    new: NewGameOptions,
    *,
    venue: VenueOptions,
    assignment: AssignmentOptions,
    lenses: LensOptions | None,
    now: datetime,
) -> Game:
    """Return a game to log, with everything in it tried once; without lenses it has the demo kit.

    Raises `InvalidInputError` if venue, assignment or kit cannot be used.
    """
    place = venue.venue()
    assignment.assignment()
    kit: dict[str, Any] = {}
    if lenses is not None:
        lenses.kit()
        factors = parts_of(lenses.crop_factors)
        kit = {
            "lenses": tuple(parts_of(lenses.lenses)),
            "crop_factors": () if factors == ["1"] else tuple(map(float, factors)),
            "bodies": lenses.bodies,
            "converter": lenses.converter,
        }
    return Game(
        game_id=new.id_on(now),
        home=new.home,
        away=new.away,
        season=new.season_on(now),
        started_at=now,
        venue=_whole_path(venue.venue_name),
        rules=place.rules.name,
        team_area=None if venue.venue_name else venue.team_area,
        assignment=_whole_path(assignment.assignment_name),
        faces=(assignment.faces or Faces.OFFENSE).value,
        home_direction=1 if new.home_attacks == "B" else -1,
        time_zone=place.time_zone if venue.venue_name and place.has_place else "",
        **kit,
    )


def _whole_path(name: str) -> str:
    """A path is kept whole, so that the log works from any folder."""
    return str(Path(name).expanduser().resolve()) if name.lower().endswith(".toml") else name
