"""The quarterback's face over a season: what each frame is worth, and that it comes as expected."""

from dataclasses import replace

import numpy as np
import pytest

from lensyard.domain.assignment import USABLE_WEIGHTS, Assignment, OutcomeWeights
from lensyard.domain.kit import kit_of
from lensyard.model.context import BASE_MODEL, load_context
from lensyard.planner.drop_backs import DropBackFrames
from lensyard.planner.plans import PlanRequest
from lensyard.planner.season import play_season
from lensyard.planner.season_data import stored_season
from lensyard.spots.path_values import expected_values


def test_the_first_face_of_a_game_counts_whole_and_the_others_half_once_it_is_had():
    quality = np.array([[1.0], [0.0], [1.0], [0.5], [1.0]], dtype=np.float32)
    there = np.array([True, False, True, True, True])
    frames = DropBackFrames(quality, there, 2.0, np.array([0, 1, 2, 0, 1]))
    # The second game: the first face came half, so the next is worth (1 + 1/2) / 2 of the weight.
    assert frames.had(np.zeros(5, int)) == pytest.approx([2.0, 0.0, 1.0, 1.0, 1.5])
    assert frames.all_of_it() == pytest.approx([2.0, 0.0, 1.0, 2.0, 1.0])


@pytest.mark.slow
def test_over_a_season_whoever_wants_the_face_has_more_of_it_and_as_much_as_expected():
    context, kit = load_context(BASE_MODEL), kit_of(["70-200", "400"])
    plays, seen = stored_season(context, 2019), []
    for weight in (0.01, 4.0):
        wanted = Assignment(weights=OutcomeWeights(drop_back=weight))
        played = play_season(context, PlanRequest(kit, assignment=wanted, step_yd=4.0), plays)
        data, stood = played.season_data, played.plan.station_index
        rows = np.arange(len(stood))
        seen.append(data.drop_backs.quality[rows, stood].mean())
        assert 0.0 < data.value_share(stood) < 1.0
    faces = replace(USABLE_WEIGHTS, drop_back=1.0)
    expected = 0.0
    for some in np.array_split(rows, 16):
        forecast = context.model.forecast(data.replay.batch.take(some))
        prior = context.prior(data.scorers[0].perimeter.venue.rules)
        with_face, without = expected_values(
            data.scorers[0], forecast, prior, faces, USABLE_WEIGHTS
        )
        expected += float((with_face - without)[np.arange(some.size), stood[some]].sum())
    assert seen[1] > seen[0] + 0.01
    assert expected / len(rows) == pytest.approx(seen[1], abs=0.01)
