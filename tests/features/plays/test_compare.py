"""Seasons compared: against published values of the seasons themselves."""

import json

import pytest
from click.testing import CliRunner
from tests.support.play_files import take

from lensyard.errors import DataError
from lensyard.features.plays import compute
from lensyard.features.plays.cli import data_command
from lensyard.plays.store import load_plays, shared_store


def _value(season, name):
    found = {m.name: m.value for m in compute.measure_season(shared_store(), season)}[name]
    assert found is not None
    return found


@pytest.mark.parametrize(
    ("season", "name", "published", "tolerance"),
    [
        # Extra points: the try moved from the 2 to the 15 in 2015 (thegruelingtruth, 2017: 2013-14
        # 2463/2476, 2015-16 2259/2405). One season lies within 1 point of two.
        (2014, "extra_point_made_share", 0.995, 0.01),
        (2015, "extra_point_made_share", 0.939, 0.01),
        # Verhei, Football Outsiders, week 13 of 2018: three quarters of the season.
        (2018, "completion_share", 0.652, 0.01),
    ],
)
def test_measures_are_those_that_were_published(season, name, published, tolerance):
    assert _value(season, name) == pytest.approx(published, abs=tolerance)


@pytest.mark.parametrize(
    ("season", "kickoff", "touchback"),
    [(2010, 30, 20), (2012, 35, 20), (2015, 35, 20), (2016, 35, 25), (2019, 35, 25)],
)
def test_play_starts_where_the_rules_of_the_season_put_it(season, kickoff, touchback):
    # NFL Official Playing Rules 2021, R6. Penalties on the kick move a few starts by 5 to 15 yd.
    assert _value(season, "start_after_touchback") == pytest.approx(touchback, abs=0.4)
    lines = load_plays(["yardline_100"], seasons=[season], kinds=["kickoff"])["yardline_100"]
    assert 100 - lines.mode()[0] == kickoff


def test_the_drift_of_a_rule_change_stands_out_and_little_else_does():
    rows = {row.name: row for row in compute.compare_seasons(shared_store(), 2010, 2011).measures}
    touchback = rows["touchback_share"]
    assert touchback.differs
    assert touchback.difference is not None
    assert touchback.difference > 0.2  # the kickoff moved five yards ahead in 2011
    same = {row.name for row in rows.values() if not row.differs}
    assert {"sack_share", "yards_per_play", "touchdown_share"} <= same


@pytest.mark.slow
def test_a_season_compared_with_itself_does_not_differ(nflverse_file):
    take(nflverse_file(where="season = 2019 AND week <= 2"))
    comparison = compute.compare_seasons(shared_store(), 2031, 2031)
    assert all(row.difference in (0.0, None) for row in comparison.measures)
    assert not any(row.differs for row in comparison.measures)


def test_errors_count_games_not_plays():
    # A share of plays from few, large games must have a larger error than binomial counting gives.
    (measured,) = [
        m for m in compute.measure_season(shared_store(), 2019) if m.name == "pass_share"
    ]
    assert measured.value is not None
    assert measured.error is not None
    binomial = (measured.value * (1 - measured.value) / measured.base) ** 0.5
    assert measured.error > binomial
    assert measured.games == 256


def test_a_season_that_is_not_there_says_so():
    with pytest.raises(DataError, match="no REG plays of 1950"):
        compute.compare_seasons(shared_store(), 1950, 2019)


def test_the_command_shows_every_measure_and_the_sources():
    arguments = ["compare", "2018", "2019"]
    done = CliRunner().invoke(data_command, arguments, catch_exceptions=False)
    assert done.exit_code == 0
    shown = " ".join(done.stdout.split())
    assert "Unlicense" in shown
    assert "by chance alone" in shown
    done = CliRunner().invoke(data_command, [*arguments, "--json"], catch_exceptions=False)
    listed = [measure["name"] for measure in json.loads(done.stdout)["measures"]]
    assert listed == [measure.name for measure in compute.MEASURES]
