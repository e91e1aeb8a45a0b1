"""Plans: solved once for a kit, venue and assignment, stored, and asked for decisions."""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from lensyard.domain.assignment import Assignment
from lensyard.domain.field import Direction
from lensyard.domain.kit import Kit
from lensyard.domain.perimeter import perimeter_of
from lensyard.domain.situation import Situation, SituationBatch
from lensyard.domain.venue import Venue, standard_venue
from lensyard.files import cached_array
from lensyard.model.context import Context
from lensyard.planner.problem import (
    DISCOUNT,
    PLAN_STEP_YD,
    problem_of,
    scorers_of,
    side_index,
    sides_of,
    toward,
    usual_walking,
)
from lensyard.planner.solve import Choice, Plan, Walking, choose, solve
from lensyard.spots.scorer import Scorer
from lensyard.spots.visibility import FACING_LIMIT_DEG

if TYPE_CHECKING:
    from lensyard.model.outcome import Forecast

# Raised whenever the same inputs would give another plan.
PLAN_VERSION = 4


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
    discount: float = DISCOUNT
    step_yd: float = PLAN_STEP_YD
    facing_limit_deg: float = FACING_LIMIT_DEG

    @property
    def names(self) -> SetupNames:
        """What answers call kit, venue and assignment."""
        return SetupNames(self.kit.text, self.venue.name, self.assignment.name)

    @property
    def walking(self) -> Walking:
        """How far one walks, and what a yard costs."""
        return self.walks or usual_walking(self.kit, self.assignment)

    def key(self, model_sha256: str) -> str:
        """Return a hash of everything that goes into the plan."""
        venue = asdict(self.venue)
        perimeter = {
            name: venue[name]
            for name in ("rules", "closed", "side_setback_yd", "end_setback_yd", "posts")
        }
        document = {
            "version": PLAN_VERSION,
            "model": model_sha256,
            "kit": {"mounted": asdict(self.kit)["mounted"], "bodies": self.kit.bodies},
            "ground": perimeter,
            "weights": asdict(self.assignment.weights),
            "faces": self.assignment.faces.value,
            "coverage": self.assignment.coverage.value,
            "walking": asdict(self.walking),
            "discount": self.discount,
            "step_yd": self.step_yd,
            "facing_limit_deg": self.facing_limit_deg,
        }
        text = json.dumps(document, sort_keys=True, separators=(",", ":"))
        return hashlib.sha256(text.encode()).hexdigest()


@dataclass(frozen=True)
class SolvedPlan:
    """A plan with everything needed to ask it.

    Attributes
    ----------
    request, key
        What it was solved for, and the hash of that.
    plan
        The continuation.
    scorers
        Toward end B and toward end A, at the plan's spacing.
    """

    request: PlanRequest
    key: str
    plan: Plan
    scorers: tuple[Scorer, Scorer]

    def scorer(self, direction: Direction) -> Scorer:
        """Return the scorer of a direction of attack."""
        return toward(self.scorers, direction)


def plan_for(context: Context, request: PlanRequest, *, folder: Path | None = None) -> SolvedPlan:
    """Return the plan of a request: from disk, or solved and stored.

    A damaged or unreadable file on disk counts as missing; a folder that cannot be written costs
    only the time to solve again.
    """
    key = request.key(context.model.manifest.arrays_sha256)
    perimeter = perimeter_of(request.venue, step_yd=request.step_yd)
    scorers = scorers_of(
        perimeter, request.kit, request.assignment, facing_limit_deg=request.facing_limit_deg
    )
    grid = context.transition().grid
    shape = (len(sides_of(perimeter, request.assignment)), grid.down.shape[0], len(perimeter))

    def solved() -> NDArray[np.float32]:
        problem = problem_of(
            scorers,
            context.model,
            context.prior(request.venue.rules),
            context.transition(),
            request.assignment,
            request.walking,
            discount=request.discount,
        )
        return solve(problem).continuation

    continuation = cached_array(key, solved, shape=shape, folder=folder)
    return SolvedPlan(request, key, Plan(continuation, 0, 0.0), scorers)


@dataclass(frozen=True, slots=True)
class Decision:
    """The plan's decision in one situation.

    Attributes
    ----------
    choice
        Where to go and its value.
    standing, direction
        Where one stands (station in the play frame) and the direction of attack.
    limit_yd
        How far one could go.
    """

    choice: Choice
    standing: int
    direction: Direction
    limit_yd: float

    @property
    def value_over_staying(self) -> float:
        """Value of going there over staying, in units of the assignment's value."""
        return self.choice.total - self.choice.stay_total

    @property
    def for_this_play(self) -> bool:
        """Whether most of the gain is had on this play rather than on the ones after."""
        return (self.choice.now - self.choice.stay_now) >= self.value_over_staying / 2


def decide(
    context: Context,
    solved: SolvedPlan,
    situation: Situation,
    *,
    standing: int,
    direction: Direction = Direction.TOWARD_B,
    ours: bool = True,
    limit_yd: float | None = None,
    assignment: Assignment | None = None,
    forecast: Forecast | None = None,
) -> Decision:
    """Return where to be for the next snap.

    Parameters
    ----------
    context, solved
        The model and the plan.
    situation
        What is about to be played.
    standing
        Station where one stands, in the play frame's numbering.
    direction, ours
        The direction of attack, and whether the team with the ball counts.
    limit_yd
        How far one can go before the snap; default the plan's limit within a drive. [yd]
    assignment
        Other weights for this play than the plan's (frames already ticked).
    forecast
        What the model says of the situation, where that is known already.
    """
    scorer = solved.scorer(direction)
    weights = (assignment or solved.request.assignment).weights
    limit = solved.request.walking.drive_limit_yd if limit_yd is None else limit_yd
    sides = sides_of(scorer.perimeter, solved.request.assignment)
    forecast = context.forecast(situation) if forecast is None else forecast
    mass = forecast.cells(context.prior(solved.request.venue.rules), weights)[0]
    reward = scorer.expected_value(mass)[0].astype(np.float64)
    side = side_index(sides, direction=direction, ours=ours)
    state = context.transition().grid.index_of(SituationBatch.of([situation]))[0]
    choice = choose(
        reward=reward * (1.0 if ours else 0.0),
        continuation=solved.plan.continuation[side, state],
        walk_yd=scorer.walk_yd[standing],
        standing=standing,
        limit_yd=limit,
        price_per_yd=solved.request.walking.price_per_yd,
    )
    return Decision(choice, standing, direction, limit)
