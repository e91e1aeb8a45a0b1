"""Progress of a learner: what one is weak in returns sooner; every answer is stored.

The scheme is that of the card file with boxes (Leitner's, in its usual form): a card is a zone of
the field together with a kind of situation. A good answer moves the card one box up, a near one
leaves it, a miss puts it back into the first box. Each box waits longer than the one before,
counted in situations answered rather than in days. A card is due when as many have been answered
since it was last seen as its box waits; a series takes the most overdue cards first, and cards
never seen count as just due. What is good does not depend on luck: it compares how likely the play
was usable, before the snap, from where one chose and from the best place within the walk.

Answers lie in one file in the user's data folder, one a line as JSON, only ever added to. Each line
is flushed to the disk before the next situation is shown, so that nothing answered is lost when the
program is killed; a line that was cut off is left out when the file is read, and two programs that
write at once do not harm each other.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path
from typing import Any, Final

import numpy as np

from lensyard.domain.situation import Zone, zone_of
from lensyard.errors import StoreError, require_range
from lensyard.files import flush_folder
from lensyard.records import Record

FILE_NAME: Final = "drill-answers.jsonl"
LINE_VERSION: Final = 1


class StoredAnswers(Record):
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
        answer = parsed_answer(line)
        if answer is None:
            unreadable += 1
        else:
            answers.append(answer)
    return StoredAnswers(tuple(answers), unreadable)


def parsed_answer(line: bytes) -> dict[str, Any] | None:
    """Return the answer of one line; None where it is none."""
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


class CardProgress(Record):
    """How a learner stands with one zone and kind of situation.

    ``box`` is None before the first answer; ``seen`` and ``good`` count answers.
    """

    zone: str
    kind: str
    box: int | None
    seen: int
    good: int
    due: bool


class LearnerProgress(Record):
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


BOX_WAITS: Final = (5, 10, 25, 60, 150)
"""How many answers a card waits in each box."""

GOOD_SHARE: Final = 0.9

NEAR_SHARE: Final = 0.65
"""Shares of the best likelihood within the walk from which an answer is good, or near."""

SHORT_YD: Final = 3


class Grade(StrEnum):
    """How good a choice was, before anybody knew how the play would end."""

    GOOD = "good"
    NEAR = "near"
    MISS = "miss"


class Kind(StrEnum):
    """Kinds of situation by down and distance."""

    FIRST = "1st down"
    SECOND = "2nd down"
    SHORT = "3rd or 4th and 1-3"
    LONG = "3rd or 4th and 4 or more"


@dataclass(frozen=True, slots=True, order=True)
class Card:
    """A zone of the field and a kind of situation."""

    zone: Zone
    kind: Kind

    @property
    def name(self) -> str:
        """As it is stored and shown."""
        return f"{self.zone.value}; {self.kind.value}"


CARDS: Final = tuple(Card(zone, kind) for zone in Zone for kind in Kind)
CARD_NAMES: Final = {card.name: card for card in CARDS}


class Progress(Record):
    """How one stands with a card.

    - ``box``: 0 to 4
    - ``last``: after how many answers in all it was last seen
    """

    box: int
    last: int
    seen: int
    good: int


def card_of(*, down: int, distance_yd: int, yardline_100: int) -> Card:
    """Return the card of a situation.

    >>> card_of(down=3, distance_yd=2, yardline_100=8).name
    'red zone 20-6; 3rd or 4th and 1-3'
    """
    if down <= 2:
        kind = Kind.FIRST if down == 1 else Kind.SECOND
    else:
        kind = Kind.SHORT if distance_yd <= SHORT_YD else Kind.LONG
    return Card(zone_of(yardline_100), kind)


def grade_of(*, p_usable: float, p_best: float) -> Grade:
    """Return how good a choice was.

    - ``p_usable``: P(usable) from where one chose
    - ``p_best``: from the best place within the walk. Where even that is less than 2 %, nothing
      could be done wrong

    >>> grade_of(p_usable=0.5, p_best=0.52), grade_of(p_usable=0.1, p_best=0.52)
    (<Grade.GOOD: 'good'>, <Grade.MISS: 'miss'>)
    """
    require_range(low=0, high=1.0001, p_usable=p_usable, p_best=p_best)
    if p_best < 0.02 or p_usable >= GOOD_SHARE * p_best:
        return Grade.GOOD
    return Grade.NEAR if p_usable >= NEAR_SHARE * p_best else Grade.MISS


def progress_of(answers: Iterable[tuple[Card, Grade]]) -> dict[Card, Progress]:
    """Return how one stands with every card seen, from all answers in their order."""
    found: dict[Card, Progress] = {}
    for number, (card, grade) in enumerate(answers, start=1):
        before = found.get(card, Progress(0, 0, 0, 0))
        box = {
            Grade.GOOD: min(before.box + 1, len(BOX_WAITS) - 1),
            Grade.NEAR: before.box,
            Grade.MISS: 0,
        }[grade]
        found[card] = Progress(box, number, before.seen + 1, before.good + (grade is Grade.GOOD))
    return found


def overdue(progress: Progress | None, *, answered: int) -> float:
    """Return how far past its wait a card is: 1 is just due; 1 for a card never seen."""
    if progress is None:
        return 1.0
    return (answered - progress.last) / BOX_WAITS[progress.box]


def choose_cards(
    progress: Mapping[Card, Progress],
    *,
    answered: int,
    length: int,
    rng: np.random.Generator,
    among: Sequence[Card] = CARDS,
) -> tuple[Card, ...]:
    """Return the cards of a series: the most overdue first, equals in random order.

    - ``progress``, ``answered``: from `progress_of`, and after how many answers
    - ``length``: how many; past the number of cards they start again
    - ``among``: cards that there are situations for
    """
    shuffled = [among[i] for i in rng.permutation(len(among))]
    order = sorted(shuffled, key=lambda card: -overdue(progress.get(card), answered=answered))
    return tuple(order[i % len(order)] for i in range(length))


def shuffled_cards(
    *, length: int, rng: np.random.Generator, among: Sequence[Card] = CARDS
) -> tuple[Card, ...]:
    """Return the cards of a fixed series: all as often, whatever anybody has answered before."""
    order: list[Card] = []
    while len(order) < length:
        order += [among[i] for i in rng.permutation(len(among))]
    return tuple(order[:length])
