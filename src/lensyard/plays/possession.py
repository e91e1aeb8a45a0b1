"""Possessions derived from the plays, in SQL: which drive a play belongs to and how it ended.

A possession ends with a score, a punt, a field-goal attempt, a turnover, a failed fourth down, a
kickoff or the end of a half. A kickoff belongs to the possession that it opens, a try to the one
that scored. A kick that was blocked and recovered behind the line leaves the possession as it was.

Sources have drive fields of their own; they say what happened later, change their meaning over
the years, and are never read.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from lensyard.plays.importing.sql import listed
from lensyard.plays.kinds import SCRIMMAGE_KINDS

if TYPE_CHECKING:
    import duckdb
    import pyarrow

GAIN_KINDS: Final = ("run", "complete", "sack", "scramble", "kneel")
"""Kinds of play that gain or lose yards by themselves."""
SERIES: Final = (
    f"(kind IN ({listed(SCRIMMAGE_KINDS)}) OR (kind = 'no_play' AND coalesce(down, 0) > 0))"
)
"""Whether a play is part of a series of downs."""
_FIRST_DOWN: Final = f"""CASE
    WHEN kind IN ({listed(SCRIMMAGE_KINDS)}) AND touchdown THEN true
    WHEN kind IN ({listed(GAIN_KINDS)}) THEN coalesce(first_down, gain_yd >= distance_yd)
    ELSE false END"""
"""Whether the play made a first down."""


def derive_possessions(connection: duckdb.DuckDBPyConnection) -> None:
    """Create the table `possessions`, one row a line of `accepted`, keyed by `line`.

    Its columns are `drive_index`, `drive_end`, `made_first_down`, and the club and the line of
    scrimmage of the next play in the same half. `accepted` holds the plays, `ordered` their game,
    `play_index` and half; the windows run over few columns, which is what makes them fast.
    """
    connection.execute(
        f"""CREATE TABLE possessions AS
        WITH marked AS (
            SELECT line, game, play_index, half, kind, offense, down, yardline_100, kick_result,
                touchdown, return_touchdown, safety, turnover, {_FIRST_DOWN} AS made_first_down,
                {SERIES} AS in_series, {SERIES} OR kind = 'kickoff' AS counts
            FROM accepted JOIN ordered USING (line)
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


def possessions_of(plays: pyarrow.Table) -> dict[str, list[Any]]:
    """Return `drive_index` and `drive_end` of plays in the order of their games.

    Parameters
    ----------
    plays
        Canonical columns, and `safety`: whether the play ended in one.
    """
    import duckdb

    with duckdb.connect() as connection:
        connection.register("found", plays)
        connection.execute(
            "CREATE TABLE accepted AS SELECT row_number() OVER () AS line, "
            "* EXCLUDE (half, play_index), half AS h, play_index AS i "
            "FROM found"
        )
        connection.execute(
            "CREATE TABLE ordered AS SELECT line, hash(game_id) AS game, i AS play_index, "
            "h AS half FROM accepted"
        )
        derive_possessions(connection)
        rows = connection.execute(
            "SELECT drive_index, drive_end FROM possessions ORDER BY line"
        ).fetchall()
    return {"drive_index": [row[0] for row in rows], "drive_end": [row[1] for row in rows]}
