"""What the feed does and a reader would not expect, one test a trap. All games are invented."""

from __future__ import annotations

import dataclasses
from typing import Any

import pytest

from lensyard.errors import DataError
from lensyard.plays.gamecenter.game import parse_game
from lensyard.plays.gamecenter.play import ScheduledGame

HOME, AWAY = "XYZ", "QRS"


def test_plays_keep_the_order_of_the_file_although_their_ids_fall(game: Any) -> None:
    ids = [game.run(yards, at=f"{HOME} {20 + yards}", down=1) for yards in (1, 2, 3)]
    assert ids == sorted(ids, key=int, reverse=True)
    plays = game.plays()
    assert [play.gain_yd for play in plays] == [1, 2, 3]
    assert [play.play_index for play in plays] == [0, 1, 2]


@pytest.mark.parametrize(
    ("club", "at", "yardline_100"),
    [(HOME, f"{HOME} 40", 60), (HOME, f"{AWAY} 40", 40), (HOME, "50", 50), (AWAY, f"{HOME} 3", 3)],
)
def test_the_spot_counts_from_the_offense_and_midfield_is_a_bare_50(
    game: Any, club: str, at: str, yardline_100: int
) -> None:
    game.run(2, club=club, at=at)
    assert game.only().yardline_100 == yardline_100


@pytest.mark.parametrize("blank", ["", None])
def test_rows_without_a_spot_are_no_plays(game: Any, blank: str | None) -> None:
    game.run(2)
    game.row("Timeout #1 by XYZ at 09:40.", [(68, 0, HOME)], at=blank, club="", down=0)
    game.row("END QUARTER 1", at=blank, club="", down=0)
    assert len(game.plays()) == 1


def test_remarks_with_a_spot_but_no_play_are_left_out(game: Any) -> None:
    game.run(2)
    game.row("(9:40) Invented weather stopped the game.", down=2, togo=8)
    assert len(game.plays()) == 1


def test_on_a_kickoff_the_offense_is_the_kicker_though_the_row_sits_in_the_other_drive(
    game: Any,
) -> None:
    game.kickoff()
    game.run(3, club=AWAY, at=f"{AWAY} 25")
    kickoff, run = game.plays()
    assert (kickoff.kind, kickoff.offense, kickoff.defense) == ("kickoff", HOME, AWAY)
    assert kickoff.yardline_100 == 65  # from the kicker's own 35
    assert (kickoff.down, kickoff.distance_yd) == (0, 0)
    assert (kickoff.kick_result, kickoff.end_yardline_100) == ("touchback", 0)
    assert [index for index, _ in game.possessions()] == [0, 0]
    assert run.offense == AWAY


def test_fields_that_tell_what_happened_later_are_never_read(game: Any, new_game: Any) -> None:
    liar = new_game()
    for source, lies in (
        (game, {}),
        (liar, {"ydsnet": -55, "note": "TD", "sp": 1}),
    ):
        source.drive(**({"result": "Safety", "fds": 9, "ydsgained": -8} if lies else {}))
        source.run(4, **lies)
        source.run(1, at=f"{HOME} 44", down=2, togo=6, **lies)
    assert game.plays() == liar.plays()


def test_the_season_comes_from_the_schedule_not_from_the_year_in_the_id(game: Any) -> None:
    game.run()
    assert game.game_id.startswith("2031")
    assert game.plays(season=2030)[0].season == 2030


@pytest.mark.parametrize(("quarter", "half"), [(1, 1), (2, 1), (3, 2), (4, 2), (5, 3), (6, 3)])
def test_every_overtime_is_one_half(game: Any, quarter: int, half: int) -> None:
    game.run(quarter=quarter)
    assert game.only().half == half


@pytest.mark.parametrize(("time", "clock_s"), [("15:00", 900), ("07:05", 425), (":09", 9)])
def test_the_clock_counts_seconds_left_in_the_quarter(game: Any, time: str, clock_s: int) -> None:
    game.run(time=time)
    assert game.only().clock_s == clock_s


def test_a_row_without_a_clock_takes_the_last_one_of_its_quarter(game: Any) -> None:
    game.run(4, time=None)
    game.run(4, time="12:00", at=f"{HOME} 44", down=2, togo=6)
    game.run(4, time="", at=f"{HOME} 48", down=3, togo=2)
    assert [play.clock_s for play in game.plays()] == [900, 720, 720]


