"""A design matrix made of tables, for regressions on products of splines.

Written out, a row of the design has dozens of entries: the product of the splines of every axis of
every term. But a play only chooses a row of each table, and plays outnumber rows by hundreds; so
products with the design go through the tables.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from lensyard.errors import InvalidInputError
from lensyard.model.axes import FloatArray, IntArray

if TYPE_CHECKING:
    from scipy.sparse import csr_array

Float32Array = NDArray[np.float32]


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
