"""What a price on every yard walked does, from no price up."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, field, replace
from typing import Any

from lensyard.files import cached, hash_of
from lensyard.model.context import Context
from lensyard.planner.plans import PlanRequest, SetupNames, plan_for
from lensyard.planner.season import (
    EvaluationSample,
    PlayedSeason,
    Progress,
    play_season,
    silent,
)
from lensyard.planner.season_data import SeasonPlays, continuation_of
from lensyard.planner.simulate import (
    figures_of,
    lookahead_policy,
    simulate_policy,
)
from lensyard.planner.solve import Walking
from lensyard.planner.usual_walks import usual_walking
from lensyard.records import Record
from lensyard.sun.cautions import DEFERRAL

# Prices as multiples of the default, and none at all.
MULTIPLES = (0.0, 0.25, 0.5, 1.0, 1.5, 2.0, 3.0, 4.0, 8.0)
CURVE_VERSION = 1


class PricePoint(Record):
    """What one price, in ordinary usable plays, gives. [1/yd]

    ``is_default`` says whether it is the price that `lensyard plan` takes.
    """

    price_per_yd: float
    walk_yd_per_game: float
    p_usable: float
    value_share: float
    is_default: bool


class PriceCurve(Record):
    """What a price on every yard walked does, from no price up, and why the default is so."""

    setup: SetupNames = field(metadata={"json": "*"})
    walking: Walking
    points: tuple[PricePoint, ...]
    reason: str
    evaluation_sample: EvaluationSample = field(metadata={"json": "evidence"})
    model: dict[str, object]
    cautions: tuple[str, ...] = (DEFERRAL,)

    @property
    def default(self) -> PricePoint:
        """The point of the default price."""
        return next(point for point in self.points if point.is_default)

    @property
    def free(self) -> PricePoint:
        """The point of no price."""
        return self.points[0]


def price_curve(
    context: Context,
    request: PlanRequest,
    plays: SeasonPlays,
    *,
    multiples: Sequence[float] = MULTIPLES,
    progress: Progress = silent,
) -> PriceCurve:
    """Return walking and value at several prices of a yard, the default among them.

    The request's own price is left aside; ``multiples`` are of the default price, from 0 up, 1
    among them.
    """
    usual = usual_walking(request.kit, request.assignment).price_per_yd
    request = replace(request, walks=replace(request.walking, price_per_yd=usual))
    key = {
        "version": CURVE_VERSION,
        "plan": request.key(context.model.manifest.arrays_sha256),
        "data": context.model.manifest.data_sha256,
        "season": plays.key,
        "multiples": multiples,
    }

    def compute() -> dict[str, Any]:
        played = play_season(context, request, plays)
        points = []
        for multiple in multiples:
            price = multiple * usual
            progress(f"a yard at {price:.4f}")
            points.append(asdict(price_point(context, played, price_per_yd=price)))
        return {"points": points, "evidence": asdict(played.evaluation_sample)}

    found = cached(hash_of(key), compute)
    points = tuple(PricePoint(**point) for point in found["points"])
    return PriceCurve(
        setup=request.names,
        walking=request.walking,
        points=points,
        reason=_reason(points),
        evaluation_sample=EvaluationSample(**found["evidence"]),
        model=context.model_facts(),
    )


def _reason(points: Sequence[PricePoint]) -> str:
    free, usual = points[0], next(point for point in points if point.is_default)
    share = usual.value_share / max(free.value_share, 1e-9)
    walked = usual.walk_yd_per_game / max(free.walk_yd_per_game, 1e-9)
    return (
        f"the default keeps {share:.1%} of the value that walking at no price has, for "
        f"{walked:.0%} of its yards; a yard costs the same share of what the kit can bring at "
        "every reach"
    )


def price_point(context: Context, played: PlayedSeason, *, price_per_yd: float) -> PricePoint:
    """Return what one price gives on a season that was played at another."""
    request, season_data = played.request, played.season_data
    default = request.walking.price_per_yd
    trace = played.plan
    if price_per_yd != default:
        walks = replace(request.walking, price_per_yd=price_per_yd)
        solved = plan_for(context, replace(request, walks=walks))
        decide = lookahead_policy(
            season_data,
            reward=played.reward,
            continuation=continuation_of(context, solved, played.replay, season_data.counted),
            price_per_yd=price_per_yd,
        )
        trace = simulate_policy(season_data, decide)
    result = figures_of(season_data, trace, name="plan")
    return PricePoint(
        price_per_yd=price_per_yd,
        walk_yd_per_game=result.walk_yd_per_game,
        p_usable=result.p_usable,
        value_share=result.value_share,
        is_default=price_per_yd == default,
    )
