"""A drill's question and what came of the answer, as parts of a page."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from lensyard.recommend.spacing import Grade, Kind
from lensyard.service.drills import Graded, Question, Series, Summary
from lensyard.views.words import at_place, percent, sentence

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
"""How the field picture marks each, see `lensyard.present.drill_picture.ROLES`."""


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
    unseen = "which the model has not seen" if series.held_out else "which the model was fitted on"
    return (
        f"Real plays of season {series.season}, {unseen}; lanes and hash marks are drawn from "
        "published shares. Kinds that you miss come back sooner."
    )
