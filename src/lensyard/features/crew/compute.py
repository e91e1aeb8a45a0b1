"""Several photographers: one play solved exactly, with its bound; a game one plan after another.

Plans for a game are made by `lensyard.planner.crew_game`, each for what the earlier ones leave; no
bound is claimed. Then a season is simulated with each plan, and a play counts where at least one
had it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import ExitStack
from dataclasses import asdict, field, replace
from functools import cache, partial
from typing import Any

import numpy as np

from lensyard.arrays import Float32Array, FloatArray, IntArray
from lensyard.domain.assignment import USABLE_WEIGHTS, Assignment, OutcomeWeights
from lensyard.domain.crew import Member, Role, members_of, venue_of
from lensyard.domain.field import Direction
from lensyard.domain.kit import Kit
from lensyard.domain.perimeter import STEP_YD, perimeter_of
from lensyard.domain.situation import Situation, Zone
from lensyard.domain.venue import Venue
from lensyard.errors import InvalidInputError
from lensyard.files import cached, cached_array, hash_of
from lensyard.model.context import Context
from lensyard.model.plays import Replay
from lensyard.planner.crew_game import (
    CrewPlan,
    Pair,
    ValueOf,
    ZoneSpot,
    crew_plan_for_game,
    crew_reward,
    played_with,
)
from lensyard.planner.crew_plan import MOST_SHOOTERS, Crew, crew_for, standing_at
from lensyard.planner.plans import PlanRequest, SolvedPlan, grid_batch, rewarded
from lensyard.planner.season import EvaluationSample, Progress, silent
from lensyard.planner.season_data import (
    SeasonPlays,
    counted_plays,
    realized_weight,
    stored_season,
)
from lensyard.planner.sides import both_directions
from lensyard.planner.solve import Plan, Walking
from lensyard.planner.usual_walks import usual_walking
from lensyard.records import Record
from lensyard.running import beside
from lensyard.spots.masses import Masses
from lensyard.spots.scorer import Scorer, shared_scorer
from lensyard.sun.cautions import cautions_for


class CrewRequest(Record):
    """Who works where, and for what: a kit a photographer; the direction is for one play.

    ``named``: their names and roles; nobody has one where it is empty.
    """

    kits: tuple[Kit, ...]
    venue: Venue
    assignment: Assignment
    direction: Direction = Direction.TOWARD_B
    named: tuple[Member, ...] = ()

    def __post_init__(self) -> None:
        """Refuse an empty crew, and one that no sideline holds."""
        if not 1 <= len(self.kits) <= MOST_SHOOTERS:
            raise InvalidInputError(
                f"a crew has 1 to {MOST_SHOOTERS} photographers; got {len(self.kits)}"
            )

    @property
    def members(self) -> tuple[Member, ...]:
        """Everybody's name and role; a number for a name where nobody said one."""
        return self.named or members_of([], size=len(self.kits))

    @property
    def in_order(self) -> tuple[int, ...]:
        """Positions of the photographers as plans are made: who shoots features comes last."""
        features = [one.role is Role.FEATURES for one in self.members]
        return tuple(sorted(range(len(features)), key=lambda i: (features[i], i)))

    @property
    def at_plays(self) -> int:
        """How many are there for plays."""
        return sum(one.role is not Role.FEATURES for one in self.members)

    def scorers(self, direction: Direction) -> list[Scorer]:
        """Return everybody's scorer; those with equal kits who may stand alike share one."""
        made: dict[object, Scorer] = {}
        for member, kit in zip(self.members, self.kits, strict=True):
            venue = venue_of(member, self.venue)
            if (kit.optics, venue) not in made:
                perimeter = perimeter_of(venue, step_yd=STEP_YD)
                made[kit.optics, venue] = shared_scorer(
                    perimeter, kit, direction, self.assignment.faces
                )
        return [
            made[kit.optics, venue_of(member, self.venue)]
            for member, kit in zip(self.members, self.kits, strict=True)
        ]

    def plan_request(self, i: int) -> PlanRequest:
        """Return what one photographer's plan is for."""
        member, assignment = self.members[i], self.assignment
        if member.role is Role.SAFE_SPOT:
            assignment = replace(assignment, weights=USABLE_WEIGHTS)
        venue = venue_of(member, self.venue)
        return PlanRequest(self.kits[i], venue, assignment, walking_of_crew(self))


