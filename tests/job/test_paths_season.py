"""Spots ranked by the formula and by every play of a held-out season, point by point."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import spearmanr

from lensyard.domain.assignment import USABLE_WEIGHTS
from lensyard.domain.kit import kit_of
from lensyard.domain.perimeter import perimeter_of
from lensyard.domain.situation import Zone, zone_indices
from lensyard.domain.venue import standard_venue
from lensyard.model.context import load_context
from lensyard.planner.season_data import realized_quality, stored_season
from lensyard.spots.scorer import Scorer


@pytest.mark.statistical
@pytest.mark.xfail(
    strict=True,
    reason="the bar is missed from the own 1 to 20: rank correlation .955, .981 and .985",
)
@pytest.mark.parametrize("lenses", [["70-200"], ["70-200", "300"], ["70-200", "400"]])
def test_the_formula_ranks_spots_as_the_season_does(lenses: list[str]) -> None:
    context, venue = load_context(), standard_venue()
    scorer = Scorer(perimeter_of(venue, step_yd=2.0), kit_of(lenses))
    replay = stored_season(context, 2019).replay()
    realized = realized_quality(scorer, replay)
    prior = context.prior(venue.rules)
    zone = zone_indices(replay.batch.yardline_100)
    for number, name in enumerate(Zone):
        rows = np.flatnonzero(zone == number)
        expected = np.zeros(len(scorer.perimeter))
        for part in np.array_split(rows, 1 + rows.size // 2000):
            mass = context.model.forecast(replay.batch.take(part)).cells(prior, USABLE_WEIGHTS)[0]
            expected += scorer.expected_value(mass).sum(axis=0)
        seen = realized[rows].sum(axis=0)
        some = scorer.open & ((expected > 1e-3) | (seen > 0))
        assert spearmanr(expected[some], seen[some]).statistic >= 0.995, name
        away = (expected - seen)[some] / rows.size
        assert np.abs(away).max() <= 0.03, name
