"""What the next play may turn into, the likeliest first; what page and card offer to say of it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from lensyard.game.entry import Result
from lensyard.game.rules import PENALTIES
from lensyard.game.state import GameState, Phase, PlayResult


@dataclass(frozen=True, slots=True)
class LikelyResult:
    """A result that may come, and P(it comes)."""

    result: PlayResult
    p: float


FLAG_SHARE: Final = 0.062
"""Share of plays of 2019 that a flag wiped out (2,717 ``no_play`` of 43,973, bundled plays)."""
TRY_SHARES: Final = (0.860, 0.100, 0.040)
"""Tries of 2019, of 1,381: kicked, failed either way, two points (bundled plays)."""
KEPT_SHARE: Final = 0.004
"""Kickoffs of 2019 that the kicking team recovered: 10 of 2,717 (bundled plays)."""
_TWO: Final = Result.GAIN


def likely_results(
    state: GameState,
    *,
    p_gain: Mapping[int, float],
    p_incomplete: float,
    p_turnover: float,
    p_choice: tuple[float, float, float] = (1.0, 0.0, 0.0),
) -> tuple[LikelyResult, ...]:
    """Return what the next play may turn into, the likeliest first.

    ``p_gain``: P(gain) by yards of a play that is run, incompletions as no gain. ``p_incomplete``,
    ``p_turnover``: of it. ``p_choice``: P(go, punt, field goal). A gain stands for its middle one.
    """
    if state.phase is Phase.TRY:
        results = (PlayResult(Result.FIELD_GOAL), PlayResult(Result.MISSED), PlayResult(_TWO, 0))
        return _ordered(list(zip(results, TRY_SHARES, strict=True)))
    if state.phase is not Phase.SCRIMMAGE:
        kept = PlayResult(Result.KICK_KEPT, max(state.yardline_100 - 10, 1))
        return _ordered([(PlayResult(Result.KICK), 1 - KEPT_SHARE), (kept, KEPT_SHARE)])
    go, punt, kick = p_choice
    ball, distance = state.yardline_100, state.distance_yd or 10
    played = go * (1.0 - FLAG_SHARE)
    score = sum(p for gain, p in p_gain.items() if gain >= ball)
    first = {gain: p for gain, p in p_gain.items() if distance <= gain < ball}
    short = {gain: p for gain, p in p_gain.items() if gain < distance and gain < ball}
    found = [
        (PlayResult(Result.INCOMPLETE), played * p_incomplete),
        (PlayResult(Result.GAIN, 0), played * score),
        (PlayResult(Result.NO_PLAY), go * FLAG_SHARE),
        (PlayResult(Result.INTERCEPTION, max(ball - 10, 0)), played * p_turnover),
        (PlayResult(Result.KICK, max(ball - 42, 0)), punt),
        (PlayResult(Result.FIELD_GOAL), kick),
    ]
    for gains, taken in ((short, p_incomplete), (first, 0.0)):
        share = sum(gains.values()) - taken
        if share > 0:
            end = min(max(ball - _middle(gains, without_zero=taken), 1), 99)
            found.append((PlayResult(Result.GAIN, end), played * share))
    return _ordered(found)


def _middle(gains: Mapping[int, float], *, without_zero: float) -> int:
    left = {gain: p - (without_zero if gain == 0 else 0.0) for gain, p in sorted(gains.items())}
    half, seen = sum(left.values()) / 2, 0.0
    for gain, p in left.items():
        seen += p
        if seen >= half:
            return gain
    return 0


def _ordered(found: list[tuple[PlayResult, float]]) -> tuple[LikelyResult, ...]:
    likely = [LikelyResult(result, p) for result, p in found if p > 0]
    return tuple(sorted(likely, key=lambda one: -one.p))


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
