"""The structured planner against brute force, and the laws of a plan."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.support.textbook_mdp import value_iteration

from lensyard.errors import InvalidInputError, OutOfRangeError
from lensyard.planner.decision import destinations, reach_of
from lensyard.planner.solve import (
    PlanProblem,
    Walking,
    WindowMax,
    choose_many,
    solve,
)

LAW = settings(max_examples=25)
seeds = st.integers(0, 2**32 - 1)

# Values are at most some 60, held as float32 (24 bits: 4e-6 apart there) and added up a few times.
FLOAT32_ATOL = 1e-4
# Discounts here are at most 0.8; 0.8 ** 80 is 2e-8.
CONVERGED = {"sweeps": 80, "tolerance": 0.0}


def ring_walk(rng, n, *, gates):
    """Walks around a ring of uneven links, some of them shut. Shape (n, n)."""
    gap = rng.uniform(0.5, 12.0, n)
    along = np.concatenate([[0.0], np.cumsum(gap)])
    shut = np.zeros(n, dtype=bool)
    shut[rng.choice(n, gates, replace=False)] = True
    walk = np.zeros((n, n))
    for i in range(n):
        for j in range(i + 1, n):
            direct = math.inf if shut[i:j].any() else along[j] - along[i]
            around = (
                math.inf if shut[:i].any() or shut[j:].any() else along[n] - along[j] + along[i]
            )
            walk[i, j] = walk[j, i] = min(direct, around)
    return walk


def random_problem(seed, *, sides=2, states=3):
    rng = np.random.default_rng(seed)
    n = 2 * int(rng.integers(2, 5))
    walk = np.stack([ring_walk(rng, n, gates=int(rng.integers(0, 3))) for _ in range(sides)])
    # Rows of both together sum to less than 1: the rest is the end of the half.
    both = rng.dirichlet(np.ones(2 * states + 1), size=states)[:, : 2 * states]
    reward = rng.uniform(0, 10, (sides, states, n)) * (rng.random((sides, 1, n)) < 0.8)
    low, high = np.sort(rng.uniform(0, 40, 2))
    return PlanProblem(
        reward=reward.astype(np.float32),
        same=both[:, :states].astype(np.float32),
        changed=both[:, states:].astype(np.float32),
        after_change=tuple(int(k) for k in rng.integers(0, sides, sides)),
        walk_yd=walk,
        turned=(np.arange(n) + n // 2) % n,
        walking=Walking(float(low), float(high), price_per_yd=float(rng.choice([0.0, 0.01, 0.2]))),
        discount=float(rng.uniform(0.3, 0.8)),
        may_stand=rng.random((sides, n)) < 0.7 if seed % 2 else None,
    )


def brute_force(problem):
    """Write the problem out: a state is (side, situation, station, just changed), and the end.

    Returns the textbook solution and its values, shape (side, situation, station, changed).
    """
    sides, states, n = problem.reward.shape
    shape = (sides, states, n, 2)
    total = math.prod(shape) + 1
    end = total - 1
    transition = np.zeros((n, total, total))
    reward = np.full((total, n), -math.inf)
    reward[end], transition[:, end, end] = 0.0, 1.0
    limits = (problem.walking.drive_limit_yd, problem.walking.change_limit_yd)
    ends = [problem.ends(limit) for limit in limits]
    for k, s, p, c in np.ndindex(shape):
        here = np.ravel_multi_index((k, s, p, c), shape)
        for q in range(n):
            walk = problem.walk_yd[k, p, q]
            if ends[c][k, p, q]:
                reward[here, q] = problem.reward[k, s, q] - problem.walking.price_per_yd * walk
            for s2 in range(states):
                stay = np.ravel_multi_index((k, s2, q, 0), shape)
                other = (problem.after_change[k], s2, int(problem.turned[q]), 1)
                transition[q, here, stay] += problem.same[s, s2]
                transition[q, here, np.ravel_multi_index(other, shape)] += problem.changed[s, s2]
            transition[q, here, end] = 1.0 - transition[q, here, :end].sum()
    solution = value_iteration(transition, reward, discount=problem.discount, tolerance=1e-9)
    return solution, solution.value[:end].reshape(shape)


def planned(problem):
    """Stations and values of the plan, both of shape (side, situation, station, changed)."""
    plan = solve(problem, **CONVERGED)
    sides, states, n = problem.reward.shape
    station = np.zeros((sides, states, n, 2), dtype=int)
    value = np.zeros((sides, states, n, 2))
    limits = (problem.walking.drive_limit_yd, problem.walking.change_limit_yd)
    for k in range(sides):
        for s in range(states):
            for c, limit in enumerate(limits):
                station[k, s, :, c], value[k, s, :, c] = choose_many(
                    reward=np.tile(problem.reward[k, s], (n, 1)),
                    continuation=np.tile(plan.continuation[k, s], (n, 1)),
                    walk_yd=problem.walk_yd[k],
                    allowed=problem.ends(limit)[k],
                    price_per_yd=problem.walking.price_per_yd,
                )
    return station, value


# --- against brute force ----------------------------------------------------------------------


@pytest.mark.slow
@LAW
@given(seed=seeds, sides=st.integers(1, 3))
def test_the_plan_is_worth_what_the_textbook_says_and_takes_its_actions(seed, sides):
    problem = random_problem(seed, sides=sides, states=2 if sides == 3 else 3)
    solution, expected = brute_force(problem)
    station, value = planned(problem)
    np.testing.assert_allclose(value, expected, atol=FLOAT32_ATOL)
    # Where the plan goes elsewhere than the textbook, going there is worth as much: acting so for
    # one step and as the textbook says afterwards loses nothing.
    reward = problem.reward.astype(float)
    after = np.einsum("st,ktq->ksq", problem.same, expected[..., 0])
    turned = expected[list(problem.after_change)][:, :, problem.turned, 1]
    after += np.einsum("st,ktq->ksq", problem.changed, turned)
    q_value = reward + problem.discount * after
    for k, s, p, c in np.ndindex(station.shape):
        to = station[k, s, p, c]
        walk = problem.walk_yd[k, p, to]
        assert problem.ends((problem.walking.drive_limit_yd, problem.walking.change_limit_yd)[c])[
            k, p, to
        ]
        got = q_value[k, s, to] - problem.walking.price_per_yd * walk
        assert got == pytest.approx(expected[k, s, p, c], abs=FLOAT32_ATOL)
    assert np.isfinite(solution.value).all()


@LAW
@given(seed=seeds)
def test_stopping_early_leaves_no_more_than_the_bound_says(seed):
    problem = random_problem(seed)
    early = solve(problem, tolerance=0.5)
    exact = solve(problem, **CONVERGED)
    missing = np.ptp(exact.continuation - early.continuation, axis=2).max()
    bound = early.change * problem.discount / (1 - problem.discount)
    assert early.sweeps <= exact.sweeps
    assert missing <= bound + FLOAT32_ATOL


def test_a_worked_example_stays_for_the_touchdown_to_come():
    """By hand: two situations alternate, stations 0 and 2 are 20 yd apart, one may walk 10.

    In situation 0 station 0 pays 1, in situation 1 station 2 pays 10. From station 0 one reaches
    station 1 only, which pays nothing. With a discount of one half, waiting at 1 and going on to 2
    for the 10 is worth 0 + 10 / 2; taking the 1 and being too far away for the 10 is worth less.
    """
    walk = np.array(
        [[0, 10, 20, 30], [10, 0, 10, 20], [20, 10, 0, 10], [30, 20, 10, 0]], dtype=float
    )
    reward = np.zeros((1, 2, 4), dtype=np.float32)
    reward[0, 0, 0], reward[0, 1, 2] = 1.0, 10.0
    problem = PlanProblem(
        reward=reward,
        # After situation 0 comes 1; after 1 the half ends.
        same=np.array([[0, 1], [0, 0]], dtype=np.float32),
        changed=np.zeros((2, 2), dtype=np.float32),
        after_change=(0,),
        walk_yd=walk[None],
        turned=np.array([2, 3, 0, 1]),
        walking=Walking(10.0, 10.0, price_per_yd=0.0),
        discount=0.5,
    )
    station, value = planned(problem)
    assert value[0, 1, :, 0].tolist() == [0.0, 10.0, 10.0, 10.0]
    assert station[0, 0, 0, 0] == 1
    assert value[0, 0, :, 0].tolist() == [5.0, 5.0, 5.0, 5.0]
    # A dear walk changes the mind: 1 now, against 5 less two walks of 10 yd (the second halved).
    dear = replace(problem, walking=Walking(10.0, 10.0, price_per_yd=0.3))
    station, value = planned(dear)
    assert station[0, 0, 0, 0] == 0
    assert value[0, 0, 0, 0] == pytest.approx(1.0)


# --- laws -------------------------------------------------------------------------------------


def relabeled(problem, order):
    """The same problem with station ``order[i]`` called i."""
    back = np.argsort(order)
    return replace(
        problem,
        reward=problem.reward[:, :, order],
        walk_yd=problem.walk_yd[:, order][:, :, order],
        turned=back[problem.turned[order]],
        may_stand=None if problem.may_stand is None else problem.may_stand[:, order],
    )


@pytest.mark.slow
@LAW
@given(seed=seeds, kind=st.sampled_from(["rotate", "reflect"]))
def test_relabeling_the_stations_never_changes_the_ranking(seed, kind):
    problem = random_problem(seed)
    n = problem.turned.size
    rng = np.random.default_rng(seed + 1)
    order = {
        "rotate": np.roll(np.arange(n), int(rng.integers(1, n))),
        "reflect": np.arange(n)[::-1].copy(),
    }[kind]  # the ring keeps its order: a crossing goes along it
    here = problem.reward + solve(problem, **CONVERGED).continuation
    other = relabeled(problem, order)
    there = other.reward + solve(other, **CONVERGED).continuation
    # Matrix products may add in another order: last bits of float32.
    np.testing.assert_allclose(there, here[:, :, order], atol=FLOAT32_ATOL)
    gap = here[..., :, None] - here[..., None, :]
    sure = np.abs(gap) > 2 * FLOAT32_ATOL
    moved = there[..., :, None] - there[..., None, :]
    sure_moved = sure[..., order, :][..., order]
    np.testing.assert_array_equal(
        (moved > 0)[sure_moved], (gap > 0)[..., order, :][..., order][sure_moved]
    )


@LAW
@given(seed=seeds)
def test_relabeling_the_situations_changes_nothing_else(seed):
    problem = random_problem(seed)
    order = np.random.default_rng(seed + 1).permutation(problem.same.shape[0])
    other = replace(
        problem,
        reward=problem.reward[:, order],
        same=problem.same[np.ix_(order, order)],
        changed=problem.changed[np.ix_(order, order)],
    )
    here, there = (solve(p, **CONVERGED).continuation for p in (problem, other))
    np.testing.assert_allclose(there, here[:, order], atol=FLOAT32_ATOL)


@LAW
@given(seed=seeds)
def test_free_and_unlimited_walking_makes_the_plan_greedy(seed):
    problem = replace(random_problem(seed), walking=Walking(400.0, 400.0, price_per_yd=0.0))
    open_ring = np.where(np.isinf(problem.walk_yd), 1.0, problem.walk_yd)
    problem = replace(problem, walk_yd=open_ring, may_stand=None)
    plan = solve(problem, **CONVERGED)
    # What follows is the same from everywhere.
    assert np.ptp(plan.continuation, axis=2).max() <= FLOAT32_ATOL
    station, _ = planned(problem)
    best = problem.reward.max(axis=2)[..., None, None]
    chosen = np.take_along_axis(
        problem.reward[..., None], station.reshape(*station.shape[:2], -1, 1), axis=2
    ).reshape(station.shape)
    np.testing.assert_allclose(chosen, np.broadcast_to(best, chosen.shape), atol=FLOAT32_ATOL)


@LAW
@given(seed=seeds)
def test_without_a_future_the_plan_is_the_reward_less_the_walk(seed):
    problem = replace(random_problem(seed), discount=0.0)
    plan = solve(problem)
    assert not plan.continuation.any()
    # Nothing is left to change after the first look.
    assert plan.sweeps == 1


@pytest.mark.slow
@LAW
@given(seed=seeds, data=st.data())
def test_closing_stations_to_shooting_never_raises_a_value(seed, data):
    problem = random_problem(seed)
    n = problem.turned.size
    closed = np.array(data.draw(st.lists(st.integers(0, n - 1), min_size=1, max_size=n)))
    reward = problem.reward.copy()
    reward[:, :, closed] = 0.0
    _, before = planned(problem)
    _, after = planned(replace(problem, reward=reward))
    assert (after <= before + FLOAT32_ATOL).all()


@pytest.mark.slow
@LAW
@given(seed=seeds, more=st.floats(0, 30))
def test_walking_farther_never_lowers_a_value_and_a_price_never_raises_one(seed, more):
    problem = replace(random_problem(seed), may_stand=None)
    w = problem.walking
    farther = Walking(w.drive_limit_yd + more, w.change_limit_yd + more, w.price_per_yd)
    dearer = Walking(w.drive_limit_yd, w.change_limit_yd, w.price_per_yd + 0.05)
    _, value = planned(problem)
    assert (planned(replace(problem, walking=farther))[1] >= value - FLOAT32_ATOL).all()
    assert (planned(replace(problem, walking=dearer))[1] <= value + FLOAT32_ATOL).all()


@LAW
@given(seed=seeds, limit=st.floats(0, 60), price=st.sampled_from([0.0, 0.002, 0.5]))
def test_the_sliding_maximum_is_the_maximum_over_all_stations_in_reach(seed, limit, price):
    rng = np.random.default_rng(seed)
    n = int(rng.integers(2, 12))
    walk = ring_walk(rng, n, gates=int(rng.integers(0, min(n, 3))))
    value = rng.normal(size=(3, n)).astype(np.float32)
    found = WindowMax(walk, walk <= limit, price_per_yd=price)(value)
    for s in range(3):
        for p in range(n):
            within = [q for q in range(n) if walk[p, q] <= limit]
            best = max(float(value[s, q]) - price * walk[p, q] for q in within)
            assert found[s, p] == pytest.approx(best, abs=1e-5)  # float32, values of at most 30


# --- one decision -----------------------------------------------------------------------------


def decide(reward, walk, *, limit=30.0, price=0.0):
    station, total = choose_many(
        reward=np.array([reward]),
        continuation=np.zeros((1, len(reward))),
        walk_yd=np.array([walk]),
        allowed=np.array([walk]) <= limit,
        price_per_yd=price,
    )
    return int(station[0]), float(total[0])


def test_among_equals_the_shortest_walk_wins_then_the_lowest_number():
    assert decide([5, 5, 5, 1], [20, 7, 9, 0])[0] == 1
    assert decide([5, 5, 5, 1], [9, 7, 7, 0])[0] == 1
    assert decide([5, 5, 5, 5], [9, 7, 7, 0])[0] == 3  # staying is the shortest walk


def test_differences_beyond_the_decimals_kept_do_not_move_anybody():
    tiny, visible = 0.2 * 10**-5, 2 * 10**-5
    assert decide([5 + tiny, 5.0], [10, 0])[0] == 1
    assert decide([5 + visible, 5.0], [10, 0])[0] == 0
    # The same for walks: 7 and 7 plus rounding noise are one distance.
    assert decide([5, 5, 1], [7 + 1e-12, 7, 0])[0] == 0


def test_the_limit_itself_may_be_walked_and_a_yard_more_may_not():
    assert decide([9, 1], [30, 0])[0] == 0
    assert decide([9, 1], [31, 0])[0] == 1
    assert decide([9, 1], [math.inf, 0], limit=1e9)[0] == 1  # there is no way


@LAW
@given(seed=seeds, prices=st.lists(st.floats(0, 1), min_size=2, max_size=2))
def test_a_dearer_walk_is_never_a_longer_one(seed, prices):
    rng = np.random.default_rng(seed)
    reward, walk = rng.uniform(0, 10, 9).tolist(), [0.0, *rng.uniform(0, 40, 8)]
    cheap, dear = (decide(reward, walk, price=price) for price in sorted(prices))
    # Totals are compared to five decimals: two that differ by less may change places.
    if (max(prices) - min(prices)) * abs(walk[cheap[0]] - walk[dear[0]]) > 1e-4:
        assert walk[dear[0]] <= walk[cheap[0]]
    assert dear[1] <= cheap[1] + 1e-5


# --- what is refused --------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"turned": np.arange(3)}, "do not fit each other"),
        ({"after_change": (0,)}, "do not fit each other"),
    ],
)
def test_a_problem_that_is_none_is_refused(change, message):
    values: dict[str, object] = {
        "reward": np.ones((2, 2, 4), dtype=np.float32),
        "same": np.full((2, 2), 0.3, dtype=np.float32),
        "changed": np.full((2, 2), 0.1, dtype=np.float32),
        "after_change": (1, 0),
        "walk_yd": np.abs(np.subtract.outer(np.arange(4.0), np.arange(4.0)))[None].repeat(2, 0),
        "turned": np.array([2, 3, 0, 1]),
        "walking": Walking(),
        "discount": 0.9,
    }
    PlanProblem(**values)  # type: ignore[arg-type]
    with pytest.raises(InvalidInputError, match=message):
        PlanProblem(**(values | change))  # type: ignore[arg-type]


@pytest.mark.parametrize("discount", [1.0, -0.1, math.nan])
def test_a_discount_without_a_limit_is_refused(discount):
    with pytest.raises(OutOfRangeError, match="discount"):
        replace(random_problem(1), discount=discount)


@pytest.mark.parametrize(
    "change",
    [
        {"drive_limit_yd": -1.0},
        {"change_limit_yd": math.inf},
        {"price_per_yd": -0.1},
        {"price_per_yd": math.nan},
    ],
)
def test_a_walk_nobody_takes_is_refused(change):
    with pytest.raises(OutOfRangeError, match=next(iter(change))):
        Walking(**change)


def test_a_cliff_between_neighbors_is_walked_past_not_stayed_at():
    # Whoever may stay is not sent to the next station, but to one beyond it that gains as much.
    n = 8
    index = np.arange(n)
    around = np.abs(index[:, None] - index[None, :])
    walk_yd = 2.0 * np.minimum(around, n - around)
    value = np.array([[0.0, 1.0, 0.9, 0.3, 0.0, 0.0, 0.0, 0.0]])
    for error, expected in ((0.5, 2), (0.95, 0)):
        found = destinations(
            reach_of(walk_yd, np.ones(n, dtype=bool), 0, limit_yd=8.0),
            reward=value,
            continuation=np.zeros_like(value),
            error=np.array([error]),
            price_per_yd=0.001,
        )
        assert found.station.tolist() == [expected]
    # From closed ground the neighbor is where one goes.
    reach = reach_of(walk_yd, index > 0, 0, limit_yd=8.0)
    assert {1, 7} <= set(reach.near.tolist())
