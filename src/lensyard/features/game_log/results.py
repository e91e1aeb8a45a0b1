"""What page and card offer to say of a play, and what each of it means."""

from __future__ import annotations

from collections.abc import Sequence

from lensyard.game.entry import Result
from lensyard.game.likely import LikelyResult
from lensyard.game.rules import PENALTIES
from lensyard.game.state import GameState, Phase, PlayResult

ARMED = {
    "kick": Result.KICK,
    "kept": Result.KICK_KEPT,
    "turnover": Result.FUMBLE,
    "flag": Result.NO_PLAY,
    "first": Result.NO_PLAY,
}
SAID = {
    "incomplete": PlayResult(Result.INCOMPLETE),
    "good": PlayResult(Result.FIELD_GOAL),
    "missed": PlayResult(Result.MISSED),
    "touchdown": PlayResult(Result.GAIN, 0),
    "two": PlayResult(Result.GAIN, 0),
    "safety": PlayResult(Result.SAFETY),
}


def offered(before: GameState | None, armed: str) -> tuple[str, ...]:
    """Return what can be said of the next play besides where the ball is, by key."""
    if armed:
        return OFFERED.get(armed, ("back",))
    if before is None:
        return ()
    fourth = before.phase is Phase.SCRIMMAGE and before.down == 4
    return OFFERED["fourth" if fourth else before.phase.value]


OFFERED = {
    "score": ("touchdown", "good", "safety", "back"),
    "turnover": ("touchback", "returned", "back"),
    "flag": (*(penalty.key for penalty in PENALTIES), "first", "back"),
    "kick": ("good", "missed", "touchback", "returned", "kept", "back"),
    "kickoff": ("touchback", "out", "returned", "kept", "flag", "quarter"),
    "try": ("good", "two", "missed", "flag"),
    "fourth": ("kick", "score", "incomplete", "turnover", "flag", "quarter"),
    "scrimmage": ("incomplete", "score", "flag", "turnover", "kick", "quarter"),
    "over": (),
}

_BUTTONS = {
    Result.INCOMPLETE: "incomplete",
    Result.NO_PLAY: "flag",
    Result.INTERCEPTION: "turnover",
    Result.KICK: "kick",
    Result.FIELD_GOAL: "kick",
}


def by_likelihood(names: Sequence[str], likely: Sequence[LikelyResult]) -> tuple[str, ...]:
    """Return the names with those of the likelier results first; others keep their place behind."""
    shares = dict.fromkeys(names, 0.0)
    for one in likely:
        name = _BUTTONS.get(one.result.kind, "")
        if one.result == PlayResult(Result.GAIN, 0):
            name = "score"
        if name in shares:
            shares[name] += one.p
    return tuple(sorted(names, key=lambda name: -shares[name]))
