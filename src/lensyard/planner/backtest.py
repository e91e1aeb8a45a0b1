"""Backtests: what each policy would have brought home in a season (DESIGN of the evidence).

Nothing that a policy knows comes from the season it is tested on: the model and the plan come from
earlier seasons, and the two-number rule is fitted on the last of the model's own training seasons.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from lensyard.domain.assignment import USABLE_WEIGHTS, Assignment, Coverage
from lensyard.domain.field import Direction
from lensyard.domain.zones import Zone, zone_indices
from lensyard.errors import DataError, InvalidInputError
from lensyard.model.context import SCHEMA_VERSION, Context
from lensyard.model.replay import Replay, replay_of
from lensyard.planner.plans import PlanRequest, SolvedPlan, plan_for
from lensyard.planner.problem import side_index, sides_of
from lensyard.planner.rule_card import RuleCard, fit_rule_card, rule_text
from lensyard.planner.simulate import (
    Decide,
    PolicyScore,
    PolicyTrace,
    SeasonData,
    hindsight_policy,
    lookahead_policy,
    rule_policy,
    score,
    season_data_of,
    simulate_policy,
    unconstrained_policy,
    value_ratio,
)
from lensyard.plays.store import attributions_document
from lensyard.spots.habits import AHEAD_20, LEVEL

if TYPE_CHECKING:
    import pandas as pd

Float32Array = NDArray[np.float32]
FloatArray = NDArray[np.float64]

POLICIES = ("level", "ahead20", "rule", "greedy", "plan", "unconstrained", "hindsight")
RULE_SEASONS = 3
REPLAY_COLUMNS = (
    "game_id", "season", "play_index", "drive_index", "home_club", "offense", "quarter", "clock_s",
    "down", "distance_yd", "yardline_100", "score_diff", "kind", "gain_yd", "air_yd", "side",
    "depth", "gap", "out_of_bounds", "touchdown",
)  # fmt: skip


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


def season_replay(plays: pd.DataFrame, *, seed: int = 20190905) -> Replay:
    """Return the replay of canonical plays in order of game and play.

    Raises
    ------
    DataError
        If there are none.
    """
    if len(plays) == 0:
        raise DataError(
            "there are no plays of that season; `lensyard data list` shows what there is"
        )
    return replay_of(plays, seed=seed)


def counted_plays(replay: Replay, assignment: Assignment) -> NDArray[np.bool_]:
    """Return which plays count for an assignment, shape (m,)."""
    if assignment.coverage is Coverage.BOTH:
        return np.ones(len(replay), dtype=bool)
    home = assignment.coverage is Coverage.HOME
    counted: NDArray[np.bool_] = replay.offense_home == home
    return counted


@dataclass(frozen=True)
class Forecast:
    """Before each snap: expected worth and P(usable) of every position, shape (m, n) each."""

    value: Float32Array
    usable: Float32Array


def forecast(
    context: Context, solved: SolvedPlan, replay: Replay, *, block: int = 2000
) -> Forecast:
    """Return what the model expects of every play of a season."""
    prior = context.prior(solved.request.venue.rules)
    weights = solved.request.assignment.weights
    symmetric = solved.request.venue.symmetric
    n = len(solved.scorers[0].perimeter)
    value = np.empty((len(replay), n), dtype=np.float32)
    usable = np.empty((len(replay), n), dtype=np.float32)
    # Rows of one line of scrimmage share their work in the cells.
    order = np.argsort(replay.batch.yardline_100, kind="stable")
    toward_a = replay.direction == int(Direction.TOWARD_A)
    for start in range(0, len(replay), block):
        rows = order[start : start + block]
        found = context.model.forecast(replay.batch.take(rows))
        masses = found.cells(prior, weights, USABLE_WEIGHTS)
        for k, target in enumerate((value, usable)):
            if symmetric:
                target[rows] = solved.scorers[0].expected_value(masses[k])
                continue
            for away in (False, True):
                some = toward_a[rows] == away
                if some.any():
                    target[rows[some]] = solved.scorers[int(away)].expected_value(masses[k][some])
    return Forecast(value, usable)


def continuation_rows(
    context: Context, solved: SolvedPlan, replay: Replay, counted: NDArray[np.bool_]
) -> Float32Array:
    """Return the plan's continuation for every play, shape (m, n)."""
    state = context.transition().grid.index_of(replay.batch)
    sides = sides_of(solved.scorers[0].perimeter, solved.request.assignment)
    table = np.array(
        [
            [side_index(sides, direction=d, ours=ours) for ours in (False, True)]
            for d in (Direction.TOWARD_A, Direction.TOWARD_B)
        ]
    )
    side = table[(replay.direction > 0).astype(int), counted.astype(int)]
    rows: Float32Array = solved.plan.continuation[side, state]
    return rows


