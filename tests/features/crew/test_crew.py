"""Several photographers: exact for a play, marginal for a game."""

from __future__ import annotations

from itertools import pairwise

import pytest

from lensyard.domain.assignment import Faces, assignment_for
from lensyard.domain.field import Direction
from lensyard.domain.kit import DEMO_KIT, kit_of
from lensyard.domain.situation import Situation
from lensyard.domain.venue import standard_venue
from lensyard.errors import InvalidInputError
from lensyard.features.crew.compute import CrewGame, CrewRequest, crew_game, crew_play, kits_for
from lensyard.features.crew.report import crew_game_report, crew_report
from lensyard.features.next_play.compute import NextRequest, next_play
from lensyard.model.context import load_context
from lensyard.render.text import document, render_text

CONTEXT = load_context()
SHORT = kit_of(["70-200"])


def request_for(*kits: object, faces: Faces = Faces.OFFENSE) -> CrewRequest:
    return CrewRequest(tuple(kits), standard_venue(), assignment_for(faces))


@pytest.mark.parametrize("yardline_100", [75, 18])
def test_a_crew_of_one_stands_where_next_sends_them(yardline_100: int) -> None:
    situation = Situation(1, min(10, yardline_100), yardline_100)
    answer = crew_play(CONTEXT, request_for(SHORT), situation)
    alone = next_play(
        CONTEXT,
        NextRequest(situation, kit=SHORT, assignment=assignment_for(Faces.OFFENSE), by_value=True),
    )
    # The ranking's sum lets a path behind a goal post count less than nothing.
    assert answer.crew.value == pytest.approx(alone.ranking.spots[0].value, rel=4e-3)
    assert answer.alone == pytest.approx(answer.crew.value, rel=4e-3)
    assert answer.crew.proven


@pytest.mark.slow
def test_more_photographers_never_have_less_and_nobody_beats_the_bound() -> None:
    situation = Situation(2, 8, 30)
    values = [crew_play(CONTEXT, request_for(*([SHORT] * n)), situation).crew for n in (1, 2, 3)]
    for one, more in pairwise(values):
        assert more.value >= one.value - 1e-9
    for crew in values:
        assert crew.greedy_value <= crew.value + 1e-9 <= crew.bound + 1e-6
        assert crew.proven
        assert sum(spot.added for spot in crew.spots) == pytest.approx(crew.value)


def test_kits_are_one_for_all_or_one_each() -> None:
    assert kits_for(3, [SHORT]) == (SHORT, SHORT, SHORT)
    assert kits_for(None, [SHORT, DEMO_KIT]) == (SHORT, DEMO_KIT)
    with pytest.raises(InvalidInputError, match="2 kits for 3"):
        kits_for(3, [SHORT, DEMO_KIT])
    with pytest.raises(InvalidInputError, match="1 to 12"):
        request_for(*([SHORT] * 13))


@pytest.mark.slow
def test_the_words_name_everybody_and_the_proof() -> None:
    answer = crew_play(CONTEXT, request_for(SHORT, DEMO_KIT), Situation(1, 10, 18))
    report = crew_report(answer)
    text = " ".join(render_text(report).split())
    share = answer.crew.value / answer.crew.total_value
    assert f"Together they have {share:.0%} of the value" in text
    assert all(spot.label in report.headline for spot in answer.crew.spots)
    assert "No crew does better" in text
    assert "Photographer 1 carries 70-200 (1 body" in text
    made = document(answer)
    assert {"schema_version", "model", "cautions", "spots", "bound", "proven"} <= set(made)
    assert all("station_index" not in spot and spot["role"] for spot in made["spots"])


@pytest.fixture(scope="module")
def game() -> CrewGame:
    return crew_game(CONTEXT, request_for(DEMO_KIT, DEMO_KIT))


@pytest.mark.slow
def test_over_a_game_the_second_adds_to_the_first(game: CrewGame) -> None:
    assert game.usable_per_game == pytest.approx(sum(game.added_usable_per_game))
    assert game.alone_usable_per_game == pytest.approx(game.added_usable_per_game[0])
    assert game.usable_per_game > game.alone_usable_per_game + 5
    assert game.value_share > game.alone_value_share
    # two sidelines: the second is on the other side where the first works a sideline
    own = {
        (spot.shooter, spot.direction): spot.on_sideline_a
        for spot in game.zones
        if spot.zone.name == "OWN_21_40"
    }
    for direction in Direction:
        assert own[1, direction] != own[2, direction]


def test_the_words_and_the_document_of_a_game(game: CrewGame) -> None:
    report = crew_game_report(game)
    assert report.headline.startswith("2 photographers bring")
    assert "no bound is claimed" in report.notes[0]
    made = document(game)
    assert {"schema_version", "model", "cautions", "zones", "value_share"} <= set(made)
    assert {zone["direction"] for zone in made["zones"]} == {"toward A", "toward B"}
    with pytest.raises(InvalidInputError, match="at most 6"):
        crew_game(CONTEXT, request_for(*([SHORT] * 7)))


def test_a_crew_for_the_defense_stands_behind_the_offense() -> None:
    answer = crew_play(CONTEXT, request_for(SHORT, faces=Faces.DEFENSE), Situation(3, 9, 60))
    # Common practice, and the geometry of faces: the defense looks at the offense.
    assert answer.crew.spots[0].x_yd < 50.0
