"""What goes on the printed sheet of a game: the plan, the light, the ground and the cautions."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from lensyard.domain.shots import FRAMES, MustHave
from lensyard.domain.venue import Edge, Venue, place_text
from lensyard.features.game_plan.compute import game_plan
from lensyard.features.game_plan.result import GamePlan
from lensyard.model.context import SCHEMA_VERSION, Context
from lensyard.planner.plans import PlanRequest
from lensyard.planner.season import Progress, silent
from lensyard.planner.season_data import stored_season
from lensyard.sun.cautions import (
    LIGHTNING_WAIT_MIN,
    RUN_OUT_ZONE_FT,
    RUN_OUT_ZONE_SHARE,
    warning_time_s,
)
from lensyard.sun.game_light import KickoffLight, light_at_kickoff
from lensyard.units import FEET_PER_YARD

WHO_DECIDES = (
    "Local rules, your credential, the venue's staff and licensed people decide; this is only a "
    "reminder."
)
"""`lensyard.sun.cautions.DEFERRAL`, short enough for paper."""


@dataclass(frozen=True, slots=True)
class SheetRequest:
    """What is printed.

    Attributes
    ----------
    plan
        Kit, venue, assignment, walking.
    kickoff
        When; naive is the venue's clock. None leaves date and light out.
    have
        Keys of frames that are ticked.
    """

    plan: PlanRequest
    kickoff: datetime | None = None
    have: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class SheetContent:
    """Everything on the sheet.

    Attributes
    ----------
    report
        The plan.
    frames
        The shot list, or the usual frames where the assignment has none.
    light
        When, and what the light does; None without a kickoff.
    closed
        The closed stretches in words.
    cautions
        Short ones; the last says who decides.
    """

    request: SheetRequest
    report: GamePlan
    frames: tuple[MustHave, ...]
    light: KickoffLight | None
    closed: tuple[str, ...]
    cautions: tuple[str, ...]


def sheet_content(
    context: Context, request: SheetRequest, *, progress: Progress = silent
) -> SheetContent:
    """Return what goes on the sheet.

    Raises
    ------
    InvalidInputError
        If the kickoff does not exist in the venue's time zone, or a ticked key is on no list.
    """
    plan, venue = request.plan, request.plan.venue
    light = None
    if request.kickoff is not None:
        light = light_at_kickoff(venue, plan.kit, request.kickoff)
    plays = stored_season(context)
    report = game_plan(context, plan, plays, have=request.have, progress=progress)
    return SheetContent(
        request=request,
        report=report,
        frames=plan.assignment.must_have or tuple(FRAMES.values()),
        light=light,
        closed=closed_lines(venue),
        cautions=short_cautions(venue),
    )


def closed_lines(venue: Venue) -> tuple[str, ...]:
    """Return the closed stretches in a few words each; like ones on both sidelines are one line.

    >>> from lensyard.domain.venue import standard_venue
    >>> closed_lines(standard_venue("pro"))
    ("team area: both sidelines, end A's 30 to end B's 30",)
    """
    lines: dict[tuple[str, str, bool], list[Edge]] = {}
    for stretch in venue.closed:
        if stretch.edge.is_sideline:
            where = f"{place_text(stretch.from_yd, venue)} to {place_text(stretch.to_yd, venue)}"
        else:
            corner = venue.edge_name(Edge.SIDELINE_A)
            where = f"{stretch.from_yd:.0f} to {stretch.to_yd:.0f} yd from the {corner}"
        lines.setdefault((stretch.name, where, stretch.walk_behind), []).append(stretch.edge)
    found = []
    for (name, where, walk_behind), edges in lines.items():
        both = {Edge.SIDELINE_A, Edge.SIDELINE_B} <= set(edges)
        at = "both sidelines" if both else venue.edge_name(edges[0])
        found.append(f"{name}: {at}, {where}{'' if walk_behind else '; no way behind it'}")
    return tuple(found) or ("nothing",)


def short_cautions(venue: Venue) -> tuple[str, ...]:
    """Return the usual cautions short enough for paper; the last says who decides."""
    near_yd = min(venue.side_setback_yd, venue.end_setback_yd)
    notes = [
        f"Run-outs: {RUN_OUT_ZONE_SHARE:.0%} of players who left the field stayed within "
        f"{RUN_OUT_ZONE_FT:.0f} ft of the line (film study). You stand "
        f"{near_yd * FEET_PER_YARD:.0f} ft behind it: {warning_time_s(setback_yd=near_yd):.1f} s "
        "at a sprint. Sit or kneel only where you can rise at once; leave early."
    ]
    if not venue.covered:
        notes.append(
            "Lightning: at thunder or a strike everybody goes into a solid building or a closed "
            f"car, until {LIGHTNING_WAIT_MIN:.0f} minutes after the last one."
        )
    notes.append("Heat: drink, seek shade between series, say so when you feel ill.")
    return (*notes, WHO_DECIDES)


def sheet_document(content: SheetContent, *, path: str, paper: str) -> dict[str, Any]:
    """Return what was printed, as one JSON document (``lensyard sheet --json``)."""
    report, light = content.report, content.light
    return {
        "schema_version": SCHEMA_VERSION,
        "path": path,
        "paper": paper,
        "key": report.key,
        "kit": report.request.kit.text,
        "venue": report.request.venue.name,
        "assignment": report.request.assignment.name,
        "kickoff": None if light is None else light.kickoff.at.isoformat(),
        "has_light": light is not None and light.light is not None,
        "frames": [frame.key for frame in content.frames],
        "have": list(report.have),
        "closed": list(content.closed),
        "model": report.model,
        "cautions": list(content.cautions),
    }
