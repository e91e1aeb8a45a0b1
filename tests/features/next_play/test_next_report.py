"""What is said of an answer: headline, walk, plan, habits, cautions, and the chart."""

from dataclasses import replace

import pytest
from click.testing import CliRunner

from lensyard.cli import group
from lensyard.domain.assignment import Assignment, OutcomeWeights
from lensyard.domain.situation import Situation
from lensyard.features.next_play.answer import Action, Instead
from lensyard.features.next_play.compute import NextRequest, next_play
from lensyard.features.next_play.report import next_brief, next_report
from lensyard.model.context import load_context
from lensyard.render.report import Interval
from lensyard.render.text import render_text

ANSWER = next_play(load_context(), NextRequest(Situation(3, 7, 35)))


def decided(action=Action.BEST, **more):
    """The answer with another decision."""
    return replace(ANSWER, answer=replace(ANSWER.answer, action=action, **more))


def moved(action=Action.WALK, **more):
    """The answer of somebody who has 12 yd to go."""
    given = {"label": "right pylon", "walk_yd": 12.0, "walk_s": 8.0, "p_staying": 0.21}
    return decided(action, **{"value_over_staying": 0.25, **given, **more})


def with_spots(*spots, habit=0.47):
    """The answer with other spots, and habits that are usable so often."""
    habits = tuple(
        replace(one, spot=replace(one.spot, p_usable=habit)) for one in ANSWER.ranking.habits
    )
    ranking = replace(ANSWER.ranking, spots=spots, habits=habits)
    best = spots[0]
    answer = replace(ANSWER.answer, label=best.label, p_usable=best.p_usable)
    return replace(ANSWER, ranking=ranking, spot=best, answer=answer)


def spot(p_usable=0.583, **more):
    """An invented spot."""
    given = {
        "label": "offense's left sideline, opponent's 18",
        "p_usable": p_usable,
        "p_usable_low": max(p_usable - 0.04, 0.0),
        "p_usable_high": p_usable + 0.04,
        "as_good": False,
    }
    return replace(ANSWER.spot, **{**given, **more})


def test_the_headline_says_where_and_how_likely_and_the_next_sentence_why():
    report = next_report(with_spots(spot(reason="the play comes toward you")))
    assert report.headline == (
        "Stand on the offense's left sideline, opponent's 18: 58% of plays give a usable frame."
    )
    assert report.sentences[0] == "The play comes toward you."
    assert " ".join(render_text(report).split()).startswith(report.headline)


@pytest.mark.parametrize(
    ("answer", "headline", "why"),
    [
        (
            moved(Action.STAY, walk_yd=0.0, walk_s=0.0, p_usable=0.31),
            "Stay where you are: 31% of plays give a usable frame.",
            "gains more than the error",
        ),
        (
            moved(p_usable=0.31),
            "Walk 12 yd, 8 s to the right pylon: 31% of plays give a usable frame.",
            "31% of this play against 21% from where you are.",
        ),
        (
            moved(p_usable=0.2, for_this_play=False),
            "Walk 12 yd, 8 s to the right pylon: 20% of plays give a usable frame.",
            "For the plays after it is worth 0.2 usable plays more than staying.",
        ),
        (
            moved(p_usable=0.2, for_this_play=False, value_over_staying=0.01),
            "Walk 12 yd, 8 s to the right pylon: 20% of plays give a usable frame.",
            "For the plays after it is worth a little more than staying.",
        ),
        (
            moved(Action.CROSS, p_usable=0.0, snaps_missed=2, for_this_play=False),
            "Cross behind closed ground, 12 yd, 8 s to the right pylon: 2 snaps missed; keep "
            "moving.",
            "worth 0.2 usable plays more than staying",
        ),
        (
            moved(Action.NOTHING, p_usable=0.01, p_at_most=0.03, for_this_play=False),
            "Nothing pays on this snap, 3% at best: walk 12 yd, 8 s to the right pylon, for the "
            "plays after.",
            "worth 0.2 usable plays more than staying",
        ),
        (
            moved(Action.NOTHING, walk_yd=0.0, p_usable=0.03, p_at_most=0.03),
            "Nothing pays on this snap, 3% at best: stay where you are.",
            "brings more than the error",
        ),
        (
            decided(Action.NOTHING, p_usable=0.03, p_at_most=0.03),
            "Nothing pays on this snap, 3% at best.",
            "reaches",
        ),
    ],
)
def test_each_decision_is_one_sentence_and_its_reason_another(answer, headline, why):
    for report in (next_report(answer), next_brief(answer)):
        assert report.headline == headline
        assert why in report.sentences[0]


