"""Penalized logistic regressions on tables that are products of linear splines.

Every table of the model (`lensyard.model.tables`) is a smooth function of its axes: a product of
linear splines with the knots of a `Term`. The coefficients minimize the log-loss plus a ridge
penalty, so a bin that few plays fell into stays near what the other tables say. Only the values
at the bins are kept.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from lensyard.arrays import AnyArray, Float32Array, FloatArray, IntArray
from lensyard.errors import InvalidInputError
from lensyard.model.outcome_grid import AXES, axis_codes, flat_code, table_rows
from lensyard.model.plays import batch_of, recency_weight, seasons_back
from lensyard.records import Record

if TYPE_CHECKING:
    import pandas as pd
    from scipy.sparse import csr_array

    from lensyard.model.tables import ClassTables

    Matrix = csr_array[Any, Any]


Knots = Sequence[float] | None


class Term(Record):
    """One table to be fitted.

    - ``knots``: by axis, in the order of the table: the knots of a linear spline, or None where
      every bin has a coefficient of its own.
    - ``penalty``: ridge on the coefficients; 1 is as much evidence as a log-odds of zero with sd
      0.7.
    """

    knots: Mapping[str, Knots]
    penalty: float = 4.0

    @property
    def axes(self) -> tuple[str, ...]:
        """The names of the axes."""
        return tuple(self.knots)

    def basis(self) -> Matrix:
        """Return the spline basis over all rows of the table, shape (rows, coefficients)."""
        return product_basis([axis_basis(AXES[a], k) for a, k in self.knots.items()])

    def basis_over(self, axes: tuple[str, ...]) -> Matrix:
        """Return the basis over the rows of a table with these axes, which hold the term's own."""
        places = np.unravel_index(np.arange(table_rows(axes)), [AXES[a].size for a in axes])
        codes = {axis: np.asarray(place) for axis, place in zip(axes, places, strict=True)}
        return self.basis()[flat_code(self.axes, codes)]


def axis_basis(values: FloatArray, knots: Knots) -> FloatArray:
    """Return a linear spline basis, shape (values, knots); constant beyond the outer knots.

    >>> axis_basis(np.array([0.0, 1.0, 5.0]), [0, 4]).tolist()
    [[1.0, 0.0], [0.75, 0.25], [0.0, 1.0]]
    """
    if knots is None:
        return np.eye(values.shape[0])
    at = np.asarray(knots, dtype=np.float64)
    columns = [np.interp(values, at, row) for row in np.eye(at.shape[0])]
    return np.stack(columns, axis=1)


def product_basis(bases: Sequence[FloatArray]) -> Matrix:
    """Return the Kronecker product of bases as a sparse matrix, the last axis fastest."""
    from scipy import sparse

    product = sparse.csr_array(bases[0])
    for basis in bases[1:]:
        product = sparse.csr_array(sparse.kron(product, sparse.csr_array(basis), format="csr"))
    return product


def stack_columns(bases: Sequence[Matrix]) -> Matrix:
    """Return bases over the same rows side by side."""
    from scipy import sparse

    return sparse.csr_array(sparse.hstack(list(bases), format="csr"))


def minimize_ridge(
    loss: Callable[[FloatArray], tuple[float, FloatArray]], scale: FloatArray, *, iterations: int
) -> FloatArray:
    """Return the coefficients that minimize a smooth convex loss, by L-BFGS from zero.

    - ``loss``: returns the value and the gradient at coefficients of the shape of ``scale``.
    - ``scale``: roughly the square root of the loss's curvature by coefficient; it conditions the
      search and does not change the minimum.
    """
    from scipy.optimize import minimize

    def scaled(point: FloatArray) -> tuple[float, FloatArray]:
        value, gradient = loss(point.reshape(scale.shape) / scale)
        return value, (gradient / scale).ravel()

    options = {"maxiter": iterations, "maxcor": 15, "ftol": 1e-9, "gtol": 1e-6}
    found = minimize(  # type: ignore[call-overload]
        scaled, np.zeros(scale.size), jac=True, method="L-BFGS-B", options=options
    )
    return np.asarray(found.x, dtype=np.float64).reshape(scale.shape) / scale


