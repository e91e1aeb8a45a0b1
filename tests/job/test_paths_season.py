"""Spots ranked by the formula and by every play of a held-out season, point by point."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import spearmanr

from lensyard.domain.assignment import USABLE_WEIGHTS
from lensyard.domain.kit import kit_of
from lensyard.domain.perimeter import perimeter_of
from lensyard.domain.situation import Zone, zone_indices
from lensyard.domain.venue import standard_venue
from lensyard.model.cells import CARRY, CATCH, starts_of_catches
from lensyard.model.context import BASE_MODEL, load_context
from lensyard.model.outcome_grid import N_X, N_Y, Y_YD
from lensyard.planner.plans import PlanRequest
from lensyard.planner.season import play_season
from lensyard.planner.season_data import realized_quality, stored_season
from lensyard.spots.scorer import Scorer

GOAL_X = 110

KITS = [["70-200"], ["70-200", "300"], ["70-200", "400"]]
LEAST_SEEN = 1e-3
"""Stations that have fewer of the plays are ranked by one play or none."""
SEASONS = 10


def drawn_season(context, replay, rows, rng):
    """The same situations with plays drawn from the model: what one season says of a true model."""
    parts = []
    for part in np.array_split(rows, 1 + rows.size // 1000):
        some = replay.take(part)
        cells = context.model.forecast(some.batch).cells_by_start(
            context.prior(standard_venue().rules), USABLE_WEIGHTS
        )[0]
        below = cells.reshape(part.size, -1).cumsum(axis=1, dtype=np.float64)
        at = [np.searchsorted(row, rng.random() * row[-1]) for row in below]
        how, end, lane = np.unravel_index(at, (3, N_X, N_Y))
        start = np.where(how == CARRY, GOAL_X - some.batch.yardline_100, end)
        for i in np.flatnonzero(how == CATCH):
            p = starts_of_catches(int(some.batch.yardline_100[i]))[end[i]].astype(float)
            start[i] = rng.choice(N_X, p=p / p.sum())
        parts.append((start, end, Y_YD[lane]))
    x, end_x, y = (np.concatenate(of).astype(float) for of in zip(*parts, strict=True))
    return replace(replay.take(rows), start_x_yd=x, end_x_yd=end_x, end_y_yd=y)


@pytest.mark.statistical
@pytest.mark.parametrize("lenses", KITS)
def test_the_formula_ranks_spots_as_the_season_does(lenses):
    """Rank correlation of at least .995 in each zone, or what chance leaves of 1 in one season.

    Chance: seasons of the same situations, drawn from the model itself, within three standard
    deviations. From the own 1 to 40 they correlate by .92 to .999 with the formula that they are
    drawn from: one season has few plays near so many stations. Eleven seasons pooled reach .995
    everywhere but on the own 1 to 20 (.969 at reach 20, where draws of the model have .996): close
    to the own goal line the model spreads carries farther to the sides than they are seen.
    """
    context, venue = load_context(BASE_MODEL), standard_venue()
    scorer = Scorer(perimeter_of(venue, step_yd=2.0), kit_of(lenses))
    replay = stored_season(context, 2019).replay()
    prior, zone = context.prior(venue.rules), zone_indices(replay.batch.yardline_100)
    rng = np.random.default_rng(11)
    for number, name in enumerate(Zone):
        rows = np.flatnonzero(zone == number)
        expected = np.zeros(len(scorer.perimeter))
        for part in np.array_split(rows, 1 + rows.size // 2000):
            mass = context.model.forecast(replay.batch.take(part)).cells(prior, USABLE_WEIGHTS)[0]
            expected += scorer.expected_value(mass).sum(axis=0)

        def agreement(plays, expected=expected, least=LEAST_SEEN * rows.size):
            seen = realized_quality(scorer, plays).sum(axis=0)
            some = scorer.open & ((expected > least) | (seen > least))
            return float(spearmanr(expected[some], seen[some]).statistic)

        season = replay.take(rows)
        found = agreement(season)
        if found < 0.995:
            chance = [agreement(drawn_season(context, replay, rows, rng)) for _ in range(SEASONS)]
            assert found >= np.mean(chance) - 3.0 * np.std(chance), (name, found, chance)
        away = (expected - realized_quality(scorer, season).sum(axis=0))[scorer.open] / rows.size
        # Three standard errors of a share of .5, and a point for drift between seasons.
        assert np.abs(away).max() <= 1.5 / np.sqrt(rows.size) + 0.01, name


@pytest.mark.statistical
@pytest.mark.parametrize("lenses", KITS)
def test_what_the_plan_expects_is_what_it_gets_with_a_wall_and_a_slope(lenses):
    context = load_context(BASE_MODEL)
    plays = stored_season(context, 2019)
    kit = kit_of(lenses)
    for margin in (1.0, 1.5):
        request = PlanRequest(replace(kit, crop_margin=margin), step_yd=4.0)
        played = play_season(context, request, plays)
        data, rows = played.season_data, np.arange(len(played.replay))
        stood = played.plan.station_index
        away = played.expected.usable[rows, stood] - data.had(stood)
        assert abs(float(away.mean())) <= 0.005
        zone = zone_indices(data.replay.batch.yardline_100)
        by_zone = np.bincount(zone, weights=away) / np.bincount(zone)
        assert np.abs(by_zone).max() <= 0.025, by_zone