def test_two_spellings_of_a_club_become_one_in_spots_too(new_game: Any) -> None:
    game = new_game()
    raw = game.raw()
    game.row(
        "(9:00) A.Example left end to SL 40 for 8 yards. FUMBLES (E.Invented), "
        "RECOVERED by JAC-E.Invented at SL 42. E.Invented to SL 38 for 4 yards.",
        [(10, 8, "STL"), (106, 0, "STL"), (59, 4, "JAC")],
        club="STL",
        at="STL 32",
    )
    raw = game.raw()
    raw["home"]["abbr"], raw["away"]["abbr"] = "STL", "JAC"
    scheduled = ScheduledGame(game_id="1", season=2030, season_type="REG", week=1)
    (play,) = parse_game(raw, scheduled=scheduled).plays
    assert (play.home_club, play.away_club, play.defense) == ("STL", "JAX", "JAX")
    assert play.end_yardline_100 == 62  # its own 38


def test_sack_yards_are_negative(game: Any) -> None:
    game.row("(9:00) A.Example sacked at XYZ 32 for -8 yards.", [(20, -8, HOME), (83, -8, AWAY)])
    play = game.only()
    assert (play.kind, play.gain_yd, play.end_yardline_100) == ("sack", -8, 68)
    assert (play.side, play.depth, play.gap) == ("", "", "")


def test_air_yards_of_a_catch_are_code_111_and_after_the_catch_113(game: Any) -> None:
    game.row(
        "(9:00) (Shotgun) A.Example pass short middle to C.Specimen ran ob at QRS 48 for 12 yards.",
        [(15, 12, HOME), (21, 12, HOME), (111, 5, HOME), (113, 7, HOME), (4, 0, HOME)],
    )
    play = game.only()
    assert (play.kind, play.gain_yd, play.air_yd, play.after_catch_yd) == ("complete", 12, 5, 7)
    assert (play.side, play.depth, play.out_of_bounds) == ("middle", "short", True)
    assert play.first_down


def test_air_yards_of_an_incompletion_are_code_112(game: Any) -> None:
    game.row(
        "(9:00) A.Example pass incomplete deep left to C.Specimen.",
        [(14, 0, HOME), (112, 31, HOME)],
    )
    play = game.only()
    assert (play.kind, play.air_yd, play.gain_yd) == ("incomplete", 31, 0)
    assert play.after_catch_yd is None
    assert play.end_yardline_100 == play.yardline_100


def test_an_impossible_air_yardage_is_left_open(game: Any) -> None:
    game.row(
        "(9:00) A.Example pass short left to C.Specimen for 1 yard.",
        [(15, 1, HOME), (21, 1, HOME), (111, -99, HOME), (113, 100, HOME)],
    )
    assert (game.only().air_yd, game.only().after_catch_yd) == (None, None)


def test_the_second_runner_of_a_lateral_counts_once_on_a_catch(game: Any) -> None:
    game.row(
        "(9:00) A.Example pass short right to C.Specimen to XYZ 48 for 8 yards. "
        "Lateral to B.Sample to QRS 41 for 11 yards.",
        [
            (15, 19, HOME),
            (21, 8, HOME),
            (23, 11, HOME),
            (111, 3, HOME),
            (113, 5, HOME, "catcher"),
            (113, 11, HOME, "runner"),
        ],
    )
    play = game.only()
    assert (play.gain_yd, play.air_yd, play.after_catch_yd) == (19, 3, 16)


def test_the_second_runner_of_a_lateral_is_added_on_a_carry(game: Any) -> None:
    game.row(
        "(9:00) B.Sample up the middle to XYZ 41 for 1 yard. Lateral to C.Specimen to XYZ 49 "
        "for 8 yards.",
        [(10, 1, HOME), (12, 8, HOME)],
    )
    assert game.only().gain_yd == 9


def test_a_receiving_touchdown_repeats_the_passers_and_is_one_touchdown(game: Any) -> None:
    game.totals = (6, 0)
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


def test_facts_that_are_booked_twice_count_once(game: Any) -> None:
    game.row(
        "(9:00) A.Example pass short middle to C.Specimen to QRS 46 for 14 yards.",
        [
            (15, 14, HOME, "a"),
            (15, 14, HOME, "a"),
            (21, 14, HOME, "c"),
            (21, 14, HOME, "c"),
            (111, 9, HOME, "a"),
            (111, 9, HOME, "a"),
            (113, 5, HOME, "c"),
            (113, 5, HOME, "c"),
        ],
    )
    play = game.only()
    assert (play.gain_yd, play.air_yd, play.after_catch_yd) == (14, 9, 5)


