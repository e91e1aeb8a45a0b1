"""The state of a game, and what a result does to it: the next snap follows from the last play.

`apply` takes a state and a result to the next state; states are values, so undoing is keeping them.
The offline card has the same rules in JavaScript (``features/card/state.js``); a test plays random
games through both.
"""

from __future__ import annotations

from dataclasses import replace
from enum import StrEnum
from typing import Final

from lensyard.domain.situation import Situation
from lensyard.errors import InvalidInputError, require_range
from lensyard.game.entry import Game, Result, Team
from lensyard.game.rules import GameRules, Overtime, Penalty, game_rules, walked_off
from lensyard.records import Record
from lensyard.units import SECONDS_PER_QUARTER

TOUCHDOWN_POINTS: Final = 6
FIELD_GOAL_POINTS: Final = 3

MOVES: Final = (Result.GAIN, Result.RUN, Result.COMPLETE, Result.SCRAMBLE, Result.SACK)
"""Results after which the offense has the ball where the play ended."""
TAKEN: Final = (Result.INTERCEPTION, Result.FUMBLE, Result.KICK)
"""Results after which the other team has it there."""


class Phase(StrEnum):
    """What the next play is."""

    SCRIMMAGE = "scrimmage"
    KICKOFF = "kickoff"
    TRY = "try"
    OVER = "over"


class PlayResult(Record):
    """What a play turned into.

    ``kind``: a gain is a run, a catch or a sack of which nobody said more. ``yardline_100``: where
    the ball is now, as the team sees it that had it at the snap; 0 and 100 are the goal lines and
    all beyond. None where it follows: the line of scrimmage after an incompletion, the spot of the
    rule book after a missed field goal, a touchback after a kick. ``first_down``: whether a new
    series follows whatever was gained, as after some penalties.
    """

    kind: Result
    yardline_100: int | None = None
    first_down: bool = False

    def __post_init__(self) -> None:
        """Refuse a ball that is nowhere."""
        if self.yardline_100 is not None:
            require_range(low=0, high=100, yardline_100=self.yardline_100)


class GameState(Record):
    """A game before a play.

    - ``rules``, ``opened_by``: of the game, and the team that kicked off first; the other one kicks
      off the second half.
    - ``offense``, ``direction``: who snaps or kicks, and where they attack: +1 toward end B, -1
      toward end A.
    - ``yardline_100``, ``down``, ``distance_yd``: the ball, as the offense sees it; no down and
      distance on kickoffs and tries. [yd]
    - ``quarter``, ``clock_s``: 1 to 5, where 5 is overtime; left in the quarter, None where nobody
      said. [s]
    - ``period``, ``turn``, ``first``: of overtime: which one, how many possessions of it are over,
      and who had the first.
    """

    rules: GameRules
    offense: Team = Team.HOME
    direction: int = 1
    phase: Phase = Phase.KICKOFF
    yardline_100: int = 65
    down: int | None = None
    distance_yd: int | None = None
    home_points: int = 0
    away_points: int = 0
    quarter: int = 1
    clock_s: float | None = None
    changed_hands: bool = False
    opened_by: Team = Team.HOME
    period: int = 0
    turn: int = 0
    first: Team | None = None

    @property
    def score_diff(self) -> int:
        """The offense's points less the defense's."""
        home = self.home_points - self.away_points
        return home if self.offense is Team.HOME else -home

    def direction_of(self, team: Team) -> int:
        """Return where a team attacks."""
        return self.direction if team is self.offense else -self.direction

    def situation(self) -> Situation | None:
        """Return the situation at the snap; None where there is no down."""
        if self.phase is not Phase.SCRIMMAGE or self.down is None or self.distance_yd is None:
            return None
        return Situation(
            down=self.down,
            distance_yd=self.distance_yd,
            yardline_100=self.yardline_100,
            score_diff=min(max(self.score_diff, -99), 99),
            quarter=self.quarter,
            clock_s=SECONDS_PER_QUARTER / 2 if self.clock_s is None else self.clock_s,
        )


def start_of(game: Game, *, kicking: Team = Team.HOME) -> GameState:
    """Return the state before the opening kickoff of a game."""
    rules = game_rules(game.rules)
    return GameState(
        rules=rules,
        offense=kicking,
        direction=game.direction_of(kicking, quarter=1),
        yardline_100=rules.kickoff_from,
        opened_by=kicking,
    )


def apply(state: GameState, result: PlayResult) -> GameState:
    """Return the state before the play that follows.

    Raises `InvalidInputError` if the game is over, or a kickoff turned into what none can.
    """
    before = replace(state, changed_hands=False)
    if state.phase is Phase.SCRIMMAGE:
        return _after_snap(before, result)
    if state.phase is Phase.TRY:
        return _after_try(before, result)
    if state.phase is Phase.KICKOFF:
        return _after_kickoff(before, result)
    raise InvalidInputError("the game is over; undo the last play, or start another game")


