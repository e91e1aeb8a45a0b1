"""Domain values become marks in the right place."""

import itertools
import math

import pytest
from tests.support.field import FIELD_WIDTH_YD

from lensyard.domain.field import Direction
from lensyard.domain.kit import DEMO_KIT
from lensyard.domain.situation import Situation
from lensyard.domain.venue import ClosedStretch, Edge, standard_venue
from lensyard.features.next_play.compute import NextRequest, next_play
from lensyard.features.next_play.page import next_picture
from lensyard.model.context import load_context
from lensyard.render.field.picture import FieldPicture


def test_a_closed_stretch_on_sideline_a_is_on_the_offenses_right_going_to_end_b():
    stretch = ClosedStretch(Edge.SIDELINE_A, 20.0, 35.0, "platform", 3.0, 4.0)
    venue = standard_venue("pro", team_area_from_yard_line=50, extra_closed=(stretch,))
    (mark,) = FieldPicture.of(venue, Direction.TOWARD_B).closed
    assert (mark.x_min_yd, mark.x_max_yd) == (20.0, 35.0)
    assert (mark.y_min_yd, mark.y_max_yd) == (-7.0, -3.0)
    (turned,) = FieldPicture.of(venue, Direction.TOWARD_A).closed
    assert (turned.x_min_yd, turned.x_max_yd) == (85.0, 100.0)
    assert turned.y_min_yd == pytest.approx(FIELD_WIDTH_YD + 3.0)
    assert turned.label == "platform"


# Corners of the ring in both directions, and where its numbers begin again.
@pytest.mark.parametrize("direction", Direction)
@pytest.mark.parametrize("standing", ["end:left20", "end:right20", "left:opp2", "right:opp2"])
@pytest.mark.parametrize("ball", [12, 60])
def test_the_way_that_is_drawn_is_as_long_as_the_walk(direction, standing, ball):
    situation = Situation(down=1, distance_yd=10, yardline_100=ball)
    venue = standard_venue("pro")
    asked = NextRequest(situation, DEMO_KIT, venue, direction=direction, standing=standing,
                        ball_changed_hands=True)  # fmt: skip
    found = next_play(load_context(), asked)
    path = next_picture(found).path
    length = sum(math.hypot(b.x_yd - a.x_yd, b.y_yd - a.y_yd) for a, b in itertools.pairwise(path))
    # Corners are stations, so nothing is cut; float sums of some 350 steps.
    assert length == pytest.approx(found.answer.walk_yd, abs=1e-6)


def test_rings_come_from_the_lenses_shortest_first():
    situation = Situation(down=1, distance_yd=10, yardline_100=60)
    found = next_play(load_context(), NextRequest(situation, DEMO_KIT, standard_venue("pro")))
    # Common practice: ten yards of reach for every 100 mm.
    rings = next_picture(found).rings
    assert [(ring.label, ring.reach_yd) for ring in rings] == [("70-200", 20.0), ("400", 40.0)]
