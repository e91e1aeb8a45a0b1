"""Order, gaps and possessions of the kept plays, all games at once.

The windows run over narrow tables keyed by line; what they find is joined to the plays at the end.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from lensyard.plays.importing.rules import GAIN_KINDS
from lensyard.plays.importing.sql import listed
from lensyard.plays.kinds import SCRIMMAGE_KINDS

if TYPE_CHECKING:
    import duckdb

SERIES: Final = (
    f"(kind IN ({listed(SCRIMMAGE_KINDS)}) OR (kind = 'no_play' AND coalesce(down, 0) > 0))"
)
"""Whether a play is part of a series of downs."""
_POINTS: Final = """(if(offense = home_club, 1, -1) * CASE
    WHEN touchdown THEN 6 WHEN return_touchdown THEN -6 WHEN safety THEN -2
    WHEN kind = 'field_goal' AND kick_result = 'made' THEN 3
    WHEN kind = 'extra_point' AND kick_result = 'made' THEN 1
    WHEN kind = 'two_point' AND kick_result = 'made' THEN 2 ELSE 0 END)"""
"""What a play adds to the home club's lead."""
_FILLED: Final = {
    "no_quarter": "no quarter: the one before, or the game's plays spread over four",
    "no_clock": "no clock: the play before, or the quarter's plays spread over it",
    "no_score": "no score: counted from the plays before",
    "newest_first": "plays listed newest first: put in order",
}
_FIRST_DOWN: Final = f"""CASE
    WHEN kind IN ({listed(SCRIMMAGE_KINDS)}) AND touchdown THEN true
    WHEN kind IN ({listed(GAIN_KINDS)}) THEN coalesce(first_down, gain_yd >= distance_yd)
    ELSE false END"""
"""Whether the play made a first down, over told columns."""


def place(connection: duckdb.DuckDBPyConnection) -> dict[str, tuple[int, int]]:
    """Create the table `placed`: kept rows in order, with gaps in quarter, clock, score filled.

    Returns words -> (rows, first line) of what was filled.
    """
    connection.execute(
        "CREATE TABLE kept AS SELECT * FROM mended WHERE line NOT IN (SELECT line FROM faulty)"
    )
    gaps = connection.execute(
        "SELECT count(*) - count(order_key), count(*) - count(quarter), count(*) - count(clock_s), "
        "count(*) - count(score_diff) FROM kept"
    ).fetchone() or (1, 1, 1, 1)
    unordered, no_quarter, no_clock, no_score = (bool(count) for count in gaps)
    turned = _TURNED if unordered else ""
    newest = "coalesce(newest_first, false)" if unordered else "false"
    score = _SCORES if no_score else "score_diff, false AS no_score,"
    quarter = _QUARTERS if no_quarter else "quarter, false AS no_quarter,"
    clock = _CLOCKS if no_clock else "clock_s, false AS no_clock,"
    connection.execute(
        f"""CREATE TABLE placed AS
        WITH games AS (
            SELECT line, hash(game_id) AS game, order_key, offense, home_club, kind, quarter,
                clock_s, score_diff, home_after, away_after, touchdown, return_touchdown, safety,
                kick_result, {"newest_first" if unordered else "false AS newest_first"}
            FROM kept {turned}
        ), ordered AS (
            SELECT line, game, row_number() OVER w - 1 AS play_index, {newest} AS newest_first,
                {score} quarter, clock_s{_QUARTER_WINDOWS if no_quarter else ""}
            FROM games
            WINDOW w AS (PARTITION BY game ORDER BY order_key, if({newest}, -line, line)),
                b AS (PARTITION BY game ORDER BY order_key, if({newest}, -line, line)
                    ROWS BETWEEN UNBOUNDED PRECEDING AND 1 PRECEDING)
        ), quartered AS (
            SELECT line, game, play_index, newest_first, score_diff, no_score, {quarter} clock_s
            FROM ordered
        )
        SELECT line, game, play_index, newest_first, score_diff, no_score, quarter, no_quarter,
            {clock} CAST(least(3, (quarter + 1) // 2) AS INTEGER) AS half
        FROM quartered
        {_CLOCK_WINDOW if no_clock else ""}"""
    )
    counted = ", ".join(
        f"count(*) FILTER (WHERE {name}), min(line) FILTER (WHERE {name})" for name in _FILLED
    )
    values = list(connection.execute(f"SELECT {counted} FROM placed").fetchone() or ())
    return {
        text: (int(values[2 * at]), int(values[2 * at + 1]))
        for at, text in enumerate(_FILLED.values())
        if values[2 * at]
    }