def kits_for(shooters: int | None, kits: Sequence[Kit]) -> tuple[Kit, ...]:
    """Return one kit a photographer, from one for all or one each; None shooters is one a kit.

    Raises `InvalidInputError` if there are more kits than one, and not one each.
    """
    n = len(kits) if shooters is None else shooters
    if len(kits) == 1:
        return tuple(kits) * n
    if len(kits) != n:
        raise InvalidInputError(
            f"{len(kits)} kits for {n} photographers; give one --kit for all, or one each"
        )
    return tuple(kits)


class CrewAnswer(Record):
    """Where a crew stands for one play; photographers are numbered from 1 in their order.

    ``asked`` is the situation as the document has it, ``alone`` the value of the best spot for the
    first photographer alone.
    """

    request: CrewRequest = field(metadata={"json": None})
    situation: Situation = field(metadata={"json": None})
    asked: dict[str, object] = field(metadata={"json": "situation"})
    members: tuple[Member, ...]
    kits: tuple[str, ...]
    venue: str
    assignment: str
    crew: Crew = field(metadata={"json": "*"})
    alone: float
    model: dict[str, object]
    cautions: tuple[str, ...]


def crew_play(context: Context, request: CrewRequest, situation: Situation) -> CrewAnswer:
    """Return the spots that have the most of one play together.

    Raises `InvalidInputError` if no kit reaches anything from an open spot.
    """
    prior = context.prior(request.venue.rules)
    masses = Masses.of(context.forecast(situation), prior, request.assignment.weights)
    scorers = request.scorers(request.direction)
    first = scorers[request.in_order[0]]
    alone = np.where(first.open, first.expected_value(masses.value)[0], 0.0)
    placed: list[Scorer | None] = []
    for member, scorer in zip(request.members, scorers, strict=True):
        stands: Scorer | None = scorer
        if member.role is Role.FEATURES:
            stands = None
        elif member.role is Role.SAFE_SPOT:
            usable = scorer.expected_value(masses.plain)[0]
            stands = standing_at(scorer, int(np.where(scorer.open, usable, -1.0).argmax()))
        placed.append(stands)
    return CrewAnswer(
        request=request,
        situation=situation,
        asked={
            "down": situation.down,
            "distance_yd": situation.distance_yd,
            "yardline_100": situation.yardline_100,
            "hash_mark": situation.hash_mark,
            "text": situation.text(),
        },
        members=request.members,
        kits=tuple(kit.text for kit in request.kits),
        venue=request.venue.name,
        assignment=request.assignment.name,
        crew=crew_for(placed, masses, situation),
        alone=float(alone.max()),
        model=context.model_facts(),
        cautions=tuple(c.sentence for c in cautions_for(request.venue)),
    )


CREW_VERSION = 4
# For a game: a crew's plans take both directions, and their cost grows with the crew.
MOST_SHOOTERS_IN_A_GAME = 6
# The later photographers of a crew have less to gain from a walk, so at one's usual price they
# would hardly go anywhere. Of three with a reach of 30 or 40 yd, over the season held out, a
# quarter of it brings the most usable plays (no price at all a little more value for 1,000 to
# 1,800 yd more of the third).
CREW_PRICE_SHARE = 0.25
NOTHING_THERE = 1e-6
"""Where less is to be had by anybody, nobody leaves or takes a share of it. [ordinary plays]"""


class CrewGame(Record):
    """A crew's plans for a game, and what they brought over a season.

    - ``zones``: where each rests while the ball is in a zone, by direction.
    - ``usable_per_game``, ``p_usable``, ``value_share``: plays that at least one had, over the
      season.
    - ``alone_usable_per_game``, ``alone_value_share``: what the first alone had, following the same
      plan as without a crew.
    - ``added_usable_per_game``, ``walk_yd_per_game``: by photographer: usable plays that no earlier
      one had, and yards walked; 0 for who shoots features. [yd]
    """

    request: CrewRequest = field(metadata={"json": None})
    members: tuple[Member, ...]
    kits: tuple[str, ...]
    venue: str
    assignment: str
    zones: tuple[ZoneSpot, ...]
    usable_per_game: float
    p_usable: float
    value_share: float
    alone_usable_per_game: float
    alone_value_share: float
    added_usable_per_game: tuple[float, ...]
    walk_yd_per_game: tuple[float, ...]
    evaluation_sample: EvaluationSample = field(metadata={"json": "evidence"})
    model: dict[str, object]
    cautions: tuple[str, ...]


