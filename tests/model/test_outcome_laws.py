"""Laws of the outcome model on the shipped tables."""

from __future__ import annotations

import numpy as np

from lensyard.domain.situation import SituationBatch
from lensyard.model import outcome_grid as grid
from lensyard.model.context import BASE_MODEL, load_context

CONTEXT = load_context(BASE_MODEL)
BATCH: SituationBatch = grid.StateGrid().batch()


def test_kinds_and_gains_sum_to_one():
    # float64 sums over at most 120 cells of tables stored as float16
    np.testing.assert_allclose(CONTEXT.model.forecast(BATCH).p_kind.sum(axis=1), 1, atol=1e-9)
    pmf = CONTEXT.model.forecast(BATCH).kind_gain_pmf
    assert pmf.shape == (len(BATCH), len(grid.KINDS), grid.GAINS_YD.size)
    np.testing.assert_allclose(pmf.sum(axis=2), 1, atol=1e-9)
    assert (pmf >= 0).all()


def test_no_gain_passes_the_goal_line_or_the_offense_s_own_end_line():
    pmf = CONTEXT.model.forecast(BATCH).kind_gain_pmf
    beyond = grid.GAINS_YD[None, :] > BATCH.yardline_100[:, None]
    behind = grid.GAINS_YD[None, :] < BATCH.yardline_100[:, None] - 110
    for mask in (beyond, behind):
        assert (pmf * mask[:, None, :]).max() == 0.0


def test_no_pass_comes_down_beyond_the_end_zone():
    pmf = CONTEXT.model.forecast(BATCH).air_pmf
    beyond = grid.AIR_YD[None, :] > BATCH.yardline_100[:, None] + 10
    assert (pmf * beyond[:, None, :]).max() == 0.0
    np.testing.assert_allclose(pmf.sum(axis=2), 1, atol=1e-9)
