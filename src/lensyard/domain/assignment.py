"""Assignments: what the client wants, as weights, whose faces, and the frames to bring home.

`FRAMES` is the catalog that assignments choose from. What a frame needs, how long it takes and
where it is had is common practice among photographers at American football; the minutes are from
memory and include getting there and back.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from datetime import datetime, time
from enum import StrEnum

from lensyard.errors import InvalidInputError, UnknownNameError, require_range
from lensyard.records import Record

KEY_FORM = "lower-case words, digits and single hyphens, such as drop-back"
MOST_MINUTES = 120.0


class FrameKind(StrEnum):
    """Whether a frame is made of a play or of what goes on around it."""

    ACTION = "action"
    LIFE = "life"


class Window(StrEnum):
    """When in the game there is time for a frame, in the order of the game."""

    BEFORE = "before"
    IN_PLAY = "in-play"
    TIME_OUT = "time-out"
    QUARTER_BREAK = "quarter-break"
    HALFTIME = "halftime"
    AFTER = "after"


class MustHave(Record):
    """A frame that has to come home.

    - ``key``: short name, as ticked with ``--have``.
    - ``when``: words on when there is time for it.
    - ``kind``: action, or life around the game.
    - ``windows``: when there is time for it, the best first; action is in play. In play, life
      around the game costs plays.
    - ``minutes``: how long it takes, with the way there and back; 0 for action, which takes a play.
    - ``where``: where it is had, in words.
    """

    key: str
    title: str
    when: str
    kind: FrameKind = FrameKind.ACTION
    windows: tuple[Window, ...] = (Window.IN_PLAY,)
    minutes: float = 0.0
    where: str = ""

    def __post_init__(self) -> None:
        """Refuse a frame that nobody could tick or has time for."""
        words = self.key.split("-")
        if not all(w.isalnum() and w.isascii() and w == w.lower() for w in words):
            raise InvalidInputError(f"the key of a frame is {KEY_FORM}; got {self.key!r}")
        require_range(low=0, high=MOST_MINUTES, minutes=self.minutes)
        if not self.windows:
            raise InvalidInputError(
                f"frame {self.key!r} has no window; say when there is time for it: "
                f"{', '.join(Window)}"
            )
        if self.kind is FrameKind.ACTION and self.windows != (Window.IN_PLAY,):
            raise InvalidInputError(
                f"frame {self.key!r} is action, which happens in play; give it the one window "
                "in-play, or make it life"
            )
        if self.kind is FrameKind.LIFE and self.minutes == 0:
            raise InvalidInputError(
                f"frame {self.key!r} is life around the game; say how many minutes it takes"
            )


def _action(key: str, title: str, when: str, where: str) -> MustHave:
    return MustHave(key, title, when, where=where)


def _life(
    key: str, title: str, windows: tuple[Window, ...], minutes: float, when: str, where: str
) -> MustHave:
    return MustHave(key, title, when, FrameKind.LIFE, windows, minutes, where)


_CATALOG: tuple[MustHave, ...] = (
    _action(
        "drop-back",
        "quarterback dropping back",
        "early: any pass play of the opening series",
        "sideline ahead of the ball, near the 20 on the opening series",
    ),
    _action(
        "carrier",
        "ball carrier coming at the camera",
        "any run, catch or scramble toward you",
        "ahead of the ball, on the sideline or behind the end line",
    ),
    _action(
        "catch",
        "the catch",
        "any completed pass toward you",
        "ahead of the ball, and behind the end line in the red zone",
    ),
    _action(
        "touchdown",
        "touchdown",
        "from the red zone in",
        "behind the end line near a corner",
    ),
    _action(
        "pylon-dive",
        "dive at the pylon",
        "goal to go",
        "back corner on the near side, with a short lens",
    ),
    _action(
        "defense-big-play",
        "the defense's big play: sack or interception",
        "passing downs",
        "behind the offense",
    ),
    _life(
        "warm-ups",
        "warm-ups",
        (Window.BEFORE,),
        15.0,
        "the hour before kickoff",
        "both halves of the field, from outside the lines",
    ),
    _life(
        "introductions",
        "introductions and the run-out",
        (Window.BEFORE,),
        6.0,
        "the last minutes before kickoff",
        "the tunnel",
    ),
    _life(
        "fans",
        "fans",
        (Window.BEFORE, Window.HALFTIME, Window.TIME_OUT, Window.IN_PLAY),
        1.0,
        "before the game, or any stop",
        "the front rows behind you",
    ),
    _life(
        "traditions",
        "traditions: band, mascot, flags, student section",
        (Window.BEFORE, Window.HALFTIME, Window.QUARTER_BREAK),
        2.0,
        "before the game, at a break between quarters or at halftime",
        "where the house has them",
    ),
    _life(
        "coaches",
        "coaches",
        (Window.TIME_OUT, Window.QUARTER_BREAK, Window.BEFORE, Window.IN_PLAY),
        1.0,
        "time-outs",
        "either end of the team area, from outside it",
    ),
    _life(
        "bench",
        "the bench",
        (Window.TIME_OUT, Window.QUARTER_BREAK, Window.IN_PLAY),
        1.0,
        "time-outs and breaks between quarters",
        "either end of the team area, from outside it",
    ),
    _life(
        "halftime",
        "halftime show",
        (Window.HALFTIME,),
        8.0,
        "halftime",
        "midfield, from the sideline",
    ),
    _life(
        "celebration",
        "celebration",
        (Window.AFTER, Window.IN_PLAY),
        2.0,
        "right after a score; at the latest after the final whistle",
        "end zone and the winners' bench",
    ),
    _life(
        "handshake",
        "handshake of the coaches",
        (Window.AFTER,),
        3.0,
        "the minute after the final whistle",
        "midfield",
    ),
)

FRAMES: dict[str, MustHave] = {frame.key: frame for frame in _CATALOG}

LEAST_USABLE = 0.10
"""Below this chance of a usable play nothing pays on this snap; a setting."""
LEAST_P_PASS, LEAST_P_SACK = 0.40, 0.07
"""From here on the frame of a drop-back, or of a sack, is worth pointing the lens at; some 4 % of
all plays are sacks."""
DROP_BACK_YD = 7.0
"""How far behind the line of scrimmage a passer stands when he throws. [yd]"""


def pays(p: float, least: float) -> bool:
    """Return whether a chance is not below the least that pays, as whole percents say it."""
    return round(100.0 * p) >= 100.0 * least - 1e-9


def missing(must_have: Iterable[MustHave], have: Iterable[str]) -> tuple[MustHave, ...]:
    """Return the frames of a shot list that are not ticked yet, in its order.

    Raises `UnknownNameError` if a ticked key is on no list.
    """
    frames = tuple(must_have)
    ticked = known_keys(frames, have)
    return tuple(frame for frame in frames if frame.key not in ticked)


def known_keys(must_have: Iterable[MustHave], have: Iterable[str]) -> frozenset[str]:
    """Return the ticked keys, each on the shot list or in the catalog; see `missing`."""
    keys = tuple(dict.fromkeys([*(frame.key for frame in must_have), *FRAMES]))
    for key in have:
        if key not in keys:
            raise UnknownNameError(name="have", value=key, known=keys)
    return frozenset(have)


_MOMENTS = {
    "halftime": "during halftime",
    "quarter-1": "as the first quarter ends",
    "quarter-2": "as the second quarter ends",
    "quarter-3": "as the third quarter ends",
    "quarter-4": "as the game ends",
}
MOMENT_FORM = f"{', '.join(_MOMENTS)}, or a time of day such as 21:15"


class Deadline(Record):
    """When frames are due at the desk, and how long one works there for it.

    - ``at``: ``halftime`` (before the second half begins), ``quarter-1`` to ``quarter-4`` (as it
      ends), or a time of day on the venue's clock, ``21:15``.
    - ``minutes``: needed at the desk, the walk there not counted. [min]
    """

    at: str
    minutes: float

    def __post_init__(self) -> None:
        """Refuse a moment that is none."""
        require_range(low=0, high=MOST_MINUTES, minutes=self.minutes)
        if self.at not in _MOMENTS and self.time is None:
            raise InvalidInputError(f"a deadline is {MOMENT_FORM}; got {self.at[:40]!r}")

    @property
    def time(self) -> time | None:
        """The time of day; None for a moment of the game."""
        try:
            return datetime.strptime(self.at, "%H:%M").time()
        except ValueError:
            return None

    @property
    def in_halftime(self) -> bool:
        """Whether it is met by the end of halftime."""
        return self.at == "halftime"

    @property
    def quarter(self) -> int:
        """The quarter at whose end it lies; 0 for a time of day."""
        return 2 if self.in_halftime else int(self.at[-1]) if self.at in _MOMENTS else 0

    @property
    def words(self) -> str:
        """When it is, for people."""
        return _MOMENTS.get(self.at, f"at {self.at}")


class Faces(StrEnum):
    """Whose faces the frames must show."""

    OFFENSE = "offense"
    DEFENSE = "defense"


class Coverage(StrEnum):
    """Which team's plays count: both, or one of the two."""

    BOTH = "both"
    HOME = "home"
    AWAY = "away"


