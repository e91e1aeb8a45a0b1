"""Backtests: what each policy would have brought home in a season.

Nothing that a policy knows comes from the season it is tested on: the model and the plan come from
earlier seasons, and the position rule is fitted on the last of the model's own training seasons.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from lensyard.domain.situation import Zone, zone_indices
from lensyard.errors import DataError, InvalidInputError
from lensyard.model.context import SCHEMA_VERSION, Context
from lensyard.planner.plans import PlanRequest
from lensyard.planner.rule_card import RuleCard, fit_rule_card
from lensyard.planner.season import PlayedSeason, play_season
from lensyard.planner.season_data import SeasonPlays, season_data_of, stored_season
from lensyard.planner.simulate import (
    Decide,
    PolicyScore,
    hindsight_policy,
    lookahead_policy,
    rule_policy,
    score,
    simulate_policy,
    unconstrained_policy,
    value_ratio,
)
from lensyard.plays.store import attributions_document
from lensyard.spots.position_rule import AHEAD_20, LEVEL

Float32Array = NDArray[np.float32]

POLICIES = ("level", "ahead20", "rule", "greedy", "plan", "unconstrained", "hindsight")


@dataclass(frozen=True, slots=True)
class ZoneScore:
    """Predicted beside realized for the plan in one zone of the field."""

    zone: str
    plays: int
    p_usable: float
    p_usable_predicted: float
    value_share: float
    habit_p_usable: float


@dataclass(frozen=True)
class Backtest:
    """One backtest.

    Attributes
    ----------
    season, games, plays
        What was played again.
    request
        Kit, venue, assignment, walking.
    policies
        In the order of `POLICIES`.
    over
        Value of the plan over other policies: name -> (ratio, low, high).
    p_usable_predicted
        What the plan expected of itself.
    zones
        The plan by zone.
    card
        The fitted rule.
    model
        Facts about the model.
    """

    season: int
    games: int
    plays: int
    request: PlanRequest
    policies: tuple[PolicyScore, ...]
    over: dict[str, tuple[float, float, float]]
    p_usable_predicted: float
    zones: tuple[ZoneScore, ...]
    card: RuleCard
    model: dict[str, object]


def backtest(context: Context, request: PlanRequest, plays: SeasonPlays) -> Backtest:
    """Return what each policy would have brought home in a season.

    Parameters
    ----------
    context, request
        The model; kit, venue, assignment and walking.
    plays
        The season, and earlier ones on which the position rule is fitted.
    """
    played = play_season(context, request, plays)
    season_data = played.season_data
    card = fit_rule_card(
        season_data_of(
            plays.training_replay(), season_data.scorers, request.assignment, request.walking
        )
    )
    deciders: dict[str, Decide] = {
        "level": rule_policy(season_data, LEVEL),
        "ahead20": rule_policy(season_data, AHEAD_20),
        "rule": rule_policy(season_data, card.rule),
        "greedy": lookahead_policy(
            season_data, reward=played.reward, continuation=None, price_per_yd=1e-6
        ),
        "unconstrained": unconstrained_policy(played.reward),
        "hindsight": hindsight_policy(season_data),
    }
    trace = {name: simulate_policy(season_data, decide) for name, decide in deciders.items()}
    trace["plan"] = played.plan
    predicted = played.expected.usable[np.arange(len(played.replay)), played.plan.station_index]
    return Backtest(
        season=plays.season,
        games=played.replay.games,
        plays=int(season_data.counted.sum()),
        request=request,
        policies=tuple(score(season_data, trace[name], name=name) for name in POLICIES),
        over={
            name: value_ratio(season_data, played.plan, trace[name])
            for name in ("ahead20", "rule", "greedy")
        },
        p_usable_predicted=float(predicted[season_data.counted].mean()),
        zones=_zones(played, predicted),
        card=card,
        model=context.model_facts(),
    )


def backtest_season(context: Context, request: PlanRequest, *, season: int) -> Backtest:
    """Return the backtest of a stored regular season.

    Raises
    ------
    InvalidInputError
        If the model was fitted on the season.
    DataError
        If the season has no plays, or the model was not fitted on an earlier one.
    """
    plays = stored_season(context, season)
    if not plays.held_out:
        raise InvalidInputError(
            f"the model {context.model.model_id} was fitted on season {season}; a backtest needs "
            "one that nobody fitted. Choose another, or fit a model without it"
        )
    if not plays.training:
        raise DataError(f"no season before {season} is left to fit the two-number rule on")
    return backtest(context, request, plays)


def _zones(played: PlayedSeason, predicted: Float32Array) -> tuple[ZoneScore, ...]:
    season_data = played.season_data
    hit, habit_hit = (season_data.hits(t.station_index) for t in (played.plan, played.habit))
    zone = zone_indices(season_data.replay.batch.yardline_100)
    found = []
    for i, name in enumerate(Zone):
        some = (zone == i) & season_data.counted
        if not some.any():
            continue
        value = season_data.value[some]
        found.append(
            ZoneScore(
                zone=name.value,
                plays=int(some.sum()),
                p_usable=float(hit[some].mean()),
                p_usable_predicted=float(predicted[some].mean()),
                value_share=float((hit[some] * value).sum() / value.sum()),
                habit_p_usable=float(habit_hit[some].mean()),
            )
        )
    return tuple(found)


def backtest_document(result: Backtest) -> dict[str, Any]:
    """Return a backtest as the document of ``lensyard evidence backtest --json``."""
    card = result.card
    return {
        "schema_version": SCHEMA_VERSION,
        "season": result.season,
        "games": result.games,
        "plays": result.plays,
        "kit": result.request.kit.text,
        "venue": result.request.venue.name,
        "assignment": result.request.assignment.name,
        "walking": asdict(result.request.walking),
        "policies": [
            {key: value for key, value in asdict(policy).items() if key != "title"}
            for policy in result.policies
        ],
        "plan_over": {
            name: {"ratio": r, "low": low, "high": high}
            for name, (r, low, high) in result.over.items()
        },
        "p_usable_predicted": result.p_usable_predicted,
        "zones": [asdict(z) for z in result.zones],
        "rule_card": {
            "text": card.rule.words,
            "ahead_yd": card.rule.ahead_yd,
            "end_line_from": card.rule.end_line_from,
            "value_share_in_training": card.value_share,
            "farther_in_text": card.inside.words,
            "farther_in_value_share_in_training": card.inside_value_share,
        },
        "model": result.model,
        "attributions": attributions_document([result.season]),
        "cautions": [],
    }
