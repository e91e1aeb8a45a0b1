"""The figures of photographers whose habits are known, because they were made up."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from tests.features.review.invented import ZONES, made_up

from lensyard.errors import InvalidInputError
from lensyard.features.review.figures import PlayFacts, review_figures
from lensyard.features.review.figures import keep_rate as rate_of_reviews


@pytest.mark.statistical
@pytest.mark.parametrize("keep_rate", [0.4, 0.8])
def test_a_known_keep_rate_is_inside_its_interval_in_95_of_100_reviews(keep_rate: float) -> None:
    """1,000 whole reviews each; between 93 and 97 % is what the promise of 95 % allows."""
    rng = np.random.default_rng(round(1000 * keep_rate))
    covered = 0
    for _ in range(1000):
        facts = made_up(rng, keep_rate=keep_rate, plays=int(rng.integers(50, 90)))
        found = rate_of_reviews(facts.usable, facts.kept)
        covered += found.p_low <= keep_rate <= found.p_high
    assert 0.93 <= covered / 1000 <= 0.97


def test_the_review_reports_that_same_keep_rate() -> None:
    facts = made_up(np.random.default_rng(1), keep_rate=0.6)
    figures = review_figures(facts, default_reach_yd=40.0)
    assert figures.keep == rate_of_reviews(facts.usable, facts.kept)


def test_zones_and_spots_add_up_to_all() -> None:
    facts = made_up(np.random.default_rng(2), keep_rate=0.6)
    figures = review_figures(facts, default_reach_yd=40.0)
    for groups in (figures.zones, figures.spots):
        assert sum(g.plays for g in groups) == figures.overall.plays == 60
        assert sum(g.usable.hits for g in groups) == pytest.approx(figures.overall.usable.hits)
        assert sum(g.kept.hits for g in groups) == figures.overall.kept.hits
    assert [z.name for z in figures.zones] == [z for z in ZONES if (facts.zone == z).any()]


def test_policies_are_compared_on_the_same_plays() -> None:
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


def test_what_was_not_noted_is_not_counted_as_nothing() -> None:
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


def test_no_spot_is_an_error_that_says_what_to_do() -> None:
    facts = replace(made_up(np.random.default_rng(5), keep_rate=0.5), spot=np.full(60, ""))
    with pytest.raises(InvalidInputError, match="--spot"):
        review_figures(facts, default_reach_yd=40.0)
    with pytest.raises(InvalidInputError, match="one length"):
        replace(facts, kept=facts.kept[:-1])


def test_games_are_joined_in_their_order() -> None:
    parts = [made_up(np.random.default_rng(i), keep_rate=0.5, plays=20) for i in (6, 7)]
    joined = PlayFacts.joined(parts)
    assert len(joined) == 40
    assert joined.usable[20:].tolist() == parts[1].usable.tolist()


def test_the_same_facts_give_the_same_figures() -> None:
    facts = made_up(np.random.default_rng(8), keep_rate=0.5)
    first, second = (review_figures(facts, default_reach_yd=40.0) for _ in range(2))
    assert first == second


def test_five_plays_are_no_certainty() -> None:
    """All five usable with the plan, none from one's own spots: still not sure of much."""
    facts = made_up(np.random.default_rng(9), keep_rate=0.5, plays=5)
    facts = replace(facts, usable=np.zeros(5), plan=np.ones(5))
    figures = review_figures(facts, default_reach_yd=40.0)
    you, plan, _ = figures.policies
    # Beta(1, 6) has the closed form 1 - (1 - x)^6 below x.
    assert you.p_usable_high == pytest.approx(1 - 0.025 ** (1 / 6), abs=0.02)  # 2,000 draws
    assert plan.p_usable_low == pytest.approx(0.025 ** (1 / 6), abs=0.02)
    assert figures.plan_over_you[1] < 50.0
