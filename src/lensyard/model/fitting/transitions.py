"""Fitting what the transitions need from consecutive snaps (`lensyard.model.transition`).

With a prior model the kinds and the fourth-down choices start from its tables, as in
`lensyard.model.fitting.fit`; every other table becomes a mixture of the new one and the prior's, in
proportion to their plays (`lensyard.model.fitting.prior.blend`).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from lensyard.arrays import BoolArray, FloatArray, IntArray
from lensyard.model.fitting.design import NEXT_CHOICE_TERMS, NEXT_KIND_TERMS
from lensyard.model.fitting.prior import (
    CHOICES,
    FINE_PLAYS,
    FLOW,
    FUMBLES,
    KICKS,
    blend,
    fumbles_lost,
    kinds_of,
    prior_tables,
)
from lensyard.model.fitting.splines import (
    Tables,
    axis_basis,
    fit_classes,
    product_basis,
    smooth_shares,
)
from lensyard.model.outcome_grid import (
    AXES,
    FIRST_DOWN_BANDS,
    FOURTH_DOWN_CHOICES,
    KINDS,
    LATER_DOWN_BANDS,
    YARDLINES,
    axis_codes,
    state_index,
)
from lensyard.model.plays import (
    batch_of,
    choice_index,
    gains_of,
    pair_snaps,
    recency_weight,
)
from lensyard.model.tables import ClassTables, terms_of
from lensyard.model.transition import (
    PENALTY_MOVES,
    PENALTY_ZONE_EDGES_YD,
    TOUCHBACK_YARDLINE_100,
    clipped_move,
    penalty_zone,
)

if TYPE_CHECKING:
    import pandas as pd

    from lensyard.model.outcome import OutcomeModel


TREND_CARRY: Final = 0.5
"""How much of the fitted drift is carried on beyond the last season."""
KIND_HALF_LIFE: Final = 2.0
PENALTY_HALF_LIFE: Final = 2.0
FUMBLE_HALF_LIFE: Final = 3.0
"""Seasons: more flags, fewer turnovers and more catches every year make drives longer."""
CHOICE_HALF_LIFE: Final = 2.0
START_HALF_LIFE: Final = 2.0
"""Where punts lead changes with the rules of the kicking game."""
ZONE_PLAYS: Final = 100.0
KICKOFF_SEASONS: Final = 2
"""Kickoffs are counted from so many of the latest seasons: an older season's touchbacks may lie on
another yard line."""


def fit_transition_tables(
    chosen: pd.DataFrame,
    *,
    ahead: float,
    prior: OutcomeModel | None = None,
    prior_plays: float = 0.0,
    untold: Sequence[str] = (),
) -> Tables:
    """Return the ``next_*`` tables of a model.

    - ``chosen``: canonical plays of whole games, kicks included, in their order.
    - ``ahead``: where on the drift covariate the answer is wanted.
    - ``prior``, ``prior_plays``: a model that few plays are held to, and how many plays it counts
      for.
    - ``untold``: what the plays cannot tell (`lensyard.model.fitting.prior`).
    """
    snaps = pair_snaps(chosen)
    if prior is not None and FLOW in untold:
        kept = {n: t.astype(np.float64) for n, t in prior.arrays.items() if n.startswith("next_")}
        few = len(snaps) < FINE_PLAYS
        return kept | ({} if few else _class_tables(snaps, ahead, prior, prior_plays, untold))
    live = snaps[snaps["kind"].isin(KINDS)]
    tables = {
        "next_end": _end_of_half(snaps),
        "next_distance": _distance_shares(snaps),
        "next_context": _context_shares(snaps),
        "next_penalty": _penalty_kernel(snaps),
        "next_opening": _opening_shares(snaps),
        "next_fumble_lost": fumbles_lost(live, recency_weight(live, FUMBLE_HALF_LIFE)),
        "next_field_goal_made": _field_goals_made(snaps),
        **_turnover_starts(snaps),
        **_kickoff_starts(chosen, snaps),
    }
    if prior is not None:
        uninformed = _uninformed(chosen, snaps)
        uninformed |= {"next_field_goal_made"} if KICKS["field_goal"] in untold else set()
        uninformed |= {"next_fumble_lost"} if FUMBLES in untold else set()
        tables = {
            name: blend(
                table,
                prior.arrays[name].astype(np.float64),
                plays=0 if name in uninformed else len(snaps),
                prior_plays=prior_plays,
            )
            for name, table in tables.items()
        }
    return {**_class_tables(snaps, ahead, prior, prior_plays, untold), **tables}


def _class_tables(
    snaps: pd.DataFrame,
    ahead: float,
    prior: OutcomeModel | None,
    prior_plays: float,
    untold: Sequence[str],
) -> Tables:
    """Kinds and choices by down, distance and yard line alone; the prior's where untold."""
    tables: Tables = {}
    live = snaps[snaps["kind"].isin(KINDS)]
    choice = choice_index(snaps)
    kinds = kinds_of(live, prior, "next_kind")
    jobs: tuple[tuple[Any, ...], ...] = (
        ("next_kind", live, kinds, len(KINDS), NEXT_KIND_TERMS, KIND_HALF_LIFE),
        (
            "next_choice",
            snaps,
            choice,
            len(FOURTH_DOWN_CHOICES),
            NEXT_CHOICE_TERMS,
            CHOICE_HALF_LIFE,
        ),
    )
    for part, plays, label, classes, terms, half_life in jobs:
        if prior is not None and (
            len(snaps) < FINE_PLAYS or (part == "next_choice" and CHOICES in untold)
        ):
            tables |= prior_tables(prior, part)
            continue
        tables |= fit_classes(
            part,
            plays,
            label,
            terms=terms,
            classes=classes,
            half_life=half_life,
            ahead=TREND_CARRY * ahead,
            prior=None if prior is None else ClassTables(terms_of(prior.arrays, part, classes)),
            prior_plays=prior_plays,
            iterations=60,
        )
    return tables