class LightPreference(StrEnum):
    """What the assignment thinks of light."""

    IGNORE = "ignore"
    AVOID_BACKLIGHT = "avoid-backlight"
    PREFER_BACKLIGHT = "prefer-backlight"


class OutcomeWeights(Record):
    """What a usable frame of each outcome is worth; a touchdown outranks a gain of 20 or more.

    All are at least 0 and at most 100. `other` is any other carry or catch. `drop_back` is not of
    an outcome: the quarterback's face where he sets up, `DROP_BACK_YD` behind the line, which a
    pass play has besides; 0 where nobody wants it.
    """

    touchdown: float = 10.0
    gain20: float = 4.0
    incompletion: float = 0.5
    interception: float = 1.0
    sack: float = 1.0
    other: float = 1.0
    drop_back: float = 0.0

    def __post_init__(self) -> None:
        """Refuse weights below 0."""
        require_range(
            low=0, high=100, **{name: getattr(self, name) for name in self.__dataclass_fields__}
        )


USABLE_WEIGHTS = OutcomeWeights(
    touchdown=1.0, gain20=1.0, incompletion=1.0, interception=1.0, sack=1.0, other=1.0
)

OFFENSE_WEIGHTS = OutcomeWeights()

# A defense's story: the interception and the sack, then stops; a touchdown is the other team's.
DEFENSE_WEIGHTS = OutcomeWeights(
    touchdown=1.0, gain20=1.0, incompletion=1.0, interception=10.0, sack=6.0, other=1.0
)


