"""A drill said once for every face: the question, what came of the answer, the score, progress."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from lensyard.domain.field import Direction, PlayPoint
from lensyard.features.drill.compute import Graded, Summary, cautions_of
from lensyard.features.drill.progress import CardProgress, LearnerProgress
from lensyard.features.drill.series import Question, Series
from lensyard.features.drill.spacing import Grade, Kind
from lensyard.render.field.picture import (
    MASS_SHAPE,
    FieldPicture,
    SpotMark,
    SpotRole,
    closed_marks,
    reach_rings,
    walk_path,
)
from lensyard.render.report import Column, Format, Report, Table
from lensyard.render.words import at_place, held_out_words, sentence

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
        sentences=(f"The play: {graded.happened}. {had}.",),
        tables=(
            Table(
                "choices",
                "",
                (
                    Column("who", "Who"),
                    Column("place", "Where"),
                    Column("walk_yd", "Walk", Format.YARDS),
                    Column("p_usable", "Likely", Format.PERCENT),
                    Column("usable", "Had it"),
                ),
                tuple(
                    (NAMES[c.name], c.label, c.walk_yd, c.p_usable, c.usable)
                    for c in (graded.answer, *graded.others)
                ),
            ),
        ),
    )


def summary_report(series: Series, summary: Summary) -> Report:
    """Return the score of a series so far."""
    scores = {score.name: score for score in summary.scores}
    you, plan = scores["you"], scores["plan"]
    n = max(summary.answered, 1)
    weak: tuple[str, ...] = ()
    if summary.weak:
        weak = (f"These come back sooner: {'; '.join(summary.weak)}.",)
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
            *weak,
        ),
        tables=(
            Table(
                "scores",
                "",
                (
                    Column("who", "Who"),
                    Column("usable", "Had", Format.COUNT),
                    Column("usable_share", "Share", Format.PERCENT),
                    Column("expected", "Likely before the snap", Format.DECIMAL),
                    Column("expected_share", "Likely share", Format.PERCENT),
                ),
                tuple(
                    (
                        NAMES[s.name],
                        s.usable,
                        min(s.usable / n, 1.0),
                        s.expected,
                        min(s.expected / n, 1.0),
                    )
                    for s in summary.scores
                ),
            ),
        ),
        notes=(
            *(sentence(f"{name}: {series.titles[name]}") for name in ("plan", "rule", "habit")),
            source_note(series),
        ),
        cautions=cautions_of(series.request.venue),
    )


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


def _card_words(card: CardProgress) -> str:
    if not card.seen:
        return "new, due" if card.due else "new"
    due = ", due" if card.due else ""
    return f"step {card.box} of 5, {card.good} of {card.seen} good{due}"


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

    - ``series``, ``question``: what is shown: the ball, the line to gain, where the learner stands
    - ``graded``: after the answer: where everybody went, the learner's walk, and in place of the
      density the cell where the action ended
    - ``tappable``: whether a tap can name a station (before the answer)
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
        side_setback_yd=venue.side_setback_yd,
        end_setback_yd=venue.end_setback_yd,
        direction=question.direction,
        end_names=venue.end_names,
        sideline_names=venue.sideline_names,
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
