"""Logging from the page "Next play": one tap, and one tap takes it back."""

import pytest
from tests.support.logs import log_in, start

from lensyard.errors import InvalidInputError

SITUATION = {"down": "3", "distance": "7", "ball": "opp35"}


def keys(app):
    return {button.key for button in app.button}


@pytest.fixture
def game(open_page):
    """A page with a game going on."""
    app = open_page(**SITUATION, assignment="newspaper", standing="left:opp40")
    app.text_input(key="ly_home").set_value("Otters")
    app.text_input(key="ly_away").set_value("Herons")
    return app.button(key="ly_start_game").click().run()


def test_without_a_game_there_is_nothing_to_log_and_no_file(open_page, data_folder):
    app = open_page(**SITUATION)
    assert "ly_start_game" in keys(app)
    assert not {"ly_went", "ly_say_kick", "ly_undo"} & keys(app)
    assert list(data_folder.iterdir()) == []


def say(app, *names):
    for name in names:
        app.button(key=f"ly_say_{name}").click().run()
        assert not app.exception
    return app


def shown(app):
    controls = app.session_state["next_state"].controls
    return controls.situation().text(), controls.attacking, controls.standing


@pytest.mark.slow
def test_one_button_logs_the_play_and_sets_up_the_next(game, data_folder):
    say(game, "incomplete")
    (play,) = log_in(data_folder).plays
    assert (play.down, play.distance_yd, play.yardline_100) == (3, 7, 35)
    assert (play.hash_mark, play.clock_s, play.quarter) == (None, None, 1)
    assert (play.spot, play.result) == ("left:opp40", "incomplete")
    assert shown(game) == ("4th and 7 at the opponent's 35", "B", "left:opp40")
    assert any("Play 1 is logged" in caption.value for caption in game.caption)
    assert any(
        "Herons at Otters: Otters, 4th and 7" in one.value.replace("\\", "") for one in game.caption
    )
    game.button(key="ly_undo").click().run()
    assert log_in(data_folder).plays == ()
    game.button(key="ly_undo").click().run()
    assert any("nothing left to undo" in error.value for error in game.error)


@pytest.mark.slow
def test_scores_tries_and_kickoffs_follow_each_other(game, data_folder):
    say(game, "score", "touchdown", "good")
    # What is shown is the receivers' first snap, and where one stands as they see it.
    assert shown(game) == ("1st and 10 at its own 35", "A", "right:own40")
    say(game, "out")
    assert shown(game)[:2] == ("1st and 10 at its own 40", "A")
    say(game, "flag", "holding", "turnover", "touchback")
    assert shown(game)[:2] == ("1st and 10 at its own 20", "B")
    plays = log_in(data_folder).plays
    assert [play.result for play in plays] == [
        "gain", "field-goal", "kick", "no-play", "interception",
    ]  # fmt: skip
    assert [play.offense for play in plays] == ["home", "home", "home", "away", "away"]
    assert [play.score_diff for play in plays] == [0, 6, 7, -7, -7]
    say(game, "quarter")
    assert shown(game)[:2] == ("1st and 10 at its own 20", "A")
    assert log_in(data_folder).plays[-1].ends_quarter


@pytest.mark.slow
def test_the_toggle_gives_the_other_team_the_ball(game, data_folder):
    game.button(key="ly_possession").click().run()
    assert shown(game) == ("1st and 10 at its own 35", "A", "right:own40")
    say(game, "incomplete")
    (play,) = log_in(data_folder).plays
    assert (play.offense, play.direction, play.yardline_100) == ("away", -1, 65)
    game.button(key="ly_possession").click().run()
    say(game, "incomplete")
    assert [one.offense for one in log_in(data_folder).plays] == ["away", "home"]


@pytest.mark.slow
def test_a_second_game_is_refused_until_one_says_so(game, open_page, data_folder):
    with pytest.raises(InvalidInputError, match="is going on"):
        start(data_folder, game_id="other")
    again = open_page(**SITUATION)
    assert "ly_start_game" not in keys(again)  # the game that is going on is taken up


@pytest.mark.slow
def test_a_ticked_shot_counts_less_in_the_next_answer(game, data_folder):
    game.checkbox(key="ly_shot_touchdown_off").check().run()
    assert not game.exception
    assert log_in(data_folder).ticked == ("touchdown",)
    assert game.session_state["ly_log"].ticked == ("touchdown",)
    game.checkbox(key="ly_shot_touchdown_on").uncheck().run()
    assert log_in(data_folder).ticked == ()


@pytest.mark.slow
def test_the_game_goes_on_in_another_session(game, open_page):
    say(game, "incomplete")
    again = open_page(**SITUATION)
    assert {"ly_went", "ly_undo"} <= keys(again)


@pytest.mark.slow
def test_a_damaged_log_is_a_sentence_and_the_answer_stays(open_page, data_folder):
    (data_folder / "games").mkdir(parents=True)
    (data_folder / "games" / "week-5.json").write_bytes(b"this is no log")
    app = open_page(**SITUATION)
    assert not app.exception
    assert len(app.error) == 1
    assert any("of plays give a usable frame" in html.body for html in app.get("html"))


@pytest.mark.slow
def test_the_demo_is_offered_on_a_first_visit(open_page, data_folder):
    app = open_page()
    app.button(key="ly_demo").click().run()
    assert not app.exception
    assert log_in(data_folder).game.game_id == "demo"
    assert "ly_demo" not in keys(app)
