"""Possessions derived from the plays, and plays that the source lists twice. All are invented."""

import pytest

HOME, AWAY = "XYZ", "QRS"


def test_a_touchdown_ends_the_possession_and_the_try_belongs_to_it(short_games):
    field_goal, touchdown = (0, "field_goal"), (1, "touchdown")
    kickoff, extra_point = (0, ""), (1, "")
    expected = [kickoff, field_goal, field_goal, field_goal, touchdown, extra_point]
    assert short_games[0].possessions() == expected


@pytest.mark.parametrize(
    ("words", "facts", "end"),
    [
        ("D.Muster punts 40 yards to QRS 20, out of bounds.", [(29, 40)], "punt"),
        ("D.Muster 45 yard field goal is No Good.", [(69, 45)], "missed_field_goal"),
        ("A.Example pass short left INTERCEPTED by E.Invented at QRS 40.", [(19, 0)], "turnover"),
        ("A.Example pass incomplete short left.", [(14, 0)], "downs"),
        ("B.Sample left end to QRS 41 for 1 yard.", [(10, 1)], "downs"),
    ],
)
def test_how_a_fourth_down_ends_the_possession(game, words, facts, end):
    game.run(3, at=f"{AWAY} 45", down=3, togo=6)
    game.row(f"(9:00) {words}", [(c, y, HOME) for c, y in facts], at=f"{AWAY} 42", down=4, togo=3)
    game.run(2, club=AWAY, at=f"{AWAY} 40")
    game.run(2, club=AWAY, at=f"{AWAY} 42", down=2, togo=8, quarter=2)
    assert game.possessions() == [(0, end), (0, end), (1, "end_of_half"), (1, "end_of_half")]


def test_the_half_ends_a_possession_but_a_quarter_does_not(game):
    game.run(3, quarter=1)
    game.run(3, quarter=2, at=f"{HOME} 43", down=2, togo=7)
    game.run(3, quarter=3, at=f"{HOME} 20")
    assert [index for index, _ in game.possessions()] == [0, 0, 1]


def test_a_lost_fumble_that_comes_straight_back_opens_a_new_possession(game):
    game.row(
        "(9:00) A.Example pass short left INTERCEPTED by E.Invented at XYZ 50. E.Invented to XYZ "
        "45 for 5 yards. FUMBLES, RECOVERED by XYZ-B.Sample at XYZ 45.",
        [(19, 0, HOME), (25, 5, AWAY), (106, 0, AWAY)],
    )
    game.run(3, at=f"{HOME} 45")
    assert [index for index, _ in game.possessions()] == [0, 1]


def test_a_blocked_kick_recovered_behind_the_line_leaves_the_possession_as_it_was(game):
    blocked = "(9:00) D.Muster 45 yard field goal is BLOCKED, recovered by XYZ-B.Sample at QRS 30."
    game.row(blocked, [(71, 45, HOME)], at=f"{AWAY} 27", down=3)
    made = "(8:50) D.Muster 48 yard field goal is GOOD."
    game.row(made, [(70, 48, HOME)], at=f"{AWAY} 30", down=4, togo=13)
    assert game.possessions() == [(0, "field_goal"), (0, "field_goal")]


def test_a_safety_by_a_penalty_in_the_end_zone_ends_the_possession(game):
    play_id = game.row(
        "(9:00) A.Example pass short right to C.Specimen for 9 yards. PENALTY on XYZ-B.Sample, "
        "Offensive Holding, 4 yards, enforced in End Zone, SAFETY - No Play.",
        [(93, 4, HOME), (89, 0, AWAY)],
        at=f"{HOME} 4",
    )
    game.scored(play_id, "SAF", AWAY, "Penalty on B.Sample enforced in end zone for a Safety")
    assert game.possessions() == [(0, "safety")]


