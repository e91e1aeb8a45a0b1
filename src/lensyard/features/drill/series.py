"""A drill's series: which real situations are asked about, and where the learner stands.

A fixed series depends on its seed and the season alone; one's own takes the cards that are most
overdue (`lensyard.features.drill.progress`).
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np

from lensyard.arrays import BoolArray, IntArray
from lensyard.domain.assignment import USABLE_WEIGHTS, Assignment
from lensyard.domain.field import Direction
from lensyard.domain.kit import DEMO_KIT, Kit
from lensyard.domain.perimeter import WalkTime
from lensyard.domain.situation import HASH_CODES, Situation
from lensyard.domain.venue import Venue, standard_venue
from lensyard.errors import require_range
from lensyard.features.drill.progress import (
    CARDS,
    Card,
    Grade,
    Progress,
    answers_of,
    answers_path,
    card_of,
    choose_cards,
    progress_of,
    read_answers,
    shuffled_cards,
)
from lensyard.files import cached
from lensyard.model.context import Context
from lensyard.model.plays import Replay
from lensyard.planner.plans import PlanRequest, SolvedPlan, plan_for
from lensyard.planner.season import fit_rule_card
from lensyard.planner.season_data import SeasonPlays, season_data_of, stored_season
from lensyard.planner.solve import Walking
from lensyard.planner.usual_walks import walking_of
from lensyard.records import Record
from lensyard.spots.position_rule import PositionRule, best_advice, habit_for
from lensyard.spots.scorer import Scorer

LONGEST = 500
# Where one may have been left by the play before, from the ball along the sideline. [yd]
START_YD = (-25.0, 35.0)


class DrillRequest(Record):
    """What is asked.

    - ``kit``, ``venue``, ``assignment``: as for a plan; every usable play counts the same here
    - ``length``: how many situations, 1 to 500
    - ``seed``: a fixed series, the same for everybody; None for one's own, spaced by progress
    - ``source``: whose plays; by default each season's own
    """

    kit: Kit = DEMO_KIT
    venue: Venue = field(default_factory=standard_venue)
    assignment: Assignment = field(default_factory=Assignment)
    walk_time: WalkTime = field(default_factory=WalkTime)
    length: int = 10
    seed: int | None = None
    source: str | None = None

    def __post_init__(self) -> None:
        """Refuse a series of no length and a seed below 0."""
        require_range(low=1, high=LONGEST, length=self.length)
        if self.seed is not None:
            require_range(low=0, high=2**63 - 1, seed=self.seed)

    @property
    def plan_request(self) -> PlanRequest:
        """The plan for usable plays."""
        task = replace(self.assignment, weights=USABLE_WEIGHTS)
        return PlanRequest(self.kit, self.venue, task, walking_of(self.kit, task, self.walk_time))

    @property
    def walking(self) -> Walking:
        """How far one walks, and what a yard costs: as where one asks for the next play."""
        return self.plan_request.walking


class Question(Record):
    """One situation before the snap, in the play frame.

    - ``number``: from 1
    - ``start``, ``start_x_yd``, ``start_y_yd``, ``start_label``: where the learner stands: station
      index in the scorer's numbering, place, words. [yd]
    - ``limit_yd``, ``ball_changed_hands``: how far they can walk before the snap, and why. [yd]
    - ``row``: of the play in the season's replay
    """

    number: int
    card: Card
    situation: Situation
    direction: Direction
    start: int
    start_x_yd: float
    start_y_yd: float
    start_label: str
    limit_yd: float
    ball_changed_hands: bool
    row: int


@dataclass
class Series:
    """A series of questions with everything needed to grade the answers."""

    context: Context
    request: DrillRequest
    season: int
    held_out: bool
    replay: Replay
    solved: SolvedPlan
    rule: PositionRule
    habit: PositionRule
    questions: tuple[Question, ...] = ()

    @cached_property
    def titles(self) -> dict[str, str]:
        """Whose choice, in words."""
        return {
            "you": "you",
            "plan": "looks ahead within the walk, for usable plays",
            "rule": self.rule.words,
            "habit": self.habit.title,
            "best": "likeliest for this play alone",
        }

    @property
    def advice(self) -> PositionRule:
        """The best published advice for the kit's reach and whose faces are wanted."""
        return best_advice(self.request.kit.reach_yd, self.request.assignment.faces)

    def scorer(self, question: Question) -> Scorer:
        """Return the scorer of a question's direction of attack."""
        return self.solved.scorer(question.direction)

    def reachable(self, question: Question) -> BoolArray:
        """Return where one may shoot from within the walk, shape (n,)."""
        scorer = self.scorer(question)
        near = scorer.walk_yd[question.start] <= question.limit_yd + 1e-6
        within: BoolArray = near & scorer.open
        return within


