"""Where possessions start after kicks and turnovers, and how often field goals are made."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from lensyard.model.axes import AXES, FloatArray
from lensyard.model.plays import recency_weight
from lensyard.model.splines import axis_basis, fit_binomial, product_basis
from lensyard.model.transition import TOUCHBACK_YARDLINE_100

if TYPE_CHECKING:
    import pandas as pd

START_HALF_LIFE: Final = 2.0
"""Where punts lead changes with the rules of the kicking game."""
KICKOFF_SEASONS: Final = 2
"""Kickoffs are counted from so many of the latest seasons, as in `lensyard.model.kicks`: an older
season's touchbacks may lie on another yard line."""


def rare_events(chosen: pd.DataFrame, snaps: pd.DataFrame) -> dict[str, int]:
    """Return how many plays taught the tables about rare plays."""
    known = snaps[snaps["next_down"].notna()]
    lost = (known["kind"] != "interception") & known["turnover"]
    kickoffs = _next_snap(chosen[chosen["kind"] == "kickoff"], snaps)
    counts = {
        "next_punt": int((known["kind"] == "punt").sum()),
        "next_interception": int((known["kind"] == "interception").sum()),
        "next_fumble": int(lost.sum()),
        "next_kickoff": int(((kickoffs["yardline_100"] > 60) & _usual_line(kickoffs)).sum()),
        "next_free_kick": int((~_usual_line(kickoffs)).sum()),
        "next_field_goal_made": int((snaps["kind"] == "field_goal").sum()),
    }
    for name in ("punt_kept", "punt_touchdown"):
        counts[f"next_{name}"] = counts["next_punt"]
    for name in ("interception", "fumble", "kickoff"):
        counts[f"next_{name}_touchdown"] = counts[f"next_{name}"]
    counts["next_kickoff_kept"] = counts["next_kickoff"]
    return counts


def field_goals_made(snaps: pd.DataFrame) -> FloatArray:
    """Return P(made) by yard line, shape (99,)."""
    kicks = snaps[snaps["kind"] == "field_goal"]
    if kicks.empty:
        return np.zeros(99)
    weight = recency_weight(kicks, 4.0)
    made = (kicks["kick_result"] == "made").to_numpy(dtype=np.float64)
    yard = kicks["yardline_100"].to_numpy() - 1
    basis = product_basis([axis_basis(AXES["yardline"].values, [1, 10, 20, 28, 36, 42, 48, 60])])
    beta = fit_binomial(
        basis,
        events=np.bincount(yard, weights=weight * made, minlength=99).astype(np.float64),
        trials=np.bincount(yard, weights=weight, minlength=99).astype(np.float64),
        penalty=np.full(basis.shape[1], 0.2),
    )
    return np.asarray(1.0 / (1.0 + np.exp(-(basis @ beta))))


def turnover_starts(snaps: pd.DataFrame) -> dict[str, FloatArray]:
    """Return where the other club starts after a punt, an interception and a lost fumble."""
    known = snaps[snaps["next_down"].notna()]
    punts = known[known["kind"] == "punt"]
    picks = known[known["kind"] == "interception"]
    lost = known[(known["kind"] != "interception") & known["turnover"]]
    weight = recency_weight(punts, START_HALF_LIFE) if len(punts) else np.zeros(0)
    plain = ~punts["return_touchdown"].to_numpy()
    kept = punts["kept"].to_numpy() & plain
    return {
        "next_punt": _start_table(punts[~punts["kept"] & plain], shift=False, width_yd=1.5),
        "next_punt_kept": _share(kept, weight),
        "next_punt_touchdown": _share(~plain, weight),
        "next_interception": _returns(picks),
        "next_interception_touchdown": _share(picks["return_touchdown"].to_numpy()),
        "next_fumble": _returns(lost),
        "next_fumble_touchdown": _share(lost["return_touchdown"].to_numpy()),
    }


def _share(happened: NDArray[np.bool_], weight: FloatArray | None = None) -> FloatArray:
    """Return the weighted share of plays on which something happened; 0 where there are none."""
    count = np.ones(happened.shape[0]) if weight is None else weight
    return np.asarray((happened * count).sum() / max(count.sum(), 1e-9))


def _returns(plays: pd.DataFrame) -> FloatArray:
    """Return the start table of turnovers that were not returned for a touchdown."""
    plain = plays[~plays["kept"] & ~plays["return_touchdown"]]
    return _start_table(plain, shift=True, width_yd=6.0)


