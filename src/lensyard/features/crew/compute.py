"""Several photographers: one play solved exactly, with its bound; a game one plan after another.

Plans for a game are made by `lensyard.planner.crew_game`, each for what the earlier ones leave; no
bound is claimed. Then a season is simulated with each plan, and a play counts where at least one
had it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass, field, replace
from typing import Any

import numpy as np

from lensyard.arrays import Float32Array, IntArray
from lensyard.domain.assignment import Assignment
from lensyard.domain.field import Direction
from lensyard.domain.kit import Kit
from lensyard.domain.perimeter import STEP_YD, perimeter_of
from lensyard.domain.situation import Situation, Zone
from lensyard.domain.venue import Venue
from lensyard.errors import InvalidInputError
from lensyard.files import cached, hash_of
from lensyard.model.context import Context
from lensyard.model.plays import Replay
from lensyard.planner.crew_game import CrewPlan, Pair, ZoneSpot, crew_plan_for_game
from lensyard.planner.crew_plan import MOST_SHOOTERS, Crew, crew_for, crew_scorers
from lensyard.planner.plans import (
    PlanRequest,
    both_directions,
    grid_batch,
    problem_of,
    usual_walking,
)
from lensyard.planner.season import EvaluationSample, Progress, silent
from lensyard.planner.season_data import (
    SeasonPlays,
    counted_plays,
    season_data_of,
    side_of_plays,
    stored_season,
)
from lensyard.planner.simulate import lookahead_policy, simulate_policy
from lensyard.planner.solve import Walking
from lensyard.spots.ranking import Masses
from lensyard.sun.cautions import cautions_for


@dataclass(frozen=True, slots=True)
class CrewRequest:
    """Who works where, and for what: a kit a photographer; the direction is for one play."""

    kits: tuple[Kit, ...]
    venue: Venue
    assignment: Assignment
    direction: Direction = Direction.TOWARD_B

    def __post_init__(self) -> None:
        """Refuse an empty crew, and one that no sideline holds."""
        if not 1 <= len(self.kits) <= MOST_SHOOTERS:
            raise InvalidInputError(
                f"a crew has 1 to {MOST_SHOOTERS} photographers; got {len(self.kits)}"
            )


def kits_for(shooters: int | None, kits: Sequence[Kit]) -> tuple[Kit, ...]:
    """Return one kit a photographer, from one for all or one each; None shooters is one a kit.

    Raises
    ------
    InvalidInputError
        If there are more kits than one, and not one each.
    """
    n = len(kits) if shooters is None else shooters
    if len(kits) == 1:
        return tuple(kits) * n
    if len(kits) != n:
        raise InvalidInputError(
            f"{len(kits)} kits for {n} photographers; give one --kit for all, or one each"
        )
    return tuple(kits)


@dataclass(frozen=True, slots=True)
class CrewAnswer:
    """Where a crew stands for one play.

    ``asked`` is the situation as the document has it, ``alone`` the value of the best spot for the
    first photographer alone.
    """

    request: CrewRequest = field(metadata={"json": None})
    situation: Situation = field(metadata={"json": None})
    asked: dict[str, object] = field(metadata={"json": "situation"})
    kits: tuple[str, ...]
    venue: str
    assignment: str
    crew: Crew = field(metadata={"json": "*"})
    alone: float
    model: dict[str, object]
    cautions: tuple[str, ...]


def crew_play(context: Context, request: CrewRequest, situation: Situation) -> CrewAnswer:
    """Return the spots that have the most of one play together.

    Raises
    ------
    InvalidInputError
        If no kit reaches anything from an open spot.
    """
    perimeter = perimeter_of(request.venue, step_yd=STEP_YD)
    scorers = crew_scorers(
        perimeter, request.kits, direction=request.direction, faces=request.assignment.faces
    )
    prior = context.prior(request.venue.rules)
    masses = Masses.of(context.forecast(situation), prior, request.assignment.weights)
    alone = np.where(scorers[0].open, scorers[0].expected_value(masses.value[np.newaxis])[0], 0.0)
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
        kits=tuple(kit.text for kit in request.kits),
        venue=request.venue.name,
        assignment=request.assignment.name,
        crew=crew_for(scorers, masses, situation),
        alone=float(alone.max()),
        model=context.model_facts(),
        cautions=tuple(c.sentence for c in cautions_for(request.venue)),
    )


CREW_VERSION = 3
# For a game: a crew's plans take both directions, and their cost grows with the crew.
MOST_SHOOTERS_IN_A_GAME = 6
# The later photographers of a crew have less to gain from a walk, so at one's usual price they
# would hardly go anywhere. Of three with a reach of 30 or 40 yd, over the season held out, a
# quarter of it brings the most usable plays (no price at all a little more value for 1,000 to
# 1,800 yd more of the third).
CREW_PRICE_SHARE = 0.25


@dataclass(frozen=True, slots=True)
class CrewGame:
    """A crew's plans for a game, and what they brought over a season.

    Attributes
    ----------
    zones
        Where each rests while the ball is in a zone, by direction.
    usable_per_game, p_usable, value_share
        Plays that at least one had, over the season.
    alone_usable_per_game, alone_value_share
        What the first alone had, following the same plan as without a crew.
    added_usable_per_game, walk_yd_per_game
        By photographer: usable plays that no earlier one had, and yards walked. [yd]
    """

    request: CrewRequest = field(metadata={"json": None})
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

    Raises
    ------
    InvalidInputError
        If there are more than `MOST_SHOOTERS_IN_A_GAME`.
    """
    if len(request.kits) > MOST_SHOOTERS_IN_A_GAME:
        raise InvalidInputError(
            f"a game is planned for at most {MOST_SHOOTERS_IN_A_GAME} photographers; got "
            f"{len(request.kits)}. Leave --game out for one play"
        )
    plays = stored_season(context)
    found = cached(
        _key(context, request, plays.season),
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
        kits=tuple(kit.text for kit in request.kits),
        venue=request.venue.name,
        assignment=request.assignment.name,
        zones=zones,
        **figures,
        evaluation_sample=EvaluationSample(**found["evidence"]),
        cautions=tuple(c.sentence for c in cautions_for(request.venue)),
        model=context.model_facts(),
    )


