"""The situation before a snap, as everybody in the stadium knows it, and the zones of the field.

`Situation` is one; `SituationBatch` is the same as a struct of arrays, which is what the model
answers. Spots of the ball are written ``own20``, ``opp35`` or ``50``.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from enum import StrEnum
from typing import Final

import numpy as np

from lensyard.arrays import FloatArray, IntArray
from lensyard.domain.field import OPPONENT_GOAL_LINE_X_YD, FieldRules, HashMark
from lensyard.errors import (
    InvalidInputError,
    ParseError,
    UnknownNameError,
    require_range,
)
from lensyard.records import ArrayRecord, Record
from lensyard.units import SECONDS_PER_QUARTER

HASH_CODES: tuple[HashMark | None, ...] = (HashMark.LEFT, HashMark.MIDDLE, HashMark.RIGHT, None)
UNKNOWN_HASH = HASH_CODES.index(None)

_BALL_FORMS = re.compile(
    r"^\s*(?:(?P<side>own|opp|opponent|opponent's)[\s:-]*)?(?P<yard>\d{1,2})\s*$", re.IGNORECASE
)


class Situation(Record):
    """Down, distance, field spot, hash mark, score and clock at the snap.

    - ``down``: 1 to 4.
    - ``distance_yd``: to the line to gain; with goal to go, to the goal line. 1 to 99. [yd]
    - ``yardline_100``: yards to the opponent's goal line, 1 to 99.
    - ``hash_mark``: where the ball is snapped, as the offense sees it; None where nobody said.
    - ``score_diff``: offense's points less defense's, -99 to 99.
    - ``quarter``: 1 to 4; 5 is overtime.
    - ``clock_s``: left in the quarter, 0 to 900. [s]
    """

    down: int
    distance_yd: int
    yardline_100: int
    hash_mark: HashMark | None = None
    score_diff: int = 0
    quarter: int = 2
    clock_s: float = SECONDS_PER_QUARTER

    def __post_init__(self) -> None:
        """Refuse what cannot be on a field."""
        require_range(low=1, high=4, down=self.down)
        require_range(low=1, high=99, yardline_100=self.yardline_100)
        require_range(low=1, high=99, distance_yd=self.distance_yd)
        require_range(low=-99, high=99, score_diff=self.score_diff)
        require_range(low=1, high=5, quarter=self.quarter)
        require_range(low=0, high=SECONDS_PER_QUARTER, clock_s=self.clock_s)
        if self.distance_yd > self.yardline_100:
            raise InvalidInputError(
                f"distance_yd is {self.distance_yd}, but the goal line is only "
                f"{self.yardline_100} yd away; with goal to go give {self.yardline_100}"
            )

    @property
    def line_of_scrimmage_x_yd(self) -> float:
        """The line of scrimmage in the play frame. [yd]"""
        return OPPONENT_GOAL_LINE_X_YD - self.yardline_100

    @property
    def line_to_gain_x_yd(self) -> float:
        """The line to gain in the play frame. [yd]"""
        return self.line_of_scrimmage_x_yd + self.distance_yd

    @property
    def goal_to_go(self) -> bool:
        """Whether the goal line is the line to gain."""
        return self.distance_yd == self.yardline_100

    @property
    def half_s(self) -> float:
        """Left in the half; in overtime, in the period. [s]"""
        return self.clock_s + (SECONDS_PER_QUARTER if self.quarter in (1, 3) else 0.0)

    def text(self) -> str:
        """Return the situation as people say it.

        >>> Situation(3, 7, 35).text()
        "3rd and 7 at the opponent's 35"
        >>> Situation(1, 5, 5).text()
        "1st and goal at the opponent's 5"
        """
        ordinal = ("1st", "2nd", "3rd", "4th")[self.down - 1]
        distance = "goal" if self.goal_to_go else str(self.distance_yd)
        return f"{ordinal} and {distance} at {_place_text(self.yardline_100)}"


class PlayKind(StrEnum):
    """What is about to be played: a snap that may be anything, or one of the kicks."""

    SCRIMMAGE = "scrimmage"
    KICKOFF = "kickoff"
    PUNT = "punt"
    FIELD_GOAL = "field-goal"
    TRY = "try"
    FREE_KICK = "free-kick"


SNAP_TO_POSTS_YD: Final = 18
"""A field goal's distance beyond the line of scrimmage: 10 yd of end zone, 7 to 8 to the holder
(nine of ten kicks in the bundled plays have 18)."""
USUAL_PUNT_YARDLINE_100: Final = 67
"""The median of the bundled plays' punts."""
FREE_KICK_YARD_LINE: Final = 20
"""Where the ball is kicked after a safety: NFL Official Playing Rules 2021 R6-1-2, NCAA Football
Rules 2021 R6-1-1-b, NFHS R6-1-1."""


