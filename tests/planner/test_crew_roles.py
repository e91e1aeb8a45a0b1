"""What a photographer of a crew is there for, in words."""

from __future__ import annotations

import numpy as np
import pytest

from lensyard.domain.assignment import Faces
from lensyard.domain.situation import Situation
from lensyard.errors import InvalidInputError
from lensyard.model.outcome_grid import X_YD, Y_YD
from lensyard.planner.crew_roles import part_cells, role_words, share_out

MIDFIELD = Situation(1, 10, 50)  # the line of scrimmage lies at x = 60
X, Y = (grid.ravel() for grid in np.meshgrid(X_YD, Y_YD, indexing="ij"))
ONES = np.ones(X.size)


def test_every_cell_belongs_to_exactly_one_part() -> None:
    for line in (11.0, 60.0, 109.0):
        assert (np.sum(list(part_cells(line).values()), axis=0) == 1).all()


@pytest.mark.parametrize(
    ("held", "words"),
    [
        ((X < 58) & (X > 50), "quarterback drop-back and the backfield"),
        ((X > 65) & (X < 75) & (Y > 30), "carrier in the open field, left side"),
        ((X > 65) & (X < 75) & (Y < 20), "carrier in the open field, right side"),
        ((X > 65) & (X < 75), "carrier in the open field, both sides"),
        (X == 61, "carrier through the line, both sides"),
        ((X > 85) & (X < 100), "the deep ball and the long run, both sides"),
        ((X >= 109) & (X <= 112) & (Y > 48), "goal line and the dive at the left pylon"),
        ((X > 113) & (Y < 20) & (Y > 8), "the catch in the end zone, right side"),
    ],
)
def test_the_role_follows_from_what_the_spot_has(held: np.ndarray, words: str) -> None:
    assert role_words(held.astype(float), ONES, situation=MIDFIELD) == words


def test_the_role_names_a_second_part_and_the_drop_back() -> None:
    held = (((X > 63) & (X < 80)) | (X >= 80) & (X < 105)).astype(float)
    text = role_words(held, ONES, situation=MIDFIELD, drop_back=True)
    assert text.startswith("the deep ball and the long run, both sides, and carrier in the open")
    assert text.endswith("and the quarterback's drop-back")


def test_a_part_that_nobody_else_has_comes_before_a_small_share_of_a_large_one() -> None:
    backfield, ahead = ((X < 58) & (X > 54)).astype(float), ((X > 64) & (X < 78)).astype(float)
    held = backfield + 0.3 * ahead
    assert held[X > 60].sum() > held[X < 60].sum()
    text = role_words(held, backfield + ahead, situation=MIDFIELD)
    assert text.startswith("quarterback drop-back and the backfield")


def test_the_role_of_the_defense_speaks_of_the_defense() -> None:
    held = ((X < 58) & (X > 50)).astype(float)
    text = role_words(held, ONES, situation=MIDFIELD, faces=Faces.DEFENSE, drop_back=True)
    assert text == "the rush and the sack in the backfield"


def test_a_spot_without_plays_has_no_role() -> None:
    with pytest.raises(InvalidInputError, match="no role"):
        role_words(np.zeros(X.size), ONES, situation=MIDFIELD)


def test_value_is_shared_out_without_loss() -> None:
    rng = np.random.default_rng(3)
    value, covers = rng.random(50), rng.random((3, 50)) < 0.4
    held = share_out(value, covers)
    assert held.sum(axis=0) == pytest.approx(np.where(covers.any(axis=0), value, 0.0))
