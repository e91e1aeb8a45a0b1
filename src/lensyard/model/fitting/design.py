"""The tables that the model is made of, their smoothness, and the fit of distributions of lengths.

For yards gained the cell (situation, length) counts how many plays came at least this far and how
many of them ended here. A touchdown ends nowhere on the field: it counts as having come to the
goal line and not as an end, which is right-censoring. One logistic regression over all cells gives
the hazard. Its terms are smooth in down, distance, field position and length; two are sharp,
because the rules are: around the line to gain, and in the last yards before the goal.

The choices here were made on seasons up to 2017 (fitting on some, scoring on later ones); 2019 was
only ever scored.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Final

import numpy as np

from lensyard.arrays import BoolArray, FloatArray, IntArray
from lensyard.model.fitting.splines import (
    Knots,
    TableBlock,
    TableDesign,
    Term,
    axis_basis,
    fit_binomial,
    product_basis,
    stack_columns,
)
from lensyard.model.outcome import gains_of_kind
from lensyard.model.outcome_grid import (
    AIR_YD,
    AXES,
    GAINS_YD,
    MAX_DISTANCE_YD,
    flat_code,
    state_codes,
    state_key,
)
from lensyard.model.tables import HazardTables
from lensyard.records import Record

if TYPE_CHECKING:
    from lensyard.model.fitting.splines import Matrix


STICKS_YD = 6
"""How many yards around the line to gain have a coefficient each."""

TO_GO_YD = 12
"""How many last yards before the goal line have a coefficient each."""

MAIN_PENALTY = 0.3
"""Ridge on the hazard by length alone, which plays are plenty for."""


class HazardTerms(Record):
    """The knots of one kind of play's hazard.

    - ``lengths_yd``: the lengths, shape (g,), one yard apart. [yd]
    - ``fine``, ``middle``, ``coarse``: knots on the length for the terms by down, by distance and
      by field position, and for the interactions. [yd]
    - ``line_to_gain``: whether the line to gain and the goal line have sharp terms.
    - ``penalty``: ridge on all but the main effect; each term has a multiple of it.
    """

    lengths_yd: IntArray
    fine: Sequence[float]
    middle: Sequence[float]
    coarse: Sequence[float]
    line_to_gain: bool = True
    penalty: float = 16.0


class LengthCounts(Record):
    """How often each length happened by state.

    - ``states``: bins by axis of `STATE_AXES`, each of shape (s,).
    - ``ended``: weighted counts, shape (s, g); the last possible length of a state is its censored
      end.
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

    - ``possible``: by yard line and length, shape (99, g): where the play can go on beyond this
      length, so that a hazard is to be estimated.
    - ``prior``, ``prior_plays``: tables that the fitted ones are held to, and how many plays they
      count for.

    The result: logits of the hazard by ``down*distance``, ``down*yardline`` and ``context``, (rows,
    g).
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


def _terms(penalty: float, *knots: Mapping[str, Knots]) -> tuple[Term, ...]:
    """Return tables with these knots, all of one ridge."""
    return tuple(Term(axes, penalty) for axes in knots)


_SCORES = [-21, -17, -14, -11, -8, -7, -4, -3, -2, -1, 0, 1, 3, 4, 7, 8, 11, 14, 17, 21]
_GAME_S = [0, 30, 60, 90, 120, 150, 180, 240, 300, 420, 600, 750, 900, 1200, 1800, 2400, 3600]
_HALF_S = [0, 10, 20, 30, 45, 60, 75, 90, 105, 120, 130, 150, 180, 240, 300, 400, 600, 900, 1800]
_DISTANCES = [1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 13, 15, 17, 20, 25, 30]
_YARDLINES = [1, 2, 3, 5, 8, 12, 16, 20, 25, 30, 35, 40, 50, 60, 70, 80, 85, 90, 93, 96, 98, 99]

