"""``lensyard crew``: exact for a play, marginal for a game, a sheet and a card for everybody."""

import json
import re
from itertools import pairwise

import numpy as np
import pytest
from click.testing import CliRunner
from tests.support.card_planes import answers_alone, facts_in

from lensyard.cli import group
from lensyard.domain.assignment import FRAMES, Assignment, FrameKind
from lensyard.domain.field import Direction
from lensyard.domain.kit import DEMO_KIT
from lensyard.domain.places import spot_label
from lensyard.domain.situation import Zone
from lensyard.domain.venue import standard_venue
from lensyard.features.card.grid import CardGrid
from lensyard.features.crew.compute import CrewRequest, member_plans
from lensyard.model.context import load_context
from lensyard.planner.decision import decide

SHORT = ("--lens", "70-200", "--faces", "offense")
SECOND = ("--down", "2", "--distance", "8", "--ball", "opp30")


@pytest.fixture
def crew(document):
    """Return what is said of a crew for a play, by names and roles."""
    return lambda *who, play=SECOND: document(
        "crew", *SHORT, *(word for one in who for word in ("--who", one)), *play
    )


@pytest.mark.parametrize("ball", ["own25", "opp18"])
def test_a_crew_of_one_stands_where_next_sends_them(document, ball):
    first = (*SHORT, "--down", "1", "--ball", ball)
    answer = document("crew", "--shooters", "1", *first)
    best, *_ = document("next", *first, "--by", "value")["spots"]
    # The ranking's sum lets a path behind a goal post count less than nothing.
    assert answer["value"] == pytest.approx(best["value"], rel=4e-3)
    assert answer["alone"] == pytest.approx(answer["value"], rel=4e-3)
    assert answer["proven"]


@pytest.mark.slow
def test_more_photographers_never_have_less_and_nobody_beats_the_bound(document):
    found = [document("crew", "--shooters", n, *SHORT, *SECOND) for n in "123"]
    for one, more in pairwise(found):
        assert more["value"] >= one["value"] - 1e-9
    for answer in found:
        assert answer["greedy_value"] <= answer["value"] + 1e-9 <= answer["bound"] + 1e-6
        assert answer["proven"]
        assert sum(spot["added"] for spot in answer["spots"]) == pytest.approx(answer["value"])


@pytest.mark.slow
def test_the_words_name_everybody_and_the_proof(run, document):
    asked = ("crew", "--kit", "70-200", "--kit", "70-200 + 400", "--down", "1", "--ball", "opp18")
    answer, text = document(*asked), " ".join(run(*asked, "--more")[1].split())
    share = answer["value"] / answer["total_value"]
    assert f"Together they have {share:.0%} of the value" in text
    assert all(spot["label"] in text and spot["role"] for spot in answer["spots"])
    assert "No crew does better" in text
    assert "Photographer 1 carries 70-200 (1 body" in text
    assert {"schema_version", "model", "cautions"} <= set(answer)
    assert all("station_index" not in spot for spot in answer["spots"])


def test_who_is_not_needed_is_told(run, document):
    asked = ("crew", "--shooters", "6", "--down", "1", "--ball", "opp1")
    answer, text = document(*asked), " ".join(run(*asked, "--more")[1].split())
    assert len(answer["spots"]) + len(answer["idle"]) == 6
    assert text.count("free for features") >= len(answer["idle"])


def test_a_crew_for_the_defense_stands_behind_the_offense(document):
    third = ("--down", "3", "--distance", "9", "--ball", "own40")
    answer = document("crew", "--shooters", "1", "--lens", "70-200", "--faces", "defense", *third)
    # Common practice, and the geometry of faces: the defense looks at the offense.
    assert answer["spots"][0]["x_yd"] < 50.0


def test_roles_say_where_one_may_stand_and_who_is_there_for_no_play(crew, run):
    names = ("Ann=end-zone", "Ben", "Cleo=features", "Dee")
    answer = crew(*names)
    spots = {spot["shooter"]: spot for spot in answer["spots"]}
    assert not 0.0 <= spots[1]["x_yd"] <= 120.0
    assert 0.0 <= spots[2]["x_yd"] <= 120.0
    assert 3 in answer["idle"]
    assert [one["name"] for one in answer["members"]] == ["Ann", "Ben", "Cleo", "Dee"]
    who = (word for one in names for word in ("--who", one))
    text = " ".join(run("crew", *SHORT, *who, *SECOND)[1].split())
    assert spots[2]["label"] in text
    assert "Cleo is there for features" in text
    assert "Cleo is free for features" not in text  # that is their role, not news


