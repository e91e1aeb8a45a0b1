"""The textbook solvers against published problems with known answers.

Where a source stands "from memory", the problem's data and its answer were not looked up; that the
two agree to all published digits is what makes them believable.
"""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.support.textbook_mdp import value_iteration

LAW = settings(max_examples=25)
NEVER = -math.inf

# R. A. Howard, Dynamic Programming and Markov Processes, 1960, the toymaker (from memory). State 0
# has a successful toy; action 1 advertises and does research.
TOYMAKER_P = np.array([[[0.5, 0.5], [0.4, 0.6]], [[0.8, 0.2], [0.7, 0.3]]])
TOYMAKER_R = np.array([[6.0, 4.0], [-3.0, -5.0]])

# pymdptoolbox, example.forest() with its defaults: wait or cut; a fire with probability 0.1.
FOREST_P = np.array([[[0.1, 0.9, 0.0], [0.1, 0.0, 0.9], [0.1, 0.0, 0.9]], [[1.0, 0.0, 0.0]] * 3])
FOREST_R = np.array([[0.0, 0.0], [0.0, 1.0], [4.0, 2.0]])

# pymdptoolbox, the two-state problem of its doctests.
SMALL_P = np.array([[[0.5, 0.5], [0.8, 0.2]], [[0.0, 1.0], [0.1, 0.9]]])
SMALL_R = np.array([[5.0, 10.0], [-1.0, 2.0]])


# --- published problems -----------------------------------------------------------------------


def test_howards_toymaker_discounted_at_nine_tenths():
    # Howard 1960 (from memory): 22.2 and 12.3, published to one decimal.
    best = value_iteration(TOYMAKER_P, TOYMAKER_R, discount=0.9)
    assert best.value == pytest.approx([22.2, 12.3], abs=0.05)
    assert best.policy.tolist() == [1, 1]


def test_forest_management_discounted():
    # pymdptoolbox, doctest of PolicyIteration at discount 0.9, published to three decimals.
    best = value_iteration(FOREST_P, FOREST_R, discount=0.9)
    assert best.value == pytest.approx([26.244, 29.484, 33.484], abs=5e-4)
    assert best.policy.tolist() == [0, 0, 0]


def test_the_two_state_problem():
    # The problem of pymdptoolbox's doctests, solved by hand; the doctest prints
    # 40.05 and 33.65, where its iteration stopped early.
    best = value_iteration(SMALL_P, SMALL_R, discount=0.9)
    assert best.value == pytest.approx([42.4419, 36.0465], abs=5e-5)
    assert best.policy.tolist() == [1, 0]


def gridworld(size):
    """Four moves on a grid; a move off the grid stays and costs 1. Shapes (4, n, n), (n, 4)."""
    n = size * size
    transition, reward = np.zeros((4, n, n)), np.zeros((n, 4))
    for cell in range(n):
        row, column = divmod(cell, size)
        for k, (dr, dc) in enumerate(((-1, 0), (1, 0), (0, -1), (0, 1))):
            inside = 0 <= row + dr < size and 0 <= column + dc < size
            transition[k, cell, (row + dr) * size + column + dc if inside else cell] = 1.0
            reward[cell, k] = 0.0 if inside else -1.0
    return transition, reward


def five_by_five():
    """The grid of Sutton and Barto's chapter 3: A (row 0, column 1) pays 10, B (0, 3) pays 5."""
    transition, reward = gridworld(5)
    for cell, target, pay in ((1, 21, 10.0), (3, 13, 5.0)):
        transition[:, cell] = 0.0
        transition[:, cell, target] = 1.0
        reward[cell] = pay
    return transition, reward


def test_gridworld_with_every_move_equally_likely():
    # Sutton & Barto, Reinforcement Learning, 2018, figure 3.2 (from memory), to one decimal.
    transition, reward = five_by_five()
    random = value_iteration(
        transition.mean(axis=0)[None], reward.mean(axis=1)[:, None], discount=0.9
    )
    assert random.value[:5] == pytest.approx([3.3, 8.8, 4.4, 5.3, 1.5], abs=0.05)


def test_gridworld_with_the_best_moves():
    # Sutton & Barto, Reinforcement Learning, 2018, figure 3.5.
    best = value_iteration(*five_by_five(), discount=0.9)
    expected = [21.977, 24.419, 21.977, 19.419, 17.477]
    assert best.value[:5] == pytest.approx(expected, abs=5e-4)


# --- laws -------------------------------------------------------------------------------------


def random_problem(seed):
    rng = np.random.default_rng(seed)
    n, actions = int(rng.integers(2, 6)), int(rng.integers(1, 4))
    transition = rng.dirichlet(np.ones(n), size=(actions, n))
    reward = rng.normal(size=(n, actions))
    forbidden = rng.random(reward.shape) < 0.3
    forbidden[np.arange(n), rng.integers(0, actions, n)] = False
    return transition, np.where(forbidden, NEVER, reward)


@LAW
@given(seed=st.integers(0, 2**32 - 1), discount=st.floats(0.0, 0.9))
def test_values_are_those_of_the_linear_program(seed, discount):
    """Oracle: the smallest V with V >= r + g P V for every allowed action, by SciPy's HiGHS."""
    from scipy.optimize import linprog

    transition, reward = random_problem(seed)
    n, actions = reward.shape
    allowed = [(i, k) for i in range(n) for k in range(actions) if np.isfinite(reward[i, k])]
    rows = np.array([discount * transition[k, i] - np.eye(n)[i] for i, k in allowed])
    limits = np.array([-reward[i, k] for i, k in allowed])
    program = linprog(np.ones(n), A_ub=rows, b_ub=limits, bounds=[(None, None)] * n)
    best = value_iteration(transition, reward, discount=discount)
    np.testing.assert_allclose(best.value, program.x, atol=1e-6)  # HiGHS's own tolerance is 1e-7
    assert np.isfinite(reward[np.arange(n), best.policy]).all()


def test_without_a_future_the_best_reward_now_is_all():
    best = value_iteration(SMALL_P, 1000 * SMALL_R, discount=0.0)
    assert best.value.tolist() == [10_000.0, 2000.0]
