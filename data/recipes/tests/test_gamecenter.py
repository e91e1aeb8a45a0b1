"""What the feed does and a reader would not expect, one case a trap. All games are invented."""

from __future__ import annotations

import dataclasses
from typing import Any

import pytest
from data.recipes.tests.feed_games import FeedGame

from lensyard.errors import DataError

HOME, AWAY = "XYZ", "QRS"

ROWS: dict[str, tuple[str, list[Any], dict[str, Any], dict[str, Any]]] = {
    "sack yards are negative": (
        "A.Example sacked at XYZ 32 for -8 yards.",
        [(20, -8, HOME), (83, -8, AWAY)],
        {},
        {"kind": "sack", "gain_yd": -8, "end_yardline_100": 68, "side": "", "depth": ""},
    ),
    "air yards of a catch are code 111, after the catch 113": (
        "(Shotgun) A.Example pass short middle to C.Specimen ran ob at QRS 48 for 12 yards.",
        [(15, 12, HOME), (21, 12, HOME), (111, 5, HOME), (113, 7, HOME), (4, 0, HOME)],
        {},
        {"kind": "complete", "gain_yd": 12, "air_yd": 5, "after_catch_yd": 7, "side": "middle",
         "depth": "short", "out_of_bounds": True, "first_down": True},
    ),
    "air yards of an incompletion are code 112": (
        "A.Example pass incomplete deep left to C.Specimen.",
        [(14, 0, HOME), (112, 31, HOME)],
        {},
        {"kind": "incomplete", "air_yd": 31, "gain_yd": 0, "after_catch_yd": None,
         "end_yardline_100": 60},
    ),
    "an impossible air yardage is left open": (
        "A.Example pass short left to C.Specimen for 1 yard.",
        [(15, 1, HOME), (21, 1, HOME), (111, -99, HOME), (113, 100, HOME)],
        {},
        {"air_yd": None, "after_catch_yd": None},
    ),
    "the second runner of a lateral counts once on a catch": (
        "A.Example pass short right to C.Specimen to XYZ 48 for 8 yards. Lateral to B.Sample to "
        "QRS 41 for 11 yards.",
        [(15, 19, HOME), (21, 8, HOME), (23, 11, HOME), (111, 3, HOME), (113, 5, HOME, "catcher"),
         (113, 11, HOME, "runner")],
        {},
        {"gain_yd": 19, "air_yd": 3, "after_catch_yd": 16},
    ),
    "the second runner of a lateral is added on a carry": (
        "B.Sample up the middle to XYZ 41 for 1 yard. Lateral to C.Specimen to XYZ 49 for 8 yards.",
        [(10, 1, HOME), (12, 8, HOME)],
        {},
        {"gain_yd": 9},
    ),
    "facts that are booked twice count once": (
        "A.Example pass short middle to C.Specimen to QRS 46 for 14 yards.",
        [(15, 14, HOME, "a"), (15, 14, HOME, "a"), (111, 9, HOME, "a"), (111, 9, HOME, "a"),
         (113, 5, HOME, "c"), (113, 5, HOME, "c")],
        {},
        {"gain_yd": 14, "air_yd": 9, "after_catch_yd": 5},
    ),
    "after a reversal only the later text counts": (
        "A.Example pass deep left to C.Specimen pushed ob at QRS 35 for 25 yards. The ruling was "
        "challenged, and the play was REVERSED. A.Example pass incomplete short right.",
        [(14, 0, HOME), (112, 9, HOME)],
        {},
        {"kind": "incomplete", "side": "right", "depth": "short", "out_of_bounds": False},
    ),
    "facts that a reversal left standing do not count": (
        "A.Example pass deep right to C.Specimen for 60 yards, TOUCHDOWN. The play was REVERSED. "
        "A.Example pass incomplete deep right.",
        [(14, 0, HOME), (16, 60, HOME), (22, 60, HOME), (111, 60, HOME), (112, 60, HOME),
         (4, 0, HOME)],
        {},
        {"kind": "incomplete", "gain_yd": 0, "air_yd": 60, "touchdown": False, "first_down": False},
    ),
    "a fumble that a reversal undid is no turnover": (
        "B.Sample left end to XYZ 44 for 4 yards. FUMBLES, RECOVERED by QRS-E.Invented at XYZ 44. "
        "The play was REVERSED. B.Sample left end to XYZ 43 for 3 yards.",
        [(10, 3, HOME), (106, 0, HOME)],
        {},
        {"turnover": False},
    ),
    "a spike is not an incompletion": (
        "A.Example spiked the ball to stop the clock.",
        [(14, 0, HOME), (112, 0, HOME)],
        {},
        {"kind": "spike", "air_yd": None},
    ),
    "a ball fumbled out of bounds did not take its carrier there": (
        "B.Sample left end to XYZ 44 for 4 yards. FUMBLES, recovered by XYZ-A.Example at XYZ 43. "
        "A.Example pushed ob at XYZ 45 for 2 yards.",
        [(10, 4, HOME), (55, 2, HOME)],
        {},
        {"out_of_bounds": False, "end_yardline_100": 55},
    ),
    "a return on a punt does not go out of bounds": (
        "D.Muster punts 40 yards to QRS 16. C.Specimen pushed ob at QRS 20 for 4 yards.",
        [(29, 40, HOME), (33, 4, AWAY)],
        {"at": f"{HOME} 44", "down": 4, "togo": 6},
        {"kind": "punt", "out_of_bounds": False},
    ),
    "an interception ends where the return ends, seen by the offense": (
        "A.Example pass deep left intended for C.Specimen INTERCEPTED by E.Invented at QRS 30. "
        "E.Invented to XYZ 45 for 25 yards.",
        [(19, 0, HOME), (25, 25, AWAY), (112, 30, HOME)],
        {},
        {"kind": "interception", "turnover": True, "return_yd": 25, "air_yd": 30, "gain_yd": 0,
         "end_yardline_100": 55, "first_down": False},
    ),
    "a lost fumble ends where its return ends": (
        "B.Sample left end to XYZ 42 for 2 yards. FUMBLES (E.Invented), RECOVERED by "
        "QRS-E.Invented at XYZ 43. E.Invented to XYZ 30 for 13 yards.",
        [(10, 2, HOME), (106, 0, HOME), (59, 13, AWAY)],
        {},
        {"turnover": True, "gain_yd": 2, "return_yd": 13, "end_yardline_100": 70},
    ),
    "a foul shortens the official gain but not where the ball was dead": (
        "B.Sample left end pushed ob at QRS 40 for 20 yards. PENALTY on XYZ-A.Example, Offensive "
        "Holding, 10 yards, enforced at XYZ 43.",
        [(10, 3, HOME), (93, 10, HOME)],
        {},
        {"gain_yd": 3, "end_yardline_100": 40, "penalty": True, "first_down": False},
    ),
    "a first down by penalty is none of the play": (
        "A.Example sacked at XYZ 35 for -5 yards. PENALTY on QRS-E.Invented, Face Mask, 15 yards, "
        "enforced at XYZ 35.",
        [(20, -5, HOME), (93, 15, AWAY), (5, 0, HOME)],
        {},
        {"first_down": False},
    ),
    "a play that a penalty wiped out is no play": (
        "A.Example pass deep left to C.Specimen for 60 yards, TOUCHDOWN NULLIFIED by Penalty. "
        "PENALTY on XYZ-B.Sample, Offensive Holding, 10 yards, enforced at XYZ 40 - No Play.",
        [(93, 10, HOME)],
        {},
        {"kind": "no_play", "penalty": True, "touchdown": False, "gain_yd": 0, "side": "",
         "end_yardline_100": None, "down": 1},
    ),
    "a nullified return leaves the punt a punt": (
        "D.Muster punts 45 yards to QRS 15. C.Specimen for 85 yards, TOUCHDOWN NULLIFIED by "
        "Penalty. PENALTY on QRS-E.Invented, Low Block, 10 yards, enforced at QRS 30.",
        [(29, 45, HOME), (33, 15, AWAY), (93, 10, AWAY)],
        {"down": 4},
        {"kind": "punt", "kick_result": "returned", "return_touchdown": False},
    ),
    "a declined penalty is none": (
        "B.Sample left end to XYZ 44 for 4 yards. Penalty on QRS, Defensive Offside, declined.",
        [(10, 4, HOME)],
        {},
        {"penalty": False},
    ),
    "a muffed punt that the kickers recover is recovered": (
        "D.Muster punts 40 yards to QRS 20. C.Specimen MUFFS catch, RECOVERED by XYZ-B.Sample at "
        "QRS 22.",
        [(29, 40, HOME), (33, 0, AWAY), (106, 0, AWAY), (59, 0, HOME)],
        {"down": 4},
        {"kick_result": "recovered", "end_yardline_100": 22, "turnover": False},
    ),
    "a fumble through the end zone is dead at the goal line": (
        "B.Sample left end to QRS 1 for 9 yards. FUMBLES (E.Invented), ball out of bounds in End "
        "Zone, Touchback.",
        [(10, 9, HOME), (106, 0, HOME)],
        {"at": f"{AWAY} 10"},
        {"turnover": True, "end_yardline_100": 0},
    ),
    "a row under review is known by its statistics": (
        "*** play under review ***",
        [(10, 4, HOME)],
        {},
        {"kind": "run", "gain_yd": 4, "side": ""},
    ),
    "a row whose statistics are lost is known by its words": (
        "B.Sample right end pushed ob at QRS 39 for 21 yards.",
        [],
        {},
        {"kind": "run", "gain_yd": 21, "side": "right"},
    ),
}  # fmt: skip
"""Claim -> (words, facts, where, what the play then is)."""


