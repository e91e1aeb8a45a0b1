"""What is repaired in a staged row, and what makes it unusable, each in plain words.

Conditions are SQL over the columns of `lensyard.plays.importing.adapter.STAGED_COLUMNS`. The same
rules hold for every source.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from lensyard.plays.importing.sql import listed
from lensyard.plays.kinds import (
    DEPTHS,
    GAPS,
    KICK_RESULTS,
    PASS_KINDS,
    SCRIMMAGE_KINDS,
    SEASON_TYPES,
    SIDES,
    TRY_KINDS,
    PlayKind,
)
from lensyard.plays.possession import GAIN_KINDS

_KINDS: Final = listed(kind.value for kind in PlayKind)
_SCRIMMAGE: Final = f"kind IN ({listed(SCRIMMAGE_KINDS)})"
_GAINS: Final = f"kind IN ({listed(GAIN_KINDS)})"
_PASSES: Final = f"kind IN ({listed(PASS_KINDS)})"
_TRIES: Final = f"kind IN ({listed(TRY_KINDS)})"
_ON_DOWN: Final = f"(({_SCRIMMAGE} AND kind <> 'field_goal') OR down BETWEEN 1 AND 4)"


@dataclass(frozen=True, slots=True)
class Repair:
    """A column that takes another value where a condition holds."""

    column: str
    when: str
    becomes: str
    words: str


@dataclass(frozen=True, slots=True)
class RejectRule:
    """A reason to reject a row; `column` is the field that the report shows."""

    column: str
    when: str
    words: str


_PRO_KICKOFF_LINE: Final = "if(season >= 2011, 65, 70)"
"""From the 35 since 2011, from the 30 before: NFL Official Playing Rules 2021, rule 6. [yd]"""
_PRO_TRY_LINE: Final = "if(kind = 'extra_point' AND season >= 2015, 15, 2)"
_KICKOFF_LINES: Final = {"college": "65", "high-school": "60", "other": "65"}


def repairs(level: str) -> tuple[Repair, ...]:
    """Return the repairs for a level of play; its rules say where kickoffs and tries are from."""
    kickoff_line = _PRO_KICKOFF_LINE if level == "pro" else _KICKOFF_LINES[level]
    try_line = _PRO_TRY_LINE if level == "pro" else "3"
    labels = (
        ("side", SIDES, "an unknown direction: left out"),
        ("depth", DEPTHS, "an unknown depth: left out"),
        ("gap", GAPS, "an unknown gap: left out"),
        ("kick_result", KICK_RESULTS, "an unknown result of a kick: left out"),
    )
    return (
        Repair("yardline_100", "kind = 'kickoff' AND yardline_100 IS NULL", kickoff_line,
               "a kickoff without a spot: taken at the season's kickoff line"),
        Repair("yardline_100", f"{_TRIES} AND coalesce(yardline_100, 0) NOT BETWEEN 1 AND 99",
               try_line, "a try without a spot: taken where tries are snapped"),
        Repair("yardline_100", "yardline_100 IN (0, 100)", "if(yardline_100 = 0, 1, 99)",
               "the ball on a goal line: taken at the 1-yard line before it"),
        Repair("distance_yd", f"{_ON_DOWN} AND coalesce(distance_yd, 0) = 0 AND yardline_100 "
               "BETWEEN 1 AND 10", "yardline_100",
               "goal to go without a distance: taken to the goal line"),
        Repair("distance_yd", f"{_ON_DOWN} AND distance_yd > yardline_100 AND yardline_100 >= 1",
               "yardline_100", "a line to gain beyond the goal line: taken at the goal line"),
        Repair("gain_yd", f"{_GAINS} AND gain_yd > yardline_100 AND gain_yd < 1000",
               "yardline_100", "more yards gained than the field has: cut at the goal line"),
        Repair("gain_yd", f"{_GAINS} AND gain_yd < yardline_100 - 100 AND gain_yd > -1000",
               "yardline_100 - 100", "more yards lost than the field has: cut at the goal line"),
        Repair("air_yd", f"{_PASSES} AND (air_yd > yardline_100 + 10 OR air_yd < -30)",
               "NULL", "air yards off the field: left out"),
        Repair("after_catch_yd", "kind = 'complete' AND after_catch_yd NOT BETWEEN -99 AND 99",
               "NULL", "yards after the catch off the field: left out"),
        Repair("kick_distance_yd", "kick_distance_yd NOT BETWEEN -10 AND 99",
               "NULL", "a kick longer than the field: length left out"),
        Repair("return_yd", "return_yd NOT BETWEEN -60 AND 110",
               "NULL", "a return longer than the field: length left out"),
        Repair("score_diff", "score_diff NOT BETWEEN -80 AND 80",
               "greatest(-80, least(80, score_diff))",
               "a lead of more than 80 points: taken as 80"),
        Repair("clock_s", "clock_s > 900", "900", "more than 15 minutes left: taken as 15"),
        Repair("quarter", "quarter > 8", "8", "a ninth period or later: taken as the eighth"),
        Repair("week", "week IS NULL", "1", "no week: taken as 1"),
        Repair("week", "week > 22", "22", "a week after the 22nd: taken as 22"),
        *(
            Repair(column, f"coalesce({column}, '') NOT IN ({listed(known)})", "''", words)
            for column, known, words in labels
        ),
    )  # fmt: skip


REJECT_RULES: Final[tuple[RejectRule, ...]] = (
    RejectRule("game_id", "game_id IS NULL", "no game"),
    RejectRule("season", "coalesce(season, 0) NOT BETWEEN 1990 AND 2100", "no season that can be"),
    RejectRule("season_type", f"coalesce(season_type, '') NOT IN ({listed(SEASON_TYPES)})",
               "a season type that is neither regular nor post season"),
    RejectRule("week", "week < 1", "a week below 1"),
    RejectRule("kind", f"coalesce(kind, '') NOT IN ({_KINDS})", "no kind of play that is known"),
    RejectRule("offense", "offense IS NULL", "no club with the ball"),
    RejectRule("defense", "defense IS NULL OR defense = offense", "no other club on defense"),
    RejectRule("home_club", "home_club IS NULL OR away_club IS NULL", "no home or visiting club"),
    RejectRule("offense", "offense NOT IN (home_club, away_club)",
               "a club with the ball that is not one of the two that play"),
    RejectRule("quarter", "quarter < 1", "a quarter below 1"),
    RejectRule("clock_s", "clock_s < 0", "less than no time left"),
    RejectRule("down", f"{_SCRIMMAGE} AND kind <> 'field_goal' AND coalesce(down, 0) NOT BETWEEN 1 "
               "AND 4", "no down from 1 to 4"),
    RejectRule("yardline_100", "coalesce(yardline_100, 0) NOT BETWEEN 1 AND 99",
               "no line of scrimmage on the field"),
    RejectRule("distance_yd", f"{_ON_DOWN} AND coalesce(distance_yd, 0) NOT BETWEEN 1 AND 99",
               "no distance to the line to gain"),
    RejectRule("gain_yd", f"{_GAINS} AND coalesce(gain_yd, 1000) NOT BETWEEN -99 AND 99",
               "no yards gained"),
)  # fmt: skip
"""In this order: the first that holds is the one reported."""

COPY_WORDS: Final = "the same play a second time"
LONG_GAME_WORDS: Final = "a game of more than 401 plays or 81 possessions; is the game id right?"
SPLIT_WORDS: Final = "a line that cannot be split into columns"
