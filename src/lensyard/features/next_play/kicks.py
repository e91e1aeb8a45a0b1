"""Where to stand for a kick: what is known of it, and the open places within the walk."""

from __future__ import annotations

from dataclasses import field
from typing import TYPE_CHECKING

import numpy as np

from lensyard.arrays import FloatArray
from lensyard.domain.assignment import LEAST_USABLE, pays
from lensyard.domain.field import Direction
from lensyard.domain.kit import DEMO_KIT, Kit
from lensyard.domain.perimeter import STEP_YD, WalkTime, perimeter_of, walk_s
from lensyard.domain.places import kicking_label, standing_on
from lensyard.domain.situation import Kick, PlayKind
from lensyard.domain.venue import Venue, standard_venue
from lensyard.errors import InvalidInputError, ModelError
from lensyard.features.next_play.answer import Action, Answer
from lensyard.model.kicks import BLOCKED, RETURNED, TOUCHBACK
from lensyard.records import Record
from lensyard.spots.kicks import (
    KickFrames,
    frames_of,
    is_practice,
    kick_limit_yd,
    p_usable_of,
    place_for,
    places_for,
)
from lensyard.spots.scorer import Scorer

if TYPE_CHECKING:
    from lensyard.model.context import Context
    from lensyard.model.kicks import KickModel


class KickRequest(Record):
    """What a photographer asks about a kick; fields as in `NextRequest`."""

    kick: Kick
    kit: Kit = DEMO_KIT
    venue: Venue = field(default_factory=standard_venue)
    direction: Direction = Direction.TOWARD_B
    standing: str | None = None
    ball_changed_hands: bool = False
    walk_time: WalkTime = WalkTime()
    least_usable: float = LEAST_USABLE
    top: int = 5

    @property
    def limit_yd(self) -> float:
        """How far one can walk before the kick. [yd]"""
        time = self.walk_time
        longer = max(time.change_yd, time.drive_yd)
        drive_yd = longer if self.ball_changed_hands else time.drive_yd
        return kick_limit_yd(self.kick, drive_yd, longer)


class KickSpot(Record):
    """A place to stand for a kick (the kicking team's frame), and P(a usable frame) from there."""

    station_index: int = field(metadata={"json": None})
    label: str
    x_yd: float
    y_yd: float
    p_usable: float
    walk_yd: float | None


class KickFacts(Record):
    """What is counted of a kick; None where nothing is, or another rule set's counts do not hold.

    - ``p_returned``, ``p_touchback``, ``p_return_touchdown``: of all such kicks
    - ``p_made``: of field goals from there, or of kicked tries
    - ``p_blocked``: of punts, field goals and tries
    - ``counted_from``: the yard line of the kickoffs that were counted
    """

    p_returned: float | None = None
    p_touchback: float | None = None
    p_return_touchdown: float | None = None
    p_made: float | None = None
    p_blocked: float | None = None
    counted_from: int | None = None


class KickAnswer(Record):
    """The answer for a kick.

    - ``answer``: the decision, as for a snap
    - ``spots``: open places within the walk, best first
    - ``practice``: whether common practice says where the frames are, not counts
    - ``frames``, ``scorer``: where the frames are, and the stations
    """

    request: KickRequest
    facts: KickFacts
    answer: Answer
    spots: tuple[KickSpot, ...]
    practice: bool
    frames: KickFrames
    scorer: Scorer
    standing_index: int | None
    model: dict[str, object]


def kick_play(context: Context, request: KickRequest) -> KickAnswer:
    """Answer where to stand for a kick.

    Raises `InvalidInputError` if the standing place cannot be read, or the kit reaches nothing from
    any open place; `ModelError` if the model holds no kicks and they are counted.
    """
    kick, direction = request.kick, request.direction
    scorer = Scorer(perimeter_of(request.venue, step_yd=STEP_YD), request.kit, direction)
    standing = None
    if request.standing is not None:
        station = standing_on(request.standing, scorer.perimeter, direction)
        standing = int(np.flatnonzero(scorer.stations == station)[0])
    frames = frames_of(context, kick)
    p = p_usable_of(scorer, frames, kick)
    if not places_for(scorer, p, kick):
        raise InvalidInputError(
            f"with {request.kit.text} no open place has a frame of this kick; take a longer lens"
        )
    found = places_for(
        scorer, p, kick, standing=standing, limit_yd=request.limit_yd, top=request.top
    )
    spots = tuple(_spot(scorer, request, p, standing, at) for at in found)
    try:
        facts = _facts(context.kicks(), request)
    except ModelError:
        facts = KickFacts()
    return KickAnswer(
        request=request,
        facts=facts,
        answer=_answer(scorer, request, p, standing, spots),
        spots=spots,
        practice=is_practice(kick.play),
        frames=frames,
        scorer=scorer,
        standing_index=standing,
        model=context.model_facts(),
    )


