"""College play-by-play of two publishers; they differ in names and in who kicks off.

The kind of play stands in a play type such as "Passing Touchdown"; much else only in the words.
Completions often carry no yards: then the spots before and after give them. Points in a row are
those after the play.

- sportsdataverse: dotted names, or flat ones. On kickoffs `pos_team` is the receiving club. Clocks
  repeat over a whole drive; ids may be floats that lost digits and are then not used.
- ncaa: the same project's release of all divisions (``ncaa_mfb_pbp_cfbfastr``, 2013 to now, parsed
  from the association's own pages), flat names, kinds of play as flags beside the play type; its
  columns are those that the documentation of ``load_ncaa_mfb_pbp`` lists (cfbfastR, August 2026).
- cfbd: the shape of a college football data service, in camelCase or snake_case; JSON as the
  service answers (inner objects become dotted names), or CSV exported from it. `offense` is the
  club that kicks off; the score is the offense's and the defense's after the play.
"""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from typing import Final

from lensyard.plays.importing.adapter import Adapter, RawColumns, clock_seconds

_SPORTSDATAVERSE_NAMES: Final[dict[str, tuple[str, ...]]] = {
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
_CFBD_NAMES: Final[dict[str, tuple[str, ...]]] = {
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
_SKIPPED: Final = (
    "timeout|time out|end |end of|start of|coin toss|two.minute|2.minute|media|official"
)
_KIND_FLAGS: Final = ("rush", "pass", "kickoff_play", "punt_play", "fg_inds")
_BALL: Final = "'(?i)out.of.bounds'"


def _kind(c: RawColumns) -> str:
    """Return the expression for the kind of play from play type, flags and words."""
    t, words = c.lower("kind"), c.lower("words")
    ran = f"({c.flag('rush')} OR regexp_matches({words}, '(^| )(runs?|rush(ed|es)?) '))"
    caught = f"({c.flag('completion')} OR contains({words}, 'pass complete'))"
    missed = "incomplete" if c.has("completion") else "complete"
    return f"""CASE
        WHEN {c.flag("penalty_no_play")} OR regexp_matches({words}, 'no play')
            OR {t} LIKE '%penalty%' THEN 'no_play'
        WHEN {t} LIKE '%two%point%' OR {t} LIKE '%2pt%' THEN 'two_point'
        WHEN {t} LIKE '%extra point%' OR {t} LIKE '% pat%' THEN 'extra_point'
        WHEN {t} LIKE '%kickoff%' THEN 'kickoff'
        WHEN {t} LIKE '%punt%' THEN 'punt'
        WHEN {t} LIKE '%field goal%' THEN 'field_goal'
        WHEN {t} LIKE '%interception%' THEN 'interception'
        WHEN {t} LIKE '%sack%' THEN 'sack'
        WHEN {t} LIKE '%incompletion%' OR {t} LIKE '%incomplete%' THEN
            if(contains({words}, 'spike'), 'spike', 'incomplete')
        WHEN {t} IN ('pass', '') AND {c.flag("int")} THEN 'interception'
        WHEN {t} IN ('pass', '') AND {c.flag("sack")} THEN 'sack'
        WHEN {t} = 'pass' OR ({t} = '' AND {c.flag("pass")})
            THEN if({caught}, 'complete', '{missed}')
        WHEN {t} LIKE 'pass%' THEN 'complete'
        WHEN {t} LIKE 'rush%' OR {t} = 'run' THEN CASE
            WHEN regexp_matches({words}, 'kneel|knee') THEN 'kneel'
            WHEN contains({words}, 'scrambl') THEN 'scramble' ELSE 'run' END
        WHEN {c.flag("sack")} OR contains({words}, 'sacked') THEN 'sack'
        WHEN {caught} THEN 'complete'
        WHEN contains({words}, 'pass incomplete') THEN 'incomplete'
        WHEN {ran} THEN 'run'
        WHEN {c.flag("kickoff_play")} THEN 'kickoff'
        WHEN {c.flag("punt_play")} THEN 'punt'
        WHEN {c.flag("fg_inds")} THEN 'field_goal'
        ELSE {c.text("kind")} END"""


def _skip(c: RawColumns) -> str:
    """Return the expression for why a row is no play."""
    t = c.lower("kind")
    flagged = " OR ".join(c.flag(name) for name in _KIND_FLAGS)
    return f"""CASE
        WHEN {t} = '' AND NOT ({flagged}) THEN 'no play: no play type'
        WHEN regexp_matches({t}, '^({_SKIPPED})') THEN 'no play: time-out, start or end of a period'
        END"""


def _kick_result(c: RawColumns) -> str:
    """Return the expression for what became of a kick or a try."""
    t, words = c.lower("kind"), c.lower("words")
    return f"""CASE
        WHEN {t} LIKE '%block%' OR contains({words}, 'blocked') THEN 'blocked'
        WHEN {t} LIKE '%field goal%' OR {t} LIKE '%extra point%' OR {t} LIKE '% pat%'
            OR ({t} = '' AND {c.flag("fg_inds")})
            THEN if({t} LIKE '%good%' OR {t} LIKE '%made%' OR {c.flag("fg_made")}, 'made',
                'missed')
        WHEN {t} LIKE '%two%point%' OR {t} LIKE '%2pt%'
            THEN if({c.flag("scoring")}, 'made', 'missed')
        WHEN contains({words}, 'touchback') THEN 'touchback'
        WHEN contains({words}, 'fair catch') THEN 'fair_catch'
        WHEN contains({words}, 'downed') THEN 'downed'
        WHEN regexp_matches({words}, 'return') OR {t} LIKE '%return%' THEN 'returned'
        WHEN regexp_matches({words}, {_BALL}) THEN 'out_of_bounds'
        ELSE '' END"""


def _returned(c: RawColumns) -> str:
    """Return the expression for a touchdown by the club that did not have the ball."""
    t = c.lower("kind")
    return (
        f"({t} LIKE '%touchdown%' AND ({t} LIKE '%return%' OR {t} LIKE '%interception%' "
        f"OR {t} LIKE '%opponent%' OR {t} LIKE '%block%' OR {t} LIKE '%sack%'))"
    )


def _number_in(c: RawColumns, pattern: str) -> str:
    """Return the expression for a number that a pattern's first group finds in the words."""
    return f"try_cast(regexp_extract({c.lower('words')}, '{pattern}', 1) AS INTEGER)"


def _kick_distance(c: RawColumns) -> str:
    """Return the expression for the length of a kick."""
    t = c.lower("kind")
    return f"""CASE
        WHEN {t} LIKE '%kickoff%'
            THEN coalesce({c.whole("yds_kickoff")}, {_number_in(c, "kickoff for ([0-9]+)")})
        WHEN {t} LIKE '%punt%'
            THEN coalesce({c.whole("yds_punted")}, {_number_in(c, "punt for ([0-9]+)")})
        WHEN {t} LIKE '%field goal%'
            THEN coalesce({c.whole("yds_fg")}, {_number_in(c, "([0-9]+) (?:yd|yard)")}) END"""


def _return_yards(c: RawColumns) -> str:
    """Return the expression for the yards of a return; on interceptions the booked yards are it."""
    t = c.lower("kind")
    given = _number_in(c, "returns? (?:for |of )?([0-9]+) (?:yd|yard)")
    back = _number_in(c, "returns? for a loss of ([0-9]+)")
    return f"""CASE
        WHEN {t} LIKE '%kickoff%' OR {t} LIKE '%punt%' THEN CASE
            WHEN contains({c.lower("words")}, 'touchback') THEN NULL
            ELSE coalesce({given}, -{back},
                if({t} LIKE '%punt%', {c.whole("yds_punt_return")}, NULL)) END
        WHEN {t} LIKE '%interception%' THEN coalesce({given}, {c.whole("gain_yd")})
        WHEN {t} LIKE '%fumble return%' THEN {c.whole("gain_yd")} END"""


def _gain(c: RawColumns) -> tuple[str, str]:
    """Return the expressions for the gain, and for whether it had to be taken from the spots."""
    booked, line, after = c.whole("gain_yd"), c.whole("yardline_100"), c.whole("end_line")
    same = f"{c.text('end_have')} = {c.text('have')}" if c.has("end_have") else "false"
    stated = f"coalesce({booked}, 0) <> 0 OR contains({c.lower('words')}, 'no gain')"
    lacks = (
        f"({_kind(c)}) IN ('complete', 'run', 'scramble') AND NOT ({stated}) AND {same} "
        f"AND {after} BETWEEN 1 AND 99 AND {line} <> {after} AND NOT {c.flag('penalty')}"
    )
    return f"CASE WHEN {lacks} THEN {line} - {after} ELSE {booked} END", f"({lacks})"


def _label(c: RawColumns, key: str) -> str:
    """Return the expression that names a club as home and visitors are named."""
    home, away = c.text("home"), c.text("away")
    home_label = f"coalesce({c.text('home_club')}, {home})"
    away_label = f"coalesce({c.text('away_club')}, {away})"
    given = c.text(key)
    return (
        f"CASE WHEN {given} IN ({home}, {home_label}) THEN {home_label} "
        f"WHEN {given} IN ({away}, {away_label}) THEN {away_label} ELSE {given} END"
    )


def _map_columns(c: RawColumns, *, kicker_has_ball: bool = False) -> dict[str, str]:
    """Return field -> expression over a file of college plays.

    `kicker_has_ball`: Whether `have` is the kicking club on kickoffs, and the score that of `have`
        and `have_not`.
    """
    home = f"coalesce({c.text('home_club')}, {c.text('home')})"
    away = f"coalesce({c.text('away_club')}, {c.text('away')})"
    have = _label(c, "have")
    other = _label(c, "have_not") if c.has("have_not") else f"if(({have}) = {home}, {away}, {home})"
    if not kicker_has_ball and c.origin("have") != "start.team.id":
        kickoff = f"{c.lower('kind')} LIKE '%kickoff%'"
        have, other = (
            f"CASE WHEN {kickoff} THEN {other} ELSE {have} END",
            f"CASE WHEN {kickoff} THEN {have} ELSE {other} END",
        )
    home_after, away_after = c.whole("home_after"), c.whole("away_after")
    if kicker_has_ball:
        ours, theirs = c.whole("offense_after"), c.whole("defense_after")
        home_after = f"CASE WHEN ({have}) = ({home}) THEN {ours} ELSE {theirs} END"
        away_after = f"CASE WHEN ({have}) = ({home}) THEN {theirs} ELSE {ours} END"
    line, (gain, from_spots) = c.whole("yardline_100"), _gain(c)
    words, t = c.lower("words"), c.lower("kind")
    return {
        "game_id": f"concat_ws(' ', {c.text('game_id')}, concat({away}, '-', {home}))",
        "season": c.whole("season"),
        "season_type": f"CASE WHEN lower({c.text('season_type')}) IN ('3', 'postseason', 'post') "
        "THEN 'POST' ELSE 'REG' END",
        "week": c.whole("week"),
        "order_key": _order(c),
        "same_key": _same(c),
        "home_club": home,
        "away_club": away,
        "offense": have,
        "defense": other,
        "quarter": c.whole("quarter"),
        "clock_s": f"coalesce({clock_seconds(c.text('clock'))}, "
        f"{c.whole('clock_minutes')} * 60 + {c.whole('clock_seconds')})",
        "down": c.whole("down"),
        "distance_yd": c.whole("distance_yd"),
        "yardline_100": f"CASE WHEN {t} LIKE '%kickoff%' AND {line} < 50 THEN 100 - {line} "
        f"ELSE {line} END",
        "home_after": home_after,
        "away_after": away_after,
        "kind": _kind(c),
        "gain_yd": gain,
        "inference": f"CASE WHEN {from_spots} THEN "
        "'a gain without yards: taken from the spots before and after' END",
        "side": f"nullif(regexp_extract({words}, '(?:short|deep) (left|middle|right)', 1), '')",
        "depth": f"nullif(regexp_extract({words}, '(short|deep) (?:left|middle|right)', 1), '')",
        "out_of_bounds": f"regexp_matches({words}, {_BALL})" if c.has("words") else "NULL",
        "touchdown": f"({t} LIKE '%touchdown%' OR {c.flag('rush_td')} OR {c.flag('pass_td')}) "
        f"AND NOT {_returned(c)}",
        "return_touchdown": _returned(c),
        "safety": f"{t} = 'safety' OR {c.flag('safety')}",
        "turnover": f"{t} LIKE '%interception%' OR {t} LIKE '%opponent%' "
        f"OR {t} LIKE '%fumble return%' OR {c.flag('fumble_lost')} OR {c.flag('int')}",
        "first_down": f"CASE WHEN regexp_matches({words}, 'for a (1st|first) down') THEN true END",
        "penalty": f"{c.flag('penalty')} OR {t} LIKE '%penalty%'",
        "kick_distance_yd": _kick_distance(c),
        "return_yd": _return_yards(c),
        "kick_result": _kick_result(c),
        "skip": _skip(c),
    }


def _order(c: RawColumns) -> str:
    """Return the expression that puts a game's plays in order."""
    if c.has("order_key"):
        return c.number("order_key")
    if c.has("drive_number") and c.has("play_number"):
        return f"{c.number('drive_number')} * 1000 + {c.number('play_number')}"
    return "NULL"


def _same(c: RawColumns) -> str:
    """Return the expression for a play's id; none where ids are numbers that may lose digits."""
    origin = c.origin("same_key")
    whole = origin is not None and c.types[origin] in ("BIGINT", "HUGEINT", "VARCHAR", "UBIGINT")
    return c.text("same_key") if whole else "NULL"


def _needs(*, season: str, have_not: bool) -> tuple[tuple[str, str], ...]:
    """Return the fields without which a file cannot be read, in plain words."""
    return (
        ("game_id", "the game"),
        ("season", season),
        ("have", "the club with the ball"),
        *((("have_not", "the other club"),) if have_not else ()),
        ("home", "the home club"),
        ("away", "the visiting club"),
        ("kind", "the kind of play"),
        ("quarter", "the quarter"),
        ("down", "the down"),
        ("distance_yd", "yards to the line to gain"),
        ("yardline_100", "yards to the opponent's goal line"),
        ("gain_yd", "yards gained"),
    )


SPORTSDATAVERSE: Final = Adapter(
    name="sportsdataverse",
    title="sportsdataverse college play-by-play",
    level="college",
    license="CC BY 4.0",
    attribution="Play-by-play: the sportsdataverse project (sportsdataverse-data), CC BY 4.0.",
    address="https://github.com/sportsdataverse/sportsdataverse-data/releases/download/"
    "espn_cfb_pbp/play_by_play_{season}.parquet",
    first_season=2004,
    names=_SPORTSDATAVERSE_NAMES,
    needs=_needs(season="the season", have_not=False),
    signature_columns=(
        ("type.text", "start.yardstoendzone", "start.distance"),
        ("pos_team", "def_pos_team", "yards_to_goal", "play_type"),
    ),
    map_columns=_map_columns,
)
NCAA: Final = replace(
    SPORTSDATAVERSE,
    name="ncaa",
    title="sportsdataverse college play-by-play of all divisions",
    address="https://github.com/sportsdataverse/sportsdataverse-data/releases/download/"
    "ncaa_mfb_pbp_cfbfastr/ncaa_mfb_pbp_cfbfastr_{season}.parquet",
    first_season=2013,
    signature_columns=(("pos_team", "yards_to_goal", "orig_play_type", "ot_synthesized"),),
)
CFBD: Final = Adapter(
    name="cfbd",
    title="college football data service play-by-play",
    level="college",
    license="as the service's terms say",
    attribution="Play-by-play: a college football data service; see its terms.",
    names=_CFBD_NAMES,
    needs=_needs(season="the season; --season says it for a file without", have_not=True),
    signature_columns=(
        ("offense", "defense", "yardstogoal", "playtype", "yardsgained"),
        ("offense", "defense", "yards_to_goal", "play_type", "yards_gained", "home", "away"),
    ),
    map_columns=partial(_map_columns, kicker_has_ball=True),
)
