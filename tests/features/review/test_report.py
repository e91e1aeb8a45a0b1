"""What a review says, and that it says what was counted."""

import csv
import io
import re
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from data.recipes.demo_game import demo_log
from tests.features.review.invented import a_review, made_up, review_of
from tests.support.logs import GAME, LOG

from lensyard.features.captions.compute import match_captures
from lensyard.features.captions.exif import read_times
from lensyard.features.game_log.compute import demo_folder
from lensyard.features.review.compute import reviewed_game
from lensyard.features.review.report import choice_words, review_report
from lensyard.game.entry import Capture, game_setup_of
from lensyard.render.report import Interval
from lensyard.render.text import csv_text, render_text


@pytest.fixture(scope="module")
def review():
    return a_review()


@pytest.fixture(scope="module")
def report(review):
    return review_report(review)


def test_the_headline_says_what_was_counted(review, report):
    shares = [float(n) for n in re.findall(r"(\d+)%", report.headline)]
    you, plan, _ = review.figures.policies
    assert shares == [pytest.approx(100 * p.p_usable, abs=0.5) for p in (you, plan)]
    low, high = review.figures.plan_over_you[1:]
    assert ("do not tell the two apart" in report.sentences[0]) == (low <= 0 <= high)


def test_the_plays_as_csv_are_those_of_the_review(review, report):
    rows = list(csv.DictReader(io.StringIO(csv_text(report.table("plays")))))
    assert len(rows) == review.figures.plays
    usable = [float(row["p_usable"]) for row in rows if row["p_usable"]]
    # The share that the headline tells is the mean of these; cells have four decimals.
    assert sum(usable) / len(usable) == pytest.approx(review.figures.policies[0].p_usable, abs=1e-4)


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


def test_the_own_reach_stands_beside_the_usual_one(review, report):
    own = report.table("policies").column("usable_own_reach")
    assert all(isinstance(cell, Interval) for cell in own)
    assert "--lens 70-190 --lens 380" in " ".join(report.sections[0].lines)
    plain = review_report(replace(review, own_reach_figures=None))
    assert "usable_own_reach" not in [c.key for c in plain.table("policies").columns]
    assert "--own-reach counts with it" in " ".join(plain.sections[0].lines)


def test_the_curve_has_the_usual_and_the_own_reach_as_rules(review):
    reach = review.figures.reach
    assert reach is not None
    for own_yd, labels in ((30.0, ["usual reach 40 yd", "own reach 30 yd"]), (41.0, None)):
        figures = replace(review.figures, reach=replace(reach, reach_yd=own_yd))
        (chart,) = (
            c for c in review_report(replace(review, figures=figures)).charts if c.key == "keeping"
        )
        assert [at for at, _ in chart.rules] == [40.0, own_yd]
        assert [words for _, words in chart.rules] == (
            labels or ["", "own reach 41 yd, usual 40 yd"]
        )


def test_where_keepers_were_not_noted_nothing_is_said_of_keeping():
    facts = made_up(np.random.default_rng(4), keep_rate=0.6)
    none = np.zeros(60, bool)
    report = review_report(review_of(replace(facts, kept_known=none, kept=none)))
    assert set(report.table("zones").column("kept")) == {None}
    assert [chart.key for chart in report.charts] == ["policies", "zones"]
    assert "nothing is said about keeping" in report.sentences[1]
    assert "needs plays with keepers" in report.sections[0].lines[0]


def test_capture_times_are_summed_up_by_camera():
    log = demo_log()
    found = match_captures(
        log, read_times(demo_folder() / "times.csv"), offsets={}, find_clocks=True
    )
    told = frames_of(replace(log, captures=found.captures))
    assert f"{found.frames_in_plays:,} in {found.plays_with_frames} plays" in told
    # What the demo's cameras are off by, corrected to within a frame or two.
    for body, seconds in (("Invented One 0001", 47.3), ("Invented Two 0002", -3605.5)):
        shown = float(re.search(rf"{body}: .*? by ([+-][\d.]+) s", told)[1])  # type: ignore[index]
        assert shown == pytest.approx(seconds, abs=2.0)


def test_captures_outside_every_play_ask_for_the_clocks():
    at = datetime(2026, 10, 3, 12, tzinfo=UTC)
    lost = Capture("a.jpg", at, at + timedelta(seconds=5))
    assert "check the cameras' clocks" in frames_of(replace(LOG, captures=(lost,)))
    assert "No capture times are matched yet" in frames_of(LOG)


def frames_of(log):
    game = reviewed_game(log, game_setup_of(log.game))
    section = review_report(replace(a_review(), games=(game,))).sections[2]
    return " ".join(section.lines)


def test_what_could_not_be_read_is_a_caution_on_the_terminal(report):
    assert "Caution: The assignment cannot be read." in render_text(report)


def test_the_latest_game_is_offered_first():
    later = replace(GAME, game_id="later", season=2027)
    choices = choice_words([GAME, later])
    assert list(choices) == ["game later", "game week-5", "season 2027", "season 2026"]
    assert choices["season 2026"] == "Season 2026, 1 game"
