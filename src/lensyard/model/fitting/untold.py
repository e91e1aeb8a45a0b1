"""What a set of plays cannot tell, so that it comes from the prior, part by part.

A chart may have no air yards, a source no scrambles, a file no kicks. Zero is then no count: the
part keeps what the prior says, and the manifest of the fitted model names it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from lensyard.arrays import Float32Array, FloatArray, IntArray
from lensyard.model import outcome_grid as grid
from lensyard.model.plays import live_plays

if TYPE_CHECKING:
    import pandas as pd

AIR, OUT, FUMBLES = "yards in the air", "out of bounds", "lost fumbles"
CHOICES, DRIVES, FLOW = grid.UNTOLD_CHOICES, "how drives end", "what follows a snap"
KICKS: Final = {
    "punt": "punts",
    "kickoff": "kickoffs",
    "field_goal": "field goals",
    "extra_point": "tries",
}
HOSTS: Final = {
    grid.SCRAMBLE: (grid.RUN, "scrambles"),
    grid.INTERCEPTION: (grid.INCOMPLETE, "interceptions"),
    grid.SACK: (grid.INCOMPLETE, "sacks"),
}
"""Where a kind of play is counted by a source that does not have it, and its name in words."""
MOST_UNKNOWN: Final = 0.1
"""Share of possessions with an unknown end beyond which none of them is counted."""
ENOUGH: Final = 1000
"""Plays after which never having seen a flag means that the source does not have it."""


def missing_kinds(live: pd.DataFrame) -> tuple[int, ...]:
    """Return the positions in `KINDS` of the kinds in `HOSTS` that no play has."""
    found = set(live["kind"].unique())
    return tuple(at for at in HOSTS if grid.KINDS[at] not in found)


def untold_parts(chosen: pd.DataFrame) -> tuple[str, ...]:
    """Return in words what canonical plays cannot tell; flags may be null."""
    live = live_plays(chosen)
    parts = [HOSTS[at][1] for at in missing_kinds(live)]
    if not live.loc[live["kind"].isin(grid.THROWN_KINDS), "air_yd"].notna().any():
        parts.append(AIR)
    carried = live[live["kind"].isin(grid.CARRIED_KINDS)]
    if _never(carried["out_of_bounds"]):
        parts.append(OUT)
    if _never(live.loc[live["kind"] != "interception", "turnover"]):
        parts.append(FUMBLES)
    kinds = set(chosen.loc[chosen["down"] == 4, "kind"].unique())
    kicks_on_fourth = bool(kinds & {"punt", "field_goal"})
    if not kicks_on_fourth:
        parts.append(CHOICES)
    ended = live["drive_end"].isin(grid.DRIVE_ENDS)
    # Drives whose end is unknown are not like the others: all that ended in a field goal, perhaps.
    goals = chosen.loc[chosen["kind"] == "field_goal", "kick_result"]
    no_results = len(goals) > 0 and not goals.fillna("").ne("").any()
    if not kicks_on_fourth or no_results or (~ended).mean() > MOST_UNKNOWN:
        parts.append(DRIVES)
    clubs = chosen.groupby("game_id")["offense"].nunique()
    if not kicks_on_fourth or (clubs > 1).mean() < 0.5:
        parts.append(FLOW)
    for kind, words in KICKS.items():
        results = chosen.loc[chosen["kind"] == kind, "kick_result"]
        if not results.fillna("").ne("").any():
            parts.append(words)
    return tuple(parts)


def _never(flags: pd.Series[bool]) -> bool:
    """Return whether a flag is nowhere known, or never set on plays enough to expect it."""
    known = flags.dropna()
    return known.empty or (len(known) >= ENOUGH and not known.astype(bool).any())


def kind_shares(
    share: Float32Array, missing: tuple[int, ...], p_kind: FloatArray, *, by_row: bool = False
) -> Float32Array:
    """Return shares of every kind where some are counted as another, shape (n, kinds).

    A play of a kind that also holds a missing one is split between both as the prior's
    probabilities ``p_kind`` say, so that their ratio stays the prior's. A scramble is a dropback
    though it is counted as a run: its ratio to the other dropbacks stays the prior's, so that a
    level that runs twice as much does not scramble twice as much.

    - ``share``: what each play was, or a cell's share of every kind, shape (n, kinds).
    - ``by_row``: whether each row says itself how many dropbacks there were, not all together.
    """
    share, p_kind = share.copy(), p_kind.copy()
    ran = [grid.RUN, grid.SCRAMBLE]
    counted, expected = (part[:, ran].sum(axis=1) for part in (share, p_kind))
    if not by_row:
        counted, expected = (np.full(len(share), part.mean()) for part in (counted, expected))
    if grid.SCRAMBLE in missing:
        # What the prior has of the dropbacks that were counted, out of the runs that were.
        p_scramble = p_kind[:, grid.SCRAMBLE] * (1.0 - counted) / np.maximum(1.0 - expected, 1e-6)
        of_runs = p_scramble / np.maximum(counted, 1e-6)
        if not by_row:
            of_runs *= expected / p_kind[:, ran].sum(axis=1)
        of_runs = np.minimum(of_runs, 0.9)
        p_kind[:, grid.RUN], p_kind[:, grid.SCRAMBLE] = 1.0 - of_runs, of_runs
    for host in {HOSTS[at][0] for at in missing}:
        group = [host, *(at for at in missing if HOSTS[at][0] == host)]
        inside = p_kind[:, group]
        share[:, group] = share[:, [host]] * inside / inside.sum(axis=1, keepdims=True)
    return share


def as_counted(p_kind: FloatArray, label: IntArray) -> FloatArray:
    """Return probabilities of kinds, (n, kinds), as a source counts whose plays are ``label``.

    A kind in `HOSTS` that none of the plays has is part of its host there.
    """
    counted = p_kind.copy()
    for at in set(HOSTS) - set(label.tolist()):
        counted[:, HOSTS[at][0]] += counted[:, at]
        counted[:, at] = 0.0
    return counted