def prior_penalty(mean_square: FloatArray, prior_plays: float) -> FloatArray:
    """Return the ridge that makes a prior model count for so many plays.

    A coefficient whose column has this mean square gains about ``mean_square * p * (1 - p)`` a
    play; half of the information of the prior's plays holds it at the prior's value. A p of
    0.1 stands for all (most classes and hazards are rarer than even).
    """
    return 0.5 * 0.09 * prior_plays * mean_square


def fit_binomial(
    design: Matrix | TableDesign,
    *,
    events: FloatArray,
    trials: FloatArray,
    penalty: FloatArray | float,
    offset: FloatArray | None = None,
    prior_plays: float = 0.0,
    iterations: int = 200,
) -> FloatArray:
    """Return the coefficients of a logistic regression on counts.

    - ``design``: shape (cells, coefficients).
    - ``events``, ``trials``: weighted counts by cell, shape (cells,).
    - ``offset``: logits of a prior model that the fit is added to, shape (cells,), or None.
    - ``prior_plays``: how many trials the prior model counts for; see `prior_penalty`.
    """
    total = float(trials.sum())
    if total == 0.0:
        return np.zeros(
            design.shape[1] if not isinstance(design, TableDesign) else design.penalty.shape[0]
        )
    happened = (events / total).astype(np.float32)
    tried = (trials / total).astype(np.float32)
    if not isinstance(design, TableDesign):
        rows = np.arange(design.shape[0])
        design = TableDesign([TableBlock(rows, design, np.broadcast_to(penalty, design.shape[1]))])
    squares = design.mean_squares(tried)
    ridge = (penalty + prior_penalty(squares, prior_plays)) / total
    scale = np.sqrt(0.1 * squares + 2 * ridge + 1e-9)
    start = np.float32(0) if offset is None else offset.astype(np.float32)

    def loss(beta: FloatArray) -> tuple[float, FloatArray]:
        logit = design.times(beta)
        logit += start
        softplus = np.logaddexp(np.float32(0), logit)
        value = float((tried * softplus - happened * logit).sum(dtype=np.float64))
        residual = tried * np.exp(logit - softplus) - happened
        gradient = design.transposed_times(residual) + 2 * ridge * beta
        return value + float((ridge * beta * beta).sum()), gradient

    return minimize_ridge(loss, scale, iterations=iterations)


def smooth_shares(
    basis: Matrix,
    cell: IntArray,
    happened: AnyArray,
    *,
    penalty: float,
    weight: FloatArray | None = None,
) -> FloatArray:
    """Return P(it happens) by cell, smooth in a basis of shape (cells, coefficients).

    ``cell`` and ``happened`` (0 or 1) are by play, as is the weight, where there is one.
    """
    cells = basis.shape[0]
    plays = np.ones(cell.shape[0]) if weight is None else weight
    beta = fit_binomial(
        basis,
        events=np.bincount(cell, weights=plays * happened, minlength=cells).astype(np.float64),
        trials=np.bincount(cell, weights=plays, minlength=cells).astype(np.float64),
        penalty=np.full(basis.shape[1], penalty),
    )
    return np.asarray(1.0 / (1.0 + np.exp(-(basis @ beta))))


class TableBlock(Record):
    """One table of a design: which row every observation reads, and what the rows are made of.

    - ``rows``: row of the table by observation, shape (n,).
    - ``basis``: shape (rows of the table, coefficients).
    - ``penalty``: ridge by coefficient, shape (coefficients,).
    """

    rows: IntArray
    basis: Matrix
    penalty: FloatArray


