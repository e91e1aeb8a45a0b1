"""A drill said once for every face: question, field, what came of the answer, score, progress."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from lensyard.domain.field import FIELD_LENGTH_YD, FIELD_WIDTH_YD, Direction, PlayPoint
from lensyard.domain.venue import Venue
from lensyard.features.drill.compute import Graded, Summary, summary_of
from lensyard.features.drill.progress import CardProgress, Grade, Kind, LearnerProgress
from lensyard.features.drill.school import ClassProgress, Share
from lensyard.features.drill.series import Question, Series
from lensyard.render.field.picture import (
    MASS_SHAPE,
    FieldPicture,
    SpotMark,
    SpotRole,
    reach_rings,
    walk_path,
)
from lensyard.render.report import Column, Format, Interval, Report, Table, table_of
from lensyard.render.text import document, plain
from lensyard.render.words import at_place, held_out_words, percent, sentence
from lensyard.sun.cautions import DEFERRAL, run_out_caution

ANSWER_FORMS = (
    "Where to? left:opp40, right:own20, left:50, left:goal+4, left:corner, end:left12 or "
    "ownend:right5\n(the offense's left and right), or stay. Ctrl-C ends; all answers are kept."
)
GRADES = {
    Grade.GOOD: "Good: as likely as the best place within your walk, or nearly",
    Grade.NEAR: "Near: a better place lay within your walk",
    Grade.MISS: "Missed: a much better place lay within your walk; this kind returns sooner",
}
NAMES = {
    "you": "You (1)",
    "plan": "The plan (2)",
    "rule": "The rule card (A)",
    "habit": "The habit (B)",
    "best": "Likeliest for this play",
}
"""Who, with the mark that the field has for them."""


def question_report(series: Series, question: Question) -> Report:
    """Return one question: the situation, where one stands, and how far one can walk."""
    situation = question.situation
    clock = f"{int(situation.clock_s) // 60}:{int(situation.clock_s) % 60:02d}"
    quarter = f"Quarter {situation.quarter}" if situation.quarter <= 4 else "Overtime"
    diff = situation.score_diff
    score = (
        "even score" if diff == 0 else f"offense {'ahead' if diff > 0 else 'behind'} by {abs(diff)}"
    )
    mark = "" if situation.hash_mark is None else f", ball on the {situation.hash_mark.value} hash"
    why = " (the ball has changed hands)" if question.ball_changed_hands else ""
    venue = series.request.venue
    end = venue.end_names[1 if question.direction is Direction.TOWARD_B else 0]
    toward = "" if venue.symmetric else f" Attacking the {end}."
    return Report(
        headline=f"{question.number} of {len(series.questions)}: {situation.text()}. Where to?",
        sentences=(
            f"{quarter}, {clock} to go, {score}{mark}.{toward}",
            f"You stand {at_place(question.start_label)}; there is time for "
            f"{question.limit_yd:.0f} yd{why}.",
        ),
    )


def graded_report(graded: Graded) -> Report:
    """Return what came of an answer: the play, everybody's place, how good the choice was."""
    had = "You had it" if graded.answer.usable else "You did not have it"
    return Report(
        headline=GRADES[graded.grade],
        sentences=(f"The play: {graded.happened}. {had}.", _advice(graded)),
        tables=(
            table_of(
                "choices",
                "",
                (graded.answer, *graded.others),
                ("who", "Who", lambda choice: NAMES[choice.name]),
                ("place", "Where", lambda choice: choice.label),
                ("walk_yd", "Walk", Format.YARDS),
                ("p_usable", "Likely", Format.PERCENT),
                ("usable", "Had it"),
            ),
        ),
    )


def _advice(graded: Graded) -> str:
    """Say where the best published advice stood and what that was worth."""
    advice = graded.advice
    had = "it had the play" if advice.usable else "it did not have the play"
    return (
        f"The best published advice for your reach ({graded.advice_words}) was "
        f"{at_place(advice.label)}: {percent(advice.p_usable)} likely, and {had}."
    )


