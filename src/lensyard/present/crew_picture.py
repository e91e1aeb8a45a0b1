"""A crew's spots as a picture of the field: for one play, or while the ball is in a zone."""

from __future__ import annotations

import numpy as np

from lensyard.domain.field import OPPONENT_GOAL_LINE_X_YD, Direction, PlayPoint, Zone, zone_of
from lensyard.domain.perimeter import perimeter_of
from lensyard.recommend.planning import PLAN_STEP_YD
from lensyard.recommend.reward import Scorer
from lensyard.service.crew_games import CrewGame
from lensyard.service.crews import CrewAnswer
from lensyard.views.from_domain import closed_marks, station_marks
from lensyard.views.picture import FieldPicture, SpotMark, SpotRole
from lensyard.views.words import at_place, percent, sentence


def play_picture(answer: CrewAnswer, *, tappable: bool = False) -> FieldPicture:
    """Return the spots of one play as a picture; tappable ones carry the stations for taps."""
    request, situation = answer.request, answer.situation
    venue, direction = request.venue, request.direction
    marks = tuple(
        SpotMark(spot.x_yd, spot.y_yd, spot.shooter, spot.label, spot.p_usable, SpotRole.BEST)
        for spot in answer.crew.spots
    )
    said = " ".join(
        sentence(
            f"{spot.shooter}: {at_place(spot.label)}, {percent(spot.p_usable)} usable, there for "
            f"{spot.role}"
        )
        for spot in answer.crew.spots
    )
    perimeter = perimeter_of(venue, step_yd=1.0)
    return FieldPicture(
        rules=venue.rules,
        ball=PlayPoint(
            situation.line_of_scrimmage_x_yd, venue.rules.ball_y_yd(situation.hash_mark)
        ),
        line_to_gain_x_yd=situation.line_to_gain_x_yd,
        spots=marks,
        closed=closed_marks(venue, direction),
        stations=station_marks(perimeter, direction) if tappable else (),
        side_setback_yd=venue.side_setback_yd,
        end_setback_yd=venue.end_setback_yd,
        direction=direction,
        end_names=venue.end_names,
        sideline_names=venue.sideline_names,
        title=f"Where the crew stands: {situation.text()}",
        description=said,
        tappable=tappable,
    )


def zone_picture(
    game: CrewGame, zone: Zone, direction: Direction = Direction.TOWARD_B
) -> FieldPicture:
    """Return where everybody rests while the ball is in a zone, in one direction of attack."""
    venue = game.request.venue
    spots = [s for s in game.zones if s.zone is zone and s.direction is direction]
    scorer = Scorer(
        perimeter_of(venue, step_yd=PLAN_STEP_YD),
        game.request.kits[0],
        direction,
        game.request.assignment.faces,
    )
    x, y = scorer.xy_yd
    return FieldPicture(
        rules=venue.rules,
        ball=PlayPoint(OPPONENT_GOAL_LINE_X_YD - middle_of(zone), venue.rules.ball_y_yd(None)),
        spots=tuple(
            SpotMark(
                float(x[s.position]), float(y[s.position]), s.shooter, s.label, 0.0, SpotRole.BEST
            )
            for s in spots
        ),
        closed=closed_marks(venue, direction),
        side_setback_yd=venue.side_setback_yd,
        end_setback_yd=venue.end_setback_yd,
        direction=direction,
        end_names=venue.end_names,
        sideline_names=venue.sideline_names,
        title=f"Where the crew rests while the ball is in: {zone.value}",
        description=zone_said(game, zone, direction),
    )


def zone_said(game: CrewGame, zone: Zone, direction: Direction = Direction.TOWARD_B) -> str:
    """Return where everybody rests while the ball is in a zone, in words."""
    spots = [s for s in game.zones if s.zone is zone and s.direction is direction]
    each = "; ".join(
        f"{s.shooter} {at_place(s.label)}, {abs(s.ahead_yd):.0f} yd "
        f"{'ahead of' if s.ahead_yd >= 0 else 'behind'} the ball"
        for s in spots
    )
    return sentence(f"ball in {zone.value}: {each}")


def middle_of(zone: Zone) -> int:
    """Return the yard line in the middle of a zone, as yards to the goal line.

    >>> middle_of(zone_of(1))
    3
    """
    yards = [y for y in range(1, 100) if zone_of(y) is zone]
    return int(np.median(yards))
