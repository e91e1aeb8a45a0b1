"""Bundled games replayed through the rules of `lensyard.game.state`, snap by snap.

A game is told to the rules as somebody at the field would: what each play turned into and where
the ball was then. Where a flag was enforced that place is the next snap's (it is where the ball
lies after the walk-off), and whether the down counted, was repeated or became a first is told too;
nobody could know it from the play. Told as well: who kicks off first and in overtime, and that a
quarter is over. Everything else before each snap must follow: what the next play is, who has the
ball, down, distance, spot, score.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from itertools import groupby, pairwise
from typing import Any

from lensyard.errors import InvalidInputError
from lensyard.game.entry import Result, Team
from lensyard.game.rules import GAME_RULES
from lensyard.game.state import (
    GameState,
    Phase,
    PlayResult,
    apply,
    end_quarter,
    kickoff_out,
    other_team,
)

PRO_2019 = replace(GAME_RULES["pro"], kickoff_touchback=75, first_touchdown_wins=True)
"""Until 2023 a kickoff into the end zone came out to the 25, and until 2021 the first touchdown
of overtime won (facts of the rule books as in `lensyard.game.rules`)."""

COLUMNS = (
    "game_id", "play_index", "home_club", "offense", "quarter", "clock_s", "down", "distance_yd",
    "yardline_100", "score_diff", "kind", "touchdown", "return_touchdown", "turnover", "penalty",
    "kick_result", "kick_distance_yd", "end_yardline_100",
)  # fmt: skip
CARRIED = {
    "run": Result.RUN, "complete": Result.COMPLETE, "sack": Result.SACK,
    "scramble": Result.SCRAMBLE, "kneel": Result.RUN,
}  # fmt: skip
Row = dict[str, Any]


@dataclass
class Replay:
    """How many snaps followed from the play before, by whether a flag was enforced on it."""

    right: Counter[str] = field(default_factory=Counter)
    wrong: Counter[str] = field(default_factory=Counter)
    reasons: Counter[str] = field(default_factory=Counter)

    @property
    def share(self) -> float:
        """The share of all snaps that were right."""
        return self.right.total() / (self.right.total() + self.wrong.total())

    def share_of(self, group: str) -> float:
        """The share of a group: ``flag`` or ``no flag``."""
        return self.right[group] / (self.right[group] + self.wrong[group])


def games_of(season: int) -> Iterator[list[Row]]:
    """Return the plays of every game of a bundled season, in their order."""
    import duckdb

    from lensyard.config import data_dir

    names = ", ".join(COLUMNS)
    with duckdb.connect() as connection:
        rows = connection.execute(
            f"SELECT {names} FROM read_parquet(?) WHERE season = ? ORDER BY game_id, play_index",
            [str(data_dir() / "plays.parquet"), season],
        ).fetchall()
    plays = (dict(zip(COLUMNS, row, strict=True)) for row in rows)
    for _, game in groupby(plays, key=lambda play: play["game_id"]):
        yield list(game)


def replay(season: int = 2019) -> Replay:
    """Return how a season's snaps follow from the plays before them."""
    found = Replay()
    for game in games_of(season):
        state = opening(game[0])
        for play, then in pairwise(game):
            try:
                state = after(state, play, then)
                differs = differences(state, then)
            except InvalidInputError:  # a fair-catch kick
                differs = ["no such result in this phase"]
            group = "flag" if play["penalty"] else "no flag"
            if differs:
                found.wrong[group] += 1
                found.reasons[reason(play, then, differs)] += 1
                state = state_at(then, like=state)
            else:
                found.right[group] += 1
    return found


def opening(row: Row) -> GameState:
    """Return the state before a game's first play."""
    state = GameState(PRO_2019, offense=team_of(row), opened_by=team_of(row))
    return state_at(row, like=state)


def team_of(row: Row) -> Team:
    return Team.HOME if row["offense"] == row["home_club"] else Team.AWAY


def phase_of(row: Row) -> Phase:
    if row["kind"] in ("extra_point", "two_point") or (
        not row["down"] and row["yardline_100"] < 20
    ):
        return Phase.TRY
    return Phase.SCRIMMAGE if row["down"] else Phase.KICKOFF


def state_at(row: Row, *, like: GameState) -> GameState:
    """Return the state that a row says, with what it does not say as in ``like``."""
    ahead = row["score_diff"] if team_of(row) is Team.HOME else -row["score_diff"]
    return replace(
        like,
        phase=phase_of(row),
        offense=team_of(row),
        direction=like.direction_of(team_of(row)),
        yardline_100=row["yardline_100"],
        down=row["down"] or None,
        distance_yd=row["distance_yd"] or None,
        home_points=like.away_points + ahead,
        quarter=min(row["quarter"], 5),
    )


