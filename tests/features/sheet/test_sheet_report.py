"""What goes on the sheet, and the commands; the plan's figures here are invented."""

from __future__ import annotations

import json
from datetime import datetime

import pytest
from tests.features.game_plan.invented import invented_plan, invented_row

from lensyard.cli import main
from lensyard.domain.assignment import Assignment
from lensyard.domain.kit import DEMO_KIT
from lensyard.domain.perimeter import perimeter_of
from lensyard.domain.venue import ClosedStretch, Edge, Venue, standard_venue
from lensyard.features.game_plan.result import PlanRow
from lensyard.features.sheet.compute import SheetContent, SheetRow, sheet_content, sheet_row
from lensyard.features.sheet.field import sheet_field
from lensyard.features.sheet.report import (
    closed_lines,
    sheet_document,
    sheet_report,
    short_cautions,
    where_text,
)
from lensyard.model.context import load_context
from lensyard.planner.plans import PlanRequest
from lensyard.planner.problem import scorers_of
from lensyard.settings.files import load_venue
from lensyard.sun.cautions import LIGHTNING_WAIT_MIN, RUN_OUT_ZONE_FT
from lensyard.sun.game_light import light_at_kickoff


def test_like_stretches_on_both_sidelines_are_one_line() -> None:
    venue = standard_venue(
        "pro",
        extra_closed=(
            ClosedStretch(Edge.SIDELINE_A, 20.0, 26.0, name="platform"),
            ClosedStretch(Edge.END_B, 20.0, 33.0, name="tunnel", walk_behind=False),
        ),
    )
    assert closed_lines(venue) == (
        "team area: both sidelines, end A's 30 to end B's 30",
        "platform: sideline A, end A's 10 to end A's 16",
        "tunnel: end B, 20 to 33 yd from the sideline A; no way behind it",
    )
    assert closed_lines(standard_venue("pro", team_area_from_yard_line=50)) == ("nothing",)


def test_the_cautions_are_the_usual_ones_and_end_with_who_decides() -> None:
    run_out, lightning, heat, deferral = short_cautions(standard_venue("pro"))
    # 18 ft: film study of 1977; 30 minutes: NFHS guideline of 2014; both named in light.cautions.
    assert f"{RUN_OUT_ZONE_FT:.0f} ft" in run_out
    assert f"{LIGHTNING_WAIT_MIN:.0f} minutes" in lightning
    assert heat.startswith("Heat")
    for words in ("Local rules", "staff", "licensed people decide"):
        assert words in deferral


def content_of(venue: Venue, at: datetime | None = None) -> SheetContent:
    request = PlanRequest(DEMO_KIT, venue)
    light = None if at is None else light_at_kickoff(venue, DEMO_KIT, at)
    plan = invented_plan(request, model=load_context().model_facts(), light=())
    return sheet_content(plan, light)


KICKOFF = datetime(2026, 10, 3, 15, 30)


def test_the_light_comes_with_a_time_and_a_place() -> None:
    lit = sheet_report(content_of(load_venue("brindle-prairie"), KICKOFF))
    light = lit.table("edges")
    assert light.column("quarter") == ("Q1", "Q2", "half", "Q3", "Q4")
    assert [column.label for column in light.columns[3:]] == [
        "home sideline", "north end", "visitors' sideline", "south end"
    ]  # fmt: skip
    assert ("when", "Saturday 3 October 2026, kickoff 15:30 CDT") in [
        (f.key, f.value) for f in lit.facts
    ]
    dark = sheet_report(content_of(standard_venue("pro"), KICKOFF))
    assert dark.table("edges").rows == ()
    assert "no place" in dark.notes[0]
    untimed = sheet_report(content_of(load_venue("brindle-prairie")))
    assert untimed.notes == ()
    assert not [fact for fact in untimed.facts if fact.key == "when"]


def test_equal_sides_are_marked_on_both_and_a_named_one_once() -> None:
    content = content_of(standard_venue("pro"))
    report = sheet_report(content)
    marks = sheet_field(content, report.table("zones")).marks
    places = {(mark.mark, mark.y_yd > 26.0) for mark in marks}
    assert {("A", True), ("A", False), ("5", True), ("5", False)} <= places
    assert "Both sides are equal." in report.table("phases").note
    assert report.headline == "Stand 25 yd ahead of the ball; farther in."
    assert report.table("shots").column("have") == (False,) * 15


def test_where_text_is_short() -> None:
    def said(row: PlanRow, *, with_side: bool) -> str:
        one = SheetRow(row, row.x_yd, row.y_yd, row.in_from_pylon_yd)
        return where_text(one, with_side=with_side)

    both = invented_row("x", "x", in_from_pylon_yd=16.0, end_line_from=56)
    assert said(both, with_side=True) == (
        "26 yd ahead; from its own 44 in: end line, 16 yd in, either side"
    )
    behind = invented_row("x", "x", ahead_yd=-12.0, side="home sideline")
    assert said(behind, with_side=False) == "12 yd behind the ball"
    assert said(invented_row("x", "x", ahead_yd=0.0), with_side=False) == "Level with the ball"


def wall(from_yd: float, to_yd: float) -> Venue:
    """A field whose end B is closed over a stretch and, turned, end A too."""
    closed = ClosedStretch(Edge.END_B, from_yd, to_yd, name="wall", front_yd=0.5)
    return standard_venue("pro", extra_closed=(closed, closed.turned()))


@pytest.mark.parametrize(
    ("closed", "in_yd", "stands_in_yd"),
    # Open, the rule's own place. Beside the goal post and before a wall the nearest open one.
    [(None, 16.0, 16.0), (None, 22.0, 20.0), ((13.0, 26.0), 22.0, 12.0), ((0.0, 17.0), 16.0, 18.0)],
)
def test_text_and_mark_of_the_end_line_are_one_place(
    closed: tuple[float, float] | None, in_yd: float, stands_in_yd: float
) -> None:
    venue = standard_venue("pro") if closed is None else wall(*closed)
    request = PlanRequest(DEMO_KIT, venue)
    scorer, _ = scorers_of(perimeter_of(venue, step_yd=request.step_yd), DEMO_KIT, Assignment())
    row = invented_row(
        "red-zone", "red zone", ahead_yd=None, in_from_pylon_yd=in_yd, yardline_100=12
    )
    one = sheet_row(row, scorer)
    assert one.end_line_in_yd == stands_in_yd
    assert one.x_yd > 120.0
    assert one.y_yd == one.end_line_in_yd
    text = where_text(one, with_side=False)
    assert text == f"End line, {one.end_line_in_yd:g} yd in"


def test_the_document_says_what_was_printed() -> None:
    content = content_of(load_venue("brindle-prairie"), KICKOFF)
    document = sheet_document(content, path="a.pdf", paper="a4")
    assert json.loads(json.dumps(document)) == document
    assert document["has_light"] is True
    assert document["kickoff"] == "2026-10-03T15:30:00-05:00"
    assert document["cautions"][-1].startswith("Local rules")
    assert document["model"]["id"]


@pytest.mark.parametrize(
    "arguments",
    [
        ["sheet", "--out", "sheet.doc"],
        ["card", "--out", "card.pdf"],
        ["sheet", "--at", "tomorrow"],
        ["sheet", "--paper", "legal"],
    ],
)
def test_wrong_usage_ends_with_2(arguments: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        main(arguments)
    assert ended.value.code == 2
    assert capsys.readouterr().err
