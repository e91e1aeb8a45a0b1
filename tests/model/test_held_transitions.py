"""Transitions of few games, alone and held to the bundled model."""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from lensyard.model.context import BASE_MODEL, load_context
from lensyard.model.fitting.kicks import fit_kicks
from lensyard.model.fitting.prior import blend_kicks
from lensyard.model.fitting.transitions import fit_transition_tables
from lensyard.model.outcome import OutcomeModel
from lensyard.model.transition import TransitionModel

PLAYS = Path(__file__).resolve().parents[2] / "data" / "plays.parquet"

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def season():
    table = pd.read_parquet(PLAYS)
    return table[(table["season"] == 2010) & (table["season_type"] == "REG")]


def games(season, count):
    return season[season["game_id"].isin(season["game_id"].drop_duplicates().head(count))]


def with_tables(tables):
    bundled = load_context(BASE_MODEL).model
    return TransitionModel(OutcomeModel({**bundled.arrays, **tables}, bundled.manifest))


@pytest.mark.parametrize("count", [1, 4])
def test_even_one_game_makes_whole_transitions(season, count):
    tables = fit_transition_tables(games(season, count), ahead=0.0)
    assert all(np.isfinite(table).all() for table in tables.values())
    same, changed, end = with_tables(tables).transition_matrices()
    # float32 sums of 2,475 numbers.
    np.testing.assert_allclose(same.sum(axis=1) + changed.sum(axis=1) + end, 1.0, atol=2e-5)


def test_one_game_held_to_the_bundled_model_moves_it_little_and_many_more(season):
    prior = load_context(BASE_MODEL).model
    start = load_context(BASE_MODEL).transition().table("next_kickoff")

    def moved(count):
        tables = fit_transition_tables(
            games(season, count), ahead=0.0, prior=prior, prior_plays=4000.0
        )
        return float(np.abs(tables["next_kickoff"] - start).sum() / 2)

    one, forty = moved(1), moved(40)
    # 140 snaps beside 4,000: the new game decides a thirtieth.
    assert one < 0.04
    # 40 games decide more than half, and in 2010 touchbacks lay on the 20 after other kickoffs.
    assert forty > 0.3


def test_kicks_held_to_the_bundled_ones_keep_their_own_kickoffs(season):
    early = fit_kicks(season, seasons=(2010,))
    later = fit_kicks(pd.read_parquet(PLAYS), seasons=(2018,))
    held = blend_kicks(early, later, plays=1000, prior_plays=3000)
    np.testing.assert_array_equal(held.kickoff_end_x, early.kickoff_end_x)
    np.testing.assert_allclose(
        held.punt_result, 0.25 * early.punt_result + 0.75 * later.punt_result
    )
    assert held.punt(yardline_100=65).end_x.sum() == pytest.approx(1.0, abs=1e-9)
