"""Drives counted in games, what possession is worth in points, and the clock between snaps.

A drive is a possession of the first or second half with at least one snap (run, pass, sack,
scramble, punt, field goal); overtime, and possessions of nothing but kneels, are left out.

What only the clock decides (the time to the next snap, and field goals on early downs) is read off
real games, with the points of a touchdown, for games that are simulated from the model
(`lensyard.model.simulation`). The time to the next snap of the half depends on what the snap led
to, on the time left, on who leads and on the field position (near the goal clubs save the clock
that they let run elsewhere); that there is no further snap, because the half runs out or the
leading club kneels, is one of the values.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from lensyard.arrays import BoolArray, FloatArray, IntArray
from lensyard.errors import require_positive
from lensyard.model.outcome_grid import bins_of
from lensyard.model.plays import SNAP_KINDS, pair_snaps
from lensyard.model.transition import SnapOutcomes
from lensyard.records import Record
from lensyard.units import SECONDS_PER_QUARTER

if TYPE_CHECKING:
    import pandas as pd

COLUMNS: Final = ("snaps", "drives", "touchdowns", "field_goals", "punts", "turnovers")
"""What is counted by game."""
FIELD_GOAL_POINTS: Final = 3.0
SAFETY_POINTS: Final = 2.0


class Measure(Record):
    """A ratio of sums over games with its standard error, games being independent."""

    value: float
    error: float


class DriveCounts(Record):
    """Counts by game, (games, 6) in the order of `COLUMNS`, and the points of a touchdown."""

    by_game: FloatArray
    touchdown_points: float

    @staticmethod
    def of(
        game: IntArray, drive: IntArray, *, touchdown_points: float, **flags: np.ndarray
    ) -> DriveCounts:
        """Return the counts of n snaps of whole games, shape (n,) each.

        The flags are the last four of `COLUMNS`, true on the snap that ended the drive so.
        """
        first = np.zeros(game.shape[0])
        first[np.unique(game.astype(np.int64) * 1000 + drive, return_index=True)[1]] = 1.0
        columns = (np.ones(game.shape[0]), first, *(flags[name] for name in COLUMNS[2:]))
        by_game = [np.bincount(game, weights=column) for column in columns]
        return DriveCounts(np.stack(by_game, axis=1).astype(np.float64), touchdown_points)

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
    kind = chosen["kind"].to_numpy(dtype=object)
    return DriveCounts.of(
        game,
        chosen["drive_index"].to_numpy(dtype=np.int64),
        touchdown_points=touchdown_points,
        touchdowns=chosen["touchdown"].to_numpy(dtype=np.float64),
        field_goals=(kind == "field_goal") & (chosen["kick_result"] == "made").to_numpy(),
        punts=kind == "punt",
        turnovers=chosen["turnover"].to_numpy(dtype=np.float64),
    )


def expected_points(
    snap: SnapOutcomes, *, touchdown_points: float, half_ends: bool = True
) -> FloatArray:
    """Return the expected next score of the half from every state, shape (S,).

    Points of the offense's side count plus, of the other side minus; a half that ends first
    counts nothing. What the kickoff after a score is worth is not part of it.

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


class DriveEnds(Record):
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


CLOCK_SEASONS: Final = 4
"""The clock is read off so many of the latest seasons."""

HALF_S: Final = 2 * SECONDS_PER_QUARTER

FOLLOWED_BY: Final = ("incompletion", "same offense", "other offense", "score")
"""What a snap led to, as far as the clock cares."""

_EDGES_S: Final = np.array([0, 6, 12, 18, 24, 30, 40, 50, 60, 75, 90, 120, 150, 180, 240, 300, 600])
_PLACE_EDGES_YD: Final = np.array([1, 11, 38, 55])
_LEADS: Final = 3
_CELLS: Final = 2 * _LEADS * len(FOLLOWED_BY) * _EDGES_S.shape[0] * _PLACE_EDGES_YD.shape[0]
_KICK_EDGES_S: Final = np.array([0, 4, 8, 15, 25, 45, 75])
_KICK_EDGES_YD: Final = np.array([1, 21, 31, 39, 46])
_KICK_CELLS: Final = 3 * _KICK_EDGES_S.shape[0] * _KICK_EDGES_YD.shape[0]


class SnapClock(Record):
    """Seconds between snaps by half, lead, what the snap led to, and time left.

    - ``elapsed_s``: all observed times, cell after cell; infinity where the half had no further
      snap. [s]
    - ``start``: where each cell begins in ``elapsed_s``, and the end of the last, shape (cells +
      1,).
    - ``opening_s``: time left in the half at its first snap, observed. [s]
    - ``early_kick``: P(field goal | before fourth down) by the cells of `p_early_kick`, shape
      (cells,).
    - ``touchdown_points``: points of a touchdown with its try, on average.
    """

    elapsed_s: FloatArray
    start: IntArray
    opening_s: FloatArray
    early_kick: FloatArray
    touchdown_points: float

    def p_early_kick(
        self, *, half: IntArray, lead: IntArray, yardline_100: IntArray, left_s: FloatArray
    ) -> FloatArray:
        """Return P(field goal) on first to third down, which only a clock near 0 brings; (n,)."""
        return self.early_kick[_kick_cell(half, lead, yardline_100, left_s)]

    def draw_s(
        self,
        rng: np.random.Generator,
        *,
        half: IntArray,
        lead: IntArray,
        led_to: IntArray,
        left_s: FloatArray,
        spot: IntArray,
    ) -> FloatArray:
        """Return drawn times to the next snap, infinity for none, shape (n,). [s]

        All arrays have shape (n,): half 1 or 2, the offense's lead before the snap, the index into
        `FOLLOWED_BY`, the time left in the half at the snap [s], and `yardline_100` where the play
        ended, for the offense that snapped.
        """
        cell = _cell(half, lead, led_to, left_s, spot)
        count = self.start[cell + 1] - self.start[cell]
        at = self.start[cell] + (rng.random(cell.shape[0]) * count).astype(np.int64)
        return self.elapsed_s[at]


