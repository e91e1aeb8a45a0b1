"""The course of a logged game: the state before the next play, from the plays so far."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Final

from lensyard.domain.situation import ball_text
from lensyard.errors import InvalidInputError
from lensyard.game.entry import Game, LoggedPlay, Result, Team
from lensyard.game.rules import PENALTIES
from lensyard.game.state import (
    MOVES,
    TAKEN,
    GameState,
    Phase,
    PlayResult,
    apply,
    end_quarter,
    start_of,
)
from lensyard.records import Record

_TRIES = frozenset(Result) - {Result.KICK, Result.KICK_KEPT, Result.NO_PLAY}


def state_after(game: Game, plays: Sequence[LoggedPlay]) -> GameState | None:
    """Return the state before the next play; None where nobody said what the last one became.

    What a play says of its own situation counts more than what follows from the plays before.
    """
    states = course_of(game, plays)
    return states[-1] if states else start_of(game, kicking=_opener(plays))


def course_of(game: Game, plays: Sequence[LoggedPlay]) -> tuple[GameState | None, ...]:
    """Return the state after each play, as `state_after` has it after the last."""
    state, found = start_of(game, kicking=_opener(plays)), list[GameState | None]()
    for play in plays:
        state, known = _before(state, play), False
        result = played(play)
        if result is not None:
            try:
                state, known = apply(state, result), True
            except InvalidInputError:
                known = False
        if play.ends_quarter and state.phase is not Phase.OVER:
            state = end_quarter(state)
        found.append(state if known else None)
    return tuple(found)


def _opener(plays: Sequence[LoggedPlay]) -> Team:
    """The team that kicked off: its kick is the first play, or the other team snapped first."""
    if not plays:
        return Team.HOME
    return plays[0].offense if plays[0].down is None else plays[0].offense.other


def _before(state: GameState, play: LoggedPlay) -> GameState:
    phase = Phase.SCRIMMAGE
    if play.down is None:
        is_try = state.phase is Phase.TRY or play.result in _TRIES
        phase = Phase.TRY if is_try else Phase.KICKOFF
    ahead = play.score_diff if play.offense is Team.HOME else -play.score_diff
    missing = ahead - (state.home_points - state.away_points)
    return replace(
        state,
        phase=phase,
        offense=play.offense,
        direction=play.direction,
        yardline_100=play.yardline_100,
        down=play.down,
        distance_yd=play.distance_yd,
        home_points=state.home_points + max(missing, 0),
        away_points=state.away_points + max(-missing, 0),
        quarter=play.quarter,
        clock_s=play.clock_s,
    )


def played(play: LoggedPlay) -> PlayResult | None:
    """Return what a logged play turned into; None where that was not said, or not where it ended.

    A touchdown after the ball went over, by a kick or otherwise, is the other team's.
    """
    kind, end = play.result, play.end_yardline_100
    if kind is None:
        return None
    if play.touchdown:
        end = 100 if kind in TAKEN else 0
    elif end is None and play.gain_yd is not None and kind in MOVES:
        end = min(max(play.yardline_100 - play.gain_yd, 0), 100)
    if end is None and (kind in MOVES or kind in (Result.INTERCEPTION, Result.FUMBLE)):
        # Of a try without yards only its failing is known; else nobody said where the ball is.
        if play.down is None:
            return PlayResult(Result.INCOMPLETE)
        return None
    return PlayResult(kind, end, first_down=play.first_down)


class NextSnap(Record):
    """The play that follows: what, whose, where, and the score before it.

    ``phase`` is ``scrimmage``, ``kickoff``, ``try`` or ``over``; ``attacking`` the end's letter.
    """

    text: str
    phase: str
    offense: Team
    attacking: str
    down: int | None
    distance_yd: int | None
    yardline_100: int
    home_points: int
    away_points: int
    quarter: int

    @staticmethod
    def of(state: GameState, game: Game) -> NextSnap:
        """Return what follows in words and numbers."""
        return NextSnap(
            text=next_text(state, game),
            phase=state.phase.value,
            offense=state.offense,
            attacking="B" if state.direction == 1 else "A",
            down=state.down,
            distance_yd=state.distance_yd,
            yardline_100=state.yardline_100,
            home_points=state.home_points,
            away_points=state.away_points,
            quarter=state.quarter,
        )


def next_text(state: GameState, game: Game) -> str:
    """Return the next play in words, with the teams by their names."""
    name = game.home if state.offense is Team.HOME else game.away
    score = f"{game.away} {state.away_points}, {game.home} {state.home_points}"
    if state.phase is Phase.OVER:
        return f"the game is over: {score}"
    end = "B" if state.direction == 1 else "A"
    situation = state.situation()
    if situation is not None:
        return f"{name}, {situation.text()}, attacking end {end}; {score}"
    what = "kicks off from" if state.phase is Phase.KICKOFF else "has a try at"
    return f"{name} {what} {ball_text(state.yardline_100)}, attacking end {end}; {score}"


class LikelyResult(Record):
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