@pytest.mark.parametrize("claim", ROWS)
def test_a_row_becomes_a_play(game, claim):
    words, facts, where, expected = ROWS[claim]
    game.row(f"(9:00) {words}", facts, **where)
    play = dataclasses.asdict(game.only())
    assert {name: play[name] for name in expected} == expected


def test_plays_keep_the_order_of_the_file_although_their_ids_fall(game):
    ids = [game.run(yards, at=f"{HOME} {20 + yards}", down=1) for yards in (1, 2, 3)]
    assert ids == sorted(ids, key=int, reverse=True)
    plays = game.plays()
    assert [(play.gain_yd, play.play_index) for play in plays] == [(1, 0), (2, 1), (3, 2)]


@pytest.mark.parametrize(
    ("club", "at", "yardline_100"),
    [(HOME, f"{HOME} 40", 60), (HOME, f"{AWAY} 40", 40), (HOME, "50", 50), (AWAY, f"{HOME} 3", 3)],
)
def test_the_spot_counts_from_the_offense_and_midfield_is_a_bare_50(game, club, at, yardline_100):
    game.run(2, club=club, at=at)
    assert game.only().yardline_100 == yardline_100


def test_rows_without_a_spot_and_remarks_are_no_plays(game):
    game.run(2)
    game.row("Timeout #1 by XYZ at 09:40.", [(68, 0, HOME)], at="", club="", down=0)
    game.row("END QUARTER 1", at=None, club="", down=0)
    game.row("(9:40) Invented weather stopped the game.", down=2, togo=8)
    assert len(game.plays()) == 1


