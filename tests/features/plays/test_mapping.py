"""Writing a mapping for a spreadsheet: guessed, asked, and read back."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest
from click.testing import CliRunner
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.support.play_files import check

from lensyard.errors import InvalidInputError
from lensyard.features.plays.cli import data_command
from lensyard.plays.importing.guess import Guess, mapping_text


@pytest.mark.slow
def test_the_wizard_writes_a_mapping_that_imports(chart: Path, tmp_path: Path) -> None:
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


def test_the_wizard_takes_answers(chart: Path) -> None:
    chart.write_text(chart.read_text().replace("YARD LN", "WHERE"))
    answers = {10: "WHERE"}  # the yard line is the tenth question
    lines = "\n".join(answers.get(at, "") for at in range(1, 24)) + "\nRIV\n2031\n"
    done = CliRunner().invoke(data_command, ["map", str(chart)], input=lines)
    assert done.exit_code == 0, done.output
    assert done.stdout.startswith("12 of 12 rows of week 3.csv are plays")


@settings(max_examples=200, deadline=None, derandomize=True)
@given(st.text(st.characters(exclude_categories=["Cs"]), max_size=60))
def test_any_cell_can_stand_in_a_mapping_and_reads_back(cell: str) -> None:
    guessed = Guess({"down": cell}, values={"kind": {cell: cell}})
    text = mapping_text(guessed, comments=[cell], about={"title": cell}, defaults={"us": cell})
    found = tomllib.loads(text)
    assert (found["title"], found["columns"], found["defaults"]) == (
        cell,
        {"down": cell},
        {"us": cell},
    )
    assert found["values"] == {"kind": {cell: cell}}
