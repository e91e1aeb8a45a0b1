"""Plans are stored, survive damage, and send nobody where it is closed."""

from dataclasses import replace

import numpy as np
import pytest

from lensyard.domain.assignment import Assignment, OutcomeWeights
from lensyard.domain.field import Direction
from lensyard.domain.kit import kit_of
from lensyard.domain.situation import Situation
from lensyard.domain.venue import ClosedStretch, Edge, standard_venue
from lensyard.model.context import BASE_MODEL, load_context
from lensyard.planner.decision import decide
from lensyard.planner.plans import PlanRequest, plan_for
from lensyard.planner.solve import Walking

CONTEXT = load_context(BASE_MODEL)
REQUEST = PlanRequest(kit_of(["70-200", "300"]), step_yd=4.0)


@pytest.mark.slow
def test_a_plan_is_solved_once_and_read_afterwards(tmp_path):
    first = plan_for(CONTEXT, REQUEST, folder=tmp_path)
    (path,) = tmp_path.glob("*.npy")
    np.testing.assert_array_equal(np.load(path), first.plan.continuation)
    np.save(path, first.plan.continuation + np.float32(1.0))
    again = plan_for(CONTEXT, REQUEST, folder=tmp_path)
    np.testing.assert_array_equal(again.plan.continuation, first.plan.continuation + 1.0)


@pytest.mark.slow
@pytest.mark.parametrize("damage", [b"", b"not an array", None])
def test_a_damaged_plan_on_disk_is_solved_again(tmp_path, damage):
    first = plan_for(CONTEXT, REQUEST, folder=tmp_path)
    (path,) = tmp_path.glob("*.npy")
    whole = path.read_bytes()
    path.write_bytes(whole[:1000] if damage is None else damage)
    again = plan_for(CONTEXT, REQUEST, folder=tmp_path)
    assert path.read_bytes() == whole
    np.testing.assert_array_equal(first.plan.continuation, again.plan.continuation)


@pytest.mark.parametrize(
    "other",
    [
        replace(REQUEST, kit=kit_of(["70-200", "400"])),
        replace(REQUEST, venue=standard_venue("college")),
        replace(REQUEST, assignment=Assignment(weights=OutcomeWeights(touchdown=5.0))),
        replace(REQUEST, walks=Walking(price_per_yd=0.01)),
    ],
)
def test_everything_that_matters_is_in_the_key(other):
    assert other.key("model") != REQUEST.key("model")
    assert REQUEST.key("another model") != REQUEST.key("model")


def test_names_are_not_in_the_key():
    renamed = replace(REQUEST, venue=replace(REQUEST.venue, name="elsewhere"))
    assert renamed.key("model") == REQUEST.key("model")


@pytest.mark.slow
def test_the_plan_never_sends_anybody_into_a_closed_stretch(tmp_path):
    venue = standard_venue()
    closed = ClosedStretch(Edge.END_B, 0.0, 26.0, "band", walk_behind=False)
    request = replace(REQUEST, venue=replace(venue, closed=(*venue.closed, closed)))
    solved = plan_for(CONTEXT, request, folder=tmp_path)
    for direction in Direction:
        scorer = solved.scorer(direction)
        start = int(np.flatnonzero(scorer.open)[0])
        for yardline_100 in (60, 25, 8, 2):
            situation = Situation(1, min(10, yardline_100), yardline_100)
            choice = decide(
                CONTEXT, solved, situation, standing=start, direction=direction, limit_yd=60.0
            )
            assert choice.snaps_missed or choice.walk_yd <= 60.0 + 1e-6
            station = int(scorer.stations[choice.station])
            assert scorer.open[choice.station]
            x, y = scorer.perimeter.x_yd[station], scorer.perimeter.y_yd[station]
            assert not (x > 120 and 0 <= y <= 26.0)
