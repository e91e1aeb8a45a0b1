"""Logging from the page "Next play": one tap, and one tap takes it back."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest
from tests.support.logs import log_in

Open = Callable[..., AppTest]
SITUATION = {"down": "3", "distance": "7", "ball": "opp35"}


def keys(app: AppTest) -> set[str]:
    return {button.key for button in app.button}


@pytest.fixture
def game(open_page: Open) -> AppTest:
    """A page with a game going on."""
    app = open_page(**SITUATION, assignment="newspaper", standing="left:opp40")
    app.text_input(key="ly_home").set_value("Otters")
    app.text_input(key="ly_away").set_value("Herons")
    return app.button(key="ly_start_game").click().run()


def test_without_a_game_there_is_nothing_to_log_and_no_file(
    open_page: Open, data_folder: Path
) -> None:
    app = open_page(**SITUATION)
    assert "ly_start_game" in keys(app)
    assert not {"ly_went", "ly_stayed", "ly_undo"} & keys(app)
    assert list(data_folder.iterdir()) == []


@pytest.mark.slow
def test_one_tap_logs_the_play_from_the_best_spot(game: AppTest, data_folder: Path) -> None:
    assert not game.exception
    game.button(key="ly_went").click().run()
    (play,) = log_in(data_folder).plays
    assert (play.down, play.distance_yd, play.yardline_100) == (3, 7, 35)
    assert play.hash_mark is None
    assert play.clock_s is None
    assert play.quarter == 1
    # Who went there stands there now.
    assert game.text_input(key="next_standing").value == play.spot
    assert any("Play 1 is logged" in caption.value for caption in game.caption)


@pytest.mark.slow
def test_one_tap_logs_the_play_from_where_one_stands(game: AppTest, data_folder: Path) -> None:
    game.button(key="ly_stayed").click().run()
    (play,) = log_in(data_folder).plays
    assert play.spot == "left:opp40"


@pytest.mark.slow
def test_undo_takes_the_play_back(game: AppTest, data_folder: Path) -> None:
    game.button(key="ly_went").click().run()
    game.button(key="ly_undo").click().run()
    assert log_in(data_folder).plays == ()
    game.button(key="ly_undo").click().run()
    assert any("nothing left to undo" in error.value for error in game.error)
    assert not game.exception


@pytest.mark.slow
def test_a_result_is_kept_and_moves_the_ball(game: AppTest, data_folder: Path) -> None:
    game.button(key="ly_went").click().run()
    game.button_group(key="ly_result").set_value("complete")
    game.number_input(key="ly_gain").set_value(9)
    game.button(key="ly_save_result").click().run()
    (play,) = log_in(data_folder).plays
    assert (play.result, play.gain_yd) == ("complete", 9)
    assert game.button_group(key="next_down").value == 1
    assert game.select_slider(key="next_yardline_100").value == 26


@pytest.mark.slow
def test_a_ticked_shot_counts_less_in_the_next_answer(game: AppTest, data_folder: Path) -> None:
    game.checkbox(key="ly_shot_touchdown_off").check().run()
    assert not game.exception
    assert log_in(data_folder).ticked == ("touchdown",)
    assert game.session_state["ly_log"].ticked == ("touchdown",)
    game.checkbox(key="ly_shot_touchdown_on").uncheck().run()
    assert log_in(data_folder).ticked == ()


@pytest.mark.slow
def test_the_game_goes_on_in_another_session(game: AppTest, open_page: Open) -> None:
    game.button(key="ly_went").click().run()
    again = open_page(**SITUATION)
    assert {"ly_went", "ly_undo"} <= keys(again)


@pytest.mark.slow
def test_a_damaged_log_is_a_sentence_and_the_answer_stays(
    open_page: Open, data_folder: Path
) -> None:
    (data_folder / "games.duckdb").write_bytes(b"this is no log")
    app = open_page(**SITUATION)
    assert not app.exception
    assert len(app.error) == 1
    assert any("of plays usable" in html.body for html in app.get("html"))


@pytest.mark.slow
def test_the_demo_is_offered_on_a_first_visit(open_page: Open, data_folder: Path) -> None:
    app = open_page()
    app.button(key="ly_demo").click().run()
    assert not app.exception
    assert log_in(data_folder).game.game_id == "demo"
    assert "ly_demo" not in keys(app)
