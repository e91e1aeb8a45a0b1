"""Canonical plays written in the shape of other sources: files to import, for benches and tests.

The clubs are renamed, so that nothing reads like a real game. What a source cannot say is lost;
what it says, an import must bring back.
"""

from __future__ import annotations

from pathlib import Path
from typing import Final

KICK: Final = "kind = 'kickoff'"
_CLUBS: Final = ("offense", "defense", "home_club", "away_club")


def invented_plays_sql(parquet: Path, *, where: str, season: int | None = None) -> str:
    """Return a query for canonical plays with invented clubs and, if given, another season.

    - ``parquet``: canonical plays.
    - ``where``: SQL condition over them.
    - ``season``: to call them.
    """
    clubs = ", ".join(f"'C' || upper(left(md5({name}), 3)) AS {name}" for name in _CLUBS)
    named = "" if season is None else f", CAST({int(season)} AS SMALLINT) AS season"
    return (
        f"SELECT * REPLACE ({clubs}, 'G' || game_id AS game_id{named}) "
        f"FROM read_parquet('{parquet}') WHERE {where} ORDER BY game_id, play_index"
    )


def nflverse_sql(query: str) -> str:
    """Return a query that writes canonical plays with the column names of nflverse."""
    kick = KICK
    swap = "CASE WHEN {k} THEN {a} ELSE {b} END"
    return f"""SELECT game_id, CAST(play_index * 7 + 40 AS FLOAT) AS play_id,
        CAST(season AS BIGINT) AS season,
        week + if(season_type = 'POST', if(season >= 2021, 18, 17), 0) AS week, season_type,
        home_club AS home_team, away_club AS away_team,
        {swap.format(k=kick, a="defense", b="offense")} AS posteam,
        {swap.format(k=kick, a="offense", b="defense")} AS defteam,
        CAST({swap.format(k=kick, a="100 - yardline_100", b="yardline_100")} AS FLOAT)
            AS yardline_100,
        CAST(clock_s AS FLOAT) AS quarter_seconds_remaining, CAST(quarter AS FLOAT) AS qtr,
        CAST(nullif(down, 0) AS FLOAT) AS down, CAST(distance_yd AS FLOAT) AS ydstogo,
        CASE WHEN kind IN ('run', 'scramble') THEN 'run' WHEN kind = 'kneel' THEN 'qb_kneel'
            WHEN kind = 'spike' THEN 'qb_spike' WHEN kind = 'two_point' THEN 'pass'
            WHEN kind IN ('complete', 'incomplete', 'interception', 'sack') THEN 'pass'
            ELSE kind END AS play_type,
        CAST(gain_yd AS FLOAT) AS yards_gained, CAST(air_yd AS FLOAT) AS air_yards,
        CAST(after_catch_yd AS FLOAT) AS yards_after_catch,
        if(kind IN ('complete', 'incomplete', 'interception'), nullif(side, ''), NULL)
            AS pass_location,
        if(kind IN ('run', 'scramble'), nullif(side, ''), NULL) AS run_location,
        nullif(depth, '') AS pass_length, nullif(gap, '') AS run_gap,
        CAST(if({kick}, -score_diff, score_diff) AS FLOAT) AS score_differential,
        CAST(kick_distance_yd AS FLOAT) AS kick_distance,
        CAST(coalesce(return_yd, 0) AS FLOAT) AS return_yards,
        CASE WHEN touchdown THEN offense WHEN return_touchdown THEN defense END AS td_team,
        if(kind = 'field_goal', kick_result, NULL) AS field_goal_result,
        CASE WHEN kind = 'extra_point' THEN CASE kick_result WHEN 'made' THEN 'good'
            WHEN 'missed' THEN 'failed' ELSE kick_result END END AS extra_point_result,
        CASE WHEN kind = 'two_point' THEN if(kick_result = 'made', 'success', 'failure') END
            AS two_point_conv_result,
        {", ".join(f"CAST({test} AS FLOAT) AS {name}" for name, test in _FLAGS.items())}
        FROM ({query})"""


_FLAGS: Final = {
    "qb_scramble": "kind = 'scramble'",
    "qb_kneel": "kind = 'kneel'",
    "qb_spike": "kind = 'spike'",
    "sack": "kind = 'sack'",
    "interception": "kind = 'interception'",
    "complete_pass": "kind = 'complete'",
    "incomplete_pass": "kind = 'incomplete'",
    "two_point_attempt": "kind = 'two_point'",
    "out_of_bounds": "out_of_bounds",
    "touchdown": "touchdown OR return_touchdown",
    "return_touchdown": "return_touchdown",
    "fumble_lost": "turnover AND kind <> 'interception'",
    "penalty": "penalty",
    "safety": "drive_end = 'safety' AND row_number() OVER (PARTITION BY game_id, drive_index, "
    "drive_end ORDER BY play_index DESC) = 1",
    "first_down_rush": "first_down AND kind IN ('run', 'scramble', 'kneel')",
    "first_down_pass": "first_down AND kind NOT IN ('run', 'scramble', 'kneel')",
    "touchback": "kick_result = 'touchback'",
    "punt_blocked": "kind = 'punt' AND kick_result = 'blocked'",
    "punt_fair_catch": "kind = 'punt' AND kick_result = 'fair_catch'",
    "punt_downed": "kind = 'punt' AND kick_result = 'downed'",
    "punt_out_of_bounds": "kind = 'punt' AND kick_result = 'out_of_bounds'",
    "kickoff_fair_catch": "kind = 'kickoff' AND kick_result = 'fair_catch'",
    "kickoff_downed": "kind = 'kickoff' AND kick_result = 'downed'",
    "kickoff_out_of_bounds": "kind = 'kickoff' AND kick_result = 'out_of_bounds'",
    "own_kickoff_recovery": "kind = 'kickoff' AND kick_result = 'recovered'",
}


