"""Several photographers: exact for a play, marginal for a game."""

import re
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from tests.features.crew.invented import game_of
from tests.support.logs import run

from lensyard.domain.assignment import FRAMES, Faces, FrameKind, assignment_for
from lensyard.domain.crew import members_of
from lensyard.domain.field import Direction
from lensyard.domain.kit import DEMO_KIT, kit_of
from lensyard.domain.situation import Situation, Zone
from lensyard.domain.venue import standard_venue
from lensyard.errors import InvalidInputError
from lensyard.features.card.grid import CardGrid
from lensyard.features.card.tables import answers_alone
from lensyard.features.crew.compute import (
    CrewRequest,
    crew_game,
    crew_play,
    kits_for,
    member_plans,
)
from lensyard.features.crew.report import (
    crew_game_report,
    crew_lines,
    crew_report,
    frames_for,
    member_report,
)
from lensyard.features.next_play.compute import NextRequest, next_play
from lensyard.model.context import load_context
from lensyard.planner.plans import decide
from lensyard.render.text import document, render_text

CONTEXT = load_context()
SHORT = kit_of(["70-200"])


def request_for(*kits, faces=Faces.OFFENSE):
    return CrewRequest(tuple(kits), standard_venue(), assignment_for(faces))


@pytest.mark.parametrize("yardline_100", [75, 18])
def test_a_crew_of_one_stands_where_next_sends_them(yardline_100):
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
def test_more_photographers_never_have_less_and_nobody_beats_the_bound():
    situation = Situation(2, 8, 30)
    values = [crew_play(CONTEXT, request_for(*([SHORT] * n)), situation).crew for n in (1, 2, 3)]
    for one, more in pairwise(values):
        assert more.value >= one.value - 1e-9
    for crew in values:
        assert crew.greedy_value <= crew.value + 1e-9 <= crew.bound + 1e-6
        assert crew.proven
        assert sum(spot.added for spot in crew.spots) == pytest.approx(crew.value)


def test_kits_are_one_for_all_or_one_each():
    assert kits_for(3, [SHORT]) == (SHORT, SHORT, SHORT)
    assert kits_for(None, [SHORT, DEMO_KIT]) == (SHORT, DEMO_KIT)
    with pytest.raises(InvalidInputError, match="2 kits for 3"):
        kits_for(3, [SHORT, DEMO_KIT])
    with pytest.raises(InvalidInputError, match="1 to 12"):
        request_for(*([SHORT] * 13))


@pytest.mark.slow
def test_the_words_name_everybody_and_the_proof():
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
def game():
    return crew_game(CONTEXT, request_for(DEMO_KIT, DEMO_KIT))


@pytest.mark.slow
def test_over_a_game_the_second_adds_to_the_first(game):
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


@pytest.mark.slow
def test_the_words_and_the_document_of_a_game(game):
    report = crew_game_report(game)
    assert report.headline.startswith("2 photographers bring")
    assert "no bound is claimed" in report.notes[0]
    made = document(game)
    assert {"schema_version", "model", "cautions", "zones", "value_share"} <= set(made)
    assert {zone["direction"] for zone in made["zones"]} == {"toward A", "toward B"}
    with pytest.raises(InvalidInputError, match="at most 6"):
        crew_game(CONTEXT, request_for(*([SHORT] * 7)))


def test_a_crew_for_the_defense_stands_behind_the_offense():
    answer = crew_play(CONTEXT, request_for(SHORT, faces=Faces.DEFENSE), Situation(3, 9, 60))
    # Common practice, and the geometry of faces: the defense looks at the offense.
    assert answer.crew.spots[0].x_yd < 50.0


def named(*texts):
    members = members_of(list(texts), size=len(texts))
    assignment = assignment_for(Faces.OFFENSE)
    return CrewRequest((SHORT,) * len(texts), standard_venue(), assignment, named=members)


def test_roles_say_where_one_may_stand_and_who_is_there_for_no_play():
    situation = Situation(2, 8, 30)
    answer = crew_play(CONTEXT, named("Ann=end-zone", "Ben", "Cleo=features", "Dee"), situation)
    spots = {spot.shooter: spot for spot in answer.crew.spots}
    assert not 0.0 <= spots[1].x_yd <= 120.0
    assert 0.0 <= spots[2].x_yd <= 120.0
    assert 3 in answer.crew.idle
    text = " ".join(render_text(crew_report(answer)).split())
    assert f"Ben {spots[2].label}".replace("Ben ", "") in text
    assert "Cleo is there for features" in text
    assert "Cleo is free for features" not in text  # that is their role, not news
    assert [one["name"] for one in document(answer)["members"]] == ["Ann", "Ben", "Cleo", "Dee"]


