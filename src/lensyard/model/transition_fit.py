"""Fitting what the transitions need from consecutive snaps (`lensyard.model.transition`)."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from lensyard.model.axes import AXES, FloatArray, IntArray, axis_codes
from lensyard.model.outcome import KINDS
from lensyard.model.plays import batch_of, gains_of, kind_index, recency_weight, seasons_back
from lensyard.model.splines import (
    ClassTarget,
    Term,
    axis_basis,
    fit_binomial,
    fit_class_tables,
    product_basis,
)
from lensyard.model.state_grid import FIRST_DOWN_BANDS, LATER_DOWN_BANDS
from lensyard.model.transition import PENALTY_MOVES

if TYPE_CHECKING:
    import pandas as pd

SNAP_KINDS: Final = (*KINDS, "punt", "field_goal")
KIND_HALF_LIFE: Final = 4.0
CHOICE_HALF_LIFE: Final = 2.0
START_HALF_LIFE: Final = 2.0
"""Where kicks lead changes with the rules of the kicking game."""
MAX_BAND_DISTANCE: Final = 30

_YARDLINES = [1, 2, 3, 5, 8, 12, 16, 20, 25, 30, 35, 40, 50, 60, 70, 80, 85, 90, 93, 96, 98, 99]
_KIND_TERMS: Final = (
    Term({"down": None, "distance": [1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 13, 15, 17, 20, 25]}, 4.0),
    Term({"down": None, "yardline": _YARDLINES}, 4.0),
    Term({"down": None, "goal": None, "distance": [1, 2, 3, 4, 6, 8, 10]}, 4.0),
)
_CHOICE_TERMS: Final = (
    Term({"down": None}, 0.5),
    Term({"down": None, "yardline": [1, 3, 6, 10, 20, 28, 32, 36, 40, 45, 50, 60, 75, 99]}, 1.0),
    Term({"down": None, "distance": [1, 2, 3, 4, 5, 7, 10, 15, 20]}, 1.0),
    Term(
        {
            "down": None,
            "distance": [1, 3, 8, 15],
            "yardline": [1, 4, 10, 20, 30, 36, 42, 50, 60, 75],
        },
        1.0,
    ),
)


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


def fit_transition_tables(chosen: pd.DataFrame, *, ahead: float) -> dict[str, FloatArray]:
    """Return the ``next_*`` tables of a model.

    Parameters
    ----------
    chosen
        Canonical plays of whole games, kicks included, in their order.
    ahead
        Where on the drift covariate the answer is wanted.
    """
    snaps = pair_snaps(chosen)
    return {
        **_class_tables(snaps, ahead),
        "next_end": _end_of_half(snaps),
        "next_distance": _distance_shares(snaps),
        "next_context": _context_shares(snaps),
        "next_penalty": _penalty_kernel(snaps),
        "next_field_goal_made": _field_goals(snaps),
        **_starts(snaps),
        **_kickoffs(chosen, snaps),
    }


def _class_tables(snaps: pd.DataFrame, ahead: float) -> dict[str, FloatArray]:
    """Kinds and choices by down, distance and yard line alone."""
    tables: dict[str, FloatArray] = {}
    live = snaps[snaps["kind"].isin(KINDS)]
    choice = snaps["kind"].map({**dict.fromkeys(KINDS, 0), "punt": 1, "field_goal": 2})
    jobs = (
        ("next_kind", live, kind_index(live), len(KINDS), _KIND_TERMS, KIND_HALF_LIFE),
        ("next_choice", snaps, choice.to_numpy(dtype=np.int64), 3, _CHOICE_TERMS, CHOICE_HALF_LIFE),
    )
    for part, plays, label, classes, terms, half_life in jobs:
        share = np.zeros((len(plays), classes), dtype=np.float32)
        share[np.arange(len(plays)), label] = 1.0
        target = ClassTarget(
            codes=axis_codes(batch_of(plays)),
            share=share,
            weight=recency_weight(plays, half_life),
            trend=seasons_back(plays),
        )
        fitted = fit_class_tables(target, terms, ahead=ahead, iterations=60)
        tables |= {f"{part}:{name}": table for name, table in fitted.items()}
    return tables


def _end_of_half(snaps: pd.DataFrame) -> FloatArray:
    """Return P(no further snap in the half), shape (4, 99)."""
    basis = axis_basis(AXES["yardline"].values, [1, 5, 15, 30, 40, 50, 65, 80, 90, 99])
    design = product_basis([np.eye(4), basis])
    cell = (snaps["down"].to_numpy() - 1) * 99 + snaps["yardline_100"].to_numpy() - 1
    last = snaps["next_down"].isna().to_numpy(dtype=np.float64)
    beta = fit_binomial(
        design,
        events=np.bincount(cell, weights=last, minlength=396).astype(np.float64),
        trials=np.bincount(cell, minlength=396).astype(np.float64),
        penalty=np.full(design.shape[1], 0.05),
    )
    return np.asarray(1.0 / (1.0 + np.exp(-(design @ beta)))).reshape(4, 99)


def _distance_shares(snaps: pd.DataFrame) -> FloatArray:
    """Return how often each distance happens on each down, shape (4, 30); longer ones are 30."""
    distance = np.clip(snaps["distance_yd"].to_numpy(), 1, MAX_BAND_DISTANCE) - 1
    down = snaps["down"].to_numpy() - 1
    share = np.bincount(down * 30 + distance, minlength=120).reshape(4, 30).astype(np.float64)
    for row, bands in enumerate((FIRST_DOWN_BANDS, *(LATER_DOWN_BANDS,) * 3)):
        for low, high in bands:
            part = share[row, low - 1 : min(high, 30)]
            part[part < 0.1 * part.max()] = 0.0
    share[0, :9] = 0.0
    share[0, 4] = 1.0
    return np.asarray(share / share.sum(axis=1, keepdims=True))


def _context_shares(snaps: pd.DataFrame) -> FloatArray:
    """Return how often each context happens, shape (contexts,)."""
    context = axis_codes(batch_of(snaps))["context"]
    count = np.bincount(context, minlength=AXES["context"].size)
    return np.asarray(count / count.sum())


@dataclass(frozen=True, slots=True)
class _Base:
    """What the next situation would be without a penalty."""

    down: IntArray
    to_go: IntArray
    spot: IntArray


def _penalty_kernel(snaps: pd.DataFrame) -> FloatArray:
    """Return P(penalty move | down that would have come next), shape (4, moves)."""
    live = snaps[snaps["kind"].isin(KINDS) & snaps["kept"] & ~snaps["turnover"]]
    gain = gains_of(live)
    spot = live["yardline_100"].to_numpy() - gain
    distance = live["distance_yd"].to_numpy()
    made = gain >= distance
    down = np.where(made, 1, live["down"].to_numpy() + 1)
    goes = (spot > 0) & (spot < 100) & (down <= 4) & ~live["touchdown"].to_numpy()
    to_go = np.where(made, np.minimum(10, spot), distance - gain)
    base = _Base(down[goes], to_go[goes], spot[goes])
    after = live[goes]
    move = base.spot - after["next_yardline_100"].to_numpy(dtype=np.int64)
    next_down = after["next_down"].to_numpy(dtype=np.int64)
    next_distance = after["next_distance_yd"].to_numpy(dtype=np.int64)
    return _count_moves(base, move, next_down, next_distance)


def _count_moves(
    base: _Base, move: IntArray, next_down: IntArray, next_distance: IntArray
) -> FloatArray:
    """Return shares of the penalty moves nearest to what happened, shape (4, moves)."""
    yards = np.array([yards for yards, _ in PENALTY_MOVES])
    first = np.array([flag for _, flag in PENALTY_MOVES])
    renewed = (next_down == 1) & (
        (base.down > 1) | (next_distance == np.minimum(10, base.spot - move))
    )
    nothing = (move == 0) & (next_down == base.down) & (next_distance == base.to_go)
    by_distance = renewed & (move >= base.to_go) & (move == 5)
    flagged = renewed & ~by_distance
    gap = np.abs(move[:, None] - yards[None, :]) + 1000.0 * (flagged[:, None] != first[None, :])
    index = np.where(nothing, 0, np.argmin(gap + (yards == 0) * ~first * 500.0, axis=1))
    count = np.bincount(
        (base.down - 1) * len(PENALTY_MOVES) + index, minlength=4 * len(PENALTY_MOVES)
    ).reshape(4, -1)
    smoothed = count + 0.5
    return np.asarray(smoothed / smoothed.sum(axis=1, keepdims=True))


def _field_goals(snaps: pd.DataFrame) -> FloatArray:
    """Return P(made) by yard line, shape (99,)."""
    kicks = snaps[snaps["kind"] == "field_goal"]
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


def _starts(snaps: pd.DataFrame) -> dict[str, FloatArray]:
    """Return where the other club starts after a punt, an interception and a lost fumble."""
    known = snaps[snaps["next_down"].notna()]
    punts = known[known["kind"] == "punt"]
    picks = known[known["kind"] == "interception"]
    lost = known[(known["kind"] != "interception") & known["turnover"]]
    weight = recency_weight(punts, START_HALF_LIFE)
    plain = ~punts["return_touchdown"].to_numpy()
    kept = punts["kept"].to_numpy() & plain
    return {
        "next_punt": _start_table(punts[~punts["kept"] & plain], shift=False, width_yd=1.5),
        "next_punt_kept": np.asarray(np.average(kept, weights=weight)),
        "next_punt_touchdown": np.asarray(np.average(~plain, weights=weight)),
        "next_interception": _returns(picks),
        "next_interception_touchdown": np.asarray(picks["return_touchdown"].mean()),
        "next_fumble": _returns(lost),
        "next_fumble_touchdown": np.asarray(lost["return_touchdown"].mean()),
    }


def _returns(plays: pd.DataFrame) -> FloatArray:
    """Return the start table of turnovers that were not returned for a touchdown."""
    plain = plays[~plays["kept"] & ~plays["return_touchdown"]]
    return _start_table(plain, shift=True, width_yd=6.0)


def _start_table(plays: pd.DataFrame, *, shift: bool, width_yd: float) -> FloatArray:
    """Return P(start | yard line of the snap), shape (99, 99), smoothed along the first axis.

    With ``shift`` a play from a neighboring yard line counts with its start moved along.
    """
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


def _kickoffs(chosen: pd.DataFrame, snaps: pd.DataFrame) -> dict[str, FloatArray]:
    """Return where possessions start after a kickoff, and after the free kick of a safety."""
    kicks = chosen[chosen["kind"] == "kickoff"]
    merged = _next_snap(kicks, snaps)
    weight = recency_weight(merged, START_HALF_LIFE)
    touchdown = merged["return_touchdown"].to_numpy()
    kept = (merged["next_offense"] == merged["offense"]).to_numpy() & ~touchdown
    received = ~kept & ~touchdown
    ordinary = received & (merged["yardline_100"] > 60).to_numpy()
    start = merged["next_yardline_100"].to_numpy(dtype=np.int64) - 1
    table = np.bincount(start[ordinary], weights=weight[ordinary], minlength=99)
    free = ordinary & (merged["yardline_100"] >= 80).to_numpy()
    after = np.bincount(start[free], minlength=99) + 0.0
    usual = ordinary & ~free
    table = np.bincount(start[usual], weights=weight[usual], minlength=99)
    return {
        "next_kickoff": _normal(_blur(table.astype(np.float64), 1.0)),
        "next_kickoff_kept": np.asarray(np.average(kept, weights=weight)),
        "next_kickoff_touchdown": np.asarray(np.average(touchdown, weights=weight)),
        "next_free_kick": _normal(_blur(after.astype(np.float64), 3.0) + 1e-3),
    }


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


def _normal(mass: FloatArray) -> FloatArray:
    """Return mass scaled to sum to 1."""
    return np.asarray(mass / mass.sum())
