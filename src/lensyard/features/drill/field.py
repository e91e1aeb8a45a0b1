"""The field of a question and of its answers: as a picture, and in letters for a terminal."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from lensyard.domain.field import FIELD_WIDTH_YD, PlayPoint
from lensyard.features.drill.compute import Graded
from lensyard.features.drill.report import _COLUMNS, _MARGIN_YD, _ROWS, _STEP_X_YD, LETTERS, ROLES
from lensyard.features.drill.series import Question, Series
from lensyard.render.field.picture import (
    MASS_SHAPE,
    FieldPicture,
    SpotMark,
    reach_rings,
    walk_path,
)


def drill_picture(
    series: Series, question: Question, graded: Graded | None = None, *, tappable: bool = True
) -> FieldPicture:
    """Return one question as a picture.

    - ``series``, ``question``: what is shown: the ball, the line to gain, where the learner stands
    - ``graded``: after the answer: where everybody went, the learner's walk, and in place of the
      density the cell where the action ended
    - ``tappable``: whether a tap can name a station (before the answer)
    """
    situation = question.situation
    scorer = series.scorer(question)
    path: tuple[PlayPoint, ...] = ()
    walk_text = ""
    if graded is not None and graded.answer.walk_yd > 0:
        path = walk_path(
            scorer.perimeter,
            start=int(scorer.stations[question.start]),
            stop=int(scorer.stations[graded.answer.station_index]),
            direction=question.direction,
        )
        walk_text = f"{graded.answer.walk_yd:.0f} yd"
    return FieldPicture.of(
        series.request.venue,
        question.direction,
        situation,
        mass=None if graded is None else _end_cell(graded),
        spots=() if graded is None else _marks(series, graded),
        rings=reach_rings(series.request.kit) if graded is not None else (),
        standing=PlayPoint(question.start_x_yd, question.start_y_yd),
        path=path,
        walk_text=walk_text,
        title=f"Question {question.number}: {situation.text()}",
        tappable=tappable and graded is None,
    )


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
                int(scorer.stations[choice.station_index]),
            )
        )
    return tuple(marks)


class _Canvas:
    """Letters on a grid: one column for two yards along, one row for some six yards across."""

    def __init__(self) -> None:
        self.cells = [[" "] * _COLUMNS for _ in range(_ROWS + 2)]

    def at(self, x_yd: float, y_yd: float) -> tuple[int, int]:
        """Return row and column of a place; the rows outside are the sidelines' surroundings."""
        column = round((x_yd + _MARGIN_YD) / _STEP_X_YD)
        if y_yd > FIELD_WIDTH_YD:
            row = 0
        elif y_yd < 0:
            row = _ROWS + 1
        else:
            row = _ROWS - min(int(y_yd / FIELD_WIDTH_YD * _ROWS), _ROWS - 1)
        return row, min(max(column, 0), _COLUMNS - 1)

    def put(self, letter: str, x_yd: float, y_yd: float) -> None:
        row, column = self.at(x_yd, y_yd)
        self.cells[row][column] = letter

    def line(self, letter: str, x_yd: float) -> None:
        for row in range(1, _ROWS + 1):
            self.cells[row][self.at(x_yd, 1.0)[1]] = letter

    def text(self) -> str:
        return "\n".join("".join(row).rstrip() for row in self.cells)


def field_text(series: Series, question: Question, graded: Graded | None = None) -> str:
    """Return the field in letters, the offense attacking to the right, its left on top."""
    scorer = series.scorer(question)
    canvas = _Canvas()
    situation = question.situation
    for yard in range(10, 111, 10):
        canvas.line("|" if yard in (10, 110) else ".", float(yard))
    canvas.line("!", situation.line_to_gain_x_yd)
    canvas.line(":", situation.line_of_scrimmage_x_yd)
    reachable = series.reachable(question)
    x, y = scorer.xy_yd
    # The weakest mark first: a column stands for two yards, and what one may use should show.
    for letter, some in (("x", ~scorer.open), ("-", scorer.open & ~reachable), ("+", reachable)):
        for station_index in np.flatnonzero(some):
            canvas.put(letter, float(x[station_index]), float(y[station_index]))
    ball_y = series.request.venue.rules.ball_y_yd(situation.hash_mark)
    canvas.put("o", situation.line_of_scrimmage_x_yd, ball_y)
    if graded is None:
        canvas.put("S", question.start_x_yd, question.start_y_yd)
    else:
        canvas.put("E", graded.end_x_yd, graded.end_y_yd)
        for name in ("habit", "rule", "plan", "you"):
            choice = graded.of(name)
            canvas.put(LETTERS[name], choice.x_yd, choice.y_yd)
    legend = (
        "o ball  : line of scrimmage  ! line to gain  S you  + in your walk  - too far  x closed"
        if graded is None
        else "E where it ended  Y you  P plan  R rule card  H habit (the first of those that meet)"
    )
    return "\n".join([_numbers(canvas), canvas.text(), legend])


def _numbers(canvas: _Canvas) -> str:
    """Return the yard lines' numbers above their columns."""
    line = [" "] * (_COLUMNS + 2)
    for yard in range(0, 101, 10):
        number = "G" if yard in (0, 100) else str(min(yard, 100 - yard))
        column = canvas.at(10.0 + yard, 1.0)[1]
        for i, letter in enumerate(number):
            line[column + i] = letter
    return "".join(line).rstrip()
