"""Holding a model of few plays to one of many.

First the prior model is recentered (`recentered`): one number a class (of kinds, drive endings,
fourth-down choices) and three a kind of gain (short, middle, long) are added to its logits, held at
zero by `LEVEL_PLAYS` plays of the prior's own. A few games say little about third and 4 from the
38, but much about how often a level runs, how long its runs are and how bold it is on fourth down.

Then everything finer is learned, held to the recentered prior as if that stood for K plays:

- Regressions (kinds, drives, fourth downs, gains, yards in the air) are fitted on top of the
  prior's logits; the ridge on what is added is half of the information that K of the prior's
  plays would have carried (`lensyard.model.fitting.splines.prior_penalty`).
- Tables of shares become ``(n * new + K * prior) / (n + K)`` for n new plays: the posterior mean
  when the prior stands for K earlier plays. A table that no new play informs stays the prior's.

So no plays give the prior itself, and many give the raw fit. K was chosen by the held-out
likelihood of small samples of two other levels of play (`tests.benchmarks.shrinking`).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

import numpy as np

from lensyard.arrays import AnyArray, Float32Array, FloatArray, IntArray
from lensyard.errors import require_range
from lensyard.model import outcome_grid as grid
from lensyard.model.fitting.design import count_lengths
from lensyard.model.fitting.untold import (
    CHOICES,
    DRIVES,
    kind_shares,
    missing_kinds,
    untold_parts,
)
from lensyard.model.kicks import KickModel
from lensyard.model.outcome import OutcomeModel
from lensyard.model.outcome_grid import axis_codes, bins_of, codes
from lensyard.model.plays import (
    SNAP_KINDS,
    batch_of,
    choice_index,
    drive_snaps,
    gains_of,
    kind_index,
    live_plays,
    without_unknown,
)
from lensyard.model.tables import ClassTables, HazardTables, terms_of

if TYPE_CHECKING:
    import pandas as pd

SHRINK_PLAYS: Final = 64_000.0
"""How many plays the bundled model counts for when others are held to it: two of its seasons."""
LEVEL_PLAYS: Final = 200.0
"""How many plays hold the levels of the prior."""
FINE_PLAYS: Final = 1000
"""Fewer plays than this move the prior's levels and nothing finer: of what every play teaches they
would decide less than a sixtieth."""
LENGTH_EDGES_YD: Final = np.array([1, 10])
"""Where short gains end and long ones begin. [yd]"""
_STEPS: Final = 40


def prior_share(*, plays: float, prior_plays: float) -> float:
    """Return the part of a shared table that the prior keeps, 0 to 1.

    >>> prior_share(plays=12_000, prior_plays=4_000)
    0.25
    >>> prior_share(plays=0, prior_plays=4_000)
    1.0
    """
    require_range(low=0.0, high=1e12, plays=plays)
    require_range(low=0.0, high=1e12, prior_plays=prior_plays)
    return 1.0 if plays == 0 else prior_plays / (prior_plays + plays)


def blend(fitted: FloatArray, prior: FloatArray, *, plays: float, prior_plays: float) -> FloatArray:
    """Return the mixture of a fitted table of shares and the prior's, both of one shape."""
    share = prior_share(plays=plays, prior_plays=prior_plays)
    return np.asarray(share * prior + (1.0 - share) * fitted)


def blend_kicks(
    fitted: KickModel, prior: KickModel, *, plays: float, prior_plays: float
) -> KickModel:
    """Return kicks held to a prior's.

    Kickoffs are the new ones as they are: they follow the rule of their own games, and another
    rule's do not help.
    """
    old = prior.to_arrays()
    return KickModel.from_arrays(
        {
            name: array
            if name.startswith("kicks_kickoff")
            else blend(array, old[name], plays=plays, prior_plays=prior_plays)
            for name, array in fitted.to_arrays().items()
        }
    )


def prior_tables(prior: OutcomeModel, part: str) -> dict[str, FloatArray]:
    """Return the tables of one part of the prior by stored name, as they are."""
    return {
        name: array.astype(np.float64)
        for name, array in prior.arrays.items()
        if name == part or name.startswith(f"{part}:")
    }


def kinds_of(live: pd.DataFrame, prior: OutcomeModel | None, part: str) -> AnyArray:
    """Return the kind of each play, or its share of every kind where the plays lack one.

    ``part`` names the prior's tables of kinds: ``kind`` or ``next_kind``.
    """
    label, missing = kind_index(live), missing_kinds(live)
    if prior is None or not missing:
        return label
    tables = ClassTables(terms_of(prior.arrays, part, len(grid.KINDS)))
    return kind_shares(_happened(label), missing, tables.probabilities(axis_codes(batch_of(live))))


def _happened(label: IntArray) -> Float32Array:
    """Return what each play was, shape (n, kinds): ones and zeros."""
    return np.eye(len(grid.KINDS), dtype=np.float32)[label]


