"""The usable shares of an answer's spots and habits, for bars beside the words."""

from __future__ import annotations

from lensyard.service.next_play import NextAnswer
from lensyard.views.answer_panels import Share


def shares_of(answer: NextAnswer) -> tuple[Share, ...]:
    """Return the usable share of every spot by its number, then of every habit."""
    spots = [*answer.ranking.spots, *(habit.spot for habit in answer.ranking.habits)]
    return tuple(Share(spot.p_usable, spot.p_usable_low, spot.p_usable_high) for spot in spots)