def crew_game(context: Context, request: CrewRequest, *, progress: Progress = silent) -> CrewGame:
    """Return plans for a crew over a game, one after another, and what they brought.

    Raises `InvalidInputError` if there are more than `MOST_SHOOTERS_IN_A_GAME`.
    """
    if len(request.kits) > MOST_SHOOTERS_IN_A_GAME:
        raise InvalidInputError(
            f"a game is planned for at most {MOST_SHOOTERS_IN_A_GAME} photographers; got "
            f"{len(request.kits)}. Leave --game out for one play"
        )
    plays = stored_season(context)
    found = cached(
        _key(context, request, plays),
        lambda: _figures(context, request, plays, progress=progress),
    )
    figures: dict[str, Any] = {
        name: tuple(figure) if isinstance(figure, list) else figure
        for name, figure in found["figures"].items()
    }
    zones = tuple(
        ZoneSpot(**{**spot, "zone": Zone(spot["zone"]), "direction": Direction(spot["direction"])})
        for spot in found["zones"]
    )
    return CrewGame(
        request=request,
        members=request.members,
        kits=tuple(kit.text for kit in request.kits),
        venue=request.venue.name,
        assignment=request.assignment.name,
        zones=zones,
        **figures,
        evaluation_sample=EvaluationSample(**found["evidence"]),
        cautions=tuple(c.sentence for c in cautions_for(request.venue)),
        model=context.model_facts(),
    )


def _key(context: Context, request: CrewRequest, plays: SeasonPlays) -> str:
    arrays = context.model.manifest.arrays_sha256
    document = {
        "version": CREW_VERSION,
        "what": "crew",
        "plans": [request.plan_request(i).key(arrays) for i in range(len(request.kits))],
        "roles": [member.role.value for member in request.members],
        "data": context.model.manifest.data_sha256,
        "season": plays.key,
    }
    return hash_of(document)


def _figures(
    context: Context, request: CrewRequest, plays: SeasonPlays, *, progress: Progress
) -> dict[str, Any]:
    replay = plays.replay()
    state = context.transition().grid.index_of(replay.batch)
    progress(f"plans for {len(request.kits)} photographers, one after another")
    crew, season = _pairs(request), (replay, state, walking_of_crew(request))
    simulated: list[tuple[FloatArray, float]] = []
    with ExitStack() as stack:
        waiting: list[Callable[[], tuple[FloatArray, float]]] = []

        def simulate(i: int, reward: Float32Array, plan: Plan) -> None:
            """Play the season with this plan while the next one is made."""
            simulated.extend(result() for result in waiting)
            waiting.clear()
            if i < request.at_plays:
                work = partial(played_with, plan, reward, crew[i], request.assignment, *season)
                is_last = i + 1 == len(crew)
                waiting.append(work if is_last else stack.enter_context(beside(work)))

        plan = _crew_plan(context, request, crew, replay, planned=simulate)
        progress("playing a season again with the crew")
        simulated.extend(result() for result in waiting)
    numbers = [i + 1 for i in request.in_order]
    zones = [replace(zone, shooter=numbers[zone.shooter - 1]) for zone in plan.zones]
    return {
        "zones": [asdict(zone) for zone in sorted(zones, key=lambda zone: zone.shooter)],
        "figures": _season_figures(request, replay, simulated),
        "evidence": asdict(
            EvaluationSample(
                plays.season,
                replay.games,
                int(counted_plays(replay, request.assignment).sum()),
                plays.held_out,
            )
        ),
    }


def _pairs(request: CrewRequest) -> list[Pair]:
    """Everybody's scorers toward B and toward A, in the order of the plans."""
    toward_b, toward_a = (request.scorers(way) for way in (Direction.TOWARD_B, Direction.TOWARD_A))
    return [(toward_b[i], toward_a[i]) for i in request.in_order]


def walking_of_crew(request: CrewRequest) -> Walking:
    """The usual walking of the kit with the longest reach, at `CREW_PRICE_SHARE` of its price."""
    longest = max(request.kits, key=lambda kit: kit.reach_yd)
    usual = usual_walking(longest, request.assignment)
    return replace(usual, price_per_yd=CREW_PRICE_SHARE * usual.price_per_yd)


