"""Seasons to play again: drawn from the stored plays, those of the bundled model at hand already.

Draws of a season take longer than reading them, and what is drawn depends on nothing that anybody
chooses, so the package holds the seasons that its models are played and fitted on
(``python -m data.recipes.replays`` writes them, a test draws them again).
"""

from __future__ import annotations

from dataclasses import fields
from functools import lru_cache
from typing import Any, Final

import numpy as np

from lensyard.arrays import AnyArray
from lensyard.config import data_dir
from lensyard.domain.situation import SituationBatch
from lensyard.errors import DataError
from lensyard.files import hash_of, read_arrays
from lensyard.model.plays import KICK_COLUMNS, Replay, replay_of
from lensyard.plays.bundled import provenance
from lensyard.plays.importing.catalog import BUNDLED

# Raised whenever the same plays would give another replay.
REPLAY_VERSION = 2
REPLAYS_NAME: Final = "replays.npz"
REPLAY_COLUMNS = (
    "game_id", "season", "play_index", "drive_index", "home_club", "offense", "quarter", "clock_s",
    "down", "distance_yd", "yardline_100", "score_diff", "kind", "gain_yd", "air_yd", "side",
    "depth", "gap", "out_of_bounds", "touchdown",
)  # fmt: skip
_DTYPES: Final = {"IntArray": np.int64, "FloatArray": np.float64, "BoolArray": np.bool_}
_OF_BATCH: Final = "batch."


@lru_cache(maxsize=4)
def stored_replay(
    seasons: tuple[int, ...], seed: int, source: str | None, kicks: bool, files: tuple[str, ...]
) -> Replay:
    """Return seasons to play again; ``files`` keys them: hashes of the imports that hold them.

    Raises `DataError` if there are no such plays.
    """
    if not files and source in (None, BUNDLED):
        found = read_arrays(data_dir() / REPLAYS_NAME, f"{replay_key(seasons, seed, kicks=kicks)}/")
        if found:
            return from_arrays(found)
    return drawn_replay(seasons, seed, source=source, kicks=kicks)


def drawn_replay(
    seasons: tuple[int, ...], seed: int, *, source: str | None = None, kicks: bool = False
) -> Replay:
    """Return seasons drawn from the stored plays. Raises `DataError` if there are none."""
    from lensyard.plays.store import load_plays

    columns = (*REPLAY_COLUMNS, *KICK_COLUMNS) if kicks else REPLAY_COLUMNS
    plays = load_plays(columns=columns, seasons=list(seasons), season_type="REG", source=source)
    if len(plays) == 0:
        raise DataError(
            "there are no plays of that season; `lensyard data list` shows what there is"
        )
    return replay_of(plays, seed=seed, kicks=kicks)


def replay_key(seasons: tuple[int, ...], seed: int, *, kicks: bool = False) -> str:
    """Return what names a replay of the bundled plays in the package's file."""
    document = {
        "version": REPLAY_VERSION,
        "plays": provenance().sha256,
        "seasons": seasons,
        "seed": seed,
        "kicks": kicks,
    }
    return hash_of(document)[:16]


def to_arrays(replay: Replay) -> dict[str, AnyArray]:
    """Return a replay as plain arrays by field, whole numbers in the smallest type."""
    named = {_OF_BATCH + f.name: getattr(replay.batch, f.name) for f in fields(replay.batch)}
    named |= {f.name: getattr(replay, f.name) for f in fields(replay) if f.name != "batch"}
    return {name: _smallest(values) for name, values in named.items()}


def from_arrays(arrays: dict[str, AnyArray]) -> Replay:
    """Return the replay of `to_arrays`."""

    def plain(of: type[Replay | SituationBatch], start: str) -> dict[str, Any]:
        names = {f.name: str(f.type) for f in fields(of) if f.name != "batch"}
        return {name: arrays[start + name].astype(_DTYPES[kind]) for name, kind in names.items()}

    return Replay(batch=SituationBatch(**plain(SituationBatch, _OF_BATCH)), **plain(Replay, ""))


def _smallest(values: AnyArray) -> AnyArray:
    if values.dtype == np.bool_ or not np.array_equal(values, np.rint(values)):
        return values
    low, high = int(values.min()), int(values.max())
    return values.astype(np.result_type(np.min_scalar_type(low), np.min_scalar_type(high)))
