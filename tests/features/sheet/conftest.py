"""A sheet made by hand (everything on it is invented)."""

from __future__ import annotations

from dataclasses import replace

import pytest

from lensyard.domain.assignment import FRAMES
from lensyard.domain.field import Direction
from lensyard.domain.venue import standard_venue
from lensyard.features.sheet.field import SheetField, SheetMark
from lensyard.features.sheet.layout import Sheet
from lensyard.render.field.picture import ClosedMark, closed_marks
from lensyard.render.report import Column, Fact, Format, Report, Section, Table, Value

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
EDGES = ("home sideline", "north end", "visitors' sideline", "south end")
PHASES = (
    ("A", "Opening series", "32 yd ahead; from the 44 in: end line, 16 yd in"),
    ("B", "Own half", "32 yd ahead"),
    ("C", "Past midfield", "26 yd ahead; from the 43 in: end line, 16 yd in"),
    ("D", "Red zone", "End line, 16 yd in"),
    ("E", "Goal to go", "End line, 16 yd in"),
    ("F", "Two-minute drill", "32 yd ahead; from the 43 in: end line, 16 yd in"),
    ("G", "Defense", "12 yd behind the ball"),
)
ZONES = (
    ("1", "own 1-20", 10.5, 30.5),
    ("2", "own 21-40", 30.5, 50.5),
    ("3", "own 41 to opp 41", 50.5, 69.5),
    ("4", "opp 40-21", 69.5, 89.5),
    ("5", "red zone 20-6", 89.5, 104.5),
    ("6", "inside the 5", 104.5, 109.5),
)


def table(key: str, title: str, keys: str, rows: tuple[tuple[Value, ...], ...]) -> Table:
    """Return a table; shares are percents."""
    columns = tuple(
        Column(name, name, Format.PERCENT if name in ("usable", "habit") else Format.TEXT)
        for name in keys.split()
    )
    return Table(key, title, columns, rows)


def made_report() -> Report:
    """Return a report as full as a usual one gets."""
    light = Table(
        "edges",
        "Light",
        (Column("quarter", ""), Column("from", "from"), Column("sun", "sun"),
         *(Column(f"e{i}", name) for i, name in enumerate(EDGES))),
        LIGHT_ROWS,
    )  # fmt: skip
    phases = table(
        "phases", "Where to stand", "mark title where usable habit",
        tuple((*row, 0.42, 0.33) for row in PHASES),
    )  # fmt: skip
    shots = tuple((f.title, f.when, i == 0) for i, f in enumerate(list(FRAMES.values())[:9]))
    return Report(
        headline="Stand 27.5 yd ahead of the ball; from the 30 in, behind the end line 16 yd in "
        "from the pylon.",
        sentences=("54 usable plays a game and 48% of the value; the whole plan 55 (49%).",),
        facts=(
            Fact("venue", "Venue", "Larkmeadow Field"),
            Fact(
                "about",
                "For",
                "70-200 + 400 (2 bodies, reach 40 yd); college rules; assignment: newspaper",
            ),
            Fact("when", "When", "Sat 3 Oct 2026, kickoff 15:30 CDT"),
        ),
        tables=(
            replace(
                phases,
                note="Both sides are equal. Marks: the spot for the usual ball of a zone or phase.",
            ),
            table(
                "zones", "Zones", "mark title from_x_yd to_x_yd usable habit",
                tuple((*row, 0.51, 0.43) for row in ZONES),
            ),
            light,
            table("shots", "Shot list", "title when have", shots),
        ),
        sections=(
            Section("Closed", ("Team area: both sidelines, south end's 25 to north end's 25.",)),
        ),
        notes=("Seen from the middle of each edge, looking across. Sunset 18:31.",),
        cautions=(
            "Run-outs: 95% of players who left the field stayed within 18 ft of the line.",
            "Lightning: at thunder or a strike everybody goes into a solid building.",
            "Local rules, your credential, the venue's staff and licensed people decide.",
        ),
        sources=("Model invented-1: 1,000 invented plays. Public domain.",),
    )  # fmt: skip


def made_sheet() -> Sheet:
    """Return the report with its field."""
    venue = replace(
        standard_venue("college"),
        end_names=("south end", "north end"),
        sideline_names=("home sideline", "visitors' sideline"),
    )
    spots = [("1", 33.0), ("2", 86.0), ("3", 86.0), ("A", 87.0), ("B", 88.5), ("F", 96.0)]
    sides = [SheetMark(mark, x, y) for mark, x in spots for y in (-4.0, 57.3)]
    ends = [SheetMark(mark, 124.0, y) for mark in "456CDE" for y in (18.0, 35.3)]
    report = made_report()
    return Sheet(
        report,
        SheetField(
            venue=venue,
            zones=report.table("zones"),
            marks=(*sides, *ends),
            closed=closed_marks(venue, Direction.TOWARD_B),
        ),
    )


def with_shots(sheet: Sheet, rows: tuple[tuple[Value, ...], ...]) -> Sheet:
    """Return a sheet with another shot list."""
    tables = tuple(
        replace(one, rows=rows) if one.key == "shots" else one for one in sheet.report.tables
    )
    return replace(sheet, report=replace(sheet.report, tables=tables))


@pytest.fixture
def sheet() -> Sheet:
    return made_sheet()


@pytest.fixture
def full_sheet() -> Sheet:
    """Every usual frame to tick, long names, and markup-like characters."""
    plain = made_sheet()
    band = ClosedMark(9.0, 30.0, 55.0, 62.0, "marching band")
    crowd = tuple(SheetMark(mark, 124.0, y) for mark in "123456ABCDEF" for y in (16.0, 37.3))
    field = replace(
        plain.field, closed=(*plain.field.closed, band), marks=(*plain.field.marks, *crowd)
    )
    long = "The $Memorial$ Recreation and Football Grounds of the County of Greater Larkmeadow"
    (closed,) = plain.report.sections
    report = replace(
        plain.report,
        facts=(Fact("venue", "Venue", long), *plain.report.facts[1:]),
        sections=(
            replace(
                closed,
                lines=(
                    *closed.lines,
                    "Camera platform of the house: home sideline, south end's 22 to south end's "
                    "26.",
                    "Rail of the moving camera: visitors' sideline, south end's 10 to south end's "
                    "30.",
                ),
            ),
        ),
    )
    frames = tuple((f.title, f.when, False) for f in FRAMES.values())
    return with_shots(replace(plain, report=report, field=field), frames)
