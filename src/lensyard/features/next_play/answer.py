"""The one decision that every face has: stay, walk, cross, or nothing pays on this snap."""

from __future__ import annotations

from dataclasses import field, replace
from enum import StrEnum
from typing import TYPE_CHECKING

import numpy as np

from lensyard.domain.assignment import (
    DROP_BACK_YD,
    FRAMES,
    LEAST_P_PASS,
    LEAST_P_SACK,
    FrameKind,
    Window,
    pays,
)
from lensyard.domain.perimeter import walk_s
from lensyard.model.outcome_grid import SACK
from lensyard.records import Record
from lensyard.spots.ranking import Ranking, SpotScore

if TYPE_CHECKING:
    from lensyard.features.next_play.compute import NextRequest
    from lensyard.model.outcome import Forecast
    from lensyard.planner.decision import Decision


class Action(StrEnum):
    """What to do before the snap. ``best``: nobody said where they stand."""

    BEST = "best"
    STAY = "stay"
    WALK = "walk"
    CROSS = "cross"
    NOTHING = "nothing"


class Instead(Record):
    """What else a snap is good for.

    - ``kind``: ``spot`` (the best of this play within the walk), ``walk`` (for the plays after),
      ``frame`` (of the shot list, likely now) or ``life`` (around the game)
    - ``label``: the place, or the frame
    - ``p``: of a usable play from the spot, or that the frame happens
    - ``walk_yd``, ``walk_s``: the way to the place
    - ``minutes``: what life around the game takes
    """

    kind: str
    label: str
    p: float | None = None
    walk_yd: float | None = None
    walk_s: float | None = None
    minutes: float | None = None


class Answer(Record):
    """The decision.

    - ``label``, ``x_yd``, ``y_yd``: where to be, in play coordinates, or where a crossing ends;
      never a closed place. [yd]
    - ``p_usable``: of this play from there; 0 while crossing
    - ``walk_yd``, ``walk_s``: the way there; None when it is not known where one stands
    - ``snaps_missed``: how many snaps a crossing costs
    - ``limit_yd``: how far one gets before the snap. [yd]
    - ``p_at_most``: of this play from the best place within the walk
    - ``p_staying``: of this play from where one stands
    - ``value_over_staying``, ``for_this_play``: in units of the assignment's value, and whether
      most of it is had on this play
    """

    action: Action
    label: str
    x_yd: float
    y_yd: float
    p_usable: float
    walk_yd: float | None
    walk_s: float | None
    snaps_missed: int
    limit_yd: float
    p_at_most: float
    p_staying: float | None
    value_over_staying: float | None
    for_this_play: bool = field(metadata={"json": None})
    instead: tuple[Instead, ...]

    @property
    def moves(self) -> bool:
        """Whether one leaves the place where one stands."""
        return self.walk_yd is not None and self.walk_yd > 0.0


def answer_of(
    request: NextRequest,
    ranking: Ranking,
    decision: Decision | None,
    forecast: Forecast,
) -> Answer:
    """Return the one decision.

    ``ranking`` has the spots within the walk and, where it is said where one stands, first the
    decision's place and then that one among its ``named``.
    """
    spot = ranking.named[0] if decision is not None else ranking.spots[0]
    staying = ranking.named[1] if decision is not None else None
    crosses = decision is not None and decision.snaps_missed > 0
    p_usable = 0.0 if crosses else spot.p_usable
    p_at_most = max((s.p_usable for s in ranking.spots), default=p_usable)
    action = Action.BEST
    if decision is not None:
        action = Action.STAY if decision.stay else Action.CROSS if crosses else Action.WALK
    if not pays(max(p_usable, p_at_most), request.least_usable):
        action = Action.NOTHING
    walk = None if decision is None else decision.walk_yd
    found = Answer(
        action=action,
        label=spot.label,
        x_yd=spot.x_yd,
        y_yd=spot.y_yd,
        p_usable=p_usable,
        walk_yd=walk,
        walk_s=None if walk is None else walk_s(walk, pace_yd_s=request.walk_time.pace_yd_s),
        snaps_missed=0 if decision is None else decision.snaps_missed,
        limit_yd=request.limit_yd,
        p_at_most=max(p_usable, p_at_most),
        p_staying=None if staying is None else staying.p_usable,
        value_over_staying=None if decision is None else decision.value_over_staying,
        for_this_play=decision is None or decision.for_this_play,
        instead=(),
    )
    if action is Action.NOTHING:
        return replace(found, instead=_instead_of_nothing(request, found, forecast))
    if decision is None:
        return found
    return replace(found, instead=_best_of_this_play(ranking, spot, p_usable))


def _best_of_this_play(ranking: Ranking, spot: SpotScore, p_usable: float) -> tuple[Instead, ...]:
    """The best place of this play within the walk, where that is another and shows more."""
    best = max(ranking.spots, key=lambda s: s.p_usable, default=spot)
    if best.station_index == spot.station_index or round(100 * best.p_usable) <= round(
        100 * p_usable
    ):
        return ()
    return (Instead("spot", best.label, best.p_usable, best.walk_yd, best.walk_s),)


def _instead_of_nothing(
    request: NextRequest, answer: Answer, forecast: Forecast
) -> tuple[Instead, ...]:
    """The walk for the plays after, frames that are likely now, life around the game."""
    found = []
    if answer.moves:
        found.append(Instead("walk", answer.label, None, answer.walk_yd, answer.walk_s))
    if answer.snaps_missed:
        return tuple(found)
    if _reaches_the_passer(request, answer):
        chances = (
            ("drop-back", float(forecast.p_pass[0]), LEAST_P_PASS),
            ("defense-big-play", float(forecast.p_kind[0, SACK]), LEAST_P_SACK),
        )
        found += [
            Instead("frame", FRAMES[key].title, p)
            for key, p, least in chances
            if pays(p, least) and key not in request.have
        ]
    frames = request.assignment.must_have or tuple(FRAMES.values())
    life = (
        frame
        for frame in frames
        if frame.kind is FrameKind.LIFE
        and Window.IN_PLAY in frame.windows
        and Window.AFTER not in frame.windows
        and frame.key not in request.have
    )
    found += [Instead("life", frame.title, minutes=frame.minutes) for frame in life][:1]
    return tuple(found)


def _reaches_the_passer(request: NextRequest, answer: Answer) -> bool:
    """Whether the longest lens reaches the passer from the place of the answer."""
    situation, kit = request.situation, request.kit
    passer_y_yd = request.venue.rules.ball_y_yd(situation.hash_mark)
    passer_x_yd = situation.line_of_scrimmage_x_yd - DROP_BACK_YD
    away_yd = float(np.hypot(answer.x_yd - passer_x_yd, answer.y_yd - passer_y_yd))
    return away_yd <= max(mounted.reach_yd for mounted in kit.mounted)
