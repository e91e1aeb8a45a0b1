"""Where to stand for a kick: what is known of it, and the open places within the walk."""

from __future__ import annotations

from dataclasses import field
from typing import TYPE_CHECKING

import numpy as np

from lensyard.arrays import FloatArray
from lensyard.domain.field import Direction
from lensyard.domain.kit import DEMO_KIT, Kit
from lensyard.domain.perimeter import STEP_YD, perimeter_of, require_open
from lensyard.domain.places import parse_standing, spot_label
from lensyard.domain.situation import Kick, PlayKind
from lensyard.domain.venue import Venue, standard_venue
from lensyard.errors import InvalidInputError, ModelError
from lensyard.model.kicks import BLOCKED, RETURNED, TOUCHBACK
from lensyard.records import Record
from lensyard.spots.kicks import (
    KickFrames,
    clear_of_the_kick,
    field_goal_frames,
    free_kick_frames,
    kickoff_frames,
    punt_frames,
    usable_frames,
)
from lensyard.spots.scorer import Scorer

if TYPE_CHECKING:
    from lensyard.model.context import Context
    from lensyard.model.kicks import KickModel

APART_YD = 6.0
"""Two places nearer to each other than this are one. [yd]"""
AHEAD_YD = 4.0
"""So far ahead of the line of scrimmage one stands for a kicker's face: common practice. [yd]"""


class KickRequest(Record):
    """What a photographer asks about a kick; fields as in `NextRequest`."""

    kick: Kick
    kit: Kit = DEMO_KIT
    venue: Venue = field(default_factory=standard_venue)
    direction: Direction = Direction.TOWARD_B
    standing: str | None = None
    limit_yd: float = np.inf
    top: int = 5


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

    - ``spots``: open places within the walk, best first
    - ``practice``: whether common practice says where the frames are, not counts
    - ``frames``, ``scorer``: where the frames are, and the stations
    """

    request: KickRequest
    facts: KickFacts
    spots: tuple[KickSpot, ...]
    practice: bool
    frames: KickFrames
    scorer: Scorer
    standing_index: int | None
    model: dict[str, object]

    @property
    def best(self) -> KickSpot:
        """The first place."""
        return self.spots[0]


def kick_play(context: Context, request: KickRequest) -> KickAnswer:
    """Answer where to stand for a kick.

    Raises `InvalidInputError` if the standing place cannot be read, or the kit reaches nothing;
    `ModelError` if the model holds no kicks.
    """
    kick, rules = request.kick, request.venue.rules
    scorer = Scorer(perimeter_of(request.venue, step_yd=STEP_YD), request.kit, request.direction)
    standing = None
    if request.standing is not None:
        station = parse_standing(request.standing, scorer.perimeter, request.direction)
        require_open(scorer.perimeter, station, text=request.standing)
        standing = int(np.flatnonzero(scorer.stations == station)[0])
    try:
        kicks = context.kicks()
    except ModelError:
        if kick.play not in (PlayKind.FIELD_GOAL, PlayKind.TRY):
            raise
        kicks = None
    frames = _frames(context, kicks, request)
    p = usable_frames(scorer, [frames])[0]
    practice = kick.play in (PlayKind.FIELD_GOAL, PlayKind.TRY)
    allowed = scorer.open & (clear_of_the_kick(scorer, rules) if practice else True)
    walk = np.zeros(p.shape[0]) if standing is None else scorer.walk_yd[standing]
    allowed &= walk <= request.limit_yd + 1e-6
    return KickAnswer(
        request=request,
        facts=KickFacts() if kicks is None else _facts(kicks, request),
        spots=_spots(scorer, np.where(allowed, p, -1.0), standing, request),
        practice=practice,
        frames=frames,
        scorer=scorer,
        standing_index=standing,
        model=context.model_facts(),
    )


def _frames(context: Context, kicks: KickModel | None, request: KickRequest) -> KickFrames:
    kick, line = request.kick, request.kick.yardline_100
    if kicks is None or kick.play in (PlayKind.FIELD_GOAL, PlayKind.TRY):
        return field_goal_frames(line)
    if kick.play is PlayKind.PUNT:
        return punt_frames(kicks.punt(yardline_100=line), yardline_100=line)
    if kick.play is PlayKind.FREE_KICK:
        return free_kick_frames(context.transition().table("next_free_kick"))
    return kickoff_frames(kicks, from_yard_line=100 - line)


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


def _spots(
    scorer: Scorer, p: FloatArray, standing: int | None, request: KickRequest
) -> tuple[KickSpot, ...]:
    """Return the best places, none within `APART_YD` of a better one.

    Among equals the one nearest to where one stands, or to a few yards ahead of the line.
    """
    x, y = scorer.xy_yd
    walk = np.zeros(p.shape[0]) if standing is None else scorer.walk_yd[standing]
    off_yd = np.abs(x - request.kick.line_x_yd - AHEAD_YD) if standing is None else walk
    chosen: list[int] = []
    for station in np.lexsort((np.arange(p.shape[0]), off_yd, -np.round(p, 2))):
        if len(chosen) == request.top or p[station] <= 1e-6:
            break
        if all(scorer.walk_yd[station, other] >= APART_YD for other in chosen):
            chosen.append(int(station))
    if not chosen:
        raise InvalidInputError(
            f"with {request.kit.text} no open place within the walk has a frame of this kick; take "
            "a longer lens, or leave earlier"
        )
    return tuple(
        KickSpot(
            station_index=at,
            label=kicking_label(x_yd=float(x[at]), y_yd=float(y[at])),
            x_yd=float(x[at]),
            y_yd=float(y[at]),
            p_usable=float(p[at]),
            walk_yd=None if standing is None else float(walk[at]),
        )
        for at in chosen
    )


def kicking_label(*, x_yd: float, y_yd: float) -> str:
    """Return a spot's label with the teams called by what they do."""
    words = spot_label(x_yd=x_yd, y_yd=y_yd)
    return words.replace("offense", "kicking team").replace("opponent", "receiving team")
