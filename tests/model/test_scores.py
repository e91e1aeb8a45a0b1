"""Scores against closed forms and scikit-learn."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from sklearn.calibration import calibration_curve
from sklearn.linear_model import LogisticRegression
from sklearn.metrics import brier_score_loss
from sklearn.metrics import log_loss as sklearn_log_loss

from lensyard.model.evaluation import scores
from lensyard.stats import bootstrap_games


def _forecasts(n, g, seed):
    rng = np.random.default_rng(seed)
    pmf = rng.dirichlet(np.ones(g), size=n)
    return pmf, rng.integers(0, g, n)


def test_crps_is_the_mean_distance_less_half_the_spread():
    # The kernel form E|X - y| - E|X - X'| / 2 (Gneiting and Raftery 2007, equation 21), computed
    # from all pairs.
    pmf, outcome = _forecasts(20, 12, 1)
    at = np.arange(12.0)
    distance = np.abs(at[None, :] - outcome[:, None])
    pairs = np.abs(at[:, None] - at[None, :])
    kernel = (pmf * distance).sum(axis=1) - 0.5 * np.einsum("ni,ij,nj->n", pmf, pairs, pmf)
    np.testing.assert_allclose(scores.crps_yd(pmf, outcome), kernel, atol=1e-12)


def test_crps_of_a_normal_forecast_nears_its_closed_form():
    # sigma (z (2 Phi(z) - 1) + 2 phi(z) - 1 / sqrt(pi)), Gneiting and Raftery 2007, section 4.2. A
    # grid of a yard under a sigma of 12 yd is off by less than a thousandth of a yard.
    from scipy.stats import norm

    sigma, at = 12.0, np.arange(-100, 101)
    pmf = np.diff(norm.cdf(np.append(at - 0.5, 100.5) / sigma))[None, :]
    for outcome in (0, 7, -20):
        z = outcome / sigma
        closed = sigma * (z * (2 * norm.cdf(z) - 1) + 2 * norm.pdf(z) - 1 / np.sqrt(np.pi))
        found = scores.crps_yd(pmf, np.array([outcome + 100]))[0]
        assert found == pytest.approx(closed, abs=0.01)


def test_log_loss_and_brier_are_those_of_scikit_learn():
    pmf, outcome = _forecasts(200, 6, 2)
    expected = sklearn_log_loss(outcome, pmf, labels=list(range(6)))
    assert scores.log_loss(pmf, outcome).mean() == pytest.approx(expected, abs=1e-12)
    p, happened = pmf[:, 0], (outcome == 0).astype(float)
    assert scores.brier(p, happened).mean() == pytest.approx(
        brier_score_loss(happened, p), abs=1e-12
    )
    expected = sklearn_log_loss(happened, p)
    assert scores.binary_log_loss(p, happened).mean() == pytest.approx(expected, abs=1e-12)


def test_a_probability_of_zero_costs_no_more_than_the_floor():
    assert scores.log_loss(np.array([[0.0, 1.0]]), np.array([0]))[0] == pytest.approx(
        -np.log(scores.P_FLOOR)
    )


@pytest.mark.parametrize("bold", [0.5, 1.0, 2.0])
def test_the_slope_is_that_of_an_unpenalized_logistic_regression(bold):
    rng = np.random.default_rng(3)
    logit = rng.normal(-1, 1, 5000)
    happened = (rng.random(5000) < 1 / (1 + np.exp(-logit))).astype(float)
    p = 1 / (1 + np.exp(-bold * logit))
    oracle = LogisticRegression(C=1e9, tol=1e-10, max_iter=1000)
    oracle.fit((bold * logit)[:, None], happened)
    # C of 1e9 is a ridge of 1e-9 beside thousands of plays
    slope = scores.calibration_slope(p, happened)
    assert slope == pytest.approx(float(oracle.coef_[0, 0]), abs=1e-4)
    # forecasts bolder than the truth by a factor have a slope of its inverse, within the noise
    # of 5,000 plays (standard error about 0.04)
    assert slope * bold == pytest.approx(1.0, abs=0.15)


@pytest.mark.parametrize(
    ("p", "happened"), [([0.3, 0.3], [0, 1]), ([0.2, 0.6], [1, 1]), ([0.0, 1.0], [0, 1])]
)
def test_there_is_no_slope_where_nothing_can_be_fitted(p, happened):
    assert np.isnan(scores.calibration_slope(np.array(p), np.array(happened, dtype=float)))


def test_calibration_error_is_the_weighted_gap_of_the_calibration_curve():
    rng = np.random.default_rng(4)
    p = rng.random(3000) * 0.999
    happened = (rng.random(3000) < p**1.3).astype(float)
    rate, mean = calibration_curve(happened, p, n_bins=10)
    count = np.bincount((p * 10).astype(int), minlength=10)
    expected = float((count * np.abs(rate - mean)).sum() / 3000)
    assert scores.expected_calibration_error(p, happened) == pytest.approx(expected, abs=1e-12)


@given(st.integers(2, 40), st.integers(0, 10_000))
def test_pit_tenths_sum_to_one(g, seed):
    pmf, outcome = _forecasts(7, g, seed)
    tenths = scores.pit_deciles(pmf, outcome)
    assert tenths.sum() == pytest.approx(1.0, abs=1e-9)  # float64 sums of at most 40 cells
    assert (tenths >= -1e-12).all()


def test_reliability_groups_hold_all_plays_in_order():
    rng = np.random.default_rng(6)
    p = rng.random(1001)
    curve = scores.reliability(p, (rng.random(1001) < p).astype(float), bins=12)
    assert sum(group.plays for group in curve) == 1001
    assert (np.diff([group.p_mean for group in curve]) > 0).all()
    assert all(group.low <= group.observed <= group.high for group in curve)


def test_the_interval_of_a_mean_nears_that_of_its_standard_error():
    # 400 games of one play each: the bootstrap of the mean is near mean +- 1.96 sd / sqrt(n); 2,000
    # draws leave an end of the interval uncertain by about 4 % of its half width.
    rng = np.random.default_rng(7)
    score, game = rng.normal(3.0, 1.0, 400), np.arange(400)
    weights = bootstrap_games(400, seed=7, draws=2000)
    low, high = scores.bootstrap_interval(score, game, weights)
    half = 1.96 * score.std() / 20
    assert low == pytest.approx(score.mean() - half, abs=0.15 * half)
    assert high == pytest.approx(score.mean() + half, abs=0.15 * half)


def test_the_interval_of_a_slope_is_near_that_of_fits_to_every_draw():
    rng = np.random.default_rng(8)
    logit = rng.normal(-1, 1, 4000)
    happened = (rng.random(4000) < 1 / (1 + np.exp(-logit))).astype(float)
    p, game = 1 / (1 + np.exp(-1.2 * logit)), np.repeat(np.arange(80), 50)
    weights = bootstrap_games(80, seed=8, draws=60)
    slopes = [scores.calibration_slope(p, happened, drawn[game]) for drawn in weights]
    # one step of Newton's method leaves an error of second order: .04 squared is under .002
    expected = np.quantile(slopes, [0.025, 0.975])
    np.testing.assert_allclose(
        scores.slope_interval(p, happened, game, weights), expected, atol=0.004
    )
