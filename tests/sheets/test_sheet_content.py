"""What goes on the sheet, and the commands; the plan's figures here are invented."""

from __future__ import annotations

import json
from datetime import datetime
from pathlib import Path

import pytest
from tests.features.game_plan.invented import invented_plan, invented_row

from lensyard.cli import main
from lensyard.domain.kit import DEMO_KIT
from lensyard.domain.venue import ClosedStretch, Edge, standard_venue
from lensyard.features.sheet import compute as module
from lensyard.features.sheet.compute import (
    SheetRequest,
    closed_lines,
    sheet_content,
    short_cautions,
)
from lensyard.features.sheet.report import line_text, sheet_of
from lensyard.model.context import load_context
from lensyard.planner.plans import PlanRequest
from lensyard.settings.venue_file import load_venue
from lensyard.sun.cautions import LIGHTNING_WAIT_MIN, RUN_OUT_ZONE_FT


@pytest.fixture(autouse=True)
def _invented_plan(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(
        module,
        "game_plan",
        lambda _, request, *__, **___: invented_plan(
            request, model=load_context().model_facts(), light=(), must_have=(), breaks=()
        ),
    )


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


def test_the_light_comes_with_a_time_and_a_place() -> None:
    context = load_context()
    somewhere = PlanRequest(DEMO_KIT, load_venue("brindle-prairie"))
    nowhere = PlanRequest(DEMO_KIT, standard_venue("pro"))
    at = datetime(2026, 10, 3, 15, 30)
    lit = sheet_content(context, SheetRequest(somewhere, at))
    sheet = sheet_of(lit)
    assert [row[0] for row in sheet.light_rows] == ["Q1", "Q2", "half", "Q3", "Q4"]
    assert sheet.light_head[3:] == (
        "home sideline", "north end", "visitors' sideline", "south end"
    )  # fmt: skip
    assert "kickoff 15:30 CDT" in sheet.when
    dark = sheet_content(context, SheetRequest(nowhere, at))
    assert dark.light.light is None
    assert "no place" in dark.light.note
    untimed = sheet_of(sheet_content(context, SheetRequest(somewhere)))
    assert (untimed.when, untimed.light_rows, untimed.light_note) == ("", (), "")


def test_equal_sides_are_marked_on_both_and_a_named_one_once() -> None:
    context = load_context()
    sheet = sheet_of(
        sheet_content(context, SheetRequest(PlanRequest(DEMO_KIT, standard_venue("pro"))))
    )
    places = {(spot.mark, spot.y_yd > 26.0) for spot in sheet.spots}
    assert {("A", True), ("A", False), ("5", True), ("5", False)} <= places
    assert "Both sides are equal." in sheet.read
    assert sheet.rule == "Stand 25 yd ahead of the ball; farther in."
    assert [tick.have for tick in sheet.ticks] == [False] * 15


def test_lines_are_said_shortly() -> None:
    row = invented_row("x", "x", in_from_pylon_yd=16.0, end_line_from=56)
    assert line_text(row, with_side=True) == (
        "26 yd ahead; from its own 44 in: end line, 16 yd in, either side"
    )
    behind = invented_row("x", "x", ahead_yd=-12.0, side="home sideline")
    assert line_text(behind, with_side=False) == "12 yd behind the ball"
    assert line_text(invented_row("x", "x", ahead_yd=0.0), with_side=False) == "Level with the ball"


def test_the_command_writes_the_same_file_twice(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    files = [tmp_path / "one.pdf", tmp_path / "two.pdf"]
    for path in files:
        command = ["sheet", "--venue", "brindle-prairie", "--at", "2026-10-03T15:30"]
        main([*command, "--paper", "a4", "--out", str(path), "--json"])
        said = json.loads(capsys.readouterr().out)
        assert said["paper"] == "a4"
        assert said["has_light"] is True
        assert said["model"]["id"]
        assert said["cautions"]
    assert files[0].read_bytes() == files[1].read_bytes()
    assert sorted(p.name for p in tmp_path.iterdir()) == ["one.pdf", "two.pdf"]


@pytest.mark.parametrize(
    "arguments",
    [
        ["sheet", "--out", "sheet.doc"],
        ["card", "--out", "card.pdf"],
        ["sheet", "--at", "tomorrow"],
        ["sheet", "--paper", "legal"],
        ["sheet", "--out", "/nowhere/at/all/sheet.pdf"],
    ],
)
def test_wrong_usage_ends_with_2(arguments: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        main(arguments)
    assert ended.value.code == 2
    assert capsys.readouterr().err
