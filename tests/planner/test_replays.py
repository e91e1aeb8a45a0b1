"""The seasons that come with the package are those that the stored plays draw."""

from dataclasses import fields

import numpy as np
import pytest
from data.recipes.replays import KEPT

from lensyard.config import data_dir
from lensyard.files import read_arrays
from lensyard.model.plays import Replay
from lensyard.planner.replays import REPLAYS_NAME, drawn_replay, from_arrays, replay_key


@pytest.mark.parametrize(
    ("seasons", "seed", "kicks"),
    [KEPT[0], *(pytest.param(*one, marks=pytest.mark.slow) for one in KEPT[1:])],
)
def test_what_is_kept_of_a_season_is_what_its_plays_draw(seasons, seed, kicks):
    key = replay_key(seasons, seed, kicks=kicks)
    kept = from_arrays(read_arrays(data_dir() / REPLAYS_NAME, f"{key}/"))
    drawn = drawn_replay(seasons, seed, kicks=kicks)
    for one, other in ((kept, drawn), (kept.batch, drawn.batch)):
        for name in (f.name for f in fields(one) if f.name != "batch"):
            assert getattr(one, name).dtype == getattr(other, name).dtype, name
            np.testing.assert_array_equal(getattr(one, name), getattr(other, name))
    assert isinstance(kept, Replay)
