"""Whether the plan's lead over the best published advice holds under other assumptions."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from lensyard.domain.assignment import USABLE_WEIGHTS
from lensyard.domain.perimeter import PACE_YD_S
from lensyard.domain.venue import Venue, end_lines_past
from lensyard.errors import InvalidInputError
from lensyard.features.evidence.advice import published_advice, readings_of, walked
from lensyard.model.context import Context
from lensyard.planner.plans import PlanRequest
from lensyard.planner.season import PlayedSeason, play_season
from lensyard.planner.season_data import SeasonPlays
from lensyard.planner.simulate import value_ratio

FACING_DEG: Final = (60.0, 75.0, 90.0, 180.0)
CROP_MARGINS: Final = (1.0, 1.25, 1.5)
SETBACKS_YD: Final = (2.0, 3.0, 4.0, 5.0)
PACES_YD_S: Final = {"stroll": 1.1, "usual walk": PACE_YD_S, "brisk walk": 2.0, "jog": 2.5}
"""The same seconds at another pace (`lensyard.domain.perimeter`). [yd/s]"""
END_LINE_OPEN_YD: Final = (26.0, 18.0, 12.0, 6.0, 0.0)
STEP_YD: Final = 4.0
"""Between stations. [yd]"""


@dataclass(frozen=True, slots=True)
class Lead:
    """The plan beside the best published advice under one assumption.

    ``over``: the plan's value over that of the best reading of the best rule: ratio, low, high. The
    advice is chosen anew under every assumption, on the season itself.
    """

    assumption: str
    level: str
    usual: bool
    plan_value_share: float
    advice_value_share: float
    advice: str
    over: tuple[float, float, float]

    @property
    def holds(self) -> bool:
        """Whether the whole interval lies above 1."""
        return self.over[1] > 1.0


@dataclass(frozen=True, slots=True)
class Sensitivity:
    """The plan's lead for one kit under every assumption in turn, the others being as usual.

    ``key`` is of the request and the model; stations lie ``step_yd`` apart. [yd]
    """

    key: str
    season: int
    kit: str
    venue: str
    assignment: str
    step_yd: float
    leads: tuple[Lead, ...]
    model: Mapping[str, object]
    cautions: tuple[str, ...] = ()


def coarse(request: PlanRequest) -> PlanRequest:
    """Return a request with stations `STEP_YD` apart: a comparison needs no finer ones."""
    return replace(request, step_yd=STEP_YD)


def sensitivity(
    context: Context,
    request: PlanRequest,
    plays: SeasonPlays,
    *,
    progress: Callable[[str], None],
) -> Sensitivity:
    """Return the plan's lead under every assumption; a plan is solved anew for each.

    Raises `InvalidInputError` if the model was fitted on the season.
    """
    if not plays.held_out:
        raise InvalidInputError(
            f"the model {context.model.model_id} was fitted on season {plays.season}; choose one "
            "that it has not seen"
        )
    varied = list(scenarios(request))
    requests = list(dict.fromkeys(other for _, _, other in varied))
    found = {}
    for i, other in enumerate(requests, start=1):
        progress(f"plan {i} of {len(requests)} for {request.kit.text} on season {plays.season}")
        found[other] = _lead(play_season(context, other, plays))
    return Sensitivity(
        key=request.key(context.model.manifest.arrays_sha256),
        season=plays.season,
        kit=request.kit.text,
        venue=request.venue.name,
        assignment=request.assignment.name,
        step_yd=request.step_yd,
        leads=tuple(
            Lead(assumption, level, other == request, *found[other])
            for assumption, level, other in varied
        ),
        model=context.model_facts(),
    )


def scenarios(request: PlanRequest) -> Iterator[tuple[str, str, PlanRequest]]:
    """Yield every assumption with its level in words and the request under it."""
    kit, venue = request.kit, request.venue
    for limit in FACING_DEG:
        words = "no limit" if limit == 180 else f"{limit:g} degrees"
        yield "Facing", words, replace(request, facing_limit_deg=limit)
    for margin in CROP_MARGINS:
        yield "Crop margin", f"{margin:g}", replace(request, kit=replace(kit, crop_margin=margin))
    for setback in SETBACKS_YD:
        moved = replace(venue, side_setback_yd=setback, end_setback_yd=setback)
        yield "Setback", f"{setback:g} yd", replace(request, venue=moved)
    for name, pace in PACES_YD_S.items():
        yield "Pace", name, _at(request, pace / PACE_YD_S)
    plain = replace(request.assignment, weights=USABLE_WEIGHTS)
    yield "Weights", "the assignment's", request
    yield "Weights", "every usable play alike", replace(request, assignment=plain)
    for open_yd in END_LINE_OPEN_YD:
        words = "all" if open_yd == END_LINE_OPEN_YD[0] else f"{open_yd:g} yd from each pylon"
        yield "End line open", words, replace(request, venue=_open(venue, open_yd))


def _at(request: PlanRequest, times: float) -> PlanRequest:
    if times == 1.0:
        return request
    usual = request.walking
    walks = replace(
        usual,
        drive_limit_yd=usual.drive_limit_yd * times,
        change_limit_yd=usual.change_limit_yd * times,
    )
    return replace(request, walks=walks)


def _open(venue: Venue, open_yd: float) -> Venue:
    closed = () if open_yd == END_LINE_OPEN_YD[0] else end_lines_past(open_yd)
    return replace(venue, closed=(*venue.closed, *closed))


def _lead(played: PlayedSeason) -> tuple[float, float, str, tuple[float, float, float]]:
    """Return the plan's share, the best advice's, its words, and the ratio with its interval."""
    data = played.season_data
    sourced = {advice.id for advice in published_advice() if advice.kind != "practice"}
    by_rule = readings_of(data, reach_yd=played.request.kit.reach_yd)
    readings = [reading for name, some in by_rule.items() if name in sourced for reading in some]
    traces = walked(data, readings)
    shares = [data.value_share(trace.station_index) for trace in traces]
    best = int(np.round(shares, 6).argmax())
    plan = data.value_share(played.plan.station_index)
    over = value_ratio(data, played.plan, traces[best])
    return plan, shares[best], readings[best].words, over
