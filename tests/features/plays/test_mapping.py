"""Writing a mapping for a spreadsheet: guessed, asked, and read back."""

import tomllib

import pytest
from click.testing import CliRunner
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.support.play_files import check, school_chart

from lensyard.errors import DataError, InvalidInputError
from lensyard.features.plays.cli import data_command
from lensyard.plays.importing.guess import Guess, guess_mapping, mapping_text


@pytest.mark.slow
def test_the_wizard_writes_a_mapping_that_imports(chart, tmp_path):
    runner = CliRunner()
    done = runner.invoke(
        data_command, ["map", str(chart), "--yes", "--us", "RIV", "--season", "2031"]
    )
    assert done.exit_code == 0, done.output
    assert "Q1 RIV, 2 & 5 at its own 40: complete right, 60 yd, touchdown, left hash" in " ".join(
        done.stdout.split()
    )
    written = tmp_path / "week 3.mapping.toml"
    again = runner.invoke(data_command, ["map", str(chart), "--yes"], catch_exceptions=True)
    assert isinstance(again.exception, InvalidInputError)
    report = check(chart, mapping=written)
    assert (report.kept, report.rejected) == (12, ())


def test_the_wizard_takes_answers(chart):
    chart.write_text(chart.read_text().replace("YARD LN", "WHERE"))
    answers = {10: "WHERE"}  # the yard line is the tenth question
    lines = "\n".join(answers.get(at, "") for at in range(1, 24)) + "\nRIV\n2031\n"
    done = CliRunner().invoke(data_command, ["map", str(chart)], input=lines)
    assert done.exit_code == 0, done.output
    assert done.stdout.startswith("12 of 12 rows of week 3.csv are plays")


def test_kinds_spread_over_flags_are_plays(tmp_path):
    """A column for each kind, as tables of statistics have them; two of a pass may hold."""
    path = tmp_path / "flags.csv"
    path.write_text(
        "posteam,defteam,down,ydstogo,yardline_100,rush,pass,complete_pass,interception,punt,yards\n"
        "ASH,OAK,1,10,75,1,0,0,0,0,4\nASH,OAK,2,6,71,0,1,1,0,0,9\nASH,OAK,1,10,62,0,1,0,1,0,0\n"
        "OAK,ASH,4,8,60,0,0,0,0,1,0\nOAK,ASH,1,10,60,1,0,0,0,0,2\n"
    )
    guessed = guess_mapping(path, {}, season=2031)
    assert guessed.columns["yard_line"] == "yardline_100"
    assert guessed.columns["opponent"] == "defteam"
    assert guessed.report is not None
    assert guessed.report.rejected == ()
    assert [play["kind"] for play in guessed.plays] == [
        "run", "complete", "interception", "punt", "run",
    ]  # fmt: skip
    assert "kind" not in " ".join(guessed.doubts)


@pytest.mark.slow
def test_a_mapping_learns_the_words_of_next_week_once_asked(tmp_path):
    first, later = tmp_path / "week 3.csv", tmp_path / "week 4.csv"
    first.write_text(school_chart(40))
    later.write_text(school_chart(40, words=("Dive", "Pass")).replace("Incomplete", "Drop", 1))
    runner, mapping = CliRunner(), tmp_path / "week 3.mapping.toml"
    assert runner.invoke(data_command, ["map", str(first), "--yes"]).exit_code == 0
    before = mapping.read_text()
    how = ["import", str(later), "--mapping", str(mapping)]
    done = runner.invoke(data_command, [*how, "--json"])  # nobody can be asked
    assert isinstance(done.exception, DataError)
    assert "no kind of play that is known" in str(done.exception)
    done = runner.invoke(data_command, how, input="n\n")
    assert isinstance(done.exception, DataError)
    assert "'Dive' as run" in done.stderr
    assert mapping.read_text() == before
    done = runner.invoke(data_command, how, input="y\n")
    assert done.exit_code == 0, done.output
    assert "Stored 40 plays" in done.stdout
    assert {'"Dive" = "run"', '"Drop" = "incomplete"'} <= set(mapping.read_text().splitlines())
    assert "does not know" not in runner.invoke(data_command, how).stderr


@settings(max_examples=200)
@given(st.text(st.characters(exclude_categories=["Cs"]), max_size=60))
def test_any_cell_can_stand_in_a_mapping_and_reads_back(cell):
    guessed = Guess({"down": cell}, values={"kind": {cell: cell}})
    text = mapping_text(guessed, comments=[cell], about={"title": cell}, defaults={"us": cell})
    found = tomllib.loads(text)
    assert (found["title"], found["columns"], found["defaults"]) == (
        cell,
        {"down": cell},
        {"us": cell},
    )
    assert found["values"] == {"kind": {cell: cell}}
