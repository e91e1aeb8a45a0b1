"""Rehearse a plan: many invented games drawn from the model, walked by the plan and by habit.

A plan is a table of decisions; what a photographer wants to know before a game is what following it
amounts to: where one stands in each phase, how often that is usable, how far one walks, how long
until each frame is in the bag. Games are drawn from the transitions with a fixed seed; what is
counted on the way are the model's probabilities, not further draws.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lensyard.domain.field import Direction
from lensyard.recommend.plan import choose_many
from lensyard.recommend.planning import Side, side_index
from lensyard.recommend.reward import turned_positions

Float32Array = NDArray[np.float32]
FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

# Scrimmage plays of both teams in a game: 63.3 a team in 2021 (USA Today, 27 May 2022).
PLAYS_PER_GAME = 126
QUARTER_BREAK_LIMIT_YD = 160.0

# (side of each game, state, position, walking limit) -> new position, all of shape (games,)
Step = Callable[[IntArray, IntArray, IntArray, FloatArray], IntArray]


@dataclass(frozen=True, slots=True)
class Chains:
    """Drawn games: shape (plays, games) each.

    ``side`` and ``state`` as in the plan, ``toward_a`` the direction, ``limit_yd`` the walking
    limit before the play.
    """

    side: IntArray
    state: IntArray
    toward_a: BoolArray
    limit_yd: FloatArray


@dataclass(frozen=True, slots=True)
class Rehearsal:
    """A walked set of games: position in the play frame and walk, shape (plays, games). [yd]"""

    chains: Chains
    position: IntArray
    walk_yd: FloatArray

    @property
    def walk_yd_per_game(self) -> float:
        """Mean walking per game. [yd]"""
        return float(self.walk_yd.sum() / self.walk_yd.shape[1])

    def mean_of(self, table: NDArray[np.floating], some: BoolArray | None = None) -> float:
        """Return the mean of a table (s, n) over the plays, or over some of them."""
        values = table[self.chains.state, self.position]
        return float(values.mean() if some is None else values[some].mean())


def draw_games(
    *,
    same: Float32Array,
    changed: Float32Array,
    start: FloatArray,
    sides: tuple[Side, ...],
    drive_limit_yd: float,
    change_limit_yd: float,
    games: int = 128,
    plays: int = PLAYS_PER_GAME,
    seed: int = 11,
) -> Chains:
    """Draw games from the transitions.

    Parameters
    ----------
    same, changed
        P and F of the plan, shape (s, s).
    start
        Where the first snap of a half is, shape (s,), sums to 1.
    sides
        The plan's sides.
    drive_limit_yd, change_limit_yd
        Walking limits. [yd]
    games, plays, seed
        How many, how long, and the seed.
    """
    rng = np.random.default_rng(seed)
    states = same.shape[0]
    cumulative = np.cumsum(np.hstack([same, changed]), axis=1, dtype=np.float64)
    first = np.cumsum(start)
    state = np.searchsorted(first, rng.random(games)).clip(0, states - 1)
    toward_a = rng.random(games) < 0.5
    ours = rng.random(games) < 0.5
    found = Chains(*(np.empty((plays, games), dtype=t) for t in (np.int64, np.int64, bool, float)))
    limit = np.full(games, 1e6)
    index = np.array(
        [
            [side_index(sides, direction=d, ours=o) for o in (False, True)]
            for d in (Direction.TOWARD_B, Direction.TOWARD_A)
        ]
    )
    for play in range(plays):
        found.side[play] = index[toward_a.astype(int), ours.astype(int)]
        found.state[play], found.toward_a[play], found.limit_yd[play] = state, toward_a, limit
        draw = rng.random(games)
        rows = cumulative[state]
        following = (rows < draw[:, None]).sum(axis=1)
        over = following >= 2 * states  # the half ended
        flip = (following >= states) & ~over
        restart = np.searchsorted(first, rng.random(games)).clip(0, states - 1)
        state = np.where(over, restart, following % states)
        limit = np.where(over, 1e6, np.where(flip, change_limit_yd, drive_limit_yd))
        toward_a = np.where(flip, ~toward_a, toward_a)
        ours = np.where(flip, ~ours, ours)
        if (play + 1) % (plays // 4) == 0:
            toward_a = ~toward_a
            limit = np.maximum(limit, QUARTER_BREAK_LIMIT_YD)
    return found


def walk_games(chains: Chains, step: Step, *, walk_yd: FloatArray) -> Rehearsal:
    """Let a policy walk through drawn games.

    Parameters
    ----------
    chains
        The games.
    step
        The policy.
    walk_yd
        By direction (toward B, toward A), shape (2, n, n). [yd]
    """
    n = walk_yd.shape[1]
    turned = turned_positions(n)
    position = np.empty(chains.state.shape, dtype=np.int64)
    walked = np.zeros(chains.state.shape)
    standing = np.zeros(chains.state.shape[1], dtype=np.int64)  # stadium numbering
    for play in range(chains.state.shape[0]):
        away = chains.toward_a[play]
        here = np.where(away, turned[standing], standing)
        chosen = step(chains.side[play], chains.state[play], here, chains.limit_yd[play])
        position[play] = chosen
        free = chains.limit_yd[play] >= 1e6
        distance = walk_yd[away.astype(int), here, chosen]
        walked[play] = np.where(free, 0.0, distance)
        standing = np.where(away, turned[chosen], chosen)
    return Rehearsal(chains, position, walked)


def plan_step(
    *,
    reward: Float32Array,
    continuation: Float32Array,
    walk_yd: FloatArray,
    price_per_yd: float,
) -> Step:
    """Return the policy of a solved plan on its own grid.

    Parameters
    ----------
    reward, continuation
        R and C, shape (k, s, n).
    walk_yd
        By side, shape (k, n, n). [yd]
    price_per_yd
        Of the walk.
    """

    def step(side: IntArray, state: IntArray, here: IntArray, limit_yd: FloatArray) -> IntArray:
        walk = walk_yd[side, here]
        walk = np.where(limit_yd[:, None] >= 1e6, 0.0, walk)
        station, _ = choose_many(
            reward=reward[side, state],
            continuation=continuation[side, state],
            walk_yd=walk,
            limit_yd=limit_yd,
            price_per_yd=price_per_yd,
        )
        return station

    return step


def plays_until(rehearsal: Rehearsal, p_frame: NDArray[np.floating]) -> tuple[float, float]:
    """Return how many plays pass until a frame can be ticked, and P(it can be in the game).

    Parameters
    ----------
    rehearsal
        The walked games.
    p_frame
        P(the frame can be had on this play) by state and position, shape (s, n).

    Returns
    -------
    expected, p_game
        Expected number of plays until the tick, counted up to the end of the game, and the
        probability that it comes at all.
    """
    p = p_frame[rehearsal.chains.state, rehearsal.position]
    missing = np.cumprod(1.0 - p, axis=0)
    before = np.vstack([np.ones(missing.shape[1]), missing[:-1]])
    return float(before.sum(axis=0).mean()), float(1.0 - missing[-1].mean())
