"""The model is asked once about a situation, and everything is handed on from there."""

from collections import Counter
from dataclasses import fields

import numpy as np
import pytest

from lensyard.domain.situation import Situation, SituationBatch
from lensyard.features.next_play.compute import NextRequest, next_play
from lensyard.model import outcome
from lensyard.model.context import BASE_MODEL, load_context
from lensyard.model.tables import ClassTables

CONTEXT = load_context(BASE_MODEL)
PARTS = (
    *("p_kind", "kind_gain_pmf", "gain_pmf", "air_pmf", "p_touchdown", "p_first_down"),
    *("p_turnover", "p_out_of_bounds", "p_pass", "p_drive_end", "p_fourth_down_choice"),
    *("p_caught_in_end_zone", "comparable_plays"),
)


@pytest.fixture
def asked(monkeypatch):
    """How often axis codes and tables were computed for a batch of one situation."""
    count: Counter[str] = Counter()
    axis_codes, lengths_pmf = outcome.axis_codes, outcome.lengths_pmf
    probabilities = ClassTables.probabilities

    def counted_codes(batch):
        count["codes"] += len(batch) == 1
        return axis_codes(batch)

    def counted_pmf(parts, codes):
        count["hazards"] += len(parts) * (codes["down"].shape[0] == 1)
        return lengths_pmf(parts, codes)

    def counted_classes(self, codes):
        count["classes"] += codes["down"].shape[0] == 1
        return probabilities(self, codes)

    monkeypatch.setattr(outcome, "axis_codes", counted_codes)
    monkeypatch.setattr(outcome, "lengths_pmf", counted_pmf)
    monkeypatch.setattr(ClassTables, "probabilities", counted_classes)
    return count


@pytest.mark.parametrize("standing", [None, "left:opp40"])
def test_next_play_asks_the_model_once(asked, standing):
    next_play(CONTEXT, NextRequest(Situation(3, 7, 35), standing=standing))
    # Four kinds that gain, two that are thrown; kinds and drive ends.
    assert asked == {"codes": 1, "hazards": 6, "classes": 2}


def test_a_long_batch_says_the_same_as_its_situations_one_by_one():
    # Beyond 16 situations distributions are computed by distinct state.
    rows = [Situation(1 + i % 4, 1 + i % 9, 9 + 4 * i) for i in range(20)]
    whole = CONTEXT.model.forecast(SituationBatch.of([*rows, rows[0]]))
    for i, row in enumerate([*rows, rows[0]]):
        one = CONTEXT.forecast(row)
        for part in PARTS:
            np.testing.assert_allclose(
                getattr(whole, part)[i], getattr(one, part)[0], rtol=1e-12, atol=1e-15
            )
        for field in fields(whole.joint):
            here, there = getattr(whole.joint, field.name), getattr(one.joint, field.name)
            np.testing.assert_array_equal(here[i], there[0])
