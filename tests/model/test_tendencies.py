"""Club tendencies: the tilt, that it looks back only, and what it gains on the held-out season."""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from lensyard.errors import InvalidInputError
from lensyard.model.context import BASE_MODEL, load_context
from lensyard.model.evaluation import evaluate as evaluation
from lensyard.model.outcome_grid import KINDS

PLAYS = Path(__file__).resolve().parents[2] / "data" / "plays.parquet"
COLUMNS = [
    "game_id", "season", "season_type", "week", "offense", "quarter", "clock_s", "down",
    "distance_yd", "yardline_100", "score_diff", "kind",
]  # fmt: skip


@pytest.fixture(scope="module")
def season():
    table = pd.read_parquet(PLAYS, columns=COLUMNS)
    return table[(table["season"] == 2019) & (table["season_type"] == "REG")]


def test_a_club_that_does_what_is_expected_is_not_tilted():
    p = np.array([[0.4, 0.3, 0.2, 0.05, 0.03, 0.02]])
    np.testing.assert_allclose(evaluation.tilted(p, 300 * p, 300 * p, doubt=100.0), p)


def test_a_running_club_runs_more_and_doubt_holds_it():
    p = np.full((1, 6), 1 / 6)
    counts, expected = np.array([[30.0, 6, 6, 6, 6, 6]]), np.full((1, 6), 10.0)
    bold = evaluation.tilted(p, counts, expected, doubt=10.0)[0, 0]
    shy = evaluation.tilted(p, counts, expected, doubt=1000.0)[0, 0]
    assert bold > shy > 1 / 6
    assert bold == pytest.approx((40 / 20) / (40 / 20 + 5 * 16 / 20))  # worked by hand
    with pytest.raises(InvalidInputError):
        evaluation.tilted(p, counts, expected, doubt=0.0)


def test_only_earlier_weeks_of_the_same_club_count():
    values = np.array([[1.0], [2.0], [4.0], [8.0]])
    club, week = np.array([0, 0, 0, 1]), np.array([1, 1, 2, 2])
    assert evaluation.running_before(values, club, week)[:, 0].tolist() == [0.0, 0.0, 3.0, 0.0]


def test_clubs_gain_little_on_the_held_out_season(season):
    found = evaluation.tendency_gain(load_context(BASE_MODEL).model, season, doubt=100.0)
    # Professional coaches call much alike: less than half a percent of 1.17 nats.
    assert abs(found.gain) < 0.006
    assert found.error < 0.002
    # In the first week nobody is known.
    first = season["week"] == season["week"].min()
    live = season["kind"].isin(KINDS)
    early = first[live & season["down"].between(1, 4)].to_numpy()
    np.testing.assert_allclose(found.plain[early], found.with_clubs[early])
