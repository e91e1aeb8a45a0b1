"""A drill's question as a picture of the field, before the answer and after it."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from lensyard.domain.field import PlayPoint
from lensyard.service.drills import Graded, Question, Series
from lensyard.views.from_domain import closed_marks, reach_rings, station_marks, walk_path
from lensyard.views.picture import MASS_SHAPE, FieldPicture, SpotMark, SpotRole

# You first, in the accent's color; plan with a number; rule card and habit as letters A and B.
ROLES = (
    ("you", SpotRole.BEST, 1),
    ("plan", SpotRole.OTHER, 2),
    ("rule", SpotRole.HABIT, None),
    ("habit", SpotRole.HABIT, None),
)


def drill_picture(
    series: Series, question: Question, graded: Graded | None = None, *, tappable: bool = True
) -> FieldPicture:
    """Return one question as a picture.

    Parameters
    ----------
    series, question
        What is shown: the ball, the line to gain, where the learner stands.
    graded
        After the answer: where everybody went, the learner's walk, and in place of the density the
        cell where the action ended.
    tappable
        Whether a tap can name a station (before the answer).
    """
    venue, situation = series.request.venue, question.situation
    scorer = series.scorer(question)
    path: tuple[PlayPoint, ...] = ()
    walk_text = ""
    if graded is not None and graded.answer.walk_yd > 0:
        path = walk_path(
            scorer.perimeter,
            start=int(scorer.stations[question.start]),
            stop=int(scorer.stations[graded.answer.position]),
            direction=question.direction,
        )
        walk_text = f"{graded.answer.walk_yd:.0f} yd"
    return FieldPicture(
        rules=venue.rules,
        ball=PlayPoint(
            situation.line_of_scrimmage_x_yd, venue.rules.ball_y_yd(situation.hash_mark)
        ),
        line_to_gain_x_yd=situation.line_to_gain_x_yd,
        mass=None if graded is None else _end_cell(graded),
        spots=() if graded is None else _marks(series, graded),
        rings=reach_rings(series.request.kit) if graded is not None else (),
        closed=closed_marks(venue, question.direction),
        standing=PlayPoint(question.start_x_yd, question.start_y_yd),
        path=path,
        walk_text=walk_text,
        stations=(
            station_marks(scorer.perimeter, question.direction)
            if tappable and graded is None
            else ()
        ),
        side_setback_yd=venue.side_setback_yd,
        end_setback_yd=venue.end_setback_yd,
        direction=question.direction,
        end_names=venue.end_names,
        sideline_names=venue.sideline_names,
        title=f"Question {question.number}: {situation.text()}",
        tappable=tappable and graded is None,
    )


def position_of_station(series: Series, question: Question, station: int) -> int:
    """Return the position that a tapped station has in the question's numbering."""
    return int(np.flatnonzero(series.scorer(question).stations == station)[0])


def _end_cell(graded: Graded) -> NDArray[np.float64]:
    """Return all mass on the cell where the action ended."""
    mass = np.zeros(MASS_SHAPE)
    row = min(max(round(graded.end_x_yd), 0), MASS_SHAPE[0] - 1)
    lanes = MASS_SHAPE[1]
    column = min(int(graded.end_y_yd / (160.0 / 3.0) * lanes), lanes - 1)
    mass[row, column] = 1.0
    return mass


def _marks(series: Series, graded: Graded) -> tuple[SpotMark, ...]:
    scorer = series.scorer(graded.question)
    marks = []
    for name, role, rank in ROLES:
        choice = graded.of(name)
        marks.append(
            SpotMark(
                choice.x_yd,
                choice.y_yd,
                rank,
                f"{name}: {choice.label}, {'usable' if choice.usable else 'not usable'}",
                choice.p_usable,
                role,
                int(scorer.stations[choice.position]),
            )
        )
    return tuple(marks)
