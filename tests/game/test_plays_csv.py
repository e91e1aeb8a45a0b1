"""The CSV of a game: safe in a spreadsheet, numbers stay numbers."""

from __future__ import annotations

import csv
import io
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.support.logs import LOG

from lensyard.game.document import GameLog, plays_csv, safe_cell
from lensyard.game.entry import LoggedPlay
from lensyard.game.fields import fields_of

LAW = settings(deadline=None, derandomize=True, max_examples=60)

# The triggers as the Open Worldwide Application Security Project lists them, "CSV Injection".
TRIGGERS = "=+-@\t\r"


@LAW
@given(text=st.text(max_size=40))
def test_no_text_begins_like_a_formula(text: str) -> None:
    cell = safe_cell(text)
    assert not cell.startswith(tuple(TRIGGERS))
    assert cell.removeprefix("'") in (text, text.removeprefix("'"))


@pytest.mark.parametrize("trigger", TRIGGERS)
def test_each_trigger_gets_an_apostrophe(trigger: str) -> None:
    assert safe_cell(f"{trigger}1") == f"'{trigger}1"


@LAW
@given(number=st.integers() | st.floats(allow_nan=False, allow_infinity=False))
def test_numbers_stay_numbers(number: float) -> None:
    assert safe_cell(number) == number
    assert not isinstance(safe_cell(number), str)


def test_a_csv_reader_gets_the_plays_back() -> None:
    evil = replace(LOG.plays[0], note="=HYPERLINK(1)", gain_yd=-4)
    game = replace(LOG.game, home="+Otters", away='-He"rons, the')
    rows = list(csv.DictReader(io.StringIO(plays_csv(GameLog(game, (evil,))))))
    assert set(rows[0]) == {"game_id", "home", "away", *(f.name for f in fields_of(LoggedPlay))}
    assert rows[0]["note"] == "'=HYPERLINK(1)"
    assert rows[0]["home"] == "'+Otters"
    assert rows[0]["away"] == "'-He\"rons, the"
    assert rows[0]["gain_yd"] == "-4"
    assert rows[0]["snap_at"] == ""
