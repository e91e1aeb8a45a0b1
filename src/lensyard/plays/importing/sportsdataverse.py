"""College play-by-play of the sportsdataverse project: dotted names, or flat ones.

On kickoffs `pos_team` is the receiving club. Clocks repeat over a whole drive; ids may be floats
that lost digits and are then not used.
"""

from __future__ import annotations

from typing import Final

from lensyard.plays.importing.adapter import Adapter
from lensyard.plays.importing.college import tell_college
from lensyard.plays.importing.sql import RawColumns

_NAMES: Final[dict[str, tuple[str, ...]]] = {
    "game_id": ("game_id", "gameId", "id_game"),
    "season": ("season", "year"),
    "season_type": ("seasonType", "season_type"),
    "order_key": ("game_play_number", "sequenceNumber"),
    "same_key": ("id", "id_play"),
    "home": ("homeTeamId", "home_team_id", "home"),
    "away": ("awayTeamId", "away_team_id", "away"),
    "home_club": ("homeTeamAbbrev", "homeTeamName", "home"),
    "away_club": ("awayTeamAbbrev", "awayTeamName", "away"),
    "have": ("start.pos_team.id", "pos_team", "start.team.id"),
    "have_not": ("start.def_pos_team.id", "def_pos_team"),
    "end_have": ("end.pos_team.id", "end.team.id"),
    "quarter": ("period", "period.number", "qtr"),
    "clock": ("clock.displayValue", "clock_display_value"),
    "clock_minutes": ("clock.minutes", "clock_minutes"),
    "clock_seconds": ("clock.seconds", "clock_seconds"),
    "down": ("start.down", "down"),
    "distance_yd": ("start.distance", "distance"),
    "yardline_100": ("start.yardsToEndzone", "yards_to_goal"),
    "end_line": ("end.yardsToEndzone", "yards_to_goal_end"),
    "home_after": ("homeScore", "home_score"),
    "away_after": ("awayScore", "away_score"),
    "kind": ("type.text", "play_type"),
    "words": ("text", "play_text"),
    "gain_yd": ("statYardage", "yards_gained"),
    "penalty": ("penalty_flag", "isPenalty"),
    "scoring": ("scoringPlay", "scoring_play", "scoring"),
    "fumble_lost": ("fumble_lost",),
}


def map_columns(c: RawColumns) -> dict[str, str]:
    """Return field -> expression over a file of this source."""
    return tell_college(c, receiver_kicks_off=c.origin("have") != "start.team.id")


ADAPTER: Final = Adapter(
    name="sportsdataverse",
    title="sportsdataverse college play-by-play",
    level="college",
    license="CC BY 4.0",
    attribution="Play-by-play: the sportsdataverse project (sportsdataverse-data), CC BY 4.0.",
    homepage="https://github.com/sportsdataverse/sportsdataverse-data",
    address="https://github.com/sportsdataverse/sportsdataverse-data/releases/download/"
    "espn_cfb_pbp/play_by_play_{season}.parquet",
    first_season=2004,
    names=_NAMES,
    needs=(
        ("game_id", "the game"),
        ("season", "the season"),
        ("have", "the club with the ball"),
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
        ("type.text", "start.yardstoendzone", "start.distance"),
        ("pos_team", "def_pos_team", "yards_to_goal", "play_type"),
    ),
    map_columns=map_columns,
)
