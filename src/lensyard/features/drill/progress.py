"""Progress of a learner: read before a series, stored after every answer.

One file in the user's data folder, one answer a line as JSON, only ever added to. Each line is
flushed to the disk before the next situation is shown, so that nothing answered is lost when the
program is killed; a line that was cut off is left out when the file is read, and two programs that
write at once do not harm each other.
"""

from __future__ import annotations

import json
import os
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Final

from lensyard.errors import StoreError
from lensyard.features.drill.compute import Graded, answer_record
from lensyard.features.drill.series import DrillRequest, Series, drill_series
from lensyard.features.drill.spacing import (
    CARD_NAMES,
    CARDS,
    Card,
    Grade,
    Progress,
    overdue,
    progress_of,
)
from lensyard.files import flush_folder
from lensyard.model.context import Context

FILE_NAME: Final = "drill-answers.jsonl"
LINE_VERSION: Final = 1


@dataclass(frozen=True, slots=True)
class StoredAnswers:
    """What the file holds: the answers in their order, and how many lines could not be read."""

    answers: tuple[dict[str, Any], ...]
    unreadable: int


def answers_path(*, create: bool = False) -> Path:
    """Return the file of answers.

    - ``create``: make its folder, and make sure that it can be written

    Raises `StoreError` if ``create`` is set and it cannot.
    """
    from lensyard.config import user_data_dir

    return user_data_dir(create=create) / FILE_NAME


def read_answers(path: Path) -> StoredAnswers:
    """Return what a file of answers holds; nothing where there is none.

    Raises `StoreError` if the file is there but cannot be read.
    """
    try:
        data = path.read_bytes()
    except FileNotFoundError:
        return StoredAnswers((), 0)
    except OSError as error:
        raise StoreError(
            f"cannot read the drill's answers {path}: {error.strerror or error}. Free the file, or "
            "set LENSYARD_DATA_DIR to another folder."
        ) from error
    answers, unreadable = [], 0
    for line in data.split(b"\n"):
        if not line.strip():
            continue
        answer = _parsed(line)
        if answer is None:
            unreadable += 1
        else:
            answers.append(answer)
    return StoredAnswers(tuple(answers), unreadable)


def _parsed(line: bytes) -> dict[str, Any] | None:
    try:
        answer = json.loads(line)
    except ValueError:
        return None
    if not isinstance(answer, dict) or answer.get("version") != LINE_VERSION:
        return None
    return answer


def append_answer(path: Path, answer: Mapping[str, Any]) -> None:
    """Add one answer, durably.

    - ``path``: the file; its folder must be there

    Raises `StoreError` if the disk refuses.
    """
    line = json.dumps({"version": LINE_VERSION, **answer}, allow_nan=False).encode() + b"\n"
    try:
        new = not path.exists()
        handle = os.open(path, os.O_RDWR | os.O_CREAT | os.O_APPEND, 0o600)
        try:
            # A line that was cut off must not swallow this one.
            size = os.fstat(handle).st_size
            if size and _last_byte(handle, size) != b"\n":
                line = b"\n" + line
            _write_all(handle, line)
            os.fsync(handle)
        finally:
            os.close(handle)
        if new:
            flush_folder(path.parent)
    except OSError as error:
        raise StoreError(
            f"cannot keep the answer in {path}: {error.strerror or error}. What was answered "
            "before is kept; free some space, or set LENSYARD_DATA_DIR to another folder."
        ) from error


def _last_byte(handle: int, size: int) -> bytes:
    os.lseek(handle, size - 1, os.SEEK_SET)
    return os.read(handle, 1)


def _write_all(handle: int, line: bytes) -> None:
    written = os.write(handle, line)
    while written < len(line):
        written += os.write(handle, line[written:])


def answers_of(found: StoredAnswers) -> tuple[tuple[Card, Grade], ...]:
    """Return card and grade of every answer that names a known card, in their order."""
    grades = {grade.value: grade for grade in Grade}
    return tuple(
        (CARD_NAMES[answer["card"]], grades[answer["grade"]])
        for answer in found.answers
        if answer.get("card") in CARD_NAMES and answer.get("grade") in grades
    )


def series_for(
    context: Context, request: DrillRequest, *, keep: bool = True, folder: Path | None = None
) -> tuple[Series, Path | None, tuple[str, ...]]:
    """Return a learner's series, where its answers go, and what there is to say.

    - ``context``, ``request``: the model, and what is asked. With a seed nothing of the learner's
      past is looked at
    - ``keep``: whether the answers are stored; else the path is None
    - ``folder``: where they lie; the user's own data folder by default

    Raises `StoreError` if answers are to be kept and the data folder cannot be written.
    """
    path = answers_path(create=keep) if folder is None else folder / FILE_NAME
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

    Raises `StoreError` if the disk refuses.
    """
    append_answer(path, answer_record(series, graded, at=datetime.now(UTC).isoformat()))


@dataclass(frozen=True, slots=True)
class CardProgress:
    """How a learner stands with one zone and kind of situation.

    ``box`` is None before the first answer; ``seen`` and ``good`` count answers.
    """

    zone: str
    kind: str
    box: int | None
    seen: int
    good: int
    due: bool


@dataclass(frozen=True, slots=True)
class LearnerProgress:
    """How a learner stands with every card (``lensyard drill --progress --json``)."""

    answered: int
    cards: tuple[CardProgress, ...]


def learner_progress(path: Path | None = None) -> LearnerProgress:
    """Return how the learner stands with every card.

    - ``path``: the file of answers; the user's own by default

    Raises `StoreError` if the file is there but cannot be read.
    """
    answers = answers_of(read_answers(answers_path() if path is None else path))
    progress = progress_of(answers)
    return LearnerProgress(
        len(answers), tuple(_card(card, progress.get(card), len(answers)) for card in CARDS)
    )


def _card(card: Card, progress: Progress | None, answered: int) -> CardProgress:
    return CardProgress(
        zone=card.zone.value,
        kind=card.kind.value,
        box=None if progress is None else progress.box + 1,
        seen=0 if progress is None else progress.seen,
        good=0 if progress is None else progress.good,
        due=overdue(progress, answered=answered) >= 1.0,
    )
