"""Rates from few plays, against known truths and other people's code; and what a review counts."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import beta
from sklearn.isotonic import IsotonicRegression

from lensyard.domain.situation import Zone
from lensyard.errors import InvalidInputError, OutOfRangeError
from lensyard.features.review.figures import (
    PlayFacts,
    distance_rates,
    falling_curve,
    keep_rate,
    own_reach,
    rate_of,
    review_figures,
)

ZONES = [zone.value for zone in Zone]


def made_up(rng, *, keep_rate, plays=60):
    """Return the facts of a game by a photographer who keeps this share of usable plays.

    Where a third of the plays ended across the field is not known: usable is a probability then,
    and what was truly usable is drawn from it.
    """
    predicted = np.clip(rng.beta(2, 3, plays), 0.02, 0.98)
    certain = rng.random(plays) < 2 / 3
    usable = np.where(certain, rng.random(plays) < predicted, rng.beta(1.5, 1.5, plays))
    truly = rng.random(plays) < usable
    kept = truly & (rng.random(plays) < keep_rate)
    distance = rng.uniform(5, 40, plays)
    spot = rng.choice(["left:opp20", "end:left12"], plays)
    return PlayFacts(
        game=np.full(plays, "g"),
        number=np.arange(plays) + 1,
        zone=rng.choice(ZONES, plays),
        spot=spot,
        place=spot,
        predicted=predicted,
        predicted_reach=np.sqrt(predicted),
        in_reach=np.maximum(usable, rng.random(plays)),
        usable=usable.astype(float),
        sighted=np.ones(plays),
        distance_yd=distance,
        value=rng.choice([1.0, 4.0, 10.0], plays),
        shot=truly,
        kept=kept,
        shot_known=np.ones(plays, dtype=bool),
        kept_known=np.ones(plays, dtype=bool),
        plan=np.clip(usable + 0.2, 0, 1),
        habit=np.clip(usable - 0.2, 0, 1),
    )


@given(
    plays=st.integers(0, 300),
    share=st.floats(0, 1),
    prior=st.floats(0.05, 0.95),
    strength=st.floats(0.5, 20),
)
def test_a_rate_is_the_beta_posterior(plays, share, prior, strength):
    """SciPy's beta distribution as the oracle."""
    hits = round(share * plays)
    rate = rate_of(hits=hits, plays=plays, prior=prior, strength=strength)
    oracle = beta(strength * prior + hits, strength * (1 - prior) + plays - hits)
    assert rate.p == pytest.approx(oracle.mean(), abs=1e-9)
    assert rate.p_low == pytest.approx(oracle.ppf(0.025), abs=1e-6)
    assert rate.p_high == pytest.approx(oracle.ppf(0.975), abs=1e-6)


def test_one_play_is_no_certainty_and_no_play_is_the_prior():
    one = rate_of(hits=1, plays=1, prior=0.4)
    assert one.p_low < 0.25
    assert one.p_high > 0.9
    assert rate_of(hits=0, plays=0, prior=0.4).p == pytest.approx(0.4)


def test_counts_that_are_none_are_refused():
    with pytest.raises(OutOfRangeError):
        rate_of(hits=3, plays=2, prior=0.5)
    with pytest.raises(OutOfRangeError):
        rate_of(hits=0, plays=float("nan"), prior=0.5)


@given(
    st.lists(st.tuples(st.floats(0, 1), st.floats(0.1, 50)), min_size=1, max_size=12),
)
def test_the_falling_curve_is_isotonic_regression(points):
    """scikit-learn as the oracle."""
    value, weight = (np.array(column) for column in zip(*points, strict=True))
    ours = falling_curve(value, weight)
    oracle = IsotonicRegression(increasing=False).fit_transform(
        np.arange(value.size), value, sample_weight=weight
    )
    assert ours == pytest.approx(oracle, abs=1e-9)


