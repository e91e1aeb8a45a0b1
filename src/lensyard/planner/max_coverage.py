r"""Which spots together have the most: the maximal covering location problem, solved exactly.

The problem
-----------
Several photographers are to be placed so that the value of the plays that at least one of them has
is as large as possible. In the words of location science: sites are to be opened so that the most
demand lies within reach of at least one of them.

===============  =========================================================================
``c``            a cell of demand, ``c = 1..C`` (for a crew: a place where plays end)
``w_c``          its weight, at least 0 (expected value of the plays that end there)
``g``            a group of sites, ``g = 1..G`` (for a crew: photographers with one kit)
``j``            a site of a group, ``j = 1..n_g`` (for a crew: a spot)
``a_gjc``        1 if site j of group g covers cell c, else 0
``m_g``          how many sites of group g may be chosen
``x_gj``         1 if site j of group g is chosen, else 0
``z_c``          how much of cell c is covered, 0 to 1
===============  =========================================================================

::

    maximize    sum_c w_c z_c
    subject to  z_c <= sum_g sum_j a_gjc x_gj     for every cell c
                sum_j x_gj <= m_g                 for every group g
                x_gj in {0, 1},  0 <= z_c <= 1

With one group this is the problem of Church and ReVelle (1974), *The maximal covering location
problem*, Papers of the Regional Science Association 32:101-118. Only ``x`` needs to be integer: for
integer ``x`` the best ``z`` is 0 or 1 by itself, since no weight is negative.

Before solving, what cannot matter is taken out: cells without weight or without a site, cells that
the same sites cover (their weights are added), and sites that cover nothing beyond another site of
their group. None of these changes the optimum.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from lensyard.arrays import BoolArray, FloatArray, IntArray
from lensyard.errors import InvalidInputError, LensyardError, require_range

if TYPE_CHECKING:
    from scipy.sparse import csr_array


# Values that differ by less than this share of the total weight are the same value: far above the
# rounding of a few thousand sums in float64, far below what a decision turns on.
SAME_VALUE = 1e-9
# The solver's own tolerances are absolute (1e-6), so the weights it sees sum to this.
_TOTAL_FOR_SOLVER = 1e4
# A bound within this share of the value proves it: the solver's absolute tolerance over its total,
# with room for its feasibility tolerance.
_PROOF = 1e-6


@dataclass(frozen=True, slots=True, eq=False)
class CoverageProblem:
    """One problem (symbols in the module's text): w (c,); a (n_g, c) and m of each group."""

    weight: FloatArray
    covers: tuple[BoolArray, ...]
    picks: tuple[int, ...]

    def __post_init__(self) -> None:
        """Refuse arrays that are no covering problem."""
        cells = self.weight.shape
        shapes = [a.shape for a in self.covers]
        if len(cells) != 1 or any(len(s) != 2 or s[1] != cells[0] for s in shapes):
            raise InvalidInputError(
                f"expected weight (c,) and covers (sites, c) for each group; got {cells} and "
                f"{', '.join(map(str, shapes)) or 'no group'}"
            )
        if not self.covers or len(self.picks) != len(self.covers):
            raise InvalidInputError(
                f"expected at least one group and one number of picks for each; got "
                f"{len(self.covers)} groups and {len(self.picks)} numbers"
            )
        if any(len(a) == 0 for a in self.covers):
            raise InvalidInputError("each group needs at least one site to choose from")
        if not np.isfinite(self.weight).all() or self.weight.min(initial=0.0) < 0:
            raise InvalidInputError("weights must be finite numbers of at least 0")
        for m in self.picks:
            require_range(low=1, high=1000, picks=m)


@dataclass(frozen=True, slots=True)
class Cover:
    """A choice of sites and how good it is known to be.

    - ``chosen``: for each group the chosen sites, ascending. Fewer than may be chosen where more
      would add nothing.
    - ``value``, ``bound``: weight covered by at least one of them; no choice covers more than the
      bound.
    - ``proven``: whether nothing better exists (within one millionth).
    """

    chosen: tuple[tuple[int, ...], ...]
    value: float
    bound: float
    proven: bool

    @property
    def spots(self) -> tuple[int, ...]:
        """The chosen sites of the first group: all of them where there is one group."""
        return self.chosen[0]

    @property
    def gap(self) -> float:
        """How far the bound lies above the value, as a share of the value."""
        if self.bound <= self.value:
            return 0.0
        return (self.bound - self.value) / self.value if self.value > 0 else float("inf")


def covered_weight(problem: CoverageProblem, chosen: Sequence[Sequence[int]]) -> float:
    """Return the weight covered by at least one of the chosen sites of each group."""
    covered = np.zeros(problem.weight.shape, dtype=bool)
    for sites, covers in zip(chosen, problem.covers, strict=True):
        covered |= covers[list(sites)].any(axis=0)
    return float(problem.weight[covered].sum())


def solve_coverage(problem: CoverageProblem) -> Cover:
    """Solve a problem exactly by the integer program in the module's text (HiGHS through SciPy).

    Raises `LensyardError` if the solver gives up.

    Of choices that are equal to `SAME_VALUE`, low site numbers are preferred.
    """
    total = float(problem.weight.sum())
    small = _Reduced(problem)
    if total == 0.0 or small.weight.size == 0:
        return Cover(tuple(() for _ in problem.covers), 0.0, 0.0, proven=True)
    greedy = greedy_coverage(problem)
    if sum(problem.picks) == 1:  # the best single site, and nothing to search
        return Cover(greedy.chosen, greedy.value, greedy.value, proven=True)
    x, bound = _milp(small)
    chosen = small.original(x)
    chosen = _lowest_numbers(problem, chosen, tolerance=SAME_VALUE * total)
    value = covered_weight(problem, chosen)
    bound = max(min(bound, float(small.weight.sum())), value)
    return Cover(chosen, value, bound, proven=bool(bound - value <= _PROOF * value))


def _milp(small: _Reduced) -> tuple[BoolArray, float]:
    """Return which columns of the reduced problem to choose, and the bound in its weights."""
    from scipy.optimize import Bounds, LinearConstraint, milp

    sites, cells = small.covers.shape
    scale = _TOTAL_FOR_SOLVER / small.weight.sum()
    result = milp(
        c=np.concatenate([np.zeros(sites), -scale * small.weight]),
        integrality=np.concatenate([np.ones(sites), np.zeros(cells)]),
        bounds=Bounds(0, 1),
        constraints=[
            LinearConstraint(small.cover_rows(), -np.inf, 0.0),
            LinearConstraint(small.pick_rows(), -np.inf, np.asarray(small.picks, dtype=float)),
        ],
        options={"mip_rel_gap": 0.0},
    )
    bound = result.mip_dual_bound
    most = float(small.weight.sum())
    if bound is not None and np.isfinite(bound):
        most = float(-bound / scale)
    if result.x is None:
        raise LensyardError(
            f"the solver could not place the crew ({result.message}); ask for fewer shooters or "
            "a wider spacing of spots"
        )
    return result.x[:sites] > 0.5, most


class _Reduced:
    """A problem without what cannot matter (see the module's text); all groups in one matrix."""

    def __init__(self, problem: CoverageProblem) -> None:
        kept = [_undominated(a & (problem.weight > 0)) for a in problem.covers]
        covers = np.concatenate([a[rows] for a, rows in zip(problem.covers, kept, strict=True)])
        some = (problem.weight > 0) & covers.any(axis=0)
        patterns, cell = np.unique(covers[:, some], axis=1, return_inverse=True)
        self.covers: BoolArray = patterns
        self.weight: FloatArray = np.bincount(
            cell.ravel(), weights=problem.weight[some], minlength=patterns.shape[1]
        ).astype(np.float64)
        self.site = np.concatenate(kept)
        self.group = np.repeat(np.arange(len(kept)), [len(rows) for rows in kept])
        self.picks = problem.picks

    def cover_rows(self) -> csr_array[np.float64]:
        """Rows ``z_c - sum a x``; columns are x, then z."""
        from scipy.sparse import csr_array, eye_array, hstack

        sites = csr_array(-self.covers.T.astype(np.float64))
        return csr_array(hstack([sites, eye_array(self.weight.size)]))

    def pick_rows(self) -> csr_array[np.float64]:
        """Rows ``sum x`` of each group; columns are x, then z."""
        from scipy.sparse import csr_array

        rows = np.zeros((len(self.picks), self.site.size + self.weight.size))
        rows[self.group, np.arange(self.site.size)] = 1.0
        return csr_array(rows)

    def original(self, x: BoolArray) -> tuple[tuple[int, ...], ...]:
        """The chosen sites of each group in the numbers of the whole problem."""
        return tuple(
            tuple(int(s) for s in np.sort(self.site[x & (self.group == g)]))
            for g in range(len(self.picks))
        )


def _undominated(covers: BoolArray) -> IntArray:
    """The sites that cover something no single other site does; of equal ones the first."""
    counts = covers.sum(axis=1)
    # A larger set, or an equal one with a lower number, can make a site superfluous.
    order = np.lexsort((np.arange(len(covers)), -counts))
    both = covers[order].astype(np.float32)
    shared = both @ both.T
    inside = shared == counts[order][:, None]  # row's cells all lie in the column's
    earlier = np.tril(np.ones_like(inside), k=-1)
    kept = ~(inside & earlier).any(axis=1) & (counts[order] > 0)
    return np.sort(order[kept])


def _lowest_numbers(
    problem: CoverageProblem, chosen: tuple[tuple[int, ...], ...], *, tolerance: float
) -> tuple[tuple[int, ...], ...]:
    """Exchange each site for the lowest-numbered one that keeps the value; drop idle ones."""
    result = [list(sites) for sites in chosen]
    for g, covers in enumerate(problem.covers):
        for site in chosen[g]:
            result[g].remove(site)
            gain = covers @ _uncovered(problem, result)
            if gain[site] > tolerance:
                result[g].append(int(np.flatnonzero(gain >= gain[site] - tolerance)[0]))
    return tuple(tuple(sorted(sites)) for sites in result)


def _uncovered(problem: CoverageProblem, chosen: Sequence[Sequence[int]]) -> FloatArray:
    """The weight of each cell that none of the chosen sites has."""
    left = problem.weight.copy()
    for sites, covers in zip(chosen, problem.covers, strict=True):
        left[covers[list(sites)].any(axis=0)] = 0.0
    return left


def greedy_coverage(problem: CoverageProblem) -> Cover:
    """Return what adding the best site one after another gets: the usual baseline.

    With one group it is worth at least ``1 - 1/e`` of the optimum (Nemhauser, Wolsey and Fisher
    1978, Mathematical Programming 14:265-294). The bound is the weight that any site covers.
    """
    anywhere = np.any([a.any(axis=0) for a in problem.covers], axis=0)
    left = np.where(anywhere, problem.weight, 0.0)
    bound, tolerance = float(left.sum()), SAME_VALUE * float(problem.weight.sum())
    chosen: list[list[int]] = [[] for _ in problem.covers]
    value = 0.0
    for _ in range(sum(problem.picks)):
        best, best_gain = (-1, -1), tolerance
        for g, covers in enumerate(problem.covers):
            if len(chosen[g]) == problem.picks[g]:
                continue
            gain = covers @ left
            site = int(np.flatnonzero(gain >= gain.max(initial=0.0) - tolerance)[0])
            if gain[site] > best_gain + tolerance:
                best, best_gain = (g, site), float(gain[site])
        if best == (-1, -1):
            break
        chosen[best[0]].append(best[1])
        left[problem.covers[best[0]][best[1]]] = 0.0
        value += best_gain
    proven = bool(bound - value <= _PROOF * value)
    return Cover(tuple(tuple(sorted(s)) for s in chosen), value, max(bound, value), proven)
