"""Plays until a frame can be ticked: geometric, changing, and by state."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lensyard.errors import InvalidInputError, OutOfRangeError
from lensyard.features.game_plan.frame_events import (
    expected_plays,
    expected_plays_by_state,
    p_within,
)

law = settings(derandomize=True, deadline=None, max_examples=60)


@law
@given(p=st.floats(0.01, 1.0))
def test_a_constant_chance_waits_one_over_it(p):
    # Mean of the geometric distribution.
    assert expected_plays(p) == pytest.approx(1 / p, rel=1e-12)
    assert expected_plays([p, p, p]) == pytest.approx(1 / p, rel=1e-9)
    assert p_within(p, 3) == pytest.approx(1 - (1 - p) ** 3)


@law
@given(p=st.lists(st.floats(0.0, 1.0), min_size=1, max_size=5), last=st.floats(0.05, 1.0))
def test_changing_chances_equal_the_sum_over_plays(p, last):
    chances = np.array([*p, *([last] * 4000)])
    alive = np.concatenate([[1.0], np.cumprod(1 - chances)[:-1]])
    by_sum = float((np.arange(1, chances.size + 1) * chances * alive).sum())
    assert expected_plays([*p, last]) == pytest.approx(by_sum, rel=1e-9)


def test_what_cannot_happen_is_never_had():
    assert expected_plays(0.0) == float("inf")
    assert expected_plays([0.5, 0.0]) == float("inf")
    assert expected_plays([1.0, 0.0]) == 1.0
    assert (p_within(0.0, 50), p_within(0.3, 0)) == (0.0, 0.0)


def simulate(p, transition, restart, start, rng, games=20_000):
    """Plays until the frame, game by game, for a check apart from the linear system."""
    state = np.full(games, start)
    left = 1.0 - transition.sum(axis=1)
    whole = np.cumsum(transition + left[:, None] * restart, axis=1)
    plays, open_ = np.zeros(games), np.ones(games, dtype=bool)
    while open_.any():
        plays[open_] += 1
        open_ &= rng.random(games) >= p[state]
        draw = rng.random(games)
        state = (draw[:, None] > whole[state]).sum(axis=1).clip(0, len(p) - 1)
    return plays


def test_by_state_equals_a_simulation():
    p = np.array([0.0, 0.1, 0.5])
    transition = np.array([[0.2, 0.6, 0.1], [0.3, 0.3, 0.3], [0.8, 0.0, 0.1]])
    restart = np.array([1.0, 0.0, 0.0])
    plays = expected_plays_by_state(p, transition, restart=restart)
    rng = np.random.default_rng(12)
    for start in range(3):
        drawn = simulate(p, transition, restart, start, rng)
        # Five standard errors of 20,000 draws.
        assert plays[start] == pytest.approx(drawn.mean(), abs=5 * drawn.std() / np.sqrt(20_000))


def test_one_state_is_the_geometric_case():
    plays = expected_plays_by_state(np.array([0.2]), np.array([[0.9]]), restart=np.array([1.0]))
    assert plays[0] == pytest.approx(5.0)


def test_a_run_without_return_may_wait_forever():
    # From 0 one may slip into 2, where the frame never comes; 3 always has it.
    transition = np.array(
        [[0.0, 0.5, 0.5, 0.0], [0.0, 1.0, 0.0, 0.0], [0.0, 0.0, 1.0, 0.0], [0.0, 0.0, 1.0, 0.0]]
    )
    p = np.array([0.5, 0.25, 0.0, 1.0])
    plays = expected_plays_by_state(p, transition, restart=np.full(4, 0.25))
    assert plays[0] == plays[2] == np.inf
    assert (plays[1], plays[3]) == (pytest.approx(4.0), pytest.approx(1.0))
    none = expected_plays_by_state(np.zeros(4), transition, restart=np.full(4, 0.25))
    assert np.isinf(none).all()


def test_what_is_no_probability_is_refused():
    with pytest.raises(OutOfRangeError, match="highest_p"):
        expected_plays([0.5, 1.5])
    with pytest.raises(InvalidInputError, match="one probability"):
        expected_plays([])
    with pytest.raises(OutOfRangeError, match="plays"):
        p_within(0.5, -1)
    square, start = np.full((2, 2), 0.5), np.array([1.0, 0.0])
    for p, chain, restart in (
        (np.array([0.5]), square, start),
        (np.array([0.5, 2.0]), square, start),
        (np.array([0.5, 0.5]), 2 * square, start),
        (np.array([0.5, 0.5]), square, np.zeros(2)),
    ):
        with pytest.raises(InvalidInputError, match="restart"):
            expected_plays_by_state(p, chain, restart=restart)
