"""Importing what the offline card saved."""

from __future__ import annotations

import json
from copy import deepcopy
from typing import Any

import pytest
from tests.support.logs import log_in, set_at, start, take_card, undo

from lensyard.domain.field import Direction
from lensyard.domain.perimeter import perimeter_of
from lensyard.domain.places import parse_standing
from lensyard.domain.venue import standard_venue
from lensyard.errors import InvalidInputError
from lensyard.game.document import read_card_export
from lensyard.game.entry import Team

PLACE = {"x_yd": 92.1, "y_yd": -2.0, "label": "offense's right sideline, opponent's 18"}
RESULT = {"result": "gain", "end_yardline_100": 33, "first_down": False, "ends_quarter": False}
EXPORT: dict[str, Any] = {
    "format": "lensyard-card-export",
    "version": 2,
    "exported_at": "2026-10-03T21:04:11.120Z",
    "card": {
        "key": "9f2c" * 16, "model": "m", "venue": "v", "rules": "pro", "kit": "k",
        "assignment": "both teams", "ends": ["south", "north"],
    },
    "plays": [
        {
            "at": "2026-10-03T19:41:07.003Z", "quarter": 2, "direction": "B", "phase": "scrimmage",
            "offense": "away", "down": 3, "distance_yd": 7, "ball": "opp35", "yardline_100": 35,
            "score_diff": -3, "hash": "middle", "ball_changed_hands": False,
            "standing": {"x_yd": 124.0, "y_yd": 41.0, "label": "behind the end line"},
            "answer": {**PLACE, "p_usable": 0.41, "walk_yd": 9.8}, **RESULT,
        },
        {
            "at": "2026-10-03T19:42:00.000Z", "quarter": 2, "direction": "B", "phase": "scrimmage",
            "offense": "away", "down": 4, "distance_yd": 5, "ball": "opp33", "yardline_100": 33,
            "score_diff": -3, "hash": "left", "ball_changed_hands": False, "standing": None,
            "answer": {**PLACE, "p_usable": 0.4, "walk_yd": None},
            **RESULT, "result": "kick", "end_yardline_100": 4, "ends_quarter": True,
        },
    ],
    "ticks": [
        {"frame": "drop-back", "at": "2026-10-03T19:12:40.551Z"},
        {"frame": "drop-back", "at": "2026-10-03T19:12:41.551Z"},
    ],
}  # fmt: skip


def imported(folder, document):
    return take_card(folder, json.dumps(document))


def test_a_card_becomes_plays_and_ticks_and_a_second_time_adds_nothing(tmp_path):
    start(tmp_path)
    answer = imported(tmp_path, EXPORT)
    first, second = answer.plays
    assert answer.ticked == ("drop-back",)
    assert (first.quarter, first.down, first.distance_yd, first.yardline_100) == (2, 3, 7, 35)
    assert first.spot == "end:left12"
    assert (first.offense, first.score_diff, first.gain_yd) == (Team.AWAY, -3, 2)
    assert (second.quarter, second.spot, second.result) == (2, "", "kick")
    assert answer.next is not None
    assert answer.next.text.startswith("Herons kicks off from own35")  # who received first
    again = imported(tmp_path, EXPORT)
    assert again.log == answer.log
    assert "were there already" in again.text
    undo(tmp_path)
    assert log_in(tmp_path).plays == ()


def test_a_longer_export_of_the_same_card_adds_only_what_is_new(tmp_path):
    start(tmp_path)
    shorter = deepcopy(EXPORT)
    shorter["plays"] = shorter["plays"][:1]
    imported(tmp_path, shorter)
    assert [p.number for p in imported(tmp_path, EXPORT).plays] == [1, 2]


def test_a_hash_mark_that_nobody_set_is_not_known(tmp_path):
    start(tmp_path)
    document = deepcopy(EXPORT)
    document["plays"][0]["hash_known"] = False
    assert [play.hash_mark for play in imported(tmp_path, document).plays] == [None, "left"]


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (set_at("format", "lensyard-game-log"), "log restore"),
        (set_at("version", 3), "version 3"),
        (set_at("version", "2"), "version '2'"),
        (set_at("card", None), "card"),
        (set_at("card", "key", 5), "card: key must be text"),
        (set_at("plays", None), "plays must be a list"),
        (set_at("plays", 0, "down", 5), r"plays\[0\]: down must be between 1 and 4"),
        (set_at("plays", 0, "down", True), "down"),
        (set_at("plays", 0, "distance_yd", 100), "distance_yd"),
        (set_at("plays", 0, "ball", "opp34"), "ball says 34"),
        (set_at("plays", 0, "ball", "here"), "ball"),
        (set_at("plays", 0, "direction", "C"), "one of A, B"),
        (set_at("plays", 0, "hash", "center"), "hash"),
        (set_at("plays", 0, "at", "noon"), "at"),
        (set_at("plays", 0, "standing", "x_yd", 900), "x_yd"),
        (set_at("plays", 0, "standing", "y_yd", None), "y_yd"),
        (set_at("plays", 1, "at", "2026-10-03T19:00:00Z"), "order of time"),
        (set_at("ticks", 0, "frame", "=cmd"), "keys such as"),
        (set_at("ticks", 0, {}), "frame"),
    ],
)
def test_whatever_is_wrong_is_named(change, says):
    document = deepcopy(EXPORT)
    change(document)
    with pytest.raises(InvalidInputError, match=says):
        read_card_export(json.dumps(document))


def test_a_card_with_something_wrong_adds_nothing(tmp_path):
    start(tmp_path)
    document = deepcopy(EXPORT)
    document["plays"][1]["down"] = 5
    with pytest.raises(InvalidInputError):
        imported(tmp_path, document)
    assert log_in(tmp_path).plays == ()


@pytest.mark.parametrize("rules", ["pro", "college", "high-school"])
@pytest.mark.parametrize("direction", [Direction.TOWARD_B, Direction.TOWARD_A])
def test_every_station_of_a_card_comes_into_the_log_as_itself(rules, direction):
    perimeter = perimeter_of(standard_venue(rules))
    x, y = perimeter.play_xy_yd(direction)
    document = deepcopy(EXPORT)
    document["plays"] = [
        {
            **EXPORT["plays"][0],
            "at": f"2026-10-03T19:{i // 60:02}:{i % 60:02}Z",
            "standing": {"x_yd": float(x[i]), "y_yd": float(y[i])},
        }
        for i in range(len(perimeter))
    ]
    spots = [play.spot for play in read_card_export(json.dumps(document)).plays]
    found = [parse_standing(spot, perimeter, direction) for spot in spots]
    assert found == list(range(len(perimeter)))


def test_unknown_keys_are_left_alone():
    document = deepcopy(EXPORT)
    document["later"] = document["plays"][0]["later"] = {"x": 1}
    assert len(read_card_export(json.dumps(document)).plays) == 2
