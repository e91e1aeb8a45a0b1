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

from lensyard.arrays import Float32Array, FloatArray
from lensyard.domain.assignment import USABLE_WEIGHTS, Assignment, OutcomeWeights
from lensyard.domain.field import Direction
from lensyard.domain.kit import Kit
from lensyard.domain.perimeter import STEP_YD, Perimeter, perimeter_of
from lensyard.domain.situation import Situation, SituationBatch
from lensyard.domain.venue import Venue, standard_venue
from lensyard.files import cached_array
from lensyard.model.context import Context
from lensyard.planner.decision import destinations, error_of_value, reach_of
from lensyard.planner.sides import Side, after_change, both_directions, side_index, sides_of
from lensyard.planner.solve import Plan, PlanProblem, Walking, solve
from lensyard.planner.usual_walks import usual_walking
from lensyard.running import beside
from lensyard.spots.kicks import FourthDowns, kicks_of
from lensyard.spots.path_values import StationTables, expected_values
from lensyard.spots.scorer import Scorer, shared_scorer, turned_station_indices
from lensyard.spots.visibility import FACING_LIMIT_DEG

if TYPE_CHECKING:
    from lensyard.model.outcome import Forecast
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


@dataclass(frozen=True, slots=True)
class Decision:
    """The plan's decision in one situation.

    - ``station``: where to be; of a crossing, the open place where it ends. In the play frame's
      numbering.
    - ``walk_yd``, ``limit_yd``: the way there, and how far one gets before the snap. [yd]
    - ``snaps_missed``: 0, or how many snaps pass on the way behind closed ground.
    - ``total``, ``stay_total``: value of going there and of staying: the play, what follows, less
      the price of the walk.
    - ``now``, ``stay_now``: their parts for this play alone.
    - ``error``: gains up to here move nobody.
    - ``standing``, ``direction``: where one stands (station in the play frame) and the direction of
      attack.
    """

    station: int
    walk_yd: float
    limit_yd: float
    snaps_missed: int
    total: float
    stay_total: float
    now: float
    stay_now: float
    error: float
    standing: int
    direction: Direction

    @property
    def stay(self) -> bool:
        """Whether one stays."""
        return self.station == self.standing

    @property
    def value_over_staying(self) -> float:
        """Value of going there over staying, in units of the assignment's value."""
        return self.total - self.stay_total

    @property
    def for_this_play(self) -> bool:
        """Whether most of the gain is had on this play rather than on the ones after."""
        return (self.now - self.stay_now) >= self.value_over_staying / 2


@dataclass(frozen=True, slots=True, eq=False)
class PlayWorth:
    """What one play is worth from every station, (1, n), its error, and where one may stand."""

    reward: FloatArray
    error: FloatArray
    may_stand: NDArray[np.bool_]


def play_worth(
    context: Context,
    solved: SolvedPlan,
    situation: Situation,
    *,
    direction: Direction = Direction.TOWARD_B,
    ours: bool = True,
    assignment: Assignment | None = None,
    forecast: Forecast | None = None,
    kicks: FourthDowns | None = None,
) -> PlayWorth:
    """Return what one play is worth from every station; the arguments are those of `decide`.

    On fourth down kicks count by how likely they are.
    """
    forecast = context.forecast(situation) if forecast is None else forecast
    scorer = solved.scorer(direction)
    kicks = kicks_of(context, forecast, scorer) if kicks is None else kicks
    reward, error = worth_of(
        context,
        solved,
        forecast,
        kicks,
        direction=direction,
        ours=ours,
        weights=None if assignment is None else assignment.weights,
    )
    return PlayWorth(reward, error, scorer.open if kicks is None else kicks.may_stand(scorer.open))


def worth_of(
    context: Context,
    solved: SolvedPlan,
    forecast: Forecast,
    kicks: FourthDowns | None,
    *,
    direction: Direction,
    ours: bool,
    weights: OutcomeWeights | None = None,
    tables: StationTables | None = None,
) -> tuple[FloatArray, FloatArray]:
    """Return what m plays are worth from every station, (m, n), and the errors of that, (m,).

    To the last bit what each of them is worth by itself. ``tables`` of the scorer where they are at
    hand.
    """
    scorer, assignment = solved.scorer(direction), solved.request.assignment
    weights = weights or assignment.weights
    prior = context.prior(solved.request.venue.rules)
    value, plain = expected_values(
        scorer, forecast, prior, weights, USABLE_WEIGHTS, tables=tables, one_by_one=True
    )
    reward = value.astype(np.float64) * (1.0 if ours else 0.0)
    p_usable = np.clip(plain, 0.0, 1.0).astype(np.float64)
    if kicks is not None:
        reward = kicks.mixed(reward, kick_value=weights.other * ours)
        p_usable = kicks.mixed(p_usable)
    error = error_of_value(
        value=reward, p_usable=p_usable, comparable_plays=forecast.comparable_plays
    )
    if solved.left is not None:
        side = side_index(solved.sides, direction=direction, ours=ours)
        reward = reward * solved.left[side, context.transition().grid.index_of(forecast.batch)]
    return reward, error


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
    kicks: FourthDowns | None = None,
    worth: PlayWorth | None = None,
) -> Decision:
    """Return where to be for the next snap; never a closed place.

    ``ours`` says whether the team with the ball counts; ``limit_yd`` defaults to the plan's limit
    within a drive. ``assignment`` weighs this play otherwise than the plan's (frames already
    ticked); ``forecast`` is what the model says of the situation, where that is known already, and
    ``kicks`` what they add on fourth down. ``worth`` is what all of these come to (`play_worth`),
    where many standing places are asked of one situation.
    """
    scorer, walking = solved.scorer(direction), solved.request.walking
    limit = walking.drive_limit_yd if limit_yd is None else limit_yd
    if worth is None:
        worth = play_worth(
            context,
            solved,
            situation,
            direction=direction,
            ours=ours,
            assignment=assignment,
            forecast=forecast,
            kicks=kicks,
        )
    reward, error, may_stand = worth.reward, worth.error, worth.may_stand
    side = side_index(solved.sides, direction=direction, ours=ours)
    state = context.transition().grid.index_of(SituationBatch.of([situation]))
    continuation = solved.plan.continuation[side, state].astype(np.float64)
    reach = reach_of(scorer.walk_yd, may_stand, standing, limit_yd=limit)
    found = destinations(
        reach,
        reward=reward,
        continuation=continuation,
        error=error,
        price_per_yd=walking.price_per_yd,
    )
    station, at_snap = int(found.station[0]), int(found.at_snap[0])
    crossing = reach.crossings.get(at_snap)
    values = (reward + continuation)[0]
    return Decision(
        station=station,
        walk_yd=float(scorer.walk_yd[standing, station]),
        limit_yd=limit,
        snaps_missed=0 if crossing is None else crossing.walks - 1,
        total=float(values[at_snap] - walking.price_per_yd * scorer.walk_yd[standing, at_snap]),
        stay_total=float(values[standing]),
        now=float(reward[0, at_snap]),
        stay_now=float(reward[0, standing]),
        error=float(error[0]),
        standing=standing,
        direction=direction,
    )


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
