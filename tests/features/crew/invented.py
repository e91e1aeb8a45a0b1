"""An invented crew's game, quick to make."""

import numpy as np
from tests.support.field import CENTER_Y_YD

from lensyard.dashboard.controls import Controls
from lensyard.domain.assignment import Faces, assignment_for
from lensyard.domain.field import Direction
from lensyard.domain.kit import DEMO_KIT
from lensyard.domain.perimeter import perimeter_of
from lensyard.domain.situation import Situation, Zone
from lensyard.domain.venue import standard_venue
from lensyard.features.crew.compute import CrewGame, CrewRequest, crew_play
from lensyard.model.context import load_context
from lensyard.planner.crew_game import ZoneSpot
from lensyard.planner.season import EvaluationSample
from lensyard.spots.scorer import Scorer

STEP_YD = 2.0


def crew_request(n=3):
    """Return a crew with the demo kit at any field."""
    return CrewRequest((DEMO_KIT,) * n, standard_venue(), assignment_for(Faces.OFFENSE))


def crew_answer():
    """Return a real answer for one play."""
    return crew_play(load_context(), crew_request(), Situation(1, 10, 18))


def crew_game_of_three():
    """Return an invented game of three."""
    return game_of(crew_request())


def rests(kits, controls):
    """Invented resting places: photographer i rests a few stations on from the last one."""
    venue = controls.venue()
    found = []
    for direction in (Direction.TOWARD_B, Direction.TOWARD_A):
        scorer = Scorer(perimeter_of(venue, step_yd=STEP_YD), kits[0], direction)
        x, y = scorer.xy_yd
        spots = np.flatnonzero(scorer.open)
        for shooter in range(1, len(kits) + 1):
            for i, zone in enumerate(Zone):
                at = int(spots[(17 * shooter + 5 * i) % len(spots)])
                found.append(
                    ZoneSpot(
                        shooter=shooter,
                        zone=zone,
                        direction=direction,
                        station_index=at,
                        label=scorer.label(at),
                        x_yd=float(x[at]),
                        y_yd=float(y[at]),
                        ahead_yd=float(x[at]) - (110 - zone.middle),
                        on_sideline_a=bool(y[at] < CENTER_Y_YD),
                        added=1.0 / shooter,
                    )
                )
    return tuple(found)


def game_of(request):
    n = len(request.kits)
    return CrewGame(
        request=request,
        members=request.members,
        kits=tuple(kit.text for kit in request.kits),
        venue=request.venue.name,
        assignment=request.assignment.name,
        zones=rests(request.kits, Controls()),
        usable_per_game=70.0,
        p_usable=0.5,
        value_share=0.6,
        alone_usable_per_game=50.0,
        alone_value_share=0.4,
        added_usable_per_game=tuple(50.0 / i for i in range(1, n + 1)),
        walk_yd_per_game=tuple(1000.0 * i for i in range(1, n + 1)),
        evaluation_sample=EvaluationSample(2019, 12, 240, True),
        cautions=("Mind the sideline.",),
        model=load_context().model_facts(),
    )
