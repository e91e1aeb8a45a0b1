"""The page "Crew": who stands where for a play, and where each rests over a game."""

import re

import pytest

PLAY = ("--down", "3", "--distance", "7", "--ball", "opp35", "--shooters", "3")
QUERY = {"down": "3", "distance": "7", "ball": "opp35", "shooters": "3"}


@pytest.mark.slow
def test_the_page_says_who_stands_where_and_marks_them_on_the_field(open_page, said, document):
    answer = document("crew", *PLAY)
    app = open_page("crew", **QUERY)
    assert not app.exception
    told = said(app)
    for spot in answer["spots"]:
        assert f"{spot['shooter']} " in told
        assert spot["label"] in told
        assert spot["role"][1:] in told
    assert f"bound {answer['bound']:.3f}" in told
    assert answer["cautions"][0] in told


@pytest.mark.slow
def test_more_photographers_miss_less(open_page, said):
    app = open_page("crew", **QUERY)
    app.button_group(key="next_shooters").set_value(2).run()
    assert "At least one of 2 has" in said(app)
    two = said(app)
    app.button_group(key="next_shooters").set_value(5).run()
    assert "At least one of 5 has" in said(app)
    assert app.query_params["shooters"] in ("5", ["5"])

    def share(text):
        return int(re.search(r"has >?(\d+)%", text)[1])  # type: ignore[index]

    assert share(two) < share(said(app))


@pytest.mark.slow
def test_what_cannot_be_is_a_sentence_and_the_field_stays(open_page):
    app = open_page("crew", **QUERY)
    app.text_area(key="next_carried").set_value("400\n300").run()
    assert not app.exception
    assert "2 kits for 3 photographers" in app.error[0].value.replace("\\", "")
    assert app.get("bidi_component")


@pytest.mark.slow
def test_a_game_is_planned_for_the_crew_and_zones_move_ball_and_address(open_page, finished, said):
    app = open_page("crew", crew="game", shooters="2", carried=["200", "135"], ball="opp50")
    app = finished(app)
    assert not app.exception
    assert "2 photographers bring" in said(app)
    assert "135 (1 body" in said(app)
    assert "no bound is claimed" in said(app)
    app = app.button_group(key="ly_crew_zone").set_value("red zone 20-6").run()
    assert not app.exception
    assert "Ball in red zone" in said(app)
    assert app.query_params["ball"] in ("opp13", ["opp13"])