_KIND_RIDGE = 4.0
_DRIVE_RIDGE = 12.0
_CLOCK_RIDGE = 3.0
"""For how the end of a half ends drives, which is sharp."""
_DOWN_RIDGE = 0.5
"""For the level of how drives end by down: fourth downs are few and unlike the others."""
_FOURTH_RIDGE = 0.15

KIND_TERMS: Final = _terms(
    _KIND_RIDGE,
    {"down": None, "distance": _DISTANCES},
    {"down": None, "yardline": _YARDLINES},
    {"down": None, "distance": [1, 2, 3, 4, 6, 8, 10], "goal": None},
    {"score": _SCORES, "game": _GAME_S},
    {
        "down": None,
        "score": [-17, -9, -4, 0, 4, 9, 17],
        "game": [0, 60, 120, 180, 300, 600, 900, 1800, 3600],
    },
    {"down": None, "score": [-17, -4, 0, 4, 17], "half": [0, 30, 60, 120, 180, 300, 900, 1800]},
    {"distance": [1, 2, 3, 5, 8, 10, 15, 20], "game": [0, 60, 120, 300, 900, 1800, 3600]},
    {"late": None, "half": _HALF_S},
    {"zone": [1, 10, 20, 33, 50, 72, 92], "late": None, "half": [0, 10, 20, 30, 60, 120, 300, 600]},
    {
        "yardline": [1, 5, 10, 20, 30, 40, 50, 60, 70, 80, 90, 99],
        "half": [0, 15, 30, 60, 90, 120, 180, 300, 900, 1800],
    },
    {"overtime": None},
    {
        "down": None,
        "distance": [1, 2, 4, 7, 10, 15],
        "yardline": [1, 3, 6, 10, 15, 20, 30, 40, 50, 65, 80, 90, 99],
    },
    {"down": None, "distance": [1, 2, 4, 7, 10, 15], "score": [-17, -8, -4, 0, 4, 8, 17]},
)

DRIVE_TERMS: Final = (
    *_terms(
        _DRIVE_RIDGE,
        {"down": None, "distance": [1, 2, 3, 4, 5, 6, 8, 10, 12, 15, 20, 25]},
        {"down": None, "yardline": _YARDLINES},
        {"down": None, "distance": [1, 3, 6, 10, 15, 20], "zone": [1, 5, 10, 20, 33, 50, 72]},
        {"score": [-17, -11, -8, -7, -4, -3, -1, 0, 1, 3, 4, 7, 8, 11, 17], "game": _GAME_S},
    ),
    *_terms(
        _CLOCK_RIDGE,
        {
            "late": None,
            "half": [0, 10, 20, 30, 45, 60, 90, 120, 180, 240, 300, 420, 600, 900],
            "zone": [1, 10, 20, 33, 50, 72, 92],
        },
        {
            "late": None,
            "half": [0, 30, 60, 120, 240, 420, 600, 900],
            "score": [-17, -8, -4, -3, 0, 3, 8, 17],
        },
    ),
    *_terms(_DRIVE_RIDGE, {"overtime": None}),
    *_terms(_DOWN_RIDGE, {"down": None}),
)

GOING_TERMS: Final = _terms(
    1.0,
    {"down": None, "distance": [1, 2, 3, 4, 6, 8, 10, 15, 20]},
    {"down": None, "zone": [1, 5, 10, 20, 33, 50, 72]},
    {"down": None, "score": [-17, -8, -4, 0, 4, 8, 17]},
    {"down": None, "game": [0, 60, 120, 300, 600, 900, 1800, 3600]},
)
"""What is moved where the offense goes for it on fourth down. Score and clock say on earlier downs
how far a drive will get; whether this yard is made hangs on them less."""

