"""A textbook solver for small, dense, discounted Markov decision processes.

It is the yardstick for the structured planner in `lensyard.planner.solve`: the same problem written
out action by action must give the same values, and this solver itself is checked on published
problems. It is also the baseline of the planner's benchmark.

A problem has n states and a actions. ``transition[k, i, j]`` is the probability of j after action
k in i, shape (a, n, n); ``reward[i, k]`` is the expected reward of k in i, shape (n, a).
An action that is not allowed in a state has reward ``-inf`` there.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True, slots=True, eq=False)
class Solution:
    """Values and the policy that has them.

    - ``value``: shape (n,).
    - ``policy``: the chosen action by state, shape (n,); the lowest number among equals.
    """

    value: np.ndarray
    policy: np.ndarray


def value_iteration(
    transition: np.ndarray,
    reward: np.ndarray,
    *,
    discount: float,
    tolerance: float = 1e-10,
    max_iterations: int = 100_000,
) -> Solution:
    """Solve the discounted problem by successive approximation.

    - ``transition``, ``reward``: see the module's text.
    - ``discount``: in [0, 1).
    - ``tolerance``: largest error of a value when it stops (by the contraction bound), but not
      below what float64 can tell apart.
    - ``max_iterations``: at most this many sweeps.
    """
    value = np.zeros(reward.shape[0])
    bound = tolerance * (1 - discount) / max(discount, 1e-12)
    rounding = 4 * np.finfo(np.float64).eps
    for _ in range(max_iterations):
        action_value = reward + discount * np.einsum("kij,j->ik", transition, value)
        update = action_value.max(axis=1)
        change = float(np.abs(update - value).max())
        value = update
        if change <= max(bound, rounding * float(np.abs(value).max())):
            return Solution(value, action_value.argmax(axis=1))
    raise ValueError(f"values did not settle within {max_iterations} sweeps")
