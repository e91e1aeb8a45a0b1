"""Fitting the tables: penalized logistic regressions on products of linear splines.

Every table of the model (`lensyard.model.tables`) is a smooth function of its axes: a product of
linear splines with the knots of a `Term`. The coefficients minimize the log-loss plus a ridge
penalty, so a bin that few plays fell into stays near what the other tables say. Only the values
at the bins are kept.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from lensyard.errors import InvalidInputError
from lensyard.model.axes import AXES, flat_code, table_rows
from lensyard.model.outcome_grid import FloatArray, IntArray

if TYPE_CHECKING:
    from scipy.sparse import csr_array

if TYPE_CHECKING:
    from scipy.sparse import csr_array

Float32Array = NDArray[np.float32]
Knots = Sequence[float] | None


@dataclass(frozen=True, slots=True)
class Term:
    """One table to be fitted.

    Attributes
    ----------
    knots
        By axis, in the order of the table: the knots of a linear spline, or None where every bin
        has a coefficient of its own.
    penalty
        Ridge on the coefficients; 1 is as much evidence as a log-odds of zero with sd 0.7.
    """

    knots: Mapping[str, Knots]
    penalty: float = 4.0

    @property
    def axes(self) -> tuple[str, ...]:
        """The names of the axes."""
        return tuple(self.knots)

    def basis(self) -> csr_array[Any, Any]:
        """Return the spline basis over all rows of the table, shape (rows, coefficients)."""
        return product_basis([axis_basis(AXES[a].values, k) for a, k in self.knots.items()])

    def basis_over(self, axes: tuple[str, ...]) -> csr_array[Any, Any]:
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


def product_basis(bases: Sequence[FloatArray]) -> csr_array[Any, Any]:
    """Return the Kronecker product of bases as a sparse matrix, the last axis fastest."""
    from scipy import sparse

    product = sparse.csr_array(bases[0])
    for basis in bases[1:]:
        product = sparse.csr_array(sparse.kron(product, sparse.csr_array(basis), format="csr"))
    return product


def minimize_ridge(
    loss: Callable[[FloatArray], tuple[float, FloatArray]],
    scale: FloatArray,
    *,
    iterations: int,
) -> FloatArray:
    """Return the coefficients that minimize a smooth convex loss, by L-BFGS from zero.

    Parameters
    ----------
    loss
        Returns the value and the gradient at coefficients of the shape of ``scale``.
    scale
        Roughly the square root of the loss's curvature by coefficient; it conditions the search
        and does not change the minimum.
    iterations
        At most this many.
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

    A coefficient whose column has this mean square learns about ``mean_square * p * (1 - p)`` a
    play; half of what the prior's plays would have taught holds it at the prior's value. A p of
    0.1 stands for all (most classes and hazards are rarer than even).
    """
    return 0.5 * 0.09 * prior_plays * mean_square


@dataclass(frozen=True, slots=True)
class ClassTarget:
    """What a class regression learns from.

    Attributes
    ----------
    codes
        Bins of n situations by axis.
    share
        What happened, shape (n, classes): ones and zeros, or probabilities of a prior model.
    weight
        Shape (n,).
    trend
        A drift covariate, shape (n,): seasons before the last one, in tens, so 0 or negative.
    offset
        Logits of a prior model that the tables are added to, shape (n, classes), or None.
    prior_plays
        How many plays the prior model counts for; see `prior_penalty`.
    """

    codes: dict[str, IntArray]
    share: Float32Array
    weight: FloatArray
    trend: FloatArray
    offset: Float32Array | None = None
    prior_plays: float = 0.0


def fit_class_tables(
    target: ClassTarget,
    terms: Sequence[Term],
    *,
    ahead: float,
    iterations: int = 120,
) -> dict[str, FloatArray]:
    """Fit a multinomial logistic regression on spline tables.

    Parameters
    ----------
    target
        What to learn from.
    terms
        The tables; a table over the axis ``all`` (the intercept) is always added, and a term whose
        axes are among those of another is stored in that one's table.
    ahead
        Where on the drift covariate the answer is wanted; 0 is the last season.
    iterations
        At most this many.

    Returns
    -------
    dict of str to array
        By names of the axes joined with ``*``: logits, shape (rows, classes).
    """
    homes = home_tables([term.axes for term in terms])
    tables = list(dict.fromkeys(homes))
    blocks = []
    for axes in tables:
        inside = [term for term, home in zip(terms, homes, strict=True) if home == axes]
        bases = [term.basis_over(axes) for term in inside]
        blocks.append(
            TableBlock(
                rows=flat_code(axes, target.codes),
                basis=stack_columns(bases),
                penalty=np.concatenate(
                    [np.full(b.shape[1], t.penalty) for b, t in zip(bases, inside, strict=True)]
                ),
            )
        )
    design = TableDesign(blocks)
    drift, coefficients = _fit_classes(design, target, iterations=iterations)
    fitted = {"all": (drift[0] + ahead * drift[1])[None, :]}
    for axes, table in zip(tables, design.tables(coefficients), strict=True):
        fitted["*".join(axes)] = table
    return fitted


def stack_columns(bases: Sequence[csr_array[Any, Any]]) -> csr_array[Any, Any]:
    """Return bases over the same rows side by side."""
    from scipy import sparse

    return sparse.csr_array(sparse.hstack(list(bases), format="csr"))


def home_tables(axes: Sequence[tuple[str, ...]]) -> list[tuple[str, ...]]:
    """Return for every set of axes the largest given one that holds them all.

    >>> home_tables([("down",), ("down", "goal"), ("score",)])
    [('down', 'goal'), ('down', 'goal'), ('score',)]
    """
    by_size = sorted(axes, key=len, reverse=True)
    return [next(big for big in by_size if set(small) <= set(big)) for small in axes]


def _fit_classes(
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


def fit_binomial(
    design: csr_array[Any, Any] | TableDesign,
    *,
    events: FloatArray,
    trials: FloatArray,
    penalty: FloatArray | float,
    offset: FloatArray | None = None,
    prior_plays: float = 0.0,
    iterations: int = 200,
) -> FloatArray:
    """Return the coefficients of a logistic regression on counts.

    Parameters
    ----------
    design
        Shape (cells, coefficients).
    events, trials
        Weighted counts by cell, shape (cells,).
    penalty
        Ridge by coefficient.
    offset
        Logits of a prior model that the fit is added to, shape (cells,), or None.
    prior_plays
        How many trials the prior model counts for; see `prior_penalty`.
    iterations
        At most this many.
    """
    total = float(trials.sum())
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


@dataclass(frozen=True, slots=True)
class TableBlock:
    """One table of a design: which row every observation reads, and what the rows are made of.

    Attributes
    ----------
    rows
        Row of the table by observation, shape (n,).
    basis
        Shape (rows of the table, coefficients).
    penalty
        Ridge by coefficient, shape (coefficients,).
    """

    rows: IntArray
    basis: csr_array[Any, Any]
    penalty: FloatArray


class TableDesign:
    """A design matrix that is never written down: tables of splines, looked up and added.

    An observation reads one row of every table, and a table's rows are ``basis @ coefficients``.
    The product with coefficients computes the few rows of the tables first and looks them up;
    the transposed product gathers by row first. Both cost a fraction of the sparse matrix.
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
        return np.concatenate([turned @ (gather @ values) for turned, gather in pairs]).astype(
            np.float64
        )

    def mean_squares(self, weight: Float32Array) -> FloatArray:
        """Return the weighted sum of squares of every column, shape (coefficients,)."""
        pairs = zip(self._turned, self._gather, strict=True)
        return np.concatenate(
            [turned.multiply(turned).tocsr() @ (gather @ weight) for turned, gather in pairs]
        ).astype(np.float64)
