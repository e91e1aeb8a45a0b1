"""Real games made ready to be played again: where each play ended, and which way it went.

Sideways ends and hash marks are not in the data; they are drawn with a fixed seed. Ends come from
the lateral prior, given the direction, depth and out-of-bounds labels that the data has. The first
snap of a drive lies at a hash mark as often as snaps do in the long run; each later one where the
play before left the ball, by the rule: where it was dead between the hash marks, else at the nearer
one, and after an incompletion where it was snapped.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, fields, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from lensyard.domain.field import FieldRules, rules_named
from lensyard.domain.situation import UNKNOWN_HASH, SituationBatch
from lensyard.model.cells import draw_end_x_yd
from lensyard.model.lateral import LateralPrior
from lensyard.model.lateral_sampling import LabeledPlays, draw_end_y_yd, draw_hash
from lensyard.model.lateral_tables import DEPTHS, GAPS, LATERAL_KINDS, SIDES, codes

if TYPE_CHECKING:
    import pandas as pd

    from lensyard.model.lateral_tables import LabelShares

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
    rules: FieldRules | None = None,
    shares: LabelShares | None = None,
    seed: int = 20190905,
) -> Replay:
    """Return a replay of canonical plays.

    Parameters
    ----------
    plays
        Canonical columns, whole games, in order of game and ``play_index``.
    rules
        Hash marks; default pro.
    shares
        Label shares of the lateral prior; default the bundled ones.
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
    start = np.zeros(len(table), dtype=bool)
    start[first_rows] = True
    change = np.concatenate([[True], home[1:] != home[:-1]]) | start
    drive = table["drive_index"].to_numpy(np.int64)
    change |= np.concatenate([[True], drive[1:] != drive[:-1]])
    quarter_change = np.concatenate([[True], quarter[1:] != quarter[:-1]]) & ~start
    halftime = quarter_change & np.concatenate([[True], (quarter[1:] > 2) & (quarter[:-1] <= 2)])
    count = np.arange(len(table))
    order = count - np.maximum.accumulate(np.where(start, count, 0))
    batch = batch_of(table)
    lateral = LateralPrior.build(rules=rules or rules_named("pro"), shares=shares)
    labeled = _labeled(table, batch)
    end_x = draw_end_x_yd(
        rng,
        kind=labeled.kind,
        gain_yd=labeled.gain_yd,
        air_yd=labeled.air_yd,
        yardline_100=batch.yardline_100,
        touchdown=table["touchdown"].to_numpy(bool),
    )
    hash_code, end_y = _sideways(labeled, lateral, order=order, fresh=change, rng=rng)
    return Replay(
        batch=replace(batch, hash_code=hash_code),
        game=game,
        order=order,
        offense_home=home,
        direction=direction.astype(np.int64),
        end_x_yd=end_x,
        end_y_yd=end_y,
        outcome=_outcomes(table),
        possession_change=change,
        quarter_break=quarter_change,
        free_move=start | halftime,
    )


def _games(table: pd.DataFrame) -> tuple[IntArray, IntArray]:
    ids = table["game_id"].to_numpy()
    changed = np.concatenate([[True], ids[1:] != ids[:-1]]) if len(ids) else np.zeros(0, bool)
    return np.cumsum(changed).astype(np.int64) - 1, np.flatnonzero(changed)


def batch_of(table: pd.DataFrame) -> SituationBatch:
    """Return the situations of canonical plays; the hash mark is unknown there."""
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
        hash_code=np.full(len(table), UNKNOWN_HASH, dtype=np.int64),
    )


GAIN_20_YD = 20


def _labeled(table: pd.DataFrame, batch: SituationBatch) -> LabeledPlays:
    return LabeledPlays(
        kind=codes(table["kind"], LATERAL_KINDS),
        side=codes(table["side"], SIDES),
        depth=codes(table["depth"], DEPTHS),
        gap=codes(table["gap"], GAPS),
        gain_yd=table["gain_yd"].to_numpy(np.float64),
        air_yd=table["air_yd"].to_numpy(np.float64),
        out_of_bounds=table["out_of_bounds"].to_numpy(bool),
        hash_code=batch.hash_code,
    )


def _sideways(
    plays: LabeledPlays,
    prior: LateralPrior,
    *,
    order: IntArray,
    fresh: BoolArray,
    rng: np.random.Generator,
) -> tuple[IntArray, FloatArray]:
    """Return hash code and y of the action's end for whole games, each of shape (m,).

    Each play is drawn from all three hash marks with the same random numbers; then the chain of
    each drive picks. ``fresh`` marks the first play of a drive.
    """
    seeds = rng.integers(2**32, size=2)
    start = rng.choice(3, size=len(order), p=prior.hash_shares).astype(np.int64)
    ends, following = [], []
    for mark in range(3):
        from_here = replace(plays, hash_code=np.full(len(order), mark, dtype=np.int64))
        draw = np.random.default_rng(seeds[0])
        y = draw_end_y_yd(draw, from_here, rules=prior.rules, shares=prior.shares)
        following.append(
            draw_hash(
                np.random.default_rng(seeds[1]),
                y_end_yd=y,
                kind=plays.kind,
                hash_code=from_here.hash_code,
                rules=prior.rules,
            )
        )
        ends.append(y)
    y_of, next_of = np.stack(ends), np.stack(following)
    code = np.where(fresh, start, 0)
    by_order = np.argsort(order, kind="stable")
    for rows in np.split(by_order, np.cumsum(np.bincount(order))[:-1]):
        later = rows[~fresh[rows]]
        code[later] = next_of[code[later - 1], later - 1]
    return code, y_of[code, np.arange(len(order))]


def _outcomes(table: pd.DataFrame) -> IntArray:
    """Return the outcome code of each play, shape (m,)."""
    kind = table["kind"].to_numpy(object)
    outcome = np.full(len(table), OUTCOMES.index("other"), dtype=np.int64)
    outcome[table["gain_yd"].to_numpy(np.float64) >= GAIN_20_YD] = OUTCOMES.index("gain20")
    outcome[kind == "sack"] = OUTCOMES.index("sack")
    outcome[kind == "incomplete"] = OUTCOMES.index("incompletion")
    outcome[kind == "interception"] = OUTCOMES.index("interception")
    outcome[table["touchdown"].to_numpy(bool)] = OUTCOMES.index("touchdown")
    return outcome
