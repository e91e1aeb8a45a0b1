"""A drill's question as a field in letters, for a terminal."""

from __future__ import annotations

import numpy as np

from lensyard.domain.field import FIELD_LENGTH_YD, FIELD_WIDTH_YD
from lensyard.features.drill.compute import Graded
from lensyard.features.drill.series import Question, Series

_STEP_X_YD = 2.0
_MARGIN_YD = 4.0
_ROWS = 9
_COLUMNS = round((FIELD_LENGTH_YD + 2 * _MARGIN_YD) / _STEP_X_YD) + 1
LETTERS = {"you": "Y", "plan": "P", "rule": "R", "habit": "H"}


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