def _end_of_half(snaps: pd.DataFrame) -> FloatArray:
    """Return P(no further snap in the half), shape (4, 99)."""
    basis = axis_basis(AXES["yardline"], [1, 5, 15, 30, 40, 50, 65, 80, 90, 99])
    cell = (snaps["down"].to_numpy() - 1) * 99 + snaps["yardline_100"].to_numpy() - 1
    last = snaps["next_down"].isna().to_numpy(dtype=np.float64)
    design = product_basis([np.eye(4), basis])
    return smooth_shares(design, cell, last, penalty=0.05).reshape(4, 99)


def _distance_shares(snaps: pd.DataFrame) -> FloatArray:
    """Return how often each distance happens on each down, shape (4, 30); longer ones are 30."""
    distance = np.clip(snaps["distance_yd"].to_numpy(), 1, 30) - 1
    down = snaps["down"].to_numpy() - 1
    share = np.bincount(down * 30 + distance, minlength=120).reshape(4, 30).astype(np.float64)
    for row, bands in enumerate((FIRST_DOWN_BANDS, *(LATER_DOWN_BANDS,) * 3)):
        for low, high in bands:
            part = share[row, low - 1 : min(high, 30)]
            part[part < 0.1 * part.max()] = 0.0
    share[0, :9] = 0.0
    share[0, 4] = 1.0
    share[share.sum(axis=1) == 0.0, 9] = 1.0  # a down that never happened
    return np.asarray(share / share.sum(axis=1, keepdims=True))


