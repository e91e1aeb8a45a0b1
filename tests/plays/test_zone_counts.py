"""Counting ends in SQL, against the same plays one by one."""

import numpy as np
import pytest

from lensyard.domain.situation import zone_of
from lensyard.errors import InvalidInputError
from lensyard.model import lateral_tables, outcome_grid
from lensyard.plays import zone_counts
from lensyard.plays.store import load_plays, shared_store

CUT = zone_counts.PlayFilter(down=3, distance_from_yd=2, distance_to_yd=6, seasons=(2019,))
COLUMNS = (
    "kind", "down", "distance_yd", "yardline_100", "gain_yd", "air_yd", "touchdown", "score_diff",
)  # fmt: skip


def plays_one_by_one():  # type: ignore[no-untyped-def]
    plays = load_plays(columns=COLUMNS, seasons=[2019], kinds=outcome_grid.KINDS)
    return plays[(plays["down"] == 3) & plays["distance_yd"].between(2, 6)]


def test_the_names_are_those_of_the_lateral_prior():
    assert zone_counts.SIDE_NAMES == lateral_tables.SIDES
    assert zone_counts.DEPTH_NAMES == lateral_tables.DEPTHS
    assert zone_counts.GAP_NAMES == lateral_tables.GAPS


def test_every_play_is_counted_once_in_its_zone_with_its_outcome():
    plays, ends = plays_one_by_one(), zone_counts.count_ends(shared_store(), CUT)
    assert ends.plays.sum() == len(plays)
    zone = np.array([zone_counts.ZONES.index(zone_of(int(y))) for y in plays["yardline_100"]])
    np.testing.assert_array_equal(
        np.bincount(ends.zone, weights=ends.plays, minlength=len(zone_counts.ZONES)),
        np.bincount(zone, minlength=len(zone_counts.ZONES)),
    )
    kind = plays["kind"].map({name: i for i, name in enumerate(outcome_grid.KINDS)})
    np.testing.assert_array_equal(
        np.bincount(ends.kind, weights=ends.plays, minlength=6), np.bincount(kind, minlength=6)
    )
    assert ends.plays[ends.outcome == 0].sum() == plays["touchdown"].sum()
    long = (plays["gain_yd"] >= 20) & ~plays["touchdown"] & (plays["kind"] != "sack")
    assert ends.plays[ends.outcome == 1].sum() == long.sum()


def test_the_counted_ends_lie_where_the_plays_ended():
    plays, ends = plays_one_by_one(), zone_counts.count_ends(shared_store(), CUT)
    came_down = plays["kind"].isin(["incomplete", "interception"])
    yards = np.where(came_down, plays["air_yd"].fillna(0), plays["gain_yd"])
    to_goal = plays["yardline_100"] - yards
    deep = plays["air_yd"].fillna(0) >= plays["yardline_100"]
    deep &= came_down | (plays["touchdown"] & (plays["kind"] == "complete"))
    assert ends.plays[ends.in_end_zone == 1].sum() == deep.sum()
    short = ~deep & ~plays["touchdown"]
    counted = (ends.in_end_zone == 0) & (ends.outcome != 0)
    expected = np.bincount(to_goal[short].astype(int) + 10, minlength=140)
    found = np.bincount(ends.to_goal_yd[counted] + 10, weights=ends.plays[counted], minlength=140)
    np.testing.assert_array_equal(found, expected)


def test_the_situations_have_the_plays_means():
    plays, counted = plays_one_by_one(), zone_counts.count_situations(shared_store(), CUT)
    assert counted.plays.sum() == len(plays)
    for name in ("distance_yd", "yardline_100", "score_diff"):
        mean = (getattr(counted, name) * counted.plays).sum() / len(plays)
        assert mean == pytest.approx(plays[name].mean(), abs=1e-9)  # sums of whole numbers
    assert set(counted.down) == {3}


def test_the_bins_of_the_spread_hold_what_stands_for_them():
    upper = (*zone_counts.SPREAD_UP_TO_YD, np.inf)
    lower = (-np.inf, *zone_counts.SPREAD_UP_TO_YD)
    assert len(zone_counts.SPREAD_YD) == len(upper)
    assert all(
        low < x <= high for low, x, high in zip(lower, zone_counts.SPREAD_YD, upper, strict=True)
    )


def test_all_plays_are_some_ten_thousand_rows():
    ends = zone_counts.count_ends(shared_store(), zone_counts.PlayFilter())
    assert ends.plays.sum() > 300_000
    assert len(ends) < 60_000
    assert zone_counts.seasons_of(shared_store(), zone_counts.PlayFilter(seasons=(2018, 2019))) == (
        2018,
        2019,
    )


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ({"down": 5}, "between 1 and 4"),
        ({"distance_from_yd": 8, "distance_to_yd": 3}, "backwards"),
        ({"distance_to_yd": 120}, "between 0 and 99"),
    ],
)
def test_a_filter_that_no_play_fits_is_refused(values, words):
    with pytest.raises(InvalidInputError, match=words):
        zone_counts.PlayFilter(**values)
