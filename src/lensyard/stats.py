"""Intervals: Wilson's for shares, and the bootstrap of whole games for everything else.

Plays of one game are not independent, so intervals of measured figures draw games, not plays.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Any, Final, overload

import numpy as np

from lensyard.arrays import AnyArray, FloatArray

Z_95: Final = 1.959963984540054
"""Two-sided 95 % point of the standard normal distribution."""

BOOTSTRAP_DRAWS: Final = 2000


@overload
def wilson(p: float, plays: float) -> tuple[float, float]: ...
@overload
def wilson(p: FloatArray, plays: AnyArray) -> tuple[FloatArray, FloatArray]: ...
def wilson(p: Any, plays: Any) -> tuple[Any, Any]:
    """Return Wilson's 95 % interval of a share of so many plays, elementwise for arrays.

    - ``p``: the share. [0, 1]
    - ``plays``: of how many. > 0

    Source: E. B. Wilson, "Probable Inference, the Law of Succession, and Statistical Inference",
    Journal of the American Statistical Association 22 (1927), 209-212.

    >>> [round(bound, 4) for bound in wilson(0.5, 100)]
    [0.4038, 0.5962]
    """
    spread = Z_95**2 / plays
    center = (p + spread / 2) / (1 + spread)
    half = Z_95 / (1 + spread) * (p * (1 - p) / plays + spread / (4 * plays)) ** 0.5
    if np.ndim(half) == 0:
        return max(float(center - half), 0.0), min(float(center + half), 1.0)
    return np.maximum(center - half, 0.0), np.minimum(center + half, 1.0)


@lru_cache(maxsize=4)
def bootstrap_games(games: int, *, seed: int = 7, draws: int = BOOTSTRAP_DRAWS) -> FloatArray:
    """Return how often each game is drawn when games are drawn anew, shape (draws, games).

    Not to be changed: who asks for the same draws shares them.
    """
    rng = np.random.default_rng(seed)
    counts: FloatArray = rng.multinomial(games, np.full(games, 1 / games), size=draws).astype(float)
    return counts


def interval_95(drawn: FloatArray) -> tuple[float, float]:
    """Return the 2.5 % and the 97.5 % quantile of draws, shape (draws,)."""
    low, high = np.quantile(drawn, [0.025, 0.975])
    return float(low), float(high)


def ratio_interval(
    numerator: FloatArray, denominator: FloatArray, weights: FloatArray
) -> tuple[float, float, float]:
    """Return the ratio of two sums over games with its 95 % interval.

    - ``numerator``, ``denominator``: by game, shape (games,).
    - ``weights``: how often each game is drawn, from `bootstrap_games`, shape (draws, games).

    >>> usable, plays = np.array([30.0, 50.0]), np.array([100.0, 100.0])
    >>> [round(x, 2) for x in ratio_interval(usable, plays, bootstrap_games(2))]
    [0.4, 0.3, 0.5]
    """
    drawn = (weights @ numerator) / np.maximum(weights @ denominator, 1e-12)
    return float(numerator.sum() / denominator.sum()), *interval_95(drawn)
