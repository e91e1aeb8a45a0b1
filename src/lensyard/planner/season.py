"""Seasons played again: by plan and habit, by rules fitted on earlier ones, by policies to compare.

Nothing that a policy knows comes from the season it is tested on: the model and the plan come from
earlier seasons, and position rules are fitted on the last of the model's own training seasons.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import asdict, dataclass, replace
from typing import Any

import numpy as np

from lensyard.arrays import Float32Array, FloatArray, IntArray
from lensyard.domain.situation import Zone, zone_indices
from lensyard.errors import DataError, InvalidInputError
from lensyard.model.context import SCHEMA_VERSION, Context
from lensyard.model.plays import Replay
from lensyard.planner.plans import PlanRequest, SolvedPlan, plan_for
from lensyard.planner.season_data import (
    ExpectedPlays,
    SeasonData,
    SeasonPlays,
    continuation_of,
    expected_plays_of,
    season_data_of,
    stored_season,
    walking_limits_yd,
)
from lensyard.planner.simulate import (
    Decide,
    PolicyScore,
    PolicyTrace,
    hindsight_policy,
    lookahead_policy,
    rule_value,
    score,
    simulate_policy,
    simulate_rules,
    unconstrained_policy,
    value_ratio,
)
from lensyard.plays.store import attributions_document
from lensyard.running import beside
from lensyard.spots.position_rule import AHEAD_20, LEVEL, PositionRule, habit_for

Progress = Callable[[str], None]


def silent(_: str) -> None:
    """Report nothing."""


@dataclass(frozen=True, slots=True)
class EvaluationSample:
    """Which season was played again; ``plays`` counts those that count for the assignment.

    ``held_out`` says whether the model has not seen it.
    """

    season: int
    games: int
    plays: int
    held_out: bool


@dataclass(frozen=True)
class PlayedSeason:
    """A season with where plan and habit stood at every snap.

    - ``reward``, ``continuation``: expected value of each counted play from each station, and the
      plan's value of what follows, shape (m, n).
    - ``habit_rule``: the usual habit for these faces.
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

    def total(self, rows: IntArray, stations: IntArray | slice = slice(None)) -> Float32Array:
        """Return the expected value of plays, and of what follows, from their stations or all."""
        total: Float32Array = self.reward[rows, stations] + self.continuation[rows, stations]
        return total


def play_season(
    context: Context, request: PlanRequest, plays: SeasonPlays, *, like: PlayedSeason | None = None
) -> PlayedSeason:
    """Return a season as the plan of a request, and the habit for its faces, walk it.

    ``like``: the same season, kit, venue and assignment with other walks.
    """
    solved, replay = plan_for(context, request), plays.replay()
    if like is None:
        season_data = season_data_of(replay, solved.scorers, request.assignment, request.walking)
        expected = expected_plays_of(context, solved, replay)
    else:
        limit_yd = walking_limits_yd(replay, request.walking)
        season_data = replace(like.season_data, limit_yd=limit_yd)
        expected = like.expected
    counted = season_data.counted
    reward = expected.value
    if not counted.all():
        reward = reward * counted[:, None].astype(np.float32)
    continuation = continuation_of(context, solved, replay, counted)
    decide = lookahead_policy(
        season_data,
        reward=reward,
        continuation=continuation,
        price_per_yd=request.walking.price_per_yd,
    )
    rule = habit_for(request.assignment.faces)

    (habit,) = simulate_rules(season_data, (rule,))
    return PlayedSeason(
        solved=solved,
        season_data=season_data,
        expected=expected,
        reward=reward,
        continuation=continuation,
        plan=simulate_policy(season_data, decide),
        habit=habit,
        habit_rule=rule,
        evaluation_sample=EvaluationSample(
            plays.season, replay.games, int(counted.sum()), plays.held_out
        ),
    )


AHEAD_YD = (-15.0, -5.0, 0.0, 5.0, 10.0, 15.0, 20.0, 25.0, 30.0, 40.0)
END_LINE_FROM = (0, 5, 10, 15, 20, 25, 30, 40, 50)
IN_FROM_PYLON_YD = (0.0, 4.0, 8.0, 12.0, 16.0, 20.0)
_FINE_STEP = 2.0  # whole yards


@dataclass(frozen=True, slots=True)
class RuleCard:
    """The rule that one can remember: "stand k yards ahead; from the z in, behind the end line".

    ``rule`` stands in the corner there, ``inside`` its best distance in from the pylon; shares are
    of the value of the seasons that both were fitted on.
    """

    rule: PositionRule
    value_share: float
    inside: PositionRule
    inside_value_share: float

    @staticmethod
    def of(fields: dict[str, Any]) -> RuleCard:
        """Return the card of `asdict`."""
        rules = {name: PositionRule(**fields[name]) for name in ("rule", "inside")}
        return RuleCard(**{**fields, **rules})


def training_data(request: PlanRequest, plays: SeasonPlays) -> SeasonData:
    """Return the seasons that rules are fitted on, made ready for one kit."""
    training = plays.training_replay()
    return season_data_of(training, request.scorers, request.assignment, request.walking)


def fit_rule_card(season_data: SeasonData) -> RuleCard:
    """Return the rule with the largest share of the value on training seasons."""
    return _fit(season_data, (False, True), {})