def _cell(
    half: IntArray,
    lead: IntArray,
    led_to: IntArray,
    left_s: FloatArray,
    spot: IntArray,
) -> IntArray:
    """Return the cell of each snap, shape (n,)."""
    time, place = bins_of(left_s, _EDGES_S), bins_of(np.clip(spot, 1, 99), _PLACE_EDGES_YD)
    who = (half - 1) * _LEADS + np.sign(lead) + 1
    when = (who * len(FOLLOWED_BY) + led_to) * _EDGES_S.shape[0] + time
    return np.asarray(when * _PLACE_EDGES_YD.shape[0] + place)


def _kick_cell(
    half: IntArray, lead: IntArray, yardline_100: IntArray, left_s: FloatArray
) -> IntArray:
    """Return the cell of `SnapClock.early_kick` of each snap, shape (n,)."""
    time, place = bins_of(left_s, _KICK_EDGES_S), bins_of(yardline_100, _KICK_EDGES_YD)
    # A field goal ends the first half, or ties or wins the game.
    mood = np.where(half == 1, 0, np.where((lead >= -3) & (lead <= 0), 1, 2))
    return np.asarray((mood * _KICK_EDGES_S.shape[0] + time) * _KICK_EDGES_YD.shape[0] + place)


def fit_snap_clock(plays: pd.DataFrame) -> SnapClock:
    """Read the clock off canonical plays of whole games; overtime is left out."""
    recent = plays[
        (plays["season"] > plays["season"].max() - CLOCK_SEASONS) & plays["half"].isin((1, 2))
    ]
    snaps = pair_snaps(recent)
    quarter = snaps["quarter"].to_numpy(dtype=np.int64)
    left = snaps["clock_s"].to_numpy(dtype=np.float64)
    left = left + SECONDS_PER_QUARTER * np.isin(quarter, (1, 3))
    more = snaps["next_down"].notna().to_numpy()
    following = np.append(left[1:], 0.0)
    elapsed = np.where(more, np.maximum(left - following, 0.0), np.inf)
    half = snaps["half"].to_numpy(dtype=np.int64)
    lead = snaps["score_diff"].to_numpy(dtype=np.int64)
    spot = (snaps["yardline_100"] - snaps["gain_yd"]).to_numpy(dtype=np.int64)
    cell = _cell(half, lead, _led_to(snaps, more), left, spot)
    order = np.argsort(cell, kind="stable")
    counts = np.bincount(cell, minlength=_CELLS)
    elapsed, start = _without_empty(elapsed[order], counts)
    first = np.append(True, (half[1:] != half[:-1]) | ~more[:-1])
    return SnapClock(
        elapsed_s=elapsed,
        start=start,
        opening_s=left[first],
        early_kick=_early_kicks(snaps, half, lead, left),
        touchdown_points=_touchdown_points(recent),
    )


def _early_kicks(
    snaps: pd.DataFrame, half: IntArray, lead: IntArray, left_s: FloatArray
) -> FloatArray:
    """Return `SnapClock.early_kick`."""
    early = (snaps["down"] < 4).to_numpy()
    cell = _kick_cell(half, lead, snaps["yardline_100"].to_numpy(dtype=np.int64), left_s)[early]
    kicked = (snaps["kind"] == "field_goal").to_numpy()[early]
    tried = np.bincount(cell, minlength=_KICK_CELLS)
    made = np.bincount(cell, weights=kicked, minlength=_KICK_CELLS)
    return np.asarray(made / np.maximum(tried, 1))


def _led_to(snaps: pd.DataFrame, more: BoolArray) -> IntArray:
    """Return the index into `FOLLOWED_BY` of each snap, shape (n,)."""
    scored = snaps["touchdown"] | snaps["return_touchdown"] | (snaps["kick_result"] == "made")
    same = np.where(snaps["kind"] == "incomplete", 0, 1)
    # A last snap counts for the offense that ran out the clock unless it gave the ball away.
    gave = snaps["turnover"] | snaps["kind"].isin(("punt", "field_goal"))
    kept = np.where(more, snaps["kept"].to_numpy(), ~gave.to_numpy())
    return np.asarray(np.where(scored.to_numpy(), 3, np.where(kept, same, 2)), dtype=np.int64)


def _without_empty(elapsed: FloatArray, counts: IntArray) -> tuple[FloatArray, IntArray]:
    """Give a cell that nothing fell into the end of the half, as at no time left."""
    parts = np.split(elapsed, np.cumsum(counts)[:-1])
    filled = [part if part.shape[0] else np.array([np.inf]) for part in parts]
    return np.concatenate(filled), np.cumsum([0, *(part.shape[0] for part in filled)])


def _touchdown_points(plays: pd.DataFrame) -> float:
    """Return the points of a touchdown with its try, on average."""
    made = plays["kick_result"] == "made"
    kicked = int((made & (plays["kind"] == "extra_point")).sum())
    two = int((made & (plays["kind"] == "two_point")).sum())
    tries = int(plays["kind"].isin(("extra_point", "two_point")).sum())
    return 6.0 + (kicked + 2.0 * two) / max(tries, 1)
