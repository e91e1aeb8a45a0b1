"""Plans for a kit, venue and assignment: solved once, stored, and asked for decisions."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path
from threading import Lock
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from lensyard.arrays import Float32Array
from lensyard.domain.assignment import Assignment
from lensyard.domain.field import Direction
from lensyard.domain.kit import Kit
from lensyard.domain.perimeter import STEP_YD, Perimeter, perimeter_of
from lensyard.domain.situation import SituationBatch
from lensyard.domain.venue import Venue, standard_venue
from lensyard.files import cached_array
from lensyard.model.context import Context
from lensyard.planner.sides import Side, after_change, both_directions, sides_of
from lensyard.planner.solve import Plan, PlanProblem, Walking, solve
from lensyard.planner.usual_walks import usual_walking
from lensyard.running import beside
from lensyard.spots.kicks import kicks_of
from lensyard.spots.path_values import expected_values
from lensyard.spots.scorer import Scorer, shared_scorer, turned_station_indices
from lensyard.spots.visibility import FACING_LIMIT_DEG

if TYPE_CHECKING:
    from lensyard.model.outcome_grid import StateGrid

# Raised whenever the same inputs would give another plan.
PLAN_VERSION = 9
DISCOUNT = 0.92


@dataclass(frozen=True, slots=True)
class SetupNames:
    """Kit, venue and assignment as answers name them."""

    kit: str
    venue: str
    assignment: str


@dataclass(frozen=True, slots=True)
class PlanRequest:
    """What a plan depends on, apart from the model.

    ``walks`` overrides the usual `walking` limits and price.
    """

    kit: Kit
    venue: Venue = field(default_factory=standard_venue)
    assignment: Assignment = field(default_factory=Assignment)
    walks: Walking | None = None
    step_yd: float = STEP_YD
    facing_limit_deg: float = FACING_LIMIT_DEG

    @property
    def names(self) -> SetupNames:
        """What answers call kit, venue and assignment."""
        return SetupNames(self.kit.text, self.venue.name, self.assignment.name)

    @property
    def walking(self) -> Walking:
        """How far one walks, and what a yard costs."""
        return self.walks or usual_walking(self.kit, self.assignment)

    @property
    def scorers(self) -> tuple[Scorer, Scorer]:
        """The scorers toward end B and toward end A."""
        perimeter = perimeter_of(self.venue, step_yd=self.step_yd)
        return scorers_of(
            perimeter, self.kit, self.assignment, facing_limit_deg=self.facing_limit_deg
        )

    def key(self, model_sha256: str) -> str:
        """Return a hash of everything that goes into the plan."""
        venue = asdict(self.venue)
        perimeter = {
            name: venue[name]
            for name in ("rules", "closed", "side_setback_yd", "end_setback_yd", "posts")
        }
        curve = {"keep_curve": self.kit.keep_curve} if self.kit.keep_curve else {}
        document = {
            "version": PLAN_VERSION,
            "model": model_sha256,
            "kit": {
                "mounted": asdict(self.kit)["mounted"],
                "bodies": self.kit.bodies,
                "crop_margin": self.kit.crop_margin,
                **curve,
            },
            "ground": perimeter,
            # What nobody asks for leaves the hash as it was.
            "weights": {
                name: value
                for name, value in asdict(self.assignment.weights).items()
                if value or name != "drop_back"
            },
            "faces": self.assignment.faces.value,
            "coverage": self.assignment.coverage.value,
            "walking": asdict(self.walking),
            "discount": DISCOUNT,
            "step_yd": self.step_yd,
            "facing_limit_deg": self.facing_limit_deg,
        }
        text = json.dumps(document, sort_keys=True, separators=(",", ":"))
        return hashlib.sha256(text.encode()).hexdigest()


@dataclass(frozen=True)
class SolvedPlan:
    """A plan with everything needed to ask it; scorers toward end B and toward end A.

    ``left``: of one of a crew, the share of each station's value that the others leave, shape
    (sides, states, n); its sides are those of both directions.
    """

    request: PlanRequest
    key: str
    plan: Plan
    scorers: tuple[Scorer, Scorer]
    left: NDArray[np.float32] | None = None

    @property
    def sides(self) -> tuple[Side, ...]:
        """The sides that it tells apart, the first axis of its arrays."""
        if self.left is not None:
            return both_directions(self.request.assignment)
        return sides_of(self.scorers[0].perimeter, self.request.assignment)

    def scorer(self, direction: Direction) -> Scorer:
        """Return the scorer of a direction of attack."""
        return toward(self.scorers, direction)


def plan_for(
    context: Context,
    request: PlanRequest,
    *,
    folder: Path | None = None,
    problem: Callable[[], PlanProblem] | None = None,
) -> SolvedPlan:
    """Return the plan of a request: from disk, or solved and stored.

    ``problem`` gives its problem, but for the walking, where somebody solves it for several.
    A damaged or unreadable file on disk counts as missing; a folder that cannot be written costs
    only the time to solve again.
    """
    key = request.key(context.model.manifest.arrays_sha256)
    scorers = request.scorers
    perimeter = scorers[0].perimeter
    grid = context.transition().grid
    shape = (len(sides_of(perimeter, request.assignment)), grid.down.shape[0], len(perimeter))

    def solved() -> NDArray[np.float32]:
        if problem is not None:
            return solve(replace(problem(), walking=request.walking)).continuation
        of_request = problem_of(context, scorers, request.assignment, request.walking)
        return solve(of_request).continuation

    continuation = cached_array(key, solved, shape=shape, folder=folder)
    return SolvedPlan(request, key, Plan(continuation, 0, 0.0), scorers)


MOST_KEPT = 4
_kept: dict[tuple[str, PlanRequest], SolvedPlan] = {}
_solving = Lock()


def kept_plan(context: Context, request: PlanRequest) -> SolvedPlan:
    """Return `plan_for`, kept in memory for whoever asks again and again, as a page does."""
    key = (context.model.manifest.arrays_sha256, request)
    if (found := _kept.get(key)) is not None:
        return found
    with _solving:  # who asks for the same meanwhile waits, and solves nothing twice
        if (found := _kept.get(key)) is not None:
            return found
        found = plan_for(context, request)
        for oldest in [*_kept][: max(len(_kept) + 1 - MOST_KEPT, 0)]:
            _kept.pop(oldest, None)
        _kept[key] = found
        return found


def scorers_of(
    perimeter: Perimeter,
    kit: Kit,
    assignment: Assignment,
    *,
    facing_limit_deg: float = FACING_LIMIT_DEG,
) -> tuple[Scorer, Scorer]:
    """Return the scorers toward end B and toward end A."""
    toward_b, toward_a = (
        shared_scorer(perimeter, kit, direction, assignment.faces, facing_limit_deg)
        for direction in (Direction.TOWARD_B, Direction.TOWARD_A)
    )
    return toward_b, toward_a


def toward(scorers: tuple[Scorer, Scorer], direction: Direction) -> Scorer:
    """Return the one of two scorers, toward end B and toward end A, of a direction of attack."""
    return scorers[0 if direction is Direction.TOWARD_B else 1]


def reward_of(
    context: Context, scorer: Scorer, batch: SituationBatch, assignment: Assignment
) -> Float32Array:
    """Return the expected value of each situation from each station, shape (m, n).

    On fourth down punts and field goals count by how likely they are.
    """
    prior, weights = context.prior(scorer.perimeter.venue.rules), assignment.weights
    forecast = context.model.forecast(batch)
    value: Float32Array = expected_values(scorer, forecast, prior, weights)[0]
    kicks = kicks_of(context, forecast, scorer)
    if kicks is not None:
        value[:] = kicks.mixed(value, kick_value=weights.other)
    return value


def grid_batch(grid: StateGrid) -> SituationBatch:
    """Return the representative situation of every state of the grid."""
    return SituationBatch.neutral(
        down=grid.down, distance_yd=grid.distance_yd, yardline_100=grid.yardline_100
    )


def problem_of(
    context: Context,
    scorers: tuple[Scorer, Scorer],
    assignment: Assignment,
    walking: Walking,
) -> PlanProblem:
    """Return the planning problem of a kit, venue and assignment; scorers at the plan's spacing."""
    sides = sides_of(scorers[0].perimeter, assignment)
    transition = context.transition()
    batch = grid_batch(transition.grid)
    directions = list(dict.fromkeys(side.direction for side in sides))
    for direction in directions:  # the second process is to share it with this one
        toward(scorers, direction).paths  # noqa: B018

    def rewards() -> list[Float32Array]:
        return [reward_of(context, toward(scorers, d), batch, assignment) for d in directions]

    with beside(rewards) as found:
        transition.transition_matrices()
        by_direction = dict(zip(directions, found(), strict=True))
    reward = np.stack(
        [by_direction[s.direction] * np.float32(1.0 if s.ours else 0.0) for s in sides]
    )
    return rewarded(context, scorers, sides, reward, walking)


def rewarded(
    context: Context,
    scorers: tuple[Scorer, Scorer],
    sides: tuple[Side, ...],
    reward: Float32Array,
    walking: Walking,
) -> PlanProblem:
    """Return the planning problem of a venue with these rewards, shape (sides, states, n)."""
    same, changed, _ = context.transition().transition_matrices()
    return PlanProblem(
        reward=reward,
        same=same,
        changed=changed,
        after_change=after_change(sides),
        walk_yd=np.stack([toward(scorers, s.direction).walk_yd for s in sides]),
        turned=turned_station_indices(len(scorers[0].perimeter)),
        walking=walking,
        discount=DISCOUNT,
        may_stand=np.stack([toward(scorers, s.direction).open for s in sides]),
    )
