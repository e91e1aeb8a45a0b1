"""The ball changes hands in one option and one tap; places by their own names; what cannot be."""

import json
from typing import TYPE_CHECKING

import pytest

from lensyard.dashboard.controls import Controls

if TYPE_CHECKING:
    pass

SCHOOL = ("next", "--venue", "tamarack-fork")


@pytest.mark.slow
def test_flip_asks_the_same_ground_for_the_other_offense(run):
    third = ("--down", "3", "--distance", "7", "--ball", "opp35", "--hash", "left", "--score", "3")
    place = ("--standing", "home sideline, road end's 10")
    flipped = run(*SCHOOL, *third, *place, "--attacking", "road end", "--flip", "--json")
    said = ("--down", "1", "--ball", "own35", "--hash", "right", "--score", "-3")
    asked = run(
        *SCHOOL, *said, *place, "--attacking", "creek end", "--ball-changed-hands", "--json"
    )
    assert flipped[0] == 0
    assert flipped[1] == asked[1]
    typed = run(*SCHOOL, *third, "--standing", "left:opp10", "--attacking", "B", "--flip", "--json")
    other = run(
        *SCHOOL, *said, "--standing", "right:own10", "--attacking", "A", "--ball-changed-hands",
        "--json",
    )  # fmt: skip
    assert typed[1] == other[1]


def test_every_place_of_an_answer_says_the_side_that_the_venue_names(document):
    for end in ("road end", "creek end"):
        found = document(*SCHOOL, "--down", "1", "--ball", "opp35", "--attacking", end)
        for spot in (*found["spots"], *(habit for habit in found["habits"])):
            first = spot["label"].partition(",")[0]
            assert first in ("home sideline", "visitors' sideline") or "end" in first
            assert "(offense's " in spot["label"]


def test_a_habit_that_gives_way_says_to_what(run):
    """Between the 30s the sidelines of a professional field are team areas."""
    out = " ".join(run("next", "--down", "1", "--ball", "opp35", "--more")[1].split())
    assert "opponent's 35" in out
    assert "(team area)" in out


def test_the_log_takes_a_place_by_the_venue_s_names(run, data_folder):
    start = ("log", "start", "--home", "Otters", "--away", "Herons", "--venue", "tamarack-fork")
    assert run(*start)[0] == 0
    place = "home sideline, creek end's 22"
    add = ("log", "add", "--down", "1", "--ball", "opp35", "--attacking", "B", "--json")
    code, out, _ = run(*add, "--spot", place)
    assert code == 0
    assert json.loads(out)["play"]["spot"] == "left:opp22"
    code, out, _ = run("log", "edit", "1", "--spot", "visitors' sideline, road end's 30", "--json")
    assert (code, json.loads(out)["play"]["spot"]) == (0, "right:own30")
    assert run(*add, "--spot", "grandstand, row 3")[0] == 2


@pytest.mark.parametrize(
    ("words", "refused"),
    [
        (
            ("next", "--down", "2", "--distance", "75", "--ball", "own25"),
            "2nd and goal at its own 25 comes in no game",
        ),
        (
            ("log", "add", "--down", "2", "--ball", "own30", "--result", "sack", "--gain", "8"),
            "a sack gains nothing",
        ),
        (
            ("next", "--down", "1", "--ball", "own25", "--venue", "nowhere"),
            "must be one of brindle-prairie, tamarack-fork; got 'nowhere'",
        ),
    ],
)
def test_what_cannot_be_is_refused_with_a_sentence(run, data_folder, words, refused):
    assert run("log", "start", "--home", "Otters", "--away", "Herons")[0] == 0
    code, out, err = run(*words)
    assert code == 2
    assert refused in " ".join(err.split())
    assert out == ""


def test_a_place_typed_by_the_venue_s_names_is_held_as_the_offense_has_it():
    controls = Controls(venue_name="tamarack-fork", attacking="B")
    typed = controls.chosen("standing", "home sideline, creek end's 22")
    assert typed.standing == "left:opp22"


def test_one_tap_on_the_page_gives_the_other_team_the_ball(open_page):
    app = open_page("next-play", down="3", distance="7", ball="opp35", standing="left:opp20")
    app = app.button(key="ly_flip").click().run()
    assert not app.exception
    asked = {name: app.query_params[name] for name in ("down", "distance", "ball", "attacking")}
    said = {name: value if isinstance(value, str) else value[-1] for name, value in asked.items()}
    assert said == {"down": "1", "distance": "10", "ball": "own35", "attacking": "A"}
