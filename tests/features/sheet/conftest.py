"""Sheets of an invented plan, as full as usual and as full as they get."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from typing import Any

import pytest
from tests.features.game_plan.invented import invented_card, invented_plan, invented_row

from lensyard.domain.kit import DEMO_KIT
from lensyard.domain.venue import ClosedStretch, Edge
from lensyard.features.sheet.compute import sheet_content
from lensyard.features.sheet.layout import Sheet
from lensyard.model.context import load_context
from lensyard.planner.plans import PlanRequest
from lensyard.settings.files import load_venue
from lensyard.sun.game_light import light_at_kickoff

KICKOFF = datetime(2026, 10, 3, 15, 30)
ZONES = (
    "own 1-20",
    "own 21-40",
    "own 41 to opponent's 41",
    "opponent's 40-21",
    "red zone 20-6",
    "inside the 5",
)
END: dict[str, Any] = {"ahead_yd": None, "in_from_pylon_yd": 16.0, "yardline_100": 12}
BOTH: dict[str, Any] = {"in_from_pylon_yd": 16.0, "end_line_from": 43}
PHASES: dict[str, dict[str, Any]] = {
    "Opening series": BOTH,
    "Own half": {},
    "Past midfield": BOTH,
    "Red zone": END,
    "Goal to go": END,
    "Two-minute drill": BOTH,
    "Defense": {"ahead_yd": -12.0},
}


def content_of(venue, at=None, **given):
    request = PlanRequest(DEMO_KIT, venue)
    light = None if at is None else light_at_kickoff(venue, DEMO_KIT, at)
    plan = invented_plan(request, model=load_context().model_facts(), light=(), **given)
    return sheet_content(plan, light)


@pytest.fixture
def content():
    return content_of


@pytest.fixture
def sheet():
    (side,) = Sheet.of(content_of(load_venue("brindle-prairie"), KICKOFF))
    return side


@pytest.fixture
def ends_sheet():
    """Front and back: rows toward each end, and a field with much that is closed."""
    venue = load_venue("tamarack-fork")
    ends = [
        invented_row(title, title, **{**some, "toward": end, "side": "home sideline", **place})
        for title, some in PHASES.items()
        for end, place in (
            ("creek end", {"y_yd": 55.33}),
            ("road end", {"y_yd": -2.0}),
        )
    ]
    made = content_of(
        venue,
        KICKOFF,
        phases=tuple(ends),
        zones=tuple(
            invented_row(name, name, yardline_100=90 - 16 * i) for i, name in enumerate(ZONES)
        ),
        rule_card=invented_card("creek end", "road end"),
    )
    return Sheet.of(made)


@pytest.fixture
def full_sheet():
    """Every phase and zone, long names, markup-like characters, and much that is closed."""
    venue = load_venue("brindle-prairie")
    closed = (
        *venue.closed,
        ClosedStretch(Edge.SIDELINE_B, 19.0, 40.0, name="marching band"),
        ClosedStretch(Edge.SIDELINE_A, 22.0, 26.0, name="camera platform of the house"),
        ClosedStretch(Edge.END_A, 2.0, 12.0, name="rail of the moving camera"),
    )
    long = "The $Memorial$ Recreation and Football Grounds of the County of Greater Larkmeadow"
    made = content_of(
        replace(venue, name=long, closed=closed),
        KICKOFF,
        phases=tuple(invented_row(title, title, **some) for title, some in PHASES.items()),
        zones=tuple(
            invented_row(name, name, **(END if i > 3 else {"yardline_100": 90 - 20 * i}))
            for i, name in enumerate(ZONES)
        ),
    )
    (side,) = Sheet.of(made)
    return side
