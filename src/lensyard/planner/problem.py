"""From model, kit, venue and assignment to the planning problem of `lensyard.planner.solve`."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from lensyard.domain.assignment import Assignment, Coverage, OutcomeWeights
from lensyard.domain.field import Direction
from lensyard.domain.kit import Kit
from lensyard.domain.perimeter import Perimeter
from lensyard.domain.situation import SituationBatch
from lensyard.planner.solve import PlanProblem, Walking
from lensyard.spots.scorer import Scorer, turned_station_indices
from lensyard.spots.visibility import FACING_LIMIT_DEG

if TYPE_CHECKING:
    from lensyard.model.lateral import LateralPrior
    from lensyard.model.outcome import OutcomeModel
    from lensyard.model.outcome_grid import StateGrid
    from lensyard.model.transition import TransitionModel

Float32Array = NDArray[np.float32]
FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

PLAN_STEP_YD = 2.0
DISCOUNT = 0.92

# How often scrimmage plays end so, rounded from the bundled seasons 2016 to 2018.
_TYPICAL_SHARES = OutcomeWeights(
    touchdown=0.039, gain20=0.052, incompletion=0.188, interception=0.013, sack=0.040, other=0.668
)
# A yard costs this share of a typical play for each yard that the kit reaches.
_PRICE_SHARE = 1 / 7000


def usual_walking(kit: Kit, assignment: Assignment) -> Walking:
    """Return the usual limits of a walk, and the price at which it pays.

    The value that a kit brings grows about as its reach does, and so does what a walk may cost: at
    a reach of 20, 30 and 40 yd and the usual weights a yard costs .004, .006 and .008. Measured on
    the season held out this keeps the walk under 2,000 yd a game and loses about 1 % of the value
    that a plan with no price has (``lensyard plan --price-curve``).
    """
    reach_yd = max(mounted.reach_yd for lens_sets in kit.lens_sets for mounted in lens_sets)
    value = sum(
        getattr(assignment.weights, name) * getattr(_TYPICAL_SHARES, name)
        for name in OutcomeWeights.__dataclass_fields__
    )
    return Walking(price_per_yd=_PRICE_SHARE * reach_yd * value)


@dataclass(frozen=True, slots=True)
class Side:
    """One side of the plan: whose ball, and which way it goes.

    ``ours`` says whether the team with the ball is the one whose plays with the ball count (always
    true when both teams count).
    """

    direction: Direction
    ours: bool


def sides_of(perimeter: Perimeter, assignment: Assignment) -> tuple[Side, ...]:
    """Return the sides that a plan must tell apart (see `lensyard.planner.solve`)."""
    both_ways = both_directions(assignment)
    if not perimeter.venue.symmetric:
        return both_ways
    return tuple(side for side in both_ways if side.direction is Direction.TOWARD_B)


def both_directions(assignment: Assignment) -> tuple[Side, ...]:
    """Return the sides of both directions, and of both teams where it matters whose plays count."""
    teams = (True,) if assignment.coverage is Coverage.BOTH else (True, False)
    return tuple(Side(d, ours) for ours in teams for d in (Direction.TOWARD_B, Direction.TOWARD_A))


def side_index(sides: tuple[Side, ...], *, direction: Direction, ours: bool) -> int:
    """Return which side a play belongs to."""
    symmetric = len({s.direction for s in sides}) == 1
    both = len({s.ours for s in sides}) == 1
    for k, side in enumerate(sides):
        if (symmetric or side.direction is direction) and (both or side.ours == ours):
            return k
    raise AssertionError("sides cover every direction and team")  # pragma: no cover


def after_change(sides: tuple[Side, ...]) -> tuple[int, ...]:
    """Return for each side the side after a change of possession."""
    return tuple(side_index(sides, direction=s.direction.reversed, ours=not s.ours) for s in sides)


def scorers_of(
    perimeter: Perimeter,
    kit: Kit,
    assignment: Assignment,
    *,
    facing_limit_deg: float = FACING_LIMIT_DEG,
) -> tuple[Scorer, Scorer]:
    """Return the scorers toward end B and toward end A."""
    toward_b, toward_a = (
        Scorer(perimeter, kit, direction, assignment.faces, facing_limit_deg)
        for direction in (Direction.TOWARD_B, Direction.TOWARD_A)
    )
    return toward_b, toward_a


def toward(scorers: tuple[Scorer, Scorer], direction: Direction) -> Scorer:
    """Return the one of two scorers, toward end B and toward end A, of a direction of attack."""
    return scorers[0 if direction is Direction.TOWARD_B else 1]


def reward_of(
    scorer: Scorer,
    model: OutcomeModel,
    prior: LateralPrior,
    batch: SituationBatch,
    assignment: Assignment,
    *,
    block: int = 2000,
) -> Float32Array:
    """Return the expected value of each situation from each station, shape (m, n)."""
    parts = []
    for start in range(0, len(batch), block):
        rows = np.arange(start, min(start + block, len(batch)))
        mass = model.forecast(batch.take(rows)).cells(prior, assignment.weights)[0]
        parts.append(scorer.expected_value(mass))
    return np.concatenate(parts)


def grid_batch(grid: StateGrid) -> SituationBatch:
    """Return the representative situation of every state of the grid."""
    return SituationBatch.neutral(
        down=grid.down, distance_yd=grid.distance_yd, yardline_100=grid.yardline_100
    )


def problem_of(
    scorers: tuple[Scorer, Scorer],
    model: OutcomeModel,
    prior: LateralPrior,
    transition: TransitionModel,
    assignment: Assignment,
    walking: Walking,
    *,
    discount: float = DISCOUNT,
) -> PlanProblem:
    """Return the planning problem of a kit, venue and assignment.

    Parameters
    ----------
    scorers
        Toward end B and toward end A, at the plan's spacing.
    model, prior, transition
        Where plays end and what comes next.
    assignment
        Weights, faces, whose plays.
    walking
        Limits and price.
    discount
        Per play.
    """
    sides = sides_of(scorers[0].perimeter, assignment)
    batch = grid_batch(transition.grid)
    by_direction = {
        direction: reward_of(toward(scorers, direction), model, prior, batch, assignment)
        for direction in dict.fromkeys(side.direction for side in sides)
    }
    reward = np.stack(
        [by_direction[s.direction] * np.float32(1.0 if s.ours else 0.0) for s in sides]
    )
    same, changed, _ = transition.transition_matrices()
    return PlanProblem(
        reward=reward,
        same=same,
        changed=changed,
        after_change=after_change(sides),
        walk_yd=np.stack([toward(scorers, s.direction).walk_yd for s in sides]),
        turned=turned_station_indices(len(scorers[0].perimeter)),
        walking=walking,
        discount=discount,
    )
