"""Whether the plan's lead over the best published advice holds under other assumptions."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from lensyard.domain.assignment import USABLE_WEIGHTS
from lensyard.domain.tempo import PACE_YD_S
from lensyard.domain.venue import Venue, end_lines_past
from lensyard.errors import InvalidInputError
from lensyard.features.evidence.advice import published_advice, readings_of, walked
from lensyard.model.context import Context
from lensyard.planner.plans import PlanRequest
from lensyard.planner.season import play_season
from lensyard.planner.season_data import SeasonPlays
from lensyard.planner.simulate import value_ratio

FACING_DEG: Final = (60.0, 75.0, 90.0, 180.0)
CROP_MARGINS: Final = (1.0, 1.25, 1.5)
SETBACKS_YD: Final = (2.0, 3.0, 4.0, 5.0)
PACES_YD_S: Final = {"stroll": 1.1, "usual walk": PACE_YD_S, "brisk walk": 2.0, "jog": 2.5}
"""The same seconds at another pace (`lensyard.domain.tempo`). [yd/s]"""
END_LINE_OPEN_YD: Final = (26.0, 18.0, 12.0, 6.0, 0.0)


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
    """The plan's lead for one kit under every assumption in turn, the others being as usual."""

    season: int
    kit: str
    venue: str
    assignment: str
    leads: tuple[Lead, ...]
    model: Mapping[str, object]
    cautions: tuple[str, ...] = ()


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
    found: dict[PlanRequest, tuple[float, float, str, tuple[float, float, float]]] = {}
    leads = []
    for assumption, level, other in scenarios(request):
        if other not in found:
            progress(f"{assumption}: {level}")
            found[other] = _lead(context, other, plays)
        plan, advice, name, over = found[other]
        usual = other == request
        leads.append(Lead(assumption, level, usual, plan, advice, name, over))
    return Sensitivity(
        season=plays.season,
        kit=request.kit.text,
        venue=request.venue.name,
        assignment=request.assignment.name,
        leads=tuple(leads),
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


def _lead(
    context: Context, request: PlanRequest, plays: SeasonPlays
) -> tuple[float, float, str, tuple[float, float, float]]:
    """Return the plan's share, the best advice's, its words, and the ratio with its interval."""
    played = play_season(context, request, plays)
    data = played.season_data
    sourced = {advice.id for advice in published_advice() if advice.kind != "practice"}
    readings = readings_of(data, reach_yd=request.kit.reach_yd)
    best, trace, words = -1.0, played.habit, ""
    for name, some in readings.items():
        if name not in sourced:
            continue
        traces = walked(data, some)
        shares = [data.value_share(data.had(one.station_index)) for one in traces]
        top = int(np.round(shares, 6).argmax())
        if shares[top] > best:
            best, trace, words = shares[top], traces[top], some[top].words
    plan = data.value_share(data.had(played.plan.station_index))
    return plan, best, words, value_ratio(data, played.plan, trace)
