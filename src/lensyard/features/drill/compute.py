"""Practice: a real situation, a choice, what came of it, and what plan, rule card and habit had.

A series is a list of questions. The learner answers each with a place within the walk from where
they stood; `grade` says what the play then brought from there and from where the plan, the rule
card and the usual habit would have gone from the same start under the same limit. All of it is
plain values, for the terminal and for a page.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import field
from datetime import UTC, datetime
from pathlib import Path

import numpy as np

from lensyard.domain.field import CENTER_Y_YD
from lensyard.domain.places import standing_on
from lensyard.errors import InvalidInputError
from lensyard.features.drill.progress import (
    Grade,
    append_answer,
    grade_of,
)
from lensyard.features.drill.series import Question, Series
from lensyard.model.plays import OUTCOMES, Replay
from lensyard.planner.decision import PlayWorth, decide, play_worth
from lensyard.planner.season_data import realized_quality
from lensyard.planner.solve import may_end
from lensyard.records import Record
from lensyard.spots.position_rule import steps_toward, targets

COMPARED = ("plan", "rule", "habit")
STAY = "stay"

HAD_FROM = 0.5
"""From this quality on a play counts as had; half the way from the reach to where none is left."""


class Choice(Record):
    """Where somebody went, and what they had.

    - ``name``: ``you``, ``plan``, ``rule``, ``habit`` or ``best`` (the likeliest place within the
      walk)
    - ``station_index``, ``x_yd``, ``y_yd``, ``label``: where. [yd]
    - ``walk_yd``: the way there. Beyond the limit it is a crossing behind closed ground, which has
      nothing of this play. [yd]
    - ``p_usable``: before the snap
    - ``usable``: whether the play as it went gave a frame of quality `HAD_FROM` there
    """

    name: str
    station_index: int = field(metadata={"json": None})
    x_yd: float
    y_yd: float
    label: str
    walk_yd: float
    p_usable: float
    usable: bool


class Graded(Record):
    """One answer and what came of the play.

    - ``end_x_yd``, ``end_y_yd``: where the action ended; across the field as drawn from the lateral
      prior. [yd]
    - ``grade``: how good the choice was before the snap
    - ``advice``, ``advice_words``: where the best published advice for such a reach stood, and what
      it says
    """

    question: Question
    answer: Choice
    others: tuple[Choice, ...]
    advice: Choice
    advice_words: str
    happened: str
    end_x_yd: float
    end_y_yd: float
    grade: Grade

    def of(self, name: str) -> Choice:
        """Return the choice of ``you``, ``plan``, ``rule``, ``habit``, ``advice`` or ``best``."""
        return next(c for c in (self.answer, self.advice, *self.others) if c.name == name)


class Score(Record):
    """What somebody had in a series.

    ``usable`` counts plays; ``expected`` is the sum of what was likely before each snap, which luck
    does not touch.
    """

    name: str
    usable: int
    expected: float


class Summary(Record):
    """A series so far: answers, scores of you and the three, and the cards answered worst.

    ``advice`` is the score of the best published advice.
    """

    answered: int
    scores: tuple[Score, ...]
    advice: Score
    weak: tuple[str, ...]


def read_answer(series: Series, question: Question, text: str) -> int:
    """Return the station index that an answer names, checked.

    - ``text``: a place as for ``--standing``, or ``stay``

    Raises `InvalidInputError` if it cannot be read, may not be shot from, or is too far to walk.
    """
    scorer = series.scorer(question)
    if text.strip().lower() == STAY:
        station_index = question.start
    else:
        station = standing_on(text, scorer.perimeter, question.direction)
        station_index = int(np.flatnonzero(scorer.stations == station)[0])
    _check_walk(series, question, station_index, text=text)
    if not scorer.open[station_index]:
        raise InvalidInputError(
            f"{text!r} is closed to shooting or hidden by a goal post; choose another place, or "
            "stay"
        )
    return station_index


def _check_walk(series: Series, question: Question, station_index: int, *, text: str) -> None:
    walk = float(series.scorer(question).walk_yd[question.start, station_index])
    if walk > question.limit_yd + 1e-6:
        way = f"{walk:.0f} yd away" if np.isfinite(walk) else "behind a closed stretch"
        raise InvalidInputError(
            f"{text!r} is {way}, and there is time for {question.limit_yd:.0f} yd from the "
            f"{question.start_label}; choose a nearer place, or stay"
        )


def grade(series: Series, question: Question, station_index: int) -> Graded:
    """Return what came of an answer.

    A place from where one may not shoot is graded as what it is: nothing for this play. Whoever
    asks a person reads the answer with `read_answer`.

    Raises `InvalidInputError` if the station is too far to walk.
    """
    _check_walk(series, question, station_index, text="that place")
    scorer = series.scorer(question)
    worth = play_worth(
        series.context, series.solved, question.situation, direction=question.direction
    )
    p = np.clip(worth.reward[0], 0.0, 1.0)
    quality = realized_quality(scorer, series.replay.take(np.array([question.row])))[0]
    reachable = series.reachable(question) & worth.may_stand
    best = int(np.argmax(np.where(reachable, np.round(p, 6), -1.0))) if reachable.any() else None
    stands = {
        **compared_stations(series, question, worth=worth),
        "best": question.start if best is None else best,
    }

    def choice(name: str, where: int) -> Choice:
        x, y = (float(axis[where]) for axis in scorer.xy_yd)
        walk_yd = float(scorer.walk_yd[question.start, where])
        there = walk_yd <= question.limit_yd + 1e-6
        label = scorer.label(where)
        return Choice(
            name=name,
            station_index=where,
            x_yd=x,
            y_yd=y,
            label=label if there else f"crossing to {label}",
            walk_yd=walk_yd,
            p_usable=float(p[where]) if there else 0.0,
            usable=there and bool(quality[where] >= HAD_FROM),
        )

    answer = choice("you", station_index)
    advice = choice("advice", stands.pop("advice"))
    others = tuple(choice(name, where) for name, where in stands.items())
    return Graded(
        question=question,
        answer=answer,
        others=others,
        advice=advice,
        advice_words=series.advice.words,
        happened=happened_text(series.replay, question.row),
        end_x_yd=float(series.replay.end_x_yd[question.row]),
        end_y_yd=float(series.replay.end_y_yd[question.row]),
        grade=grade_of(p_usable=answer.p_usable, p_best=others[-1].p_usable),
    )


def compared_stations(
    series: Series, question: Question, *, worth: PlayWorth | None = None
) -> dict[str, int]:
    """Return where plan, rule card, habit and the best published advice go from the same start.

    Never a closed place: whoever is behind closed ground at the snap is on the way to an open one.
    """
    scorer = series.scorer(question)
    decision = decide(
        series.context,
        series.solved,
        question.situation,
        standing=question.start,
        direction=question.direction,
        limit_yd=question.limit_yd,
        worth=worth,
    )
    found = {"plan": decision.station}
    ends = may_end(scorer.walk_yd, scorer.open, limit_yd=question.limit_yd)
    steps = steps_toward(scorer.walk_yd, ends)
    wanted = targets(
        (series.rule, series.habit, series.advice),
        yardline_100=np.array([question.situation.yardline_100]),
        left_side=np.array([question.start_y_yd > CENTER_Y_YD]),
        xy_yd=scorer.xy_yd,
        may_shoot=scorer.open,
    )
    for name, target in zip(("rule", "habit", "advice"), wanted[:, 0].tolist(), strict=True):
        stepped = int(steps[question.start, target])
        found[name] = stepped if scorer.open[stepped] else target
    return found


def happened_text(replay: Replay, row: int) -> str:
    """Return what the play brought, in words."""
    gain = float(replay.end_x_yd[row]) - (110.0 - float(replay.batch.yardline_100[row]))
    outcome = OUTCOMES[int(replay.outcome[row])]
    if outcome == "touchdown":
        return "touchdown"
    if outcome == "incompletion":
        return f"incomplete, the ball came down {_ahead(gain)}"
    if outcome == "interception":
        return f"intercepted {_ahead(gain)}"
    if outcome == "sack":
        return f"sacked for a loss of {-gain:.0f} yd"
    if abs(gain) < 0.5:
        return "no gain"
    return f"a gain of {gain:.0f} yd" if gain > 0 else f"a loss of {-gain:.0f} yd"


def _ahead(yards: float) -> str:
    if abs(yards) < 0.5:
        return "at the line of scrimmage"
    return f"{abs(yards):.0f} yd {'past' if yards > 0 else 'behind'} the line of scrimmage"


def summary_of(graded: Sequence[Graded]) -> Summary:
    """Return the scores of a series so far, and the cards answered worst."""
    *scores, advice = (
        Score(
            name=name,
            usable=sum(g.of(name).usable for g in graded),
            expected=float(sum(g.of(name).p_usable for g in graded)),
        )
        for name in ("you", *COMPARED, "advice")
    )
    missed = [g.question.card.name for g in graded if g.grade is Grade.MISS]
    return Summary(len(graded), tuple(scores), advice, tuple(dict.fromkeys(missed)))


def keep_answer(path: Path, series: Series, graded: Graded) -> None:
    """Keep one answer, durably, with the time it was given; `StoreError` if the disk refuses."""
    answer = {
        "at": datetime.now(UTC).isoformat(),
        "card": graded.question.card.name,
        "grade": graded.grade.value,
        "season": series.season,
        "row": graded.question.row,
        "seed": series.request.seed,
        "kit": series.request.kit.text,
        "x_yd": round(graded.answer.x_yd, 2),
        "y_yd": round(graded.answer.y_yd, 2),
        "p_usable": round(graded.answer.p_usable, 5),
        "p_best": round(graded.of("best").p_usable, 5),
        "usable": {name: graded.of(name).usable for name in ("you", *COMPARED)},
    }
    append_answer(path, answer)
