"""Fitting distributions of lengths: hazards by situation and by length, smoothed.

For yards gained the cell (situation, length) counts how many plays came at least this far and how
many of them ended here. A touchdown ends nowhere on the field: it counts as having come to the
goal line and not as an end, which is right-censoring. One logistic regression over all cells gives
the hazard. Its terms are smooth in down, distance, field position and length; two are sharp,
because the rules are: around the line to gain, and in the last yards before the goal.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from lensyard.model.axes import AXES, MAX_DISTANCE_YD, flat_code, state_codes, state_key
from lensyard.model.fitting.splines import (
    TableBlock,
    TableDesign,
    axis_basis,
    fit_binomial,
    product_basis,
    stack_columns,
)
from lensyard.model.outcome_grid import BoolArray, FloatArray, IntArray
from lensyard.model.tables import HazardTables

if TYPE_CHECKING:
    from lensyard.model.fitting.splines import Matrix

STICKS_YD = 6
"""How many yards around the line to gain have a coefficient each."""
TO_GO_YD = 12
"""How many last yards before the goal line have a coefficient each."""
MAIN_PENALTY = 0.3
"""Ridge on the hazard by length alone, which plays are plenty for."""


@dataclass(frozen=True, slots=True)
class HazardTerms:
    """The knots of one kind of play's hazard.

    Attributes
    ----------
    lengths_yd
        The lengths, shape (g,), one yard apart. [yd]
    fine, middle, coarse
        Knots on the length for the terms by down, by distance and by field position, and for the
        interactions. [yd]
    line_to_gain
        Whether the line to gain and the goal line have sharp terms.
    penalty
        Ridge on all but the main effect; each term has a multiple of it.
    """

    lengths_yd: IntArray
    fine: Sequence[float]
    middle: Sequence[float]
    coarse: Sequence[float]
    line_to_gain: bool = True
    penalty: float = 16.0


@dataclass(frozen=True, slots=True)
class LengthCounts:
    """How often each length happened by state.

    Attributes
    ----------
    states
        Bins by axis of `lensyard.model.axes.STATE_AXES`, each of shape (s,).
    ended
        Weighted counts, shape (s, g); the last possible length of a state is its censored end.
    """

    states: dict[str, IntArray]
    ended: FloatArray


def count_lengths(
    codes: Mapping[str, IntArray],
    *,
    length_index: IntArray,
    lengths: int,
    weight: FloatArray | None = None,
) -> LengthCounts:
    """Return (weighted) counts of lengths by state from the codes and lengths of n plays.

    ``length_index`` is 0 to ``lengths`` less 1, shape (n,).
    """
    keys, row = np.unique(state_key(codes), return_inverse=True)
    flat = np.bincount(
        row * lengths + length_index, weights=weight, minlength=keys.shape[0] * lengths
    )
    counts = flat.astype(np.float64).reshape(keys.shape[0], lengths)
    return LengthCounts(state_codes(keys), counts)


def _sticks(lengths_yd: IntArray) -> FloatArray:
    """Return indicators of lengths around the line to gain, shape (distances * g, columns)."""
    distance = AXES["distance"]
    offset = np.rint(lengths_yd[None, :] - distance[:, None]).ravel()
    return np.asarray(
        offset[:, None] == np.arange(-STICKS_YD + 1, STICKS_YD)[None, :], dtype=np.float64
    )


def _to_go(lengths_yd: IntArray) -> FloatArray:
    """Return indicators of the yards left to the goal line, shape (99 * g, columns)."""
    left = np.rint(AXES["yardline"][:, None] - lengths_yd[None, :]).ravel()
    return np.asarray(left[:, None] == np.arange(1, TO_GO_YD)[None, :], dtype=np.float64)


def _blocks(terms: HazardTerms) -> list[tuple[str, Matrix, float]]:
    """Return the parts of the design: a table, a basis over (rows x lengths), its ridge."""
    from scipy import sparse

    at = terms.lengths_yd.astype(np.float64)
    down, distance, yardline = np.eye(4), AXES["distance"], AXES["yardline"]
    fine, middle, coarse = (axis_basis(at, k) for k in (terms.fine, terms.middle, terms.coarse))
    near = axis_basis(distance, [1, 2, 3, 4, 5, 6, 8, 10, 12, 15, 20, 25])
    far = axis_basis(distance, [1, 2, 4, 7, 10, 15, 20])
    field = axis_basis(yardline, [1, 2, 3, 4, 5, 7, 9, 12, 15, 20, 25, 30, 40, 55, 75, 90, 95, 99])
    zones = axis_basis(yardline, [1, 3, 6, 10, 15, 25, 50])
    anywhere = np.ones((MAX_DISTANCE_YD, 1))
    every_down = np.ones((4, 1))
    contexts = np.eye(AXES["context"].size)[:, 1:]
    # What down and distance do to gains drifts over seasons and is held closer to the common shape
    # than what the field does: the strongest factors that cost no CRPS on later seasons.
    penalty = terms.penalty
    smooth = (
        ("down*distance", [every_down, anywhere, np.eye(at.shape[0])], MAIN_PENALTY),
        ("down*distance", [every_down, near, middle], 3.0 * penalty),
        ("down*distance", [down, anywhere, fine], 3.0 * penalty),
        ("down*distance", [down, far, coarse], 3.0 * penalty),
        ("down*yardline", [every_down, field, middle], 0.5 * penalty),
        ("down*yardline", [down, zones, coarse], penalty),
        ("context", [contexts, coarse], penalty),
    )
    blocks = [(table, product_basis(bases), ridge) for table, bases, ridge in smooth]
    if terms.line_to_gain:
        sticks = sparse.csr_array(sparse.kron(sparse.csr_array(down), _sticks(terms.lengths_yd)))
        goal = sparse.csr_array(sparse.kron(every_down, _to_go(terms.lengths_yd)))
        blocks += [("down*distance", sticks, penalty), ("down*yardline", goal, 0.5 * penalty)]
    return blocks


def fit_hazard(
    counts: LengthCounts,
    terms: HazardTerms,
    *,
    possible: BoolArray,
    prior: HazardTables | None = None,
    prior_plays: float = 0.0,
) -> dict[str, FloatArray]:
    """Fit the hazard tables of one kind of play.

    Parameters
    ----------
    counts
        How often each length happened by state.
    terms
        Knots and penalties.
    possible
        By yard line and length, shape (99, g): where the play can go on beyond this length, so
        that a hazard is to be estimated.
    prior, prior_plays
        Tables that the fitted ones are held to, and how many plays they count for.

    Returns
    -------
    dict of str to array
        Logits of the hazard by ``down*distance``, ``down*yardline`` and ``context``, (rows, g).
    """
    g = terms.lengths_yd.shape[0]
    reached = np.cumsum(counts.ended[:, ::-1], axis=1)[:, ::-1]
    state, length = np.nonzero((reached > 1e-9) & possible[counts.states["yardline"]])
    blocks = _blocks(terms)
    names = list(dict.fromkeys(table for table, _, _ in blocks))
    parts = []
    for name in names:
        inside = [(basis, ridge) for table, basis, ridge in blocks if table == name]
        row = flat_code(tuple(name.split("*")), counts.states)
        parts.append(
            TableBlock(
                rows=row[state] * g + length,
                basis=stack_columns([basis for basis, _ in inside]),
                penalty=np.concatenate([np.full(b.shape[1], ridge) for b, ridge in inside]),
            )
        )
    design = TableDesign(parts)
    trials = reached[state, length]
    beta = fit_binomial(
        design,
        events=counts.ended[state, length],
        trials=trials,
        penalty=design.penalty,
        offset=None if prior is None else prior.logits(counts.states)[state, length],
        prior_plays=prior_plays * float(trials.sum() / counts.ended.sum()),
    )
    tables: dict[str, FloatArray] = {} if prior is None else prior.by_name()
    for name, table in zip(names, design.tables(beta), strict=True):
        tables[name] = tables.get(name, np.zeros(1)) + table.reshape(-1, g)
    return tables
