"""What goes on the sheet; the plan's figures here are invented."""

from datetime import datetime

import pytest
from tests.features.game_plan.invented import invented_row

from lensyard.domain.venue import ClosedStretch, Edge, standard_venue
from lensyard.features.sheet.report import sheet_report
from lensyard.settings.files import load_venue

LIGHTNING_WAIT_MIN = 30
RUN_OUT_ZONE_FT = 18

KICKOFF = datetime(2026, 10, 3, 15, 30)


def test_like_stretches_on_both_sidelines_are_one_line(content):
    platform = ClosedStretch(Edge.SIDELINE_A, 20.0, 26.0, name="platform")
    tunnel = ClosedStretch(Edge.END_B, 20.0, 33.0, name="tunnel", walk_behind=False)
    for venue, lines in (
        (
            standard_venue("pro", extra_closed=(platform, tunnel)),
            (
                "a  Team area: both sidelines, end A's 30 to end B's 30.",
                "b  Platform: sideline A, end A's 10 to end A's 16.",
                "c  Tunnel: end B, 20 to 33 yd from the sideline A; no way behind it.",
            ),
        ),
        (standard_venue("pro", team_area_from_yard_line=50), ("Nothing.",)),
    ):
        assert sheet_report(content(venue)).sections[0].lines == lines


def test_the_cautions_are_the_usual_ones_and_end_with_who_decides(content):
    run_out, lightning, heat, deferral = sheet_report(content(standard_venue("pro"))).cautions
    # 18 ft: film study of 1977; 30 minutes: NFHS guideline of 2014; both named in light.cautions.
    assert f"{RUN_OUT_ZONE_FT:.0f} ft" in run_out
    assert f"{LIGHTNING_WAIT_MIN:.0f} minutes" in lightning
    assert heat.startswith("Heat")
    for words in ("Local rules", "staff", "licensed people decide"):
        assert words in deferral


def test_the_light_comes_with_a_time_and_a_place(content):
    lit = sheet_report(content(load_venue("brindle-prairie"), KICKOFF))
    light = lit.table("light")
    assert light.column("quarter") == ("Q1", "Q2", "half", "Q3", "Q4")
    assert [column.label for column in light.columns[3:]] == [
        "home sideline", "north end", "visitors' sideline", "south end"
    ]  # fmt: skip
    assert ("when", "Saturday 3 October 2026, kickoff 15:30 CDT") in [
        (f.key, f.value) for f in lit.facts
    ]
    dark = sheet_report(content(standard_venue("pro"), KICKOFF))
    assert dark.table("light").rows == ()
    assert "no place" in dark.notes[0]
    untimed = sheet_report(content(load_venue("brindle-prairie")))
    assert untimed.notes == ()
    assert not [fact for fact in untimed.facts if fact.key == "when"]


def test_a_night_sheet_shows_the_iso_in_place_of_a_table_of_none(content):
    """Tamarack Fork has 20 footcandles: ISO 10000 for 1/1000 s at f/2.8 in every quarter."""
    night = sheet_report(content(load_venue("tamarack-fork"), datetime(2026, 10, 9, 19, 30)))
    table = night.table("light")
    assert next(column.label for column in table.columns) == "Lens"
    assert table.rows[0][0] == "70-200 f/2.8"
    assert set(table.rows[0][1:]) == {"10000 !"}
    assert "none" not in str(table.rows)
    assert "Assumed, as nobody gave it" in night.notes[0]
    # Where the sun sets during the game both are there.
    dusk = sheet_report(content(load_venue("brindle-prairie"), KICKOFF))
    assert "Floodlights alone, 1/1000 s: 70-200 f/2.8 ISO 2000" in dusk.notes[0]


def test_the_rule_stands_on_top_and_equal_sides_are_said(content):
    report = sheet_report(content(standard_venue("pro")))
    assert "Both sides are equal." in report.table("phases").note
    assert report.headline == "Stand 25 yd ahead of the ball; farther in."
    assert report.table("shots").column("have") == (False,) * 15


def test_where_is_short(content):
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


def test_marks_stand_where_the_words_say_toward_each_end(content):
    rows = (
        invented_row("a", "a", ahead_yd=None, in_from_pylon_yd=16.0, x_yd=124.0, y_yd=15.7),
        invented_row("b", "b", side="home sideline", x_yd=66.3, y_yd=55.33),
        invented_row("c", "c", toward="road end", side="home sideline", x_yd=60.0, y_yd=-2.0,
                     closed_there="marching band"),
    )  # fmt: skip
    made = content(load_venue("tamarack-fork"), phases=rows, zones=())
    front, back = made.sides
    assert [(row.key, row.x_yd, row.y_yd) for row in front.phases] == [
        ("a", 124.0, 16.0), ("b", 66.0, 55.33)
    ]  # fmt: skip
    # Toward the road end the home sideline is on the other hand of the offense.
    assert [(row.key, row.x_yd, round(row.y_yd, 2)) for row in back.phases] == [
        ("a", 124.0, 16.0), ("b", 66.0, -2.0), ("c", 60.0, -2.0)
    ]  # fmt: skip
    where = sheet_report(made, back).table("phases").column("where")
    assert str(where[2]).startswith("26 yd ahead, home sideline; marching band there: ")


@pytest.mark.slow
def test_the_document_says_what_was_printed(document, tmp_path):
    where = ("--venue", "tamarack-fork", "--at", "2026-10-09T19:30")
    sheet = tmp_path / "a.pdf"
    found = document("sheet", *where, "--paper", "a4", "--out", str(sheet))
    assert found["has_light"] is True
    assert found["kickoff"] == "2026-10-09T19:30:00-05:00"
    assert found["cautions"][-1].startswith("Local rules")
    assert sheet.read_bytes().startswith(b"%PDF")
