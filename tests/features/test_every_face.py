"""One answer on every face: what ``next`` says, plan, offline card and drill say too."""

from dataclasses import replace

import numpy as np
import pytest
from tests.support.card_planes import answers_alone
from tests.support.field import FIELD_WIDTH_YD
from tests.support.part_of_season import part_of_season

from lensyard.domain.assignment import USABLE_WEIGHTS, Assignment
from lensyard.domain.field import Direction
from lensyard.domain.kit import kit_of
from lensyard.domain.places import standing_text
from lensyard.domain.venue import standard_venue
from lensyard.features.card.grid import CardGrid, percent_codes
from lensyard.features.drill.compute import grade
from lensyard.features.drill.series import DrillRequest, drill_series
from lensyard.features.next_play.compute import NextRequest, next_play
from lensyard.model.context import load_context
from lensyard.planner.plans import PlanRequest, plan_for
from lensyard.settings.files import VENUES

UNKNOWN_HASH = 3

KIT = kit_of(["70-200", "400"])
EQUAL = Assignment("usable", weights=USABLE_WEIGHTS)


@pytest.fixture(scope="module")
def context():
    return load_context()


@pytest.mark.slow
@pytest.mark.parametrize("name", ["pro", "tamarack-fork"])
def test_the_card_says_what_next_says(name, context):
    """Every down, both ends; somebody stands anywhere, or does not say."""
    venue = standard_venue("pro") if name == "pro" else VENUES.load(name)
    context = load_context(rules=venue.rules.name)
    solved = plan_for(context, PlanRequest(KIT, venue))
    grid, rng = CardGrid.of(2), np.random.default_rng(41)
    for direction in Direction:
        scorer = solved.scorer(direction)
        answers = answers_alone(context, solved, 2, direction)
        for row in rng.integers(len(grid) // 2, len(grid), 40).tolist():
            here = int(rng.choice(np.flatnonzero(scorer.open)))
            asked = NextRequest(grid.situation(row, UNKNOWN_HASH), KIT, venue, direction=direction)
            found = next_play(context, asked)
            assert _same(scorer, answers["best"][row, 0], found.spot.station_index), (
                row,
                direction,
            )
            assert answers["best"][row, 1] == percent_codes(np.array([found.spot.p_usable]))[0]
            walked = next_play(context, _from(asked, scorer.xy_yd, here, venue))
            assert walked.standing_index == here
            go = answers["choice"][row, here]
            assert _same(scorer, go, walked.spot.station_index), (row, here, direction)


def _same(scorer, one, other):
    """Whether two places are one, or equals across the field (a tie to the last bits)."""
    (x, y), open_ = scorer.xy_yd, scorer.open
    mirrored = np.hypot(x[one] - x[other], FIELD_WIDTH_YD - y[one] - y[other]) < 1e-6
    return bool(one == other or (mirrored and open_[one] and open_[other]))


def _from(asked, xy_yd, here, venue):
    x, y = (float(axis[here]) for axis in xy_yd)
    return replace(asked, standing=standing_text(x_yd=x, y_yd=y, venue=venue))


@pytest.mark.slow
def test_the_drill_s_plan_is_what_next_says(context):
    series = drill_series(
        context, DrillRequest(KIT, length=60, seed=3), plays=part_of_season(games=12)
    )
    asked = [q for q in series.questions if q.situation.down == 4 or q.number % 6 == 0]
    assert any(q.situation.down == 4 for q in asked)
    for question in asked:
        answer = _next(context, question, series.request)
        graded = grade(series, question, question.start)
        plan, best = graded.of("plan"), graded.of("best")
        assert plan.station_index == answer.spot.station_index, question
        assert plan.p_usable == pytest.approx(answer.answer.p_usable, abs=1e-5)
        assert best.p_usable == pytest.approx(answer.answer.p_at_most, abs=1e-5)


def _next(context, question, request):
    x, y = question.start_x_yd, question.start_y_yd
    return next_play(
        context,
        NextRequest(
            question.situation,
            KIT,
            request.venue,
            EQUAL,
            direction=question.direction,
            standing=standing_text(x_yd=x, y_yd=y, venue=request.venue),
            ball_changed_hands=question.ball_changed_hands,
        ),
    )
