"""Possessions derived from the plays. All games are invented."""

from __future__ import annotations

from typing import Any

import pytest

HOME, AWAY = "XYZ", "QRS"


def _ends(game: Any) -> list[str]:
    return [end for _, end in game.possessions()]


def _indices(game: Any) -> list[int]:
    return [index for index, _ in game.possessions()]


def test_a_touchdown_ends_the_possession_and_the_try_belongs_to_it(short_games: Any) -> None:
    assert _indices(short_games[0]) == [0, 0, 0, 0, 1, 1]
    assert _ends(short_games[0]) == ["", *["field_goal"] * 3, "touchdown", ""]


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
def test_how_a_fourth_down_ends_the_possession(
    game: Any, words: str, facts: list[tuple[int, int]], end: str
) -> None:
    game.run(3, at=f"{AWAY} 45", down=3, togo=6)
    game.row(f"(9:00) {words}", [(c, y, HOME) for c, y in facts], at=f"{AWAY} 42", down=4, togo=3)
    game.run(2, club=AWAY, at=f"{AWAY} 40")
    game.run(2, club=AWAY, at=f"{AWAY} 42", down=2, togo=8, quarter=2)
    assert _ends(game) == [end, end, "end_of_half", "end_of_half"]
    assert _indices(game) == [0, 0, 1, 1]


def test_the_half_ends_a_possession_but_a_quarter_does_not(game: Any) -> None:
    game.run(3, quarter=1)
    game.run(3, quarter=2, at=f"{HOME} 43", down=2, togo=7)
    game.run(3, quarter=3, at=f"{HOME} 20")
    assert _indices(game) == [0, 0, 1]
    assert _ends(game) == ["end_of_half"] * 3


def test_a_lost_fumble_that_comes_straight_back_opens_a_new_possession(game: Any) -> None:
    game.row(
        "(9:00) A.Example pass short left INTERCEPTED by E.Invented at XYZ 50. E.Invented to XYZ "
        "45 for 5 yards. FUMBLES, RECOVERED by XYZ-B.Sample at XYZ 45.",
        [(19, 0, HOME), (25, 5, AWAY), (106, 0, AWAY)],
    )
    game.run(3, at=f"{HOME} 45")
    assert _indices(game) == [0, 1]


def test_a_blocked_kick_recovered_behind_the_line_leaves_the_possession_as_it_was(
    game: Any,
) -> None:
    game.row(
        "(9:00) D.Muster 45 yard field goal is BLOCKED, recovered by XYZ-B.Sample at QRS 30.",
        [(71, 45, HOME)],
        at=f"{AWAY} 27",
        down=3,
    )
    game.row("(8:50) D.Muster 48 yard field goal is GOOD.", [(70, 48, HOME)], at=f"{AWAY} 30",
             down=4, togo=13)  # fmt: skip
    assert _indices(game) == [0, 0]
    assert _ends(game) == ["field_goal", "field_goal"]


def test_a_safety_by_a_penalty_in_the_end_zone_ends_the_possession(game: Any) -> None:
    play_id = game.row(
        "(9:00) A.Example pass short right to C.Specimen for 9 yards. PENALTY on XYZ-B.Sample, "
        "Offensive Holding, 4 yards, enforced in End Zone, SAFETY - No Play.",
        [(93, 4, HOME), (89, 0, AWAY)],
        at=f"{HOME} 4",
    )
    game.scored(play_id, "SAF", AWAY, "Penalty on B.Sample enforced in end zone for a Safety")
    assert _ends(game) == ["safety"]


def test_a_kickoff_that_is_run_back_all_the_way_is_a_possession_without_a_snap(game: Any) -> None:
    game.drive()
    first = game.row(
        "D.Muster kicks 65 yards from XYZ 35 to QRS 0. C.Specimen for 100 yards, TOUCHDOWN.",
        [(41, 65, HOME), (46, 100, AWAY)],
        at=f"{HOME} 35",
        down=0,
        togo=0,
    )
    game.scored(first, "TD", AWAY, "C.Specimen 100 yd. kickoff return (D.Muster kick is good)")
    game.row(
        "D.Muster kicks 60 yards from QRS 35 to XYZ 5, out of bounds.",
        [(41, 60, AWAY), (49, 0, HOME)],
        club=AWAY,
        at=f"{AWAY} 35",
        down=0,
        togo=0,
        time="9:40",
    )
    game.run(3, at=f"{HOME} 40", time="9:40")
    plays = game.plays()
    assert _indices(game) == [0, 1, 1]
    assert plays[0].return_touchdown
    assert plays[0].return_yd == 100
