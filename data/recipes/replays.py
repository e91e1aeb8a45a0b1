"""``python -m data.recipes.replays``: draw the seasons that models are played on.

Written to ``data/replays.npz``, which `lensyard.planner.replays` reads. The same plays give the
same bytes.
"""

from __future__ import annotations

import io
import zipfile
from pathlib import Path

import numpy as np

from lensyard.config import data_dir
from lensyard.planner.replays import REPLAYS_NAME, drawn_replay, replay_key, to_arrays
from lensyard.planner.season_data import REPLAY_SEED, TRAINING_SEED

KEPT = tuple(
    (seasons, seed, kicks)
    for kicks in (False, True)
    for seasons, seed in (((2019,), REPLAY_SEED), ((2016, 2017, 2018), TRAINING_SEED))
)


def write(path: Path) -> None:
    """Write the file."""
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED, compresslevel=9) as archive:
        for seasons, seed, kicks in KEPT:
            key = replay_key(seasons, seed, kicks=kicks)
            for name, values in to_arrays(drawn_replay(seasons, seed, kicks=kicks)).items():
                member = io.BytesIO()
                np.lib.format.write_array(member, values, allow_pickle=False)
                info = zipfile.ZipInfo(f"{key}/{name}.npy", date_time=(1980, 1, 1, 0, 0, 0))
                info.compress_type = zipfile.ZIP_DEFLATED
                archive.writestr(info, member.getvalue())


if __name__ == "__main__":
    write(data_dir() / REPLAYS_NAME)