def test_after_a_reversal_only_the_later_text_counts(game: Any) -> None:
    game.row(
        "(9:00) A.Example pass deep left to C.Specimen pushed ob at QRS 35 for 25 yards. The "
        "ruling was challenged, and the play was REVERSED. A.Example pass incomplete short right "
        "to C.Specimen.",
        [(14, 0, HOME), (112, 9, HOME)],
    )
    play = game.only()
    assert (play.kind, play.side, play.depth) == ("incomplete", "right", "short")
    assert not play.out_of_bounds


def test_facts_that_a_reversal_left_standing_do_not_count(game: Any) -> None:
    game.row(
        "(9:00) A.Example pass deep right to C.Specimen for 60 yards, TOUCHDOWN. The ruling was "
        "challenged, and the play was REVERSED. A.Example pass incomplete deep right.",
        [
            (14, 0, HOME),
            (16, 60, HOME),
            (22, 60, HOME),
            (111, 60, HOME),
            (112, 60, HOME),
            (4, 0, HOME),
        ],
    )
    play = game.only()
    assert (play.kind, play.gain_yd, play.air_yd) == ("incomplete", 0, 60)
    assert not play.touchdown
    assert not play.first_down


def test_a_fumble_that_a_reversal_undid_is_no_turnover(game: Any) -> None:
    game.row(
        "(9:00) B.Sample left end to XYZ 44 for 4 yards. FUMBLES, RECOVERED by QRS-E.Invented at "
        "XYZ 44. The ruling was challenged, and the play was REVERSED. B.Sample left end to XYZ "
        "43 for 3 yards.",
        [(10, 3, HOME), (106, 0, HOME)],
    )
    assert not game.only().turnover


@pytest.mark.parametrize(
    ("words", "kind"),
    [
        ("A.Example scrambles left end to XYZ 44 for 4 yards.", "scramble"),
        ("A.Example kneels to XYZ 39 for -1 yards.", "kneel"),
        ("B.Sample right guard to XYZ 44 for 4 yards.", "run"),
        ("A.Example FUMBLES (Aborted) at XYZ 36, and recovers at XYZ 36.", "run"),
        ("B.Sample left end to XYZ 44 for 4 yards. Took a lateral pass from A.Example.", "run"),
    ],
)
def test_carries_are_told_apart_by_their_words(game: Any, words: str, kind: str) -> None:
    game.row(f"(9:00) {words}", [(10, 4, HOME)])
    assert game.only().kind == kind


def test_a_spike_is_not_an_incompletion(game: Any) -> None:
    game.row("(:20) A.Example spiked the ball to stop the clock.", [(14, 0, HOME), (112, 0, HOME)])
    play = game.only()
    assert play.kind == "spike"
    assert play.air_yd is None


@pytest.mark.parametrize(
    ("words", "side", "gap"),
    [
        ("B.Sample left end to XYZ 44 for 4 yards.", "left", "end"),
        ("B.Sample right tackle to XYZ 44 for 4 yards.", "right", "tackle"),
        ("B.Sample left guard to XYZ 44 for 4 yards.", "left", "guard"),
        ("B.Sample up the middle to XYZ 44 for 4 yards.", "middle", ""),
        ("B.Sample to XYZ 44 for 4 yards. He had started toward right end.", "", ""),
    ],
)
def test_the_gap_comes_from_the_words_before_the_gain(
    game: Any, words: str, side: str, gap: str
) -> None:
    game.row(f"(9:00) {words}", [(10, 4, HOME)])
    assert (game.only().side, game.only().gap) == (side, gap)


def test_only_carries_and_catches_go_out_of_bounds(game: Any) -> None:
    game.row("(9:00) B.Sample left end pushed ob at XYZ 44 for 4 yards.", [(10, 4, HOME)])
    game.row(
        "(8:30) D.Muster punts 40 yards to QRS 16, Center-E.Invented. C.Specimen pushed ob at QRS "
        "20 for 4 yards.",
        [(29, 40, HOME), (33, 4, AWAY)],
        at=f"{HOME} 44",
        down=4,
        togo=6,
    )
    assert [play.out_of_bounds for play in game.plays()] == [True, False]