FOURTH_TERMS: Final = _terms(
    _FOURTH_RIDGE,
    {"distance": [1, 2, 3, 4, 5, 7, 10, 15, 20]},
    {"yardline": [1, 2, 3, 5, 8, 12, 20, 28, 31, 34, 37, 40, 43, 46, 50, 60, 75, 90, 99]},
    {"distance": [1, 2, 4, 8, 15], "zone": [1, 4, 10, 20, 33, 50, 72, 92]},
    {
        "score": [-17, -12, -8, -6, -4, -3, -1, 0, 1, 3, 4, 8, 12, 17],
        "game": [0, 30, 60, 120, 180, 240, 300, 420, 600, 900, 1800, 3600],
    },
    {
        "zone": [1, 10, 20, 33, 50, 72],
        "score": [-17, -8, -3, 0, 3, 8],
        "game": [0, 60, 180, 300, 600, 1800],
    },
    {"late": None, "half": [0, 10, 20, 40, 60, 120], "zone": [1, 20, 33, 50, 72]},
    {"overtime": None},
)

FOURTH_LEVELS: Final = _terms(
    1.0,
    {"distance": [1, 2, 3, 4, 6, 10, 15]},
    {"distance": [1, 3, 6, 12], "zone": [1, 4, 10, 20, 33, 50, 72]},
)
"""What is moved to the last seasons."""

NEXT_KIND_TERMS: Final = _terms(
    4.0,
    {"down": None, "distance": [1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 13, 15, 17, 20, 25]},
    {"down": None, "yardline": _YARDLINES},
    {"down": None, "goal": None, "distance": [1, 2, 3, 4, 6, 8, 10]},
)
NEXT_CHOICE_TERMS: Final = (
    *_terms(0.5, {"down": None}),
    *_terms(
        1.0,
        {"down": None, "yardline": [1, 3, 6, 10, 20, 28, 32, 36, 40, 45, 50, 60, 75, 99]},
        {"down": None, "distance": [1, 2, 3, 4, 5, 7, 10, 15, 20]},
        {
            "down": None,
            "distance": [1, 3, 8, 15],
            "yardline": [1, 4, 10, 20, 30, 36, 42, 50, 60, 75],
        },
    ),
)
"""By down, distance and yard line alone: for the transitions from snap to snap."""

_FINE_PASS = [-20, -12, -8, -5, -3, *range(-1, 19), 20, 22, 25, 30, 35, 40, 50, 60, 80, 99]
_FINE_RUN = [-20, -10, -6, *range(-4, 13), 14, 16, 18, 20, 25, 30, 40, 60, 99]
_MIDDLE = [-20, -6, -3, -1, 0, 1, 2, 3, 5, 7, 9, 12, 15, 20, 30, 50]
_COARSE = [-6, -2, 0, 2, 5, 10, 15, 25, 40]

GAIN_TERMS: Final = {
    "run": HazardTerms(GAINS_YD, _FINE_RUN, _MIDDLE, _COARSE, penalty=50.0),
    "complete": HazardTerms(GAINS_YD, _FINE_PASS, _MIDDLE, _COARSE, penalty=30.0),
    "sack": HazardTerms(
        gains_of_kind("sack"),
        [-20, -15, -12, -10, -8, -6, -4, -2, 0],
        [-12, -8, -4, 0],
        [-10, -5, 0],
        line_to_gain=False,
    ),
    "scramble": HazardTerms(GAINS_YD, _FINE_PASS, _MIDDLE, _COARSE, penalty=8.0),
}

_FINE_AIR = [-10, -6, -4, -2, *range(16), 17, 19, 21, 23, 26, 30, 35, 40, 45, 50, 60, 70]
_MIDDLE_AIR = [-6, -2, 0, 2, 4, 6, 8, 10, 13, 16, 20, 25, 30, 40, 55]
_COARSE_AIR = [-4, 0, 5, 10, 15, 25, 40]

AIR_TERMS: Final = {
    "incomplete": HazardTerms(AIR_YD, _FINE_AIR, _MIDDLE_AIR, _COARSE_AIR),
    "interception": HazardTerms(AIR_YD, _MIDDLE_AIR, _COARSE_AIR, _COARSE_AIR),
}
