"""Fitting what the transitions need from consecutive snaps (`lensyard.model.transition`).

With a prior model the kinds and the fourth-down choices start from its tables, as in
`lensyard.model.fitting.fit`; every other table becomes a mixture of the new one and the prior's, in
proportion to their plays (`lensyard.model.fitting.prior.blend`).

Where possessions start after kicks and turnovers, and how often field goals are made.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from lensyard.model.axes import AXES, axis_codes
from lensyard.model.fitting.prior import blend, on_top_of
from lensyard.model.fitting.splines import (
    ClassTarget,
    Term,
    axis_basis,
    fit_binomial,
    fit_class_tables,
    product_basis,
)
from lensyard.model.outcome_grid import KINDS, YARDLINES, FloatArray, IntArray
from lensyard.model.plays import batch_of, gains_of, kind_index, recency_weight, seasons_back
from lensyard.model.state_grid import FIRST_DOWN_BANDS, LATER_DOWN_BANDS, state_index
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


SNAP_KINDS: Final = (*KINDS, "punt", "field_goal")
TREND_CARRY: Final = 0.5
"""How much of the fitted drift is carried on beyond the last season."""
KIND_HALF_LIFE: Final = 2.0
PENALTY_HALF_LIFE: Final = 2.0
ZONE_PLAYS: Final = 100.0
FUMBLE_HALF_LIFE: Final = 3.0
"""Seasons: more flags, fewer turnovers and more catches every year make drives longer."""
CHOICE_HALF_LIFE: Final = 2.0
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


def fit_transition_tables(
    chosen: pd.DataFrame,
    *,
    ahead: float,
    prior: OutcomeModel | None = None,
    prior_plays: float = 0.0,
) -> dict[str, FloatArray]:
    """Return the ``next_*`` tables of a model.

    Parameters
    ----------
    chosen
        Canonical plays of whole games, kicks included, in their order.
    ahead
        Where on the drift covariate the answer is wanted.
    prior
        A model that few plays are held to.
    prior_plays
        How many plays it counts for.
    """
    snaps = pair_snaps(chosen)
    tables = {
        "next_end": _end_of_half(snaps),
        "next_distance": _distance_shares(snaps),
        "next_context": _context_shares(snaps),
        "next_penalty": _penalty_kernel(snaps),
        "next_opening": _opening_shares(snaps),
        "next_fumble_lost": _fumbles_lost(snaps),
        "next_field_goal_made": field_goals_made(snaps),
        **turnover_starts(snaps),
        **kickoff_starts(chosen, snaps),
    }
    if prior is not None:
        events = rare_events(chosen, snaps)
        tables = {
            name: blend(
                table,
                prior.arrays[name].astype(np.float64),
                plays=len(snaps) * (events.get(name, 1) > 0),
                prior_plays=prior_plays,
            )
            for name, table in tables.items()
        }
    return {**_class_tables(snaps, ahead, prior, prior_plays), **tables}


def _class_tables(
    snaps: pd.DataFrame, ahead: float, prior: OutcomeModel | None, prior_plays: float
) -> dict[str, FloatArray]:
    """Kinds and choices by down, distance and yard line alone."""
    tables: dict[str, FloatArray] = {}
    live = snaps[snaps["kind"].isin(KINDS)]
    choice = snaps["kind"].map({**dict.fromkeys(KINDS, 0), "punt": 1, "field_goal": 2})
    jobs = (
        ("next_kind", live, kind_index(live), len(KINDS), _KIND_TERMS, KIND_HALF_LIFE),
        ("next_choice", snaps, choice.to_numpy(dtype=np.int64), 3, _CHOICE_TERMS, CHOICE_HALF_LIFE),
    )
    for part, plays, label, classes, terms, half_life in jobs:
        old = None if prior is None else ClassTables(terms_of(prior.arrays, part, classes))
        codes = axis_codes(batch_of(plays))
        share = np.zeros((len(plays), classes), dtype=np.float32)
        share[np.arange(len(plays)), label] = 1.0
        target = ClassTarget(
            codes=codes,
            share=share,
            weight=recency_weight(plays, half_life),
            trend=seasons_back(plays),
            offset=None if old is None else old.logits(codes).astype(np.float32),
            prior_plays=prior_plays,
        )
        fitted = on_top_of(
            old, fit_class_tables(target, terms, ahead=TREND_CARRY * ahead, iterations=60)
        )
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
    return normalized(count)


def _fumbles_lost(snaps: pd.DataFrame) -> FloatArray:
    """Return P(fumble lost | kind) of the latest seasons, shape (6,), smoothed by 50 plays."""
    live = snaps[snaps["kind"].isin(KINDS)]
    weight = recency_weight(live, FUMBLE_HALF_LIFE)
    lost = (live["turnover"] & (live["kind"] != "interception")).to_numpy() * weight
    kind = kind_index(live)
    events = np.bincount(kind, weights=lost, minlength=len(KINDS))
    plays = np.bincount(kind, weights=weight, minlength=len(KINDS))
    p = (events + 50.0 * lost.sum() / weight.sum()) / (plays + 50.0)
    p[[KINDS.index("incomplete"), KINDS.index("interception")]] = 0.0
    return np.asarray(p)


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
    """Return P(penalty move | zone, down that would have come next), shape (3, 4, moves)."""
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
    index = _nearest_move(base, move, next_down, next_distance)
    zones, moves = PENALTY_ZONE_EDGES_YD.shape[0], len(PENALTY_MOVES)
    row = (penalty_zone(base.spot) * 4 + base.down - 1) * moves + index
    count = np.bincount(
        row,
        weights=recency_weight(after, PENALTY_HALF_LIFE) if len(after) else None,
        minlength=zones * 4 * moves,
    ).reshape(zones, 4, moves)
    # A zone leans on all zones, as if it had seen ZONE_PLAYS plays of their mixture.
    usual = count.sum(axis=0) + 0.5
    usual = usual / usual.sum(axis=1, keepdims=True)
    smoothed = count + ZONE_PLAYS * usual
    return np.asarray(smoothed / smoothed.sum(axis=2, keepdims=True))


def _nearest_move(
    base: _Base, move: IntArray, next_down: IntArray, next_distance: IntArray
) -> IntArray:
    """Return the index of the penalty move nearest to what happened, shape (n,)."""
    yards = np.array([yards for yards, _ in PENALTY_MOVES])
    first = np.array([flag for _, flag in PENALTY_MOVES])
    renewed = (next_down == 1) & (
        (base.down > 1) | (next_distance == np.minimum(10, base.spot - move))
    )
    nothing = (move == 0) & (next_down == base.down) & (next_distance == base.to_go)
    by_distance = renewed & (move >= base.to_go) & (move == 5)
    flagged = renewed & ~by_distance
    possible = clipped_move(yards[None, :], base.spot[:, None])
    gap = np.abs(move[:, None] - possible) + 1000.0 * (flagged[:, None] != first[None, :])
    return np.where(nothing, 0, np.argmin(gap + (yards == 0) * ~first * 500.0, axis=1))
