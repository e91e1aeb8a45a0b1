"""What one is weak in returns sooner."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lensyard.domain.situation import zone_of
from lensyard.features.drill.progress import (
    CARDS,
    Grade,
    card_of,
    choose_cards,
    grade_of,
    progress_of,
)

CARD = st.sampled_from(CARDS)
ANSWERS = st.lists(st.tuples(CARD, st.sampled_from(Grade)), max_size=60)


def train(weak, *, answers, length=10):
    """Return the cards that somebody saw who misses the weak ones and knows the rest."""
    given_answers = []
    while len(given_answers) < answers:
        n = len(given_answers)
        chosen = choose_cards(
            progress_of(given_answers), answered=n, length=length, rng=np.random.default_rng(n)
        )
        given_answers += [(c, Grade.MISS if c in weak else Grade.GOOD) for c in chosen]
    return [card for card, _ in given_answers]


def test_weak_cards_come_more_often_than_known_ones():
    weak = {CARDS[3], CARDS[14]}
    seen = train(weak, answers=300)
    often = np.mean([seen.count(c) for c in weak])
    known = np.mean([seen.count(c) for c in CARDS if c not in weak])
    assert often > 2 * known
    assert set(seen) == set(CARDS)  # nothing is forgotten


def test_a_missed_card_is_in_the_next_but_one_series_and_a_good_one_waits():
    missed, good = CARDS[0], CARDS[1]
    answers = [(missed, Grade.MISS), (good, Grade.GOOD)] + [(c, Grade.GOOD) for c in CARDS[2:10]]
    progress = progress_of(answers)
    chosen = choose_cards(progress, answered=10, length=5, rng=np.random.default_rng(0))
    assert chosen[0] == missed
    assert good not in chosen


@given(answers=ANSWERS, card=CARD)
def test_good_moves_up_near_stays_and_a_miss_goes_back(answers, card):
    before = progress_of(answers).get(card)
    box = 0 if before is None else before.box
    after = {g: progress_of([*answers, (card, g)])[card] for g in Grade}
    assert after[Grade.GOOD].box == min(box + 1, 4)
    assert after[Grade.NEAR].box == box
    assert after[Grade.MISS].box == 0
    for progress in after.values():
        assert progress.last == len(answers) + 1
        assert progress.seen == (0 if before is None else before.seen) + 1


@given(answers=ANSWERS, length=st.integers(1, 60), seed=st.integers(0, 99))
def test_a_series_has_its_length_and_repeats_no_card_before_all_are_used(answers, length, seed):
    chosen = choose_cards(
        progress_of(answers),
        answered=len(answers),
        length=length,
        rng=np.random.default_rng(seed),
    )
    assert len(chosen) == length
    assert len(set(chosen)) == min(length, len(CARDS))


@given(down=st.integers(1, 4), distance=st.integers(1, 30), yardline=st.integers(1, 99))
def test_every_situation_has_one_card_with_a_name_of_its_own(down, distance, yardline):
    card = card_of(down=down, distance_yd=distance, yardline_100=yardline)
    assert card.zone is zone_of(yardline)
    assert [one.name for one in CARDS].count(card.name) == 1
    assert ("1-3" in card.name.split("; ")[1]) == (down >= 3 and distance <= 3)


@pytest.mark.parametrize(
    ("p", "best", "grade"),
    [
        (0.5, 0.5, Grade.GOOD),
        (0.46, 0.5, Grade.GOOD),
        (0.4, 0.5, Grade.NEAR),
        (0.3, 0.5, Grade.MISS),
        (0.0, 0.01, Grade.GOOD),  # nothing was to be had
    ],
)
def test_grades_compare_with_the_best_place_within_the_walk(p, best, grade):
    assert grade_of(p_usable=p, p_best=best) is grade
