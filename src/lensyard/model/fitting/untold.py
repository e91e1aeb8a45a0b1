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
CHOICES, DRIVES, FLOW = "fourth downs", "how drives end", "what follows a snap"
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
    if not kicks_on_fourth or (~ended).mean() > MOST_UNKNOWN:
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


def kind_shares(label: IntArray, missing: tuple[int, ...], p_kind: FloatArray) -> Float32Array:
    """Return what each play was, shape (n, kinds): ones and zeros.

    A play of a kind that also holds a missing one is split between both as the prior's
    probabilities ``p_kind`` say, so that their ratio stays the prior's.
    """
    share = np.zeros((label.shape[0], len(grid.KINDS)), dtype=np.float32)
    share[np.arange(label.shape[0]), label] = 1.0
    for host in {HOSTS[at][0] for at in missing}:
        group = [host, *(at for at in missing if HOSTS[at][0] == host)]
        rows = label == host
        inside = p_kind[np.ix_(rows, group)]
        share[np.ix_(rows, group)] = inside / inside.sum(axis=1, keepdims=True)
    return share