def test_the_safe_spot_is_the_likeliest_and_the_others_go_elsewhere():
    situation = Situation(3, 7, 35)
    answer = crew_play(CONTEXT, named("Ann", "Ben=safe-spot"), situation)
    likeliest = next_play(
        CONTEXT,
        NextRequest(situation, kit=SHORT, assignment=assignment_for(Faces.OFFENSE)),
    ).ranking.spots[0]
    ann, ben = answer.crew.spots
    assert ben.p_usable == pytest.approx(likeliest.p_usable, abs=4e-3)
    assert (ann.x_yd, ann.y_yd) != (ben.x_yd, ben.y_yd)


@pytest.mark.parametrize(
    ("texts", "size", "says"),
    [
        (["Ann", "ann"], 2, "the same name"),
        (["Ann=goalie"], 1, "roaming, end-zone, safe-spot, features"),
        (["Ann=features", "Ben=features"], 2, "leave somebody for the plays"),
        (["Ann", "Ben"], 1, "2 photographers are named, and there are 1"),
        (["=features"], 1, "1 to 40 printable characters"),
        (["A\x1b[2J"], 1, "printable"),
    ],
)
def test_a_crew_that_cannot_be_is_refused(texts, size, says):
    with pytest.raises(InvalidInputError, match=re.escape(says)):
        members_of(texts, size=size)


def test_everybody_has_a_sheet_with_what_the_others_cover():
    game = game_of(named("Ann=end-zone", "Ben", "Cleo=features"))
    assert [f.kind for f in frames_for(game, 3)] == [FrameKind.LIFE] * len(frames_for(game, 3))
    assert set(frames_for(game, 1)) | set(frames_for(game, 3)) == set(FRAMES.values())
    sheet = member_report(game, 1)
    table = sheet.table("places")
    assert [column.label for column in table.columns] == ["Ball in", "You", "Ben", "Cleo"]
    assert [row[0] for row in table.rows] == [zone.value for zone in Zone]
    told = dict(crew_lines(game, 2))
    assert told["Crew"].startswith("Ben, roaming")
    for row in table.rows:
        assert row[2] in told[f"Ball in {row[0]}"]  # what Ann's sheet says of Ben is Ben's own
        assert f"Ann: {row[1]}" in told[f"Ball in {row[0]}"]
    nothing = replace(
        game, zones=tuple(replace(z, added=0.0) if z.shooter == 2 else z for z in game.zones)
    )
    assert "a place of yours adds nothing: shoot features" in member_report(nothing, 2).sentences[1]


@pytest.mark.slow
def test_sheets_and_cards_are_written_and_a_card_decides_by_what_the_others_leave(tmp_path, capsys):
    request = replace(named("Ann", "Ben"), kits=(DEMO_KIT, DEMO_KIT))
    first, second = member_plans(CONTEXT, request)
    assert first.left is not None
    assert second.left is not None
    assert first.left.min() == 1.0
    assert 0.0 <= second.left.min() < 0.5 < second.left.max() <= 1.0
    grid = CardGrid.of(3)
    answers = answers_alone(CONTEXT, second, grid, Direction.TOWARD_A)
    rng = np.random.default_rng(5)
    for row in rng.integers(len(grid), size=12):
        for standing in rng.integers(len(second.scorers[0].perimeter), size=3):
            told = decide(
                CONTEXT,
                second,
                grid.situation(int(row), 3),
                standing=int(standing),
                direction=Direction.TOWARD_A,
            )
            assert answers.choice[0][row, standing] == told.station
    code, out, err = run(capsys, "crew", "--who", "Ann", "--who", "Ben", "--game",
                         "--out", str(tmp_path / "crew"))  # fmt: skip
    assert (code, len(list((tmp_path / "crew").iterdir()))) == (0, 4), err
    assert (tmp_path / "crew" / "crew-2-sheet.pdf").read_bytes().startswith(b"%PDF")
    assert "Ben" in out
