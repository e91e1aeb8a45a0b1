"""Intervals: published values of Wilson's, and laws of the bootstrap of games."""

import numpy as np
import pytest

from lensyard.stats import bootstrap_games, interval_95, ratio_interval, wilson


def test_wilson_s_interval_is_the_published_one():
    # 81 of 263: .255 to .366; 0 of 20: 0 to .161 (R. G. Newcombe, Statistics in Medicine 17
    # (1998) 857-872, table I, method 3), printed to four places; recalled from memory.
    low, high = wilson(np.array([81 / 263, 15 / 148, 0.0, 1 / 29]), np.array([263, 148, 20, 29]))
    np.testing.assert_allclose(low, [0.2553, 0.0624, 0.0, 0.0061], atol=6e-5)
    np.testing.assert_allclose(high, [0.3662, 0.1605, 0.1611, 0.1718], atol=6e-5)
    assert wilson(81 / 263, 263) == (low[0], high[0])


def test_games_are_drawn_alike_with_the_same_seed():
    weights = [bootstrap_games(30, seed=seed, draws=8) for seed in (1, 1, 2)]
    np.testing.assert_array_equal(weights[0], weights[1])
    assert not np.array_equal(weights[0], weights[2])
    np.testing.assert_array_equal(weights[0].sum(axis=1), 30)


def test_the_interval_of_a_ratio_nears_that_of_its_standard_error():
    # 400 games of one play each: the ratio to a constant is a mean, whose interval is near
    # mean +- 1.96 sd / sqrt(n); 2,000 draws leave an end uncertain by about 4 % of its half width.
    values = np.random.default_rng(7).normal(3.0, 1.0, 400)
    ratio, low, high = ratio_interval(values, np.ones(400), bootstrap_games(400))
    half = 1.96 * values.std() / 20
    assert ratio == pytest.approx(values.mean())
    assert low == pytest.approx(ratio - half, abs=0.15 * half)
    assert high == pytest.approx(ratio + half, abs=0.15 * half)


def test_the_same_games_in_both_sums_leave_no_uncertainty():
    plays = np.random.default_rng(3).integers(50, 90, 60).astype(float)
    found = ratio_interval(0.4 * plays, plays, bootstrap_games(60))
    assert found == pytest.approx((0.4, 0.4, 0.4))
    assert interval_95(np.full(100, 2.0)) == (2.0, 2.0)
