"""What a review says, and that it says what was counted."""

import csv
import io
import re

import pytest
from tests.features.reports import made

from lensyard.render.report import Interval
from lensyard.render.text import csv_text


@pytest.fixture(scope="module")
def found():
    return made("review").document


@pytest.fixture(scope="module")
def report():
    return made("review").report


def test_the_headline_says_what_was_counted(found, report):
    shares = [float(n) for n in re.findall(r"(\d+)%", report.headline)]
    you, plan, _ = found["figures"]["policies"]
    assert shares == [pytest.approx(100 * p["p_usable"], abs=0.5) for p in (you, plan)]
    _, low, high = found["figures"]["plan_over_you"]
    assert ("do not tell the two apart" in report.sentences[0]) == (low <= 0 <= high)


def test_the_plays_as_csv_are_those_of_the_review(found, report):
    rows = list(csv.DictReader(io.StringIO(csv_text(report.table("plays")))))
    assert len(rows) == found["figures"]["plays"]
    usable = [float(row["p_usable"]) for row in rows if row["p_usable"]]
    you = found["figures"]["policies"][0]["p_usable"]
    # The share that the headline tells is the mean of these; cells have four decimals.
    assert sum(usable) / len(usable) == pytest.approx(you, abs=1e-4)


def test_spots_are_named_numbered_and_lie_where_the_log_says(report):
    spots = report.table("spots")
    assert "offense's left sideline, opponent's 20" in spots.column("spot")
    assert list(spots.column("number")) == [1, 2]
    (view,) = report.fields
    at = {mark.label: mark for mark in view.picture.spots}
    mark = at["offense's left sideline, opponent's 20"]
    # The opponent's 20 is 20 yards before its goal line, at x = 110.
    assert mark.x_yd == pytest.approx(90.0, abs=0.51)
    assert mark.y_yd > 160 / 3


def test_the_own_reach_stands_beside_the_usual_one_and_on_the_curve(found, report):
    own = report.table("policies").column("usable_own_reach")
    assert all(isinstance(cell, Interval) for cell in own)
    lenses = " ".join(f"--lens {lens}" for lens in found["own_reach_lenses"])
    assert lenses in " ".join(report.sections[0].lines)
    reach = found["figures"]["reach"]["reach_yd"]
    assert found["own_reach_lenses"][1].split("-")[-1] == f"{10 * reach:.0f}"  # 10 yd for 100 mm
    (chart,) = (chart for chart in report.charts if chart.key == "keeping")
    assert [at for at, _ in chart.rules] == [40.0, reach]
