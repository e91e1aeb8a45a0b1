"""Practice that the recommendation must reproduce. Marked *common practice*: it is what working
photographers at American football do, not a measurement; the geometry behind it is checked
elsewhere."""

import numpy as np
import pytest
from tests.support.field import CENTER_Y_YD, FIELD_LENGTH_YD, FIELD_WIDTH_YD

from lensyard.domain.assignment import USABLE_WEIGHTS, Assignment, Faces, assignment_for
from lensyard.domain.kit import kit_of, reach_quality
from lensyard.domain.situation import Situation, SituationBatch
from lensyard.domain.venue import standard_venue
from lensyard.features.game_plan.frame_events import drop_back_visible
from lensyard.features.next_play.compute import NextRequest, next_play
from lensyard.model.context import BASE_MODEL, load_context
from lensyard.model.outcome_grid import KINDS
from lensyard.planner.decision import decide
from lensyard.planner.plans import PlanRequest, plan_for

KITS = (["70-200"], ["300"], ["400"], ["70-200", "300"], ["70-200", "400"], ["24-70", "600"])
SUPPORT_RADIUS_YD = 0.35  # with padding, from memory; 2 yd behind the end line


def post_offset_yd(x_yd, y_yd, pylon_y_yd):
    """How far the line from a place behind the end line to a pylon passes from the support."""
    post_x_yd, pylon_x_yd = 122.0, 110.0
    along = (x_yd - post_x_yd) / (x_yd - pylon_x_yd)
    at_post_y_yd = y_yd + along * (pylon_y_yd - y_yd)
    slope = np.arctan2(pylon_y_yd - y_yd, pylon_x_yd - x_yd)
    return abs(float((at_post_y_yd - CENTER_Y_YD) * np.cos(slope)))


@pytest.fixture(scope="module")
def context():
    return load_context(BASE_MODEL)


def ask(context, situation, lenses, **more):
    return next_play(context, NextRequest(situation, kit=kit_of(lenses), **more))


@pytest.mark.parametrize(("down", "distance"), [(1, 10), (2, 6), (3, 2), (3, 8)])
def test_with_a_70_200_at_midfield_no_spot_is_more_than_25_yd_ahead_of_the_likeliest_end(
    context, down, distance
):
    """Published advice: with 200 mm stand 20 to 25 yd off the line ("Football photos", forum
    thread 3946 of The Digital Picture community); ahead as far as the lens allows."""
    answer = ask(context, Situation(down, distance, 50), ["70-200"])
    along = answer.masses.ends.sum(axis=1)
    likeliest_x_yd = float(np.argmax(along))
    recommended = [s for s in answer.ranking.spots if s.as_good]
    assert recommended
    for spot in recommended:
        assert spot.x_yd - likeliest_x_yd <= 25.0, spot.label


@pytest.mark.parametrize("lenses", KITS, ids=" + ".join)
@pytest.mark.parametrize("down", [1, 2, 3])
def test_from_the_5_the_spot_is_behind_the_end_line_or_at_its_corners_and_clear_of_the_post(
    context, lenses, down
):
    """Common practice: inside the 20 a corner behind the goal line, not the middle, where the
    post hides one side."""
    best = ask(context, Situation(down, 5, 5), lenses).ranking.spots[0]
    assert best.x_yd > FIELD_LENGTH_YD
    assert abs(best.y_yd - CENTER_Y_YD) > 3.0
    for pylon_y_yd in (0.0, FIELD_WIDTH_YD):
        assert post_offset_yd(best.x_yd, best.y_yd, pylon_y_yd) > SUPPORT_RADIUS_YD


@pytest.mark.parametrize("yardline_100", [95, 75, 50, 30, 12, 3])
def test_a_400_reaches_what_a_200_reaches_except_nearer_than_its_nearest_distance(yardline_100):
    from lensyard.domain.perimeter import perimeter_of
    from lensyard.spots.scorer import Scorer

    perimeter = perimeter_of(standard_venue())
    short, long = (Scorer(perimeter, kit_of([lens])) for lens in ("200", "400"))
    nearest = kit_of(["400"]).nearest_yd
    distance = short.geometry.distance_yd
    near = reach_quality(short.geometry.distance_yd, short.kit.lens_sets[0])
    far = reach_quality(long.geometry.distance_yd, long.kit.lens_sets[0])
    assert ((far >= near) | (distance < nearest)).all()
    assert far.sum() > near.sum()


