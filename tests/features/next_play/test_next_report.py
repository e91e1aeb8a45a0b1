"""What is said of an answer: headline, walk, plan, habits, cautions, and the chart."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from lensyard.domain.assignment import Assignment, OutcomeWeights
from lensyard.domain.situation import Situation
from lensyard.features.next_play.compute import Advice, NextAnswer, NextRequest, next_play
from lensyard.features.next_play.report import next_report
from lensyard.model.context import load_context
from lensyard.render.report import Interval
from lensyard.render.text import render_text
from lensyard.spots.ranking import SpotScore
from lensyard.sun.cautions import DEFERRAL

ANSWER = next_play(load_context(), NextRequest(Situation(3, 7, 35)))


def with_spots(*spots: SpotScore, habit: float = 0.47, **more: Any) -> NextAnswer:
    """The answer with other spots, and habits that are usable so often."""
    habits = tuple(
        replace(one, spot=replace(one.spot, p_usable=habit)) for one in ANSWER.ranking.habits
    )
    return replace(ANSWER, ranking=replace(ANSWER.ranking, spots=spots, habits=habits), **more)


def spot(p_usable: float = 0.583, **more: Any) -> SpotScore:
    """An invented spot."""
    given = {
        "label": "offense's left sideline, opponent's 18",
        "p_usable": p_usable,
        "p_usable_low": max(p_usable - 0.04, 0.0),
        "p_usable_high": p_usable + 0.04,
        "as_good": False,
    }
    return replace(ANSWER.best, **{**given, **more})


def test_the_headline_says_where_and_how_likely_and_the_next_sentence_why() -> None:
    report = next_report(with_spots(spot(reason="the play comes toward you")))
    assert report.headline == (
        "Stand on the offense's left sideline, opponent's 18: 58% of plays usable."
    )
    assert report.sentences[0] == "The play comes toward you."
    assert render_text(report).splitlines()[0] == report.headline


@pytest.mark.parametrize(
    ("walk_yd", "walk_s", "said", "verb"),
    [
        (None, None, None, "Stand"),
        (0.0, 0.0, "no walk", "Stay"),
        (30.0, 20.0, "30 yd, 20 s", "Stand"),
        (float("inf"), float("inf"), "no way there", "Stand"),
    ],
)
def test_the_walk_in_words(
    walk_yd: float | None, walk_s: float | None, said: str | None, verb: str
) -> None:
    report = next_report(with_spots(spot(walk_yd=walk_yd, walk_s=walk_s), standing_index=0))
    walks = [fact.value for fact in report.facts if fact.key == "walk"]
    assert walks == ([] if said is None else [said])
    assert report.headline.startswith(verb)


def test_a_kit_that_reaches_nothing_is_not_sent_anywhere() -> None:
    report = next_report(with_spots(spot(0.0)))
    assert report.headline.startswith("No spot has a usable frame of this play with this kit")


def test_spots_as_good_are_named_with_their_number() -> None:
    # The second is not as good, the third is: errors differ pair by pair.
    report = next_report(with_spots(spot(), spot(0.575), spot(0.57, as_good=True)))
    assert "As good within the error: spot 3 (57%)." in report.sentences
    assert report.table("spots").column("rank") == (1, 2, 3)
    assert not any("As good" in text for text in next_report(with_spots(spot())).sentences)


@pytest.mark.parametrize(
    ("habit", "said"),
    [
        (0.47, '11 points more than the habit "level with the ball" (47%).'),
        (0.573, '1 point more than the habit "level with the ball" (57%).'),
        (0.583, 'No more than the habit "level with the ball" (58%).'),
        (0.60, '2 points less than the habit "level with the ball" (60%).'),
    ],
)
def test_a_habit_that_is_better_is_not_hidden(habit: float, said: str) -> None:
    assert said in next_report(with_spots(spot(), habit=habit)).sentences


def test_the_plan_is_said_in_one_sentence() -> None:
    stay = Advice("stay", "right pylon", 110.0, -4.0, 0.0, 0.0, 30.0, 0.0, "this play")
    assert "Plan: stay where you are (right pylon); no walk of 30 yd has more value." in (
        next_report(replace(ANSWER, advice=stay)).sentences
    )
    walk = replace(stay, action="walk", walk_yd=12.0, walk_s=8.0, value_over_staying=0.25)
    (said,) = (
        text
        for text in next_report(replace(ANSWER, advice=walk)).sentences
        if text.startswith("Plan")
    )
    assert said == (
        "Plan: walk 12 yd, 8 s to right pylon; that is worth 0.2 usable plays more than staying, "
        "mostly for this play."
    )
    little = next_report(replace(ANSWER, advice=replace(walk, value_over_staying=0.01)))
    assert any("worth a little more" in text for text in little.sentences)
    assert not any("Plan" in text for text in next_report(ANSWER).sentences)


def test_goal_to_go_has_no_first_down() -> None:
    goal = next_play(load_context(), NextRequest(Situation(1, 5, 5)))
    assert "first down" not in " ".join(next_report(goal).sections[0].lines)
    assert "first down" in " ".join(next_report(ANSWER).sections[0].lines)


def test_cautions_end_with_who_decides_and_stand_on_the_terminal() -> None:
    report = next_report(ANSWER)
    assert report.cautions[-1] == DEFERRAL
    closed = next_report(replace(ANSWER, standing_index=0, standing_is_closed=True))
    assert "one may wait there, but not shoot" in closed.cautions[0]
    far = next_report(with_spots(spot(walk_yd=80.0, walk_s=50.0)))
    assert "the ones named are farther" in far.cautions[0]
    for each in (report, closed, far):
        text = " ".join(render_text(each).split())
        assert all(f"Caution: {caution}" in text for caution in each.cautions)


def test_cells_are_the_raw_values_of_the_answer() -> None:
    report = next_report(ANSWER)
    usable = [Interval(s.p_usable, s.p_usable_low, s.p_usable_high) for s in ANSWER.ranking.spots]
    assert list(report.table("spots").column("usable")) == usable
    assert report.table("habits").column("mark") == ("A", "B")
    assert [column.key for column in report.table("spots").columns] == [
        "rank", "where", "usable", "run_out",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("down", "distance", "yardline_100"), [(1, 10, 75), (1, 2, 2), (4, 20, 99)]
)
def test_the_chart_of_where_the_action_ends_is_the_model_s(
    down: int, distance: int, yardline_100: int
) -> None:
    request = NextRequest(Situation(down, distance, yardline_100))
    report = next_report(next_play(load_context(), request))
    (chart,) = report.charts
    gains, shares = (report.table("gain").column(key) for key in ("yards", "p"))
    # What is cut off at both ends is less than half of a percent a yard.
    assert sum(shares) == pytest.approx(1.0, abs=0.06)
    # No play ends more yards ahead than there are to the far end line (10 yd of end zone).
    assert max(gains) <= yardline_100 + 10
    assert dict(chart.rules) == {0.0: "ball", float(distance): "line to gain"}


def test_weights_far_above_one_are_answered() -> None:
    weights = OutcomeWeights(touchdown=100.0, sack=0.5)
    answer = next_play(
        load_context(), NextRequest(Situation(3, 7, 35), assignment=Assignment(weights=weights))
    )
    assert 0.0 < answer.best.value != pytest.approx(ANSWER.best.value)
