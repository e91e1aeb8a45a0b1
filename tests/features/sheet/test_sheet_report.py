"""What goes on the sheet; the plan's figures here are invented."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import datetime

import pytest
from tests.features.game_plan.invented import invented_row

from lensyard.domain.venue import ClosedStretch, Edge, Venue, standard_venue
from lensyard.features.sheet.compute import SheetContent
from lensyard.features.sheet.report import sheet_document, sheet_report
from lensyard.settings.files import load_venue
from lensyard.sun.cautions import LIGHTNING_WAIT_MIN, RUN_OUT_ZONE_FT

KICKOFF = datetime(2026, 10, 3, 15, 30)
Content = Callable[..., SheetContent]


def test_like_stretches_on_both_sidelines_are_one_line(content: Content) -> None:
    platform = ClosedStretch(Edge.SIDELINE_A, 20.0, 26.0, name="platform")
    tunnel = ClosedStretch(Edge.END_B, 20.0, 33.0, name="tunnel", walk_behind=False)
    for venue, lines in (
        (
            standard_venue("pro", extra_closed=(platform, tunnel)),
            (
                "Team area: both sidelines, end A's 30 to end B's 30.",
                "Platform: sideline A, end A's 10 to end A's 16.",
                "Tunnel: end B, 20 to 33 yd from the sideline A; no way behind it.",
            ),
        ),
        (standard_venue("pro", team_area_from_yard_line=50), ("Nothing.",)),
    ):
        assert sheet_report(content(venue)).sections[0].lines == lines


def test_the_cautions_are_the_usual_ones_and_end_with_who_decides(content: Content) -> None:
    run_out, lightning, heat, deferral = sheet_report(content(standard_venue("pro"))).cautions
    # 18 ft: film study of 1977; 30 minutes: NFHS guideline of 2014; both named in light.cautions.
    assert f"{RUN_OUT_ZONE_FT:.0f} ft" in run_out
    assert f"{LIGHTNING_WAIT_MIN:.0f} minutes" in lightning
    assert heat.startswith("Heat")
    for words in ("Local rules", "staff", "licensed people decide"):
        assert words in deferral


def test_the_light_comes_with_a_time_and_a_place(content: Content) -> None:
    lit = sheet_report(content(load_venue("brindle-prairie"), KICKOFF))
    light = lit.table("edges")
    assert light.column("quarter") == ("Q1", "Q2", "half", "Q3", "Q4")
    assert [column.label for column in light.columns[3:]] == [
        "home sideline", "north end", "visitors' sideline", "south end"
    ]  # fmt: skip
    assert ("when", "Saturday 3 October 2026, kickoff 15:30 CDT") in [
        (f.key, f.value) for f in lit.facts
    ]
    dark = sheet_report(content(standard_venue("pro"), KICKOFF))
    assert dark.table("edges").rows == ()
    assert "no place" in dark.notes[0]
    untimed = sheet_report(content(load_venue("brindle-prairie")))
    assert untimed.notes == ()
    assert not [fact for fact in untimed.facts if fact.key == "when"]


def test_the_rule_stands_on_top_and_equal_sides_are_said(content: Content) -> None:
    report = sheet_report(content(standard_venue("pro")))
    assert "Both sides are equal." in report.table("phases").note
    assert report.headline == "Stand 25 yd ahead of the ball; farther in."
    assert report.table("shots").column("have") == (False,) * 15


def test_where_is_short(content: Content) -> None:
    rows = (
        invented_row("x", "x", in_from_pylon_yd=16.0, end_line_from=56),
        invented_row("x", "x", ahead_yd=-12.0, side="home sideline"),
        invented_row("x", "x", ahead_yd=0.0),
    )
    report = sheet_report(content(standard_venue("pro"), phases=rows))
    assert report.table("phases").column("where") == (
        "26 yd ahead; from its own 44 in: end line, 16 yd in, either side",
        "12 yd behind the ball, home sideline",
        "Level with the ball, either side",
    )


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
    content: Content, closed: tuple[float, float] | None, in_yd: float, stands_in_yd: float
) -> None:
    venue = standard_venue("pro") if closed is None else wall(*closed)
    row = invented_row(
        "red-zone", "red zone", ahead_yd=None, in_from_pylon_yd=in_yd, yardline_100=12
    )
    made = content(venue, phases=(row,))
    (one,) = made.phases
    assert one.x_yd > 120.0
    assert one.y_yd == stands_in_yd
    where = sheet_report(made).table("phases").column("where")
    assert where == (f"End line, {stands_in_yd:g} yd in",)


def test_the_document_says_what_was_printed(content: Content) -> None:
    made = content(load_venue("brindle-prairie"), KICKOFF)
    document = sheet_document(made, path="a.pdf", paper="a4")
    assert json.loads(json.dumps(document)) == document
    assert document["has_light"] is True
    assert document["kickoff"] == "2026-10-03T15:30:00-05:00"
    assert document["cautions"][-1].startswith("Local rules")
