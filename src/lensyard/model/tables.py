"""Tables that are added up: the two forms in which the model stores probabilities.

`ClassTables` gives the probabilities of a few classes: the logits of a situation are the sum of
one row out of each table, and a softmax makes them probabilities. `HazardTables` gives the
distribution of a length (yards gained, yards in the air): the sum of rows is the logit of the
hazard, the probability of ending here having come so far, and the product of what is left makes
it a distribution that ends at the goal line by construction.

Stored arrays are named ``<part>:<axis>*<axis>``; the axes are `outcome_grid.AXES`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import product
from typing import Any, Final

import numpy as np

from lensyard.arrays import AnyArray, FloatArray, IntArray, NDArray
from lensyard.errors import ModelError
from lensyard.model.outcome_grid import AXES, flat_code, table_rows
from lensyard.records import ArrayRecord

_CHUNK: Final = 128
"""Situations at a time: small enough for the processor's cache."""

FloatTable = NDArray[np.floating[Any]]
Terms = tuple[tuple[tuple[str, ...], FloatTable], ...]
"""Pairs of axis names and a table, in the precision it is stored in: rows are widened as read."""


def terms_of(arrays: Mapping[str, AnyArray], part: str, width: int) -> Terms:
    """Return the tables of one part of a model: pairs of axis names and an array (rows, width).

    Raises `ModelError` if the part has no tables, or one does not fit its axes.
    """
    found: list[tuple[tuple[str, ...], FloatTable]] = []
    for name in sorted(arrays):
        head, _, tail = name.partition(":")
        if head != part:
            continue
        axes = tuple(tail.split("*"))
        known = all(axis in AXES for axis in axes)
        table: AnyArray = arrays[name]
        if not known or table.shape != (table_rows(axes), width) or table.dtype.kind != "f":
            raise ModelError(
                f"table {name!r} has shape {table.shape}, which its axes do not allow; "
                "fit the model again"
            )
        found.append((axes, table))
    if not found:
        raise ModelError(f"the model has no tables for {part!r}; fit it again")
    return tuple(found)


def plain_table(arrays: Mapping[str, AnyArray], name: str, shape: tuple[int, ...]) -> FloatArray:
    """Return a table that has no axes of its own; raises `ModelError` for another shape."""
    array = arrays.get(name)
    if array is None or array.shape != shape:
        raise ModelError(f"the model lacks table {name!r} of shape {shape}; fit it again")
    return array.astype(np.float64)


class LogitTables(ArrayRecord):
    """Tables of logits that are added up, each of shape (rows, width)."""

    terms: Terms

    def by_name(self) -> dict[str, FloatArray]:
        """Return the tables by the names of their axes."""
        return {"*".join(axes): table.astype(np.float64) for axes, table in self.terms}

    def logits(self, codes: Mapping[str, IntArray]) -> FloatArray:
        """Return one row out of each table, added up, shape (n, width)."""
        (first, table), *rest = self.terms
        at: Mapping[str, Any] = codes
        if codes[first[0]].shape == (1,):  # whole numbers are added faster than arrays of one
            at = {axis: int(code[0]) for axis, code in codes.items()}
        total = table[flat_code(first, at)].astype(np.float64)
        for axes, table in rest:
            total += table[flat_code(axes, at)]
        return total.reshape(-1, total.shape[-1])


class ClassTables(LogitTables):
    """Probabilities of classes from tables of logits, each of shape (rows, classes)."""

    def probabilities(self, codes: Mapping[str, IntArray]) -> FloatArray:
        """Return probabilities, shape (n, classes); rows sum to 1."""
        logits = self.logits(codes)
        logits -= logits.max(axis=1, keepdims=True)
        np.exp(logits, out=logits)
        logits /= logits.sum(axis=1, keepdims=True)
        return logits


class HazardTables(LogitTables):
    """A distribution over lengths from tables of hazard logits, each of shape (rows, lengths).

    `bounds` (99, all lengths) pins the distribution to the field by yard line; see
    `field_bounds`. Tables may stop earlier, where no length beyond is possible.
    """

    bounds: FloatArray

    @property
    def lengths(self) -> int:
        """How many lengths the tables cover."""
        return int(self.terms[0][1].shape[1])

    def mean_context(self, share: FloatArray) -> HazardTables:
        """Return the tables with the contexts averaged by these shares, shape (contexts,)."""
        flat = tuple(
            (axes, np.broadcast_to(share @ table, table.shape) if axes == ("context",) else table)
            for axes, table in self.terms
        )
        return HazardTables(flat, self.bounds)

    def pmf(self, codes: Mapping[str, IntArray]) -> FloatArray:
        """Return probabilities of each length, shape (n, all lengths); rows sum to 1."""
        return lengths_pmf([self], codes)[:, 0]


def lengths_pmf(parts: Sequence[HazardTables], codes: Mapping[str, IntArray]) -> FloatArray:
    """Return probabilities of each length by some parts, shape (n, parts, all lengths).

    All parts have the same lengths; where tables stop earlier nothing is left to happen.
    """
    n, k = codes["yardline"].shape[0], len(parts)
    rows = {axes: flat_code(axes, codes) for part in parts for axes, _ in part.terms}
    terms = [list(part.terms) for part in parts]
    if n > _CHUNK:  # many rows: widen each table once
        terms = [[(axes, table.astype(np.float64)) for axes, table in part] for part in terms]
    pmf = np.zeros((n, k, parts[0].bounds.shape[1]))
    some = [range(k)] if n == 1 else [range(i, i + 1) for i in range(k)]
    for which, start in product(some, range(0, n, _CHUNK)):
        here = slice(start, start + _CHUNK) if n > 1 else 0  # a row is had faster than rows
        width = max(parts[i].lengths for i in which)
        into = pmf[start : start + _CHUNK, which.start : which.stop, :width]
        # The logit with its sign turned: the hazard is 1 / (1 + exp(bounds - logits)).
        hazard = np.empty(into.shape)
        for at, i in enumerate(which):
            hazard[:, at] = parts[i].bounds[codes["yardline"][here], :width]
            for axes, table in terms[i]:
                hazard[:, at, : parts[i].lengths] -= table[rows[axes][here]]
        np.exp(hazard, out=hazard)
        hazard += 1.0
        np.reciprocal(hazard, out=into)
        np.subtract(1.0, into, out=hazard)
        np.cumprod(hazard, axis=2, out=hazard)
        into[..., 1:] *= hazard[..., :-1]
    return pmf


def field_bounds(lengths_yd: IntArray, *, shortest: IntArray, longest: IntArray) -> FloatArray:
    """Return the `bounds` of `HazardTables`.

    They are added to the logit with its sign turned: infinity where a length is too short to be
    possible, minus infinity from the longest on, zero between.

    - ``lengths_yd``: the lengths, shape (g,). [yd]
    - ``shortest``, ``longest``: for `yardline_100` 1 to 99, shape (99,): the ends of the support,
      both included. [yd]
    """
    bounds = np.zeros((shortest.shape[0], lengths_yd.shape[0]))
    bounds[lengths_yd[None, :] < shortest[:, None]] = np.inf
    bounds[lengths_yd[None, :] >= longest[:, None]] = -np.inf
    return bounds