class Kick(Record):
    """A kick that is about to come: which, from where, and where across the field.

    ``yardline_100`` counts to the receiving team's goal line; of a try it is where the ball is
    snapped. Raises `InvalidInputError` for a play that is no kick, a field goal from one's own
    half beyond anybody's range, or a line off the field.
    """

    play: PlayKind
    yardline_100: int
    hash_mark: HashMark | None = None

    def __post_init__(self) -> None:
        """Refuse what cannot be on a field."""
        require_range(low=1, high=99, yardline_100=self.yardline_100)
        if self.play is PlayKind.SCRIMMAGE:
            raise InvalidInputError("a snap from scrimmage is no kick; give its down and ball")
        if self.play is PlayKind.FIELD_GOAL and self.yardline_100 > LONGEST_TRY_YARDLINE_100:
            raise InvalidInputError(
                f"a field goal from {ball_text(self.yardline_100)} would be {self.distance_yd} yd; "
                f"from beyond {ball_text(LONGEST_TRY_YARDLINE_100)} "
                "nobody tries one: give another ball, or --play punt"
            )

    @staticmethod
    def of(
        play: PlayKind,
        rules: FieldRules,
        *,
        yardline_100: int | None = None,
        hash_mark: HashMark | None = None,
    ) -> Kick:
        """Return a kick from its usual line by the rule set where no other was said.

        Raises `InvalidInputError` as the kick itself does, and for a field goal without a line.
        """
        usual = {
            PlayKind.KICKOFF: 100 - rules.kickoff_yard_line,
            PlayKind.FREE_KICK: 100 - FREE_KICK_YARD_LINE,
            PlayKind.PUNT: USUAL_PUNT_YARDLINE_100,
            PlayKind.TRY: rules.kicked_try_yard_line,
        }
        line = usual.get(play) if yardline_100 is None else yardline_100
        if line is None:
            raise InvalidInputError(
                "where a field goal is snapped decides where to stand; say --ball, such as opp22"
            )
        return Kick(play, line, hash_mark)

    @property
    def line_x_yd(self) -> float:
        """Where the ball is snapped, or kicked off, in the play frame. [yd]"""
        return OPPONENT_GOAL_LINE_X_YD - self.yardline_100

    @property
    def distance_yd(self) -> int:
        """How far a field goal or a kicked try from there is. [yd]"""
        return self.yardline_100 + SNAP_TO_POSTS_YD

    def text(self) -> str:
        """Return the kick as people say it.

        >>> Kick(PlayKind.FIELD_GOAL, 22).text(), Kick(PlayKind.KICKOFF, 60).text()
        ("field goal from the opponent's 22 (40 yd)", 'kickoff from its own 40')
        """
        place = _place_text(self.yardline_100)
        if self.play in (PlayKind.FIELD_GOAL, PlayKind.TRY):
            title = "field goal" if self.play is PlayKind.FIELD_GOAL else "try"
            return f"{title} from {place} ({self.distance_yd} yd)"
        return f"{self.play.value.replace('-', ' ')} from {place}"


LONGEST_TRY_YARDLINE_100: Final = 55
"""A kick of 73 yd: longer ones are not in the bundled plays (the longest try has 71)."""


def _place_text(yardline_100: int) -> str:
    if yardline_100 == 50:
        return "midfield"
    if yardline_100 > 50:
        return f"its own {100 - yardline_100}"
    return f"the opponent's {yardline_100}"


