"""What is imported is used: listed, credited, backtested, fitted; through the command line too."""

import json
import re
from contextlib import suppress

import pytest
from click.testing import CliRunner
from tests.support.part_of_season import part_of_season
from tests.support.play_files import take

from lensyard.cli import main
from lensyard.domain.kit import kit_of
from lensyard.errors import DataError, InvalidInputError, LensyardError, UnknownNameError
from lensyard.features.plays.cli import data_command
from lensyard.features.zones.compute import ZonesRequest, count_zones
from lensyard.model.context import load_context
from lensyard.planner.plans import PlanRequest
from lensyard.planner.season import backtest
from lensyard.planner.season_data import stored_season
from lensyard.plays.store import shared_store

RUNNER = CliRunner()


def _run(*arguments):
    done = RUNNER.invoke(data_command, list(arguments), catch_exceptions=False)
    assert done.exit_code == 0, done.output
    return " ".join(done.stdout.split())


@pytest.mark.slow
def test_a_backtest_runs_on_an_imported_season_that_the_model_never_saw(nflverse_file):
    report = take(nflverse_file())
    context = load_context()
    assert 2031 not in context.model.manifest.seasons
    request = PlanRequest(kit_of(["70-200", "300"]), step_yd=4.0)
    plays = part_of_season(2031, games=99, training=2018, training_games=12)
    result = backtest(context, request, plays)
    assert result.games == report.games
    assert 500 < result.plays < report.kept  # kicks, tries and penalties do not count
    by_name = {policy.name: policy for policy in result.policies}
    assert by_name["plan"].value_share > by_name["level"].value_share
    assert by_name["hindsight"].value_share >= by_name["plan"].value_share


@pytest.mark.slow
def test_import_list_check_remove_on_the_command_line(nflverse_file):
    bad = "SELECT * REPLACE (if(play_id = 75, 7, down) AS down) FROM plays"
    path = nflverse_file("weeks.parquet", change=bad)
    checked = _run("check", str(path))
    assert checked.startswith("An import would store these plays")
    assert "no down from 1 to 4" in checked
    assert "nflverse/2031" not in _run("list")
    imported = json.loads(_run("import", str(path), "--json"))
    (file,) = imported["files"]
    assert (imported["schema_version"], file["changed"], file["source"]) == (2, True, "nflverse")
    assert file["stored"] == file["kept"]
    assert "Nothing changed" in _run("import", str(path))
    listed = json.loads(_run("list", "--rejects", "--json"))
    (entry,) = listed["imported"]
    assert (entry["name"], entry["answers"], entry["license"]) == (
        "nflverse/2031",
        True,
        "CC-BY 4.0",
    )
    assert len(listed["rejects"]) == sum(t["rows"] for t in file["rejected"]) > 0
    assert {row["season"] for row in listed["seasons"]} >= {2019, 2031}
    shown = _run("list", "--rejects")
    assert "CC-BY 4.0" in shown
    assert "weeks.parquet" in shown
    assert "Removed nflverse/2031" in _run("remove", "nflverse/2031")
    assert json.loads(_run("list", "--json"))["imported"] == []


def test_seasons_that_are_bundled_and_other_levels_are_cautioned(nflverse_file, college_file):
    done = RUNNER.invoke(data_command, ["import", str(nflverse_file(season=2018))])
    assert "answers go on using the bundled plays" in " ".join(done.stdout.split())
    done = RUNNER.invoke(data_command, ["import", str(college_file())])
    assert "makes a model of its level" in " ".join(done.stdout.split())


@pytest.mark.slow
def test_a_season_that_is_bundled_too_is_counted_and_played_by_its_source(nflverse_file):
    report = take(nflverse_file(season=2018))
    context, store = load_context(), shared_store()
    answer = count_zones(context, ZonesRequest(seasons=(2018,), source="nflverse"), store)
    assert 0 < answer.plays < report.kept
    assert answer.plays < count_zones(context, ZonesRequest(seasons=(2018,)), store).plays / 20
    assert {each["source"] for each in answer.attributions} == {"nflverse"}
    played = stored_season(context, source="nflverse")
    assert (played.season, played.held_out) == (2018, True)
    assert played.replay().games == report.games
    with pytest.raises(UnknownNameError):
        count_zones(context, ZonesRequest(source="nowhere"), store)


@pytest.mark.slow
def test_results_of_a_season_are_not_those_of_an_earlier_import_of_it(nflverse_file):
    take(nflverse_file(season=2018))
    context = load_context()
    before = stored_season(context, source="nflverse")
    games = before.replay().games
    first = "SELECT * FROM plays WHERE game_id = (SELECT min(game_id) FROM plays)"
    _run("remove", "nflverse/2018")
    take(nflverse_file(season=2018, change=first))
    after = stored_season(context, source="nflverse")
    assert (after.season, after.replay().games) == (before.season, 1)
    assert games > 1
    assert after.key != before.key


def test_every_command_that_counts_or_plays_a_season_takes_its_source(capsys):
    for command in ("zones", "drill", "evidence backtest", "evidence evaluate", "model fit"):
        with suppress(SystemExit):
            main([*command.split(), "--help"])
        assert "--source" in capsys.readouterr().out, command


@pytest.mark.parametrize("name", ["nflverse", "nflverse/25", "/2025", "a/b/c", ""])
def test_a_season_to_remove_is_named_by_source_and_year(name):
    done = RUNNER.invoke(data_command, ["remove", name])
    assert isinstance(done.exception, InvalidInputError)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ((), "absent is not a file"),
        (("--limit-rejects", "101"), "limit_rejects must be between 0 and 100"),
        (("--season", "1900"), "season must be between 1990"),
        (("--mapping", "absent.toml"), "there is no mapping file"),
    ],
)
def test_what_cannot_be_requested_is_refused(tmp_path, arguments, words):
    done = RUNNER.invoke(data_command, ["check", str(tmp_path / "absent"), *arguments])
    assert isinstance(done.exception, LensyardError)
    assert re.search(words, str(done.exception))


def test_of_several_files_those_before_a_refused_one_stay(nflverse_file, tmp_path):
    good = nflverse_file("good.parquet")
    bad = tmp_path / "bad.csv"
    bad.write_text("a,b\n1,2\n")
    done = RUNNER.invoke(data_command, ["import", str(good), str(bad), str(good), "--json"])
    assert isinstance(done.exception, DataError)
    document = json.loads(done.stdout)
    assert [file["file"] for file in document["files"]] == ["good.parquet"]
    assert "no source that is known" in document["failed"]
