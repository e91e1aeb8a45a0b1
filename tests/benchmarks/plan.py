"""``python -m tests.benchmarks.plan``: the structured planner beside textbook value iteration.

The textbook version writes the same problem out with one transition matrix an action, which only
fits in memory for a thinned field; both are timed on that. Then the real plan is timed, and how its
cost grows with spots and states.
"""

from __future__ import annotations

from functools import partial

import numpy as np
from tests.benchmarks.timing import median_s, medians_in_turn_s
from tests.support.textbook_mdp import value_iteration

from lensyard.domain.assignment import Assignment
from lensyard.domain.kit import DEMO_KIT
from lensyard.domain.perimeter import perimeter_of
from lensyard.domain.venue import standard_venue
from lensyard.model.context import BASE_MODEL, load_context
from lensyard.planner.plans import DISCOUNT, grid_batch, problem_of, scorers_of
from lensyard.planner.solve import PlanProblem, Walking, choose_many, solve
from lensyard.spots.scorer import turned_station_indices


def real_problem(step_yd: float) -> PlanProblem:
    """Return the problem of the demo kit on any professional field."""
    context, venue, assignment = load_context(BASE_MODEL), standard_venue(), Assignment()
    scorers = scorers_of(perimeter_of(venue, step_yd=step_yd), DEMO_KIT, assignment)
    return problem_of(context, scorers, assignment, Walking())


def ends_only() -> None:
    """Solve the same kit as before plays were paths: one mass by cell, one matrix."""
    context, venue, assignment = load_context(BASE_MODEL), standard_venue(), Assignment()
    scorers = scorers_of(perimeter_of(venue, step_yd=2.0), DEMO_KIT, assignment)
    batch, transition = grid_batch(context.transition().grid), context.transition()
    prior, scorer = context.prior(venue.rules), scorers[0]
    parts = []
    for start in range(0, len(batch), 2000):
        some = batch.take(np.arange(start, min(start + 2000, len(batch))))
        mass = context.model.forecast(some).cells(prior, assignment.weights)[0].by_x[:, 0]
        parts.append(mass.reshape(len(some), -1) @ scorer.paths[0].point.T)
    same, changed, _ = transition.transition_matrices()
    solve(
        PlanProblem(
            reward=np.concatenate(parts)[np.newaxis],
            same=same,
            changed=changed,
            after_change=(0,),
            walk_yd=scorer.walk_yd[np.newaxis],
            turned=turned_station_indices(len(scorer.perimeter)),
            walking=Walking(),
            discount=DISCOUNT,
            may_stand=scorer.open[np.newaxis],
        )
    )


def thinned(problem: PlanProblem, *, states: int, stations: int) -> PlanProblem:
    """Return a small problem cut from a real one: some states, some stations of the ring."""
    rng = np.random.default_rng(3)
    s = np.sort(rng.choice(problem.same.shape[0], states, replace=False))
    n = np.linspace(0, problem.reward.shape[2], stations, endpoint=False).astype(int)
    same, changed = problem.same[np.ix_(s, s)], problem.changed[np.ix_(s, s)]
    total = np.maximum((same + changed).sum(axis=1, keepdims=True), 1e-6)
    return PlanProblem(
        reward=np.ascontiguousarray(problem.reward[:, s][:, :, n]),
        same=(same / total).astype(np.float32),
        changed=(changed / total).astype(np.float32),
        after_change=problem.after_change,
        walk_yd=np.ascontiguousarray(problem.walk_yd[:, n][:, :, n]),
        turned=(np.arange(stations) + stations // 2) % stations,
        walking=problem.walking,
        discount=problem.discount,
        may_stand=None if problem.may_stand is None else problem.may_stand[:, n],
    )


def dense(problem: PlanProblem) -> tuple[np.ndarray, np.ndarray]:
    """Return transition (a, n, n) and reward (n, a) of a one-sided problem written out.

    A state is (has the ball just changed hands, situation, station); an action is a station.
    """
    states, n = problem.reward.shape[1:]
    total = 2 * states * n + 1  # the last state is the end of a half
    transition = np.zeros((n, total, total))
    reward = np.full((total, n), -np.inf)
    limits = (problem.walking.drive_limit_yd, problem.walking.change_limit_yd)
    ends = [problem.ends(limit)[0] for limit in limits]
    for action in range(n):
        following = np.zeros((states, total))
        following[:, action : states * n : n] = problem.same
        arrived = int(problem.turned[action])
        following[:, states * n + arrived : 2 * states * n : n] = problem.changed
        following[:, -1] = np.maximum(1.0 - following.sum(axis=1), 0.0)
        following /= following.sum(axis=1, keepdims=True)
        for just_changed in range(2):
            for standing in range(n):
                rows = just_changed * states * n + np.arange(states) * n + standing
                transition[action, rows] = following
                walk = problem.walk_yd[0, standing, action]
                if ends[just_changed][standing, action]:
                    cost = problem.walking.price_per_yd * walk
                    reward[rows, action] = problem.reward[0, :, action] - cost
        transition[action, -1, -1] = 1.0
    reward[-1] = 0.0
    return transition, reward


def main() -> None:
    """Print everything."""
    problem = real_problem(2.0)
    small = thinned(problem, states=40, stations=24)
    transition, reward = dense(small)
    ours = median_s(lambda: solve(small, sweeps=500, tolerance=1e-5), runs=3)
    textbook = median_s(
        lambda: value_iteration(transition, reward, discount=small.discount, tolerance=1e-4), runs=3
    )
    print("same small problem, 40 states x 24 stations")
    print(f"  structured planner      {ours * 1e3:9.1f} ms")
    print(f"  textbook, dense         {textbook * 1e3:9.1f} ms   ratio {textbook / ours:.0f}")
    print("the real problem, demo kit")
    for step in (4.0, 2.0, 1.0):
        real = problem if step == 2.0 else real_problem(step)
        spent = median_s(partial(solve, real), runs=3)
        found = solve(real)
        states, stations = real.reward.shape[1:]
        print(
            f"  {states} states x {stations:3d} stations  {spent:6.2f} s, {found.sweeps} sweeps, "
            f"left {found.change:.4f}"
        )
    for states in (600, 1200):
        fewer = thinned(problem, states=states, stations=problem.reward.shape[2])
        spent = median_s(partial(solve, fewer), runs=3)
        print(f"  {states:4d} states x {fewer.reward.shape[2]:3d} stations  {spent:6.2f} s")
    whole, ends = medians_in_turn_s([lambda: solve(real_problem(2.0)), ends_only], runs=3)
    print(f"  new kit, from nothing (2-yard spots)  {whole:.2f} s")
    print(f"  counting ends only, a mass a cell     {ends:.2f} s   ratio {whole / ends:.2f}")
    plan, near = solve(problem), problem.ends(30.0)[0]
    theme = median_s(
        lambda: choose_many(
            reward=problem.reward[0, 500:501].astype(float),
            continuation=plan.continuation[0, 500:501],
            walk_yd=problem.walk_yd[0, 10:11],
            allowed=near[10:11],
            price_per_yd=0.002,
        ),
        runs=200,
    )
    print(f"  one lookup  {theme * 1e3:.3f} ms")


if __name__ == "__main__":
    main()
