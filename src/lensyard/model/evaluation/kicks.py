"""How drives end by down, and what is chosen on fourth down, on a season held out.

The baseline of the choices is a table: shares by yard line and distance in the training seasons,
smoothed over neighboring yard lines and distances.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from lensyard.arrays import FloatArray, IntArray
from lensyard.domain.situation import Zone, zone_indices
from lensyard.model import outcome_grid as grid
from lensyard.model.evaluation.scores import (
    ZoneCheck,
    bootstrap_interval,
    expected_calibration_error,
    log_loss,
)
from lensyard.model.outcome import OutcomeModel, drive_outcomes
from lensyard.model.outcome_grid import codes
from lensyard.model.plays import SNAP_KINDS, batch_of, choice_index
from lensyard.records import Record
from lensyard.stats import bootstrap_games

if TYPE_CHECKING:
    import pandas as pd

DISTANCE_BANDS: Final = ((1, 1), (2, 3), (4, 6), (7, 10), (11, 99))
"""Distances to the line to gain that choices are checked by, both ends included. [yd]"""
TABLE_YD: Final = (3.0, 1.0)
"""Widths of the table's smoothing: over yard lines, over distances. [yd]"""
CHANCE_DRAWS: Final = 20
"""How often drives' ends are drawn from the forecasts themselves."""
TABLE_PLAYS: Final = 3.0
"""The shares of all fourth downs count as so many plays in every cell of the table."""


class DriveCheck(Record):
    """Predicted and observed share of one of `DRIVE_OUTCOMES` on a down, with its ECE.

    ``ece_by_chance``: what a perfect forecast would have: of ends drawn from the forecasts, all
    snaps of a drive by one draw, on average.
    """

    down: int
    outcome: str
    plays: int
    predicted: float
    observed: float
    ece: float
    ece_by_chance: float


class FourthDowns(Record):
    """Log-loss of the choice on fourth down beside a table's, and checks by distance and zone.

    ``low`` and ``high`` are the 95 % interval of the table's log-loss less the model's, from
    drawing games again. [nats]
    """

    plays: int
    log_loss: float
    table_log_loss: float
    low: float
    high: float
    checks: tuple[ZoneCheck, ...]


def snaps_of(plays: pd.DataFrame) -> pd.DataFrame:
    """Return runs, passes, punts and field goals on a down whose drive's end is known."""
    return plays[
        plays["kind"].isin(SNAP_KINDS)
        & plays["down"].between(1, 4)
        & plays["drive_end"].isin(grid.DRIVE_ENDS)
    ]


def check_drives(model: OutcomeModel, held_out: pd.DataFrame) -> tuple[DriveCheck, ...]:
    """Return how drives end by down, kicks included, as predicted and as observed."""
    snaps = snaps_of(held_out)
    predicted = model.forecast(batch_of(snaps)).p_drive_outcome
    ended = np.eye(len(grid.DRIVE_ENDS))[codes(snaps["drive_end"], grid.DRIVE_ENDS)]
    observed, down = drive_outcomes(ended), snaps["down"].to_numpy()
    drawn = _drawn_outcomes(snaps, predicted)
    return tuple(
        DriveCheck(
            down=on,
            outcome=name,
            plays=int((down == on).sum()),
            predicted=float(predicted[down == on, index].mean()),
            observed=float(observed[down == on, index].mean()),
            ece=expected_calibration_error(
                predicted[down == on, index], observed[down == on, index]
            ),
            ece_by_chance=float(
                np.mean(
                    [
                        expected_calibration_error(
                            predicted[down == on, index], 1.0 * (one[down == on] == index)
                        )
                        for one in drawn
                    ]
                )
            ),
        )
        for on in np.unique(down).tolist()
        for index, name in enumerate(grid.DRIVE_OUTCOMES)
    )


def _drawn_outcomes(snaps: pd.DataFrame, predicted: FloatArray) -> list[IntArray]:
    """Return ends drawn from the forecasts, `CHANCE_DRAWS` arrays of shape (n,).

    One number of each drive decides at all its snaps, which end alike where forecasts are alike.
    """
    key = snaps["game_id"].astype(str) + " " + snaps["drive_index"].astype(str)
    names, drive = np.unique(key.to_numpy(dtype=str), return_inverse=True)
    below, rng = np.cumsum(predicted, axis=1)[:, :-1], np.random.default_rng(0)
    draws = rng.random((CHANCE_DRAWS, names.shape[0]))
    return [(one[drive][:, None] > below).sum(axis=1) for one in draws]


