"""Practice that the recommendation must reproduce. Marked *common practice*: it is what working
photographers at American football do, not a measurement; the geometry behind it is checked
elsewhere."""

from __future__ import annotations

import numpy as np
import pytest

from lensyard.domain.assignment import Assignment, Faces, assignment_for
from lensyard.domain.field import CENTER_Y_YD, FIELD_LENGTH_YD, FIELD_WIDTH_YD
from lensyard.domain.optics import kit_of
from lensyard.domain.situation import Situation
from lensyard.domain.venue import standard_venue
from lensyard.service.context import Context, load_context
from lensyard.service.next_play import NextAnswer, NextRequest, next_play
from lensyard.service.plans import PlanRequest, decide, plan_for

KITS = (["70-200"], ["300"], ["400"], ["70-200", "300"], ["70-200", "400"], ["24-70", "600"])


SUPPORT_RADIUS_YD = 0.35  # with padding, from memory; 2 yd behind the end line


def post_offset_yd(x_yd: float, y_yd: float, pylon_y_yd: float) -> float:
    """How far the line from a place behind the end line to a pylon passes from the support."""
    post_x_yd, pylon_x_yd = 122.0, 110.0
    along = (x_yd - post_x_yd) / (x_yd - pylon_x_yd)
    at_post_y_yd = y_yd + along * (pylon_y_yd - y_yd)
    slope = np.arctan2(pylon_y_yd - y_yd, pylon_x_yd - x_yd)
    return abs(float((at_post_y_yd - CENTER_Y_YD) * np.cos(slope)))


@pytest.fixture(scope="module")
def context() -> Context:
    return load_context()


def ask(context: Context, situation: Situation, lenses: list[str], **more: object) -> NextAnswer:
    return next_play(context, NextRequest(situation, kit=kit_of(lenses), **more))


@pytest.mark.parametrize(("down", "distance"), [(1, 10), (2, 6), (3, 2), (3, 8)])
def test_with_a_70_200_at_midfield_no_spot_is_more_than_20_yd_ahead_of_the_likeliest_end(
    context: Context, down: int, distance: int
) -> None:
    """Common practice: go downfield ahead of the offense as far as the lens allows."""
    answer = ask(context, Situation(down, distance, 50), ["70-200"])
    along = answer.masses.plain.sum(axis=1)
    likeliest_x_yd = float(np.argmax(along))
    recommended = [s for s in answer.ranking.spots if s.as_good]
    assert recommended
    for spot in recommended:
        assert spot.x_yd - likeliest_x_yd <= 20.0, spot.label


@pytest.mark.parametrize("lenses", KITS, ids=" + ".join)
@pytest.mark.parametrize("down", [1, 2, 3])
def test_from_the_5_the_spot_is_behind_the_end_line_or_at_its_corners_and_clear_of_the_post(
    context: Context, lenses: list[str], down: int
) -> None:
    """Common practice: inside the 20 a corner behind the goal line, not the middle, where the
    post hides one side."""
    best = ask(context, Situation(down, 5, 5), lenses).ranking.spots[0]
    assert best.x_yd > FIELD_LENGTH_YD
    assert abs(best.y_yd - CENTER_Y_YD) > 3.0
    for pylon_y_yd in (0.0, FIELD_WIDTH_YD):
        assert post_offset_yd(best.x_yd, best.y_yd, pylon_y_yd) > SUPPORT_RADIUS_YD


@pytest.mark.parametrize("yardline_100", [95, 75, 50, 30, 12, 3])
def test_a_400_reaches_what_a_200_reaches_except_nearer_than_its_nearest_distance(
    yardline_100: int,
) -> None:
    from lensyard.domain.perimeter import perimeter_of
    from lensyard.recommend.reward import Scorer

    perimeter = perimeter_of(standard_venue())
    short, long = (Scorer(perimeter, kit_of([lens])) for lens in ("200", "400"))
    nearest = kit_of(["400"]).nearest_yd
    distance = short.geometry.distance_yd
    near = short.geometry.in_reach(short.kit.hands[0])
    far = long.geometry.in_reach(long.kit.hands[0])
    assert (far | ~near | (distance < nearest)).all()
    assert far.sum() > near.sum()


def test_past_midfield_with_a_200_the_plan_stands_ahead_of_the_ball(context: Context) -> None:
    """Common practice: once the offense crosses midfield, go downfield ahead of it."""
    request = PlanRequest(kit_of(["70-200"]))
    solved = plan_for(context, request)
    x, _ = solved.scorer(request_direction()).xy_yd
    situation = Situation(1, 10, 35)
    decision = decide(context, solved, situation, standing=0, limit_yd=1e6)
    assert x[decision.choice.station] > situation.line_of_scrimmage_x_yd


def test_inside_the_20_the_plan_goes_behind_the_end_line(context: Context) -> None:
    """Common practice, as above; from anywhere when the walk allows it."""
    solved = plan_for(context, PlanRequest(kit_of(["70-200", "300"])))
    scorer = solved.scorer(request_direction())
    for yardline_100 in (18, 10, 4):
        situation = Situation(1, min(10, yardline_100), yardline_100)
        decision = decide(context, solved, situation, standing=0, limit_yd=1e6)
        assert scorer.xy_yd[0][decision.choice.station] > FIELD_LENGTH_YD
        for pylon_y_yd in (0.0, FIELD_WIDTH_YD):
            here = (float(axis[decision.choice.station]) for axis in scorer.xy_yd)
            assert post_offset_yd(*here, pylon_y_yd) > SUPPORT_RADIUS_YD


def test_for_a_defense_assignment_the_spot_is_behind_the_offense(context: Context) -> None:
    """Common practice: behind the offense when the defense's faces are the assignment."""
    situation = Situation(2, 8, 70)
    best = ask(
        context, situation, ["70-200", "400"], assignment=assignment_for(Faces.DEFENSE)
    ).ranking.spots[0]
    likely_end = float(situation.line_of_scrimmage_x_yd) + 4
    assert best.x_yd < likely_end


def test_an_answer_is_said_the_same_way_twice(context: Context) -> None:
    situation = Situation(3, 7, 35)
    first, second = (ask(context, situation, ["70-200"], assignment=Assignment()) for _ in "ab")
    assert first.ranking == second.ranking
    assert -20 <= first.ranking.spots[0].y_yd <= FIELD_WIDTH_YD + 20


def request_direction():  # the standard field is symmetric: either direction is the same
    from lensyard.domain.field import Direction

    return Direction.TOWARD_B
