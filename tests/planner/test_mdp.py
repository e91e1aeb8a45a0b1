"""The textbook solvers against published problems with known answers.

Where a source stands "from memory", the problem's data and its answer were not looked up; that the
two agree to all published digits is what makes them believable.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.support.textbook_mdp import (
    Solution,
    finite_horizon,
    relative_value_iteration,
    value_iteration,
)

from lensyard.errors import InvalidInputError, OutOfRangeError

LAW = settings(derandomize=True, deadline=None, max_examples=25)
NEVER = -math.inf

# R. A. Howard, Dynamic Programming and Markov Processes, 1960, the toymaker (from memory). State 0
# has a successful toy; action 1 advertises and does research.
TOYMAKER_P = np.array([[[0.5, 0.5], [0.4, 0.6]], [[0.8, 0.2], [0.7, 0.3]]])
TOYMAKER_R = np.array([[6.0, 4.0], [-3.0, -5.0]])

# The same book, the taxicab (from memory): three towns; actions cruise, stand, wait for a call
# (none in town B). Each action: (probabilities, reward of each trip).
_TAXI = [
    [
        ((1 / 2, 1 / 4, 1 / 4), (10, 4, 8)),
        ((1 / 16, 3 / 4, 3 / 16), (8, 2, 4)),
        ((1 / 4, 1 / 8, 5 / 8), (4, 6, 4)),
    ],
    [((1 / 2, 0, 1 / 2), (14, 0, 18)), ((1 / 16, 7 / 8, 1 / 16), (8, 16, 8)), None],
    [
        ((1 / 4, 1 / 4, 1 / 2), (10, 2, 8)),
        ((1 / 8, 3 / 4, 1 / 8), (6, 4, 2)),
        ((3 / 4, 1 / 16, 3 / 16), (4, 0, 8)),
    ],
]
TAXI_P = np.array([[(_TAXI[i][k] or ((0, 1, 0), ()))[0] for i in range(3)] for k in range(3)])
TAXI_R = np.array([[np.dot(*entry) if entry else NEVER for entry in town] for town in _TAXI])

# pymdptoolbox, example.forest() with its defaults: wait or cut; a fire with probability 0.1.
FOREST_P = np.array([[[0.1, 0.9, 0.0], [0.1, 0.0, 0.9], [0.1, 0.0, 0.9]], [[1.0, 0.0, 0.0]] * 3])
FOREST_R = np.array([[0.0, 0.0], [0.0, 1.0], [4.0, 2.0]])

# pymdptoolbox, the two-state problem of its doctests.
SMALL_P = np.array([[[0.5, 0.5], [0.8, 0.2]], [[0.0, 1.0], [0.1, 0.9]]])
SMALL_R = np.array([[5.0, 10.0], [-1.0, 2.0]])


def under(policy: list[int], transition: np.ndarray, reward: np.ndarray) -> tuple[np.ndarray, ...]:
    """The problem with one action left: that of the policy."""
    states = np.arange(len(policy))
    return transition[policy, states][None], reward[states, policy][:, None]


def stationary(chain: np.ndarray) -> np.ndarray:
    """Long-run shares of a chain, by linear algebra."""
    n = chain.shape[0]
    system = np.vstack([chain.T - np.eye(n), np.ones(n)])
    shares: np.ndarray = np.linalg.lstsq(system, np.append(np.zeros(n), 1.0), rcond=None)[0]
    return shares


# --- published problems -----------------------------------------------------------------------


def test_howards_toymaker_earns_2_a_week_and_1_without_advertising() -> None:
    # Howard 1960 (from memory): gain 1 for neither, 2 for advertising and research.
    best = relative_value_iteration(TOYMAKER_P, TOYMAKER_R)
    assert best.gain == pytest.approx(2.0, abs=1e-8)  # the solver's tolerance is 1e-10
    assert best.policy.tolist() == [1, 1]
    base = relative_value_iteration(*under([0, 0], TOYMAKER_P, TOYMAKER_R))
    assert base.gain == pytest.approx(1.0, abs=1e-8)


def test_howards_toymaker_discounted_at_nine_tenths() -> None:
    # Howard 1960 (from memory): 22.2 and 12.3, published to one decimal.
    best = value_iteration(TOYMAKER_P, TOYMAKER_R, discount=0.9)
    assert best.value == pytest.approx([22.2, 12.3], abs=0.05)
    assert best.policy.tolist() == [1, 1]
    assert math.isnan(best.gain)


def test_howards_taxicab_earns_13_3445_a_trip() -> None:
    # Howard 1960 (from memory): optimal 2-2-2 with gain 13.3445; the greedy 1-1-1 gains 9.2.
    best = relative_value_iteration(TAXI_P, TAXI_R)
    assert best.gain == pytest.approx(13.3445, abs=5e-5)  # published to four decimals
    assert best.policy.tolist() == [1, 1, 1]
    greedy = TAXI_R.argmax(axis=1).tolist()
    assert greedy == [0, 0, 0]
    gain = relative_value_iteration(*under(greedy, TAXI_P, TAXI_R)).gain
    assert gain == pytest.approx(9.2, abs=0.05)


def test_forest_management_discounted() -> None:
    # pymdptoolbox, doctest of PolicyIteration at discount 0.9, published to three decimals.
    best = value_iteration(FOREST_P, FOREST_R, discount=0.9)
    assert best.value == pytest.approx([26.244, 29.484, 33.484], abs=5e-4)
    assert best.policy.tolist() == [0, 0, 0]


def test_forest_management_with_three_years_to_go() -> None:
    # pymdptoolbox, doctest of FiniteHorizon: discount 0.9, three periods.
    best = finite_horizon(FOREST_P, FOREST_R, discount=0.9, steps=3)
    assert best.value == pytest.approx([2.6973, 5.9373, 9.9373], abs=5e-5)
    assert best.iterations == 3


def test_forest_management_earns_3_24_a_year() -> None:
    # pymdptoolbox, doctest of RelativeValueIteration, published to two decimals.
    assert relative_value_iteration(FOREST_P, FOREST_R).gain == pytest.approx(3.24, abs=0.005)


def test_the_two_state_problem() -> None:
    # The problem of pymdptoolbox's doctests, solved by hand in the test below; the doctest prints
    # 40.05 and 33.65, where its iteration stopped early.
    best = value_iteration(SMALL_P, SMALL_R, discount=0.9)
    assert best.value == pytest.approx([42.4419, 36.0465], abs=5e-5)
    assert best.policy.tolist() == [1, 0]
    gain = relative_value_iteration(SMALL_P, SMALL_R).gain
    assert gain == pytest.approx(35 / 9, abs=1e-8)


def test_the_two_state_problem_by_linear_algebra() -> None:
    chain, reward = under([1, 0], SMALL_P, SMALL_R)
    value = np.linalg.solve(np.eye(2) - 0.9 * chain[0], reward[:, 0])
    assert value == pytest.approx([42.4419, 36.0465], abs=5e-5)
    assert stationary(chain[0]) @ reward[:, 0] == pytest.approx(35 / 9, abs=1e-9)


def gridworld(size: int) -> tuple[np.ndarray, np.ndarray]:
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


def five_by_five() -> tuple[np.ndarray, np.ndarray]:
    """The grid of Sutton and Barto's chapter 3: A (row 0, column 1) pays 10, B (0, 3) pays 5."""
    transition, reward = gridworld(5)
    for cell, target, pay in ((1, 21, 10.0), (3, 13, 5.0)):
        transition[:, cell] = 0.0
        transition[:, cell, target] = 1.0
        reward[cell] = pay
    return transition, reward