class SituationBatch(ArrayRecord):
    """Many situations as arrays of one length n.

    ``down``, ``distance_yd``, ``yardline_100``, ``score_diff``, ``quarter`` and ``hash_code`` (0
    left, 1 middle, 2 right, 3 unknown) are integers of shape (n,); ``half_s`` (seconds left in the
    half) is float of shape (n,).
    """

    down: IntArray
    distance_yd: IntArray
    yardline_100: IntArray
    score_diff: IntArray
    quarter: IntArray
    half_s: FloatArray
    hash_code: IntArray

    def __len__(self) -> int:
        """The number of situations."""
        return int(self.down.shape[0])

    @staticmethod
    def of(situations: Iterable[Situation]) -> SituationBatch:
        """Return a batch of the situations, in their order."""
        rows = list(situations)
        return SituationBatch(
            down=np.array([s.down for s in rows], dtype=np.int64),
            distance_yd=np.array([s.distance_yd for s in rows], dtype=np.int64),
            yardline_100=np.array([s.yardline_100 for s in rows], dtype=np.int64),
            score_diff=np.array([s.score_diff for s in rows], dtype=np.int64),
            quarter=np.array([s.quarter for s in rows], dtype=np.int64),
            half_s=np.array([s.half_s for s in rows], dtype=np.float64),
            hash_code=np.array([HASH_CODES.index(s.hash_mark) for s in rows], dtype=np.int64),
        )

    @staticmethod
    def neutral(*, down: IntArray, distance_yd: IntArray, yardline_100: IntArray) -> SituationBatch:
        """Return a batch at an even score in the middle of the second quarter, hash unknown.

        All three arrays have shape (n,).
        """
        n = down.shape[0]
        return SituationBatch(
            down=down.astype(np.int64),
            distance_yd=distance_yd.astype(np.int64),
            yardline_100=yardline_100.astype(np.int64),
            score_diff=np.zeros(n, dtype=np.int64),
            quarter=np.full(n, 2, dtype=np.int64),
            half_s=np.full(n, SECONDS_PER_QUARTER, dtype=np.float64),
            hash_code=np.full(n, UNKNOWN_HASH, dtype=np.int64),
        )

    def take(self, index: IntArray) -> SituationBatch:
        """Return the situations at these positions."""
        return SituationBatch(
            *(getattr(self, name)[index] for name in SituationBatch.__dataclass_fields__)
        )


def parse_ball(text: str) -> int:
    """Return `yardline_100` from a spot of the ball.

    ``text``: ``own20`` (the offense's own 20), ``opp35`` (the opponent's 35), or ``50``.

    Raises `ParseError` if the text has another form, or the yard line is not 1 to 49 on a side.

    >>> parse_ball("own20"), parse_ball("opp 35"), parse_ball("50"), parse_ball("midfield")
    (80, 35, 50, 50)
    """
    expected = "own1 to own49, 50, or opp49 to opp1 (yard lines run to 50 on each side)"
    if text.strip().lower() in {"midfield", "mid"}:
        return 50
    match = _BALL_FORMS.match(text)
    if match is None:
        raise ParseError(name="ball", text=text, expected=expected)
    yard = int(match["yard"])
    side = (match["side"] or "").lower()
    if yard == 50:
        return 50
    if not side or not 1 <= yard <= 49:
        raise ParseError(name="ball", text=text, expected=expected)
    return 100 - yard if side == "own" else yard


def ball_text(yardline_100: int) -> str:
    """Return a spot of the ball as `parse_ball` reads it.

    >>> ball_text(75), ball_text(50), ball_text(8)
    ('own25', '50', 'opp8')
    """
    if yardline_100 == 50:
        return "50"
    return f"own{100 - yardline_100}" if yardline_100 > 50 else f"opp{yardline_100}"