def test_a_ball_fumbled_out_of_bounds_did_not_take_its_carrier_there(game: Any) -> None:
    game.row(
        "(9:00) B.Sample left end to XYZ 44 for 4 yards. FUMBLES, recovered by XYZ-A.Example at "
        "XYZ 43. A.Example pushed ob at XYZ 45 for 2 yards.",
        [(10, 4, HOME), (55, 2, HOME)],
    )
    play = game.only()
    assert not play.out_of_bounds
    assert play.end_yardline_100 == 55


def test_an_interception_ends_where_the_return_ends_in_the_offenses_frame(game: Any) -> None:
    game.row(
        "(9:00) A.Example pass deep left intended for C.Specimen INTERCEPTED by E.Invented at QRS "
        "30. E.Invented to XYZ 45 for 25 yards.",
        [(19, 0, HOME), (25, 25, AWAY), (112, 30, HOME)],
    )
    play = game.only()
    assert (play.kind, play.turnover, play.return_yd, play.air_yd) == ("interception", True, 25, 30)
    assert play.end_yardline_100 == 55
    assert (play.gain_yd, play.first_down) == (0, False)


def test_a_lost_fumble_ends_where_it_was_recovered(game: Any) -> None:
    game.row(
        "(9:00) B.Sample left end to XYZ 42 for 2 yards. FUMBLES (E.Invented), RECOVERED by "
        "QRS-E.Invented at XYZ 43. E.Invented to XYZ 30 for 13 yards.",
        [(10, 2, HOME), (106, 0, HOME), (59, 13, AWAY)],
    )
    play = game.only()
    assert (play.turnover, play.gain_yd, play.return_yd, play.end_yardline_100) == (True, 2, 13, 70)


def test_the_foul_shortens_the_official_gain_but_not_where_the_ball_was_dead(game: Any) -> None:
    game.row(
        "(9:00) B.Sample left end pushed ob at QRS 40 for 20 yards. PENALTY on XYZ-A.Example, "
        "Offensive Holding, 10 yards, enforced at XYZ 43.",
        [(10, 3, HOME), (93, 10, HOME)],
    )
    play = game.only()
    assert (play.gain_yd, play.end_yardline_100, play.penalty) == (3, 40, True)
    assert not play.first_down


def test_a_first_down_by_penalty_is_none_of_the_play(game: Any) -> None:
    game.row(
        "(9:00) A.Example sacked at XYZ 35 for -5 yards. PENALTY on QRS-E.Invented, Face Mask, 15 "
        "yards, enforced at XYZ 35.",
        [(20, -5, HOME), (93, 15, AWAY), (5, 0, HOME)],
    )
    assert not game.only().first_down


def test_a_play_that_a_penalty_wiped_out_is_no_play(game: Any) -> None:
    game.row(
        "(9:00) A.Example pass deep left to C.Specimen for 60 yards, TOUCHDOWN NULLIFIED by "
        "Penalty. PENALTY on XYZ-B.Sample, Offensive Holding, 10 yards, enforced at XYZ 40 - No "
        "Play.",
        [(93, 10, HOME)],
    )
    play = game.only()
    assert (play.kind, play.penalty, play.touchdown) == ("no_play", True, False)
    assert (play.gain_yd, play.side, play.end_yardline_100) == (0, "", None)
    assert play.down == 1


def test_a_nullified_return_leaves_the_punt_a_punt(game: Any) -> None:
    game.row(
        "(9:00) D.Muster punts 45 yards to QRS 15, Center-E.Invented. C.Specimen for 85 yards, "
        "TOUCHDOWN NULLIFIED by Penalty. PENALTY on QRS-E.Invented, Low Block, 10 yards, enforced "
        "at QRS 30.",
        [(29, 45, HOME), (33, 15, AWAY), (93, 10, AWAY)],
        down=4,
    )
    play = game.only()
    assert (play.kind, play.kick_result, play.return_touchdown) == ("punt", "returned", False)