def test_on_a_kickoff_the_offense_is_the_kicker_though_the_row_sits_in_the_other_drive(game):
    game.kickoff()
    game.run(3, club=AWAY, at=f"{AWAY} 25")
    kickoff, run = game.plays()
    assert (kickoff.kind, kickoff.offense, kickoff.defense) == ("kickoff", HOME, AWAY)
    assert kickoff.yardline_100 == 65  # from the kicker's own 35
    assert (kickoff.down, kickoff.distance_yd) == (0, 0)
    assert (kickoff.kick_result, kickoff.end_yardline_100) == ("touchback", 0)
    assert [index for index, _ in game.possessions()] == [0, 0]
    assert run.offense == AWAY


def test_fields_that_tell_what_happened_later_are_never_read(game):
    liar = FeedGame()
    for source, lies in ((game, {}), (liar, {"ydsnet": -55, "note": "TD", "sp": 1})):
        source.drive(**({"result": "Safety", "fds": 9, "ydsgained": -8} if lies else {}))
        source.run(4, **lies)
        source.run(1, at=f"{HOME} 44", down=2, togo=6, **lies)
    assert game.plays() == liar.plays()


@pytest.mark.parametrize(("quarter", "half"), [(1, 1), (2, 1), (3, 2), (4, 2), (5, 3), (6, 3)])
def test_every_overtime_is_one_half_and_the_season_is_the_schedules(game, quarter, half):
    game.run(quarter=quarter)
    assert game.game_id.startswith("2031")
    (play,) = game.plays(season=2030)
    assert (play.half, play.season) == (half, 2030)


def test_a_row_without_a_clock_takes_the_last_one_of_its_quarter(game):
    for at, time in enumerate((None, "12:00", "", ":09")):
        game.run(4, time=time, at=f"{HOME} {40 + at}", down=1)
    assert [play.clock_s for play in game.plays()] == [900, 720, 720, 9]


def test_two_spellings_of_a_club_become_one_in_spots_too(game):
    game.row(
        "(9:00) A.Example left end to SL 40 for 8 yards. FUMBLES (E.Invented), "
        "RECOVERED by JAC-E.Invented at SL 42. E.Invented to SL 38 for 4 yards.",
        [(10, 8, "STL"), (106, 0, "STL"), (59, 4, "JAC")],
        club="STL",
        at="STL 32",
    )
    raw = game.raw()
    raw["home"]["abbr"], raw["away"]["abbr"] = "STL", "JAC"
    (play,) = game.parse(raw).plays
    assert (play.home_club, play.away_club, play.defense) == ("STL", "JAX", "JAX")
    assert play.end_yardline_100 == 62  # its own 38