def parse_clock(text: str) -> float:
    """Return seconds from a game clock such as ``5:30``.

    Raises `ParseError` if it is not minutes and seconds within a quarter.

    >>> parse_clock("5:30")
    330.0
    """
    match = re.fullmatch(r"\s*(\d{1,2}):([0-5]\d)\s*", text)
    seconds = int(match[1]) * 60 + int(match[2]) if match else -1
    if not 0 <= seconds <= SECONDS_PER_QUARTER:
        raise ParseError(name="clock", text=text, expected="minutes and seconds, 0:00 to 15:00")
    return float(seconds)


DISTANCES_YD = {"short": (1, 3), "medium": (4, 7), "long": (8, 99)}


def parse_distances(text: str) -> tuple[int, int]:
    """Return the distances that a text names, both ends included. [yd]

    Raises `InvalidInputError` if it is neither a name nor N-M nor N.

    >>> parse_distances("long"), parse_distances("3-5"), parse_distances("1")
    ((8, 99), (3, 5), (1, 1))
    """
    if text.strip().lower() in DISTANCES_YD:
        return DISTANCES_YD[text.strip().lower()]
    first, _, last = text.partition("-")
    try:
        low, high = int(first), int(last or first)
    except ValueError:
        low, high = 0, 0
    if not 1 <= low <= high <= 99:
        raise InvalidInputError(
            f"cannot read a distance from {text!r}; expected short (1-3), medium (4-7), long (8 "
            "and more), or yards such as 2-6 or 1, from 1 to 99"
        )
    return low, high


RED_ZONE_FROM: Final = 20
"""The red zone begins at this `yardline_100` and reaches to the goal line."""


class Zone(StrEnum):
    """Six zones that together cover every line of scrimmage, in the order of a drive."""

    OWN_1_20 = "own 1-20"
    OWN_21_40 = "own 21-40"
    MIDDLE_41_60 = "own 41 to opponent's 41"
    OPPONENT_21_40 = "opponent's 40-21"
    RED_ZONE = "red zone 20-6"
    GOAL_TO_GO = "inside the 5"

    @property
    def low(self) -> int:
        """The lowest `yardline_100` of the zone."""
        return _ZONES[self][0]

    @property
    def high(self) -> int:
        """The highest `yardline_100` of the zone, included."""
        return _ZONES[self][1]

    @property
    def middle(self) -> int:
        """The `yardline_100` in the middle of the zone, rounded down."""
        return (self.low + self.high) // 2

    @property
    def key(self) -> str:
        """The short name that people type."""
        return _ZONES[self][2]


_ZONES: Final = {
    Zone.OWN_1_20: (80, 99, "own-1-20"),
    Zone.OWN_21_40: (60, 79, "own-21-40"),
    Zone.MIDDLE_41_60: (41, 59, "middle"),
    Zone.OPPONENT_21_40: (RED_ZONE_FROM + 1, 40, "opp-40-21"),
    Zone.RED_ZONE: (6, RED_ZONE_FROM, "red-zone"),
    Zone.GOAL_TO_GO: (1, 5, "inside-5"),
}
"""Lowest and highest `yardline_100`, and the short name."""


def zone_of(yardline_100: int) -> Zone:
    """Return the zone of a line of scrimmage.

    >>> [zone_of(y).name for y in (99, 75, 50)], [zone_of(y).name for y in (30, 12, 5)]
    (['OWN_1_20', 'OWN_21_40', 'MIDDLE_41_60'], ['OPPONENT_21_40', 'RED_ZONE', 'GOAL_TO_GO'])
    """
    return next(zone for zone in Zone if yardline_100 >= zone.low)


def zone_indices(yardline_100: IntArray) -> IntArray:
    """Return the position in `Zone` of lines of scrimmage from 1 to 99; same shape."""
    of_yard = np.array([list(Zone).index(zone_of(y)) for y in range(1, 100)])
    return np.asarray(of_yard[yardline_100 - 1], dtype=np.int64)


def zone_named(text: str) -> Zone:
    """Return the zone of a short name.

    Raises `UnknownNameError` if there is none.

    >>> zone_named("Red zone").low
    6
    """
    by_key = {zone.key: zone for zone in Zone}
    key = text.strip().lower().replace(" ", "-")
    if key not in by_key:
        raise UnknownNameError(name="zone", value=text, known=by_key)
    return by_key[key]