def ready(solved: SolvedPlan, replay: Replay) -> SeasonData:
    """Return a season made ready for a plan's kit, venue, assignment and walking."""
    request = solved.request
    return season_data_of(
        replay,
        solved.scorers,
        weights=request.assignment.weights,
        drive_yd=request.walking.drive_limit_yd,
        change_yd=request.walking.change_limit_yd,
        counted=counted_plays(replay, request.assignment),
    )


def backtest(
    context: Context,
    request: PlanRequest,
    *,
    plays: pd.DataFrame,
    training: pd.DataFrame,
    season: int,
) -> Backtest:
    """Return what each policy would have brought home in a season.

    Parameters
    ----------
    context, request
        The model; kit, venue, assignment and walking.
    plays
        The season, canonical columns, in order.
    training
        Earlier seasons on which the two-number rule is fitted.
    season
        For people.
    """
    solved = plan_for(context, request)
    replay = season_replay(plays)
    season_data = ready(solved, replay)
    card = fit_rule_card(ready(solved, season_replay(training, seed=1)))
    expected = forecast(context, solved, replay)
    reward = expected.value * season_data.counted[:, None].astype(np.float32)
    later = continuation_rows(context, solved, replay, season_data.counted)
    price = request.walking.price_per_yd
    deciders: dict[str, Decide] = {
        "level": rule_policy(season_data, LEVEL),
        "ahead20": rule_policy(season_data, AHEAD_20),
        "rule": rule_policy(season_data, card.rule),
        "greedy": lookahead_policy(
            season_data, reward=reward, continuation=None, price_per_yd=1e-6
        ),
        "plan": lookahead_policy(
            season_data, reward=reward, continuation=later, price_per_yd=price
        ),
        "unconstrained": unconstrained_policy(reward),
        "hindsight": hindsight_policy(season_data),
    }
    trace = {name: simulate_policy(season_data, deciders[name]) for name in POLICIES}
    rows = np.arange(len(replay))
    predicted = expected.usable[rows, trace["plan"].station_index]
    return Backtest(
        season=season,
        games=replay.games,
        plays=int(season_data.counted.sum()),
        request=request,
        policies=tuple(score(season_data, trace[name], name=name) for name in POLICIES),
        over={
            name: value_ratio(season_data, trace["plan"], trace[name])
            for name in ("ahead20", "rule", "greedy")
        },
        p_usable_predicted=float(predicted[season_data.counted].mean()),
        zones=_zones(season_data, trace["plan"], trace["ahead20"], predicted),
        card=card,
        model=context.model_facts(),
    )


def backtest_season(context: Context, request: PlanRequest, *, season: int) -> Backtest:
    """Return the backtest of a stored regular season.

    Raises
    ------
    DataError
        If the season has no plays, or the model was not fitted on an earlier one.
    """
    from lensyard.plays.store import load_plays

    fitted = context.model.manifest.seasons
    if season in fitted:
        raise InvalidInputError(
            f"the model {context.model.model_id} was fitted on season {season}; a backtest needs "
            "one that nobody fitted. Choose another, or fit a model without it"
        )
    training = [s for s in fitted if s < season][-RULE_SEASONS:]
    if not training:
        raise DataError(f"no season before {season} is left to fit the two-number rule on")

    def plays(seasons: list[int]) -> pd.DataFrame:
        return load_plays(columns=REPLAY_COLUMNS, seasons=seasons, season_type="REG")

    return backtest(
        context, request, plays=plays([season]), training=plays(training), season=season
    )


def _zones(
    season_data: SeasonData, plan: PolicyTrace, habit: PolicyTrace, predicted: Float32Array
) -> tuple[ZoneScore, ...]:
    rows = np.arange(len(season_data.replay))
    hit = season_data.usable[rows, plan.station_index]
    habit_hit = season_data.usable[rows, habit.station_index]
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
    return {
        "schema_version": SCHEMA_VERSION,
        "season": result.season,
        "games": result.games,
        "plays": result.plays,
        "kit": result.request.kit.text,
        "venue": result.request.venue.name,
        "assignment": result.request.assignment.name,
        "walking": asdict(result.request.walking),
        "policies": [asdict(p) for p in result.policies],
        "plan_over": {
            name: {"ratio": r, "low": low, "high": high}
            for name, (r, low, high) in result.over.items()
        },
        "p_usable_predicted": result.p_usable_predicted,
        "zones": [asdict(z) for z in result.zones],
        "rule_card": {
            "text": rule_text(result.card.rule),
            "ahead_yd": result.card.rule.ahead_yd,
            "end_line_from": result.card.rule.end_line_from,
            "value_share_in_training": result.card.value_share,
            "farther_in_text": rule_text(result.card.inside),
            "farther_in_value_share_in_training": result.card.inside_value_share,
        },
        "model": result.model,
        "attributions": attributions_document([result.season]),
        "cautions": [],
    }


def for_usable_plays(request: PlanRequest) -> PlanRequest:
    """Return the request with every usable play worth the same."""
    return replace(request, assignment=replace(request.assignment, weights=USABLE_WEIGHTS))
