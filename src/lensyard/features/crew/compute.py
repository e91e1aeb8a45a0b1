"""Several photographers on one play, solved exactly, with the bound that proves it.

A whole game is `lensyard.features.crew.game`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from lensyard.domain.assignment import Assignment
from lensyard.domain.field import Direction
from lensyard.domain.kit import Kit
from lensyard.domain.perimeter import perimeter_of
from lensyard.domain.situation import Situation
from lensyard.domain.venue import Venue
from lensyard.errors import InvalidInputError
from lensyard.model.context import Context
from lensyard.planner.crew_plan import MOST_SHOOTERS, Crew, crew_for, crew_scorers
from lensyard.spots.ranking import Masses
from lensyard.sun.cautions import cautions_for


@dataclass(frozen=True, slots=True)
class CrewRequest:
    """Who works where, and for what.

    Attributes
    ----------
    kits
        One a photographer.
    venue, assignment
        Where, and what counts.
    direction
        Of attack, for one play.
    """

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
    """Return one kit a photographer.

    Parameters
    ----------
    shooters
        How many; None is one a kit.
    kits
        One for all, or one each.

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

    Attributes
    ----------
    request, situation
        What was asked.
    asked
        The situation as the document has it.
    kits, venue, assignment
        By name.
    crew
        The spots, with their value, their roles and the bound.
    alone
        The value of the best spot for the first photographer alone.
    model, cautions
        As in every answer.
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
    perimeter = perimeter_of(request.venue, step_yd=1.0)
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
