r"""Several photographers over a whole game: one plan after another.

A joint plan would have to know where everybody stands, which is a spot to the power of the crew.
Instead the plans are made one after another, each for what the earlier ones leave:

1. Photographer 1 gets the usual plan (`lensyard.planner.solve`).
2. From a solved plan the *resting spot* of every situation is read: the open spot with the highest
   value of the play plus what follows, ``argmax_q R(s, q) + C(s, q)``, that is where this
   photographer wants to be for it. It stands for the spread of places where the plan really has
   them, which depends on the plays before.
3. Photographer i plans with the reward that is left: every kind of path loses the share of its
   value that each earlier one has from their resting spot in that situation.

With ``U_j(s)`` what photographer j has from the resting spot, by how a path starts and where it
ends (`lensyard.spots.scorer.PathQuality.had_by_start`), and ``w`` the value of such paths::

    R_i(s, q) = sum over paths c of  w_c(s) * quality_i(q, c) * product over j < i of (1 - U_j(s)_c)

so what the photographers add at their resting spots sums to what at least one of them has, a
quality being the chance of a frame. It is a greedy scheme: no bound is claimed for a game.

Both directions of attack are always told apart, even where the venue is symmetric: a photographer
who keeps to one sideline is on the offense's right in one direction and on its left in the other,
and the next one must know which. Among equals a resting spot lies on the side of sideline A.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from lensyard.arrays import Float32Array, FloatArray, IntArray
from lensyard.domain.assignment import Assignment
from lensyard.domain.field import CENTER_Y_YD, OPPONENT_GOAL_LINE_X_YD, Direction
from lensyard.domain.situation import Zone, zone_indices
from lensyard.errors import InvalidInputError
from lensyard.model.paths import PathMasses
from lensyard.model.plays import Replay
from lensyard.planner.plans import toward
from lensyard.planner.season_data import season_data_of, side_of_plays
from lensyard.planner.sides import Side, after_change, both_directions, side_index
from lensyard.planner.simulate import lookahead_policy, simulate_policy
from lensyard.planner.solve import Plan, PlanProblem, Walking, solve
from lensyard.running import checkpoint, in_two
from lensyard.spots.scorer import Scorer

# Rows of the state grid -> their value by how paths start and where they end, (m, 3, 121, 18).
ValueOf = Callable[[IntArray], Float32Array]
Pair = tuple[Scorer, Scorer]

# Spots whose values differ by less are equal: a few times the plan's own tolerance, and far below
# what a decision turns on (units of the assignment's value).
SAME_VALUE = 0.005
# States at a time.
_BLOCK = 500


@dataclass(frozen=True, slots=True)
class ZoneSpot:
    """Where one photographer (from 1) of a crew rests while the ball is in a zone.

    - ``station_index``, ``label``, ``x_yd``, ``y_yd``: the spot in the play frame, its name and
      place. [yd]
    - ``ahead_yd``: how far ahead of the ball it lies on average; negative behind. [yd]
    - ``on_sideline_a``: whether it lies on the half of the stadium at sideline A.
    - ``added``: expected value a play that this photographer adds to the earlier ones from there.
    """

    shooter: int
    zone: Zone
    direction: Direction
    station_index: int = field(metadata={"json": None})
    label: str
    x_yd: float
    y_yd: float
    ahead_yd: float
    on_sideline_a: bool
    added: float


@dataclass(frozen=True, slots=True, eq=False)
class CrewPlan:
    """Plans for a crew; index i is photographer i + 1.

    - ``rewards``: what is left for each, shape (sides, states, n).
    - ``resting``: resting stations, shape (sides, states).
    - ``zones``: resting spots by photographer, direction and zone.
    """

    sides: tuple[Side, ...]
    rewards: tuple[Float32Array, ...]
    plans: tuple[Plan, ...]
    resting: tuple[IntArray, ...]
    zones: tuple[ZoneSpot, ...]


def had_from(
    scorer: Scorer, station_index: IntArray, value: Float32Array, yardline_100: IntArray
) -> Float32Array:
    """Return what a photographer has from a station each, for m situations, (m, 3, 121, 18).

    Expected best quality by how paths start and where they end. ``value`` is what is there for
    them, same shape: by it the lenses at hand are chosen.
    """
    had = np.stack([of.had_by_start(station_index, yardline_100) for of in scorer.paths])
    hand = np.einsum("hmsxy,msxy->hm", had, value).argmax(axis=0)
    chosen: Float32Array = had[hand, np.arange(len(station_index))]
    return chosen


def left_over(
    value: Float32Array,
    earlier: Sequence[tuple[Scorer, IntArray]],
    rows: IntArray,
    yardline_100: IntArray,
) -> Float32Array:
    """Return the value that the earlier photographers leave in some states, (m, 3, 121, 18).

    ``value`` has that shape too; ``earlier`` are scorer and resting stations (all states) of each,
    in order; ``yardline_100`` is that of the rows.
    """
    left = value
    for scorer, resting in earlier:
        left = left * (1 - had_from(scorer, resting[rows], left, yardline_100))
    return left


def crew_reward(
    pair: Pair,
    value_of: ValueOf,
    *,
    sides: Sequence[Side],
    yardline_100: IntArray,
    earlier: Sequence[tuple[Pair, IntArray]] = (),
) -> Float32Array:
    """Return the reward that is left for the next photographer, shape (sides, states, n).

    Their scorers look toward end B and toward end A; ``earlier`` are scorers and resting stations
    (sides, states). Sides that do not count get 0.
    """
    states, n = len(yardline_100), len(pair[0].perimeter)

    def of_block(block: int) -> Float32Array:
        checkpoint()
        rows = np.arange(block * _BLOCK, min((block + 1) * _BLOCK, states))
        value, lines = value_of(rows), yardline_100[rows]
        whole = None if earlier else PathMasses.of(value, lines)
        reward = np.zeros((len(sides), rows.size, n), dtype=np.float32)
        for k, side in enumerate(sides):
            if not side.ours:
                continue
            before = [(toward(scorers, side.direction), at[k]) for scorers, at in earlier]
            left = whole
            if left is None:
                left = PathMasses.of(left_over(value, before, rows, lines), lines)
            reward[k] = toward(pair, side.direction).expected_value(left)
        return reward

    for side in sides:  # both processes share what they look at
        toward(pair, side.direction).paths  # noqa: B018
    return np.concatenate(in_two(of_block, -(-states // _BLOCK)), axis=1)


def resting_station_indices(scorer: Scorer, total: NDArray[np.floating]) -> IntArray:
    """Return the best open station of each row of values, from shape (m, n) to (m,).

    Among stations within `SAME_VALUE` of the best, the side of sideline A comes first, then the
    value, then the lowest number.
    """
    value = np.where(scorer.open, total, -np.inf)
    near = value >= value.max(axis=1, keepdims=True) - SAME_VALUE
    preferred = near & _on_sideline_a(scorer)
    candidates = np.where(preferred.any(axis=1, keepdims=True), preferred, near)
    result: IntArray = np.where(candidates, np.round(value, 5), -np.inf).argmax(axis=1)
    return result


def _on_sideline_a(scorer: Scorer) -> NDArray[np.bool_]:
    side: NDArray[np.bool_] = scorer.perimeter.y_yd[scorer.stations] <= CENTER_Y_YD
    return side


def crew_plan_for_game(
    crew: Sequence[Pair],
    value_of: ValueOf,
    *,
    base: PlanProblem,
    sides: Sequence[Side],
    yardline_100: IntArray,
    state_share: FloatArray,
    safe: Collection[int] = (),
    plain_of: ValueOf | None = None,
    planned: Callable[[int, Float32Array, Plan], None] | None = None,
) -> CrewPlan:
    """Return plans for a crew, one after another (see the module's text).

    - ``crew``: scorers toward end B and toward end A of each photographer, at the plan's spacing.
    - ``value_of``: value of given states by how paths start and where they end, asked block by
      block: 26 kB a situation.
    - ``base``: a planning problem of the same venue, grid and spacing: its transitions, walking and
      discount are used, its rewards are not.
    - ``sides``: see `lensyard.planner.plans.both_directions`.
    - ``yardline_100``, ``state_share``: of every state, and how often it occurs, shape (states,).
    - ``safe``, ``plain_of``: positions of those who stand where most plays are usable, whatever the
      earlier ones have; `plain_of` is `value_of` with every play worth 1.
    - ``planned``: is told each one's position, reward and plan before the next is planned for.

    Raises `InvalidInputError` if there is nobody, or the arrays do not fit the grid.
    """
    states = base.same.shape[0]
    if not crew or yardline_100.shape != (states,) or state_share.shape != (states,):
        raise InvalidInputError(
            f"expected at least one photographer and {states} states; got {len(crew)}, "
            f"yardline_100 {yardline_100.shape} and state_share {state_share.shape}"
        )
    if state_share.min() < 0 or not state_share.sum() > 0:
        raise InvalidInputError("state_share must be at least 0 and not all 0")
    share = state_share / state_share.sum()
    done: list[tuple[Pair, IntArray]] = []
    rewards, plans = [], []
    for i, pair in enumerate(crew):
        worth, earlier = value_of, done
        if plain_of is not None and i in safe:
            worth, earlier = plain_of, []
        reward, plan = _planned(pair, worth, base, sides, yardline_100, earlier)
        done.append((pair, _resting(pair, reward + plan.continuation, sides)))
        rewards.append(reward)
        plans.append(plan)
        if planned is not None:
            planned(i, reward, plan)
    return CrewPlan(
        sides=tuple(sides),
        rewards=tuple(rewards),
        plans=tuple(plans),
        resting=tuple(station_indices for _, station_indices in done),
        zones=_zones(crew, rewards, plans, sides, yardline_100, share),
    )


def played_with(
    plan: Plan,
    reward: Float32Array,
    pair: Pair,
    assignment: Assignment,
    replay: Replay,
    state: IntArray,
    walking: Walking,
) -> tuple[FloatArray, float]:
    """Play a season with the plan of one of a crew.

    Returns the quality that it had of every play, shape (m,), and the yards walked a game.
    ``state`` is that of every play, shape (m,).
    """
    season_data = season_data_of(replay, pair, assignment, walking)
    side = side_of_plays(both_directions(assignment), replay, season_data.counted)
    decide = lookahead_policy(
        season_data,
        reward=reward[side, state],
        continuation=plan.continuation[side, state],
        price_per_yd=walking.price_per_yd,
    )
    trace = simulate_policy(season_data, decide)
    walk_yd = float(trace.walk_yd.sum() / replay.games)
    return season_data.had(trace.station_index), walk_yd


def _planned(
    pair: Pair,
    value_of: ValueOf,
    base: PlanProblem,
    sides: Sequence[Side],
    yardline_100: IntArray,
    earlier: Sequence[tuple[Pair, IntArray]],
) -> tuple[Float32Array, Plan]:
    """Return what is left for one photographer, and their plan.

    Where the venue is symmetric and nobody was there before, both directions are alike.
    """
    asked = tuple(sides)
    if not earlier and pair[0].perimeter.venue.symmetric:
        asked = tuple(side for side in sides if side.direction is Direction.TOWARD_B)
    reward = crew_reward(pair, value_of, sides=asked, yardline_100=yardline_100, earlier=earlier)
    plan = solve(_problem(pair, reward, base, asked))
    every = [side_index(asked, direction=side.direction, ours=side.ours) for side in sides]
    return reward[every], replace(plan, continuation=plan.continuation[every])


def _problem(
    pair: Pair, reward: Float32Array, base: PlanProblem, sides: Sequence[Side]
) -> PlanProblem:
    return replace(
        base,
        reward=reward,
        after_change=after_change(tuple(sides)),
        walk_yd=np.stack([toward(pair, side.direction).walk_yd for side in sides]),
        may_stand=np.stack([toward(pair, side.direction).open for side in sides]),
    )


def _resting(pair: Pair, total: Float32Array, sides: Sequence[Side]) -> IntArray:
    return np.stack(
        [
            resting_station_indices(toward(pair, side.direction), total[k])
            for k, side in enumerate(sides)
        ]
    )


def _zones(
    crew: Sequence[Pair],
    rewards: Sequence[Float32Array],
    plans: Sequence[Plan],
    sides: Sequence[Side],
    yardline_100: IntArray,
    share: FloatArray,
) -> tuple[ZoneSpot, ...]:
    """The open spot that is best on average over each zone's states, by photographer."""
    zone = zone_indices(yardline_100)
    result = []
    for shooter, (pair, reward, plan) in enumerate(zip(crew, rewards, plans, strict=True), start=1):
        for k, side in enumerate(sides):
            if not side.ours:
                continue
            scorer = toward(pair, side.direction)
            for number, name in enumerate(Zone):
                weight = np.where(zone == number, share, 0.0)
                if weight.sum() <= 0:
                    continue
                weight = weight / weight.sum()
                total = weight @ (reward[k] + plan.continuation[k])
                station_index = int(resting_station_indices(scorer, total[None])[0])
                x, y = (float(a[station_index]) for a in scorer.xy_yd)
                ball_x = OPPONENT_GOAL_LINE_X_YD - float(weight @ yardline_100)
                result.append(
                    ZoneSpot(
                        shooter=shooter,
                        zone=name,
                        direction=side.direction,
                        station_index=station_index,
                        label=scorer.label(station_index),
                        x_yd=x,
                        y_yd=y,
                        ahead_yd=x - ball_x,
                        on_sideline_a=bool(_on_sideline_a(scorer)[station_index]),
                        added=float(weight @ reward[k, :, station_index]),
                    )
                )
    return tuple(result)
