"""A game as JSON and back: the same game, or a clear error; and as CSV, safe in a spreadsheet."""

import csv
import io
import json
from dataclasses import fields, replace
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.support.logs import LOG, START, run, set_at

from lensyard.domain.field import HashMark
from lensyard.errors import InvalidInputError
from lensyard.game.document import GameLog, log_text, read_log, safe_cell
from lensyard.game.entry import Capture, Game, LoggedPlay, Result, Team

MOMENTS = st.datetimes(
    min_value=datetime(2000, 1, 1), max_value=datetime(2100, 1, 1), timezones=st.just(UTC)
)
TEXTS = st.text(st.characters(categories=("L", "N", "P", "S")), max_size=30)


@st.composite
def plays(draw):
    yardline = draw(st.integers(1, 99))
    frames = draw(st.none() | st.integers(0, 500))
    return LoggedPlay(
        number=draw(st.integers(1, 9999)),
        logged_at=draw(MOMENTS),
        snap_at=draw(st.none() | MOMENTS),
        quarter=draw(st.integers(1, 5)),
        clock_s=draw(st.none() | st.floats(0, 900)),
        offense=draw(st.sampled_from(Team)),
        direction=draw(st.sampled_from((1, -1))),
        down=draw(st.integers(1, 4)),
        distance_yd=draw(st.integers(1, yardline)),
        yardline_100=yardline,
        hash_mark=draw(st.none() | st.sampled_from(HashMark)),
        score_diff=draw(st.integers(-99, 99)),
        spot=draw(st.sampled_from(("", "left:opp20", "end:left12"))),
        result=draw(st.none() | st.sampled_from(Result)),
        gain_yd=draw(st.none() | st.integers(-60, yardline)),
        end_y_yd=draw(st.none() | st.floats(0, 53)),
        frames=frames,
        keepers=draw(st.none() | st.integers(0, 500 if frames is None else frames)),
        ticks=draw(st.just(()) | st.just(("catch", "drop-back"))),
        note=draw(TEXTS),
    )


@given(play=plays(), home=TEXTS.filter(str.strip))
def test_every_log_comes_back_as_it_was(play, home):
    game = Game("g", home, "Herons", 2026, START, crop_factors=(1.5,), team_area=25.0)
    capture = Capture("a.jpg", START, START, "One", 400.0, play.number, True)
    log = GameLog(game, (play,), (capture, replace(capture, play=None, keeper=None)))
    assert read_log(log_text(log, exported_at=START)) == log


def test_a_log_is_json_with_one_line_a_play():
    text = log_text(LOG, exported_at=START)
    document = json.loads(text)
    assert (document["format"], document["version"]) == ("lensyard-game-log", 3)
    assert sum('"number":' in line for line in text.splitlines()) == len(LOG.plays)


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (set_at("format", "other"), "lensyard log import"),
        (set_at("version", 4), "version 4"),
        (set_at("version", True), "version True"),
        (set_at("surplus", 1), "unknown keys: surplus"),
        (set_at("plays", {}), "plays must be a list"),
        (set_at("plays", 0, "gain_yd", "12"), r"plays\[0\]: gain_yd must be a whole number"),
        (set_at("plays", 0, "gain_yd", True), "gain_yd must be a whole number"),
        (set_at("plays", 0, "gain_yd", 2**40), "gain_yd must be a whole number"),
        (set_at("plays", 0, "clock_s", float("nan")), "clock_s"),
        (set_at("plays", 0, "gain_yd", 36), "goal line was only 35"),
        (set_at("plays", 0, "result", "somersault"), "result must be one of"),
        (set_at("plays", 0, "logged_at", "yesterday"), "logged_at"),
        (set_at("plays", 0, "logged_at", "2026-10-03T19:00:00"), "logged_at"),
        (set_at("plays", 0, "ticks", "catch"), "ticks must be a list"),
        (set_at("plays", 0, "ticks", ["not a key"]), "keys such as drop-back"),
        (set_at("plays", 0, "keepers", 9), "only 8 frames"),
        (set_at("plays", 0, "note", "two\nlines"), "note must be"),
        (set_at("plays", 0, "extra", 1), "unknown 'extra'"),
        (set_at("plays", 1, "number", 1), "each once"),
        (set_at("game", "game_id", "../up"), "lower-case letters"),
        (set_at("game", "home", " "), "need a name"),
        (set_at("game", []), "named fields"),
        (set_at("captures", [{}]), r"captures\[0\]"),
    ],
)
def test_whatever_is_wrong_is_named_and_refused(change, says):
    document = json.loads(log_text(LOG, exported_at=START))
    change(document)
    with pytest.raises(InvalidInputError, match=says):
        read_log(json.dumps(document))


@given(cut=st.integers(1, 3000))
def test_a_file_cut_short_is_refused(cut):
    play = LoggedPlay(1, START + timedelta(minutes=1), 1, Team.AWAY, 50)
    text = log_text(GameLog(Game("g", "A", "B", 2026, START), (play,)), exported_at=START)
    with pytest.raises(InvalidInputError):
        read_log(text[: max(len(text) - 1 - cut, 0)])


def test_the_same_key_twice_is_refused():
    text = log_text(LOG, exported_at=START)
    with pytest.raises(InvalidInputError, match="twice"):
        read_log(text.replace('"game":', '"format": "x", "game":', 1))


def test_nesting_without_end_is_refused():
    with pytest.raises(InvalidInputError):
        read_log("[" * 100_000)


# --- CSV -----------------------------------------------------------------------------------------


# The triggers as the Open Worldwide Application Security Project lists them, "CSV Injection".
@given(text=st.text(max_size=40) | st.from_regex(r"[=+\-@\t\r].?", fullmatch=True))
def test_no_text_begins_like_a_formula(text):
    assert safe_cell(text) == (f"'{text}" if text.startswith(tuple("=+-@\t\r")) else text)


@given(number=st.integers() | st.floats(allow_nan=False, allow_infinity=False))
def test_numbers_stay_numbers(number):
    assert safe_cell(number) == number
    assert not isinstance(safe_cell(number), str)


def test_a_csv_reader_gets_the_plays_back(tmp_path, monkeypatch, capsys):
    evil = replace(LOG.plays[0], note="=HYPERLINK(1)", gain_yd=-4)
    game = replace(LOG.game, home="+Otters", away='-He"rons, the')
    monkeypatch.setenv("LENSYARD_DATA_DIR", str(tmp_path / "data"))
    (tmp_path / "log.json").write_text(log_text(GameLog(game, (evil,)), exported_at=START))
    assert run(capsys, "log", "restore", str(tmp_path / "log.json"))[0] == 0
    code, out, _ = run(capsys, "log", "export", "--form", "csv", "--game", game.game_id)
    assert code == 0
    (row,) = csv.DictReader(io.StringIO(out))
    assert set(row) == {"game_id", "home", "away", *(field.name for field in fields(LoggedPlay))}
    assert (row["note"], row["home"]) == ("'=HYPERLINK(1)", "'+Otters")
    assert row["away"] == "'-He\"rons, the"
    assert (row["gain_yd"], row["snap_at"]) == ("-4", "")
