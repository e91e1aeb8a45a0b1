"""What a station has of a play's path: the linear formula beside every path played one by one."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from lensyard.domain.assignment import USABLE_WEIGHTS, Assignment, Faces
from lensyard.domain.field import RULES, Direction
from lensyard.domain.kit import kit_of, reach_quality
from lensyard.domain.perimeter import perimeter_of
from lensyard.domain.situation import HASH_CODES, Situation, SituationBatch
from lensyard.domain.venue import ClosedStretch, Edge, standard_venue
from lensyard.model.cells import CARRY, CATCH, POINT, p_caught_at, starts_of_catches
from lensyard.model.context import load_context
from lensyard.model.outcome_grid import GAINS_YD, X_YD
from lensyard.model.paths import PathMasses
from lensyard.plays.store import load_plays
from lensyard.spots.masses import Masses
from lensyard.spots.path_values import expected_values
from lensyard.spots.scorer import PathQuality, Scorer

GOAL_X = 110

SITUATIONS = 2_000
STEP_YD = 8.0


def situations(rng, n):
    """Random situations of all downs, lines and hash marks."""
    yardline = rng.integers(1, 100, n)
    return SituationBatch.of(
        [
            Situation(
                down=int(rng.integers(1, 5)),
                distance_yd=int(rng.integers(1, min(int(line), 20) + 1)),
                yardline_100=int(line),
                hash_mark=HASH_CODES[int(rng.integers(0, len(HASH_CODES)))],
            )
            for line in yardline
        ]
    )


def best_of_paths(point, by_start, yardline_100):
    """Expected best quality from each station, path by path: quality (n, 121, 18) at the points."""
    n, rows, lanes = point.shape
    best = np.zeros((n, rows, rows, lanes), dtype=np.float32)  # from start to end
    for start in range(rows):
        best[:, start, start:] = np.maximum.accumulate(point[:, start:], axis=1)
    line = GOAL_X - yardline_100
    diagonal = best[:, np.arange(rows), np.arange(rows)]
    caught = np.einsum("es,nsey->ney", starts_of_catches(yardline_100), best)
    return (
        np.einsum("nxy,xy->n", diagonal, by_start[POINT])
        + np.einsum("nxy,xy->n", best[:, line], by_start[CARRY])
        + np.einsum("nxy,xy->n", caught, by_start[CATCH])
    )


def venues(rng):
    """A random venue with posts, and in every second one a stand that blocks the view."""
    name = str(rng.choice(sorted(RULES)))
    venue = replace(standard_venue(name), side_setback_yd=float(rng.uniform(2, 6)))
    if rng.random() < 0.5:
        low = float(rng.uniform(0, 80))
        stand = ClosedStretch(Edge.SIDELINE_A, low, low + 15.0, "stand", depth_yd=3.0)
        venue = replace(venue, closed=(*venue.closed, stand))
    return venue


def in_double_precision(scorer, paths):
    """`Scorer.expected_value` with every product and sum in double precision."""
    ends, starts = paths.ends.astype(np.float64), paths.starts.astype(np.float64)
    each = []
    for one in scorer.paths:
        each.append(ends @ one.reach_from.T - starts @ one.missed_from.T)
        one.gaps.take_off(each[-1], paths)
    best: NDArray[np.float64] = np.maximum(np.max(each, axis=0), 0.0)
    return best


KITS = (["70-200"], ["50", "600"], ["300"], ["100-400"], ["400 x1.4"], ["24-70", "70-200"])


@pytest.mark.parametrize(
    ("seed", "every"),
    [
        (20, 1000),
        pytest.param(20, 1, marks=pytest.mark.slow),
        *(pytest.param(seed, 40, marks=pytest.mark.slow) for seed in (1, 2, 3)),
    ],
)
def test_the_linear_formula_equals_every_path_played_one_by_one(seed, every):
    """For 2,000 situations in the long form; seed 1 meets stations beside posts and stands.

    There a lane is in sight, hidden and in sight again.
    """
    rng = np.random.default_rng(seed)
    context, away, most = load_context(), [], 0.0
    for turn in range(10):
        venue, lenses = venues(rng), KITS[turn % len(KITS)]
        kit = replace(kit_of(lenses), crop_margin=float(rng.choice([1.0, 1.25, 1.5, 2.0])))
        faces, direction = Faces(rng.choice(list(Faces))), Direction(int(rng.choice([-1, 1])))
        scorer = Scorer(perimeter_of(venue, step_yd=STEP_YD), kit, direction, faces)
        batch = situations(rng, SITUATIONS // 10)
        prior = context.prior(venue.rules)
        forecast = context.model.forecast(batch)
        by_start = forecast.cells_by_start(prior, USABLE_WEIGHTS)[0]
        ours = expected_values(scorer, forecast, prior, USABLE_WEIGHTS)[0]
        masses = PathMasses.of(by_start, batch.yardline_100)
        assert ours == pytest.approx(in_double_precision(scorer, masses), abs=1e-6)  # singles
        assert ours == pytest.approx(scorer.expected_value(masses), abs=1e-5)  # thousands of them
        stations = np.flatnonzero(scorer.open)[turn % 3 :: max(1, int(scorer.open.sum()) // 8)]
        point = scorer.paths[0].point[stations].reshape(len(stations), X_YD.size, -1)
        for row in range(0, len(batch), every):
            exact = best_of_paths(point, by_start[row], int(batch.yardline_100[row]))
            away.append(ours[row, stations] - exact)
            most = max(most, float(exact.max()))
    assert most > 0.5
    assert np.abs(np.concatenate(away)).max() <= 1e-5  # sums of singles


def test_a_path_in_a_gap_between_two_lenses_has_nothing_of_what_lies_around_it():
    """A 50 and a 600 leave a gap."""
    kit = replace(kit_of(["50", "600"]), crop_margin=1.0)
    (low, high) = kit.coverage_gaps_yd()[-1]
    distance = np.arange(0.0, X_YD.size)[::-1]
    quality = np.repeat(reach_quality(distance, kit.mounted, crop_margin=1.0)[:, None], 18, axis=1)
    paths = PathQuality.of(quality.reshape(1, -1))
    inside = np.flatnonzero((distance > low) & (distance < high))
    run = np.zeros((1, 3, X_YD.size, 18), dtype=np.float32)
    run[0, CARRY, inside[-1], 3] = 1.0
    for first, had in ((inside[0], 0.0), (inside[0] - 1, 1.0)):  # within it, and from before it
        assert paths.expected(PathMasses.of(run, np.array([GOAL_X - first])))[0, 0] == had


@pytest.mark.parametrize("carried_in", [False, True])
def test_catches_are_distributed_at_or_before_the_end(carried_in):
    p = p_caught_at(carried_in=carried_in)
    assert p.sum(axis=1) == pytest.approx(1.0, abs=1e-6)
    assert np.triu(p, k=1).sum() == 0.0
    if carried_in:  # caught short of the goal line
        assert np.diag(p)[GAINS_YD > 0].max() == 0.0


@pytest.mark.parametrize("season", [(2009, 2018), (2019, 2019)])
def test_catches_lie_where_the_bundled_plays_have_them(season):
    """Mean and quantiles of the yards after the catch by gain, as counted and on 2019."""
    seasons = range(season[0], season[1] + 1)
    columns = ["kind", "gain_yd", "air_yd", "touchdown"]
    plays = load_plays(columns=columns, seasons=list(seasons), season_type="REG")
    caught = plays[(plays["kind"] == "complete") & plays["air_yd"].notna() & ~plays["touchdown"]]
    gain = caught["gain_yd"].to_numpy(np.int64)
    after = np.maximum(gain - caught["air_yd"].to_numpy(np.int64), 0)
    model = p_caught_at(carried_in=False)
    for low, high in ((0, 3), (4, 6), (7, 9), (10, 14), (15, 19), (20, 29), (30, 49)):
        some = (gain >= low) & (gain <= high)
        rows = model[gain[some] - GAINS_YD[0]]
        back = (gain[some][:, None] - GAINS_YD[None, :]).clip(0)
        expected = np.bincount(back.ravel(), weights=rows.ravel()) / some.sum()
        yards = np.arange(expected.size)
        error = after[some].std() / np.sqrt(some.sum())
        assert expected @ yards == pytest.approx(after[some].mean(), abs=0.15 + 3 * error)
        below = np.cumsum(expected)
        for share in (0.25, 0.5, 0.75, 0.9):
            at = np.quantile(after[some], share)
            # The share of plays up to that many yards: a whole yard holds some of them.
            assert below[int(at)] == pytest.approx((after[some] <= at).mean(), abs=0.06)


def test_a_run_through_the_line_is_had_from_ahead_though_it_ends_out_of_reach():
    """The case that a place of the end alone gets wrong."""
    venue = standard_venue("pro")
    scorer = Scorer(perimeter_of(venue, step_yd=2.0), kit_of(["70-200"]))
    run = np.zeros((1, 3, X_YD.size, 18), dtype=np.float32)
    run[0, CARRY, 60 + 25, 3] = 1.0  # 25 yards along a lane near the right sideline
    x, y = scorer.xy_yd
    station = int(np.argmin(np.hypot(x - 70.0, y + 4.0)))
    scorer.__dict__["open"] = np.ones(len(x), dtype=bool)
    p = scorer.expected_value(PathMasses.of(run, np.array([50])))[0, station]
    end_only = PathMasses.of(np.roll(run, POINT - CARRY, axis=1), np.array([50]))
    assert end_only.ends.sum() == end_only.starts.sum() == 1.0
    assert p == 1.0
    assert scorer.expected_value(end_only)[0, station] == 0.0


def test_what_is_had_by_start_sums_to_the_expected_value():
    context, venue = load_context(), standard_venue("pro")
    scorer = Scorer(perimeter_of(venue, step_yd=8.0), kit_of(["300"]))
    situation = Situation(2, 7, 35)
    prior = context.prior(venue.rules)
    masses = Masses.of(context.forecast(situation), prior, Assignment().weights)
    paths, lines = scorer.paths[0], np.full(len(scorer.perimeter), 35)
    had = paths.had_by_start(np.arange(len(lines)), lines)
    for number, mass in enumerate((masses.plain, masses.value)):
        ours = np.einsum("nsxy,sxy->n", had, masses.by_start[number])
        assert ours == pytest.approx(scorer.expected_value(mass)[0], abs=2e-3)