def after(state: GameState, play: Row, then: Row) -> GameState:
    """Return what follows from a play, with the whistle of the quarter where there was one."""
    state = apply(state, result_of(state, play, then))
    if play["penalty"] and state.phase in (Phase.TRY, Phase.KICKOFF):  # enforced on what follows
        state = apply(state, PlayResult(Result.NO_PLAY, then["yardline_100"]))
    while state.quarter < min(then["quarter"], 5) and state.phase is not Phase.OVER:
        state = end_quarter(state)
        if state.quarter == 5 and state.offense is not team_of(then):  # how the coin fell
            state = other_team(state)
    return state


def result_of(state: GameState, play: Row, then: Row) -> PlayResult:
    """Return what a person would tell of a play."""
    kind, end = play["kind"], play["end_yardline_100"]
    if play["penalty"] and not (play["touchdown"] or play["return_touchdown"]):
        return flagged(state, play, then)
    if kind == "kickoff":
        return kickoff_result(state, play, end)
    if kind in ("extra_point", "two_point"):
        made = Result.FIELD_GOAL if kind == "extra_point" else Result.GAIN
        if play["kick_result"] == "made":
            return PlayResult(made, None if kind == "extra_point" else 0)
        return PlayResult(Result.MISSED, 100 if play["return_touchdown"] else None)
    if play["return_touchdown"]:
        return PlayResult(Result.INTERCEPTION if kind == "interception" else Result.FUMBLE, 100)
    if play["touchdown"]:
        return PlayResult(Result.GAIN if kind != "punt" else Result.KICK_KEPT, 0)
    if kind == "field_goal":
        if play["kick_result"] == "made":
            return PlayResult(Result.FIELD_GOAL)
        return PlayResult(Result.MISSED, end if play["kick_result"] == "blocked" else None)
    if kind == "punt":
        kept = play["kick_result"] == "recovered"
        return PlayResult(Result.KICK_KEPT if kept else Result.KICK, end)
    if kind == "interception":
        return PlayResult(Result.INTERCEPTION, end)
    if play["turnover"]:
        return PlayResult(Result.FUMBLE, end)
    if kind in CARRIED:
        return PlayResult(CARRIED[kind], end)
    return PlayResult(Result.NO_PLAY if kind == "no_play" else Result.INCOMPLETE)


def kickoff_result(state: GameState, play: Row, end: int | None) -> PlayResult:
    if play["touchdown"]:
        return PlayResult(Result.KICK_KEPT, 0)
    if play["return_touchdown"]:
        return PlayResult(Result.KICK, 100)
    if play["kick_result"] == "out_of_bounds":
        return kickoff_out(state)
    kept = play["kick_result"] == "recovered"
    return PlayResult(Result.KICK_KEPT if kept else Result.KICK, end)


def flagged(state: GameState, play: Row, then: Row) -> PlayResult:
    """Return what is told of a play with a flag: where the ball is now, and what became of it."""
    same = team_of(play) is team_of(then)
    ball = then["yardline_100"] if same else 100 - then["yardline_100"]
    if phase_of(then) is Phase.KICKOFF or phase_of(play) is Phase.TRY:
        bare = {**play, "penalty": False, "end_yardline_100": play["end_yardline_100"]}
        if play["kind"] == "no_play":
            return PlayResult(Result.NO_PLAY, ball)
        return result_of(state, bare, then)
    if not same:
        return PlayResult(Result.KICK if not play["turnover"] else Result.FUMBLE, ball)
    if play["kind"] == "kickoff":
        rekick = phase_of(then) is Phase.KICKOFF
        return PlayResult(Result.NO_PLAY if rekick else Result.KICK_KEPT, ball)
    anew = then["down"] == 1 and then["distance_yd"] == min(10, ball)
    first = anew and (play["down"] != 1 or ball != play["yardline_100"])
    if then["down"] == play["down"] and not first:
        return PlayResult(Result.NO_PLAY, ball, first_down=first)
    return PlayResult(Result.GAIN, ball, first_down=first)


def differences(state: GameState, row: Row) -> list[str]:
    """Return what the rules say otherwise than the play-by-play before a snap."""
    found = []
    if state.phase is not phase_of(row):
        found.append(f"{state.phase.value} for {phase_of(row).value}")
    if state.offense is not team_of(row):
        found.append("possession")
    for name, value in (("down", state.down), ("distance_yd", state.distance_yd)):
        if (value or 0) != row[name]:
            found.append(name)
    spot = state.rules.two_points_from if row["kind"] == "two_point" else state.yardline_100
    if spot != row["yardline_100"]:
        found.append("spot")
    if state.score_diff != row["score_diff"] and "possession" not in found:
        found.append("score")
    return found


def reason(play: Row, then: Row, differs: list[str]) -> str:
    """Return a mismatch in words, to be counted."""
    parts = [play["kind"]]
    if play["kick_result"]:
        parts.append(play["kick_result"])
    parts += [word for word in ("turnover", "touchdown", "penalty") if play[word]]
    next_kind = then["kind"] if then["kind"] in ("kickoff", "no_play") else "snap"
    return f"{' '.join(parts)} -> {next_kind}: {', '.join(differs)}"