def _start_table(plays: pd.DataFrame, *, shift: bool, width_yd: float) -> FloatArray:
    """Return P(start | yard line of the snap), shape (99, 99), smoothed along the first axis.

    With ``shift`` a play from a neighboring yard line counts with its start moved along. Without
    any play the ball goes over where it was snapped.
    """
    if plays.empty:
        return np.eye(99)[::-1]
    yard = plays["yardline_100"].to_numpy(dtype=np.int64)
    start = plays["next_yardline_100"].to_numpy(dtype=np.int64)
    weight = recency_weight(plays, START_HALF_LIFE if not shift else 20.0)
    there = np.arange(1, 100)
    near = np.exp(-0.5 * ((there[:, None] - yard[None, :]) / width_yd) ** 2)
    near += 1e-6 * np.exp(-np.abs(there[:, None] - yard[None, :]) / 10.0)
    table = np.empty((99, 99))
    for row in range(99):
        moved = start - (there[row] - yard) * shift
        landed = np.clip(moved, 1, 99)
        landed = np.where(start == 80, 80, landed)  # touchbacks stay where they are
        table[row] = np.bincount(landed - 1, weights=weight * near[row], minlength=99)
    table = _blur(table, 1.0) + 1e-4 * table.sum(axis=1, keepdims=True) / 99
    return np.asarray(table / table.sum(axis=1, keepdims=True))


def _blur(table: FloatArray, width_yd: float) -> FloatArray:
    """Return rows smoothed by a narrow bell, the spike at the touchback left as it is."""
    yard = np.arange(99)
    bell = np.exp(-0.5 * ((yard[:, None] - yard[None, :]) / width_yd) ** 2)
    bell /= bell.sum(axis=1, keepdims=True)
    spikes = np.zeros_like(table)
    spikes[..., [74, 79]] = table[..., [74, 79]]
    return np.asarray((table - spikes) @ bell + spikes)


def kickoff_starts(chosen: pd.DataFrame, snaps: pd.DataFrame) -> dict[str, FloatArray]:
    """Return where possessions start after a kickoff, and after the free kick of a safety."""
    recent = chosen["season"] > chosen["season"].max() - KICKOFF_SEASONS
    kicks = chosen[(chosen["kind"] == "kickoff") & recent]
    merged = _next_snap(kicks, snaps)
    if merged.empty:
        touchback = np.eye(99)[TOUCHBACK_YARDLINE_100 - 1]
        none = np.zeros(())
        return {
            "next_kickoff": touchback,
            "next_kickoff_kept": none,
            "next_kickoff_touchdown": none,
            "next_free_kick": touchback,
        }
    weight = recency_weight(merged, START_HALF_LIFE)
    touchdown = merged["return_touchdown"].to_numpy()
    kept = (merged["next_offense"] == merged["offense"]).to_numpy() & ~touchdown
    received = ~kept & ~touchdown
    ordinary = received & (merged["yardline_100"] > 60).to_numpy()
    start = merged["next_yardline_100"].to_numpy(dtype=np.int64) - 1
    free = ordinary & ~_usual_line(merged).to_numpy()
    after = np.bincount(start[free], minlength=99) + 0.0
    usual = ordinary & ~free
    table = np.bincount(start[usual], weights=weight[usual], minlength=99)
    return {
        "next_kickoff": normalized(_blur(table.astype(np.float64), 1.0) + 1e-9),
        "next_kickoff_kept": _share(kept, weight),
        "next_kickoff_touchdown": _share(touchdown, weight),
        "next_free_kick": normalized(_blur(after.astype(np.float64), 3.0) + 1e-3),
    }


def _usual_line(kicks: pd.DataFrame) -> pd.Series[bool]:
    """Return which kickoffs were no free kicks after a safety (from the 20 or behind it)."""
    return kicks["yardline_100"] < 80


def _next_snap(kicks: pd.DataFrame, snaps: pd.DataFrame) -> pd.DataFrame:
    """Return kicks with the next snap of the same half, where there is one."""
    import pandas as pd

    keys = ["game_id", "half"]
    snap = snaps[[*keys, "play_index", "offense", "yardline_100"]].rename(
        columns={"offense": "next_offense", "yardline_100": "next_yardline_100"}
    )
    merged = pd.merge_asof(
        kicks.sort_values("play_index", kind="stable"),
        snap.sort_values("play_index", kind="stable"),
        on="play_index",
        by=keys,
        direction="forward",
    )
    return merged[merged["next_yardline_100"].notna()]


def normalized(mass: FloatArray) -> FloatArray:
    """Return mass scaled to sum to 1."""
    return np.asarray(mass / mass.sum())
