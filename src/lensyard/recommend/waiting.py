"""How many plays it takes until a frame can be ticked, and how likely it comes in time."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lensyard.errors import InvalidInputError, require_range

FloatArray = NDArray[np.float64]


def expected_plays(p_frame: ArrayLike) -> float:
    """Return how many plays it takes on average until a frame can be ticked.

    Parameters
    ----------
    p_frame
        P(a play makes the frame): one number, or one for each of the next plays in their order,
        the last of which goes on. Shape () or (m,).

    Returns
    -------
    float
        The play that makes it counts; infinity if it cannot happen.

    Notes
    -----
    With constant p this is the mean of a geometric distribution, 1 / p. With p_1, p_2, ... it is
    the sum over t of P(not in the first t plays).

    Examples
    --------
    >>> expected_plays(0.25), expected_plays([0.0, 1.0])
    (4.0, 2.0)
    """
    p = _probabilities(p_frame)
    not_yet = np.concatenate([[1.0], np.cumprod(1.0 - p[:-1])])
    if not_yet[-1] > 0 and p[-1] == 0:
        return float("inf")
    tail = not_yet[-1] / p[-1] if p[-1] > 0 else 0.0
    return float(not_yet[:-1].sum() + tail)


def p_within(p_frame: ArrayLike, plays: int) -> float:
    """Return P(a frame is ticked within so many plays); ``p_frame`` as in `expected_plays`.

    >>> p_within(0.5, 2)
    0.75
    """
    require_range(low=0, high=100_000, plays=plays)
    p = _probabilities(p_frame)
    p = np.concatenate([p, np.full(max(plays - p.size, 0), p[-1])])[:plays]
    return float(1.0 - np.prod(1.0 - p))


def _probabilities(p_frame: ArrayLike) -> FloatArray:
    p = np.atleast_1d(np.asarray(p_frame, dtype=np.float64))
    if p.ndim != 1 or p.size == 0:
        raise InvalidInputError(f"expected one probability or a list of them; got shape {p.shape}")
    require_range(low=0, high=1, lowest_p=float(p.min()), highest_p=float(p.max()))
    return p


def expected_plays_by_state(
    p_frame: FloatArray, transition: FloatArray, *, restart: FloatArray
) -> FloatArray:
    """Return the plays until a frame can be ticked when its probability changes with the state.

    Parameters
    ----------
    p_frame
        P(a play makes the frame from the spot one would take in each state), shape (s,).
    transition
        P(next state | state) whoever has the ball, shape (s, s); what its rows lack to 1 ends a
        half, after which the next one starts by ``restart``.
    restart
        P(state) at the start of a half, shape (s,).

    Returns
    -------
    ndarray, shape (s,)
        ``h = 1 + (1 - p) T h`` solved for h, with T the transition completed by the restart;
        infinity where the frame may never come.

    Raises
    ------
    InvalidInputError
        If shapes do not fit or something is no probability.
    """
    chain = _completed(p_frame, transition, restart)
    states = p_frame.shape[0]
    stuck = _may_never_come(p_frame, chain)
    plays = np.full(states, np.inf)
    fine = np.flatnonzero(~stuck)
    if fine.size:
        go_on = (1.0 - p_frame[fine])[:, np.newaxis] * chain[np.ix_(fine, fine)]
        plays[fine] = np.linalg.solve(np.eye(fine.size) - go_on, np.ones(fine.size))
    return plays


def _completed(p_frame: FloatArray, transition: FloatArray, restart: FloatArray) -> FloatArray:
    s = p_frame.shape[0]
    if p_frame.shape != (s,) or transition.shape != (s, s) or restart.shape != (s,):
        raise InvalidInputError(
            f"expected p_frame (s,), transition (s, s) and restart (s,); got {p_frame.shape}, "
            f"{transition.shape} and {restart.shape}"
        )
    rows = transition.sum(axis=1, dtype=np.float64)
    fits = (
        transition.min() >= 0
        and rows.max() <= 1 + 1e-4
        and restart.min() >= 0
        and abs(restart.sum() - 1.0) <= 1e-6
        and p_frame.min() >= 0
        and p_frame.max() <= 1
    )
    if not fits:
        raise InvalidInputError(
            "p_frame must be probabilities, the rows of transition at least 0 with sums of at most "
            f"1, and restart must sum to 1; got p {p_frame.min():g} to {p_frame.max():g}, rows up "
            f"to {rows.max():g}, restart {restart.sum():g}"
        )
    chain = transition / np.maximum(rows, 1.0)[:, np.newaxis]
    completed: FloatArray = chain + np.maximum(1.0 - rows, 0.0)[:, np.newaxis] * restart
    return completed


def _may_never_come(p_frame: FloatArray, chain: FloatArray) -> NDArray[np.bool_]:
    """Whether with some probability the frame never comes, by state."""
    linked = chain > 0
    hopeful = p_frame > 0
    while True:  # states from which a hopeful one can be reached
        wider = hopeful | (linked & hopeful[np.newaxis, :]).any(axis=1)
        if (wider == hopeful).all():
            break
        hopeful = wider
    stuck = ~hopeful
    while True:  # states that may run into a hopeless one first
        wider = stuck | ((p_frame < 1) & (linked & stuck[np.newaxis, :]).any(axis=1))
        if (wider == stuck).all():
            return stuck
        stuck = wider