def _opening_shares(snaps: pd.DataFrame) -> FloatArray:
    """Return how often a possession opens in each band of first down, shape (4,).

    A flag before the first snap makes it first and 15 or so; first and goal counts as and ten.
    """
    opening = snaps[~snaps.duplicated(["game_id", "drive_index"]) & (snaps["down"] == 1)]
    at = batch_of(opening)
    state = state_index(down=at.down, distance_yd=at.distance_yd, yardline_100=at.yardline_100)
    weight = recency_weight(opening, PENALTY_HALF_LIFE) if len(opening) else np.zeros(0)
    count = np.zeros(len(FIRST_DOWN_BANDS))
    np.add.at(count, state // YARDLINES, weight)
    count[0] += 1e-6
    return _normalized(count)


def _context_shares(snaps: pd.DataFrame) -> FloatArray:
    """Return how often each context happens, shape (contexts,)."""
    context = axis_codes(batch_of(snaps))["context"]
    count = np.bincount(context, minlength=AXES["context"].size)
    return np.asarray(count / count.sum())


def _penalty_kernel(snaps: pd.DataFrame) -> FloatArray:
    """Return P(penalty move | zone, down that would have come next), shape (3, 4, moves)."""
    live = snaps[snaps["kind"].isin(KINDS) & snaps["kept"] & ~snaps["turnover"]]
    gain = gains_of(live)
    spot = live["yardline_100"].to_numpy() - gain
    distance = live["distance_yd"].to_numpy()
    made = gain >= distance
    down = np.where(made, 1, live["down"].to_numpy() + 1)
    goes = (spot > 0) & (spot < 100) & (down <= 4) & ~live["touchdown"].to_numpy()
    to_go = np.where(made, np.minimum(10, spot), distance - gain)
    down, to_go, spot = down[goes], to_go[goes], spot[goes]
    after = live[goes]
    move = spot - after["next_yardline_100"].to_numpy(dtype=np.int64)
    next_down = after["next_down"].to_numpy(dtype=np.int64)
    next_distance = after["next_distance_yd"].to_numpy(dtype=np.int64)
    index = _nearest_move(
        move,
        down=down,
        to_go=to_go,
        spot=spot,
        next_down=next_down,
        next_distance=next_distance,
    )
    zones, moves = PENALTY_ZONE_EDGES_YD.shape[0], len(PENALTY_MOVES)
    row = (penalty_zone(spot) * 4 + down - 1) * moves + index
    count = np.bincount(
        row,
        weights=recency_weight(after, PENALTY_HALF_LIFE) if len(after) else None,
        minlength=zones * 4 * moves,
    ).reshape(zones, 4, moves)
    # A zone is shrunk toward all zones, as if it had seen ZONE_PLAYS plays of their mixture.
    usual = count.sum(axis=0) + 0.5
    usual = usual / usual.sum(axis=1, keepdims=True)
    smoothed = count + ZONE_PLAYS * usual
    return np.asarray(smoothed / smoothed.sum(axis=2, keepdims=True))


def _nearest_move(
    move: IntArray,
    *,
    down: IntArray,
    to_go: IntArray,
    spot: IntArray,
    next_down: IntArray,
    next_distance: IntArray,
) -> IntArray:
    """Return the index of the penalty move nearest to what happened, shape (n,).

    Down, distance and spot are what they would have been without a penalty.
    """
    yards = np.array([yards for yards, _ in PENALTY_MOVES])
    first = np.array([flag for _, flag in PENALTY_MOVES])
    renewed = (next_down == 1) & ((down > 1) | (next_distance == np.minimum(10, spot - move)))
    nothing = (move == 0) & (next_down == down) & (next_distance == to_go)
    by_distance = renewed & (move >= to_go) & (move == 5)
    flagged = renewed & ~by_distance
    possible = clipped_move(yards[None, :], spot[:, None])
    gap = np.abs(move[:, None] - possible) + 1000.0 * (flagged[:, None] != first[None, :])
    return np.where(nothing, 0, np.argmin(gap + (yards == 0) * ~first * 500.0, axis=1))


def _uninformed(chosen: pd.DataFrame, snaps: pd.DataFrame) -> set[str]:
    """Return the tables about rare plays of which there was none."""
    known = snaps[snaps["next_down"].notna()]
    intercepted = known["kind"] == "interception"
    kickoffs = _next_snap(chosen[chosen["kind"] == "kickoff"], snaps)
    usual = _usual_line(kickoffs)
    seen = {
        "next_punt": known["kind"] == "punt",
        "next_interception": intercepted,
        "next_fumble": ~intercepted & known["turnover"],
        "next_kickoff": (kickoffs["yardline_100"] > 60) & usual,
        "next_free_kick": ~usual,
        "next_field_goal_made": snaps["kind"] == "field_goal",
    }
    parts = ("", "_kept", "_touchdown")
    return {f"{name}{part}" for name, rows in seen.items() if not rows.any() for part in parts}


def _field_goals_made(snaps: pd.DataFrame) -> FloatArray:
    """Return P(made) by yard line, shape (99,)."""
    kicks = snaps[snaps["kind"] == "field_goal"]
    if kicks.empty:
        return np.zeros(99)
    made = (kicks["kick_result"] == "made").to_numpy(dtype=np.float64)
    basis = product_basis([axis_basis(AXES["yardline"], [1, 10, 20, 28, 36, 42, 48, 60])])
    return smooth_shares(
        basis,
        kicks["yardline_100"].to_numpy() - 1,
        made,
        penalty=0.2,
        weight=recency_weight(kicks, 4.0),
    )


def _turnover_starts(snaps: pd.DataFrame) -> dict[str, FloatArray]:
    """Return where the other club starts after a punt, an interception and a lost fumble."""
    known = snaps[snaps["next_down"].notna()]
    punts = known[known["kind"] == "punt"]
    intercepted = known[known["kind"] == "interception"]
    lost = known[(known["kind"] != "interception") & known["turnover"]]
    weight = recency_weight(punts, START_HALF_LIFE) if len(punts) else np.zeros(0)
    plain = ~punts["return_touchdown"].to_numpy()
    kept = punts["kept"].to_numpy() & plain
    return {
        "next_punt": _start_table(punts[~punts["kept"] & plain], shift=False, width_yd=1.5),
        "next_punt_kept": _share(kept, weight),
        "next_punt_touchdown": _share(~plain, weight),
        "next_interception": _returns(intercepted),
        "next_interception_touchdown": _share(intercepted["return_touchdown"].to_numpy()),
        "next_fumble": _returns(lost),
        "next_fumble_touchdown": _share(lost["return_touchdown"].to_numpy()),
    }


def _share(happened: BoolArray, weight: FloatArray | None = None) -> FloatArray:
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
    """Return rows smoothed by a normal kernel, the spike at the touchback left as it is."""
    yard = np.arange(99)
    kernel = np.exp(-0.5 * ((yard[:, None] - yard[None, :]) / width_yd) ** 2)
    kernel /= kernel.sum(axis=1, keepdims=True)
    spikes = np.zeros_like(table)
    spikes[..., [74, 79]] = table[..., [74, 79]]
    return np.asarray((table - spikes) @ kernel + spikes)


def _kickoff_starts(chosen: pd.DataFrame, snaps: pd.DataFrame) -> dict[str, FloatArray]:
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
        "next_kickoff": _normalized(_blur(table.astype(np.float64), 1.0) + 1e-9),
        "next_kickoff_kept": _share(kept, weight),
        "next_kickoff_touchdown": _share(touchdown, weight),
        "next_free_kick": _normalized(_blur(after.astype(np.float64), 3.0) + 1e-3),
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


def _normalized(mass: FloatArray) -> FloatArray:
    """Return mass scaled to sum to 1."""
    return np.asarray(mass / mass.sum())
