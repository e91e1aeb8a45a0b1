"""A season played again by the plan and by the usual habit: behind plans, kits and prices.

What `lensyard.planner.backtest` does to judge policies is done here for these two only, and what
everybody saw and did is there play by play.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from lensyard.model.context import Context
from lensyard.model.plays import Replay
from lensyard.planner.plans import PlanRequest, SolvedPlan, plan_for
from lensyard.planner.season_data import (
    ExpectedPlays,
    SeasonData,
    SeasonPlays,
    continuation_of,
    expected_plays_of,
    season_data_of,
)
from lensyard.planner.simulate import (
    Decide,
    PolicyTrace,
    lookahead_policy,
    rule_policy,
    simulate_policy,
)
from lensyard.spots.position_rule import PositionRule, habit_for

Float32Array = NDArray[np.float32]

Progress = Callable[[str], None]


def silent(_: str) -> None:
    """Report nothing."""


@dataclass(frozen=True, slots=True)
class EvaluationSample:
    """Which season was played again for the figures.

    Attributes
    ----------
    season, games, plays
        What was played again; ``plays`` counts those that count for the assignment.
    held_out
        Whether the model has not seen it.
    """

    season: int
    games: int
    plays: int
    held_out: bool


@dataclass(frozen=True)
class PlayedSeason:
    """A season with where plan and habit stood at every snap.

    Attributes
    ----------
    solved
        The plan.
    season_data, expected
        The plays, made ready for the kit, and what the model expects of them.
    reward, continuation
        Expected value of each counted play from each station, and the plan's value of what
        follows, shape (m, n).
    plan, habit
        Where each stood.
    habit_rule
        The usual habit for these faces.
    evaluation_sample
        Which season.
    """

    solved: SolvedPlan
    season_data: SeasonData
    expected: ExpectedPlays
    reward: Float32Array
    continuation: Float32Array
    plan: PolicyTrace
    habit: PolicyTrace
    habit_rule: PositionRule
    evaluation_sample: EvaluationSample

    @property
    def request(self) -> PlanRequest:
        """What the plan was made for."""
        return self.solved.request

    @property
    def replay(self) -> Replay:
        """The plays."""
        return self.season_data.replay

    @cached_property
    def total(self) -> Float32Array:
        """Expected value of a play from each station and of what follows, shape (m, n)."""
        return self.reward + self.continuation


def play_season(context: Context, request: PlanRequest, plays: SeasonPlays) -> PlayedSeason:
    """Return a season as the plan of a request, and the habit for its faces, walk it."""
    solved, replay = plan_for(context, request), plays.replay()
    season_data = season_data_of(replay, solved.scorers, request.assignment, request.walking)
    expected = expected_plays_of(context, solved, replay)
    counted = season_data.counted
    reward = expected.value * counted[:, None].astype(np.float32)
    continuation = continuation_of(context, solved, replay, counted)
    decide = lookahead_policy(
        season_data,
        reward=reward,
        continuation=continuation,
        price_per_yd=request.walking.price_per_yd,
    )
    rule = habit_for(request.assignment.faces)

    def trace(policy: Decide) -> PolicyTrace:
        return simulate_policy(season_data, policy)

    return PlayedSeason(
        solved=solved,
        season_data=season_data,
        expected=expected,
        reward=reward,
        continuation=continuation,
        plan=trace(decide),
        habit=trace(rule_policy(season_data, rule)),
        habit_rule=rule,
        evaluation_sample=EvaluationSample(
            plays.season, replay.games, int(counted.sum()), plays.held_out
        ),
    )
