"""Progress of a learner: read before a series, kept after every answer."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from lensyard.data.drill_store import Kept, answers_path, append_answer, read_answers
from lensyard.recommend.spacing import (
    CARD_NAMES,
    CARDS,
    Card,
    Grade,
    Progress,
    overdue,
    progress_of,
)
from lensyard.service.context import SCHEMA_VERSION, Context
from lensyard.service.drills import DrillRequest, Graded, Series, drill_series, kept_answer


def answers_of(found: Kept) -> tuple[tuple[Card, Grade], ...]:
    """Return card and grade of every answer that names a known card, in their order."""
    grades = {grade.value: grade for grade in Grade}
    return tuple(
        (CARD_NAMES[answer["card"]], grades[answer["grade"]])
        for answer in found.answers
        if answer.get("card") in CARD_NAMES and answer.get("grade") in grades
    )


def series_for(
    context: Context, request: DrillRequest, *, keep: bool = True
) -> tuple[Series, Path | None, tuple[str, ...]]:
    """Return a learner's series, where its answers go, and what there is to say.

    Parameters
    ----------
    context, request
        The model, and what is asked. With a seed nothing of the learner's past is looked at.
    keep
        Whether the answers are kept; else the path is None.

    Raises
    ------
    StoreError
        If answers are to be kept and the data folder cannot be written.
    """
    path = answers_path(create=keep)
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


def keep_answer(path: Path, series: Series, graded: Graded) -> None:
    """Keep one answer, durably, with the time it was given.

    Raises
    ------
    StoreError
        If the disk refuses.
    """
    append_answer(path, kept_answer(series, graded, at=datetime.now(UTC).isoformat()))


def progress_document(path: Path | None = None) -> dict[str, Any]:
    """Return how the learner stands with every card, for a page.

    Parameters
    ----------
    path
        The file of answers; the user's own by default.

    Raises
    ------
    StoreError
        If the file is there but cannot be read.
    """
    answers = answers_of(read_answers(answers_path() if path is None else path))
    progress = progress_of(answers)
    return {
        "schema_version": SCHEMA_VERSION,
        "answered": len(answers),
        "cards": [_card_row(card, progress.get(card), len(answers)) for card in CARDS],
    }


def _card_row(card: Card, progress: Progress | None, answered: int) -> dict[str, Any]:
    return {
        "zone": card.zone.value,
        "kind": card.kind.value,
        "box": None if progress is None else progress.box + 1,
        "seen": 0 if progress is None else progress.seen,
        "good": 0 if progress is None else progress.good,
        "due": overdue(progress, answered=answered) >= 1.0,
    }