def cards_of(replay: Replay) -> dict[Card, IntArray]:
    """Return the rows of every card, and which rows can be asked about.

    Plays after a quarter break or with time to go anywhere are left out: no walk decides there.
    """
    batch = replay.batch
    asked = ~(replay.free_move | replay.quarter_break)
    number = {card: i for i, card in enumerate(CARDS)}
    keys = np.stack([batch.down, np.minimum(batch.distance_yd, 4), batch.yardline_100])
    distinct, which = np.unique(keys, axis=1, return_inverse=True)
    code = np.array(
        [
            number[card_of(down=int(d), distance_yd=int(t), yardline_100=int(y))]
            for d, t, y in distinct.T
        ]
    )[which.reshape(-1)]
    rows = {card: np.flatnonzero(asked & (code == i)) for i, card in enumerate(CARDS)}
    return {card: found for card, found in rows.items() if found.size}


def drill_series(
    context: Context,
    request: DrillRequest,
    *,
    progress: Mapping[Card, Progress] | None = None,
    answered: int = 0,
    plays: SeasonPlays | None = None,
    rule: PositionRule | None = None,
) -> Series:
    """Return a series of questions.

    - ``progress``, ``answered``: how the learner stands, and after how many answers; not looked at
      when a seed is given
    - ``plays``, ``rule``: the season and the rule card's numbers; by default the stored ones

    Raises `DataError` if no stored season fits the model.
    """
    plays = stored_season(context, source=request.source) if plays is None else plays
    replay = plays.replay()
    solved = plan_for(context, request.plan_request)
    series = Series(
        context=context,
        request=request,
        season=plays.season,
        held_out=plays.held_out,
        replay=replay,
        solved=solved,
        rule=rule_for(solved, plays) if rule is None else rule,
        habit=habit_for(request.plan_request.assignment.faces),
    )
    rows = cards_of(replay)
    if request.seed is not None:
        rng = np.random.default_rng([request.seed, 0])
        cards = shuffled_cards(length=request.length, rng=rng, among=tuple(rows))
    else:
        rng = np.random.default_rng([answered, 1])
        cards = choose_cards(
            progress or {}, answered=answered, length=request.length, rng=rng, among=tuple(rows)
        )
    taken: set[int] = set()
    questions = []
    for number, card in enumerate(cards, start=1):
        row = _new_row(rows[card], taken, rng)
        questions.append(_question(series, number, card, row, rng))
    series.questions = tuple(questions)
    return series


def _new_row(rows: IntArray, taken: set[int], rng: np.random.Generator) -> int:
    """Return a row that the series does not have yet, while there is one."""
    fresh = rows[~np.isin(rows, list(taken))] if taken else rows
    row = int(rng.choice(fresh if fresh.size else rows))
    taken.add(row)
    return row


