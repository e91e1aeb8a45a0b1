"""Published advice on where to stand, played over a season beside the plan.

The rules and their sources stand in ``advice.csv``. A rule that leaves something open is played in
several readings: the literal one takes the middle of what it says (or the usual thing where it says
nothing), the best one is the reading with the largest value on this very season, which flatters the
rule. Everybody walks under the same limits as the plan.
"""

from __future__ import annotations

import csv
from collections.abc import Iterable, Mapping
from dataclasses import asdict, field, replace
from functools import cache
from importlib.resources import files
from typing import Any, Final

import numpy as np

from lensyard.arrays import IntArray
from lensyard.domain.situation import RED_ZONE_FROM
from lensyard.errors import InvalidInputError
from lensyard.model.context import Context
from lensyard.planner.plans import PlanRequest
from lensyard.planner.season import (
    PlayedSeason,
    RuleCard,
    fit_rule_card,
    play_season,
    training_data,
)
from lensyard.planner.season_data import SeasonData, SeasonPlays
from lensyard.planner.simulate import (
    PolicyScore,
    PolicyTrace,
    hindsight_policy,
    rule_targets,
    score,
    simulate_policy,
    simulate_targets,
    unconstrained_policy,
    value_ratio,
)
from lensyard.records import ArrayRecord, Record
from lensyard.running import beside
from lensyard.spots.position_rule import ANYWHERE, BEHIND_OFFENSE, PositionRule
from lensyard.spots.scorer import turned_station_indices

IN_YD: Final = (None, 6.0, 12.0, 18.0)
"""Readings of "behind the end line": the corner, and so far in from the pylon. [yd]"""
FEET_A_YARD: Final = 3.0
FIXED_WALKS_YD: Final = (30.0, 110.0)
"""Between two plays of a drive and where the ball changes hands, whatever the clock says. [yd]"""


class Advice(Record):
    """A rule as published: in own words, its title and address, and what kind of source it is."""

    id: str
    rule: str
    source: str
    address: str
    kind: str


@cache
def published_advice() -> tuple[Advice, ...]:
    """Return the rules with their sources."""
    text = (files("lensyard.features.evidence") / "advice.csv").read_text(encoding="utf-8")
    return tuple(Advice(**row) for row in csv.DictReader(text.splitlines()))


class Reading(ArrayRecord):
    """One way to follow a rule: where to be at each play, shape (m, 2), and the longest walk.

    The last axis is for whoever works the right side and the left. ``literal`` marks what the rule
    says if one takes it at its word. [yd]
    """

    words: str
    wanted: IntArray
    literal: bool = False
    most_yd: float = np.inf


class AdviceScore(Record):
    """What a rule brought in a season.

    ``best`` and ``literal`` are its readings' scores, equal where nothing is open; ``median`` the
    middle reading's share of the value. ``plan_over`` and ``plan_over_literal`` are the plan's
    value over theirs: ratio, low, high.
    """

    advice: Advice = field(metadata={"json": "*"})
    rank: int
    readings: int
    best_reading: str
    best: PolicyScore
    literal: PolicyScore
    median_value_share: float
    plan_over: tuple[float, float, float]
    plan_over_literal: tuple[float, float, float]


class AdviceTable(Record):
    """All rules for one kit beside the plan, the rule card, the best fixed place and hindsight.

    ``plan_over_best`` compares with the best reading of the best published rule,
    ``plan_over_literal`` with the best of the rules taken literally: ratio, low, high. ``key`` is
    of the request and the model.
    """

    key: str
    season: int
    games: int
    plays: int
    kit: str
    reach_yd: float
    venue: str
    assignment: str
    rows: tuple[AdviceScore, ...]
    beside: tuple[PolicyScore, ...]
    best_place: str
    plan_over_best: tuple[float, float, float]
    plan_over_literal: tuple[float, float, float]
    literal_best: str
    model: Mapping[str, object]
    cautions: tuple[str, ...] = ()