def test_a_kickoff_that_is_run_back_all_the_way_is_a_possession_without_a_snap(game):
    game.drive()
    kick = {"down": 0, "togo": 0, "time": "9:40"}
    first = game.row(
        "D.Muster kicks 65 yards from XYZ 35 to QRS 0. C.Specimen for 100 yards, TOUCHDOWN.",
        [(41, 65, HOME), (46, 100, AWAY)],
        **kick | {"at": f"{HOME} 35"},
    )
    game.scored(first, "TD", AWAY, "C.Specimen 100 yd. kickoff return (D.Muster kick is good)")
    out = "D.Muster kicks 60 yards from QRS 35 to XYZ 5, out of bounds."
    game.row(out, [(41, 60, AWAY), (49, 0, HOME)], club=AWAY, **kick | {"at": f"{AWAY} 35"})
    game.run(3, at=f"{HOME} 40", time="9:40")
    assert [index for index, _ in game.possessions()] == [0, 1, 1]
    kickoff = game.plays()[0]
    assert (kickoff.return_touchdown, kickoff.return_yd) == (True, 100)


def test_a_corrected_row_replaces_the_one_before_it(game):
    game.row("(9:00) B.Sample left end to XYZ 44 for 4 yards.", [(10, 4, HOME)], time="9:00")
    game.row("(9:01) B.Sample left guard to XYZ 44 for 4 yards.", [(10, 4, HOME)], time="9:01")
    game.run(2, at=f"{HOME} 44", down=2, togo=6, time="8:30")
    plays = game.plays()
    assert [(play.play_index, play.gap) for play in plays] == [(0, "guard"), (1, "tackle")]


def test_of_two_statements_the_one_that_the_next_play_follows_from_stays(game):
    game.run(1, at=f"{AWAY} 2", down=2, togo=2, time="3:35")
    game.run(2, at=f"{AWAY} 2", down=2, togo=2, time="3:34")
    game.run(0, at=f"{AWAY} 1", down=3, togo=1, time="3:20")
    assert [play.gain_yd for play in game.plays()] == [1, 0]


def test_of_two_statements_the_one_that_scored_stays(game):
    words = "(9:00) B.Sample up the middle for 2 yards, TOUCHDOWN."
    facts = [(11, 2, HOME), (3, 0, HOME)]
    first = game.row(words, facts, at=f"{AWAY} 2", togo=2, time="9:00")
    game.row(words, facts, at=f"{AWAY} 2", togo=2, time="9:01")
    game.scored(first, "TD", HOME, "B.Sample 2 yd. run")
    play = game.only()
    assert (play.touchdown, play.score_diff) == (True, 0)


def test_a_try_that_is_listed_twice_has_the_score_before_it(game):
    touchdown = game.run(2, at=f"{AWAY} 2", time="9:00")
    game.scored(touchdown, "TD", HOME, "B.Sample 2 yd. run (D.Muster kick is good)")
    extra = {"at": f"{AWAY} 15", "down": 0, "togo": 0, "time": "8:55"}
    for _ in range(2):
        game.row("D.Muster extra point is GOOD.", [(72, 0, HOME)], **extra)
    found = [(play.kind, play.score_diff) for play in game.plays()]
    assert found == [("run", 0), ("extra_point", 6)]


def test_what_looks_alike_but_follows_a_penalty_a_down_or_time_is_another_play(game):
    game.row(
        "(9:00) B.Sample left end to QRS 40 for 20 yards. PENALTY on XYZ-A.Example, Offensive "
        "Holding, 10 yards, enforced at 50.",
        [(10, 10, HOME), (93, 10, HOME)],
        time="9:00",
    )
    game.run(10, time="9:00")
    for down, time in ((1, "8:30"), (2, "8:26")):
        words = "(8:30) A.Example pass incomplete short left."
        game.row(words, [(14, 0, HOME)], at="50", down=down, time=time)
    for time in ("8:10", "8:02", "8:02"):  # the last kickoff is the second one again
        game.kickoff(time=time)
    kinds = [play.kind for play in game.plays()]
    assert kinds == ["run", "run", "incomplete", "incomplete", "kickoff", "kickoff"]