@pytest.mark.statistical
@pytest.mark.parametrize("rate", [0.2, 0.4, 0.6, 0.8, 0.9])
@pytest.mark.parametrize("prior", [0.35, 0.5, 0.65])
def test_intervals_cover_a_known_rate_as_often_as_they_say(rate, prior):
    """20,000 games of 25 to 60 plays; 95 % within 1.5 points (counts are whole, so not exact)."""
    rng = np.random.default_rng(int(1000 * rate + 10 * prior))
    plays = rng.integers(25, 61, 20_000)
    hits = rng.binomial(plays, rate)
    low, high = np.zeros((61, 61)), np.zeros((61, 61))
    for n in range(25, 61):
        for k in range(n + 1):
            found = rate_of(hits=k, plays=n, prior=prior)
            low[n, k], high[n, k] = found.p_low, found.p_high
    covered = (low[plays, hits] <= rate) & (rate <= high[plays, hits])
    assert 0.935 <= covered.mean() <= 0.965


def test_when_all_ends_are_known_the_keep_rate_is_a_plain_count():
    usable = np.array([1.0] * 8 + [0.0] * 20)
    kept = np.array([True] * 6 + [False] * 22)
    found, plain = keep_rate(usable, kept), rate_of(hits=6, plays=8, prior=0.5)
    assert (found.hits, found.plays) == (6.0, 8.0)
    # The grid has steps of .002.
    assert [found.p, found.p_low, found.p_high] == pytest.approx(
        [plain.p, plain.p_low, plain.p_high], abs=0.002
    )


def test_the_keep_rate_falls_with_distance_where_the_frames_say_so():
    rng = np.random.default_rng(4)
    distance = rng.uniform(2, 45, 600)
    kept = rng.random(600) < np.where(distance < 25, 0.8, 0.4)
    bands = distance_rates(distance, np.ones(600), kept)
    curve = [band.p_monotone for band in bands]
    assert None not in curve
    assert all(a >= b for a, b in pairwise(curve))  # type: ignore[operator]
    assert curve[0] == pytest.approx(0.8, abs=0.1)
    assert curve[-1] == pytest.approx(0.4, abs=0.1)


def test_no_falling_curve_is_shown_where_near_plays_are_plainly_worse():
    distance = np.repeat([5.0, 25.0], 60)
    kept = np.concatenate([np.zeros(60, bool), np.ones(60, bool)])
    assert [b.p_monotone for b in distance_rates(distance, np.ones(120), kept)] == [None, None]


@pytest.mark.parametrize("factor", [0.75, 0.9, 1.1])
def test_a_known_own_reach_is_recovered_from_a_season(factor):
    """1,500 plays: within 4 % of the truth, as the prior pulls gently toward 1."""
    rng = np.random.default_rng(round(100 * factor))
    distance = rng.uniform(5, 60, 1500)
    p = 0.8 / (1 + np.exp((distance - factor * 40) / 3.2))
    found = own_reach(distance, rng.random(1500) < p, default_yd=40.0)
    assert found.factor == pytest.approx(factor, abs=0.04)
    assert found.low <= factor <= found.high


def test_few_plays_hardly_move_the_own_reach():
    """Five short keepers say little: the prior, one standard deviation of .15, holds it near 1."""
    found = own_reach(np.array([10.0, 12, 15, 14, 9]), np.ones(5, bool), default_yd=40.0)
    assert 0.95 <= found.factor <= 1.05
    assert found.high - found.low > 0.4
    none = own_reach(np.array([np.nan]), np.array([True]), default_yd=40.0)
    assert (none.plays, round(none.factor, 2)) == (0, 1.0)
    with pytest.raises(InvalidInputError):
        own_reach(np.array([1.0]), np.array([True]), default_yd=0.0)


@pytest.mark.statistical
def test_the_own_reach_interval_covers_as_often_as_it_says():
    """Truths drawn from the prior, 40 plays each, 600 games: 95 % within 2.5 points (2.8 sd)."""
    rng = np.random.default_rng(12)
    hits = 0
    for _ in range(600):
        factor = float(np.clip(rng.normal(1.0, 0.15), 0.51, 1.49))
        level = rng.uniform(0.02, 0.98)
        distance = rng.uniform(5, 60, 40)
        p = level / (1 + np.exp((distance - factor * 40) / 3.2))
        found = own_reach(distance, rng.random(40) < p, default_yd=40.0)
        hits += found.low <= factor <= found.high
    assert 0.925 <= hits / 600 <= 0.975