def advice_table(context: Context, request: PlanRequest, plays: SeasonPlays) -> AdviceTable:
    """Return every rule played over a season.

    Raises `InvalidInputError` if the model was fitted on the season.
    """
    if not plays.held_out:
        raise InvalidInputError(
            f"the model {context.model.model_id} was fitted on season {plays.season}; advice is "
            "compared with the plan on one that it has not seen"
        )
    played = play_season(context, request, plays)
    data = played.season_data

    def in_second_process() -> dict[str, Any]:
        walks = play_season(context, _at_fixed_walks(request), plays, like=played).plan
        return {
            "card": asdict(fit_rule_card(training_data(request, plays))),
            "walks": [walks.station_index.tolist(), walks.walk_yd.tolist()],
        }

    with beside(in_second_process) as second:
        hindsight = simulate_policy(data, hindsight_policy(data))
        readings = readings_of(data, reach_yd=request.kit.reach_yd)
        traces = {name: walked(data, some) for name, some in readings.items()}
        places, place_traces = _fixed_places(data)
        shares = [_share(data, trace) for trace in place_traces]
        best_place = int(np.argmax(shares))
        others = {"plan": played.plan, "fixed": place_traces[best_place]}
        found = second()
    card = RuleCard.of(found["card"])
    rules = rule_targets(data, (card.rule, card.inside))
    others["rule"], others["inside"] = simulate_targets(data, rules)
    others["fixed-walks"] = PolicyTrace(*(np.array(of) for of in found["walks"]))
    others["unconstrained"] = simulate_policy(data, unconstrained_policy(played.reward))
    others["hindsight"] = hindsight
    for name in ("one-place", "wait"):
        readings[name] = [
            Reading(data.scorers[0].label(place), wanted, literal=place == _middle(shares, places))
            for place, wanted in zip(places, _place_targets(data, places), strict=True)
        ]
        traces[name] = place_traces
    rows = [
        _advice_score(advice, readings[advice.id], traces[advice.id], played)
        for advice in published_advice()
    ]
    rows.sort(key=lambda row: -row.best.value_share)
    ranked = tuple(replace(row, rank=i) for i, row in enumerate(rows, start=1))
    best = next(row for row in rows if row.advice.kind != "practice")
    literal = max(
        (row for row in rows if row.advice.kind != "practice"),
        key=lambda row: row.literal.value_share,
    )
    return AdviceTable(
        key=request.key(context.model.manifest.arrays_sha256),
        season=plays.season,
        games=played.replay.games,
        plays=int(data.counted.sum()),
        kit=request.kit.text,
        reach_yd=request.kit.reach_yd,
        venue=request.venue.name,
        assignment=request.assignment.name,
        rows=ranked,
        beside=tuple(score(data, trace, name=name) for name, trace in others.items()),
        best_place=data.scorers[0].label(places[best_place]),
        plan_over_best=best.plan_over,
        plan_over_literal=literal.plan_over_literal,
        literal_best=literal.advice.rule,
        model=context.model_facts(),
    )


def _at_fixed_walks(request: PlanRequest) -> PlanRequest:
    """The request with the walks that older figures were measured with."""
    drive_yd, change_yd = FIXED_WALKS_YD
    walks = replace(request.walking, drive_limit_yd=drive_yd, change_limit_yd=change_yd)
    return replace(request, walks=walks)


def readings_of(data: SeasonData, *, reach_yd: float) -> dict[str, list[Reading]]:
    """Return the readings of every rule that names a place by the ball."""

    def by_rules(rules: Mapping[str, PositionRule], literal: str, **more: float) -> list[Reading]:
        wanted = rule_targets(data, tuple(rules.values()))
        return [
            Reading(words, one, literal=words == literal, **more)
            for words, one in zip(rules, wanted, strict=True)
        ]

    def ahead(*yards: float, literal: float) -> list[Reading]:
        """So far ahead on a sideline, always, or with the usual back corner inside the 20."""
        rules = [PositionRule(k, z) for k in yards for z in (0, RED_ZONE_FROM)]
        return by_rules({rule.words: rule for rule in rules}, PositionRule(literal).words)

    def end_line(rules: Iterable[PositionRule], literal: PositionRule) -> list[Reading]:
        return by_rules({rule.words: rule for rule in rules}, literal.words)

    by_lens = (20.0, 22.5, 25.0) if reach_yd < 25 else (30.0, 35.0, 40.0)
    return {
        "five-ahead": end_line(
            (PositionRule(k, 35, in_from_pylon_yd=i) for k in (5.0, 5.5, 6.0) for i in IN_YD),
            PositionRule(5.5, 35),
        ),
        "ten-behind": by_rules({"10 yd behind": PositionRule(-10.0)}, "10 yd behind"),
        "ten-ahead": by_rules({"10 yd ahead": PositionRule(10.0)}, "10 yd ahead"),
        "thirty-ahead": ahead(30.0, literal=30.0),
        "behind-the-line": ahead(-5.0, -10.0, -15.0, literal=-10.0),
        "by-lens": ahead(*by_lens, literal=by_lens[1]),
        "by-down": _by_down(data),
        "small-steps": [
            reading
            for feet in (10.0, 15.0, 20.0)
            for reading in by_rules(
                {f"{k:g} yd ahead, {feet:g} ft at a time": PositionRule(k) for k in (0.0, 20.0)},
                "0 yd ahead, 15 ft at a time",
                most_yd=feet / FEET_A_YARD,
            )
        ],
        "switch-sides": _switching(data),
        "follow": by_rules(
            {f"{k:g} yd ahead": PositionRule(k) for k in (0.0, 10.0, 20.0)}, "0 yd ahead"
        ),
        "upright": end_line(
            (
                PositionRule(k, 20, in_from_pylon_yd=i)
                for k in (0.0, 10.0, 20.0)
                for i in (22.0, 26.0)
            ),
            PositionRule(0.0, 20, in_from_pylon_yd=26),
        ),
        "end-zone": (
            end_line(
                (PositionRule(0.0, ANYWHERE, in_from_pylon_yd=i) for i in IN_YD),
                PositionRule(0.0, ANYWHERE),
            )
            if reach_yd >= 35
            else by_rules(
                {f"{k:g} yd ahead": PositionRule(k) for k in (0.0, 5.0, 10.0)}, "5 yd ahead"
            )
        ),
        "back-corner": by_rules({"as said": PositionRule(20.0, 20)}, "as said"),
        "defense": by_rules({"as said": BEHIND_OFFENSE}, "as said"),
    }


