"""The page "Crew": who stands where for a play, and where each rests over a game."""

import re
from dataclasses import replace
from xml.etree import ElementTree

import pytest
from tests.features.crew.invented import game_of

from lensyard.dashboard.controls import Controls
from lensyard.domain.field import Direction
from lensyard.domain.places import spot_label
from lensyard.domain.situation import Zone
from lensyard.features.crew import page as crew_page
from lensyard.features.crew.compute import CrewRequest, crew_play
from lensyard.features.crew.report import FREE, crew_game_report, crew_report, play_picture
from lensyard.model.context import load_context
from lensyard.render.field.draw import description_of, field_svg
from lensyard.render.theme import THEMES

PLAY = Controls(down=3, distance_yd=7, yardline_100=35, shooters=3)
QUERY = {"down": "3", "distance": "7", "ball": "opp35", "shooters": "3"}


@pytest.fixture(scope="module")
def answer():
    return crew_play(load_context(), crew_page.request_of(PLAY), PLAY.situation())


@pytest.fixture
def game():
    return game_of(crew_page.request_of(Controls(shooters=3, whole_game=True)))


# Who works where.


def test_each_line_is_one_photographers_kit():
    request = crew_page.request_of(Controls(shooters=2, carried="400\n\n24-70 + 70-200"))
    assert [kit.text.split(" (")[0] for kit in request.kits] == ["400", "24-70 + 70-200"]


# One play.


@pytest.mark.slow
def test_the_page_says_who_stands_where(open_page, said, answer):
    app = open_page("crew", **QUERY)
    assert not app.exception
    told = said(app)
    for spot in answer.crew.spots:
        assert f"{spot.shooter} " in told
        assert spot.label in told
        assert spot.role[1:] in told
    assert f"bound {answer.crew.bound:.3f}" in told
    assert answer.cautions[0] in told


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


def test_every_photographer_is_on_the_picture(answer):
    picture = play_picture(answer)
    assert [(m.rank, m.x_yd, m.y_yd) for m in picture.spots] == [
        (s.shooter, s.x_yd, s.y_yd) for s in answer.crew.spots
    ]
    told = description_of(picture)
    assert all(spot.label in told and spot.role in told for spot in answer.crew.spots)


def test_who_is_not_needed_is_told():
    controls = Controls(down=1, distance_yd=1, yardline_100=1, shooters=6)
    found = crew_play(load_context(), crew_page.request_of(controls), controls.situation())
    assert len(found.crew.spots) + len(found.crew.idle) == 6
    told = " ".join(crew_report(found).sentences)
    assert ("free for features" in told) or not found.crew.idle
    rows = crew_report(found).table("spots").rows
    assert sorted(row[0] for row in rows) == list("123456")
    assert {row[0] for row in rows if row[1] == FREE} >= {str(n) for n in found.crew.idle}


# A game.


@pytest.fixture
def planned(monkeypatch):
    """What the service was asked, answered with invented figures."""
    asked: list[CrewRequest] = []

    def answer(_, request, **how):
        asked.append(request)
        how["progress"]("plans")
        return game_of(request)

    monkeypatch.setattr(crew_page, "crew_game", answer)
    return asked


def test_a_game_is_planned_for_the_crew(open_page, finished, said, planned):
    app = finished(open_page("crew", crew="game", shooters="2", carried=["300", "600"]))
    assert not app.exception
    assert [kit.text.split(" (")[0] for kit in planned[-1].kits] == ["300", "600"]
    assert "2 photographers bring 70 usable plays a game (50%)" in said(app)
    assert "no bound is claimed" in said(app)


def test_the_zones_move_the_ball_and_the_address(open_page, finished, said, planned):
    app = finished(open_page("crew", crew="game", ball="opp50", shooters="2", lens="135"))
    app = app.button_group(key=crew_page.ZONE_KEY).set_value(Zone.RED_ZONE.value).run()
    assert not app.exception
    assert "Ball in red zone" in said(app)
    assert app.query_params["ball"] in ("opp13", ["opp13"])


@pytest.mark.parametrize("theme", THEMES.values(), ids=list(THEMES))
@pytest.mark.parametrize("wide", [True, False])
def test_a_zone_is_drawn_with_numbers_where_the_labels_say(game, theme, wide):
    (view,) = crew_game_report(game, zone=Zone.RED_ZONE).fields
    names = game.request.venue.names(Direction.TOWARD_B)
    for mark in view.picture.spots:
        assert mark.label == spot_label(x_yd=mark.x_yd, y_yd=mark.y_yd, names=names)
    tree = ElementTree.fromstring(
        field_svg(view.picture, theme=theme, orientation=("vertical", "horizontal")[wide])
    )
    (spots,) = (e for e in tree.iter() if e.get("data-role") == "spots")
    numbers = [e.text for e in spots.iter() if e.tag.endswith("text")]
    assert sorted(numbers) == ["1", "2", "3"]
    assert "%" not in "".join(e.text or "" for e in tree.iter())


def test_a_place_that_adds_nothing_is_free_for_features(game):
    left = tuple(s for s in game.zones if s.shooter < 3)
    nothing = tuple(replace(s, added=0.004) for s in game.zones if s.shooter == 3)
    for zones in (left, left + nothing):
        report = crew_game_report(replace(game, zones=zones), zone=Zone.RED_ZONE)
        rows = [row for row in report.table("resting").rows if row[1] == "3"]
        assert {row[2] for row in rows} == {FREE}
        (view,) = report.fields
        assert {mark.rank for mark in view.picture.spots} == {1, 2}