def fit_rule_cards(season_data: SeasonData) -> tuple[RuleCard, RuleCard]:
    """Return the rule toward end B and the one toward end A, each by the plays that go there."""
    tried: dict[PositionRule, FloatArray] = {}
    return _fit(season_data, (False,), tried), _fit(season_data, (True,), tried)


_RULES_AT_ONCE = 30


def _fit(
    season_data: SeasonData, toward_a: tuple[bool, ...], tried: dict[PositionRule, FloatArray]
) -> RuleCard:
    """The best rule by plays in some directions.

    ``tried`` has what each rule had of the value toward end B and toward end A.
    """
    ways = [int(away) for away in toward_a]
    value = season_data.all_value
    by_direction = np.bincount(season_data.toward_a, weights=value, minlength=2)
    total = max(float(by_direction[ways].sum()), 1e-9)

    def shares(rules: Sequence[PositionRule]) -> list[float]:
        new = [rule for rule in dict.fromkeys(rules) if rule not in tried]
        for start in range(0, len(new), _RULES_AT_ONCE):
            some = new[start : start + _RULES_AT_ONCE]
            tried.update(zip(some, rule_value(season_data, some), strict=True))
        return [float(tried[rule][ways].sum()) / total for rule in rules]

    def best_pair(
        ahead_yd: Iterable[float], end_line_from: Sequence[int]
    ) -> tuple[PositionRule, float]:
        rules = [PositionRule(k, z) for k in ahead_yd for z in end_line_from]
        found = shares(rules)
        return rules[int(np.round(found, 6).argmax())], max(found)

    coarse, _ = best_pair(AHEAD_YD, END_LINE_FROM)
    rule, value_share = best_pair(
        _around(coarse.ahead_yd, low=-60.0, high=100.0),
        [int(z) for z in _around(coarse.end_line_from, low=0.0, high=60.0)],
    )
    variants = [
        PositionRule(rule.ahead_yd, rule.end_line_from, in_from_pylon_yd=in_yd)
        for in_yd in IN_FROM_PYLON_YD
    ]
    found = shares(variants)
    return RuleCard(rule, value_share, variants[int(np.round(found, 9).argmax())], max(found))


def _around(center: float, *, low: float, high: float) -> list[float]:
    return [float(np.clip(center + i * _FINE_STEP, low, high)) for i in (-1, 0, 1)]


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

    - ``policies``: in the order of `POLICIES`.
    - ``over``: value of the plan over other policies: name -> (ratio, low, high).
    - ``p_usable_predicted``: what the plan expected of itself.
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
    """Return what each policy would have brought home in a season."""
    replay = plays.replay()  # at hand before a second process needs it

    def without_a_plan() -> tuple[dict[str, Any], IntArray, FloatArray]:
        card = asdict(fit_rule_card(training_data(request, plays)))
        data = season_data_of(replay, request.scorers, request.assignment, request.walking)
        trace = simulate_policy(data, hindsight_policy(data))
        return card, trace.station_index, trace.walk_yd

    with beside(without_a_plan) as second:
        played = play_season(context, request, plays)
        found, *hindsight = second()
    card, season_data = RuleCard.of(found), played.season_data
    deciders: dict[str, Decide] = {
        "greedy": lookahead_policy(
            season_data, reward=played.reward, continuation=None, price_per_yd=1e-6
        ),
        "unconstrained": unconstrained_policy(played.reward),
    }
    trace = {name: simulate_policy(season_data, decide) for name, decide in deciders.items()}
    trace |= {"plan": played.plan, "hindsight": PolicyTrace(*hindsight)}
    rules = {"level": LEVEL, "ahead20": AHEAD_20, "rule": card.rule}
    trace |= zip(rules, simulate_rules(season_data, tuple(rules.values())), strict=True)
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


def backtest_season(
    context: Context,
    request: PlanRequest,
    *,
    season: int,
    source: str | None = None,
    kicks: bool = False,
) -> Backtest:
    """Return the backtest of a stored regular season, of a source where one is named.

    ``kicks``: whether punts and field goals count as plays.

    Raises `InvalidInputError` if the model was fitted on the season; `DataError` if the season has
    no plays, or the model was not fitted on an earlier one.
    """
    plays = stored_season(context, season, source=source, kicks=kicks)
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
    hit, habit_hit = (season_data.had(t.station_index) for t in (played.plan, played.habit))
    value = season_data.value_had(played.plan.station_index)
    zone = zone_indices(season_data.replay.batch.yardline_100)
    found = []
    for i, name in enumerate(Zone):
        some = (zone == i) & season_data.counted
        if not some.any():
            continue
        found.append(
            ZoneScore(
                zone=name.value,
                plays=int(some.sum()),
                p_usable=float(hit[some].mean()),
                p_usable_predicted=float(predicted[some].mean()),
                value_share=float(value[some].sum() / season_data.all_value[some].sum()),
                habit_p_usable=float(habit_hit[some].mean()),
            )
        )
    return tuple(found)


def kicked_document(result: Backtest) -> dict[str, Any]:
    """Return what stands beside a backtest where punts and field goals count as plays."""
    document = backtest_document(result)
    return {name: document[name] for name in ("plays", "policies", "plan_over", "zones")}


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
