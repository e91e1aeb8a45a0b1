"""The answer "where next" as a picture of the field."""

from __future__ import annotations

import numpy as np

from lensyard.domain.field import PlayPoint
from lensyard.features.next_play.compute import NextAnswer
from lensyard.render.field.picture import (
    FieldPicture,
    SpotMark,
    SpotRole,
    closed_marks,
    reach_rings,
    walk_path,
)
from lensyard.spots.ranking import SpotScore


def next_picture(answer: NextAnswer, *, tappable: bool = False) -> FieldPicture:
    """Return the ball, the likely ends of the play, the spots, the habits and the walk."""
    request = answer.request
    situation, venue, direction = request.situation, request.venue, request.direction
    standing, path, walk_text = _walk(answer)
    return FieldPicture(
        rules=venue.rules,
        ball=PlayPoint(
            situation.line_of_scrimmage_x_yd, venue.rules.ball_y_yd(situation.hash_mark)
        ),
        line_to_gain_x_yd=situation.line_to_gain_x_yd,
        mass=answer.masses.plain.astype(np.float64),
        spots=_marks(answer),
        rings=reach_rings(request.kit),
        closed=closed_marks(venue, direction),
        standing=standing,
        path=path,
        walk_text=walk_text,
        side_setback_yd=venue.side_setback_yd,
        end_setback_yd=venue.end_setback_yd,
        direction=direction,
        end_names=venue.end_names,
        sideline_names=venue.sideline_names,
        title=f"Where to stand: {situation.text()}",
        tappable=tappable,
    )


def _marks(answer: NextAnswer) -> tuple[SpotMark, ...]:
    """The ranked spots by number, then the habits."""

    def mark(spot: SpotScore, number: int | None, label: str, role: SpotRole) -> SpotMark:
        station = int(answer.scorer.stations[spot.station_index])
        return SpotMark(spot.x_yd, spot.y_yd, number, label, spot.p_usable, role, station)

    ranked = [
        mark(
            spot,
            rank,
            spot.label,
            SpotRole.BEST if rank == 1 else SpotRole.EQUAL if spot.as_good else SpotRole.OTHER,
        )
        for rank, spot in enumerate(answer.ranking.spots, 1)
    ]
    habits = [
        mark(habit.spot, None, habit.title, SpotRole.HABIT) for habit in answer.ranking.habits
    ]
    return (*ranked, *habits)


def _walk(answer: NextAnswer) -> tuple[PlayPoint | None, tuple[PlayPoint, ...], str]:
    """Where one stands, the way to the best spot, and how long it is; empty where not known."""
    here, best, scorer = answer.standing_index, answer.best, answer.scorer
    if here is None:
        return None, (), ""
    x, y = scorer.xy_yd
    standing = PlayPoint(float(x[here]), float(y[here]))
    if best.walk_yd is None or not np.isfinite(best.walk_yd) or best.walk_yd <= 0:
        return standing, (), ""
    path = walk_path(
        scorer.perimeter,
        start=int(scorer.stations[here]),
        stop=int(scorer.stations[best.station_index]),
        direction=answer.request.direction,
    )
    return standing, path, f"{best.walk_yd:.0f} yd"
