"""College play-by-play in the shape of a college football data service: camelCase or snake_case.

JSON as the service answers (inner objects become dotted names), or CSV exported from it. `offense`
is the club that kicks off; the score is the offense's and the defense's after the play.
"""

from __future__ import annotations

from typing import Final

from lensyard.plays.importing.adapter import Adapter
from lensyard.plays.importing.college import tell_college
from lensyard.plays.importing.sql import RawColumns

_NAMES: Final[dict[str, tuple[str, ...]]] = {
    "game_id": ("gameId", "game_id"),
    "season": ("season", "year"),
    "season_type": ("seasonType", "season_type"),
    "drive_number": ("driveNumber", "drive_number"),
    "play_number": ("playNumber", "play_number"),
    "same_key": ("id", "playId", "play_id"),
    "home": ("home", "homeTeam", "home_team"),
    "away": ("away", "awayTeam", "away_team"),
    "home_club": ("home", "homeTeam", "home_team"),
    "away_club": ("away", "awayTeam", "away_team"),
    "have": ("offense",),
    "have_not": ("defense",),
    "quarter": ("period", "quarter"),
    "clock_minutes": ("clock.minutes", "clockMinutes", "clock_minutes", "minutes"),
    "clock_seconds": ("clock.seconds", "clockSeconds", "clock_seconds", "seconds"),
    "distance_yd": ("distance",),
    "yardline_100": ("yardsToGoal", "yards_to_goal"),
    "offense_after": ("offenseScore", "offense_score"),
    "defense_after": ("defenseScore", "defense_score"),
    "kind": ("playType", "play_type"),
    "words": ("playText", "play_text"),
    "gain_yd": ("yardsGained", "yards_gained"),
    "scoring": ("scoring",),
}


def map_columns(c: RawColumns) -> dict[str, str]:
    """Return field -> expression over a file of this source."""
    staged = tell_college(c, receiver_kicks_off=False)
    offense, defense = c.whole("offense_after"), c.whole("defense_after")
    home = f"({staged['offense']}) = ({staged['home_club']})"
    staged["home_after"] = f"CASE WHEN {home} THEN {offense} ELSE {defense} END"
    staged["away_after"] = f"CASE WHEN {home} THEN {defense} ELSE {offense} END"
    return staged


ADAPTER: Final = Adapter(
    name="cfbd",
    title="college football data service play-by-play",
    level="college",
    license="as the service's terms say",
    attribution="Play-by-play: a college football data service; see its terms.",
    names=_NAMES,
    needs=(
        ("game_id", "the game"),
        ("season", "the season; --season says it for a file without"),
        ("have", "the club with the ball"),
        ("have_not", "the other club"),
        ("home", "the home club"),
        ("away", "the visiting club"),
        ("kind", "the kind of play"),
        ("quarter", "the quarter"),
        ("down", "the down"),
        ("distance_yd", "yards to the line to gain"),
        ("yardline_100", "yards to the opponent's goal line"),
        ("gain_yd", "yards gained"),
    ),
    signature_columns=(
        ("offense", "defense", "yardstogoal", "playtype", "yardsgained"),
        ("offense", "defense", "yards_to_goal", "play_type", "yards_gained", "home", "away"),
    ),
    map_columns=map_columns,
)
