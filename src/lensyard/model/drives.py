"""Drives: counted in real and in simulated games, and what possession is worth in points.

A drive is a possession of the first or second half with at least one snap (run, pass, sack,
scramble, punt, field goal); overtime, and possessions of nothing but kneels, are left out of both.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from lensyard.errors import require_positive
from lensyard.model.outcome_grid import FloatArray
from lensyard.model.plays import SNAP_KINDS
from lensyard.model.simulation import ENDED, PLAYED, SimulatedPlays
from lensyard.model.transition import SnapOutcomes

if TYPE_CHECKING:
    import pandas as pd

COLUMNS: Final = ("snaps", "drives", "touchdowns", "field_goals", "punts", "turnovers")
"""What is counted by game."""
FIELD_GOAL_POINTS: Final = 3.0
SAFETY_POINTS: Final = 2.0


@dataclass(frozen=True, slots=True)
class Measure:
    """A ratio of sums over games with its standard error, games being independent."""

    value: float
    error: float


@dataclass(frozen=True, slots=True)
class DriveCounts:
    """Counts by game, (games, 6) in the order of `COLUMNS`, and the points of a touchdown."""

    by_game: FloatArray
    touchdown_points: float

    @property
    def games(self) -> int:
        """How many games."""
        return int(self.by_game.shape[0])

    def measures(self) -> dict[str, Measure]:
        """Return plays, points and shares of endings by drive, and drives by game."""
        count = dict(zip(COLUMNS, self.by_game.T, strict=True))
        drives = count["drives"]
        points = self.touchdown_points * count["touchdowns"]
        points = points + FIELD_GOAL_POINTS * count["field_goals"]
        return {
            "plays_per_drive": _ratio(count["snaps"], drives),
            "drives_per_game": _ratio(drives, np.ones_like(drives)),
            "points_per_drive": _ratio(points, drives),
            "p_touchdown": _ratio(count["touchdowns"], drives),
            "p_field_goal": _ratio(count["field_goals"], drives),
            "p_punt": _ratio(count["punts"], drives),
            "p_turnover": _ratio(count["turnovers"], drives),
        }


def _ratio(part: FloatArray, whole: FloatArray) -> Measure:
    """Return the ratio of two sums over games and its standard error."""
    value = float(part.sum() / whole.sum())
    spread = np.sqrt(((part - value * whole) ** 2).sum())
    return Measure(value, float(spread / whole.sum()))


def count_observed(plays: pd.DataFrame, *, touchdown_points: float) -> DriveCounts:
    """Count canonical plays of whole games."""
    chosen = plays[
        plays["half"].isin((1, 2)) & plays["kind"].isin(SNAP_KINDS) & plays["down"].between(1, 4)
    ]
    game = np.unique(chosen["game_id"].to_numpy(dtype=str), return_inverse=True)[1]
    drive = chosen["drive_index"].to_numpy(dtype=np.int64)
    kind = chosen["kind"].to_numpy(dtype=object)
    flags = (
        np.ones(len(chosen)),
        _first_of(game, drive),
        chosen["touchdown"].to_numpy(dtype=np.float64),
        (kind == "field_goal") & (chosen["kick_result"] == "made").to_numpy(),
        kind == "punt",
        chosen["turnover"].to_numpy(dtype=np.float64),
    )
    return DriveCounts(_by_game(game, flags), touchdown_points)


def count_simulated(simulated: SimulatedPlays, *, touchdown_points: float) -> DriveCounts:
    """Count simulated games the way `count_observed` counts real ones."""
    snaps = simulated.snaps
    game, drive = simulated.game[snaps], simulated.drive[snaps]
    kind, ended = simulated.kind[snaps], simulated.ended[snaps]
    flags = (
        np.ones(game.shape[0]),
        _first_of(game, drive),
        ended == ENDED.index("touchdown"),
        ended == ENDED.index("field_goal"),
        kind == PLAYED.index("punt"),
        simulated.turnover[snaps],
    )
    return DriveCounts(_by_game(game, flags), touchdown_points)


def _first_of(game: np.ndarray, drive: np.ndarray) -> FloatArray:
    """Mark one row of every drive, shape (n,)."""
    mark = np.zeros(game.shape[0])
    mark[np.unique(game.astype(np.int64) * 1000 + drive, return_index=True)[1]] = 1.0
    return mark


def _by_game(game: np.ndarray, flags: tuple[np.ndarray, ...]) -> FloatArray:
    """Return sums by game, shape (games, flags)."""
    return np.stack([np.bincount(game, weights=flag) for flag in flags], axis=1)


def expected_points(
    snap: SnapOutcomes, *, touchdown_points: float, half_ends: bool = True
) -> FloatArray:
    """Return the expected next score of the half from every state, shape (S,).

    Points of the offense's side count plus, of the other side minus; a half that ends first
    counts nothing. What the kickoff after a score is worth is not part of it.

    - ``snap``: what every state leads to.
    - ``touchdown_points``: of a touchdown with its try.
    - ``half_ends``: whether halves end as often as they do on average; if not, somebody always
      scores next, as it is long before the end of a half.

    An absorbing chain: ``v = 7 t + 3 f - 2 s - 7 r + (1 - e) (K - L) v`` with the probabilities
    of a touchdown, a field goal, a safety and a return touchdown on the snap, of the half's end,
    and of the next snap being one's own (K) or the other side's (L). V. Carter and R. E. Machol,
    "Operations Research on Football", Operations Research 19, 1971, 541-544, solve the same
    recursion on first downs.
    """
    require_positive(touchdown_points=touchdown_points)
    on = 1.0 - snap.p_end if half_ends else np.ones_like(snap.p_end)
    gained = touchdown_points * (snap.p_touchdown - snap.p_return_touchdown)
    gained = gained + FIELD_GOAL_POINTS * snap.p_field_goal - SAFETY_POINTS * snap.p_safety
    chain = np.eye(gained.shape[0]) - on[:, None] * (snap.kept - snap.lost)
    return np.asarray(np.linalg.solve(chain, gained))


@dataclass(frozen=True, slots=True)
class DriveEnds:
    """How the drive ends from every state by the chain of snaps, shape (S,) each."""

    p_touchdown: FloatArray
    p_field_goal: FloatArray
    p_punt_or_other: FloatArray
    p_end_of_half: FloatArray


def chain_drive_ends(snap: SnapOutcomes) -> DriveEnds:
    """Return how drives end when snaps follow each other as in the transitions."""
    on = (1.0 - snap.p_end)[:, None]
    # A score counts even when the half ends with it; so does a punt or a turnover.
    leave = np.stack(
        [
            snap.p_touchdown,
            snap.p_field_goal,
            snap.lost.sum(axis=1) + snap.p_safety + snap.p_return_touchdown,
            snap.p_end * snap.kept.sum(axis=1),
        ],
        axis=1,
    )
    ends = np.linalg.solve(np.eye(leave.shape[0]) - on * snap.kept, leave)
    return DriveEnds(*(np.ascontiguousarray(column) for column in ends.T))
