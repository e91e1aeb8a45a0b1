"""Spaced repetition over field zones and situation kinds: what one is weak in returns sooner.

The scheme is that of the card file with boxes (Leitner's, in its usual form): a card is a zone of
the field together with a kind of situation. A good answer moves the card one box up, a near one
leaves it, a miss puts it back into the first box. Each box waits longer than the one before,
counted in situations answered rather than in days, since people train when they can. A card is due
when as many situations have been answered since it was last seen as its box waits; a series takes
the most overdue cards first, and cards never seen count as just due.

What is good does not depend on luck: it compares how likely the play was usable, before the snap,
from where one chose and from the best place within the walk.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

import numpy as np

from lensyard.domain.situation import Zone, zone_of
from lensyard.errors import require_range

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


@dataclass(frozen=True, slots=True)
class Progress:
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
