"""The drill in a terminal: the field in letters, the question, and what came of the answer.

A drill's question and what came of the answer, as parts of a page.

A drill's question as a picture of the field, before the answer and after it.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from lensyard.domain.field import FIELD_LENGTH_YD, FIELD_WIDTH_YD, Direction, PlayPoint
from lensyard.features.drill.compute import RIVALS, Graded, Question, Series, Summary, cautions_of
from lensyard.features.drill.spacing import Grade, Kind
from lensyard.render.field.picture import (
    MASS_SHAPE,
    FieldPicture,
    SpotMark,
    SpotRole,
    closed_marks,
    reach_rings,
    station_marks,
    walk_path,
)
from lensyard.render.words import at_place, held_out_words, percent, sentence

_STEP_X_YD = 2.0
_MARGIN_YD = 4.0
_ROWS = 9
_COLUMNS = round((FIELD_LENGTH_YD + 2 * _MARGIN_YD) / _STEP_X_YD) + 1
WIDTH = 96
LETTERS = {"you": "Y", "plan": "P", "rule": "R", "habit": "H"}
ANSWER_FORMS = (
    "Where to? left:opp40, right:own20, left:50, left:goal+4, left:corner, end:left12 or "
    "ownend:right5\n(the offense's left and right), or stay. Ctrl-C ends; all answers are kept."
)
_WORDS = {
    Grade.GOOD: "Good: as likely as the best place within your walk, or nearly.",
    Grade.NEAR: "Near: a better place lay within your walk.",
    Grade.MISS: "Missed: a much better place lay within your walk; this kind returns sooner.",
}


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
    """Return the field in letters, the offense attacking to the right, its left on top.

    Parameters
    ----------
    series, question
        What is shown.
    graded
        After the answer: the end of the play and where everybody stood.
    """
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


def question_text(series: Series, question: Question) -> str:
    """Return one question: situation, where one stands, and the field."""
    situation = question.situation
    clock = f"{int(situation.clock_s) // 60}:{int(situation.clock_s) % 60:02d}"
    quarter = f"quarter {situation.quarter}" if situation.quarter <= 4 else "overtime"
    diff = situation.score_diff
    score = (
        "even score" if diff == 0 else f"offense {'ahead' if diff > 0 else 'behind'} {abs(diff)}"
    )
    hash_mark = "" if situation.hash_mark is None else f", {situation.hash_mark.value} hash mark"
    why = " (the ball changed hands)" if question.ball_changed_hands else ""
    venue = series.request.venue
    end = venue.end_names[1 if question.direction is Direction.TOWARD_B else 0]
    toward = "" if venue.symmetric else f" Attacking the {end}."
    return "\n".join(
        [
            f"{question.number} of {len(series.questions)}. {situation.text()}{hash_mark}; "
            f"{quarter}, {clock}, {score}.{toward}",
            f"You stand {at_place(question.start_label)}; there is time for "
            f"{question.limit_yd:.0f} yd{why}.",
            "",
            field_text(series, question),
        ]
    )


def graded_text(series: Series, graded: Graded) -> str:
    """Return what came of an answer: the play, everybody's place, and how good the choice was."""
    lines = [
        sentence(f"the play: {graded.happened}"),
        "",
        field_text(series, graded.question, graded),
        "",
        "         usable  likely  walk    where",
    ]
    for choice in (graded.answer, *graded.others):
        lines.append(
            f"{choice.name:<8} {'yes' if choice.usable else 'no':>6}  {percent(choice.p_usable):>6}"
            f"  {choice.walk_yd:3.0f} yd  {choice.label}"
        )
    return "\n".join([*lines, _WORDS[graded.grade]])


def summary_text(series: Series, summary: Summary) -> str:
    """Return the score of a series so far."""
    n = summary.answered
    if n == 0:
        return "Nothing was answered."
    lines = [
        f"{n} of {len(series.questions)} answered.",
        "",
        "         usable    likely before the snap",
    ]
    for score in summary.scores:
        had = f"{score.usable:>3} {_share(score.usable, n):>4}"
        lines.append(f"{score.name:<8} {had}  {score.expected:6.1f} {_share(score.expected, n):>4}")
    lines.append("")
    words = [f"{name}: {series.titles[name]}." for name in RIVALS]
    if summary.weak:
        words.append("Weak: " + "; ".join(name.replace("; ", ", ") for name in summary.weak) + ".")
    words += [*series_notes(series), *(f"Caution: {c}" for c in cautions_of(series.request.venue))]
    return "\n".join([*lines, *(line for text in words for line in textwrap.wrap(text, WIDTH))])


def _share(count: float, n: int) -> str:
    return percent(min(count / n, 1.0))


def series_notes(series: Series) -> Iterable[str]:
    """Return where the situations come from and what is drawn."""
    unseen = held_out_words(series.held_out)
    return (
        f"Real plays of season {series.season}, {unseen}; lanes and hash marks are drawn from the "
        "lateral prior.",
    )


def progress_text(document: dict[str, Any]) -> str:
    """Return how one stands with every card (`lensyard.features.drill.progress`) as a table."""
    lines = [
        f"{document['answered']} situations answered.",
        "",
        f"{'zone':<26} {'situation':<26} box  good  seen",
    ]
    for card in document["cards"]:
        box = "-" if card["box"] is None else str(card["box"])
        due = "  due" if card["due"] else ""
        lines.append(
            f"{card['zone']:<26} {card['kind']:<26} {box:>3}  {card['good']:>4}  {card['seen']:>4}"
            f"{due}"
        )
    return "\n".join(lines)


