"""Textbook solvers for small, dense Markov decision processes.

They are the yardstick for the structured planner in `lensyard.planner.solve`: the same problem
written out action by action must give the same values, and these solvers themselves are checked on
published problems. They are also the baseline of its benchmark.

A problem has n states and a actions. ``transition[k, i, j]`` is the probability of j after action
k in i, shape (a, n, n); ``reward[i, k]`` is the expected reward of k in i, shape (n, a).
An action that is not allowed in a state has reward ``-inf`` there.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lensyard.errors import InvalidInputError, require_range

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


@dataclass(frozen=True, slots=True, eq=False)
class Solution:
    """Values and the policy that earns them.

    Attributes
    ----------
    value
        Shape (n,).
    policy
        The chosen action by state, shape (n,); the lowest number among equals.
    iterations
        How many sweeps it took.
    gain
        Reward per step in the long run; NaN for discounted problems.
    """

    value: FloatArray
    policy: IntArray
    iterations: int
    gain: float = float("nan")


def _check(transition: FloatArray, reward: FloatArray) -> None:
    actions, n, m = transition.shape
    if n != m or reward.shape != (n, actions):
        raise InvalidInputError(
            f"expected transition (a, n, n) and reward (n, a); got {transition.shape} and "
            f"{reward.shape}"
        )
    if not np.allclose(transition.sum(axis=2), 1.0) or (transition < 0).any():
        raise InvalidInputError(
            "each row of the transition must be at least 0 and sum to 1; normalize it first"
        )
    if np.isnan(reward).any() or not np.isfinite(reward.max(axis=1)).all():
        raise InvalidInputError(
            "rewards must be numbers, and each state needs an allowed action (reward above -inf)"
        )


def _not_settled(max_iterations: int) -> InvalidInputError:
    return InvalidInputError(
        f"values did not settle within {max_iterations} sweeps; raise max_iterations or tolerance, "
        "or lower the discount"
    )


def _action_values(
    transition: FloatArray, reward: FloatArray, value: FloatArray, discount: float
) -> FloatArray:
    result: FloatArray = reward + discount * np.einsum("kij,j->ik", transition, value)
    return result


def value_iteration(
    transition: FloatArray,
    reward: FloatArray,
    *,
    discount: float,
    tolerance: float = 1e-10,
    max_iterations: int = 100_000,
) -> Solution:
    """Solve the discounted problem by successive approximation.

    Parameters
    ----------
    transition, reward
        See the module's text.
    discount
        In [0, 1).
    tolerance
        Largest error of a value when it stops (by the contraction bound), but not below what
        float64 can tell apart.
    max_iterations
        At most this many sweeps.

    Raises
    ------
    InvalidInputError
        If shapes do not fit, rows do not sum to 1, a state has no allowed action, or the values
        do not settle.
    """
    require_range(low=0, high=1 - 1e-12, discount=discount)
    _check(transition, reward)
    value = np.zeros(reward.shape[0])
    bound = tolerance * (1 - discount) / max(discount, 1e-12)
    rounding = 4 * np.finfo(np.float64).eps
    for sweep in range(1, max_iterations + 1):
        action_value = _action_values(transition, reward, value, discount)
        update = action_value.max(axis=1)
        change = float(np.abs(update - value).max())
        value = update
        if change <= max(bound, rounding * float(np.abs(value).max())):
            return Solution(value, action_value.argmax(axis=1), sweep)
    raise _not_settled(max_iterations)


def finite_horizon(
    transition: FloatArray, reward: FloatArray, *, discount: float, steps: int
) -> Solution:
    """Return the values with ``steps`` decisions to go and nothing after them.

    The policy is that of the first decision.
    """
    require_range(low=0, high=1, discount=discount)
    require_range(low=1, high=1_000_000, steps=steps)
    _check(transition, reward)
    value = np.zeros(reward.shape[0])
    for _ in range(steps):
        action_value = _action_values(transition, reward, value, discount)
        value = action_value.max(axis=1)
    return Solution(value, action_value.argmax(axis=1), steps)


def relative_value_iteration(
    transition: FloatArray,
    reward: FloatArray,
    *,
    tolerance: float = 1e-10,
    max_iterations: int = 200_000,
) -> Solution:
    """Solve for the largest average reward per step (unichain problems).

    The process is made aperiodic by staying put with probability 1/2 in each step, which leaves
    the gain per real step unchanged once halved rewards are doubled back. Values are relative to
    state 0, and the gain's error is at most ``tolerance``.

    Raises
    ------
    InvalidInputError
        As in `value_iteration`; values do not settle where the gain depends on the start.
    """
    _check(transition, reward)
    n = reward.shape[0]
    lazy = 0.5 * transition + 0.5 * np.eye(n)[None]
    value = np.zeros(n)
    rounding = 4 * np.finfo(np.float64).eps
    for sweep in range(1, max_iterations + 1):
        action_value = _action_values(lazy, 0.5 * reward, value, 1.0)
        update = action_value.max(axis=1)
        change = update - value
        value = update - update[0]
        if np.ptp(change) <= max(tolerance, rounding * float(np.abs(update).max())):
            gain = float(change.max() + change.min())
            return Solution(value, action_value.argmax(axis=1), sweep, gain)
    raise _not_settled(max_iterations)