def test_a_declined_penalty_is_none(game: Any) -> None:
    game.row(
        "(9:00) B.Sample left end to XYZ 44 for 4 yards. Penalty on QRS, Defensive Offside, "
        "declined.",
        [(10, 4, HOME)],
    )
    assert not game.only().penalty


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
def test_what_became_of_a_punt(
    game: Any,
    words: str,
    facts: list[tuple[int, int]],
    result: str,
    distance_yd: int | None,
    end: int,
) -> None:
    receiver_codes = {33, 37, 38, 39, 40, 63}
    booked = [(code, yd, AWAY if code in receiver_codes else HOME) for code, yd in facts]
    game.row(f"(9:00) D.Muster {words}", booked, down=4, togo=8)
    play = game.only()
    assert (play.kind, play.kick_result) == ("punt", result)
    assert (play.kick_distance_yd, play.end_yardline_100) == (distance_yd, end)
    assert not play.turnover


def test_a_muffed_punt_that_the_kickers_recover_is_recovered(game: Any) -> None:
    game.row(
        "(9:00) D.Muster punts 40 yards to QRS 20, Center-E.Invented. C.Specimen MUFFS catch, "
        "RECOVERED by XYZ-B.Sample at QRS 22.",
        [(29, 40, HOME), (33, 0, AWAY), (106, 0, AWAY), (59, 0, HOME)],
        down=4,
    )
    play = game.only()
    assert (play.kick_result, play.end_yardline_100, play.turnover) == ("recovered", 22, False)


@pytest.mark.parametrize(("code", "result"), [(70, "made"), (69, "missed"), (71, "blocked")])
def test_what_became_of_a_field_goal(game: Any, code: int, result: str) -> None:
    game.row("(9:00) D.Muster 45 yard field goal, invented.", [(code, 45, HOME)], at=f"{AWAY} 27")
    play = game.only()
    assert (play.kind, play.kick_result, play.kick_distance_yd) == ("field_goal", result, 45)


@pytest.mark.parametrize(
    ("code", "kind", "result"),
    [
        (72, "extra_point", "made"),
        (73, "extra_point", "missed"),
        (74, "extra_point", "blocked"),
        (75, "two_point", "made"),
        (78, "two_point", "missed"),
    ],
)
def test_tries_have_no_down(game: Any, code: int, kind: str, result: str) -> None:
    game.row("An invented try.", [(code, 0, HOME)], at=f"{AWAY} 15", down=0, togo=0)
    play = game.only()
    assert (play.kind, play.kick_result) == (kind, result)
    assert (play.down, play.distance_yd, play.end_yardline_100) == (0, 0, None)


def test_a_fumble_through_the_end_zone_is_dead_at_the_goal_line(game: Any) -> None:
    game.row(
        "(9:00) B.Sample left end to QRS 1 for 9 yards. FUMBLES (E.Invented), ball out of bounds "
        "in End Zone, Touchback.",
        [(10, 9, HOME), (106, 0, HOME)],
        at=f"{AWAY} 10",
    )
    assert (game.only().turnover, game.only().end_yardline_100) == (True, 0)


def test_a_row_under_review_is_known_by_its_statistics(game: Any) -> None:
    game.row("*** play under review ***", [(10, 4, HOME)])
    assert (game.only().kind, game.only().gain_yd, game.only().side) == ("run", 4, "")


def test_a_row_whose_statistics_are_lost_is_known_by_its_words(game: Any) -> None:
    game.row("(9:00) B.Sample right end pushed ob at QRS 39 for 21 yards.")
    play = game.only()
    assert (play.kind, play.gain_yd, play.side) == ("run", 21, "right")


def test_no_name_and_no_text_leaves_the_adapter(short_games: Any) -> None:
    texts = {
        value
        for play in short_games[0].plays()
        for value in dataclasses.asdict(play).values()
        if isinstance(value, str)
    }
    names = ("Example", "Sample", "Specimen", "Muster", "Invented")
    assert not [text for text in texts if any(name in text for name in names) or " " in text]


@pytest.mark.parametrize("damage", ["home", "drives", "scrsummary"])
def test_a_game_that_lacks_a_part_says_which_game_and_what_to_do(game: Any, damage: str) -> None:
    game.run()
    raw = game.raw()
    del raw[damage]
    scheduled = ScheduledGame(game_id="7", season=2030, season_type="REG", week=1)
    with pytest.raises(DataError, match=r"game 7 is not in the feed's shape.*Leave the game out"):
        parse_game(raw, scheduled=scheduled)


def test_a_game_without_a_play_is_refused(game: Any) -> None:
    game.row("END GAME", at="", club="", down=0)
    with pytest.raises(DataError, match="holds no play"):
        game.plays()