_TURNED: Final = """LEFT JOIN (
    SELECT game_id, sum(sign(clock_s - before)) > 0 AND count(order_key) = 0 AS newest_first
    FROM (SELECT game_id, order_key, clock_s,
            lag(clock_s) OVER (PARTITION BY game_id, quarter ORDER BY line) AS before FROM kept)
    GROUP BY game_id) USING (game_id)"""
_SCORES: Final = f"""CAST(coalesce(score_diff, greatest(-80, least(80,
        if(offense = home_club, 1, -1) * if(count(home_after) OVER (PARTITION BY game) > 0,
            coalesce(max(home_after) OVER b, 0) - coalesce(max(away_after) OVER b, 0),
            coalesce(sum({_POINTS}) OVER b, 0))))) AS INTEGER) AS score_diff,
    score_diff IS NULL AND count(home_after) OVER (PARTITION BY game) = 0 AS no_score,"""
_QUARTER_WINDOWS: Final = """, count(*) OVER (PARTITION BY game) AS plays,
    last_value(quarter IGNORE NULLS) OVER
        (PARTITION BY game ORDER BY order_key, if(newest_first, -line, line)
        ROWS BETWEEN UNBOUNDED PRECEDING AND CURRENT ROW) AS carried"""
_QUARTERS: Final = """CAST(coalesce(quarter, carried, least(4, 1 + (4 * play_index) // plays))
        AS INTEGER) AS quarter, quarter IS NULL AS no_quarter,"""
_CLOCKS: Final = """coalesce(clock_s,
        last_value(clock_s IGNORE NULLS) OVER
            (q ROWS BETWEEN UNBOUNDED PRECEDING AND CURRENT ROW),
        CAST(floor(900 * (1 - (row_number() OVER q - 0.5)
            / count(*) OVER (PARTITION BY game, quarter))) AS INTEGER)) AS clock_s,
    clock_s IS NULL AS no_clock,"""
_CLOCK_WINDOW: Final = "WINDOW q AS (PARTITION BY game, quarter ORDER BY play_index)"


