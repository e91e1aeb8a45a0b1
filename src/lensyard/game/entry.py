"""What a game log holds: a game and what it was played with, its plays, and their captures.

`lensyard.game.fields` reads these declarations: storage, export, import and checks all follow them.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import datetime, tzinfo
from enum import StrEnum
from typing import Annotated, Final

from lensyard.domain.assignment import Assignment, Faces, assignment_for
from lensyard.domain.field import FIELD_WIDTH_YD, HashMark
from lensyard.domain.kit import DEMO_KIT, Kit, kit_of
from lensyard.domain.situation import Situation
from lensyard.domain.venue import Venue, standard_venue
from lensyard.errors import InvalidInputError, LensyardError, UnknownNameError
from lensyard.game.fields import Rule, check_fields, require_keys
from lensyard.records import Record
from lensyard.units import SECONDS_PER_QUARTER

_GAME_ID: Final = re.compile(r"[a-z0-9][a-z0-9-]{0,63}")
_COUNT: Final = Rule(0, 5000)
_NEW: Final = Rule(since=2)
_SINCE_3: Final = Rule(since=3)

LOG_SCHEMA_VERSION: Final = 3
"""Raised whenever a field of an entry is added or changes meaning; stores are migrated then.

1. games, plays and the history of changes.
2. captures; air yards, the side a play ended on, the last play of a quarter, frames ticked outside
   of plays, the time zone, and where an imported play comes from.
3. where the ball is after a play, and whether a new series follows; more results of kicks, scores
   and turnovers.