def _key(context: Context, request: CrewRequest, season: int) -> str:
    arrays = context.model.manifest.arrays_sha256
    document = {
        "version": CREW_VERSION,
        "what": "crew",
        "plans": [
            PlanRequest(kit, request.venue, request.assignment).key(arrays) for kit in request.kits
        ],
        "data": context.model.manifest.data_sha256,
        "season": season,
    }
    return hash_of(document)


def _figures(
    context: Context,
    request: CrewRequest,
    plays: SeasonPlays,
    *,
    progress: Progress,
) -> dict[str, Any]:
    replay = plays.replay()
    progress(f"plans for {len(request.kits)} photographers, one after another")
    crew = _pairs(request)
    plan = _crew_plan(context, request, crew, replay)
    progress("playing a season again with the crew")
    return {
        "zones": [asdict(zone) for zone in plan.zones],
        "figures": _simulated_figures(context, request, crew, plan, replay),
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
    perimeter = perimeter_of(request.venue, step_yd=STEP_YD)
    toward_b, toward_a = (
        crew_scorers(perimeter, request.kits, direction=way, faces=request.assignment.faces)
        for way in (Direction.TOWARD_B, Direction.TOWARD_A)
    )
    return list(zip(toward_b, toward_a, strict=True))


def _walking(request: CrewRequest) -> Walking:
    """The usual walking of the kit with the longest reach, at `CREW_PRICE_SHARE` of its price."""
    longest = max(request.kits, key=lambda kit: kit.reach_yd)
    usual = usual_walking(longest, request.assignment)
    return replace(usual, price_per_yd=CREW_PRICE_SHARE * usual.price_per_yd)


def _crew_plan(
    context: Context, request: CrewRequest, crew: Sequence[Pair], replay: Replay
) -> CrewPlan:
    prior, grid = context.prior(request.venue.rules), context.transition().grid
    batch = grid_batch(grid)
    base = problem_of(context, crew[0], request.assignment, _walking(request))
    share = np.bincount(grid.index_of(replay.batch), minlength=grid.size).astype(np.float64)

    def value_of(rows: IntArray) -> Float32Array:
        forecast = context.model.forecast(batch.take(rows))
        mass: Float32Array = forecast.cells_by_start(prior, request.assignment.weights)[0]
        return mass

    return crew_plan_for_game(
        crew,
        value_of,
        base=base,
        sides=both_directions(request.assignment),
        yardline_100=grid.yardline_100,
        state_share=share,
    )


def _simulated_figures(
    context: Context,
    request: CrewRequest,
    crew: Sequence[Pair],
    plan: CrewPlan,
    replay: Replay,
) -> dict[str, Any]:
    """Simulate the season with each plan, and count what at least one had."""
    counted = counted_plays(replay, request.assignment)
    state = context.transition().grid.index_of(replay.batch)
    side = side_of_plays(plan.sides, replay, counted)
    anyone = first = np.zeros(len(replay))
    added, walk_yd = [], []
    walking = _walking(request)
    for i, pair in enumerate(crew):
        season_data = season_data_of(replay, pair, request.assignment, walking)
        decide = lookahead_policy(
            season_data,
            reward=plan.rewards[i][side, state],
            continuation=plan.plans[i].continuation[side, state],
            price_per_yd=walking.price_per_yd,
        )
        trace = simulate_policy(season_data, decide)
        had = season_data.had(trace.station_index)
        first = had if i == 0 else first
        added.append(float(np.maximum(had - anyone, 0.0).sum() / replay.games))
        walk_yd.append(float(trace.walk_yd.sum() / replay.games))
        anyone = np.maximum(anyone, had)
    value = season_data.value
    total = max(float((value * counted).sum()), 1e-9)
    return {
        "usable_per_game": float(anyone.sum() / replay.games),
        "p_usable": float(anyone.sum() / counted.sum()),
        "value_share": float((anyone * value).sum() / total),
        "alone_usable_per_game": float(first.sum() / replay.games),
        "alone_value_share": float((first * value).sum() / total),
        "added_usable_per_game": added,
        "walk_yd_per_game": walk_yd,
    }