@pytest.mark.parametrize("yardline_100", range(46, 20, -5))
def test_past_midfield_with_a_200_the_plan_stands_ahead_of_the_ball_within_20_yards(
    context, yardline_100
):
    """Common practice: once the offense crosses midfield, go downfield ahead of it."""
    solved = plan_for(
        context, PlanRequest(kit_of(["70-200"]), assignment=Assignment(weights=USABLE_WEIGHTS))
    )
    x, _ = solved.scorer(request_direction()).xy_yd
    situation = Situation(1, 10, yardline_100)
    decision = decide(context, solved, situation, standing=0, limit_yd=1e6)
    assert 0 < x[decision.station] - situation.line_of_scrimmage_x_yd <= 20


@pytest.mark.slow
def test_whoever_wants_the_touchdown_leaves_the_ball_before_the_20(context):
    """Where practice is corrected: with a touchdown worth ten plays, the way to the end line has
    to begin before the ball crosses the 20, because a walk of 30 yd a play does not catch up."""
    solved = plan_for(context, PlanRequest(kit_of(["70-200"])))
    x, _ = solved.scorer(request_direction()).xy_yd
    at_the_42, at_the_32 = (Situation(1, 10, yardline_100) for yardline_100 in (42, 32))
    with_the_ball = decide(context, solved, at_the_42, standing=0, limit_yd=1e6)
    assert 0 < x[with_the_ball.station] - at_the_42.line_of_scrimmage_x_yd <= 20
    on_the_way = decide(context, solved, at_the_32, standing=with_the_ball.station)
    assert x[on_the_way.station] - at_the_32.line_of_scrimmage_x_yd > 20


def test_the_opening_drop_back_is_had_from_the_sideline_near_the_20(context):
    """Common practice: open on the sideline near the 20 for the drop-back.

    From the 25, where a touchback puts the ball. The tool says how likely: with a 400 as likely as
    the play is a pass, a sack or a scramble, and no spot has it more often; with a 300 cropped
    from the far hash mark; with a 200 hardly at all, cropped from the near one.
    """
    opening = SituationBatch.of([Situation(1, 10, 75, quarter=1)])
    p_drop_back = 1.0 - context.model.forecast(opening).p_kind[:, KINDS.index("run")]
    best: dict[str, float] = {}
    for lens in ("200", "300", "400"):
        request = PlanRequest(kit_of(["70-200"] if lens == "200" else ["70-200", lens]))
        scorer = plan_for(context, request).scorer(request_direction())
        p = p_drop_back[0] * drop_back_visible(scorer, opening, request.venue.rules)[0]
        x, y = scorer.xy_yd
        near_the_20 = ((y < 0) | (y > FIELD_WIDTH_YD)) & (x - 10 >= 20) & (x - 10 <= 30)
        best[lens] = float(p[near_the_20].max())
        assert best[lens] == pytest.approx(float(p.max()), abs=1e-6), lens
    assert 0.35 < best["400"] == pytest.approx(float(p_drop_back[0]), abs=1e-6)
    assert 0.6 * best["400"] < best["300"] < 0.9 * best["400"]
    assert 0.0 < best["200"] < 0.1 * best["400"]


def test_inside_the_20_the_plan_goes_behind_the_end_line(context):
    """Common practice, as above; from anywhere when the walk allows it."""
    solved = plan_for(context, PlanRequest(kit_of(["70-200", "300"])))
    scorer = solved.scorer(request_direction())
    for yardline_100 in (18, 10, 4):
        situation = Situation(1, min(10, yardline_100), yardline_100)
        decision = decide(context, solved, situation, standing=0, limit_yd=1e6)
        assert scorer.xy_yd[0][decision.station] > FIELD_LENGTH_YD
        for pylon_y_yd in (0.0, FIELD_WIDTH_YD):
            here = (float(axis[decision.station]) for axis in scorer.xy_yd)
            assert post_offset_yd(*here, pylon_y_yd) > SUPPORT_RADIUS_YD


def test_for_a_defense_assignment_the_spot_is_behind_the_offense(context):
    """Common practice: behind the offense when the defense's faces are the assignment."""
    situation = Situation(2, 8, 70)
    best = ask(
        context, situation, ["70-200", "400"], assignment=assignment_for(Faces.DEFENSE)
    ).ranking.spots[0]
    likely_end = float(situation.line_of_scrimmage_x_yd) + 4
    assert best.x_yd < likely_end


def test_an_answer_is_said_the_same_way_twice(context):
    situation = Situation(3, 7, 35)
    first, second = (ask(context, situation, ["70-200"], assignment=Assignment()) for _ in "ab")
    assert first.ranking == second.ranking
    assert -20 <= first.ranking.spots[0].y_yd <= FIELD_WIDTH_YD + 20


def request_direction():  # the standard field is symmetric: either direction is the same
    from lensyard.domain.field import Direction

    return Direction.TOWARD_B