Table = tuple[tuple[str, ...], Sequence[tuple[str, ...]]]

GRADE_WORDS = {
    Grade.GOOD: "Good: as likely as the best place within your walk, or nearly",
    Grade.NEAR: "Near: a better place lay within your walk",
    Grade.MISS: "Missed: a much better place lay within your walk",
}
NAMES = {
    "you": "You",
    "plan": "The plan",
    "rule": "The rule card",
    "habit": "The habit",
    "best": "Likeliest for this play",
}
MARKS = {"you": " (1)", "plan": " (2)", "rule": " (A)", "habit": " (B)"}
"""How the field picture marks each, see `lensyard.features.drill.report.ROLES`."""


def question_words(series: Series, question: Question) -> tuple[str, tuple[str, ...]]:
    """Return the question as a heading and sentences."""
    situation = question.situation
    clock = f"{int(situation.clock_s) // 60}:{int(situation.clock_s) % 60:02d}"
    quarter = f"quarter {situation.quarter}" if situation.quarter <= 4 else "overtime"
    diff = situation.score_diff
    score = (
        "even score" if diff == 0 else f"offense {'ahead' if diff > 0 else 'behind'} by {abs(diff)}"
    )
    mark = "" if situation.hash_mark is None else f", ball on the {situation.hash_mark.value} hash"
    why = ", the ball has changed hands" if question.ball_changed_hands else ""
    return (
        f"{question.number} of {len(series.questions)}: {situation.text()}. Where to?",
        (
            f"{sentence(quarter)[:-1]}, {clock} to go, {score}{mark}. You stand "
            f"{at_place(question.start_label)}; there is time for {question.limit_yd:.0f} yd{why}.",
        ),
    )


def graded_words(graded: Graded) -> tuple[str, tuple[str, ...]]:
    """Return what came of an answer as a heading and sentences."""
    had = "You had it" if graded.answer.usable else "You did not have it"
    return (
        GRADE_WORDS[graded.grade] + ".",
        (f"The play: {graded.happened}. {had}.",),
    )


def graded_rows(graded: Graded) -> Table:
    """Return everybody's place, how likely it was and whether it had the play."""
    header = ("Who", "Where", "Walk", "Likely", "Had it")
    rows = [
        (
            NAMES.get(choice.name, choice.name) + MARKS.get(choice.name, ""),
            choice.label,
            f"{choice.walk_yd:.0f} yd",
            percent(choice.p_usable),
            "yes" if choice.usable else "no",
        )
        for choice in (graded.answer, *graded.others)
    ]
    return header, rows


def summary_words(series: Series, summary: Summary) -> tuple[str, tuple[str, ...]]:
    """Return the score of a series as a heading and sentences."""
    scores = {score.name: score for score in summary.scores}
    you, plan = scores["you"], scores["plan"]
    title = (
        f"You had {you.usable} of {summary.answered} plays; the plan would have had {plan.usable}"
    )
    sentences = [
        f"Before the snaps {you.expected:.1f} were likely from your places, {plan.expected:.1f} "
        "from the plan's: that part is not luck.",
        *(sentence(f"{name}: {series.titles[name]}") for name in ("rule", "habit")),
    ]
    if summary.weak:
        sentences.append(f"These come back sooner: {'; '.join(summary.weak)}.")
    return title, tuple(sentences)


def summary_rows(summary: Summary) -> Table:
    """Return the scores of you and the others."""
    header = ("Who", "Had", "Likely before the snap")
    n = max(summary.answered, 1)
    rows = [
        (
            NAMES.get(score.name, score.name),
            f"{score.usable} ({percent(min(score.usable / n, 1.0))})",
            f"{score.expected:.1f} ({percent(min(score.expected / n, 1.0))})",
        )
        for score in summary.scores
    ]
    return header, rows


def progress_rows(progress: dict[str, Any]) -> Table:
    """Return how one stands with every card: a row a zone, a column a kind."""
    kinds = [kind.value for kind in Kind]
    cards = {(card["zone"], card["kind"]): card for card in progress["cards"]}
    zones = list(dict.fromkeys(card["zone"] for card in progress["cards"]))
    rows = [
        (str(zone).capitalize(), *(_card_words(cards[(zone, kind)]) for kind in kinds))
        for zone in zones
    ]
    return ("Zone", *kinds), rows


def _card_words(card: dict[str, Any]) -> str:
    if not card["seen"]:
        return "new"
    due = ", due" if card["due"] else ""
    return f"step {card['box']} of 5, {card['good']} of {card['seen']} good{due}"


def source_words(series: Series) -> str:
    """Return where the situations come from."""
    unseen = held_out_words(series.held_out)
    return (
        f"Real plays of season {series.season}, {unseen}; lanes and hash marks are drawn from "
        "published shares. Kinds that you miss come back sooner."
    )


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
            stop=int(scorer.stations[graded.answer.station_index]),
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


def station_index_of(series: Series, question: Question, station: int) -> int:
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
                int(scorer.stations[choice.station_index]),
            )
        )
    return tuple(marks)
