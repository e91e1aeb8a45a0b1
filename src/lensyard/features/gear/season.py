"""What each kit brings over a stored season, kept on disk: a plan a kit takes some seconds."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from lensyard.domain.assignment import Assignment
from lensyard.domain.kit import Kit
from lensyard.domain.venue import Venue
from lensyard.features.gear.compute import (
    GearComparison,
    KitFigures,
    KitZone,
    compare_kits,
    kit_figures,
)
from lensyard.files import cached
from lensyard.model.context import Context
from lensyard.planner.plans import PlanRequest
from lensyard.planner.problem import usual_walking
from lensyard.planner.season import (
    EvaluationSample,
    Progress,
    play_season,
    silent,
)
from lensyard.planner.season_data import SeasonPlays, stored_season
from lensyard.sun.exposure import USUAL_MAX_ISO

CACHE_VERSION = 3


def gear_comparison(
    context: Context,
    kits: Sequence[Kit],
    *,
    venue: Venue,
    assignment: Assignment,
    max_iso: float = USUAL_MAX_ISO,
    progress: Progress = silent,
) -> GearComparison:
    """Return the comparison of kits over the stored season that reports use.

    ``progress`` is told what takes a while; the rest is as `compare_kits` takes it.

    Raises
    ------
    DataError
        If no stored season fits the model.
    """
    plays = stored_season(context)
    found = [
        _season_figures(
            context,
            PlanRequest(kit, venue, assignment, walks=usual_walking(kit, assignment)),
            plays,
            progress=progress,
        )
        for kit in kits
    ]
    return compare_kits(
        kits,
        [figures for figures, _ in found],
        venue=venue,
        assignment=assignment,
        sample=found[0][1],
        model=context.model_facts(),
        max_iso=max_iso,
    )


def _season_figures(
    context: Context, request: PlanRequest, plays: SeasonPlays, *, progress: Progress
) -> tuple[KitFigures, EvaluationSample]:
    key = {
        "version": CACHE_VERSION,
        "what": "gear",
        "plan": request.key(context.model.manifest.arrays_sha256),
        "data": context.model.manifest.data_sha256,
        "season": plays.season,
    }

    def compute() -> dict[str, Any]:
        progress(f"a plan for {request.kit.text}")
        played = play_season(context, request, plays)
        return {"kit": asdict(kit_figures(played)), "sample": asdict(played.evaluation_sample)}

    found = cached(hashlib.sha256(json.dumps(key, sort_keys=True).encode()).hexdigest(), compute)
    kit = dict(found["kit"])
    kit["kit"] = request.kit.text
    kit["coverage_gaps_yd"] = tuple((low, high) for low, high in kit["coverage_gaps_yd"])
    kit["zones"] = tuple(KitZone(**zone) for zone in kit["zones"])
    for name in ("usable_by_game", "value_by_game"):
        kit[name] = tuple(kit[name])
    return KitFigures(**kit), EvaluationSample(**found["sample"])
