"""The course of a logged game: the state before the next play, from the plays so far."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from lensyard.domain.situation import ball_text
from lensyard.errors import InvalidInputError
from lensyard.game.entry import Game, LoggedPlay, Result, Team
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
