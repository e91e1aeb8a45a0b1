"""Tables that are added up: the two forms in which the model stores probabilities.

`ClassTables` gives the probabilities of a few classes: the logits of a situation are the sum of
one row out of each table, and a softmax makes them probabilities. `HazardTables` gives the
distribution of a length (yards gained, yards in the air): the sum of rows is the logit of the
hazard, the probability of ending here having come so far, and the product of what is left makes
it a distribution that ends at the goal line by construction.

Stored arrays are named ``<part>:<axis>*<axis>``; the axes are those of `lensyard.model.axes`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lensyard.errors import ModelError
from lensyard.model.axes import AXES, FloatArray, IntArray, flat_code, table_rows

AnyArray = NDArray[np.generic]
Terms = tuple[tuple[tuple[str, ...], FloatArray], ...]


def terms_of(arrays: Mapping[str, AnyArray], part: str, width: int) -> Terms:
    """Return the tables of one part of a model: pairs of axis names and an array (rows, width).

    Raises
    ------
    ModelError
        If the part has no tables, or one does not fit its axes.
    """
    found: list[tuple[tuple[str, ...], FloatArray]] = []
    for name in sorted(arrays):
        head, _, tail = name.partition(":")
        if head != part:
            continue
        axes = tuple(tail.split("*"))
        known = all(axis in AXES for axis in axes)
        if not known or arrays[name].shape != (table_rows(axes), width):
            raise ModelError(
                f"table {name!r} has shape {arrays[name].shape}, which its axes do not allow; "
                "fit the model again"
            )
        found.append((axes, arrays[name].astype(np.float64)))
    if not found:
        raise ModelError(f"the model has no tables for {part!r}; fit it again")
    return tuple(found)


@dataclass(frozen=True, slots=True)
class ClassTables:
    """Probabilities of classes from tables of logits, each of shape (rows, classes)."""

    terms: Terms

    def by_name(self) -> dict[str, FloatArray]:
        """Return the tables by the names of their axes."""
        return {"*".join(axes): table for axes, table in self.terms}

    def logits(self, codes: dict[str, IntArray]) -> FloatArray:
        """Return logits, shape (n, classes)."""
        (first, table), *rest = self.terms
        logits = table[flat_code(first, codes)]
        for axes, table in rest:
            logits += table[flat_code(axes, codes)]
        return logits

    def probabilities(self, codes: dict[str, IntArray]) -> FloatArray:
        """Return probabilities, shape (n, classes); rows sum to 1."""
        logits = self.logits(codes)
        logits -= logits.max(axis=1, keepdims=True)
        np.exp(logits, out=logits)
        logits /= logits.sum(axis=1, keepdims=True)
        return logits


@dataclass(frozen=True, slots=True)
class HazardTables:
    """A distribution over lengths from tables of hazard logits, each of shape (rows, lengths).

    `bounds` holds, by yard line (99, lengths), what pins the distribution to the field: minus
    infinity where a length is too short to be possible, plus infinity at the longest.
    """

    terms: Terms
    bounds: FloatArray

    def by_name(self) -> dict[str, FloatArray]:
        """Return the tables by the names of their axes."""
        return {"*".join(axes): table for axes, table in self.terms}

    def logits(self, codes: dict[str, IntArray]) -> FloatArray:
        """Return the logit of the hazard wherever a play may go on, shape (n, lengths)."""
        (first, table), *rest = self.terms
        logits = table[flat_code(first, codes)]
        for axes, table in rest:
            logits += table[flat_code(axes, codes)]
        return logits

    def mean_context(self, share: FloatArray) -> HazardTables:
        """Return the tables with the contexts averaged by these shares, shape (contexts,)."""
        flat = tuple(
            (axes, np.broadcast_to(share @ table, table.shape) if axes == ("context",) else table)
            for axes, table in self.terms
        )
        return HazardTables(flat, self.bounds)

    def pmf(self, codes: dict[str, IntArray]) -> FloatArray:
        """Return probabilities of each length, shape (n, lengths); rows sum to 1."""
        hazard = self.bounds[codes["yardline"]]
        for axes, table in self.terms:
            hazard -= table[flat_code(axes, codes)]
        # The signs are turned: this is 1 / (1 + exp(-logit)), the probability of going on is
        # its complement.
        np.exp(hazard, out=hazard)
        hazard += 1.0
        np.reciprocal(hazard, out=hazard)
        onward = np.cumprod(1.0 - hazard, axis=1)
        hazard[:, 1:] *= onward[:, :-1]
        return hazard


def field_bounds(lengths_yd: IntArray, *, shortest: IntArray, longest: IntArray) -> FloatArray:
    """Return the `bounds` of `HazardTables`, with their signs turned as `pmf` wants them.

    Parameters
    ----------
    lengths_yd
        The lengths, shape (g,). [yd]
    shortest, longest
        For `yardline_100` 1 to 99, shape (99,): the ends of the support, both included. [yd]
    """
    bounds = np.zeros((shortest.shape[0], lengths_yd.shape[0]))
    bounds[lengths_yd[None, :] < shortest[:, None]] = np.inf
    bounds[lengths_yd[None, :] >= longest[:, None]] = -np.inf
    return bounds