def test_the_safe_spot_is_the_likeliest_and_the_others_go_elsewhere(crew, document):
    third = ("--down", "3", "--distance", "7", "--ball", "opp35")
    likeliest, *_ = document("next", *SHORT, *third)["spots"]
    ann, ben = crew("Ann", "Ben=safe-spot", play=third)["spots"]
    assert ben["p_usable"] == pytest.approx(likeliest["p_usable"], abs=4e-3)
    assert (ann["x_yd"], ann["y_yd"]) != (ben["x_yd"], ben["y_yd"])


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("--who", "Ann", "--who", "ann"), "the same name"),
        (("--who", "Ann=goalie"), "roaming, end-zone, safe-spot, features"),
        (("--who", "Ann=features", "--who", "Ben=features"), "leave somebody for the plays"),
        (
            ("--who", "Ann", "--who", "Ben", "--shooters", "1"),
            "2 photographers are named, and there are 1",
        ),
        (("--who", "=features"), "1 to 40 printable characters"),
        (("--who", "A\x1b[2J"), "printable"),
        (("--shooters", "3", "--kit", "400", "--kit", "200"), "2 kits for 3"),
        (("--shooters", "13"), "12"),
        (("--shooters", "7", "--game"), "at most 6"),
    ],
)
def test_a_crew_that_cannot_be_is_refused(run, arguments, says):
    play = () if "--game" in arguments else SECOND
    code, out, err = run("crew", *arguments, *play)
    assert (code, out) == (2, "")
    assert says in " ".join(err.split())


@pytest.fixture(scope="module")
def game(tmp_path_factory):
    """A game of three with a sheet and a card each: the document, and the folder."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("LENSYARD_CACHE_DIR", str(tmp_path_factory.mktemp("plans")))
        folder = tmp_path_factory.mktemp("crew")
        asked = ["crew", "--who", "Ann", "--who", "Ben", "--who", "Cleo=features", "--game"]
        said = CliRunner().invoke(group, [*asked, "--json", "--out", str(folder)])
    assert said.exit_code == 0, said.output
    return json.loads(said.stdout), folder


@pytest.mark.slow
def test_over_a_game_the_second_adds_to_the_first(game):
    found, _ = game
    assert found["usable_per_game"] == pytest.approx(sum(found["added_usable_per_game"]))
    assert found["alone_usable_per_game"] == pytest.approx(found["added_usable_per_game"][0])
    assert found["usable_per_game"] > found["alone_usable_per_game"] + 5
    assert found["value_share"] > found["alone_value_share"]
    own = {
        (spot["shooter"], spot["direction"]): spot["on_sideline_a"]
        for spot in found["zones"]
        if spot["zone"] == "own 21-40"
    }
    # Two sidelines: the second is on the other side where the first works a sideline.
    for direction in ("toward A", "toward B"):
        assert own[1, direction] != own[2, direction]


@pytest.mark.slow
def test_a_resting_place_is_named_where_it_is(game):
    venue = standard_venue()
    for spot in game[0]["zones"]:
        direction = Direction.TOWARD_B if spot["direction"] == "toward B" else Direction.TOWARD_A
        names = venue.names(direction)
        assert spot["label"] == spot_label(x_yd=spot["x_yd"], y_yd=spot["y_yd"], names=names)


@pytest.mark.slow
def test_everybody_has_a_sheet_and_a_card_with_what_the_others_cover(game):
    found, folder = game
    told, frames = [], []
    for i in (1, 2, 3):
        assert (folder / f"crew-{i}-sheet.pdf").read_bytes().startswith(b"%PDF")
        facts = facts_in((folder / f"crew-{i}-card.html").read_text(encoding="utf-8"))
        told.append(dict(facts["facts"]))
        frames.append({frame["key"] for frame in facts["frames"]})
    # Who is there for features has the frames of life, the others share those of the plays.
    assert frames[2] == {key for key, frame in FRAMES.items() if frame.kind is FrameKind.LIFE}
    assert set().union(*frames) == set(FRAMES)
    assert told[1]["Crew"].startswith("Ben, roaming")
    places = {(s["shooter"], s["zone"]): s["label"] for s in found["zones"] if s["added"] > 0.05}
    for zone in Zone:
        line = told[1][f"Ball in {zone.value}"]
        if (1, zone.value) in places:
            assert "Ann: " in line


@pytest.mark.slow
def test_a_place_that_adds_nothing_is_free_for_features(run):
    """Six with a lens that reaches three yards: near the goal line nobody adds anything."""
    asked = ("crew", "--game", "--shooters", "6", "--lens", "35", "--more")
    code, out, err = run(*asked)
    assert code == 0, err
    assert len(re.findall(r"free for features|features", out)) > 6


@pytest.mark.slow
def test_a_card_decides_by_what_the_others_leave():
    context, kits = load_context(), (DEMO_KIT, DEMO_KIT)
    first, second = member_plans(context, CrewRequest(kits, standard_venue(), Assignment()))
    assert first.left is not None
    assert second.left is not None
    assert first.left.min() == 1.0
    assert 0.0 <= second.left.min() < 0.5 < second.left.max() <= 1.0
    grid, direction = CardGrid.of(3), Direction.TOWARD_A
    answers = answers_alone(context, second, 3, direction)
    rng = np.random.default_rng(5)
    for row in rng.integers(len(grid), size=12):
        situation = grid.situation(int(row), 3)
        for standing in rng.integers(len(second.scorers[0].perimeter), size=3):
            told = decide(context, second, situation, standing=int(standing), direction=direction)
            assert answers["choice"][row, standing] == told.station
