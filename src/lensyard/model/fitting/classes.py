"""Multinomial logistic regressions of classes: kinds of play, drive ends, fourth-down choices."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from lensyard.model.axes import axis_codes, flat_code
from lensyard.model.fitting.splines import (
    TableBlock,
    TableDesign,
    Term,
    minimize_ridge,
    prior_penalty,
    stack_columns,
)
from lensyard.model.outcome_grid import Float32Array, FloatArray, IntArray
from lensyard.model.plays import batch_of, recency_weight, seasons_back

if TYPE_CHECKING:
    import pandas as pd

    from lensyard.model.tables import ClassTables

Tables = dict[str, FloatArray]


@dataclass(frozen=True, slots=True)
class ClassTarget:
    """The data of a class regression.

    Attributes
    ----------
    codes
        Bins of n situations by axis.
    share
        What happened, shape (n, classes): ones and zeros.
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


def fit_classes(
    part: str,
    plays: pd.DataFrame,
    label: IntArray,
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

    Parameters
    ----------
    part
        Of the stored names.
    plays, label
        Canonical plays and the class of each, shape (n,).
    terms, classes
        The tables, and how many classes there are.
    half_life
        A season counts half after so many seasons.
    ahead
        Where on the drift covariate the answer is wanted; 0 is the last season.
    prior, prior_plays
        The part of a model that few plays are held to, and how many plays it counts for.
    iterations
        At most this many.
    """
    codes = axis_codes(batch_of(plays))
    share = np.zeros((len(plays), classes), dtype=np.float32)
    share[np.arange(len(plays)), label] = 1.0
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
