"""The seasons that come with the package are those that the stored plays draw."""

import numpy as np
import pytest
from data.recipes.replays import KEPT, write

from lensyard.config import data_dir


@pytest.mark.slow
def test_what_is_kept_of_seasons_is_what_their_plays_draw(tmp_path):
    write(tmp_path / "replays.npz")
    with (
        np.load(data_dir() / "replays.npz") as kept,
        np.load(tmp_path / "replays.npz") as drawn,
    ):
        assert set(kept) == set(drawn)
        assert len({name.split("/")[0] for name in kept}) == len(KEPT)
        for name in kept:
            assert kept[name].dtype == drawn[name].dtype, name
            np.testing.assert_array_equal(kept[name], drawn[name])
