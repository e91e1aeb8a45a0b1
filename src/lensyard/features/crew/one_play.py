"""What a photographer of a crew is there for, in words.

The words come from what the spot covers, never from its number in the crew: the worth of the play
is divided among the spots that have it, summed by part of the field, and each part counts by how
much of it the spot holds and how much of that part there is.

Several photographers on one play, solved exactly, with the bound that proves it.

A game is `lensyard.features.crew.game`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from lensyard.domain.assignment import Assignment
from lensyard.domain.field import Direction
from lensyard.domain.kit import Kit
from lensyard.domain.perimeter import perimeter_of
from lensyard.domain.situation import Situation
from lensyard.domain.venue import Venue
from lensyard.errors import InvalidInputError
from lensyard.model.context import SCHEMA_VERSION, Context
from lensyard.planner.crew_plan import MOST_SHOOTERS, Crew, crew_for, crew_scorers
from lensyard.spots.ranking import Masses
from lensyard.sun.cautions import cautions_for

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class CrewRequest:
    """Who works where, and for what.

    Attributes
    ----------
    kits
        One a photographer.
    venue, assignment
        The ground, and what counts.
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
    crew
        The spots, with their value, their roles and the bound.
    alone
        The value of the best spot for the first photographer alone.
    cautions, model
        As in every answer.
    """

    request: CrewRequest
    situation: Situation
    crew: Crew
    alone: float
    cautions: tuple[str, ...]
    model: dict[str, object]


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
        crew=crew_for(scorers, masses, situation),
        alone=float(alone.max()),
        cautions=tuple(c.sentence for c in cautions_for(request.venue)),
        model=context.model_facts(),
    )


def crew_document(answer: CrewAnswer) -> dict[str, Any]:
    """Return the answer for one play as one JSON document (``lensyard crew --json``)."""
    crew = asdict(answer.crew)
    spots = [{k: v for k, v in spot.items() if k != "position"} for spot in crew.pop("spots")]
    situation = answer.situation
    return {
        "schema_version": SCHEMA_VERSION,
        "situation": {
            "down": situation.down,
            "distance_yd": situation.distance_yd,
            "yardline_100": situation.yardline_100,
            "hash_mark": situation.hash_mark.value if situation.hash_mark else None,
            "text": situation.text(),
        },
        "kits": [kit.text for kit in answer.request.kits],
        "venue": answer.request.venue.name,
        "assignment": answer.request.assignment.name,
        "spots": spots,
        **crew,
        "alone": answer.alone,
        "model": answer.model,
        "cautions": list(answer.cautions),
    }
