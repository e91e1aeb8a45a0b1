"""Real games made ready to be played again: where each play ended, and which way it went.

Sideways ends are not in the data; they are drawn from the lateral prior with a fixed seed, given
the direction, depth and out-of-bounds labels that the data has.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, fields
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from lensyard.domain.field import FieldRules, rules_named
from lensyard.domain.situation import SituationBatch

if TYPE_CHECKING:
    import pandas as pd

    from lensyard.model.lateral import LateralPrior

IntArray = NDArray[np.int64]
FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

OUTCOMES = ("touchdown", "gain20", "incompletion", "interception", "sack", "other")
SCRIMMAGE_KINDS = ("run", "complete", "incomplete", "sack", "scramble", "interception")


@dataclass(frozen=True, slots=True)
class Replay:
    """m scrimmage plays of g games, in order.

    Attributes
    ----------
    batch
        The situations before the snaps.
    game
        Which game, 0..g-1, shape (m,).
    order
        Number of the play within its game, from 0, shape (m,).
    offense_home
        Whether the home club has the ball, shape (m,).
    direction
        +1 toward end B, -1 toward end A, shape (m,).
    end_x_yd, end_y_yd
        Where the action ended in the play frame (for an incompletion where the ball came down),
        shape (m,). [yd]
    outcome
        Index into `OUTCOMES`, shape (m,).
    possession_change, quarter_break, free_move
        Whether before this play the ball changed hands, a quarter ended, or one could go anywhere
        (first play and halftime), shape (m,).
    """

    batch: SituationBatch
    game: IntArray
    order: IntArray
    offense_home: BoolArray
    direction: IntArray
    end_x_yd: FloatArray
    end_y_yd: FloatArray
    outcome: IntArray
    possession_change: BoolArray
    quarter_break: BoolArray
    free_move: BoolArray

    def __len__(self) -> int:
        """The number of plays."""
        return int(self.game.shape[0])

    @property
    def games(self) -> int:
        """The number of games."""
        return int(self.game.max()) + 1 if len(self) else 0

    def steps(self) -> Iterator[IntArray]:
        """Yield the rows of the first play of every game, then of the second, and so on."""
        by_order = np.argsort(self.order, kind="stable")
        bounds = np.cumsum(np.bincount(self.order))[:-1]
        yield from np.split(by_order, bounds)

    def take(self, index: IntArray) -> Replay:
        """Return these plays only (for reading; steps need whole games)."""
        return Replay(
            *(
                getattr(self, f.name).take(index)
                if f.name == "batch"
                else getattr(self, f.name)[index]
                for f in fields(self)
            )
        )


def replay_of(
    plays: pd.DataFrame,
    *,
    prior: LateralPrior,
    rules: FieldRules | None = None,
    seed: int = 20190905,
) -> Replay:
    """Return a replay of canonical plays.

    Parameters
    ----------
    plays
        Canonical columns, whole games, in order of game and ``play_index``.
    prior
        Draws the sideways ends.
    rules
        Hash marks; default pro.
    seed
        Of the draws and of each game's opening direction.
    """
    rng = np.random.default_rng(seed)
    scrimmage = plays["kind"].isin(SCRIMMAGE_KINDS) & plays["down"].between(1, 4)
    scrimmage &= plays["yardline_100"].between(1, 99)
    table = plays[scrimmage]
    game, first_rows = _games(table)
    quarter = table["quarter"].to_numpy(np.int64)
    home = (table["offense"] == table["home_club"]).to_numpy(bool)
    opening = rng.choice(np.array([-1, 1]), size=int(game.max()) + 1 if game.size else 0)
    # Ends are swapped each quarter; the home club's direction carries the game's draw.
    swaps = np.where(np.isin(quarter, (2, 4)), -1, 1)
    direction = opening[game] * swaps * np.where(home, 1, -1)
    batch = batch_of(table)
    end_x, end_y, outcome = _ends(table, batch, prior, rules or rules_named("pro"), rng)
    start = np.zeros(len(table), dtype=bool)
    start[first_rows] = True
    change = np.concatenate([[True], home[1:] != home[:-1]]) | start
    drive = table["drive_index"].to_numpy(np.int64)
    change |= np.concatenate([[True], drive[1:] != drive[:-1]])
    quarter_change = np.concatenate([[True], quarter[1:] != quarter[:-1]]) & ~start
    halftime = quarter_change & np.concatenate([[True], (quarter[1:] > 2) & (quarter[:-1] <= 2)])
    count = np.arange(len(table))
    order = count - np.maximum.accumulate(np.where(start, count, 0))
    return Replay(
        batch=batch,
        game=game,
        order=order,
        offense_home=home,
        direction=direction.astype(np.int64),
        end_x_yd=end_x,
        end_y_yd=end_y,
        outcome=outcome,
        possession_change=change,
        quarter_break=quarter_change,
        free_move=start | halftime,
    )


def _games(table: pd.DataFrame) -> tuple[IntArray, IntArray]:
    ids = table["game_id"].to_numpy()
    changed = np.concatenate([[True], ids[1:] != ids[:-1]]) if len(ids) else np.zeros(0, bool)
    return np.cumsum(changed).astype(np.int64) - 1, np.flatnonzero(changed)


def batch_of(table: pd.DataFrame) -> SituationBatch:
    """Return the situations of canonical plays; the hash mark, unknown there, is the middle."""
    yardline = table["yardline_100"].to_numpy(np.int64)
    quarter = table["quarter"].to_numpy(np.int64).clip(1, 5)
    clock = table["clock_s"].fillna(450).to_numpy(np.float64)
    return SituationBatch(
        down=table["down"].to_numpy(np.int64),
        distance_yd=np.minimum(table["distance_yd"].to_numpy(np.int64).clip(1), yardline),
        yardline_100=yardline,
        score_diff=table["score_diff"].fillna(0).to_numpy(np.int64),
        quarter=quarter,
        half_s=clock + np.where(np.isin(quarter, (1, 3)), 900.0, 0.0),
        hash_code=np.ones(len(table), dtype=np.int64),
    )


# Where a touchdown that is carried in is photographed: the carrier just over the goal line.
CARRIED_IN_X_YD = 111.0
DEEPEST_CATCH_X_YD = 119.0
GAIN_20_YD = 20


def _ends(
    table: pd.DataFrame,
    batch: SituationBatch,
    prior: LateralPrior,
    rules: FieldRules,
    rng: np.random.Generator,
) -> tuple[FloatArray, FloatArray, IntArray]:
    """Return x, y and outcome code of the action's end, each of shape (m,)."""
    kind = table["kind"].to_numpy(object)
    gain = table["gain_yd"].to_numpy(np.float64)
    air = table["air_yd"].to_numpy(np.float64)
    touchdown = table["touchdown"].to_numpy(bool)
    in_air = np.isin(kind, ("incomplete", "interception"))
    # A missing depth of a pass that fell takes the median of its label.
    deep = (table["depth"] == "deep").to_numpy(bool)
    for label in (True, False):
        some = in_air & (deep == label)
        if some.any():
            air[some & np.isnan(air)] = np.nanmedian(air[some])
    line = 110.0 - batch.yardline_100
    x = np.where(in_air, line + np.nan_to_num(air), line + gain)
    caught_in = (
        touchdown & (kind == "complete") & (np.nan_to_num(air, nan=-99) >= batch.yardline_100)
    )
    carried = np.where(caught_in, line + np.nan_to_num(air), CARRIED_IN_X_YD)
    x = np.where(touchdown, carried, np.where(in_air, x, np.minimum(x, 110.0)))
    x = np.clip(x, 0.0, DEEPEST_CATCH_X_YD)
    y = prior.draw_end_y_yd(
        rng,
        kind=kind,
        side=table["side"].to_numpy(object),
        depth=table["depth"].to_numpy(object),
        gap=table["gap"].to_numpy(object),
        gain_yd=gain,
        air_yd=air,
        out_of_bounds=table["out_of_bounds"].to_numpy(bool),
        hash_code=batch.hash_code,
        rules=rules,
    )
    outcome = np.full(len(table), OUTCOMES.index("other"), dtype=np.int64)
    outcome[gain >= GAIN_20_YD] = OUTCOMES.index("gain20")
    outcome[kind == "sack"] = OUTCOMES.index("sack")
    outcome[kind == "incomplete"] = OUTCOMES.index("incompletion")
    outcome[kind == "interception"] = OUTCOMES.index("interception")
    outcome[touchdown] = OUTCOMES.index("touchdown")
    return x, np.asarray(y, dtype=np.float64), outcome