class Assignment(Record):
    """What one is sent for.

    ``faces``: whose faces count. ``weights``: what usable plays are worth. ``coverage``: which
    team's plays count. ``light``: what to do about backlight. ``about``: one sentence on whom it is
    for. ``deadlines``, ``desk``: when frames are due, and where one files them: a place on the
    perimeter as the team that attacks end B sees it.
    """

    name: str = "both teams"
    faces: Faces = Faces.OFFENSE
    weights: OutcomeWeights = OFFENSE_WEIGHTS
    coverage: Coverage = Coverage.BOTH
    must_have: tuple[MustHave, ...] = ()
    light: LightPreference = LightPreference.IGNORE
    about: str = ""
    deadlines: tuple[Deadline, ...] = ()
    desk: str = ""

    def __post_init__(self) -> None:
        """Refuse a shot list that names a frame twice."""
        twice = [key for key, n in Counter(f.key for f in self.must_have).items() if n > 1]
        if twice:
            raise InvalidInputError(
                f"the shot list names {', '.join(twice)} more than once; name each frame once"
            )
        if self.deadlines and not self.desk:
            raise InvalidInputError(
                'a deadline needs a desk: say where frames are filed, desk = "right:own20"'
            )

    @property
    def action(self) -> tuple[MustHave, ...]:
        """The frames that are made of plays."""
        return tuple(f for f in self.must_have if f.kind is FrameKind.ACTION)


def assignment_for(faces: Faces) -> Assignment:
    """Return the plain assignment for the offense's or the defense's faces."""
    if faces is Faces.DEFENSE:
        return Assignment("defense", Faces.DEFENSE, DEFENSE_WEIGHTS)
    return Assignment("offense", Faces.OFFENSE, OFFENSE_WEIGHTS)
