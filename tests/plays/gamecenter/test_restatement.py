"""Plays that the source lists twice. All games are invented."""

from __future__ import annotations

from typing import Any

HOME, AWAY = "XYZ", "QRS"


def test_a_corrected_row_replaces_the_one_before_it(game: Any) -> None:
    game.row("(9:00) B.Sample left end to XYZ 44 for 4 yards.", [(10, 4, HOME)], time="9:00")
    game.row("(9:01) B.Sample left guard to XYZ 44 for 4 yards.", [(10, 4, HOME)], time="9:01")
    game.run(2, at=f"{HOME} 44", down=2, togo=6, time="8:30")
    plays = game.plays()
    assert [(play.play_index, play.gap) for play in plays] == [(0, "guard"), (1, "tackle")]


def test_of_two_statements_the_one_that_the_next_play_follows_from_stays(game: Any) -> None:
    game.run(1, at=f"{AWAY} 2", down=2, togo=2, time="3:35")
    game.run(2, at=f"{AWAY} 2", down=2, togo=2, time="3:34")
    game.run(0, at=f"{AWAY} 1", down=3, togo=1, time="3:20")
    assert [play.gain_yd for play in game.plays()] == [1, 0]


def test_of_two_statements_the_one_that_scored_stays(game: Any) -> None:
    words = "(9:00) B.Sample up the middle for 2 yards, TOUCHDOWN."
    facts = [(11, 2, HOME), (3, 0, HOME)]
    first = game.row(words, facts, at=f"{AWAY} 2", togo=2, time="9:00")
    game.row(words, facts, at=f"{AWAY} 2", togo=2, time="9:01")
    game.scored(first, "TD", HOME, "B.Sample 2 yd. run")
    play = game.only()
    assert (play.touchdown, play.score_diff) == (True, 0)


def test_a_try_that_is_listed_twice_has_the_score_before_it(game: Any) -> None:
    touchdown = game.run(2, at=f"{AWAY} 2", time="9:00")
    game.scored(touchdown, "TD", HOME, "B.Sample 2 yd. run (D.Muster kick is good)")
    for _ in range(2):
        game.row("D.Muster extra point is GOOD.", [(72, 0, HOME)], at=f"{AWAY} 15", down=0, togo=0,
                 time="8:55")  # fmt: skip
    assert [(play.kind, play.score_diff) for play in game.plays()] == [
        ("run", 0),
        ("extra_point", 6),
    ]


def test_the_same_down_again_after_a_penalty_is_another_play(game: Any) -> None:
    game.row(
        "(9:00) B.Sample left end to QRS 40 for 20 yards. PENALTY on XYZ-A.Example, Offensive "
        "Holding, 10 yards, enforced at 50.",
        [(10, 10, HOME), (93, 10, HOME)],
        time="9:00",
    )
    game.run(10, time="9:00")
    assert len(game.plays()) == 2


def test_two_incompletions_in_a_row_are_two_plays(game: Any) -> None:
    for down, time in ((1, "9:00"), (2, "8:56")):
        game.row("(9:00) A.Example pass incomplete short left.", [(14, 0, HOME)], down=down,
                 time=time)  # fmt: skip
    assert len(game.plays()) == 2


def test_two_kickoffs_in_a_row_are_two_plays_if_the_clock_ran(game: Any) -> None:
    game.kickoff(time="9:00")
    game.kickoff(time="8:52")
    game.kickoff(time="8:52")
    assert len(game.plays()) == 2
