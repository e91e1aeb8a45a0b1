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
likelihood of small samples of two other levels of play (`tests/benchmarks/model.md`).
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from lensyard.arrays import AnyArray, Float32Array, FloatArray, IntArray
from lensyard.errors import DataError, require_range
from lensyard.model import outcome_grid as grid
from lensyard.model.fitting.design import count_lengths
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

MIN_PLAYS: Final = 200
"""Fewer plays than this are refused,"""
MIN_PLAYS_HELD: Final = 50
"""and fewer than this where a prior stands in for what they cannot tell."""
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


def recentered(prior: OutcomeModel, plays: pd.DataFrame) -> OutcomeModel:
    """Return the model of another level of play with its levels moved toward these plays.

    What they cannot tell, see `untold_parts`, stays as it is.
    """
    untold = untold_parts(plays)
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


def require_enough(chosen: pd.DataFrame, *, alone: bool) -> None:
    """Raise `DataError` unless there are plays enough for a fit, alone or held to a prior."""
    live = live_plays(chosen)
    fewest = MIN_PLAYS if alone else MIN_PLAYS_HELD
    if len(live) < fewest:
        raise DataError(f"{len(live)} plays are too few to fit; import at least {fewest}")
    kinds = set(live["kind"].unique())
    needed = set(grid.KINDS) if alone else {"run", "complete"}
    lacking = [kind for kind in grid.KINDS if kind in needed - kinds]
    if lacking:
        raise DataError(
            f"among {len(live)} plays is no {' and no '.join(lacking)}. Import more plays, check "
            "how the source names its plays, or hold the fit to a model that has them (--shrink)"
        )
    if alone and not (chosen["down"] == 4).any():
        raise DataError(
            "there are no fourth downs among the plays; import whole games, or hold the fit to a "
            "model (--shrink)"
        )


def fumbles_lost(plays: pd.DataFrame, weight: FloatArray | None = None) -> FloatArray:
    """Return P(fumble lost | kind), shape (6,), smoothed by 50 plays at the overall rate."""
    each = np.ones(len(plays)) if weight is None else weight
    lost = (plays["turnover"] & (plays["kind"] != "interception")).to_numpy() * each
    kind = kind_index(plays)
    events = np.bincount(kind, weights=lost, minlength=len(grid.KINDS))
    count = np.bincount(kind, weights=each, minlength=len(grid.KINDS))
    p = (events + 50.0 * lost.sum() / each.sum()) / (count + 50.0)
    p[list(grid.AIR_KINDS)] = 0.0
    return np.asarray(p)