def summary_report(series: Series, summary: Summary) -> Report:
    """Return the score of a series so far."""
    scores = {score.name: score for score in summary.scores}
    you, plan = scores["you"], scores["plan"]
    n = max(summary.answered, 1)
    weak = [f"These come back sooner: {'; '.join(summary.weak)}."] if summary.weak else []
    return Report(
        headline=(
            f"You had {you.usable} of {summary.answered} plays; the plan would have had "
            f"{plan.usable}"
            if summary.answered
            else "Nothing was answered"
        ),
        sentences=(
            f"{summary.answered} of {len(series.questions)} answered. Before the snaps "
            f"{you.expected:.1f} were likely from your places, {plan.expected:.1f} from the "
            "plan's: that part is not luck.",
            f"The best published advice for your reach ({series.advice.words}) would have had "
            f"{summary.advice.usable}; {summary.advice.expected:.1f} were likely from its places.",
            *weak,
        ),
        tables=(
            table_of(
                "scores",
                "",
                summary.scores,
                ("who", "Who", lambda score: NAMES[score.name]),
                ("usable", "Had", Format.COUNT),
                ("usable_share", "Share", Format.PERCENT, lambda s: min(s.usable / n, 1.0)),
                ("expected", "Likely before the snap", Format.DECIMAL),
                (
                    "expected_share",
                    "Likely share",
                    Format.PERCENT,
                    lambda s: min(s.expected / n, 1.0),
                ),
            ),
        ),
        notes=(
            *(sentence(f"{name}: {series.titles[name]}") for name in ("plan", "rule", "habit")),
            source_note(series),
        ),
        cautions=_cautions(series.request.venue),
    )


def _cautions(venue: Venue) -> tuple[str, ...]:
    return (run_out_caution(setback_yd=venue.side_setback_yd).sentence, DEFERRAL)


def drill_document(series: Series, graded: Sequence[Graded]) -> dict[str, Any]:
    """Return a series with its answers so far as one JSON document (``lensyard drill --json``)."""
    request = series.request
    return document(
        {
            "kit": request.kit.text,
            "venue": request.venue.name,
            "assignment": request.assignment.name,
            "season": series.season,
            "held_out": series.held_out,
            "seed": request.seed,
            "length": len(series.questions),
            "walking": request.walking,
            "rule": series.rule.words,
            "answers": [_answer_facts(one) for one in graded],
            **plain(summary_of(graded)),
        },
        model=series.context.model_facts(),
        cautions=_cautions(request.venue),
    )


def _answer_facts(graded: Graded) -> dict[str, Any]:
    question = graded.question
    return {
        "number": question.number,
        "card": question.card.name,
        "situation": question.situation.text(),
        "yardline_100": question.situation.yardline_100,
        "start": {
            "label": question.start_label,
            "x_yd": question.start_x_yd,
            "y_yd": question.start_y_yd,
        },
        "limit_yd": question.limit_yd,
        "happened": graded.happened,
        "end_x_yd": graded.end_x_yd,
        "end_y_yd": graded.end_y_yd,
        "grade": graded.grade,
        "choices": (graded.answer, *graded.others),
        "advice": graded.advice,
    }


def source_note(series: Series) -> str:
    """Return where the situations come from, and what is drawn at random."""
    return (
        f"Real plays of season {series.season}, {held_out_words(series.held_out)}; lanes and hash "
        "marks are drawn from the lateral prior. Kinds that you miss come back sooner."
    )


def progress_report(progress: LearnerProgress) -> Report:
    """Return how one stands with every kind of situation: a row a zone, a column a kind."""
    by_zone: dict[str, list[str]] = {}
    for card in progress.cards:
        by_zone.setdefault(card.zone, []).append(_card_words(card))
    due = sum(card.due for card in progress.cards)
    return Report(
        headline=f"{progress.answered} situations answered",
        sentences=(f"{due} of {len(progress.cards)} kinds of situation are due.",),
        tables=(
            Table(
                "progress",
                "",
                (Column("zone", "Zone"), *(Column(kind.name, kind.value) for kind in Kind)),
                tuple((zone[0].upper() + zone[1:], *cells) for zone, cells in by_zone.items()),
            ),
        ),
    )


