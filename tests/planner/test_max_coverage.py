"""The covering solver against brute force, a reference library, and laws."""

from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.support.exhaustive_coverage import coverage_problem, exhaustive_value

from lensyard.errors import InvalidInputError, OutOfRangeError
from lensyard.planner.max_coverage import (
    CoverageProblem,
    covered_weight,
    greedy_coverage,
    solve_coverage,
)

law = settings(max_examples=12)


def random_problem(seed, *, sites=9, cells=30, k=3, density=0.25, groups=1):
    """A small random instance; some weights are zero, some rows are equal."""
    rng = np.random.default_rng(seed)
    weight = rng.integers(0, 8, cells) * rng.choice([0.25, 1.0], cells)
    covers = [rng.random((sites, cells)) < density for _ in range(groups)]
    for a in covers:
        a[-1] = a[0]
    return CoverageProblem(weight, tuple(covers), (k,) * groups)


def by_hand(problem):
    """The optimum of a one-group problem in plain Python, apart from the library's own search."""
    weight, (covers,), (k,) = problem.weight, problem.covers, problem.picks
    return max(
        sum(w for c, w in enumerate(weight) if any(covers[j, c] for j in chosen))
        for chosen in combinations(range(len(covers)), k)
    )


@law
@given(seed=st.integers(0, 10_000), k=st.integers(1, 4))
def test_the_integer_program_equals_trying_every_choice(seed, k):
    problem = random_problem(seed, k=k)
    best = by_hand(problem)
    exact = solve_coverage(problem)
    assert exact.proven
    assert exact.value == pytest.approx(best, abs=1e-9)  # sums of 30 quarters are exact in float64
    assert exact.bound >= best - 1e-9
    assert exact.gap <= 1e-6
    assert covered_weight(problem, exact.chosen) == pytest.approx(exact.value, abs=1e-9)
    assert exhaustive_value(problem) == pytest.approx(best, abs=1e-9)


@pytest.mark.slow
@law
@given(seed=st.integers(0, 10_000))
def test_photographers_with_different_kits_equal_trying_every_choice(seed):
    problem = random_problem(seed, sites=6, groups=2, k=2)
    (first, second), weight = problem.covers, problem.weight
    best = max(
        weight[first[list(a)].any(axis=0) | second[list(b)].any(axis=0)].sum()
        for a in combinations(range(6), 2)
        for b in combinations(range(6), 2)
    )
    exact = solve_coverage(problem)
    assert exact.proven
    assert exact.value == pytest.approx(best, abs=1e-9)
    assert exhaustive_value(problem) == pytest.approx(best, abs=1e-9)
    assert all(len(sites) <= 2 for sites in exact.chosen)


@law
@given(seed=st.integers(0, 10_000), k=st.integers(1, 4))
def test_greedy_adding_lies_between_its_guarantee_and_the_optimum(seed, k):
    problem = random_problem(seed, k=k)
    greedy, best = greedy_coverage(problem), by_hand(problem)
    assert greedy.value <= best + 1e-9
    # Nemhauser, Wolsey and Fisher 1978: at least 1 - (1 - 1/k)^k of the optimum.
    assert greedy.value >= (1 - (1 - 1 / k) ** k) * best - 1e-9
    assert greedy.value == pytest.approx(covered_weight(problem, greedy.chosen), abs=1e-9)


def test_an_instance_on_which_greedy_adding_fails():
    # The middle site has most alone (6), but the two outer ones together have all (5 + 5).
    weight = np.array([2.0, 3.0, 3.0, 2.0])
    covers = np.array([[0, 1, 1, 0], [1, 1, 0, 0], [0, 0, 1, 1]])
    problem = coverage_problem(weight, covers, k=2)
    assert greedy_coverage(problem).value == 8.0
    exact = solve_coverage(problem)
    assert (exact.spots, exact.value, exact.bound) == ((1, 2), 10.0, 10.0)


