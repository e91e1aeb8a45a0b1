"""How much a plan could earn at all, and what each attempt to earn more brought.

``python -m tests.benchmarks.ceilings [--season 2019] [--part clock]`` prints for kits that
reach 20, 30 and 40 yd the value share on a season that nobody fitted:

``plan``
    as `lensyard evidence backtest` has it;
``known``
    of whoever knows every coming down, distance and spot of the game, though not where plays end:
    what better transitions, awareness of score and clock, fourth downs and kicks could reach
    together at most (expected value: realized, it would profit from the plays that it foresaw);
``unconstrained``
    of whoever stands at the best spot before each snap as if walking took no time (expected);
``hindsight``
    of whoever knows where every play ends;

then (``clock``) what states of clock and score could add: the last two minutes of each half in a
hurry (12 yd between plays), the plan looking ahead as ever and with the hurry as a state of its
own; any distance where the ball changes hands, and twice the walk after a touchdown, which is what
a kickoff as a state gives: one walk before it, one after. Then the plan under other assumptions: no
price, spots every yard, other setbacks (how much of the sideline one may use).
"""

from __future__ import annotations

import argparse
from dataclasses import dataclass, replace

import numpy as np

from lensyard.domain.kit import kit_of
from lensyard.domain.perimeter import Tempo, WalkTime
from lensyard.model.context import BASE_MODEL, load_context
from lensyard.model.plays import OUTCOMES
from lensyard.planner.plans import PlanRequest, plan_for
from lensyard.planner.season import play_season
from lensyard.planner.season_data import continuation_of, stored_season
from lensyard.planner.simulate import (
    figures_of,
    hindsight_policy,
    lookahead_policy,
    oracle_policy,
    simulate_policy,
)

DRIVE_LIMIT_YD = 40.5

LAST_S = 120.0
KITS = (("70-200",), ("70-200", "300"), ("70-200", "400"))


@dataclass(frozen=True)
class Row:
    """Value shares of one kit."""

    plan: float
    known: float
    unconstrained: float
    hindsight: float
    walk_yd: float


def measured(context, plays, request: PlanRequest, *, ceilings: bool) -> Row:
    """Return the plan's share of the value, and its ceilings if asked for."""
    played = play_season(context, request, plays)
    season_data, expected = played.season_data, played.expected.value
    plan = figures_of(season_data, played.plan, name="plan")
    if not ceilings:
        return Row(plan.value_share, np.nan, np.nan, np.nan, plan.walk_yd_per_game)
    total = season_data.value.sum()
    rows = np.arange(len(played.replay))
    station_index = simulate_policy(
        season_data, oracle_policy(season_data, value=expected)
    ).station_index
    hindsight = figures_of(
        season_data, simulate_policy(season_data, hindsight_policy(season_data)), name="hindsight"
    )
    return Row(
        plan=plan.value_share,
        known=float(expected[rows, station_index].sum() / total),
        unconstrained=float(expected.max(axis=1).sum() / total),
        hindsight=hindsight.value_share,
        walk_yd=plan.walk_yd_per_game,
    )


CLOCK = (
    "plan",
    "halves end in a hurry",
    "hurry as a state",
    "any walk at a change",
    "two walks after a touchdown",
    "late, a lead of 9 or more",
    "late, behind by 9 or more",
    "overtime",
)


def clock_and_score(context, plays, request: PlanRequest) -> list[float]:
    """Return the value shares of `CLOCK`, the last three of their own plays.

    In a hurry both know how far they get before the next snap; one decides by the continuation of
    the plan for 12 yd between plays as long as the hurry lasts.
    """
    played = play_season(context, request, plays)
    batch, usual = played.replay.batch, played.season_data
    hurry = np.isin(batch.quarter, (2, 4)) & (batch.half_s <= LAST_S)
    within = usual.limit_yd <= DRIVE_LIMIT_YD
    short_yd = WalkTime.of(Tempo.HURRY).drive_yd
    data = replace(usual, limit_yd=np.where(hurry & within, short_yd, usual.limit_yd))
    walks = replace(request.walking, drive_limit_yd=short_yd)
    hurried = continuation_of(
        context, plan_for(context, replace(request, walks=walks)), played.replay, data.counted
    )
    anywhere = replace(usual, limit_yd=np.where(within, usual.limit_yd, 1e4))
    scored = np.append(False, played.replay.outcome[:-1] == OUTCOMES.index("touchdown"))
    twice = replace(usual, limit_yd=usual.limit_yd * np.where(scored & ~within, 2.0, 1.0))
    shares = [figures_of(usual, played.plan, name="plan").value_share]
    for walked, later in (
        (data, played.continuation),
        (data, np.where(hurry[:, None], hurried, played.continuation)),
        (anywhere, played.continuation),
        (twice, played.continuation),
    ):
        decide = lookahead_policy(
            walked,
            reward=played.reward,
            continuation=later.astype(np.float32),
            price_per_yd=request.walking.price_per_yd,
        )
        trace = simulate_policy(walked, decide)
        shares.append(figures_of(walked, trace, name="plan").value_share)
    late = (batch.quarter == 4) & (batch.half_s <= 300.0)
    had, value = usual.had(played.plan.station_index) * usual.value, usual.value
    for some in (
        late & (batch.score_diff >= 9),
        late & (batch.score_diff <= -9),
        batch.quarter > 4,
    ):
        rows = some & usual.counted
        shares.append(float(had[rows].sum() / value[rows].sum()))
    return shares


def variants(kit) -> dict[str, PlanRequest]:
    """Return the attempts, by name."""
    base = PlanRequest(kit)

    def setback(yd: float) -> PlanRequest:
        return replace(base, venue=replace(base.venue, side_setback_yd=yd, end_setback_yd=yd))

    return {
        "no price of walking": replace(base, walks=replace(base.walking, price_per_yd=0.0)),
        "spots every yard": replace(base, step_yd=1.0),
        "setback 2 yd": setback(2.0),
        "setback 0.5 yd": setback(0.5),
    }


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n", maxsplit=1)[0])
    parser.add_argument("--season", type=int, default=2019)
    parser.add_argument("--part", choices=("all", "clock"), default="all")
    given = parser.parse_args()
    season = given.season
    context = load_context(BASE_MODEL)
    plays = stored_season(context, season)
    kits = [kit_of(list(lenses)) for lenses in KITS]
    print(f"season {season}, {plays.replay().games} games; value share at reach 20, 30, 40 yd")
    clocks = [clock_and_score(context, plays, PlanRequest(kit)) for kit in kits]
    for i, name in enumerate(CLOCK):
        print(f"{name:<28}" + "".join(f"{row[i]:8.4f}" for row in clocks))
    if given.part == "clock":
        return
    rows = [measured(context, plays, PlanRequest(kit), ceilings=True) for kit in kits]
    for name in ("plan", "known", "unconstrained", "hindsight"):
        print(f"{name:<22}" + "".join(f"{getattr(row, name):8.3f}" for row in rows))
    print(f"{'yards trace a game':<22}" + "".join(f"{row.walk_yd:8,.0f}" for row in rows))
    print("\nthe plan with")
    for name in variants(kits[0]):
        tried = [measured(context, plays, variants(kit)[name], ceilings=False) for kit in kits]
        print(
            f"{name:<22}"
            + "".join(f"{row.plan:8.3f}" for row in tried)
            + "   walk"
            + "".join(f"{row.walk_yd:7,.0f}" for row in tried)
        )


if __name__ == "__main__":
    main()