_PEOPLE = (
    Column("person", "Who"),
    Column("answers", "Answers", Format.COUNT),
    Column("good", "Good", Format.PERCENT),
    Column("first", "First half", Format.PERCENT),
    Column("second", "Second half", Format.PERCENT),
)
_GROUPS = (
    Column("person", "Who"),
    Column("group", "By"),
    Column("name", "What"),
    Column("answers", "Answers", Format.COUNT),
    Column("good", "Good", Format.PERCENT),
)


def class_report(found: ClassProgress) -> Report:
    """Describe a class: everybody's way and the class's, by zone and kind of situation."""
    everybody = (*found.learners, found.together)
    people = tuple(
        (one.name, one.all.answers, *map(_share, (one.all, one.first, one.second)))
        for one in everybody
    )
    groups = {
        one.name: tuple(
            (one.name, by, group.name, group.share.answers, _share(group.share))
            for by, some in (("zone", one.zones), ("kind", one.kinds))
            for group in some
        )
        for one in everybody
    }
    own = tuple(row for one in found.learners for row in groups[one.name])
    n = len(found.learners)
    notes: tuple[str, ...] = (
        "Good: as likely as the best place within the walk, or nearly, before the snap. Intervals "
        "are Wilson's, 95 %; where two overlap, nobody can say that one is better.",
    )
    if found.imported:
        notes += (f"{found.imported} answers were imported.",)
    if found.unreadable:
        notes += (f"{found.unreadable} lines could not be read and are left out.",)
    return Report(
        headline=(
            f"{n} {'person' if n == 1 else 'people'}, {found.together.all.answers} answers, "
            f"{found.together.all.good} of them good"
        ),
        tables=(
            Table("people", "", _PEOPLE, people),
            Table("class", "The class, by zone and kind", _GROUPS, groups[found.together.name]),
            Table("everybody", "Everybody, by zone and kind", _GROUPS, own, detail=True),
        ),
        notes=notes,
        cautions=(DEFERRAL,),
    )


def class_table(found: ClassProgress) -> Table:
    """All rows of a class as one table, for CSV."""
    report = class_report(found)
    people = tuple(
        (one.name, "all", "all", one.all.answers, _share(one.all))
        for one in (*found.learners, found.together)
    )
    rows = (*people, *report.table("everybody").rows, *report.table("class").rows)
    return Table("class", "", _GROUPS, rows)


def _share(share: Share) -> Interval | None:
    if share.p is None or share.p_low is None or share.p_high is None:
        return None
    return Interval(share.p, share.p_low, share.p_high)


def _card_words(card: CardProgress) -> str:
    if not card.seen:
        return "new, due" if card.due else "new"
    due = ", due" if card.due else ""
    return f"step {card.box} of 5, {card.good} of {card.seen} good{due}"


# You first, in the accent's color; plan with a number; rule card and habit as letters A and B.
_ROLES = (
    ("you", SpotRole.BEST, 1),
    ("plan", SpotRole.OTHER, 2),
    ("rule", SpotRole.HABIT, None),
    ("habit", SpotRole.HABIT, None),
)
_STEP_X_YD, _MARGIN_YD = 2.0, 4.0
_ROWS, _COLUMNS = 9, round((FIELD_LENGTH_YD + 2 * _MARGIN_YD) / _STEP_X_YD) + 1


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
    choices = ((graded.of(name), role, rank) for name, role, rank in _ROLES)
    return tuple(
        SpotMark(
            choice.x_yd,
            choice.y_yd,
            rank,
            f"{choice.name}: {choice.label}, {'usable' if choice.usable else 'not usable'}",
            choice.p_usable,
            role,
            int(scorer.stations[choice.station_index]),
        )
        for choice, role, rank in choices
    )


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
            canvas.put(name[0].upper(), choice.x_yd, choice.y_yd)
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