def _by_down(data: SeasonData) -> list[Reading]:
    """First down level, second behind the defense, third behind the offense; fourth as third."""
    found = []
    down = data.replay.batch.down
    for ahead in (10.0, 15.0, 20.0):
        for behind in (-5.0, -10.0, -15.0):
            rules = (PositionRule(0.0), PositionRule(ahead), PositionRule(behind))
            each = rule_targets(data, rules)
            wanted = each[np.minimum(down, 3) - 1, np.arange(len(down))]
            words = f"second down {ahead:g} yd ahead, third {-behind:g} yd behind"
            found.append(Reading(words, wanted, literal=(ahead, behind) == (15.0, -10.0)))
    return found


def _switching(data: SeasonData) -> list[Reading]:
    """One sideline a possession, in the stadium; then the other."""
    replay = data.replay
    possession = np.cumsum(replay.possession_change)
    on_a = possession % 2 == 0
    # Sideline A lies on the right of whoever goes toward end B.
    left = on_a == data.toward_a
    found = []
    for ahead in (0.0, 10.0, 20.0, 30.0):
        (each,) = rule_targets(data, (PositionRule(ahead),))
        chosen = each[np.arange(len(replay)), left.astype(int)]
        words = f"{ahead:g} yd ahead, the other sideline every possession"
        found.append(Reading(words, np.stack([chosen, chosen], axis=1), literal=ahead == 0.0))
    return found


def _fixed_places(data: SeasonData) -> tuple[list[int], list[PolicyTrace]]:
    """Every open place of the stadium, and somebody who never leaves it."""
    places = np.flatnonzero(data.scorers[0].open).tolist()
    return places, simulate_targets(data, np.stack(_place_targets(data, places)))


def _place_targets(data: SeasonData, places: list[int]) -> list[IntArray]:
    turned = turned_station_indices(len(data.scorers[0].perimeter))
    at = [np.where(data.toward_a, turned[place], place).astype(np.int16) for place in places]
    return [np.stack([one, one], axis=1) for one in at]


def _middle(shares: list[float], places: list[int]) -> int:
    """The place with the median share of the value."""
    return places[int(np.argsort(shares)[len(shares) // 2])]


def walked(data: SeasonData, readings: list[Reading]) -> list[PolicyTrace]:
    """Walk all readings of a rule at once, those with one longest walk together."""
    found: dict[int, PolicyTrace] = {}
    for most in sorted({reading.most_yd for reading in readings}):
        some = [i for i, reading in enumerate(readings) if reading.most_yd == most]
        wanted = np.stack([readings[i].wanted for i in some])
        found |= zip(some, simulate_targets(data, wanted, most_yd=most), strict=True)
    return [found[i] for i in range(len(readings))]


def _share(data: SeasonData, trace: PolicyTrace) -> float:
    return data.value_share(trace.station_index)


def _advice_score(
    advice: Advice, readings: list[Reading], traces: list[PolicyTrace], played: PlayedSeason
) -> AdviceScore:
    data = played.season_data
    shares = [_share(data, trace) for trace in traces]
    best = int(np.round(shares, 6).argmax())
    literal = next(i for i, reading in enumerate(readings) if reading.literal)
    return AdviceScore(
        advice=advice,
        rank=0,
        readings=len(readings),
        best_reading=readings[best].words,
        best=score(data, traces[best], name=advice.id),
        literal=score(data, traces[literal], name=advice.id),
        median_value_share=float(np.median(shares)),
        plan_over=value_ratio(data, played.plan, traces[best]),
        plan_over_literal=value_ratio(data, played.plan, traces[literal]),
    )
