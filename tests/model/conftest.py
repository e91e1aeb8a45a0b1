"""Fixtures of the model's tests: bundled plays, measured tables, invented outcomes."""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from lensyard.model.cells import JointOutcome
from lensyard.plays.store import load_plays

HERE = Path(__file__).resolve().parent
LABEL_COLUMNS = (
    *("season", "season_type", "kind", "yardline_100", "side", "depth"),
    *("gap", "gain_yd", "air_yd", "out_of_bounds", "touchdown"),
)


@pytest.fixture(scope="session")
def bundled_plays():
    """The bundled plays, the columns that the sideways tests need."""
    return load_plays(LABEL_COLUMNS)


@pytest.fixture(scope="session")
def fitted_plays(bundled_plays):
    """The plays of the seasons that the label shares were counted from."""
    chosen = bundled_plays["season"].between(2016, 2018)
    return bundled_plays[chosen].reset_index(drop=True)


@pytest.fixture(scope="session")
def measured():
    """Read one of the measured tables beside this file."""

    def read(name):
        return pd.read_csv(HERE / f"{name}.csv", comment="#")

    return read


def _invented_gains(yardline_100):
    """P(gain | run, completion, sack, scramble); what passes the goal line is a touchdown."""
    gains = np.arange(-20, 100)
    centers = np.array([4.0, 9.0, -6.0, 7.0])[:, None]
    mass = np.exp(-np.abs(gains - centers) / np.array([3.0, 7, 3, 6])[:, None])
    mass[2, 21:] = 0.0
    mass = np.repeat(mass[None], yardline_100.shape[0], axis=0)
    for row, yards in enumerate(yardline_100):
        mass[row, :, yards + 20] += mass[row, :, yards + 21 :].sum(axis=1)
        mass[row, :, yards + 21 :] = 0.0
    return mass / mass.sum(axis=2, keepdims=True)


def _invented_outcome(batch):
    third = (batch.down >= 3).astype(float)
    run = 0.5 - 0.3 * third
    rest = np.array([0.5, 0.3, 0.08, 0.07, 0.05])
    air = np.arange(-10, 71)
    mass = np.stack([np.exp(-np.abs(air - 8) / 9), np.exp(-np.abs(air - 13) / 8)])
    return JointOutcome.of(
        batch,
        p_kind=np.column_stack([run, (1 - run)[:, None] * rest]),
        gain_pmf=_invented_gains(batch.yardline_100),
        air_pmf=np.repeat((mass / mass.sum(axis=1, keepdims=True))[None], len(batch), axis=0),
        p_caught_in_end_zone=np.clip(0.8 - 0.015 * batch.yardline_100, 0.05, 0.8),
    )


@pytest.fixture(scope="session")
def invented_outcome():
    """Invented numbers that depend on down and yard line."""
    return _invented_outcome