class TableDesign:
    """A design matrix in factored form: each observation reads one row of every table.

    A table's rows are ``basis @ coefficients``. Plays outnumber rows by hundreds, so the product
    with coefficients computes the rows first and looks them up, and the transposed product sums by
    row first. Both cost a fraction of the product with the explicit sparse matrix.
    """

    def __init__(self, blocks: Sequence[TableBlock]) -> None:
        from scipy import sparse

        if not blocks:
            raise InvalidInputError("a design needs at least one table")
        self.blocks = tuple(blocks)
        self.penalty = np.concatenate([block.penalty for block in blocks])
        self._basis = [block.basis.astype(np.float32) for block in blocks]
        self._turned = [basis.T.tocsr() for basis in self._basis]
        n = blocks[0].rows.shape[0]
        ones, columns = np.ones(n, dtype=np.float32), np.arange(n, dtype=np.int32)
        self._gather = [
            sparse.csr_array(
                (ones, (block.rows.astype(np.int32), columns)), shape=(basis.shape[0], n)
            )
            for block, basis in zip(blocks, self._basis, strict=True)
        ]
        ends = np.cumsum([basis.shape[1] for basis in self._basis])
        self._parts = [
            slice(end - basis.shape[1], end) for end, basis in zip(ends, self._basis, strict=True)
        ]

    def tables(self, beta: FloatArray) -> list[FloatArray]:
        """Return the tables, shape (rows, ...), from coefficients, shape (coefficients, ...)."""
        return [
            np.asarray(block.basis @ beta[part])
            for block, part in zip(self.blocks, self._parts, strict=True)
        ]

    def times(self, beta: FloatArray) -> Float32Array:
        """Return the product with coefficients, shape (n, ...)."""
        beta32 = beta.astype(np.float32)
        total: Float32Array = np.empty(0, dtype=np.float32)
        for block, basis, part in zip(self.blocks, self._basis, self._parts, strict=True):
            looked_up = np.take(basis @ beta32[part], block.rows, axis=0, mode="clip")
            total = np.add(total, looked_up, out=total) if total.size else looked_up
        return total

    def transposed_times(self, values: Float32Array) -> FloatArray:
        """Return the product of the transposed matrix, shape (coefficients, ...)."""
        pairs = zip(self._turned, self._gather, strict=True)
        by_table = [turned @ (gather @ values) for turned, gather in pairs]
        return np.concatenate(by_table).astype(np.float64)

    def mean_squares(self, weight: Float32Array) -> FloatArray:
        """Return the weighted sum of squares of every column, shape (coefficients,)."""
        pairs = zip(self._turned, self._gather, strict=True)
        by_table = [turned.multiply(turned).tocsr() @ (gather @ weight) for turned, gather in pairs]
        return np.concatenate(by_table).astype(np.float64)


Tables = dict[str, FloatArray]


class ClassTarget(Record):
    """The data of a class regression.

    - ``codes``: bins of n situations by axis.
    - ``share``: what happened, shape (n, classes): ones and zeros.
    - ``weight``: shape (n,).
    - ``trend``: a drift covariate, shape (n,): seasons before the last one, in tens, so 0 or
      negative.
    - ``offset``: logits of a prior model that the tables are added to, shape (n, classes), or None.
    - ``prior_plays``: how many plays the prior model counts for; see `prior_penalty`.
    """

    codes: dict[str, IntArray]
    share: Float32Array
    weight: FloatArray
    trend: FloatArray
    offset: Float32Array | None = None
    prior_plays: float = 0.0


def fit_classes(
    part: str,
    plays: pd.DataFrame,
    label: IntArray | Float32Array,
    *,
    terms: Sequence[Term],
    classes: int,
    half_life: float,
    ahead: float,
    prior: ClassTables | None,
    prior_plays: float,
    iterations: int = 120,
) -> Tables:
    """Return the tables of one part of a model by stored name, on top of the prior's.

    - ``part``: of the stored names.
    - ``plays``, ``label``: canonical plays and the class of each, shape (n,), or its share of
      every class, shape (n, classes).
    - ``terms``, ``classes``: the tables, and how many classes there are.
    - ``half_life``: a season counts half after so many seasons.
    - ``ahead``: where on the drift covariate the answer is wanted; 0 is the last season.
    - ``prior``, ``prior_plays``: the part of a model that few plays are held to, and how many plays
      it counts for.
    - ``iterations``: at most this many.
    """
    codes = axis_codes(batch_of(plays))
    share = label.astype(np.float32)
    if label.ndim == 1:
        share = np.eye(classes, dtype=np.float32)[label.astype(np.int64)]
    target = ClassTarget(
        codes=codes,
        share=share,
        weight=recency_weight(plays, half_life),
        trend=seasons_back(plays),
        offset=None if prior is None else prior.logits(codes).astype(np.float32),
        prior_plays=prior_plays,
    )
    tables = fit_class_tables(target, terms, ahead=ahead, iterations=iterations)
    for name, table in {} if prior is None else prior.by_name().items():
        tables[name] = table + tables.get(name, np.zeros(1))
    return {f"{part}:{name}": table for name, table in tables.items()}