def padded_sql(query: str, columns: int) -> str:
    """Return a query with filler columns, as published files have: numbers, flags, some words."""
    kinds = (
        "(hash(rowid_, {at}) % 100000) / 1000.0",
        "(hash(rowid_, {at}) % 2)::DOUBLE",
        "(hash(rowid_, {at}) % 60)::INTEGER",
        "'words ' || (hash(rowid_, {at}) % 500)",
        "NULL::VARCHAR",
    )
    filler = ", ".join(
        f"{kinds[at % len(kinds)].format(at=at)} AS filler_{at}" for at in range(columns)
    )
    return (
        f"SELECT * EXCLUDE (rowid_), {filler} "
        f"FROM (SELECT *, row_number() OVER () AS rowid_ FROM ({query}))"
    )


def college_sql(query: str) -> str:
    """Return a query that writes canonical plays with dotted college names and play types."""
    kind = """CASE
        WHEN kind IN ('run', 'scramble', 'kneel') THEN
            if(touchdown, 'Rushing Touchdown', 'Rush')
        WHEN kind = 'complete' THEN if(touchdown, 'Passing Touchdown', 'Pass Reception')
        WHEN kind IN ('incomplete', 'spike') THEN 'Pass Incompletion'
        WHEN kind = 'sack' THEN 'Sack'
        WHEN kind = 'interception' THEN
            if(return_touchdown, 'Interception Return Touchdown', 'Pass Interception Return')
        WHEN kind = 'punt' THEN if(return_touchdown, 'Punt Return Touchdown', 'Punt')
        WHEN kind = 'kickoff' THEN if(return_touchdown, 'Kickoff Return Touchdown', 'Kickoff')
        WHEN kind = 'field_goal' THEN
            if(kick_result = 'made', 'Field Goal Good', 'Field Goal Missed')
        WHEN kind = 'extra_point' THEN
            if(kick_result = 'made', 'Extra Point Good', 'Extra Point Missed')
        WHEN kind = 'two_point' THEN 'Two Point Pass' ELSE 'Penalty' END"""
    words = """CASE WHEN kind = 'kneel' THEN 'team kneels'
        WHEN kind = 'spike' THEN 'spikes the ball'
        WHEN kind = 'scramble' THEN 'scrambles for ' || gain_yd || ' yds'
        WHEN kind = 'punt' THEN 'punt for ' || coalesce(kick_distance_yd, 0) || ' yds '
            || coalesce('returns for ' || return_yd || ' yds',
                replace(kick_result, '_', ' '))
        WHEN kind = 'kickoff' THEN 'kickoff for ' || coalesce(kick_distance_yd, 0) || ' yds '
            || coalesce('return for ' || return_yd || ' yds',
                'for a ' || replace(kick_result, '_', ' '))
        ELSE kind || if(first_down, ' for a 1ST down', '') END
        || if(out_of_bounds, ', out-of-bounds', '')"""
    return f"""SELECT 4016 AS game_id_number, season, hash(game_id) % 1000000 AS game_id,
        play_index AS game_play_number, 2 AS "seasonType", week,
        hash(home_club) % 9000 AS "homeTeamId", hash(away_club) % 9000 AS "awayTeamId",
        home_club AS "homeTeamAbbrev", away_club AS "awayTeamAbbrev",
        hash(if({KICK}, defense, offense)) % 9000 AS "start.pos_team.id",
        hash(if({KICK}, offense, defense)) % 9000 AS "start.def_pos_team.id",
        quarter AS period, (clock_s // 60) || ':' || lpad((clock_s % 60)::VARCHAR, 2, '0')
            AS "clock.displayValue",
        if(down = 0, 1, down) AS "start.down", if(down = 0, 10, distance_yd) AS "start.distance",
        yardline_100 AS "start.yardsToEndzone", {kind} AS "type.text", {words} AS "text",
        if(kind = 'interception', return_yd, gain_yd) AS "statYardage",
        (penalty OR kind = 'no_play') AS penalty_flag, kind = 'no_play' AS penalty_no_play
        FROM ({query})"""