def test_gridworld_with_every_move_equally_likely() -> None:
    # Sutton & Barto, Reinforcement Learning, 2018, figure 3.2 (from memory), to one decimal.
    transition, reward = five_by_five()
    random = value_iteration(
        transition.mean(axis=0)[None], reward.mean(axis=1)[:, None], discount=0.9
    )
    assert random.value[:5] == pytest.approx([3.3, 8.8, 4.4, 5.3, 1.5], abs=0.05)


def test_gridworld_with_the_best_moves() -> None:
    # Sutton & Barto, Reinforcement Learning, 2018, figure 3.5.
    best = value_iteration(*five_by_five(), discount=0.9)
    expected = [21.977, 24.419, 21.977, 19.419, 17.477]
    assert best.value[:5] == pytest.approx(expected, abs=5e-4)


def test_gridworld_with_two_exits_undiscounted() -> None:
    # Sutton & Barto, Reinforcement Learning, 2018, figure 4.1: the random policy, -1 a move.
    transition, reward = gridworld(4)
    reward[:] = -1.0
    for corner in (0, 15):
        transition[:, corner] = 0.0
        transition[:, corner, corner] = 1.0
        reward[corner] = 0.0
    random = finite_horizon(
        transition.mean(axis=0)[None], reward.mean(axis=1)[:, None], discount=1.0, steps=600
    )
    expected = [[0, -14, -20, -22], [-14, -18, -20, -20], [-20, -20, -18, -14], [-22, -20, -14, 0]]
    # The largest eigenvalue of the moves is about 0.95: nothing is left after 600.
    assert random.value.reshape(4, 4) == pytest.approx(np.array(expected, dtype=float), abs=1e-6)


# --- laws -------------------------------------------------------------------------------------


def random_problem(seed: int) -> tuple[np.ndarray, np.ndarray]:
    rng = np.random.default_rng(seed)
    n, actions = int(rng.integers(2, 6)), int(rng.integers(1, 4))
    transition = rng.dirichlet(np.ones(n), size=(actions, n))
    reward = rng.normal(size=(n, actions))
    forbidden = rng.random(reward.shape) < 0.3
    forbidden[np.arange(n), rng.integers(0, actions, n)] = False
    return transition, np.where(forbidden, NEVER, reward)


@LAW
@given(seed=st.integers(0, 2**32 - 1), discount=st.floats(0.0, 0.9))
def test_values_are_those_of_the_linear_program(seed: int, discount: float) -> None:
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


