"""The page "Review": the demo where there is no log, what a game brought, and which game."""

import pytest
from tests.support.logs import DEMO, start

from lensyard.features.game_log.compute import install_demo
from lensyard.game.logbook import open_log

DEMO_ID = "demo"
CHOICE_KEY = "ly_review_of"


@pytest.fixture(autouse=True, scope="module")
def _plans(tmp_path_factory):
    """A folder for the plans of these tests."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("LENSYARD_CACHE_DIR", str(tmp_path_factory.mktemp("plans")))
        yield


@pytest.fixture
def demo(data_folder):
    """A folder with the demo game."""
    with open_log(data_folder) as book:
        install_demo(book)
    return data_folder


@pytest.mark.slow
def test_without_a_log_the_demo_is_offered_and_reviewed_with_a_tap(
    open_page, finished, said, data_folder
):
    app = open_page("review")
    assert not app.exception
    assert "No game is in your log yet" in said(app)
    assert list(data_folder.iterdir()) == []
    app = finished(app.button(key="ly_review_demo").click().run())
    assert not app.exception
    told = said(app)
    assert "of 54 plays usable; the plan would have had" in told
    assert "Saltgrass Kites at Brindle Prairie Marmots" in told
    assert "missing:" in told


@pytest.mark.slow
def test_a_season_and_the_own_reach_stand_in_the_address(open_page, finished, said, demo):
    app = finished(open_page("review"))
    assert app.selectbox(key=CHOICE_KEY).value == f"game {DEMO_ID}"
    assert "With your own reach" not in said(app)
    app = finished(app.selectbox(key=CHOICE_KEY).set_value("season 2026").run())
    assert "Season 2026:" in said(app)
    app = finished(app.button_group(key="next_own_reach").set_value(True).run())
    assert not app.exception
    assert "With your own reach" in said(app)
    assert app.query_params["season"] in ("2026", ["2026"])
    assert app.query_params["reach"] in ("own", ["own"])
    again = finished(open_page("review", season="2026"))
    assert again.selectbox(key=CHOICE_KEY).value == "season 2026"


@pytest.mark.slow
def test_a_log_that_changed_is_read_again(open_page, finished, said, demo):
    app = finished(open_page("review"))
    start(demo)
    app = finished(app.run())
    choice = app.selectbox(key=CHOICE_KEY)
    assert choice.value == "game g"
    games = [option for option in choice.options if not option.startswith("Season")]
    assert len(games) == 2
    assert games[0].startswith("Herons at Otters")  # the latest first
    assert "nothing to review" in app.error[0].value


@pytest.mark.slow
@pytest.mark.parametrize(
    ("query", "told"),
    [({"game": "nowhere"}, "nowhere"), ({"season": "1999"}, "no game of season 1999")],
)
def test_what_is_not_in_the_log_is_a_sentence_in_place(open_page, finished, demo, query, told):
    app = finished(open_page("review", **query))
    assert not app.exception
    assert told in app.error[0].value.replace("\\", "")
    app = finished(app.selectbox(key=CHOICE_KEY).set_value(f"game {DEMO_ID}").run())
    assert not app.error


@pytest.mark.slow
def test_matched_frames_have_captions_by_a_template_and_a_bad_one_is_said(
    open_page, finished, said, demo
):
    from lensyard.features.captions.compute import match_captures
    from lensyard.features.captions.exif import read_times

    with open_log(demo) as book:
        log = book.log(DEMO_ID)
        times = read_times(DEMO / "frames", zone=log.game.zone())
        found = match_captures(log, times, offsets={}, find_clocks=True)
        book.set_captures(log, found.counted, found.captures)
    app = finished(open_page("review"))
    assert not app.exception
    assert "3rd and 13 at Saltgrass Kites 22: complete pass for 27 yards" in said(app)
    app.text_area(key=f"ly_template_{DEMO_ID}").set_value("[dance]").run()
    assert "a placeholder must be one of" in app.error[0].value.lower()
