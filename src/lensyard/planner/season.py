"""A season walked by the plan: the figures behind a plan report, a comparison of kits and prices.

What `lensyard.planner.backtest` does to judge policies is done here for the plan and the usual
habit only, and what everybody saw and did is kept row by row.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from lensyard.errors import DataError
from lensyard.model.context import Context
from lensyard.model.replay import OUTCOMES, Replay
from lensyard.planner.backtest import (
    REPLAY_COLUMNS,
    RULE_SEASONS,
    Forecast,
    continuation_rows,
    forecast,
    ready,
    season_replay,
)
from lensyard.planner.plans import PlanRequest, SolvedPlan, plan_for
from lensyard.planner.simulate import (
    PolicyTrace,
    SeasonData,
    lookahead_policy,
    rule_policy,
    simulate_policy,
)
from lensyard.spots.habits import TwoNumberRule, habit_for

if TYPE_CHECKING:
    from lensyard.planner.plans import PlanRequest

Float32Array = NDArray[np.float32]
FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

Progress = Callable[[str], None]

TITLES = {
    "plan": "the plan",
    "rule": "the rule card",
    "inside": "the rule card, farther in",
}


def silent(_: str) -> None:
    """Report nothing."""


@dataclass(frozen=True)
class PlayedSeason:
    """A season as the plan and the habit walked it.

    Attributes
    ----------
    solved
        The plan.
    replay, season_data, expected
        The plays, made ready for the kit, and what the model expects of them.
    total
        Expected worth of a play from each position and of what follows, shape (m, n).
    plan, habit
        Where each stood.
    habit_rule
        The usual habit for these faces.
    evaluation_sample
        Which season.
    """

    solved: SolvedPlan
    replay: Replay
    season_data: SeasonData
    expected: Forecast
    total: Float32Array
    plan: PolicyTrace
    habit: PolicyTrace
    habit_rule: TwoNumberRule
    evaluation_sample: EvaluationSample

    @property
    def request(self) -> PlanRequest:
        """What the plan was made for."""
        return self.solved.request

    def hit(self, trace: PolicyTrace) -> BoolArray:
        """Return which counted plays were usable from where somebody stood, shape (m,)."""
        rows = np.arange(len(self.replay))
        hits: BoolArray = (
            self.season_data.usable[rows, trace.station_index] & self.season_data.counted
        )
        return hits


def report_season(context: Context) -> tuple[int, bool]:
    """Return the season to play again, and whether the model has not seen it.

    The first season after those that the model was fitted on, or the last of those.

    Raises
    ------
    DataError
        If neither is among the stored plays.
    """
    from lensyard.plays.store import shared_store

    table = shared_store().query(
        "SELECT DISTINCT season FROM plays WHERE season_type = 'REG' ORDER BY season"
    )
    stored = [int(season) for season in table["season"]]
    fitted = context.model.manifest.seasons
    later = [s for s in stored if s > max(fitted)]
    if later:
        return later[0], True
    seen = [s for s in stored if s in fitted]
    if not seen:
        raise DataError(
            "none of the stored seasons fits the model; `lensyard data list` shows what there is"
        )
    return seen[-1], False


def training_seasons(context: Context, season: int) -> tuple[int, ...]:
    """Return the seasons on which a rule card is fitted when ``season`` is played again."""
    before = [s for s in context.model.manifest.seasons if s < season]
    return tuple(before[-RULE_SEASONS:])


@lru_cache(maxsize=4)
def stored_replay(seasons: tuple[int, ...], seed: int = 20190905) -> Replay:
    """Return the replay of stored regular seasons."""
    from lensyard.plays.store import load_plays

    plays = load_plays(columns=REPLAY_COLUMNS, seasons=list(seasons), season_type="REG")
    return season_replay(plays, seed=seed)


def play_season(
    context: Context,
    request: PlanRequest,
    *,
    season: int | None = None,
    replay: Replay | None = None,
) -> PlayedSeason:
    """Return a season as the plan of a request walks it.

    Parameters
    ----------
    context, request
        The model; kit, venue, assignment and walking.
    season
        Default: `report_season`.
    replay
        Its plays, when they are at hand (tests use a part of a season).
    """
    solved = plan_for(context, request)
    held_out = season is not None and season not in context.model.manifest.seasons
    if season is None:
        season, held_out = report_season(context)
    replay = stored_replay((season,)) if replay is None else replay
    season_data = ready(solved, replay)
    expected = forecast(context, solved, replay)
    reward = expected.value * season_data.counted[:, None].astype(np.float32)
    later = continuation_rows(context, solved, replay, season_data.counted)
    decide = lookahead_policy(
        season_data,
        reward=reward,
        continuation=later,
        price_per_yd=request.walking.price_per_yd,
    )
    rule = habit_for(request.assignment.faces)
    return PlayedSeason(
        solved=solved,
        replay=replay,
        season_data=season_data,
        expected=expected,
        total=reward + later,
        plan=simulate_policy(season_data, decide),
        habit=simulate_policy(season_data, rule_policy(season_data, rule)),
        habit_rule=rule,
        evaluation_sample=EvaluationSample(
            season, replay.games, int(season_data.counted.sum()), held_out
        ),
    )


def figures(
    season: PlayedSeason, trace: PolicyTrace, *, name: str, title: str = ""
) -> PolicyFigures:
    """Return what somebody who walked a season brought home."""
    season_data, replay = season.season_data, season.replay
    hit = season.hit(trace)
    counted = season_data.counted
    touchdown = (replay.outcome == OUTCOMES.index("touchdown")) & counted
    return PolicyFigures(
        name=name,
        title=title or TITLES[name],
        p_usable=float(hit.sum() / counted.sum()),
        value_share=float((hit * season_data.value).sum() / (counted * season_data.value).sum()),
        usable_per_game=float(hit.sum() / replay.games),
        walk_yd_per_game=float(trace.walk_yd.sum() / replay.games),
        p_usable_touchdown=float(hit[touchdown].mean()) if touchdown.any() else 0.0,
    )


@dataclass(frozen=True, slots=True)
class PolicyFigures:
    """What one way of working brought home over the season played again."""

    name: str
    title: str
    p_usable: float
    value_share: float
    usable_per_game: float
    walk_yd_per_game: float
    p_usable_touchdown: float


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
