"""The score before every snap. All games are invented."""

import pytest

HOME, AWAY = "XYZ", "QRS"
KICK = "(D.Muster kick is good)"


def _touchdown(game, club=HOME, desc=""):
    play_id = game.row(
        "(9:00) B.Sample up the middle for 2 yards, TOUCHDOWN.",
        [(11, 2, club), (3, 0, club)],
        club=club,
        at=f"{AWAY if club == HOME else HOME} 2",
    )
    game.scored(play_id, "TD", club, desc)
    return str(play_id)


def _try(game, code=72, club=HOME):
    at = f"{AWAY if club == HOME else HOME} 15"
    game.row("An invented try.", [(code, 0, club)], club=club, at=at, down=0, togo=0)


def test_the_score_is_the_one_before_the_snap(game):
    game.totals = (7, 0)
    _touchdown(game, desc=f"B.Sample 2 yd. run {KICK}")
    _try(game)
    game.kickoff()
    game.run(club=AWAY, at=f"{AWAY} 25")
    parsed = game.parse()
    assert [play.score_diff for play in parsed.plays] == [0, 6, 7, -7]
    assert parsed.final_score_agrees


def test_a_try_without_a_row_counts_with_its_touchdown(game):
    game.totals = (0, 7)
    returned = game.row(
        "(9:00) A.Example pass short left INTERCEPTED by E.Invented at XYZ 50. E.Invented for 50 "
        "yards, TOUCHDOWN.",
        [(19, 0, HOME), (26, 50, AWAY)],
    )
    game.scored(returned, "TD", AWAY, f"E.Invented 50 yd. interception return {KICK}")
    game.run(at=f"{HOME} 20")
    parsed = game.parse()
    assert parsed.plays[0].return_touchdown
    assert parsed.plays[0].end_yardline_100 == 100
    assert parsed.plays[1].score_diff == -7
    assert parsed.final_score_agrees


@pytest.mark.parametrize(
    ("words", "points"),
    [
        ("(D.Muster kick is good)", 1),
        ("(A.Example pass to C.Specimen)", 2),
        ("(B.Sample run)", 2),
        ("(pass failed)", 0),
        ("(run failed)", 0),
        ("(kick failed, wr)", 0),
        ("(kick blocked)", 0),
        ("(kick aborted)", 0),
        ("", 0),
    ],
)
def test_the_summary_tells_what_the_try_brought(game, words, points):
    _touchdown(game, desc=f"B.Sample 2 yd. run {words} Drive: 9 plays, 80 yards in 4:36")
    game.run()
    assert game.plays()[1].score_diff == 6 + points


def test_a_safety_is_two_points_for_the_defense_even_if_booked_as_a_touchdown(game):
    game.totals = (0, 2)
    play_id = game.row(
        "(9:00) B.Sample left end tackled in End Zone for -1 yards, SAFETY.",
        [(10, -1, HOME), (89, 0, AWAY)],
        at=f"{HOME} 1",
    )
    game.scored(play_id, "TD", AWAY, "B.Sample tackled in end zone by E.Invented for a Safety")
    game.run(at=f"{HOME} 30")
    parsed = game.parse()
    safety = parsed.plays[0]
    assert (safety.return_touchdown, safety.end_yardline_100) == (False, 100)
    assert game.possessions()[0][1] == "safety"
    assert parsed.plays[1].score_diff == -2
    assert parsed.final_score_agrees


def test_a_two_point_try_after_a_return_touchdown_is_no_safety(game):
    returned = game.row(
        "(9:00) A.Example pass short left INTERCEPTED by E.Invented at XYZ 50. E.Invented for 50 "
        "yards, TOUCHDOWN.",
        [(19, 0, HOME), (26, 50, AWAY)],
    )
    game.scored(returned, "TD", AWAY, "E.Invented 50 yd. return (B.Sample run)")
    assert game.possessions() == [(0, "turnover")]


def test_a_try_that_the_defense_runs_back_counts_though_its_row_has_no_spot(game):
    game.totals = (6, 2)
    _touchdown(game, desc="B.Sample 2 yd. run (kick blocked)")
    blocked = game.row("An invented blocked try.", [(74, 0, HOME)], at="", down=0, togo=0)
    game.scored(blocked, None, AWAY, "E.Invented defensive two point conversion")
    game.run()
    parsed = game.parse()
    assert parsed.plays[-1].score_diff == 4
    assert parsed.final_score_agrees


def test_a_score_without_a_row_counts_after_the_row_before_it(game):
    game.totals = (6, 2)
    game.next_id = 120
    game.run(3, at=f"{HOME} 30")  # 110
    _touchdown(game, desc="B.Sample 2 yd. run (kick blocked)")  # 100
    game.scored("105", None, AWAY, "E.Invented defensive two point conversion")
    game.run(at=f"{HOME} 20", club=AWAY)  # 90
    parsed = game.parse()
    assert parsed.final_score_agrees
    assert parsed.plays[-1].score_diff == -4


def test_a_game_with_a_hole_does_not_reach_its_final_score(game):
    game.totals = (7, 0)
    game.run()
    assert not game.parse().final_score_agrees