def fourth_downs_of(plays: pd.DataFrame) -> pd.DataFrame:
    """Return fourth downs on which the offense went, punted or tried a field goal."""
    return plays[(plays["down"] == 4) & plays["kind"].isin(grid.CHOICE_OF_KIND)]


def choice_table(train: pd.DataFrame) -> FloatArray:
    """Return P(go, punt, kick) by yard line and distance, shape (99, 30, 3)."""
    fourth = fourth_downs_of(train)
    shape = (99, grid.MAX_DISTANCE_YD)
    count = np.zeros((*shape, len(grid.FOURTH_DOWN_CHOICES)))
    np.add.at(count, (*_cells(fourth), choice_index(fourth)), 1.0)
    near = [_kernel(n, width) for n, width in zip(shape, TABLE_YD, strict=True)]
    smooth = np.einsum("ab,bdc,ed->aec", near[0], count, near[1])
    overall = (count.sum(axis=(0, 1)) + 1.0) / (count.sum() + count.shape[2])
    smooth += TABLE_PLAYS * overall
    return np.asarray(smooth / smooth.sum(axis=2, keepdims=True))


def _kernel(n: int, width: float) -> FloatArray:
    """Return a normal kernel over n neighbors, 1 in the middle, shape (n, n)."""
    at = np.arange(n)
    return np.asarray(np.exp(-0.5 * ((at[:, None] - at[None, :]) / width) ** 2))


def _cells(fourth: pd.DataFrame) -> tuple[IntArray, IntArray]:
    """Return yard line and distance of fourth downs, each from 0, shape (n,)."""
    batch = batch_of(fourth)
    distance = np.minimum(batch.distance_yd, grid.MAX_DISTANCE_YD)
    return batch.yardline_100 - 1, np.asarray(distance - 1)


def score_fourth_downs(
    model: OutcomeModel,
    train: pd.DataFrame,
    held_out: pd.DataFrame,
    *,
    draws: int,
    seed: int,
) -> FourthDowns:
    """Score the choice on fourth down beside a table by yard line and distance.

    - ``train``, ``held_out``: canonical plays, kicks included; the table is made of the first.
    """
    fourth = fourth_downs_of(held_out)
    chosen = choice_index(fourth)
    p = model.forecast(batch_of(fourth)).p_fourth_down_choice
    table = choice_table(train)[_cells(fourth)]
    own, other = log_loss(p, chosen), log_loss(table, chosen)
    game = np.unique(fourth["game_id"].to_numpy(dtype=str), return_inverse=True)[1]
    weights = bootstrap_games(int(game.max()) + 1, seed=seed, draws=draws)
    low, high = bootstrap_interval(other - own, game.astype(np.int64), weights)
    return FourthDowns(
        plays=len(fourth),
        log_loss=float(own.mean()),
        table_log_loss=float(other.mean()),
        low=low,
        high=high,
        checks=_choice_checks(fourth, p, chosen),
    )


def _choice_checks(fourth: pd.DataFrame, p: FloatArray, chosen: IntArray) -> tuple[ZoneCheck, ...]:
    """Return predicted and observed shares by distance, then by zone."""
    batch = batch_of(fourth)
    groups = {
        f"4th and {low}" if low == high else f"4th and {low} to {high}": (batch.distance_yd >= low)
        & (batch.distance_yd <= high)
        for low, high in DISTANCE_BANDS
    }
    zones = zone_indices(batch.yardline_100)
    groups |= {zone.value: zones == index for index, zone in enumerate(Zone)}
    found = []
    for group, rows in groups.items():
        for index, choice in enumerate(grid.FOURTH_DOWN_CHOICES) if rows.any() else ():
            share = p[rows, index]
            found.append(
                ZoneCheck(
                    zone=group,
                    event=choice,
                    plays=int(rows.sum()),
                    predicted=float(share.mean()),
                    observed=float((chosen[rows] == index).mean()),
                    standard_error=float(np.sqrt((share * (1 - share)).sum())) / int(rows.sum()),
                )
            )
    return tuple(found)
