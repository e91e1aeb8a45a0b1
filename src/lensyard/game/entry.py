"""What a game log holds: a game, its plays, and the captures that belong to it.

Each field has an entry in a table below: how it is stored, whether it may be missing, and since
which version of the log's schema it exists. Storage, export and import all read these tables.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from datetime import UTC, datetime
from enum import StrEnum
from typing import Final

from lensyard.domain.field import FIELD_WIDTH_YD, HashMark
from lensyard.domain.situation import Situation
from lensyard.errors import InvalidInputError, require_range
from lensyard.units import SECONDS_PER_QUARTER

GAME_ID: Final = re.compile(r"[a-z0-9][a-z0-9-]{0,63}")
LONGEST_TEXT: Final = 200
MOST_FRAMES: Final = 5000
_KEY: Final = re.compile(r"[a-z0-9]+(?:-[a-z0-9]+)*")


class Team(StrEnum):
    """Which of the two teams."""

    HOME = "home"
    AWAY = "away"

    @property
    def other(self) -> Team:
        """The other team."""
        return Team.AWAY if self is Team.HOME else Team.HOME


class Result(StrEnum):
    """What a play turned into."""

    RUN = "run"
    COMPLETE = "complete"
    INCOMPLETE = "incomplete"
    SACK = "sack"
    SCRAMBLE = "scramble"
    INTERCEPTION = "interception"
    KICK = "kick"
    NO_PLAY = "no-play"


def _require_text(**values: str) -> None:
    for name, value in values.items():
        if len(value) > LONGEST_TEXT or not value.isprintable():
            raise InvalidInputError(
                f"{name} must be at most {LONGEST_TEXT} printable characters on one line; "
                f"got {value[:60]!r}"
            )


def require_keys(name: str, keys: tuple[str, ...]) -> None:
    """Raise `InvalidInputError` unless each is a key of a frame, named once."""
    for key in keys:
        if not _KEY.fullmatch(key) or len(key) > LONGEST_TEXT:
            raise InvalidInputError(
                f"{name} must hold keys such as drop-back; got {key[:60]!r}. "
                "`lensyard log tick` lists the ones of the assignment"
            )
    if len(set(keys)) != len(keys):
        raise InvalidInputError(f"{name} names a frame twice: {', '.join(keys)}")


def require_utc(**values: datetime | None) -> None:
    """Raise `InvalidInputError` unless each time is missing or in UTC."""
    for name, value in values.items():
        if value is not None and value.utcoffset() != UTC.utcoffset(None):
            raise InvalidInputError(f"{name} must be a time in UTC; got {value.isoformat()}")


@dataclass(frozen=True, slots=True)
class Game:
    """One game as the photographer set it up.

    Attributes
    ----------
    game_id
        Lower-case letters, digits and hyphens.
    home, away
        What the photographer calls the teams.
    season
        The year the season began in.
    venue, rules, team_area
        A venue's name or file; where there is none, the rule set and the yard line from which the
        team areas are closed.
    assignment, faces
        An assignment's name or file; where there is none, whose faces count.
    lenses, crop_factors, bodies, converter
        The kit as typed.
    home_direction
        Where the home team attacks in the first quarter: +1 toward end B, -1 toward end A.
    time_zone
        Of the venue's clock, a name of the IANA database; empty when not known.
    started_at, ended_at
        When the log was started and ended (UTC).
    ticks
        Frames ticked outside of plays.
    """

    game_id: str
    home: str
    away: str
    season: int
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
    time_zone: str = ""
    ended_at: datetime | None = None
    ticks: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        """Refuse what is no game."""
        if not GAME_ID.fullmatch(self.game_id):
            raise InvalidInputError(
                "a game's id is 1 to 64 lower-case letters, digits and hyphens, such as "
                f"week-3-otters; got {self.game_id[:80]!r}"
            )
        _require_text(
            home=self.home,
            away=self.away,
            venue=self.venue,
            rules=self.rules,
            assignment=self.assignment,
            faces=self.faces,
            time_zone=self.time_zone,
        )
        if not self.home.strip() or not self.away.strip():
            raise InvalidInputError("both teams need a name; give --home and --away")
        require_range(low=1900, high=2200, season=self.season)
        if self.home_direction not in (1, -1):
            raise InvalidInputError(
                f"home_direction must be 1 (toward end B) or -1; got {self.home_direction}"
            )
        require_keys("ticks", self.ticks)
        require_utc(started_at=self.started_at, ended_at=self.ended_at)

    @property
    def title(self) -> str:
        """The game in words."""
        return f"{self.away} at {self.home}"


@dataclass(frozen=True, slots=True)
class LoggedPlay:
    """One play as logged.

    Attributes
    ----------
    number
        From 1, in the order of logging.
    logged_at, snap_at
        When it was logged, and when it was snapped where that is known (UTC).
    quarter, clock_s
        1 to 5; left in the quarter where it was noted. [s]
    offense, direction
        Who has the ball, and where they attack: +1 toward end B, -1 toward end A.
    down, distance_yd, yardline_100, hash_mark, score_diff
        The situation; a kickoff has no down, and the hash mark is None where nobody said. [yd]
    changed_hands
        Whether the ball changed hands before this play.
    spot
        Where the photographer stood, as text for `domain.places.parse_standing`; empty when not
        noted.
    result, gain_yd, air_yd, end_y_yd, touchdown, out_of_bounds
        What happened: the gain, where an incompletion came down past the line of scrimmage, and
        where across the field the play ended, from the offense's right sideline. [yd]
    frames, keepers
        How many frames were shot and how many were kept; None when not noted.
    ticks
        Frames of the shot list that this play brought.
    ends_quarter
        Whether it was the last play of its quarter.
    note
        Anything else.
    source
        Where it was imported from; empty when logged here.
    """

    number: int
    logged_at: datetime
    quarter: int
    offense: Team
    yardline_100: int
    snap_at: datetime | None = None
    clock_s: float | None = None
    direction: int = 1
    down: int | None = None
    distance_yd: int | None = None
    hash_mark: HashMark | None = None
    score_diff: int = 0
    changed_hands: bool = False
    spot: str = ""
    result: Result | None = None
    gain_yd: int | None = None
    air_yd: int | None = None
    end_y_yd: float | None = None
    touchdown: bool = False
    out_of_bounds: bool = False
    frames: int | None = None
    keepers: int | None = None
    ticks: tuple[str, ...] = ()
    ends_quarter: bool = False
    note: str = ""
    source: str = ""

    def __post_init__(self) -> None:
        """Refuse what cannot have happened."""
        require_range(low=1, high=9999, number=self.number)
        require_range(low=1, high=5, quarter=self.quarter)
        require_range(low=1, high=99, yardline_100=self.yardline_100)
        require_range(low=-99, high=99, score_diff=self.score_diff)
        if self.direction not in (1, -1):
            raise InvalidInputError(f"direction must be 1 or -1; got {self.direction}")
        _optional_range(0, SECONDS_PER_QUARTER, clock_s=self.clock_s)
        _optional_range(-60, 99, gain_yd=self.gain_yd)
        _optional_range(-20, 80, air_yd=self.air_yd)
        _optional_range(0, FIELD_WIDTH_YD, end_y_yd=self.end_y_yd)
        _optional_range(0, MOST_FRAMES, frames=self.frames, keepers=self.keepers)
        _require_text(spot=self.spot, note=self.note, source=self.source)
        require_keys("ticks", self.ticks)
        require_utc(logged_at=self.logged_at, snap_at=self.snap_at)
        self._require_sense()

    def _require_sense(self) -> None:
        if self.down is not None or self.distance_yd is not None:
            if self.down is None or self.distance_yd is None:
                raise InvalidInputError("down and distance_yd belong together; give both")
            self.situation()
        elif self.result not in (None, Result.KICK, Result.NO_PLAY):
            raise InvalidInputError(
                f"a play with result {self.result} needs a down and a distance; only a kick or "
                "a no-play has none"
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
        """Return the situation at the snap; None for a play without a down.

        Raises
        ------
        InvalidInputError
            If it is none that a field has.
        """
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


def _optional_range(low: float, high: float, **values: float | None) -> None:
    require_range(low=low, high=high, **{n: v for n, v in values.items() if v is not None})


@dataclass(frozen=True, slots=True)
class Capture:
    """One photograph, by its times.

    Attributes
    ----------
    file
        Its path inside the folder it was read from, or as the table named it.
    captured_at
        What the camera says, in UTC.
    corrected_at
        With the camera's clock corrected (UTC).
    body, focal_length_mm
        Which camera, and the marked focal length where the file has it. [mm]
    play
        The play it was made of; None between plays.
    keeper
        Whether it was rated as kept; None when not known.
    """

    file: str
    captured_at: datetime
    corrected_at: datetime
    body: str = ""
    focal_length_mm: float | None = None
    play: int | None = None
    keeper: bool | None = None

    def __post_init__(self) -> None:
        """Refuse what no camera writes."""
        require_utc(captured_at=self.captured_at, corrected_at=self.corrected_at)
        _optional_range(0, 10000, focal_length_mm=self.focal_length_mm)


@dataclass(frozen=True, slots=True)
class EntryField:
    """How a field is kept.

    Attributes
    ----------
    name
        Of the attribute and of the column.
    kind
        ``text``, ``int``, ``float``, ``bool``, ``time``, ``texts`` or ``floats``.
    nullable
        Whether it may be missing.
    since
        Version of the log's schema that brought it.
    choices
        The closed set of a text; empty for any.
    """

    name: str
    kind: str
    nullable: bool = False
    since: int = 1
    choices: tuple[str, ...] = field(default=())


_F = EntryField
GAME_FIELDS: Final = (
    _F("game_id", "text"), _F("home", "text"), _F("away", "text"), _F("season", "int"),
    _F("started_at", "time"), _F("venue", "text"), _F("rules", "text"),
    _F("team_area", "float", nullable=True), _F("assignment", "text"), _F("faces", "text"),
    _F("lenses", "texts"), _F("crop_factors", "floats"), _F("bodies", "int", nullable=True),
    _F("converter", "float"), _F("home_direction", "int"), _F("time_zone", "text", since=2),
    _F("ended_at", "time", nullable=True), _F("ticks", "texts", since=2),
)  # fmt: skip
PLAY_FIELDS: Final = (
    _F("number", "int"), _F("logged_at", "time"), _F("quarter", "int"),
    _F("offense", "text", choices=tuple(Team)), _F("yardline_100", "int"),
    _F("snap_at", "time", nullable=True), _F("clock_s", "float", nullable=True),
    _F("direction", "int"), _F("down", "int", nullable=True),
    _F("distance_yd", "int", nullable=True),
    _F("hash_mark", "text", nullable=True, choices=tuple(HashMark)),
    _F("score_diff", "int"), _F("changed_hands", "bool"), _F("spot", "text"),
    _F("result", "text", nullable=True, choices=tuple(Result)),
    _F("gain_yd", "int", nullable=True), _F("air_yd", "int", nullable=True, since=2),
    _F("end_y_yd", "float", nullable=True, since=2), _F("touchdown", "bool"),
    _F("out_of_bounds", "bool"), _F("frames", "int", nullable=True),
    _F("keepers", "int", nullable=True), _F("ticks", "texts"),
    _F("ends_quarter", "bool", since=2), _F("note", "text"), _F("source", "text", since=2),
)  # fmt: skip
CAPTURE_FIELDS: Final = (
    _F("file", "text", since=2), _F("captured_at", "time", since=2),
    _F("corrected_at", "time", since=2), _F("body", "text", since=2),
    _F("focal_length_mm", "float", nullable=True, since=2),
    _F("play", "int", nullable=True, since=2), _F("keeper", "bool", nullable=True, since=2),
)  # fmt: skip