@LAW
@given(seed=st.integers(0, 2**32 - 1))
def test_the_gain_is_what_the_best_stationary_policy_earns(seed: int) -> None:
    """Oracle: every policy's stationary shares by linear algebra."""
    from itertools import product

    transition, reward = random_problem(seed)
    n, actions = reward.shape
    value = []
    for policy in product(range(actions), repeat=n):
        pay = reward[np.arange(n), policy]
        if np.isfinite(pay).all():
            value.append(float(stationary(transition[list(policy), np.arange(n)]) @ pay))
    best = relative_value_iteration(transition, reward)
    assert best.gain == pytest.approx(max(value), abs=1e-8)


@LAW
@given(seed=st.integers(0, 2**32 - 1), discount=st.floats(0.1, 0.9))
def test_many_steps_to_go_are_as_good_as_forever(seed: int, discount: float) -> None:
    transition, reward = random_problem(seed)
    forever = value_iteration(transition, reward, discount=discount)
    long = finite_horizon(transition, reward, discount=discount, steps=300)
    np.testing.assert_allclose(long.value, forever.value, atol=1e-8)  # 0.9 ** 300 is 2e-14


@LAW
@given(seed=st.integers(0, 2**32 - 1))
def test_relabeling_states_and_actions_relabels_the_solution(seed: int) -> None:
    transition, reward = random_problem(seed)
    n, actions = reward.shape
    rng = np.random.default_rng(seed + 1)
    s, k = rng.permutation(n), rng.permutation(actions)
    one = value_iteration(transition, reward, discount=0.8)
    other = value_iteration(transition[k][:, s][:, :, s], reward[s][:, k], discount=0.8)
    np.testing.assert_allclose(other.value, one.value[s], atol=1e-9)
    assert (k[other.policy] == one.policy[s]).all()


def test_an_action_that_is_not_allowed_is_never_taken() -> None:
    reward = np.where(np.array([[False, True], [False, False]]), NEVER, SMALL_R)
    for solution in (
        value_iteration(SMALL_P, reward, discount=0.9),
        relative_value_iteration(SMALL_P, reward),
        finite_horizon(SMALL_P, reward, discount=1.0, steps=5),
    ):
        assert isinstance(solution, Solution)
        assert solution.policy[0] == 0
        assert np.isfinite(solution.value).all()


def test_without_a_future_the_best_reward_now_is_all() -> None:
    best = value_iteration(SMALL_P, 1000 * SMALL_R, discount=0.0)
    assert best.value.tolist() == [10_000.0, 2000.0]


def test_large_values_settle_although_the_tolerance_is_below_their_rounding() -> None:
    best = value_iteration(SMALL_P, 1e9 * SMALL_R, discount=0.99, tolerance=1e-12)
    chain, reward = under(best.policy.tolist(), SMALL_P, 1e9 * SMALL_R)
    exact = np.linalg.solve(np.eye(2) - 0.99 * chain[0], reward[:, 0])
    np.testing.assert_allclose(best.value, exact, rtol=1e-10)


# --- what is refused --------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("transition", "reward", "message"),
    [
        (SMALL_P[:, :1], SMALL_R, "expected transition"),
        (SMALL_P, SMALL_R.T[:1], "expected transition"),
        (SMALL_P * 0.9, SMALL_R, "sum to 1"),
        (np.array([[[1.5, -0.5], [0.0, 1.0]]]), np.zeros((2, 1)), "at least 0"),
        (SMALL_P * math.nan, SMALL_R, "sum to 1"),
        (SMALL_P, np.array([[NEVER, NEVER], [0.0, 0.0]]), "an allowed action"),
        (SMALL_P, np.array([[math.nan, 0.0], [0.0, 0.0]]), "must be numbers"),
        (SMALL_P, np.array([[math.inf, 0.0], [0.0, 0.0]]), "must be numbers"),
    ],
)
def test_a_problem_that_is_none_is_refused(
    transition: np.ndarray, reward: np.ndarray, message: str
) -> None:
    with pytest.raises(InvalidInputError, match=message):
        value_iteration(transition, reward, discount=0.9)
    with pytest.raises(InvalidInputError, match=message):
        finite_horizon(transition, reward, discount=0.9, steps=1)
    with pytest.raises(InvalidInputError, match=message):
        relative_value_iteration(transition, reward)


@pytest.mark.parametrize("discount", [1.0, -0.1, math.nan])
def test_a_discount_without_a_limit_is_refused(discount: float) -> None:
    with pytest.raises(OutOfRangeError, match="discount"):
        value_iteration(SMALL_P, SMALL_R, discount=discount)


def test_values_that_do_not_settle_are_not_passed_off_as_a_solution() -> None:
    with pytest.raises(InvalidInputError, match="did not settle within 3 sweeps"):
        value_iteration(SMALL_P, SMALL_R, discount=0.9, max_iterations=3)
    # Two absorbing states: the gain depends on where one starts.
    apart = np.eye(2)[None]
    with pytest.raises(InvalidInputError, match="did not settle"):
        relative_value_iteration(apart, np.array([[0.0], [1.0]]), max_iterations=50)
