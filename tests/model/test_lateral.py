"""The lateral prior: hash marks of every rule set, label shares, and its laws."""

import numpy as np
import pytest
from data.recipes.label_shares import measure_labels
from hypothesis import given
from hypothesis import strategies as st
from tests.support.field import CENTER_Y_YD

from lensyard.domain.field import RULES
from lensyard.model import lateral, lateral_tables
from lensyard.model import outcome_grid as grid

PRIORS = {name: lateral.LateralPrior.build(rules=rules) for name, rules in RULES.items()}


def test_from_the_left_hash_more_plays_end_out_on_the_left():
    ratio = {}
    for name, prior in PRIORS.items():
        places = prior.side_pmf(kind=grid.RUN, yards=8, hash_code=0)
        ratio[name] = places[-1] / places[0]
    assert 1 < ratio["pro"] < ratio["college"] < ratio["high-school"]


@pytest.mark.slow
def test_bundled_shares_are_what_the_bundled_plays_say(fitted_plays):
    again, bundled = measure_labels(fitted_plays), lateral_tables.bundled_shares()
    # Rounded literals (6e-5); the rest lets a few plays be read anew without a new prior.
    np.testing.assert_allclose(bundled.weight, again.weight, atol=0.005)
    np.testing.assert_allclose(bundled.p_out, again.p_out, atol=0.005)
    np.testing.assert_allclose(bundled.after_catch_yd, again.after_catch_yd, atol=0.1)


def test_out_of_bounds_share_by_gain_holds_on_the_season_left_out(bundled_plays):
    season = bundled_plays[(bundled_plays["season"] == 2019) & ~bundled_plays["touchdown"]]
    for kind in (grid.RUN, grid.COMPLETE, grid.SCRAMBLE):
        rows = season[season["kind"] == grid.KINDS[kind]]
        for low, high in ((-20, 3), (4, 9), (10, 19), (20, 99)):
            inside = rows[rows["gain_yd"].between(low, high)]
            table = PRIORS["pro"].by_gain[grid.GAIN_KINDS.index(kind), :, :, [0, 17]].sum(axis=0)
            p_out = table[inside["gain_yd"].to_numpy() - grid.GAIN_MIN_YD] @ np.array(
                lateral.START_HASH_SHARES
            )
            seen = inside["out_of_bounds"].mean()
            # Three standard errors of the season, and .02 for steps between gain buckets.
            error = np.sqrt(seen * (1 - seen) / len(inside))
            assert p_out.mean() == pytest.approx(seen, abs=0.02 + 3 * error), (kind, low)


@given(
    rules=st.sampled_from(sorted(RULES)),
    kind=st.integers(0, 5),
    yards=st.integers(-30, 120),
    hash_code=st.integers(0, 2),
)
def test_mass_is_one_and_mirrors(rules, kind, yards, hash_code):
    pmf = PRIORS[rules].side_pmf(kind=kind, yards=yards, hash_code=hash_code)
    other = PRIORS[rules].side_pmf(kind=kind, yards=yards, hash_code=2 - hash_code)
    assert pmf.sum() == pytest.approx(1.0, abs=1e-12)
    assert (pmf >= 0).all()
    np.testing.assert_allclose(pmf, other[::-1], atol=1e-15)  # mirrored by construction


@given(kind=st.integers(0, 5), yards=st.integers(-10, 70))
def test_wider_hash_marks_move_the_play_farther(kind, yards):
    def shift(rules):
        places = PRIORS[rules].side_pmf(kind=kind, yards=yards, hash_code=0)
        return float(places @ grid.Y_YD) - CENTER_Y_YD

    assert 0 < shift("pro") < shift("college") < shift("high-school")


def test_incompletions_that_come_down_beyond_a_sideline_are_few_but_some():
    short = PRIORS["pro"].side_pmf(kind=grid.INCOMPLETE, yards=8, hash_code=1)
    deep = PRIORS["pro"].side_pmf(kind=grid.INCOMPLETE, yards=30, hash_code=1)
    # The outermost measured percentiles of deep targets (5 %) lie at the sideline, 26.7 yd from
    # the middle; of short ones a yard or two inside it.
    assert short[[0, 17]].sum() < 0.05 < deep[[0, 17]].sum() < 0.15


@pytest.mark.parametrize(
    ("lines", "kinds", "buckets", "since"),
    [
        ("1-5", (grid.RUN, grid.COMPLETE, grid.INCOMPLETE), 3, 2016),
        ("95-97", (grid.RUN,), 6, 2009),
        ("98-99", (grid.RUN,), 6, 2009),
    ],
)
def test_shares_near_the_goal_lines_are_what_the_bundled_plays_say(
    bundled_plays, lines, kinds, buckets, since
):
    regular = bundled_plays[bundled_plays["season_type"] == "REG"]
    there = regular["yardline_100"].isin(lateral_tables.NEAR_GOAL_LINES[lines])
    near = measure_labels(regular[there & regular["season"].between(since, 2018)])
    bundled = lateral_tables.shares_of_lines(lateral_tables.bundled_shares(), lines)
    for kind in kinds:
        # What is bundled is rounded to four digits.
        expected = near.weight[kind, :buckets]
        assert bundled.weight[kind, :buckets] == pytest.approx(expected, abs=2e-4)


def test_an_unknown_hash_is_the_mixture_of_the_known_ones():
    for kind, yards in ((grid.RUN, 4), (grid.COMPLETE, 12), (grid.INCOMPLETE, 20)):
        known = np.stack(
            [PRIORS["pro"].side_pmf(kind=kind, yards=yards, hash_code=c) for c in range(3)]
        )
        unknown = PRIORS["pro"].side_pmf(kind=kind, yards=yards, hash_code=3)
        assert unknown == pytest.approx(PRIORS["pro"].hash_shares @ known, abs=1e-12)
        assert unknown == pytest.approx(unknown[::-1], abs=1e-9)


def test_the_chain_of_hash_marks_settles_where_real_snaps_start():
    # Measured lateral tables, 2022-2025. The chain is typical plays only (no penalties, no starts
    # of drives), so .02.
    assert PRIORS["pro"].hash_shares == pytest.approx(lateral.START_HASH_SHARES, abs=0.02)