def _after_snap(state: GameState, result: PlayResult) -> GameState:
    kind, ball = result.kind, result.yardline_100
    if kind is Result.SAFETY:
        return _safety(state)
    if kind is Result.FIELD_GOAL:
        scored = _scored(state, state.offense, FIELD_GOAL_POINTS)
        return _possession_over(scored, _kickoff(scored, state.offense))
    if kind is Result.NO_PLAY:
        return _after_flag(state, result)
    if kind is Result.MISSED and ball is None:
        ball = max(100 - state.rules.touchback, state.yardline_100 + state.rules.missed_behind_yd)
        ball = min(ball, 99)
    if kind in TAKEN or kind is Result.MISSED:
        return _taken(state, 0 if ball is None else ball, touchback=state.rules.touchback)
    if ball is None:
        ball = state.yardline_100
    if ball <= 0:
        return _touchdown(state, state.offense)
    if ball >= 100:
        return _safety(state)
    if kind is Result.KICK_KEPT:
        return _series(state, ball)
    return _next_down(state, ball, first_down=result.first_down)


def _next_down(state: GameState, ball: int, *, first_down: bool) -> GameState:
    line_to_gain = state.yardline_100 - (state.distance_yd or 0)
    if first_down or ball <= line_to_gain:
        return _series(state, ball)
    down = state.down or 1
    if down == 4:
        return _taken(state, ball, touchback=state.rules.touchback)
    return replace(state, down=down + 1, yardline_100=ball, distance_yd=ball - line_to_gain)


def _after_flag(state: GameState, result: PlayResult) -> GameState:
    """The down again from where the ball was walked to, unless that makes the line to gain."""
    ball = state.yardline_100 if result.yardline_100 is None else result.yardline_100
    ball = min(max(ball, 1), 99)
    line_to_gain = state.yardline_100 - (state.distance_yd or 0)
    if result.first_down or ball <= line_to_gain:
        return _series(state, ball)
    return replace(state, yardline_100=ball, distance_yd=ball - line_to_gain)


def _series(state: GameState, ball: int) -> GameState:
    """First and ten, or goal, for the offense."""
    return replace(
        state, phase=Phase.SCRIMMAGE, yardline_100=ball, down=1, distance_yd=min(10, ball)
    )


def _turned(state: GameState) -> GameState:
    """The other team has the ball, and attacks the other end."""
    return replace(
        state, offense=state.offense.other, direction=-state.direction, changed_hands=True
    )


def _taken(state: GameState, ball: int, *, touchback: int) -> GameState:
    """The other team has the ball where it is, or a touchback, or ran it all the way."""
    if ball >= 100:
        return _touchdown(state, state.offense.other)
    follows = _series(_turned(state), touchback if ball <= 0 else 100 - ball)
    return _possession_over(state, follows)


def _scored(state: GameState, team: Team, points: int) -> GameState:
    if team is Team.HOME:
        return replace(state, home_points=state.home_points + points)
    return replace(state, away_points=state.away_points + points)


def _touchdown(state: GameState, team: Team) -> GameState:
    scored = _scored(state, team, TOUCHDOWN_POINTS)
    if _is_over(replace(scored, turn=scored.turn + 1), scorer=team):
        return replace(scored, phase=Phase.OVER, down=None, distance_yd=None)
    return _try(scored, team)


def _try(state: GameState, team: Team) -> GameState:
    return replace(
        state if team is state.offense else _turned(state),
        phase=Phase.TRY, yardline_100=state.rules.try_from, down=None, distance_yd=None,
    )  # fmt: skip


def _safety(state: GameState) -> GameState:
    scored = _scored(state, state.offense.other, 2)
    return _possession_over(scored, _kickoff(scored, state.offense, after_safety=True))


def _kickoff(state: GameState, team: Team, *, after_safety: bool = False) -> GameState:
    rules = state.rules
    return replace(
        state,
        phase=Phase.KICKOFF,
        offense=team,
        direction=state.direction_of(team),
        yardline_100=rules.safety_kick_from if after_safety else rules.kickoff_from,
        down=None,
        distance_yd=None,
    )


def _after_try(state: GameState, result: PlayResult) -> GameState:
    kind, ball = result.kind, result.yardline_100
    if kind is Result.NO_PLAY:
        return replace(
            state, yardline_100=min(max(ball if ball is not None else state.yardline_100, 1), 99)
        )
    scored = state
    if kind is Result.FIELD_GOAL:
        scored = _scored(state, state.offense, 1)
    elif kind in MOVES and ball == 0:
        scored = _scored(state, state.offense, 2)
    elif (kind in TAKEN or kind is Result.MISSED) and ball == 100:
        scored = _scored(state, state.offense.other, state.rules.return_on_try)
    return _possession_over(scored, _kickoff(scored, state.offense))


