"""Moving a model's levels to another level of play, before anything finer is learned.

A few games say little about third and 4 from the 38, but much about how often a level runs, how
long its runs are and how bold it is on fourth down. So a prior model is first recentered: one
number a class (of kinds, drive endings, fourth-down choices) and three a kind of gain (short,
middle, long) are added to its logits, held at zero by `LEVEL_PLAYS` plays of the prior's own. What
is left to learn then starts from there.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from lensyard.model.axes import FloatArray, IntArray, axis_codes
from lensyard.model.hazard_fit import count_lengths
from lensyard.model.outcome import (
    DRIVE_ENDS,
    FOURTH_DOWN_CHOICES,
    GAIN_MIN_YD,
    GAINS_YD,
    KINDS,
    OutcomeModel,
)
from lensyard.model.plays import batch_of, gains_of, kind_index, live_plays
from lensyard.model.tables import AnyArray, ClassTables, HazardTables, terms_of

if TYPE_CHECKING:
    import pandas as pd

LEVEL_PLAYS: Final = 200.0
"""How many plays hold the levels of the prior."""
LENGTH_EDGES_YD: Final = np.array([1, 10])
"""Where short gains end and long ones begin. [yd]"""
_STEPS: Final = 40
_CHOICES: Final = {**dict.fromkeys(KINDS, 0), "punt": 1, "field_goal": 2}


def recentered(prior: OutcomeModel, plays: pd.DataFrame) -> OutcomeModel:
    """Return a prior with its levels moved toward these plays.

    Parameters
    ----------
    prior
        The model of another level of play.
    plays
        Canonical plays of the new one.
    """
    arrays: dict[str, AnyArray] = dict(prior.arrays)
    snaps = plays[plays["down"].between(1, 4) & plays["kind"].isin(list(_CHOICES))]
    live = live_plays(plays)
    choice: IntArray = np.asarray(snaps["kind"].map(_CHOICES), dtype=np.int64)
    fourth = snaps["down"].to_numpy() == 4
    ends = {end: i for i, end in enumerate(DRIVE_ENDS)}
    known = live[live["drive_end"].isin(DRIVE_ENDS)]
    ended: IntArray = np.asarray(known["drive_end"].map(ends), dtype=np.int64)
    jobs = (
        ("kind", live, kind_index(live), len(KINDS)),
        ("next_kind", live, kind_index(live), len(KINDS)),
        ("drive", known, ended, len(DRIVE_ENDS)),
        ("fourth", snaps[fourth], choice[fourth], len(FOURTH_DOWN_CHOICES)),
        ("next_choice", snaps, choice, len(FOURTH_DOWN_CHOICES)),
    )
    for part, rows, label, classes in jobs:
        if len(rows):
            logits = ClassTables(terms_of(arrays, part, classes)).logits(axis_codes(batch_of(rows)))
            _add(arrays, part, _class_shift(logits, label))
    for kind, tables in prior.gain.items():
        rows = live[live["kind"] == kind]
        if len(rows):
            _add(arrays, f"gain_{kind}", _hazard_shift(rows, tables)[: tables.lengths])
    return OutcomeModel(arrays, prior.manifest)


def _add(arrays: dict[str, AnyArray], part: str, shift: FloatArray) -> None:
    """Add a shift to every row of one table of a part; the tables of a part are added up."""
    name = min(name for name in arrays if name.startswith(f"{part}:"))
    arrays[name] = arrays[name].astype(np.float64) + shift


def _class_shift(logits: FloatArray, label: IntArray) -> FloatArray:
    """Return what to add to every class's logit, shape (classes,), by damped Newton steps."""
    classes = logits.shape[1]
    count = np.bincount(label, minlength=classes)
    share = _softmax(logits).mean(axis=0)
    shift = np.zeros(classes)
    for _ in range(_STEPS):
        p = _softmax(logits + shift)
        slope = count - p.sum(axis=0) - LEVEL_PLAYS * share * shift
        curve = (p * (1.0 - p)).sum(axis=0) + LEVEL_PLAYS * share + 1e-9
        shift = shift + 0.7 * slope / curve
    return shift


def _softmax(logits: FloatArray) -> FloatArray:
    mass = np.exp(logits - logits.max(axis=1, keepdims=True))
    return np.asarray(mass / mass.sum(axis=1, keepdims=True))


def _hazard_shift(rows: pd.DataFrame, tables: HazardTables) -> FloatArray:
    """Return what to add to the logit of ending at each gain, shape (G,)."""
    counts = count_lengths(
        axis_codes(batch_of(rows)),
        length_index=gains_of(rows) - GAIN_MIN_YD,
        lengths=GAINS_YD.shape[0],
        weight=np.ones(len(rows)),
    )
    width = tables.lengths
    logits = tables.logits(counts.states)
    reached = np.cumsum(counts.ended[:, ::-1], axis=1)[:, ::-1][:, :width]
    open_ = np.isfinite(tables.bounds)[counts.states["yardline"], :width]
    reached, ended = reached * open_, counts.ended[:, :width] * open_
    zone = np.searchsorted(LENGTH_EDGES_YD, GAINS_YD[:width], side="right")
    onehot = np.eye(LENGTH_EDGES_YD.shape[0] + 1)[zone]
    share = LEVEL_PLAYS / len(rows)
    start = (reached / (1.0 + np.exp(-logits))).sum(axis=0) @ onehot
    shift = np.zeros(onehot.shape[1])
    for _ in range(_STEPS):
        p = 1.0 / (1.0 + np.exp(-(logits + onehot @ shift)))
        slope = (ended - reached * p).sum(axis=0) @ onehot - share * start * shift
        curve = (reached * p * (1.0 - p)).sum(axis=0) @ onehot + share * start + 1e-9
        shift = shift + 0.7 * slope / curve
    return np.pad(onehot @ shift, (0, GAINS_YD.shape[0] - width))
