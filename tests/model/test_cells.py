"""Laws of the cells."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.support.places import mirrored

from lensyard.domain.assignment import USABLE_WEIGHTS, OutcomeWeights
from lensyard.domain.field import RULES
from lensyard.domain.situation import HASH_CODES, Situation, SituationBatch
from lensyard.model import cells as model_cells
from lensyard.model import outcome_grid as grid
from lensyard.model.lateral import LateralPrior
from lensyard.model.paths import path_masses

PRIORS = {name: LateralPrior.build(rules=rules) for name, rules in RULES.items()}


def plain_cells(outcome, prior):
    return path_masses(outcome, prior, weights=[USABLE_WEIGHTS])[0].by_x[:, 0]


@st.composite
def situations(draw):
    yardline = draw(st.integers(1, 99))
    return Situation(
        down=draw(st.integers(1, 4)),
        distance_yd=draw(st.integers(1, yardline)),
        yardline_100=yardline,
        hash_mark=draw(st.sampled_from(HASH_CODES)),
    )


@given(rows=st.lists(situations(), min_size=1, max_size=6), rules=st.sampled_from(sorted(RULES)))
def test_mass_is_one_within_the_end_lines(invented_outcome, rows, rules):
    cells = plain_cells(invented_outcome(SituationBatch.of(rows)), PRIORS[rules])
    assert cells.shape == (len(rows), grid.N_X, grid.N_Y)
    assert (cells >= -1e-9).all()  # float32: a carried share may round below 0
    np.testing.assert_allclose(cells.sum(axis=(1, 2), dtype=float), 1.0, atol=1e-6)
    assert cells[:, 120:].sum() == 0


@given(situation=situations(), rules=st.sampled_from(sorted(RULES)))
def test_the_mirrored_situation_has_mirrored_cells(invented_outcome, situation, rules):
    batch = SituationBatch.of([situation, mirrored(situation)])
    here, there = plain_cells(invented_outcome(batch), PRIORS[rules])
    np.testing.assert_allclose(here, there[:, ::-1], atol=1e-7)  # float32 sums in other order


def test_weights_multiply_their_own_outcomes_only(invented_outcome):
    batch = SituationBatch.of([Situation(1, 10, 40), Situation(3, 4, 4)])
    outcome = invented_outcome(batch)
    nothing = dict.fromkeys(OutcomeWeights.__dataclass_fields__, 0.0)
    sets = [OutcomeWeights(**{**nothing, name: 1.0}) for name in nothing]
    found = path_masses(outcome, PRIORS["pro"], weights=[USABLE_WEIGHTS, *sets])
    paths = np.stack([one.by_x for one in found])
    np.testing.assert_allclose(*np.moveaxis(paths.sum(axis=(3, 4), dtype=float), 2, 0), atol=1e-6)
    parts = paths[:, :, 0]
    # The drop-back comes last, and on top of what becomes of the play.
    np.testing.assert_allclose(parts[1:-1].sum(axis=0), parts[0], atol=1e-7)
    share = dict(zip(nothing, parts[1:].sum(axis=(2, 3), dtype=float), strict=True))
    np.testing.assert_allclose(share["incompletion"], [0.15, 0.24], atol=1e-6)
    np.testing.assert_allclose(share["interception"], [0.025, 0.04], atol=1e-6)
    np.testing.assert_allclose(share["sack"], [0.04, 0.064], atol=1e-6)
    np.testing.assert_allclose(share["touchdown"], outcome.touchdown.sum(axis=1), atol=1e-6)
    np.testing.assert_allclose(share["drop_back"], outcome.p_drop_back, atol=1e-6)
    # From the 4 a gain of 20 would be a touchdown, which outranks it.
    assert share["gain20"][1] == 0
    assert share["gain20"][0] > 0


def test_touchdowns_lie_in_the_end_zone_and_nothing_else_is_carried_there(invented_outcome):
    batch = SituationBatch.of([Situation(1, 8, 8)])
    outcome = invented_outcome(batch)
    only = OutcomeWeights(touchdown=1, gain20=0, incompletion=0, interception=0, sack=0, other=0)
    scores = path_masses(outcome, PRIORS["pro"], weights=[only])[0].by_x[0, 0]
    caught = outcome.touchdown[0, 1] * outcome.p_caught[0]
    assert scores[: grid.CARRIED_IN_X].sum() == 0
    assert scores[grid.CARRIED_IN_X + 1 :].sum() == pytest.approx(caught * 8 / 9, rel=1e-5)
    assert scores[:, [0, -1]].sum() == 0  # never out of bounds
    plain = path_masses(outcome, PRIORS["pro"], weights=[USABLE_WEIGHTS])[0].by_x[0, 0]
    assert plain[110].sum() == 0  # the goal line itself would be no score


def test_a_batch_equals_its_situations_one_by_one(invented_outcome):
    rows = [Situation(1, 10, 75), Situation(2, 3, 3), Situation(3, 12, 98), Situation(1, 10, 75)]
    batch = SituationBatch.of(rows)
    whole = plain_cells(invented_outcome(batch), PRIORS["college"])
    for i, row in enumerate(rows):
        one = plain_cells(invented_outcome(SituationBatch.of([row])), PRIORS["college"])[0]
        np.testing.assert_allclose(whole[i], one, atol=1e-7)
    empty = plain_cells(invented_outcome(batch.take(np.array([], dtype=int))), PRIORS["college"])
    assert empty.shape == (0, grid.N_X, grid.N_Y)


def test_deep_in_its_own_end_what_falls_behind_the_end_line_lies_on_it(invented_outcome):
    outcome = invented_outcome(SituationBatch.of([Situation(1, 10, 99)]))
    cells = plain_cells(outcome, PRIORS["pro"])[0]
    sacks_behind = outcome.gain[0, grid.GAIN_KINDS.index(grid.SACK), :9].sum()
    assert sacks_behind > 0.001
    assert cells[0].sum() >= sacks_behind
    assert cells.sum(dtype=float) == pytest.approx(1.0, abs=1e-6)


def test_real_ends_follow_the_conventions_of_the_cells():
    x = model_cells.draw_end_x_yd(
        np.random.default_rng(1),
        kind=np.array(
            [
                grid.RUN,
                grid.RUN,
                grid.COMPLETE,
                grid.COMPLETE,
                grid.INCOMPLETE,
                grid.INCOMPLETE,
                grid.SACK,
            ]
        ),
        gain_yd=np.array([7.0, 30, 30, 30, 0, 0, -12]),
        air_yd=np.array([np.nan, np.nan, 30, 10, 12, 30, np.nan]),
        yardline_100=np.array([30, 30, 30, 30, 30, 30, 99]),
        touchdown=np.array([False, True, True, True, False, False, False]),
    )
    assert x[0] == 87
    assert x[1] == x[3] == grid.CARRIED_IN_X
    assert 111 <= x[2] <= 119
    assert x[4] == 92
    assert 111 <= x[5] <= 119
    assert x[6] == 0