def test_the_size_of_a_gain_on_this_play_is_never_said_beyond_the_play_itself():
    (why, *_) = next_report(moved(p_usable=0.12, p_staying=0.1, value_over_staying=0.2)).sentences
    assert why == "12% of this play against 10% from where you are."


def test_what_a_snap_is_good_for_where_nothing_pays_is_said_with_its_figures():
    instead = (
        Instead("frame", "quarterback dropping back", 0.58),
        Instead("life", "fans", minutes=1),
    )
    for report in (
        next_report(decided(Action.NOTHING, instead=instead)),
        next_brief(decided(Action.NOTHING, instead=instead)),
    ):
        assert (
            "Use the snap for the quarterback dropping back (58%) or fans (1 min)."
            in report.sentences
        )


def test_the_best_of_this_play_stands_second():
    best = Instead("spot", "right pylon", 0.4, 24.0, 16.0)
    assert "For this play alone: right pylon (40%; 24 yd, 16 s)." in (
        next_report(moved(instead=(best,))).sentences
    )


def test_no_better_place_is_called_the_next_best():
    found = CliRunner().invoke(
        group,
        [
            "next",
            "--down",
            "4",
            "--distance",
            "12",
            "--ball",
            "opp48",
            "--standing",
            "left:opp20",
            "--lens",
            "300",
        ],
    )
    said = " ".join(found.output.split())
    assert "stay where you are: 32%" in said
    assert "For this play alone: offense's left sideline, opponent's 28 (39%)" in said
    assert "Next best" not in said


def test_spots_as_good_are_named_with_their_number():
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
def test_a_habit_that_is_better_is_not_hidden(habit, said):
    assert said in next_report(with_spots(spot(), habit=habit)).sentences


def test_goal_to_go_has_no_first_down():
    goal = next_play(load_context(), NextRequest(Situation(1, 5, 5)))
    assert "first down" not in " ".join(next_report(goal).sections[0].lines)
    assert "first down" in " ".join(next_report(ANSWER).sections[0].lines)


def test_cautions_end_with_who_decides_and_stand_on_the_terminal():
    report = next_report(ANSWER)
    assert report.cautions[-1].endswith("decide; this is only a reminder.")
    closed = next_report(replace(ANSWER, standing_index=0, standing_is_closed=True))
    assert "one may pass there, but not wait or shoot" in closed.cautions[0]
    for each in (report, closed):
        text = " ".join(render_text(each).split())
        assert all(f"Caution: {caution}" in text for caution in each.cautions)


def test_cells_are_the_raw_values_of_the_answer():
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
def test_the_chart_of_where_the_action_ends_is_the_model_s(down, distance, yardline_100):
    request = NextRequest(Situation(down, distance, yardline_100))
    report = next_report(next_play(load_context(), request))
    (chart,) = report.charts
    gains, shares = (report.table("gain").column(key) for key in ("yards", "p"))
    # What is cut off at both ends is less than half of a percent a yard.
    assert sum(shares) == pytest.approx(1.0, abs=0.06)
    # No play ends more yards ahead than there are to the far end line (10 yd of end zone).
    assert max(gains) <= yardline_100 + 10
    assert dict(chart.rules) == {0.0: "ball", float(distance): "line to gain"}


def test_weights_far_above_one_are_answered():
    weights = OutcomeWeights(touchdown=100.0, sack=0.5)
    answer = next_play(
        load_context(), NextRequest(Situation(3, 7, 35), assignment=Assignment(weights=weights))
    )
    assert 0.0 < answer.spot.value != pytest.approx(ANSWER.spot.value)