"""


class Team(StrEnum):
    """Which of the two teams."""

    HOME = "home"
    AWAY = "away"

    @property
    def other(self) -> Team:
        """The other team."""
        return Team.AWAY if self is Team.HOME else Team.HOME


class Result(StrEnum):
    """What a play turned into; on a try a field goal is the kick, and a gain goes for two."""

    GAIN = "gain"
    RUN = "run"
    COMPLETE = "complete"
    INCOMPLETE = "incomplete"
    SACK = "sack"
    SCRAMBLE = "scramble"
    INTERCEPTION = "interception"
    FUMBLE = "fumble"
    KICK = "kick"
    KICK_KEPT = "kick-kept"
    FIELD_GOAL = "field-goal"
    MISSED = "missed"
    SAFETY = "safety"
    NO_PLAY = "no-play"


FARTHEST_TRY_YD: Final = 35
"""Up to here, with a penalty or two, a play without a down may be a try. [yd]"""
_NEED_A_DOWN: Final = frozenset(Result) - {Result.KICK, Result.KICK_KEPT, Result.NO_PLAY}


def _require_direction(**values: int) -> None:
    for name, value in values.items():
        if value not in (1, -1):
            raise InvalidInputError(f"{name} must be 1 (toward end B) or -1; got {value}")


class Game(Record):
    """One game as the photographer set it up.

    - ``game_id``: lower-case letters, digits and hyphens.
    - ``home``, ``away``: what the photographer calls the teams.
    - ``season``: the year the season began in.
    - ``venue``, ``rules``, ``team_area``: a venue's name or file; where there is none, the rule set
      and the yard line from which the team areas are closed.
    - ``assignment``, ``faces``: an assignment's name or file; where there is none, whose faces
      count.
    - ``home_direction``: where the home team attacks in the first quarter: +1 toward end B, -1
      toward end A.
    - ``time_zone``: of the venue's clock, a name of the IANA database; empty when not known.
    - ``started_at``, ``ended_at``: when the log was started and ended (UTC).
    - ``ticks``: frames ticked outside of plays.
    """

    game_id: str
    home: str
    away: str
    season: Annotated[int, Rule(1900, 2200)]
    started_at: datetime
    venue: str = ""
    rules: str = "pro"
    team_area: float | None = None
    assignment: str = ""
    faces: str = "offense"
    lenses: tuple[str, ...] = ()
    crop_factors: tuple[float, ...] = ()
    bodies: int | None = None
    converter: float = 1.0
    home_direction: int = 1
    time_zone: Annotated[str, _NEW] = ""
    ended_at: datetime | None = None
    ticks: Annotated[tuple[str, ...], _NEW] = ()

    def __post_init__(self) -> None:
        """Refuse what is no game."""
        if not _GAME_ID.fullmatch(self.game_id):
            raise InvalidInputError(
                "a game's id is 1 to 64 lower-case letters, digits and hyphens, such as "
                f"week-3-otters; got {self.game_id[:80]!r}"
            )
        check_fields(self)
        if not self.home.strip() or not self.away.strip():
            raise InvalidInputError("both teams need a name; give --home and --away")
        _require_direction(home_direction=self.home_direction)
        require_keys("ticks", self.ticks)

    @property
    def title(self) -> str:
        """The game in words."""
        return f"{self.away} at {self.home}"

    def zone(self) -> tzinfo | None:
        """Return the time zone of the game's clock; None where only this machine's is known."""
        from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

        if not self.time_zone:
            return None
        try:
            return ZoneInfo(self.time_zone)
        except (ZoneInfoNotFoundError, ValueError, OSError):
            return None

    def direction_of(self, team: Team, *, quarter: int) -> int:
        """Return where a team attacks in a quarter; teams change ends after odd quarters."""
        home = -self.home_direction if quarter in (2, 4) else self.home_direction
        return home if team is Team.HOME else -home

    def team_going(self, direction: int, *, quarter: int) -> Team:
        """Return the team that attacks in a direction in a quarter."""
        home = self.direction_of(Team.HOME, quarter=quarter)
        return Team.HOME if direction == home else Team.AWAY


def current_game(games: Sequence[Game], *, game_id: str = "") -> Game:
    """Return the game of an id; without one the game going on, else the last.

    Raises `UnknownNameError` if there is no such game; `InvalidInputError` if there is no game at
    all, and none was named.
    """
    if game_id:
        known = {game.game_id: game for game in games}
        if game_id not in known:
            names = list(known) or ["(no game has been started)"]
            raise UnknownNameError(name="game", value=game_id, known=names)
        return known[game_id]
    if not games:
        raise InvalidInputError(
            "no game has been started; start one with `lensyard log start --home NAME --away "
            "NAME`, or put in the invented one with `lensyard demo`"
        )
    going_on = [game for game in games if game.ended_at is None]
    return (going_on or list(games))[-1]


class LoggedPlay(Record):
    """One play as logged.

    - ``number``: from 1, in the order of logging.
    - ``logged_at``, ``snap_at``: when it was logged, and when it was snapped where that is known
      (UTC).
    - ``quarter``, ``clock_s``: 1 to 5; left in the quarter where it was noted. [s]
    - ``offense``, ``direction``: who has the ball, and where they attack: +1 toward end B, -1
      toward end A.
    - ``down``, ``distance_yd``, ``yardline_100``, ``hash_mark``, ``score_diff``: the situation; a
      kickoff has no down, and the hash mark is None where nobody said. [yd]
    - ``spot``: where the photographer stood, as text for `parse_standing`; empty when not noted.
    - ``result``, ``gain_yd``, ``air_yd``, ``end_y_yd``, ``touchdown``, ``out_of_bounds``: what
      happened: the gain, where an incompletion came down past the line of scrimmage, and where
      across the field the play ended, from the offense's right sideline. [yd]
    - ``end_yardline_100``, ``first_down``: where the ball was when the play was over, seen by this
      play's offense (0 and 100 are the goal lines and all beyond; None follows from the result),
      and whether a new series began whatever was gained, as after some penalties. [yd]
    - ``frames``, ``keepers``: how many frames were shot and how many were kept; None when not
      noted.
    - ``ticks``: frames of the shot list that this play brought.
    - ``ends_quarter``: whether it was the last play of its quarter.
    - ``source``: where it was imported from; empty when logged here.
    """

    number: Annotated[int, Rule(1, 9999)]
    logged_at: datetime
    quarter: Annotated[int, Rule(1, 5)]
    offense: Team
    yardline_100: Annotated[int, Rule(1, 99)]
    snap_at: datetime | None = None
    clock_s: Annotated[float | None, Rule(0, SECONDS_PER_QUARTER)] = None
    direction: int = 1
    down: Annotated[int | None, Rule(1, 4)] = None
    distance_yd: Annotated[int | None, Rule(1, 99)] = None
    hash_mark: HashMark | None = None
    score_diff: Annotated[int, Rule(-99, 99)] = 0
    changed_hands: bool = False
    spot: str = ""
    result: Result | None = None
    gain_yd: Annotated[int | None, Rule(-60, 99)] = None
    air_yd: Annotated[int | None, Rule(-20, 80, since=2)] = None
    end_y_yd: Annotated[float | None, Rule(0, FIELD_WIDTH_YD, since=2)] = None
    touchdown: bool = False
    out_of_bounds: bool = False
    end_yardline_100: Annotated[int | None, Rule(0, 100, since=3)] = None
    first_down: Annotated[bool, _SINCE_3] = False
    frames: Annotated[int | None, _COUNT] = None
    keepers: Annotated[int | None, _COUNT] = None
    ticks: tuple[str, ...] = ()
    ends_quarter: Annotated[bool, _NEW] = False
    note: str = ""
    source: Annotated[str, _NEW] = ""

    def __post_init__(self) -> None:
        """Refuse what cannot have happened."""
        check_fields(self)
        _require_direction(direction=self.direction)
        require_keys("ticks", self.ticks)
        if self.down is not None or self.distance_yd is not None:
            if self.down is None or self.distance_yd is None:
                raise InvalidInputError("down and distance_yd belong together; give both")
            self.situation()
        elif self.result in _NEED_A_DOWN and self.yardline_100 > FARTHEST_TRY_YD:
            raise InvalidInputError(
                f"a play with result {self.result} needs a down and a distance; only a kick, a try "
                "or a no-play has none"
            )
        if self.result is Result.SACK and (self.gain_yd or 0) > 0:
            raise InvalidInputError(
                f"a sack gains nothing: gain_yd is {self.gain_yd}; give what was lost, such as -8"
            )
        if self.gain_yd is not None and self.gain_yd > self.yardline_100:
            raise InvalidInputError(
                f"gain_yd is {self.gain_yd}, but the goal line was only {self.yardline_100} yd "
                f"away; a touchdown gains {self.yardline_100}"
            )
        if None not in (self.frames, self.keepers) and (self.keepers or 0) > (self.frames or 0):
            raise InvalidInputError(
                f"keepers is {self.keepers}, but only {self.frames} frames were shot; "
                "keepers are part of the frames"
            )

    def situation(self) -> Situation | None:
        """Return the situation at the snap; None for a play without a down."""
        if self.down is None or self.distance_yd is None:
            return None
        return Situation(
            down=self.down,
            distance_yd=self.distance_yd,
            yardline_100=self.yardline_100,
            hash_mark=self.hash_mark,
            score_diff=self.score_diff,
            quarter=self.quarter,
            clock_s=SECONDS_PER_QUARTER / 2 if self.clock_s is None else self.clock_s,
        )


class Capture(Record):
    """One photograph, by its times.

    ``file``: its path inside the folder it was read from, or as the table named it.
    ``captured_at``, ``corrected_at``: what the camera says, and that with its clock corrected
    (UTC). ``body``, ``focal_length_mm``: which camera, and the marked focal length. [mm] ``play``:
    the number of the play it was made of; None between plays. ``keeper``: whether it was rated as
    kept; None when not known.
    """

    file: Annotated[str, Rule(since=2, longest=0)]
    captured_at: Annotated[datetime, _NEW]
    corrected_at: Annotated[datetime, _NEW]
    body: Annotated[str, Rule(since=2, longest=0)] = ""
    focal_length_mm: Annotated[float | None, Rule(0, 10000, since=2)] = None
    play: Annotated[int | None, _NEW] = None
    keeper: Annotated[bool | None, _NEW] = None

    def __post_init__(self) -> None:
        """Refuse what no camera writes."""
        check_fields(self)


class GameSetup(Record):
    """What a logged game was played with.

    ``warning`` says why the assignment cannot be read any more, where it cannot; the assignment is
    then the usual one for whose faces count.
    """

    venue: Venue
    kit: Kit
    assignment: Assignment
    warning: str


def game_setup_of(game: Game) -> GameSetup:
    """Return venue, kit and assignment of a game.

    Raises `InvalidInputError` if its venue cannot be read any more.
    """
    if game.venue:
        from lensyard.settings.files import load_venue

        venue = load_venue(game.venue)
    else:
        venue = standard_venue(game.rules, team_area_from_yard_line=game.team_area)
    kit = DEMO_KIT
    if game.lenses:
        kit = kit_of(
            list(game.lenses),
            crop_factors=list(game.crop_factors) or None,
            bodies=game.bodies,
            converter=game.converter,
        )
    assignment, warning = assignment_of(game)
    return GameSetup(venue, kit, assignment, warning)


def assignment_of(game: Game) -> tuple[Assignment, str]:
    """Return the assignment of a game, and a warning where it cannot be read any more."""
    usual = assignment_for(Faces(game.faces))
    if not game.assignment:
        return usual, ""
    # Imported here: the reader of settings files takes longer to import than a play takes to log.
    from lensyard.settings.files import load_assignment

    try:
        return load_assignment(game.assignment), ""
    except LensyardError as error:
        return usual, f"The assignment cannot be read, so nothing is known of must-haves: {error}."