def _question(
    series: Series, number: int, card: Card, row: int, rng: np.random.Generator
) -> Question:
    batch, replay = series.replay.batch, series.replay
    quarter = int(batch.quarter[row])
    situation = Situation(
        down=int(batch.down[row]),
        distance_yd=int(batch.distance_yd[row]),
        yardline_100=int(batch.yardline_100[row]),
        hash_mark=HASH_CODES[int(batch.hash_code[row])],
        score_diff=int(batch.score_diff[row]),
        quarter=quarter,
        clock_s=float(batch.half_s[row]) - (900.0 if quarter in (1, 3) else 0.0),
    )
    direction = Direction(int(replay.direction[row]))
    changed = bool(replay.possession_change[row])
    scorer = series.solved.scorer(direction)
    start = _start(scorer, situation, changed, rng)
    x, y = (float(axis[start]) for axis in scorer.xy_yd)
    walking = series.request.walking
    return Question(
        number=number,
        card=card,
        situation=situation,
        direction=direction,
        start=start,
        start_x_yd=x,
        start_y_yd=y,
        start_label=scorer.label(start),
        limit_yd=walking.change_limit_yd if changed else walking.drive_limit_yd,
        ball_changed_hands=changed,
        row=row,
    )


def _start(scorer: Scorer, situation: Situation, changed: bool, rng: np.random.Generator) -> int:
    """Return the open place where the play before may have left somebody: a sideline, or anywhere.

    The draws do not depend on kit or venue, so that a seed means the same walk everywhere.
    """
    along, left, anywhere = rng.uniform(*START_YD), rng.random() < 0.5, rng.random()
    x, y = scorer.xy_yd
    if changed:
        place = int(anywhere * len(x))
        want_x, want_y = float(x[place]), float(y[place])
    else:
        want_x = float(np.clip(situation.line_of_scrimmage_x_yd + along, 0.0, 120.0))
        want_y = float(y.max()) if left else float(y.min())
    away = np.hypot(x - want_x, y - want_y)
    # Nobody stands where it is closed, or where the way is shut on both sides.
    passable = np.isfinite(scorer.walk_yd).sum(axis=1) > 1
    return int(np.argmin(np.where(passable & scorer.open, away, np.inf)))


def rule_for(solved: SolvedPlan, plays: SeasonPlays) -> PositionRule:
    """Return the rule of two numbers for a plan, fitted on the season before and kept on disk.

    One season, where the rule card of a plan takes three: it is what a learner waits for the first
    time, and the numbers hardly move.
    """
    request = solved.request

    def fit() -> dict[str, Any]:
        card = fit_rule_card(
            season_data_of(
                plays.training_replay(1), solved.scorers, request.assignment, request.walking
            )
        )
        return {"ahead_yd": card.rule.ahead_yd, "end_line_from": card.rule.end_line_from}

    text = json.dumps(["drill rule", 1, solved.key, list(plays.fitted_on(1)), plays.key])
    found = cached(hashlib.sha256(text.encode()).hexdigest(), fit)
    return PositionRule(float(found["ahead_yd"]), int(found["end_line_from"]), "rule")


def series_for(
    context: Context, request: DrillRequest, *, keep: bool = True, path: Path | None = None
) -> tuple[Series, Path | None, tuple[str, ...]]:
    """Return a learner's series, where its answers go, and what there is to say.

    - ``context``, ``request``: the model, and what is asked. With a seed nothing of the learner's
      past is looked at
    - ``keep``: whether the answers are stored; else the path is None
    - ``path``: the file where they lie; the user's own by default

    Raises `StoreError` if answers are to be kept and the data folder cannot be written.
    """
    if path is None:
        path = answers_path(create=keep)
    elif keep:
        answers_path(create=True)
        path.parent.mkdir(parents=True, exist_ok=True)
    notes: tuple[str, ...] = ()
    answers: tuple[tuple[Card, Grade], ...] = ()
    if request.seed is None:
        found = read_answers(path)
        answers = answers_of(found)
        if found.unreadable:
            lines = "1 line" if found.unreadable == 1 else f"{found.unreadable} lines"
            notes = (f"{lines} of {path} could not be read; left out",)
    series = drill_series(context, request, progress=progress_of(answers), answered=len(answers))
    return series, path if keep else None, notes