def test_a_receiving_touchdown_repeats_the_passers_and_is_one_touchdown(game):
    play_id = game.row(
        "(9:00) A.Example pass deep left to C.Specimen to QRS 5 for 55 yards. Lateral to B.Sample "
        "for 5 yards, TOUCHDOWN.",
        [(16, 60, HOME), (21, 55, HOME), (24, 5, HOME), (111, 30, HOME), (4, 0, HOME)],
    )
    game.scored(play_id, "TD", HOME, "B.Sample 5 yd. lateral")
    game.run(1, at=f"{HOME} 30")
    touchdown, following = game.plays()
    assert (touchdown.touchdown, touchdown.gain_yd, touchdown.end_yardline_100) == (True, 60, 0)
    assert following.score_diff == 6


@pytest.mark.parametrize(
    ("words", "kind", "side", "gap"),
    [
        ("A.Example scrambles left end to XYZ 44 for 4 yards.", "scramble", "left", "end"),
        ("A.Example kneels to XYZ 39 for -1 yards.", "kneel", "", ""),
        ("A.Example FUMBLES (Aborted) at XYZ 36, and recovers at XYZ 36.", "run", "", ""),
        ("B.Sample right tackle to XYZ 44 for 4 yards.", "run", "right", "tackle"),
        ("B.Sample left guard for 4 yards. Took a lateral pass from A.Example.", "run", "left",
         "guard"),
        ("B.Sample up the middle to XYZ 44 for 4 yards.", "run", "middle", ""),
        ("B.Sample to XYZ 44 for 4 yards. He had started toward right end.", "run", "", ""),
    ],
)  # fmt: skip
def test_carries_are_told_apart_by_the_words_before_the_gain(game, words, kind, side, gap):
    game.row(f"(9:00) {words}", [(10, 4, HOME)])
    play = game.only()
    assert (play.kind, play.side, play.gap) == (kind, side, gap)


@pytest.mark.parametrize(
    ("words", "facts", "result", "distance_yd", "end"),
    [
        ("punts 40 yards to QRS 20, fair catch by C.Specimen.", [(29, 40), (39, 0)], "fair_catch",
         40, 20),
        ("punts 40 yards to QRS 20, downed by XYZ-B.Sample.", [(29, 40), (38, 0)], "downed", 40,
         20),
        ("punts 40 yards to QRS 20, out of bounds.", [(29, 40), (37, 0)], "out_of_bounds", 40, 20),
        ("punts 60 yards to end zone, Touchback.", [(32, 60), (40, 0)], "touchback", 60, 0),
        ("punts 40 yards to QRS 20. C.Specimen to QRS 29 for 9 yards.", [(29, 40), (33, 9)],
         "returned", 40, 29),
        ("punt is BLOCKED by E.Invented, RECOVERED by QRS-E.Invented at XYZ 30. E.Invented to XYZ "
         "28 for 2 yards.", [(2, 0), (63, 2)], "blocked", None, 72),
    ],
)  # fmt: skip
def test_what_became_of_a_punt(game, words, facts, result, distance_yd, end):
    receiver_codes = {33, 37, 38, 39, 40, 63}
    booked = [(code, yd, AWAY if code in receiver_codes else HOME) for code, yd in facts]
    game.row(f"(9:00) D.Muster {words}", booked, down=4, togo=8)
    play = game.only()
    assert (play.kind, play.kick_result, play.turnover) == ("punt", result, False)
    assert (play.kick_distance_yd, play.end_yardline_100) == (distance_yd, end)


@pytest.mark.parametrize(
    ("code", "kind", "result"),
    [
        (70, "field_goal", "made"),
        (69, "field_goal", "missed"),
        (71, "field_goal", "blocked"),
        (72, "extra_point", "made"),
        (73, "extra_point", "missed"),
        (74, "extra_point", "blocked"),
        (75, "two_point", "made"),
        (78, "two_point", "missed"),
    ],
)
def test_what_became_of_a_field_goal_or_a_try(game, code, kind, result):
    game.row("An invented kick.", [(code, 45, HOME)], at=f"{AWAY} 27", down=4, togo=5)
    play = game.only()
    assert (play.kind, play.kick_result) == (kind, result)
    if kind == "field_goal":
        assert (play.down, play.kick_distance_yd) == (4, 45)
    else:
        assert (play.down, play.distance_yd, play.end_yardline_100) == (0, 0, None)


@pytest.mark.parametrize("damage", ["home", "drives", "scrsummary"])
def test_a_game_that_lacks_a_part_says_which_game_and_what_to_do(game, damage):
    game.run()
    raw = game.raw()
    del raw[damage]
    with pytest.raises(
        DataError, match=r"game 2031010100 is not in the feed's shape.*Leave the game out"
    ):
        game.parse(raw)


def test_a_game_without_a_play_is_refused(game):
    game.row("END GAME", at="", club="", down=0)
    with pytest.raises(DataError, match="holds no play"):
        game.plays()