# The reference library calls its modeling layer in a way that this one will drop.
@pytest.mark.filterwarnings("ignore:.*PuLP 4:DeprecationWarning")
def test_reference_library_on_random_instances():
    """PySAL spopt's MCLP (its own model, another solver: CBC) as the oracle."""
    pytest.importorskip("spopt")
    pulp = pytest.importorskip("pulp")
    from spopt.locate import MCLP

    rng = np.random.default_rng(1974)
    for k in (1, 2, 3, 5):
        cost = rng.uniform(0.0, 100.0, (60, 18))
        weight = rng.integers(1, 500, 60)
        reference = MCLP.from_cost_matrix(cost, weight, 22.0, p_facilities=k)
        reference = reference.solve(pulp.PULP_CBC_CMD(msg=False))
        ours = solve_coverage(coverage_problem(weight, cost.T <= 22.0, k=k))
        assert ours.proven
        # Integer weights: the optimum is a whole number in both.
        assert ours.value == round(pulp.value(reference.problem.objective))


@law
@given(seed=st.integers(0, 10_000), k=st.integers(1, 3))
def test_relabeling_sites_and_cells_changes_no_value(seed, k):
    problem = random_problem(seed, k=k)
    rng = np.random.default_rng(seed + 1)
    sites, cells = rng.permutation(9), rng.permutation(30)
    other = coverage_problem(problem.weight[cells], problem.covers[0][sites][:, cells], k=k)
    assert solve_coverage(other).value == pytest.approx(solve_coverage(problem).value, abs=1e-9)


@pytest.mark.slow
@law
@given(seed=st.integers(0, 10_000))
def test_one_more_photographer_never_costs_and_never_adds_more_than_the_last(seed):
    problem = random_problem(seed)
    values = [0.0] + [
        solve_coverage(coverage_problem(problem.weight, problem.covers[0], k=k)).value
        for k in (1, 2, 3, 4)
    ]
    gains = np.diff(values)
    assert (gains >= -1e-9).all()
    assert gains[0] == max(gains)  # nobody adds more than the best spot alone has


def test_equal_choices_take_the_lowest_numbers():
    covers = np.array([[0, 0, 0], [1, 0, 0], [1, 0, 0], [0, 1, 1], [0, 1, 1]])
    exact = solve_coverage(coverage_problem([1.0, 1.0, 1.0], covers, k=2))
    assert exact.spots == (1, 3)
    assert greedy_coverage(coverage_problem([1.0, 1.0, 1.0], covers, k=2)).spots == (1, 3)


def test_more_photographers_than_there_is_to_cover_stay_unplaced():
    exact = solve_coverage(coverage_problem([2.0, 1.0], np.eye(2), k=4))
    assert (exact.spots, exact.value, exact.proven) == ((0, 1), 3.0, True)


def test_nothing_to_cover_is_worth_nothing():
    nothing = solve_coverage(coverage_problem(np.zeros(4), np.ones((3, 4)), k=2))
    assert (nothing.spots, nothing.value, nothing.gap, nothing.proven) == ((), 0.0, 0.0, True)
    blind = solve_coverage(coverage_problem(np.ones(4), np.zeros((3, 4)), k=2))
    assert (blind.value, blind.proven) == (0.0, True)


@pytest.mark.parametrize(
    ("weight", "covers", "k", "text"),
    [
        ([1.0, 2.0], np.ones((3, 3)), 1, "weight \\(c,\\)"),
        ([1.0, -2.0], np.ones((3, 2)), 1, "at least 0"),
        ([1.0, np.nan], np.ones((3, 2)), 1, "finite"),
        ([1.0, 2.0], np.ones((0, 2)), 1, "at least one site"),
    ],
)
def test_what_is_no_problem_is_refused(weight, covers, k, text):
    with pytest.raises(InvalidInputError, match=text):
        coverage_problem(weight, covers, k=k)


def test_a_crew_of_nobody_and_a_search_without_end_are_refused():
    with pytest.raises(OutOfRangeError, match="picks"):
        coverage_problem([1.0], np.ones((1, 1)), k=0)
    with pytest.raises(InvalidInputError, match="number of picks"):
        CoverageProblem(np.ones(1), (np.ones((1, 1), dtype=bool),), (1, 1))