def _crew_plan(
    context: Context,
    request: CrewRequest,
    crew: Sequence[Pair],
    replay: Replay,
    *,
    planned: Callable[[int, Float32Array, Plan], None] | None = None,
) -> CrewPlan:
    grid = context.transition().grid
    roles = [request.members[i].role for i in request.in_order]
    sides = both_directions(request.assignment)
    nothing = np.zeros((len(sides), grid.size, len(crew[0][0].perimeter)), dtype=np.float32)
    base = rewarded(context, crew[0], sides, nothing, walking_of_crew(request))
    share = np.bincount(grid.index_of(replay.batch), minlength=grid.size).astype(np.float64)

    return crew_plan_for_game(
        crew,
        _value_of(context, request.venue, request.assignment.weights),
        base=base,
        sides=sides,
        yardline_100=grid.yardline_100,
        state_share=share,
        safe=[i for i, role in enumerate(roles) if role is Role.SAFE_SPOT],
        plain_of=_value_of(context, request.venue, USABLE_WEIGHTS),
        planned=planned,
    )


def _value_of(context: Context, venue: Venue, weights: OutcomeWeights) -> ValueOf:
    """What plays of some states are worth by how they start and where they end."""
    batch, prior = grid_batch(context.transition().grid), context.prior(venue.rules)
    known: dict[tuple[int, int], Float32Array] = {}  # 65 MB, asked for by everybody

    def value_of(rows: IntArray) -> Float32Array:
        part = int(rows[0]), int(rows[-1])
        if part not in known:
            forecast = context.model.forecast(batch.take(rows))
            known[part] = forecast.cells_by_start(prior, weights)[0]
        return known[part]

    return value_of


def member_plans(context: Context, request: CrewRequest) -> tuple[SolvedPlan, ...]:
    """Return everybody's plan for a game, each for what the earlier ones leave, from disk or made.

    Whoever shoots features has one too, for what all others leave.
    """
    plays = stored_season(context)
    crew, sides = _pairs(request), both_directions(request.assignment)
    grid, key = context.transition().grid, _key(context, request, plays)
    shape = (len(sides), grid.size, len(crew[0][0].perimeter))

    @cache
    def made() -> CrewPlan:
        return _crew_plan(context, request, crew, plays.replay())

    value_of = _value_of(context, request.venue, request.assignment.weights)

    @cache
    def unshared(place: int) -> Float32Array:
        """What everything is worth to somebody who is alone."""
        return crew_reward(crew[place], value_of, sides=sides, yardline_100=grid.yardline_100)

    def left(place: int, role: Role) -> Float32Array:
        """The share that the others leave; all of it to who does not ask what they have."""
        share = np.ones(shape, dtype=np.float32)
        if place and role is not Role.SAFE_SPOT:
            alike = next(p for p, pair in enumerate(crew) if pair[0] is crew[place][0])
            alone = unshared(alike)
            np.divide(made().rewards[place], alone, out=share, where=alone > NOTHING_THERE)
        return np.clip(share, 0.0, 1.0)

    found = {}
    for place, i in enumerate(request.in_order):
        arrays = [
            cached_array(hash_of({"crew": key, "place": place, "what": what}), make, shape=shape)
            for what, make in (
                ("continuation", partial(lambda p: made().plans[p].continuation, place)),
                ("left", partial(left, place, request.members[i].role)),
            )
        ]
        name = hash_of({"crew": key, "of": i})
        plan = Plan(arrays[0], 0, 0.0)
        found[i] = SolvedPlan(request.plan_request(i), name, plan, crew[place], arrays[1])
    return tuple(found[i] for i in range(len(crew)))


def _season_figures(
    request: CrewRequest, replay: Replay, simulated: Sequence[tuple[FloatArray, float]]
) -> dict[str, Any]:
    """Count what at least one had of a season, as `simulated` says in the order of the plans."""
    counted = counted_plays(replay, request.assignment)
    anyone = np.zeros(len(replay))
    first = simulated[0][0] if simulated else anyone
    added, walk_yd = np.zeros(len(request.kits)), np.zeros(len(request.kits))
    for number, (had, walked) in zip(request.in_order, simulated, strict=False):
        added[number] = np.maximum(had - anyone, 0.0).sum() / replay.games
        walk_yd[number] = walked
        anyone = np.maximum(anyone, had)
    value = realized_weight(replay, request.assignment.weights)
    total = max(float((value * counted).sum()), 1e-9)
    return {
        "usable_per_game": float(anyone.sum() / replay.games),
        "p_usable": float(anyone.sum() / counted.sum()),
        "value_share": float((anyone * value).sum() / total),
        "alone_usable_per_game": float(first.sum() / replay.games),
        "alone_value_share": float((first * value).sum() / total),
        "added_usable_per_game": added.tolist(),
        "walk_yd_per_game": walk_yd.tolist(),
    }
