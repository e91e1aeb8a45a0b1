"""The part of a situation that the length of a play depends on, once for each distinct one.

A season has some 32,000 plays in some 9,000 distinct states of down, distance, yard line and
context; a distribution is computed once a state.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from lensyard.model.axes import AXES, IntArray

STATE_AXES = ("down", "distance", "yardline", "context")
"""What a distribution of lengths depends on, besides the kind of play."""
_SIZES = tuple(AXES[name].size for name in STATE_AXES)
_FEW = 16


def state_key(codes: Mapping[str, IntArray]) -> IntArray:
    """Return one number for the bins on `STATE_AXES`, shape (n,)."""
    key = codes[STATE_AXES[0]]
    for name, size in zip(STATE_AXES[1:], _SIZES[1:], strict=True):
        key = key * size + codes[name]
    return key


def state_codes(key: IntArray) -> dict[str, IntArray]:
    """Return the bins on `STATE_AXES` from `state_key`."""
    parts = np.unravel_index(key, _SIZES)
    return {name: np.asarray(part) for name, part in zip(STATE_AXES, parts, strict=True)}


def distinct_states(
    codes: dict[str, IntArray],
) -> tuple[dict[str, IntArray], IntArray | None]:
    """Return the distinct states and, for every situation, its row among them.

    For a few situations the states are the situations, and the rows are None.
    """
    if codes["down"].shape[0] <= _FEW:
        return {name: codes[name] for name in STATE_AXES}, None
    keys, row = np.unique(state_key(codes), return_inverse=True)
    return state_codes(keys), row
