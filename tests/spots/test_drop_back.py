"""The quarterback's face at the drop as a frame of its own, and the sack at its spot."""

from dataclasses import replace

import numpy as np
import pytest

from lensyard.domain.assignment import FRAMES, Assignment, Faces, OutcomeWeights, assignment_for
from lensyard.domain.field import HashMark
from lensyard.domain.kit import kit_of
from lensyard.domain.perimeter import perimeter_of
from lensyard.domain.shot_list import weights_after
from lensyard.domain.situation import Situation, SituationBatch
from lensyard.domain.venue import standard_venue
from lensyard.model.context import load_context
from lensyard.model.outcome_grid import KINDS
from lensyard.settings.files import load_assignment
from lensyard.spots.masses import Masses
from lensyard.spots.path_values import expected_values
from lensyard.spots.scorer import Scorer

CONTEXT = load_context()
VENUE = standard_venue()
PRIOR = CONTEXT.prior(VENUE.rules)
SCORER = Scorer(perimeter_of(VENUE, step_yd=4.0), kit_of(["70-200", "400"]))
PLAIN = OutcomeWeights()
FACE = replace(PLAIN, drop_back=2.0)
SITUATIONS = [
    Situation(1, 10, 60, hash_mark=HashMark.LEFT),
    Situation(3, 8, 20),
    Situation(2, 9, 97),
]


def values(weights, situation):
    forecast = CONTEXT.forecast(situation)
    return expected_values(SCORER, forecast, PRIOR, weights)[0, 0]


@pytest.mark.parametrize("situation", SITUATIONS)
def test_a_drop_back_adds_its_chance_times_what_the_camera_has_of_the_passer(situation):
    forecast = CONTEXT.forecast(situation)
    runs = float(forecast.p_kind[0, KINDS.index("run")])
    more = values(FACE, situation) - values(PLAIN, situation)
    x, y = SCORER.xy_yd
    ball_x, ball_y = (
        situation.line_of_scrimmage_x_yd - 7.0,
        VENUE.rules.ball_y_yd(situation.hash_mark),
    )
    distance = np.hypot(x - ball_x, y - ball_y)
    facing = x - ball_x >= np.cos(np.radians(75)) * distance - 1e-9
    quality = SCORER.kit.quality(distance, SCORER.kit.mounted) * facing * SCORER.open
    # A lane is 3 1/3 yd wide and an unknown hash mark a mean of three: near the edges of reach and
    # facing the quality of the exact place differs.
    assert more.max() <= 2.0 * (1.0 - runs) + 1e-5
    assert more == pytest.approx(2.0 * (1.0 - runs) * quality, abs=0.55)
    assert np.corrcoef(more, quality)[0, 1] > 0.97
    assert more[quality == 0.0].max() <= 0.35


@pytest.mark.parametrize("situation", SITUATIONS)
def test_masses_by_cell_and_tables_by_line_say_the_same(situation):
    masses = Masses.of(CONTEXT.forecast(situation), PRIOR, FACE)
    by_cell = SCORER.expected_value(masses.value)[0]
    assert by_cell == pytest.approx(values(FACE, situation), abs=2e-5)
    assert masses.plain.ends.sum() == pytest.approx(1.0, abs=1e-5)


def test_once_had_a_drop_back_is_worth_half_and_other_assignments_do_not_count_it():
    wanted = Assignment(weights=FACE, must_have=(FRAMES["drop-back"], FRAMES["catch"]))
    assert weights_after(wanted, []).drop_back == 2.0
    assert weights_after(wanted, ["drop-back"]).drop_back == 1.0
    assert weights_after(replace(wanted, must_have=()), ["drop-back"]).drop_back == 2.0
    assert load_assignment("card-set").weights.drop_back > 0.0
    assert load_assignment("newspaper").weights.drop_back == 0.0


def test_a_sack_counts_at_its_spot_behind_the_line():
    """More weight on sacks moves the defense's best spot toward where sacks end."""
    scorer = Scorer(SCORER.perimeter, kit_of(["70-200"]), faces=Faces.DEFENSE)
    batch = SituationBatch.of([Situation(3, 12, 50)])
    forecast = CONTEXT.model.forecast(batch)
    only = OutcomeWeights(0.0, 0.0, 0.0, 0.0, 1.0, 0.0)
    sacks = expected_values(scorer, forecast, PRIOR, only)[0, 0]
    best = int(sacks.argmax())
    # The face of a defender is seen from behind the offense.
    assert scorer.xy_yd[0][best] < 60.0
    assert sacks.max() <= float(forecast.p_kind[0, KINDS.index("sack")]) + 1e-6
    defense = assignment_for(Faces.DEFENSE).weights
    more = expected_values(scorer, forecast, PRIOR, replace(defense, sack=60.0))[0, 0]
    usual = expected_values(scorer, forecast, PRIOR, defense)[0, 0]
    assert more[best] - usual[best] == pytest.approx(54.0 * sacks[best], rel=1e-3)
