"""A sheet made by hand (everything on it is invented)."""

from __future__ import annotations

from dataclasses import replace

import pytest

from lensyard.domain.field import Direction
from lensyard.domain.shots import FRAMES
from lensyard.domain.venue import standard_venue
from lensyard.features.sheet.layout import (
    Sheet,
    SheetGround,
    SheetLine,
    SheetSpot,
    TickLine,
    ZoneBand,
)
from lensyard.render.field.picture import ClosedMark, closed_marks

LIGHT_HEAD = ("", "from", "sun", "home sideline", "north end", "visitors' sideline", "south end")
LIGHT_ROWS = tuple(
    (name, at, sun, "side→back", "back→none", "front", "none")
    for name, at, sun in (
        ("Q1", "15:30", "31→24°"),
        ("Q2", "16:14", "24→16°"),
        ("half", "16:58", "16→14°"),
        ("Q3", "17:11", "14→6°"),
        ("Q4", "17:55", "6→−2°"),
    )
)


def made_sheet() -> Sheet:
    """Return a sheet as full as a usual one gets."""
    venue = standard_venue("college")
    spots = [("1", 33.0), ("2", 86.0), ("3", 86.0), ("A", 87.0), ("B", 88.5), ("F", 96.0)]
    sides = [SheetSpot(mark, x, y) for mark, x in spots for y in (-4.0, 57.3)]
    ends = [SheetSpot(mark, 124.0, y) for mark in "456CDE" for y in (18.0, 35.3)]
    phases = (
        ("A", "Opening series", "32 yd ahead; from the 44 in: end line, 16 yd in"),
        ("B", "Own half", "32 yd ahead"),
        ("C", "Past midfield", "26 yd ahead; from the 43 in: end line, 16 yd in"),
        ("D", "Red zone", "End line, 16 yd in"),
        ("E", "Goal to go", "End line, 16 yd in"),
        ("F", "Two-minute drill", "32 yd ahead; from the 43 in: end line, 16 yd in"),
        ("G", "Defense", "12 yd behind the ball"),
    )
    zones = (
        ("1", "own 1-20", 10.5, 30.5),
        ("2", "own 21-40", 30.5, 50.5),
        ("3", "own 41 to opp 41", 50.5, 69.5),
        ("4", "opp 40-21", 69.5, 89.5),
        ("5", "red zone 20-6", 89.5, 104.5),
        ("6", "inside the 5", 104.5, 109.5),
    )
    return Sheet(
        title="Larkmeadow Field",
        when="Sat 3 Oct 2026, kickoff 15:30 CDT",
        about=("70-200 + 400 (2 bodies, reach 40 yd); college rules; assignment: newspaper",),
        rule="Stand 27.5 yd ahead of the ball; from the 30 in, behind the end line 16 yd in from "
        "the pylon.",
        rule_earns="54 usable plays a game and 48% of the value; the whole plan 55 (49%).",
        ground=SheetGround(
            rules=venue.rules,
            closed=closed_marks(venue, Direction.TOWARD_B),
            side_setback_yd=venue.side_setback_yd,
            end_setback_yd=venue.end_setback_yd,
            top="north end",
            left="visitors' sideline",
            right="home sideline",
        ),
        zones=tuple(ZoneBand(m, title, a, b, "51%", "43%") for m, title, a, b in zones),
        spots=(*sides, *ends),
        lines=tuple(SheetLine(m, title, where, "42%", "33%") for m, title, where in phases),
        read="Both sides are equal. Marks: the spot for the usual ball of a zone or phase.",
        light_head=LIGHT_HEAD,
        light_rows=LIGHT_ROWS,
        light_note="Seen from the middle of each edge, looking across. Sunset 18:31.",
        ticks_title="Shot list",
        ticks=tuple(
            TickLine(f.title, f.when, i == 0) for i, f in enumerate(list(FRAMES.values())[:9])
        ),
        closed=("Team area: both sidelines, south end's 25 to north end's 25.",),
        cautions=(
            "Run-outs: 95% of players who left the field stayed within 18 ft of the line.",
            "Lightning: at thunder or a strike everybody goes into a solid building.",
            "Local rules, your credential, the venue's staff and licensed people decide.",
        ),
        foot="Model invented-1: 1,000 invented plays. Public domain.",
    )


@pytest.fixture
def sheet() -> Sheet:
    return made_sheet()


@pytest.fixture
def full_sheet() -> Sheet:
    """Every usual frame to tick, long names, and markup-like characters."""
    plain = made_sheet()
    band = ClosedMark(9.0, 30.0, 55.0, 62.0, "marching band")
    crowd = tuple(SheetSpot(mark, 124.0, y) for mark in "123456ABCDEF" for y in (16.0, 37.3))
    return replace(
        plain,
        ground=replace(plain.ground, closed=(*plain.ground.closed, band)),
        spots=(*plain.spots, *crowd),
        title="The $Memorial$ Recreation and Football Grounds of the County of Greater Larkmeadow",
        ticks=tuple(TickLine(f.title, f.when, False) for f in FRAMES.values()),
        closed=(
            *plain.closed,
            "Camera platform of the house: home sideline, south end's 22 to south end's 26.",
            "Rail of the moving camera: visitors' sideline, south end's 10 to south end's 30.",
        ),
    )