def _spot(
    scorer: Scorer, request: KickRequest, p: FloatArray, standing: int | None, at: int
) -> KickSpot:
    x, y = (float(axis[at]) for axis in scorer.xy_yd)
    return KickSpot(
        station_index=at,
        label=kicking_label(x_yd=x, y_yd=y, names=request.venue.names(request.direction)),
        x_yd=x,
        y_yd=y,
        p_usable=max(float(p[at]), 0.0),
        walk_yd=None if standing is None else float(scorer.walk_yd[standing, at]),
    )


def _answer(
    scorer: Scorer,
    request: KickRequest,
    p: FloatArray,
    standing: int | None,
    spots: tuple[KickSpot, ...],
) -> Answer:
    """Return the decision: the best place within the walk, or that nothing pays on this kick.

    Where nothing pays one stays, or goes to the nearest open place.
    """
    limit, missed, here = request.limit_yd, 0, None
    most = spots[0].p_usable if spots else 0.0
    nothing = not pays(most, request.least_usable)
    spot = spots[0] if spots else None
    if standing is not None:
        here = max(float(p[standing]), 0.0)
        found, least = [spot.station_index for spot in spots], request.least_usable
        place = place_for(scorer, p, found, standing=standing, least=least)
        spot = _spot(scorer, request, p, standing, place)
        missed = max(int(np.ceil(((spot.walk_yd or 0.0) - 1e-6) / max(limit, 1.0))) - 1, 0)
    assert spot is not None
    p_usable = 0.0 if missed else spot.p_usable
    action = Action.BEST
    if standing is not None:
        moves = spot.station_index != standing
        action = Action.CROSS if missed else Action.WALK if moves else Action.STAY
    walk_yd = spot.walk_yd
    return Answer(
        action=Action.NOTHING if nothing else action,
        label=spot.label,
        x_yd=spot.x_yd,
        y_yd=spot.y_yd,
        p_usable=p_usable,
        walk_yd=walk_yd,
        walk_s=None if walk_yd is None else walk_s(walk_yd, pace_yd_s=request.walk_time.pace_yd_s),
        snaps_missed=missed,
        limit_yd=limit,
        p_at_most=most,
        p_staying=here,
        value_over_staying=None if here is None else p_usable - here,
        for_this_play=True,
        instead=(),
    )


def _facts(kicks: KickModel, request: KickRequest) -> KickFacts:
    kick, rules = request.kick, request.venue.rules
    if kick.play is PlayKind.FREE_KICK:
        return KickFacts()
    if kick.play is PlayKind.TRY:
        return KickFacts(p_made=kicks.p_extra_point_made(rules))
    if kick.play is PlayKind.FIELD_GOAL:
        return KickFacts(
            p_made=float(kicks.p_field_goal_made(np.array([float(kick.distance_yd)]))[0]),
            p_blocked=kicks.p_field_goal_blocked(float(kick.distance_yd)),
        )
    punted = kick.play is PlayKind.PUNT
    outlook = kicks.punt(yardline_100=kick.yardline_100) if punted else kicks.kickoff()
    counted = round(float(kicks.kickoff_yard_line[0]))
    if not punted and counted != 100 - kick.yardline_100:
        return KickFacts(counted_from=counted)
    return KickFacts(
        p_returned=float(outlook.p_result[RETURNED]),
        p_touchback=float(outlook.p_result[TOUCHBACK]),
        p_return_touchdown=outlook.p_return_touchdown,
        p_blocked=float(outlook.p_result[BLOCKED]) if punted else None,
        counted_from=None if punted else counted,
    )