def recentered(
    prior: OutcomeModel, plays: pd.DataFrame, *, untold: Sequence[str] | None = None
) -> OutcomeModel:
    """Return the model of another level of play with its levels moved toward these plays.

    ``untold`` is what the plays cannot tell and stays as it is; by default what `untold_parts`
    finds.
    """
    untold = untold_parts(plays) if untold is None else untold
    plays = without_unknown(plays)
    arrays: dict[str, AnyArray] = dict(prior.arrays)
    snaps = plays[plays["down"].between(1, 4) & plays["kind"].isin(SNAP_KINDS)]
    live = live_plays(plays)
    choice = choice_index(snaps)
    fourth = snaps["down"].to_numpy() == 4
    known = drive_snaps(plays)
    ended = codes(known["drive_end"], grid.DRIVE_ENDS)
    jobs = (
        ("kind", "", live, kind_index(live), len(grid.KINDS)),
        ("next_kind", "", live, kind_index(live), len(grid.KINDS)),
        ("drive", DRIVES, known, ended, len(grid.DRIVE_ENDS)),
        ("fourth", CHOICES, snaps[fourth], choice[fourth], len(grid.FOURTH_DOWN_CHOICES)),
        ("next_choice", CHOICES, snaps, choice, len(grid.FOURTH_DOWN_CHOICES)),
    )
    for part, told_by, rows, label, classes in jobs:
        if len(rows) and told_by not in untold:
            logits = ClassTables(terms_of(arrays, part, classes)).logits(axis_codes(batch_of(rows)))
            share = np.eye(classes)[label]
            if classes == len(grid.KINDS):
                share = kind_shares(_happened(label), missing_kinds(live), _softmax(logits))
            # Snaps of one possession end alike: it counts once.
            drives = ["game_id", "drive_index"]
            weight = len(rows[drives].drop_duplicates()) / len(rows) if part == "drive" else 1.0
            _add(arrays, part, _class_shift(logits, share, weight=weight))
    for kind, tables in prior.gain.items():
        rows = live[live["kind"] == kind]
        if len(rows):
            _add(arrays, f"gain_{kind}", _hazard_shift(rows, tables))
    return OutcomeModel(arrays, prior.manifest)


def _add(arrays: dict[str, AnyArray], part: str, shift: FloatArray) -> None:
    """Add a shift to every row of one table of a part; the tables of a part are added up."""
    name = min(name for name in arrays if name.startswith(f"{part}:"))
    arrays[name] = arrays[name].astype(np.float64) + shift


def _class_shift(logits: FloatArray, happened: AnyArray, *, weight: float) -> FloatArray:
    """Return what to add to every class's logit, shape (classes,), by damped Newton steps.

    ``happened`` is each play's share of every class, shape (n, classes); a play counts ``weight``.
    """
    count = weight * happened.sum(axis=0)
    share = _softmax(logits).mean(axis=0)
    shift = np.zeros(logits.shape[1])
    for _ in range(_STEPS):
        p = _softmax(logits + shift)
        slope = count - weight * p.sum(axis=0) - LEVEL_PLAYS * share * shift
        curve = weight * (p * (1.0 - p)).sum(axis=0) + LEVEL_PLAYS * share + 1e-9
        shift = shift + 0.7 * slope / curve
    return shift


def _softmax(logits: FloatArray) -> FloatArray:
    mass = np.exp(logits - logits.max(axis=1, keepdims=True))
    return np.asarray(mass / mass.sum(axis=1, keepdims=True))


def _hazard_shift(rows: pd.DataFrame, tables: HazardTables) -> FloatArray:
    """Return what to add to the logit of ending at each gain of the tables, shape (g,)."""
    counts = count_lengths(
        axis_codes(batch_of(rows)),
        length_index=gains_of(rows) - grid.GAIN_MIN_YD,
        lengths=grid.GAINS_YD.shape[0],
    )
    width = tables.lengths
    logits = tables.logits(counts.states)
    reached = np.cumsum(counts.ended[:, ::-1], axis=1)[:, ::-1][:, :width]
    open_ = np.isfinite(tables.bounds)[counts.states["yardline"], :width]
    reached, ended = reached * open_, counts.ended[:, :width] * open_
    zone = bins_of(grid.GAINS_YD[:width], LENGTH_EDGES_YD) + 1
    onehot = np.eye(LENGTH_EDGES_YD.shape[0] + 1)[zone]
    share = LEVEL_PLAYS / len(rows)
    start = (reached / (1.0 + np.exp(-logits))).sum(axis=0) @ onehot
    shift = np.zeros(onehot.shape[1])
    for _ in range(_STEPS):
        p = 1.0 / (1.0 + np.exp(-(logits + onehot @ shift)))
        slope = (ended - reached * p).sum(axis=0) @ onehot - share * start * shift
        curve = (reached * p * (1.0 - p)).sum(axis=0) @ onehot + share * start + 1e-9
        shift = shift + 0.7 * slope / curve
    return np.asarray(onehot @ shift)
