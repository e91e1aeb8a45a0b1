"""How much a plan could earn at all, and what each attempt to earn more brought.

``python -m tests.benchmarks.ceilings [--season 2019]`` prints for kits that reach 20, 30 and 40 yd
the value share on a season that nobody fitted:

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

and then the plan's under other assumptions: no price, spots every yard, another discount, other
setbacks (how much of the sideline one may use).
"""

from __future__ import annotations

import argparse
from dataclasses import dataclass, replace

import numpy as np

from lensyard.domain.kit import Kit, kit_of
from lensyard.model.choice import BASE_MODEL
from lensyard.model.context import Context, load_context
from lensyard.planner.plans import PlanRequest
from lensyard.planner.season import play_season
from lensyard.planner.season_data import SeasonPlays, stored_season
from lensyard.planner.simulate import (
    figures_of,
    hindsight_policy,
    oracle_policy,
    simulate_policy,
)

KITS = (("70-200",), ("70-200", "300"), ("70-200", "400"))


@dataclass(frozen=True)
class Row:
    """Value shares of one kit."""

    plan: float
    known: float
    unconstrained: float
    hindsight: float
    walk_yd: float


def measured(context: Context, plays: SeasonPlays, request: PlanRequest, *, ceilings: bool) -> Row:
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


def variants(kit: Kit) -> dict[str, PlanRequest]:
    """Return the attempts, by name."""
    base = PlanRequest(kit)

    def setback(yd: float) -> PlanRequest:
        return replace(base, venue=replace(base.venue, side_setback_yd=yd, end_setback_yd=yd))

    return {
        "no price of walking": replace(base, walks=replace(base.walking, price_per_yd=0.0)),
        "spots every yard": replace(base, step_yd=1.0),
        "discount .97": replace(base, discount=0.97),
        "discount .80": replace(base, discount=0.80),
        "setback 2 yd": setback(2.0),
        "setback 0.5 yd": setback(0.5),
    }


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n", maxsplit=1)[0])
    parser.add_argument("--season", type=int, default=2019)
    season = parser.parse_args().season
    context = load_context(BASE_MODEL)
    plays = stored_season(context, season)
    kits = [kit_of(list(lenses)) for lenses in KITS]
    print(f"season {season}, {plays.replay().games} games; value share at reach 20, 30, 40 yd")
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