def _after_kickoff(state: GameState, result: PlayResult) -> GameState:
    kind, ball = result.kind, result.yardline_100
    if kind is Result.NO_PLAY:
        return replace(
            state, yardline_100=min(max(ball if ball is not None else state.yardline_100, 1), 99)
        )
    if kind is Result.KICK_KEPT:
        ball = state.yardline_100 - 10 if ball is None else ball
        if state.quarter == 5 and state.first is None:  # the receivers have had their chance
            state = replace(state, first=state.offense.other, turn=1)
        return _touchdown(state, state.offense) if ball <= 0 else _series(state, min(ball, 99))
    if kind is not Result.KICK:
        raise InvalidInputError(
            f"a kickoff cannot turn into {kind}; it is a kick, a kick-kept or a no-play"
        )
    if ball is not None and ball >= 100:
        return _touchdown(state, state.offense.other)
    follows = _turned(state)
    if state.quarter == 5 and state.first is None:
        follows = replace(follows, first=follows.offense)
    return _series(follows, state.rules.kickoff_touchback if not ball else 100 - ball)


def kickoff_out(state: GameState) -> PlayResult:
    """Return the result of a kickoff that went out of bounds."""
    return PlayResult(Result.KICK, max(state.yardline_100 - state.rules.kickoff_out_yd, 1))


def flag_result(state: GameState, penalty: Penalty) -> PlayResult:
    """Return what a penalty turned the play into; on kickoffs and tries the ball only moves."""
    ball = walked_off(state.yardline_100, penalty)
    return PlayResult(Result.NO_PLAY, ball, first_down=penalty.first_down)


# ---- quarters and overtime -----------------------------------------------------------------------


def end_quarter(state: GameState) -> GameState:
    """Return the state after a break: the teams change ends; after a half there is a kickoff."""
    if state.phase is Phase.OVER:
        raise InvalidInputError("the game is over; undo the last play, or start another game")
    turned = replace(state, direction=-state.direction, clock_s=None)
    if state.quarter in (1, 3):
        return replace(turned, quarter=state.quarter + 1)
    if state.quarter == 2:
        half = _kickoff(turned, state.opened_by.other)
        return replace(half, quarter=3, changed_hands=False)
    if state.quarter == 5 or state.home_points != state.away_points:
        return replace(state, phase=Phase.OVER, down=None, distance_yd=None)
    extra = replace(turned, quarter=5, period=1, turn=0, first=None, changed_hands=False)
    if state.rules.overtime is Overtime.KICKOFF:
        return _kickoff(extra, state.opened_by)  # the coin decides: `other_team` where it fell so
    return _overtime_series(replace(extra, first=state.offense))


def _overtime_series(state: GameState) -> GameState:
    rules = state.rules
    if rules.tries_only_from_period and state.period >= rules.tries_only_from_period:
        return _try(state, state.offense)
    return _series(state, rules.overtime_from)


def _is_over(state: GameState, scorer: Team | None = None) -> bool:
    """Whether overtime is decided; ``turn`` counts the possession that has just ended.

    ``scorer``: who has just scored a touchdown whose try is still to come.
    """
    if state.quarter != 5 or state.home_points == state.away_points:
        return False
    ahead = Team.HOME if state.home_points > state.away_points else Team.AWAY
    if scorer not in (None, ahead):
        return False
    if state.turn >= 2 or (ahead is not state.first and scorer is not None):
        return True
    if state.rules.overtime is Overtime.SERIES:
        return False
    return ahead is not state.first or (scorer is ahead and state.rules.first_touchdown_wins)


def _possession_over(state: GameState, follows: GameState) -> GameState:
    """Return what follows a possession: in overtime the game may be over, or it is the other's."""
    if state.quarter != 5:
        return follows
    ended = replace(state, turn=state.turn + 1)
    if _is_over(ended):
        return replace(ended, phase=Phase.OVER, down=None, distance_yd=None)
    if state.rules.overtime is Overtime.KICKOFF:
        return replace(follows, turn=ended.turn)
    # Both teams attack the same end; who had the second series has the next one first.
    first = state.first or state.offense
    if ended.turn >= 2:
        again = replace(ended, period=state.period + 1, turn=0, offense=first.other)
        return _overtime_series(replace(again, first=first.other))
    return _overtime_series(replace(ended, offense=first.other, changed_hands=True))


def next_snap(state: GameState) -> GameState:
    """Return the snap from scrimmage that answers are for.

    Of a kickoff it is the one after a touchback, of a try one for two points.
    """
    if state.phase is Phase.KICKOFF:
        return apply(state, PlayResult(Result.KICK))
    if state.phase is Phase.SCRIMMAGE:
        return state
    ball = state.rules.two_points_from if state.phase is Phase.TRY else state.yardline_100
    return _series(state, ball)


# ---- by hand -------------------------------------------------------------------------------------


def other_team(state: GameState) -> GameState:
    """Return the state with the other team at the ball, at the same place in the stadium."""
    turned = _turned(state)
    if state.phase is Phase.SCRIMMAGE:
        return _series(turned, 100 - state.yardline_100)
    return replace(turned, changed_hands=False)
