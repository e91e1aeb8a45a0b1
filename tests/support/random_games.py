"""Random games for the rules of `lensyard.game.state`: any result that a phase can have."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict
from typing import Any

import numpy as np

from lensyard.game.entry import Result, Team
from lensyard.game.rules import PENALTIES
from lensyard.game.state import (
    GameState,
    Phase,
    PlayResult,
    apply,
    end_quarter,
    flag_result,
    kickoff_out,
    other_team,
)

KICKOFF_KINDS = (Result.KICK, Result.KICK, Result.KICK, Result.KICK_KEPT, Result.NO_PLAY)
_BREAK, _OTHER, _OUT, _FLAG = "break", "other", "out", "flag"
Step = tuple[str, PlayResult | int | None]


def random_step(state: GameState, rng: np.random.Generator) -> Step:
    """Return what happens next: a result, a break, the other team by hand, a usual penalty."""
    roll = rng.random()
    if roll < 0.03:
        return _BREAK, None
    if roll < 0.04:
        return _OTHER, None
    if roll < 0.08:
        return _FLAG, int(rng.integers(len(PENALTIES)))
    if state.phase is Phase.KICKOFF:
        if roll < 0.2:
            return _OUT, None
        return "play", PlayResult(KICKOFF_KINDS[int(rng.integers(5))], _ball(rng))
    kinds = list(Result)
    kind = kinds[int(rng.integers(len(kinds)))]
    ball: int | None = _ball(rng)
    if rng.random() < 0.6:
        ball = min(max(state.yardline_100 - int(rng.normal(5, 9)), 0), 100)
    return "play", PlayResult(kind, ball, first_down=bool(rng.random() < 0.1))


def _ball(rng: np.random.Generator) -> int | None:
    roll = rng.random()
    return (
        None if roll < 0.15 else 0 if roll < 0.2 else 100 if roll < 0.25 else int(rng.integers(101))
    )


def taken(state: GameState, step: Step) -> GameState:
    """Return the state after a step."""
    name, what = step
    if name == _BREAK:
        return end_quarter(state)
    if name == _OTHER:
        return other_team(state)
    if name == _OUT:
        return apply(state, kickoff_out(state))
    if isinstance(what, int):
        return apply(state, flag_result(state, PENALTIES[what]))
    assert isinstance(what, PlayResult)
    return apply(state, what)


def random_game(
    rules, rng: np.random.Generator, steps: int
) -> Iterator[tuple[GameState, Step, GameState]]:
    """Yield states, what happens, and the states after; a game that is over begins anew."""
    state = None
    for _ in range(steps):
        if state is None or state.phase is Phase.OVER:
            team = Team.HOME if rng.random() < 0.5 else Team.AWAY
            state = GameState(rules, offense=team, opened_by=team, yardline_100=rules.kickoff_from)
        step = random_step(state, rng)
        after = taken(state, step)
        yield state, step, after
        state = after


def plain(state: GameState) -> dict[str, Any]:
    """Return a state as the card's script has it."""
    values = asdict(state)
    del values["rules"]
    return values
