"""From a plan's values to one decision: stay, walk, or cross behind closed ground.

A closed place is never a place to be. Where the plan's next step ends behind a closed stretch, the
decision names the open place that this walk leads to, and how many snaps pass on the way. Nobody is
moved for less than the error of the chance, or to a neighboring station.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from lensyard.arrays import BoolArray, FloatArray, IntArray
from lensyard.domain.assignment import USABLE_WEIGHTS, Assignment, OutcomeWeights
from lensyard.domain.field import Direction
from lensyard.domain.situation import Situation, SituationBatch
from lensyard.model.context import Context
from lensyard.planner.plans import SolvedPlan
from lensyard.planner.sides import side_index
from lensyard.planner.solve import DECIMALS, choose_many, ends_from, least_limit_yd, way_yd
from lensyard.spots.kicks import FourthDowns, kicks_of
from lensyard.spots.path_values import StationTables, expected_values
from lensyard.stats import Z_95

if TYPE_CHECKING:
    from lensyard.model.outcome import Forecast


def error_of_value(
    *, value: FloatArray, p_usable: FloatArray, comparable_plays: FloatArray
) -> FloatArray:
    """Return how far the value of the likeliest spot may be off, for m situations, shape (m,).

    Half the 95 % interval of its P(usable) from the number of comparable plays, in units of the
    assignment's value. A gain below it is none.

    - ``value``, ``p_usable``: of the play from each station, shape (m, n).
    - ``comparable_plays``: shape (m,).
    """
    rows = np.arange(p_usable.shape[0])
    best = p_usable.argmax(axis=1)
    p = np.clip(p_usable[rows, best], 1e-9, 1.0)
    error_of_p = Z_95 * np.sqrt(p * (1.0 - p) / np.maximum(comparable_plays, 1.0))
    error: FloatArray = error_of_p * value[rows, best] / p
    return error


@dataclass(frozen=True, slots=True, eq=False)
class Crossing:
    """A walk behind closed ground that takes more than one snap.

    - ``targets``, ``way_yd``: open places at its end within ``walks`` walks, and the way there.
      [yd]
    - ``walks``: how many walks it takes; all but the last end behind closed ground.
    """

    targets: IntArray
    way_yd: FloatArray
    walks: int

    def ends(self, continuation: NDArray[np.floating], price_per_yd: float) -> IntArray:
        """Return at which target it ends, for continuations of shape (m, n); shape (m,)."""
        later = np.asarray(continuation[:, self.targets], dtype=np.float64)
        value = np.round(later - price_per_yd * self.way_yd, DECIMALS)
        chosen: IntArray = self.targets[value.argmax(axis=1)]
        return chosen


@dataclass(frozen=True, slots=True, eq=False)
class Reach:
    """Where one gets from a station before the next snap.

    - ``standing``, ``may_stay``: where one is, and whether one may be there at a snap.
    - ``near``, ``walk_yd``: stations at which a walk may end, and the way to each; where one may
      stay, without the neighbors, which the grid does not tell from ``standing``. [yd]
    - ``crossings``: for each closed one among them where the walk leads to.
    """

    standing: int
    may_stay: bool
    near: IntArray
    walk_yd: FloatArray
    crossings: dict[int, Crossing]


def reach_of(walk_yd: FloatArray, may_stand: BoolArray, standing: int, *, limit_yd: float) -> Reach:
    """Return where one gets from a station; walks as in `lensyard.planner.solve.ends_from`."""
    return reaches_of(walk_yd, may_stand, np.array([standing]), limit_yd=limit_yd)[0]


def reaches_of(
    walk_yd: FloatArray, may_stand: BoolArray, standing: IntArray, *, limit_yd: float
) -> list[Reach]:
    """Return where one gets from each of k stations; see `reach_of`."""
    ends, n = ends_from(walk_yd, may_stand, standing, limit_yd=limit_yd), len(walk_yd)
    limits_yd = least_limit_yd(walk_yd, may_stand, standing, limit_yd=limit_yd)
    may_stay = may_stand[standing]
    for step in (-1, 1):
        ends[may_stay, (standing[may_stay] + step) % n] = False
    up, down = (way_yd(walk_yd, standing, up=up) for up in (True, False))
    found = []
    for i, station in enumerate(standing.tolist()):
        near = np.flatnonzero(ends[i])
        crossings = {
            via: _crossing(
                walk_yd[station],
                min(up[i], down[i], key=lambda way, via=via: way[via]),  # type: ignore[misc]
                may_stand,
                limit_yd=float(limits_yd[i]),
            )
            for via in near[~may_stand[near]].tolist()
            if via != station  # there one only waits
        }
        found.append(Reach(station, bool(may_stay[i]), near, walk_yd[station, near], crossings))
    return found


def _crossing(
    walk_yd: FloatArray, way: FloatArray, may_stand: BoolArray, *, limit_yd: float
) -> Crossing:
    """Return where a walk to a closed station leads.

    ``walk_yd``: between the station where one stands and all others; ``way``: the same in the
    direction of the walk. (n,) [yd]
    """
    beyond = np.isfinite(way) & (way > limit_yd + 1e-6) & may_stand
    shortest = beyond & (way <= walk_yd + 1e-6)
    beyond = shortest if shortest.any() else beyond
    walks = np.ceil((way - 1e-6) / limit_yd, where=beyond, out=np.full(way.shape, np.inf))
    fewest = walks.min()
    targets = np.flatnonzero(walks == fewest)
    return Crossing(targets, way[targets], int(fewest))


@dataclass(frozen=True, slots=True, eq=False)
class Destinations:
    """Decisions from one station in m situations; all of shape (m,).

    - ``station``: where to be, or where a crossing ends.
    - ``at_snap``: where one is at the next snap: the same, or closed ground on the way.
    - ``gain``: value of the best walk over staying: the play, what follows, less the price of the
      walk.
    """

    station: IntArray
    at_snap: IntArray
    gain: FloatArray


def destinations(
    reach: Reach,
    *,
    reward: NDArray[np.floating],
    continuation: NDArray[np.floating],
    error: FloatArray,
    price_per_yd: float,
) -> Destinations:
    """Return the decisions from one station.

    - ``reach``: of the station.
    - ``reward``, ``continuation``: r and C of each situation, shape (m, n).
    - ``error``: gains up to here move nobody, shape (m,).
    - ``price_per_yd``: what a yard costs.
    """
    near, standing = reach.near, reach.standing
    shape = (reward.shape[0], near.size)
    best, total = choose_many(
        reward=reward[:, near],
        continuation=np.asarray(continuation[:, near], dtype=np.float64),
        walk_yd=np.broadcast_to(reach.walk_yd, shape),
        allowed=np.ones(shape, dtype=bool),
        price_per_yd=price_per_yd,
    )
    at_snap = near[best]
    gain = total - (np.asarray(reward[:, standing], dtype=np.float64) + continuation[:, standing])
    if reach.may_stay:
        at_snap = np.where(gain <= error, standing, at_snap)
    station = at_snap.copy()
    for via, crossing in reach.crossings.items():
        some = np.flatnonzero(at_snap == via)
        station[some] = crossing.ends(continuation[some], price_per_yd)
    return Destinations(station, at_snap, gain)


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