# --- a whole review ------------------------------------------------------------------------------


@pytest.mark.statistical
@pytest.mark.parametrize("rate", [0.4, 0.8])
def test_a_known_keep_rate_is_inside_its_interval_in_95_of_100_reviews(rate):
    """1,000 whole reviews each; between 93 and 97 % is what the promise of 95 % allows."""
    rng = np.random.default_rng(round(1000 * rate))
    covered = 0
    for _ in range(1000):
        facts = made_up(rng, keep_rate=rate, plays=int(rng.integers(50, 90)))
        found = keep_rate(facts.usable, facts.kept)
        covered += found.p_low <= rate <= found.p_high
    assert 0.93 <= covered / 1000 <= 0.97


def test_zones_and_spots_add_up_to_all():
    facts = made_up(np.random.default_rng(2), keep_rate=0.6)
    figures = review_figures(facts, default_reach_yd=40.0)
    for groups in (figures.zones, figures.spots):
        assert sum(g.plays for g in groups) == figures.overall.plays == 60
        assert sum(g.usable.hits for g in groups) == pytest.approx(figures.overall.usable.hits)
        assert sum(g.kept.hits for g in groups) == figures.overall.kept.hits
    assert [z.name for z in figures.zones] == [z for z in ZONES if (facts.zone == z).any()]


def test_policies_are_compared_on_the_same_plays():
    facts = made_up(np.random.default_rng(3), keep_rate=0.6)
    spots = facts.spot.copy()
    spots[:10] = ""
    figures = review_figures(replace(facts, spot=spots), default_reach_yd=40.0)
    you, plan, habit = figures.policies
    assert figures.placed == 50
    assert you.p_usable == pytest.approx(facts.usable[10:].mean())
    assert plan.p_usable == pytest.approx(facts.plan[10:].mean())
    assert habit.p_usable < you.p_usable < plan.p_usable
    value = facts.value[10:]
    assert plan.value_share == pytest.approx((facts.plan[10:] * value).sum() / value.sum())
    more, low, high = figures.plan_over_you
    assert more == pytest.approx(100 * (plan.p_usable - you.p_usable))
    assert low < more < high


def test_what_was_not_noted_is_not_counted_as_nothing():
    facts = made_up(np.random.default_rng(4), keep_rate=0.6)
    half = np.arange(60) % 2 == 0
    figures = review_figures(
        replace(facts, kept_known=half, kept=facts.kept & half), default_reach_yd=40.0
    )
    assert figures.kept_known == 30
    assert figures.overall.kept.plays == 30
    none = replace(facts, kept_known=np.zeros(60, bool), kept=np.zeros(60, bool))
    figures = review_figures(none, default_reach_yd=40.0)
    assert figures.keep is None
    assert figures.reach is None
    assert figures.by_distance == ()
    assert figures.overall.kept.p == pytest.approx(figures.overall.predicted)


def test_no_spot_is_an_error_that_says_what_to_do():
    facts = replace(made_up(np.random.default_rng(5), keep_rate=0.5), spot=np.full(60, ""))
    with pytest.raises(InvalidInputError, match="--spot"):
        review_figures(facts, default_reach_yd=40.0)
    with pytest.raises(InvalidInputError, match="one length"):
        replace(facts, kept=facts.kept[:-1])


def test_five_plays_are_no_certainty():
    """All five usable with the plan, none from one's own spots: still not sure of much."""
    facts = made_up(np.random.default_rng(9), keep_rate=0.5, plays=5)
    facts = replace(facts, usable=np.zeros(5), plan=np.ones(5))
    figures = review_figures(facts, default_reach_yd=40.0)
    you, plan, _ = figures.policies
    # Beta(1, 6) has the closed form 1 - (1 - x)^6 below x.
    assert you.p_usable_high == pytest.approx(1 - 0.025 ** (1 / 6), abs=0.02)  # 2,000 draws
    assert plan.p_usable_low == pytest.approx(0.025 ** (1 / 6), abs=0.02)
    assert figures.plan_over_you[1] < 50.0
