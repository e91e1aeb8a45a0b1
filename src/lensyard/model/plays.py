"""From canonical plays to what the fits read. The only module here that knows column names."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

import numpy as np

from lensyard.domain.situation import UNKNOWN_HASH, SituationBatch
from lensyard.errors import DataError
from lensyard.model.outcome import SHORTEST_GAIN_YD
from lensyard.model.outcome_grid import CHOICE_OF_KIND, KINDS, FloatArray, IntArray, codes
from lensyard.units import SECONDS_PER_QUARTER

if TYPE_CHECKING:
    import pandas as pd

SNAP_KINDS: Final = (*KINDS, "punt", "field_goal")
COLUMNS = (
    "game_id",
    "season",
    "season_type",
    "play_index",
    "drive_index",
    "offense",
    "half",
    "quarter",
    "clock_s",
    "down",
    "distance_yd",
    "yardline_100",
    "score_diff",
    "kind",
    "gain_yd",
    "air_yd",
    "out_of_bounds",
    "touchdown",
    "return_touchdown",
    "turnover",
    "first_down",
    "kick_result",
    "end_yardline_100",
    "drive_end",
)
"""The canonical columns that the fits read."""


def select_seasons(plays: pd.DataFrame, seasons: Sequence[int]) -> pd.DataFrame:
    """Return regular-season plays of these seasons, in their order.

    Raises
    ------
    DataError
        If a column is missing or a season has no plays.
    """
    missing = [name for name in COLUMNS if name not in plays.columns]
    if missing:
        raise DataError(f"plays lack the columns {missing}; give them in the canonical schema")
    chosen = plays[plays["season"].isin(list(seasons)) & (plays["season_type"] == "REG")]
    found = set(chosen["season"].unique())
    absent = sorted(set(seasons) - found)
    if absent:
        raise DataError(f"no regular-season plays of {absent}; import them or leave them out")
    return chosen


def live_plays(plays: pd.DataFrame) -> pd.DataFrame:
    """Return the plays that the model is about: run, pass, sack, scramble on a down.

    Kneels, spikes, kicks, tries and plays that a penalty wiped out are left out.
    """
    return plays[plays["kind"].isin(KINDS) & plays["down"].between(1, 4)]


def pair_snaps(chosen: pd.DataFrame) -> pd.DataFrame:
    """Return snaps with the next snap of the same half beside them.

    Adds ``next_offense``, ``next_down``, ``next_distance_yd`` and ``next_yardline_100`` (missing
    for the last snap of a half) and ``kept`` (same offense). Kneels and spikes are no snaps; a
    possession that ends in kneels ends with the snap before them.
    """
    snaps = chosen[chosen["kind"].isin(SNAP_KINDS) & chosen["down"].between(1, 4)].copy()
    following = snaps.groupby(["game_id", "half"])[
        ["offense", "down", "distance_yd", "yardline_100"]
    ].shift(-1)
    for name in following.columns:
        snaps[f"next_{name}"] = following[name]
    snaps["kept"] = snaps["next_offense"] == snaps["offense"]
    return snaps


def batch_of(plays: pd.DataFrame) -> SituationBatch:
    """Return the situations before the snap; the hash mark is not in the data.

    A missing clock counts as the middle of the quarter, a missing score as even.
    """
    quarter = plays["quarter"].to_numpy(dtype=np.int64).clip(1, 5)
    clock = plays["clock_s"].fillna(SECONDS_PER_QUARTER // 2).to_numpy(dtype=np.float64)
    yardline = plays["yardline_100"].to_numpy(dtype=np.int64)
    return SituationBatch(
        down=plays["down"].to_numpy(dtype=np.int64),
        distance_yd=np.clip(plays["distance_yd"].to_numpy(dtype=np.int64), 1, yardline),
        yardline_100=yardline,
        score_diff=plays["score_diff"].fillna(0).to_numpy(dtype=np.int64),
        quarter=quarter,
        half_s=clock + SECONDS_PER_QUARTER * np.isin(quarter, (1, 3)),
        hash_code=np.full(len(plays), UNKNOWN_HASH, dtype=np.int64),
    )


def gains_of(plays: pd.DataFrame) -> IntArray:
    """Return gains as the model counts them, shape (n,): within the field, -20 at least. [yd]"""
    yardline = plays["yardline_100"].to_numpy(dtype=np.int64)
    gain = np.minimum(plays["gain_yd"].to_numpy(dtype=np.int64), yardline)
    return np.asarray(np.maximum(gain, SHORTEST_GAIN_YD[yardline - 1]), dtype=np.int64)


def kind_index(plays: pd.DataFrame) -> IntArray:
    """Return the position in `KINDS`, -1 for others, shape (n,)."""
    return codes(plays["kind"], KINDS)


def choice_index(snaps: pd.DataFrame) -> IntArray:
    """Return the position in `FOURTH_DOWN_CHOICES` of snaps, shape (n,)."""
    return np.asarray(snaps["kind"].map(CHOICE_OF_KIND), dtype=np.int64)


def recency_weight(plays: pd.DataFrame, half_life_seasons: float) -> FloatArray:
    """Return weights that halve with every so many seasons before the last, shape (n,)."""
    season = plays["season"].to_numpy(dtype=np.float64)
    return np.asarray(0.5 ** ((season.max() - season) / half_life_seasons))


def seasons_back(plays: pd.DataFrame) -> FloatArray:
    """Return seasons before the last one in tens, shape (n,), 0 or negative."""
    season = plays["season"].to_numpy(dtype=np.float64)
    return np.asarray((season - season.max()) / 10.0)


def data_sha256(plays: pd.DataFrame) -> str:
    """Return a hash of the columns that the fits read, in the order of the rows."""
    digest = hashlib.sha256()
    for name in COLUMNS:
        column = plays[name]
        digest.update(name.encode())
        if column.dtype.kind in "biuf":
            digest.update(column.to_numpy(dtype=np.float64, na_value=np.nan).tobytes())
        else:
            digest.update("\n".join(column.astype(str)).encode())
    return digest.hexdigest()