def drive(connection: duckdb.DuckDBPyConnection) -> None:
    """Create the table `driven`, one row a line of `kept`: what follows from the plays together.

    Its columns are `drive_index`, `drive_end`, `made_first_down`, and the club and the line of
    scrimmage of the next play in the same half. The rules are those of
    `lensyard.plays.possession`: a possession ends with a score, a punt, a field-goal attempt, a
    turnover, a failed fourth down, a kickoff or the end of a half.
    """
    connection.execute(
        f"""CREATE TABLE driven AS
        WITH marked AS (
            SELECT line, game, play_index, half, kind, offense, down, yardline_100, kick_result,
                touchdown, return_touchdown, safety, turnover, {_FIRST_DOWN} AS made_first_down,
                {SERIES} AS in_series, {SERIES} OR kind = 'kickoff' AS counts
            FROM kept JOIN placed USING (line)
        ), beside AS (
            SELECT *,
                lag(kind) OVER r AS b_kind, lag(offense) OVER r AS b_offense,
                lag(half) OVER r AS b_half, lag(kick_result) OVER r AS b_result,
                lag(touchdown OR return_touchdown OR safety OR turnover) OVER r AS b_closed,
                if(lead(kind) OVER r = 'kickoff' OR lead(half) OVER r <> half, NULL,
                    lead(offense) OVER r) AS next_offense,
                lead(yardline_100) OVER r AS next_line
            FROM marked
            WINDOW r AS (PARTITION BY game, counts ORDER BY play_index)
        ), indexed AS (
            SELECT *, CAST(sum(CASE
                    WHEN kind = 'kickoff' THEN if(play_index > 0, 1, 0)
                    WHEN NOT in_series OR b_kind IS NULL OR b_kind = 'kickoff' THEN 0
                    WHEN b_offense <> offense OR b_half <> half THEN 1
                    WHEN b_kind IN ('punt', 'field_goal')
                        THEN if(b_result <> 'blocked' OR down = 1, 1, 0)
                    ELSE if(b_closed, 1, 0) END)
                    OVER (PARTITION BY game ORDER BY play_index) AS INTEGER) AS drive_index
            FROM beside
        ), last AS (
            SELECT game, drive_index,
                arg_max({_struct("kind safety down made_first_down half")}, play_index) AS z,
                lead(arg_min(half, play_index)) OVER (PARTITION BY game ORDER BY drive_index)
                    AS next_half,
                arg_max({_struct("kind touchdown kick_result turnover return_touchdown")},
                    play_index) FILTER (WHERE kind <> 'no_play') AS p
            FROM indexed WHERE in_series GROUP BY game, drive_index
        ), ended AS (
            SELECT game, drive_index, CASE
                WHEN z.safety THEN 'safety'
                WHEN p.touchdown AND p.kind <> 'punt' THEN 'touchdown'
                WHEN p.kind = 'field_goal'
                    THEN if(p.kick_result = 'made', 'field_goal', 'missed_field_goal')
                WHEN p.kind = 'punt' THEN 'punt'
                WHEN p.turnover OR p.return_touchdown THEN 'turnover'
                WHEN next_half = z.half
                    OR (z.kind <> 'no_play' AND z.down = 4 AND NOT z.made_first_down) THEN 'downs'
                ELSE 'end_of_half' END AS drive_end
            FROM last
        )
        SELECT line, drive_index, made_first_down, next_offense, next_line,
            if(in_series, coalesce(drive_end, ''), '') AS drive_end
        FROM indexed LEFT JOIN ended USING (game, drive_index)"""
    )


def _struct(names: str) -> str:
    return "{" + ", ".join(f"'{name}': {name}" for name in names.split()) + "}"


def end_spot_sql() -> str:
    """Return the expression for where the ball was dead, seen by this play's offense.

    Kicks: length and return. A turnover: where the other club then snaps the ball.
    """
    gains = listed(GAIN_KINDS)
    following = (
        "CASE WHEN next_offense IS NULL OR penalty THEN NULL "
        "WHEN next_offense = offense THEN next_line ELSE 100 - next_line END"
    )
    landed = (
        "yardline_100 - kick_distance_yd + if(kick_result = 'returned', coalesce(return_yd, 0), 0)"
    )
    return f"""CASE
        WHEN kind = 'no_play' OR kind IN ('extra_point', 'two_point') THEN NULL
        WHEN touchdown THEN 0
        WHEN return_touchdown THEN 100
        WHEN kind IN ('incomplete', 'spike') THEN yardline_100
        WHEN kind IN ('punt', 'kickoff', 'field_goal') AND kick_result IN
            ('touchback', 'made', 'missed') THEN 0
        WHEN safety THEN 100
        WHEN kind IN ('punt', 'kickoff') AND kick_result NOT IN ('blocked', 'recovered', '')
            THEN {_clamped(f"coalesce({landed}, {following})")}
        WHEN kind IN ('punt', 'kickoff', 'field_goal') THEN {_clamped(following)}
        WHEN kind = 'interception'
            THEN {_clamped(f"coalesce(yardline_100 - air_yd + return_yd, {following})")}
        WHEN kind IN ({gains}) AND turnover
            THEN {_clamped(f"coalesce({following}, yardline_100 - gain_yd)")}
        WHEN kind IN ({gains}) THEN {_clamped("yardline_100 - gain_yd")}
        END"""


def _clamped(yards: str) -> str:
    """Return an expression kept between the goal lines; null stays null."""
    return f"if(({yards}) IS NULL, NULL, greatest(0, least(100, {yards})))"
