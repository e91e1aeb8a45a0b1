"""A class: answers of several people on a local list, and who learned what.

Everybody's answers lie in a file of their own, ``drill-class/NAME.jsonl`` in the data folder, in
the form of `lensyard.features.drill.progress`. A seed gives all of them the same situations;
answers that somebody gave on another computer are imported from its file, and a second time adds
nothing.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import Final

from lensyard.errors import InvalidInputError
from lensyard.features.drill.progress import (
    CARDS,
    Card,
    Grade,
    Kind,
    answers_of,
    parsed_answer,
    read_answers,
)
from lensyard.files import write_atomically
from lensyard.records import Record
from lensyard.stats import wilson

FOLDER_NAME: Final = "drill-class"
MOST_BYTES: Final = 20_000_000
_NAME: Final = re.compile(r"\w[\w '-]{0,39}")


class Share(Record):
    """Good answers of some, with Wilson's 95 % interval of the share; None without an answer."""

    answers: int
    good: int
    p: float | None
    p_low: float | None
    p_high: float | None

    @staticmethod
    def of(grades: Sequence[Grade]) -> Share:
        """Count grades."""
        good, n = sum(grade is Grade.GOOD for grade in grades), len(grades)
        if n == 0:
            return Share(0, 0, None, None, None)
        low, high = wilson(good / n, n)
        return Share(n, good, good / n, low, high)


class GroupShare(Record):
    """The share of one zone of the field, or of one kind of situation."""

    name: str
    share: Share


class Learner(Record):
    """One person, or the class: all answers, their first and their second half, and by group."""

    name: str
    all: Share
    first: Share
    second: Share
    zones: tuple[GroupShare, ...]
    kinds: tuple[GroupShare, ...]


class ClassProgress(Record):
    """How a class stands; ``unreadable`` lines were left out, ``imported`` came in just now."""

    learners: tuple[Learner, ...]
    together: Learner
    unreadable: int
    imported: int = 0
    model: None = None


def class_path(name: str, *, folder: Path | None = None) -> Path:
    """Return the file of one person's answers, in a data folder, by default the user's.

    Raises `InvalidInputError` if the name is none.
    """
    from lensyard.config import user_data_dir

    if not _NAME.fullmatch(name.strip()):
        raise InvalidInputError(
            "a name has 1 to 40 letters, digits, spaces, hyphens and apostrophes; got "
            f"{name[:50]!r}"
        )
    return (folder or user_data_dir()) / FOLDER_NAME / f"{name.strip()}.jsonl"


def import_answers(texts: Iterable[str], *, folder: Path | None = None) -> int:
    """Add the answers of files, ``NAME=FILE``, to a class; return how many were new.

    All files are read before the first is written.

    Raises `InvalidInputError` if a name or a file is none, or a file holds no answer.
    """
    planned = []
    for text in texts:
        name, equals, rest = text.partition("=")
        if not equals:
            raise InvalidInputError(f"say whose answers those are, NAME=FILE; got {text[:80]!r}")
        path = class_path(name, folder=folder)
        lines = _answer_lines(Path(rest))
        there = path.read_bytes().split(b"\n") if path.exists() else []
        known = {line for line in there if line.strip()}
        new = [line for line in dict.fromkeys(lines) if line not in known]
        planned.append((path, [line for line in there if line.strip()], new))
    for path, there, new in planned:
        if new:
            write_atomically(path, b"\n".join([*there, *new]) + b"\n")
    return sum(len(new) for _, _, new in planned)


def _answer_lines(path: Path) -> list[bytes]:
    try:
        with path.open("rb") as stream:
            data = stream.read(MOST_BYTES + 1)
    except OSError as error:
        raise InvalidInputError(f"cannot read {path} ({error.strerror or error})") from error
    if len(data) > MOST_BYTES:
        raise InvalidInputError(f"{path} is larger than {MOST_BYTES // 1_000_000} MB")
    lines = [line for line in data.split(b"\n") if parsed_answer(line) is not None]
    if not lines:
        raise InvalidInputError(
            f"{path} holds no answer of the drill; expected a file drill-answers.jsonl"
        )
    return lines


def class_progress(*, folder: Path | None = None, imported: int = 0) -> ClassProgress:
    """Return how everybody on the list stands, and all together.

    Raises `InvalidInputError` if nobody is on the list; `StoreError` if a file cannot be read.
    """
    paths = sorted(class_path("x", folder=folder).parent.glob("*.jsonl"))
    if not paths:
        raise InvalidInputError(
            "nobody is on the list yet; `lensyard drill --seed 12 --name ANN` puts somebody there, "
            "and --import ANN=FILE brings answers from elsewhere"
        )
    found = [read_answers(path) for path in paths]
    answers = [answers_of(one) for one in found]
    halves = [(one[: len(one) // 2], one[len(one) // 2 :]) for one in answers]
    # The class's way is everybody's first half against everybody's second.
    together = _learner(
        "the class",
        [a for half, _ in halves for a in half],
        [a for _, half in halves for a in half],
    )
    learners = [_learner(path.stem, *half) for path, half in zip(paths, halves, strict=True)]
    return ClassProgress(tuple(learners), together, sum(one.unreadable for one in found), imported)


def _learner(
    name: str, first: Sequence[tuple[Card, Grade]], second: Sequence[tuple[Card, Grade]]
) -> Learner:
    answers = [*first, *second]

    def group(belongs: Callable[[Card], bool]) -> Share:
        return Share.of([grade for card, grade in answers if belongs(card)])

    zones = tuple(dict.fromkeys(card.zone for card in CARDS))
    return Learner(
        name=name,
        all=group(lambda _: True),
        first=Share.of([grade for _, grade in first]),
        second=Share.of([grade for _, grade in second]),
        zones=tuple(
            GroupShare(zone.value, group(lambda card, zone=zone: card.zone is zone))  # type: ignore[misc]
            for zone in zones
        ),
        kinds=tuple(
            GroupShare(kind.value, group(lambda card, kind=kind: card.kind is kind))  # type: ignore[misc]
            for kind in Kind
        ),
    )
