"""Fixtures of the sideways tests: bundled plays, measured tables, an invented outcome model."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from lensyard.domain.field import RULES
from lensyard.domain.situation import SituationBatch
from lensyard.model.lateral import LateralPrior

ROOT = Path(__file__).resolve().parents[2]
HERE = Path(__file__).resolve().parent
COLUMNS = (
    "season",
    "kind",
    "side",
    "depth",
    "gap",
    "gain_yd",
    "air_yd",
    "out_of_bounds",
    "touchdown",
)


@pytest.fixture(scope="session")
def bundled_plays() -> pd.DataFrame:
    """All bundled plays, the columns that the sideways tests need."""
    return pd.read_parquet(ROOT / "data" / "plays.parquet", columns=list(COLUMNS))


@pytest.fixture(scope="session")
def fitted_plays(bundled_plays: pd.DataFrame) -> pd.DataFrame:
    """The bundled plays of the seasons that the shares were counted from."""
    chosen = bundled_plays["season"].between(2016, 2018)
    return bundled_plays[chosen].reset_index(drop=True)


@pytest.fixture(scope="session")
def pro_prior() -> LateralPrior:
    """The prior of the professional rules."""
    return LateralPrior.build(rules=RULES["pro"])


@pytest.fixture(scope="session")
def measured():
    """Read one of the measured tables beside this file."""

    def read(name: str) -> pd.DataFrame:
        return pd.read_csv(HERE / f"{name}.csv", comment="#")

    return read


class InventedModel:
    """An outcome model with invented numbers that depend on down and distance."""

    def kind_probabilities(self, batch: SituationBatch) -> np.ndarray:
        third = (batch.down >= 3).astype(float)
        run = 0.5 - 0.3 * third
        rest = np.array([0.5, 0.3, 0.08, 0.07, 0.05])
        return np.column_stack([run, (1 - run)[:, None] * rest])

    def kind_gain_pmf(self, batch: SituationBatch) -> np.ndarray:
        gains = np.arange(-20, 100)
        centers = np.array([4.0, 9.0, 0.0, -6.0, 7.0, 0.0])[:, None]
        mass = np.exp(-np.abs(gains - centers) / np.array([3.0, 7, 1, 3, 6, 1])[:, None])
        mass[[2, 3, 5], 21:] = 0.0  # only runs and catches gain
        mass = np.repeat(mass[None], len(batch), axis=0)
        goal = batch.yardline_100
        for row, yards in enumerate(goal):  # what passes the goal line is a touchdown
            mass[row, :, yards + 20] += mass[row, :, yards + 21 :].sum(axis=1)
            mass[row, :, yards + 21 :] = 0.0
        return mass / mass.sum(axis=2, keepdims=True)

    def air_pmf(self, batch: SituationBatch) -> np.ndarray:
        air = np.arange(-10, 71)
        mass = np.stack([np.exp(-np.abs(air - 8) / 9), np.exp(-np.abs(air - 13) / 8)])
        return np.repeat((mass / mass.sum(axis=1, keepdims=True))[None], len(batch), axis=0)

    def p_caught_in_end_zone(self, batch: SituationBatch) -> np.ndarray:
        return np.clip(0.8 - 0.015 * batch.yardline_100, 0.05, 0.8)


@pytest.fixture(scope="session")
def invented_model() -> InventedModel:
    """An outcome model with invented numbers."""
    return InventedModel()