def fit_class_tables(
    target: ClassTarget, terms: Sequence[Term], *, ahead: float, iterations: int = 120
) -> Tables:
    """Return logits, shape (rows, classes), by names of the axes joined with ``*``.

    A table over the axis ``all`` (the intercept) is always added, and a term whose axes are among
    those of another is stored in that one's table.
    """
    homes = home_tables([term.axes for term in terms])
    tables = list(dict.fromkeys(homes))
    blocks = []
    for axes in tables:
        inside = [term for term, home in zip(terms, homes, strict=True) if home == axes]
        bases = [term.basis_over(axes) for term in inside]
        ridges = [np.full(b.shape[1], t.penalty) for b, t in zip(bases, inside, strict=True)]
        rows = flat_code(axes, target.codes)
        blocks.append(TableBlock(rows, stack_columns(bases), np.concatenate(ridges)))
    design = TableDesign(blocks)
    drift, coefficients = _fit(design, target, iterations=iterations)
    fitted = {"all": (drift[0] + ahead * drift[1])[None, :]}
    for axes, table in zip(tables, design.tables(coefficients), strict=True):
        fitted["*".join(axes)] = table
    return fitted


def home_tables(axes: Sequence[tuple[str, ...]]) -> list[tuple[str, ...]]:
    """Return for every set of axes the largest given one that holds them all.

    >>> home_tables([("down",), ("down", "goal"), ("score",)])
    [('down', 'goal'), ('down', 'goal'), ('score',)]
    """
    by_size = sorted(axes, key=len, reverse=True)
    return [next(big for big in by_size if set(small) <= set(big)) for small in axes]


def _fit(
    design: TableDesign, target: ClassTarget, *, iterations: int
) -> tuple[FloatArray, FloatArray]:
    """Return the coefficients of the drift (2, classes) and of the design (columns, classes)."""
    total = float(target.weight.sum())
    weight = (target.weight / total).astype(np.float32)[:, None]
    share = target.share * weight
    drift = np.stack([np.ones(share.shape[0]), target.trend], axis=1).astype(np.float32)
    squares = np.concatenate([(drift**2).T @ weight, design.mean_squares(weight)])
    penalty = np.concatenate([[1e-6, 1.0], design.penalty])
    ridge = (penalty[:, None] + prior_penalty(squares, target.prior_plays)) / total
    scale = np.sqrt(0.2 * squares + 2 * ridge + 1e-9) * np.ones(share.shape[1])
    offset = np.float32(0) if target.offset is None else target.offset

    def loss(beta: FloatArray) -> tuple[float, FloatArray]:
        logits = design.times(beta[2:])
        logits += drift @ beta[:2].astype(np.float32)
        logits += offset
        logits -= logits.max(axis=1, keepdims=True)
        fitted = np.exp(logits)
        sums = fitted.sum(axis=1, keepdims=True)
        value = -float(np.vdot(share, logits - np.log(sums)))
        fitted *= weight / sums
        fitted -= share
        gradient = np.concatenate([drift.T @ fitted, design.transposed_times(fitted)])
        return value + float((ridge * beta * beta).sum()), gradient + 2 * ridge * beta

    beta = minimize_ridge(loss, scale, iterations=iterations)
    return beta[:2], beta[2:]
