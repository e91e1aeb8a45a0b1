"""The frames that have to come home: action on the field, and the life around the game.

`FRAMES` is the catalog that assignments choose from. What a frame needs, how long it takes and
where it is had is common practice among photographers at American football; the minutes are from
memory and include getting there and back.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from lensyard.errors import InvalidInputError, UnknownNameError, require_range

_KEY = re.compile(r"[a-z0-9]+(?:-[a-z0-9]+)*")
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


@dataclass(frozen=True, slots=True)
class MustHave:
    """A frame that has to come home.

    Attributes
    ----------
    key
        Short name, as ticked with ``--have``.
    title
        For people.
    when
        Words on when there is time for it.
    kind
        Action, or life around the game.
    windows
        When there is time for it, the best first; action is in play. In play, life around the
        game costs plays.
    minutes
        How long it takes, with the way there and back; 0 for action, which takes a play.
    where
        Where it is had, in words.
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
        if not _KEY.fullmatch(self.key):
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


def missing(must_have: Iterable[MustHave], have: Iterable[str]) -> tuple[MustHave, ...]:
    """Return the frames of a shot list that are not ticked yet, in its order.

    Raises
    ------
    UnknownNameError
        If a ticked key is on no list.
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
