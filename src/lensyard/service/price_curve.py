"""What a price on every yard walked does: less walking, and a little less to bring home."""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict, dataclass, replace
from typing import Any

from lensyard.recommend.backtest import decide_lookahead, walk_season
from lensyard.recommend.planning import usual_walking
from lensyard.service.backtests import continuation_rows
from lensyard.service.context import SCHEMA_VERSION, Context
from lensyard.service.plan_rows import Evidence
from lensyard.service.plan_season import (
    PlayedSeason,
    Progress,
    figures,
    play_season,
    report_season,
    silent,
)
from lensyard.service.plans import PlanRequest, plan_for
from lensyard.service.report_cache import kept

# Prices as multiples of the default, and none at all.
MULTIPLES = (0.0, 0.25, 0.5, 1.0, 1.5, 2.0, 3.0, 4.0, 8.0)
CURVE_VERSION = 1


@dataclass(frozen=True, slots=True)
class PricePoint:
    """What one price gives.

    Attributes
    ----------
    price_per_yd
        In ordinary usable plays. [1/yd]
    walk_yd_per_game
        Walked. [yd]
    p_usable, value_share
        Shares of plays and of their value had.
    is_default
        Whether it is the price that `lensyard plan` takes.
    """

    price_per_yd: float
    walk_yd_per_game: float
    p_usable: float
    value_share: float
    is_default: bool


@dataclass(frozen=True, slots=True)
class PriceCurve:
    """The curve, from no price up.

    Attributes
    ----------
    request
        Kit, venue, assignment, walking limits.
    points
        By price.
    evidence
        Which season was played again.
    model
        Facts about the model.
    """

    request: PlanRequest
    points: tuple[PricePoint, ...]
    evidence: Evidence
    model: dict[str, object]

    @property
    def default(self) -> PricePoint:
        """The point of the default price."""
        return next(point for point in self.points if point.is_default)

    @property
    def free(self) -> PricePoint:
        """The point of no price."""
        return self.points[0]

    @property
    def reason(self) -> str:
        """Why the default is where it is, in one sentence."""
        free, usual = self.free, self.default
        kept_share = usual.value_share / max(free.value_share, 1e-9)
        walked = usual.walk_yd_per_game / max(free.walk_yd_per_game, 1e-9)
        return (
            f"the default keeps {kept_share:.1%} of the value that walking at no price has, for "
            f"{walked:.0%} of its yards; a yard costs the same share of what the kit can bring at "
            "every reach"
        )


def price_curve(
    context: Context, request: PlanRequest, *, progress: Progress = silent
) -> PriceCurve:
    """Return walking and value at several prices of a yard, the default among them.

    Parameters
    ----------
    context, request
        The model; kit, venue, assignment and walking limits. Its price is left aside.
    progress
        Is told what takes a while.
    """
    usual = usual_walking(request.kit, request.assignment).price_per_yd
    limits = replace(request.walking, price_per_yd=usual)
    request = replace(request, walks=limits)
    season, _ = report_season(context)
    key = {
        "version": CURVE_VERSION,
        "plan": request.key(context.model.manifest.arrays_sha256),
        "data": context.model.manifest.data_sha256,
        "season": season,
        "multiples": MULTIPLES,
    }
    found = kept(
        hashlib.sha256(json.dumps(key, sort_keys=True).encode()).hexdigest(),
        lambda: _points(context, request, season=season, progress=progress),
    )
    return PriceCurve(
        request=request,
        points=tuple(PricePoint(**point) for point in found["points"]),
        evidence=Evidence(**found["evidence"]),
        model=context.model_facts(),
    )


def _points(
    context: Context, request: PlanRequest, *, season: int, progress: Progress
) -> dict[str, Any]:
    played = play_season(context, request, season=season)
    points = []
    for multiple in MULTIPLES:
        price = multiple * request.walking.price_per_yd
        progress(f"a yard at {price:.4f}")
        points.append(price_point(context, played, price_per_yd=price))
    return {
        "points": [asdict(point) for point in points],
        "evidence": asdict(played.evidence),
    }


def price_point(context: Context, played: PlayedSeason, *, price_per_yd: float) -> PricePoint:
    """Return what one price gives on a season that was played at another."""
    request = played.request
    default = request.walking.price_per_yd
    if price_per_yd == default:
        result = figures(played, played.plan, name="plan")
    else:
        walks = replace(request.walking, price_per_yd=price_per_yd)
        solved = plan_for(context, replace(request, walks=walks))
        reward = played.expected.worth * played.ground.counted[:, None].astype("float32")
        decide = decide_lookahead(
            played.ground,
            reward=reward,
            continuation=continuation_rows(context, solved, played.replay, played.ground.counted),
            price_per_yd=price_per_yd,
        )
        result = figures(played, walk_season(played.ground, decide), name="plan")
    return PricePoint(
        price_per_yd=price_per_yd,
        walk_yd_per_game=result.walk_yd_per_game,
        p_usable=result.p_usable,
        value_share=result.value_share,
        is_default=price_per_yd == default,
    )


def price_document(curve: PriceCurve) -> dict[str, Any]:
    """Return the curve as one JSON document (``lensyard plan --price-curve --json``)."""
    from lensyard.light.cautions import DEFERRAL

    return {
        "schema_version": SCHEMA_VERSION,
        "kit": curve.request.kit.text,
        "venue": curve.request.venue.name,
        "assignment": curve.request.assignment.name,
        "walking": asdict(curve.request.walking),
        "points": [asdict(point) for point in curve.points],
        "reason": curve.reason,
        "evidence": asdict(curve.evidence),
        "model": curve.model,
        "cautions": [DEFERRAL],
    }
