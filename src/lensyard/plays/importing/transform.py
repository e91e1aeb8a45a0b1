"""From the table `raw` to canonical plays, in SQL alone; the same for every source.

The steps are tables of one private database: `staged` (what the adapter gives for each row),
`cleaned` (repaired), `issues` and `rejects` (unusable rows), `accepted`, `ordered` (with gaps
filled), `possessions`, `plays` (canonical). Windows run over narrow tables keyed by line; what they
find is joined to the plays at the end.

Possessions are derived: one ends with a score, a punt, a field-goal attempt, a turnover, a failed
fourth down, a kickoff or the end of a half. A kickoff belongs to the possession that it opens, a
try to the one that scored; a kick that was blocked and recovered behind the line leaves it as it
was. Sources have drive fields of their own; they say what happened later, change their meaning over
the years, and are never read.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from lensyard.plays.importing.adapter import (
    EXTRA_COLUMNS,
    FLAGS,
    VALUE_LENGTH,
    RawColumns,
    identifier,
    listed,
    literal,
)
from lensyard.plays.importing.catalog import Tally
from lensyard.plays.importing.checks import (
    COPY_WORDS,
    LONG_GAME_WORDS,
    REJECT_RULES,
    Repair,
    repairs,
)
from lensyard.plays.schema import COLUMNS, GAIN_KINDS, SCRIMMAGE_KINDS, Column

if TYPE_CHECKING:
    import duckdb
    import pyarrow

_FEW_PLAYS: Final = 60
"""A file of fewer plays may well be without a kick; in one of more, kicks were not written down."""
SERIES: Final = (
    f"(kind IN ({listed(SCRIMMAGE_KINDS)}) OR (kind = 'no_play' AND coalesce(down, 0) > 0))"
)
"""Whether a play is part of a series of downs."""
_FIRST_DOWN: Final = f"""CASE
    WHEN kind IN ({listed(SCRIMMAGE_KINDS)}) AND touchdown THEN true
    WHEN kind IN ({listed(GAIN_KINDS)}) THEN coalesce(first_down, gain_yd >= distance_yd)
    ELSE false END"""
"""Whether the play made a first down."""
UNSAID: Final = ("out_of_bounds", "turnover", "penalty")
"""Flags that stay null where a source does not say."""
_LABELS: Final = ("side", "depth", "gap", "kick_result")


def transform(
    connection: duckdb.DuckDBPyConnection, columns: RawColumns, *, level: str
) -> tuple[Tally, ...]:
    """Create `plays` and `rejects` from `staged`; return what was repaired, most rows first."""
    _clean(connection, level)
    _reject(connection, columns)
    _order(connection)
    derive_possessions(connection)
    _canonical_plays(connection)
    repaired = _repaired(connection, level) + _tallies(connection, _FILLED, f"ordered {_TAKEN}")
    return tuple(sorted(repaired, key=lambda tally: -tally.rows))


_TAKEN: Final = "WHERE line NOT IN (SELECT line FROM rejects)"


def _clean(connection: duckdb.DuckDBPyConnection, level: str) -> None:
    """Create the view `cleaned`."""
    rules = repairs(level)
    by_column: dict[str, list[Repair]] = {}
    for rule in rules:
        by_column.setdefault(rule.column, []).append(rule)
    replaced = []
    for column, some in by_column.items():
        whens = " ".join(f"WHEN {rule.when} THEN {rule.becomes}" for rule in some)
        replaced.append(f"CASE {whens} ELSE {column} END AS {column}")
    replaced += [f"coalesce({name}, false) AS {name}" for name in FLAGS if name not in UNSAID]
    connection.execute(
        f"CREATE VIEW cleaned AS SELECT * REPLACE ({', '.join(replaced)}) FROM staged "
        "WHERE skip IS NULL"
    )


def _repaired(connection: duckdb.DuckDBPyConnection, level: str) -> list[Tally]:
    """Return what was repaired on rows that were not rejected."""
    rules = repairs(level)
    # A label counts as repaired only where there was one.
    tests = [
        f"{rule.column} IS NOT NULL AND {rule.when}" if rule.column in _LABELS else rule.when
        for rule in rules
    ]
    found = _tallies(
        connection,
        dict(zip((rule.words for rule in rules), tests, strict=True)),
        f"(SELECT * FROM staged {_TAKEN} AND skip IS NULL AND ({' OR '.join(tests)}))",
    )
    inferred = connection.execute(
        f"SELECT inference, count(*), min(line) FROM staged {_TAKEN} AND skip IS NULL "
        "AND inference IS NOT NULL GROUP BY inference ORDER BY inference"
    ).fetchall()
    return found + [Tally(str(words), int(n), int(line)) for words, n, line in inferred]


def _tallies(
    connection: duckdb.DuckDBPyConnection, tests: dict[str, str], table: str
) -> list[Tally]:
    """Return how many rows of a table satisfy each condition, given by its words."""
    counted = ", ".join(
        f"count(*) FILTER (WHERE {test}), min(line) FILTER (WHERE {test})"
        for test in tests.values()
    )
    values = list(connection.execute(f"SELECT {counted} FROM {table}").fetchone() or ())
    pairs = zip(tests, values[::2], values[1::2], strict=True)
    return [Tally(words, int(rows), int(line)) for words, rows, line in pairs if rows]


def _reject(connection: duckdb.DuckDBPyConnection, columns: RawColumns) -> None:
    """Create the table `rejects` from `cleaned`: line, game, season, column, value, reason."""
    cases = " ".join(f"WHEN {rule.when} THEN {at}" for at, rule in enumerate(REJECT_RULES))
    copy = len(REJECT_RULES)
    connection.execute(
        "CREATE TABLE issues AS SELECT line, game_id, season, issue FROM "
        f"(SELECT line, game_id, season, CAST(CASE {cases} END AS SMALLINT) AS issue FROM cleaned) "
        "WHERE issue IS NOT NULL"
    )
    connection.execute(
        f"INSERT INTO issues SELECT line, game_id, season, {copy} FROM cleaned "
        "WHERE same_key IS NOT NULL AND line NOT IN (SELECT line FROM issues) "
        "QUALIFY row_number() OVER (PARTITION BY game_id, same_key ORDER BY line) > 1"
    )
    connection.execute(
        "CREATE TABLE rejects (line BIGINT, game_id VARCHAR, season INTEGER, column_name VARCHAR, "
        "value VARCHAR, reason VARCHAR)"
    )
    found = connection.execute("SELECT DISTINCT issue FROM issues ORDER BY issue").fetchall()
    for (at,) in found:
        field = "same_key" if at == copy else REJECT_RULES[at].column
        words = COPY_WORDS if at == copy else REJECT_RULES[at].words
        origin = columns.origin(field)
        value = "''"
        if origin is not None:  # the value as the file has it
            cell = f"CAST(raw.{identifier(origin)} AS VARCHAR)"
            value = f"left(coalesce({cell}, '(empty)'), {VALUE_LENGTH})"
        connection.execute(
            "INSERT INTO rejects SELECT issues.line, issues.game_id, issues.season, "
            f"{literal(origin or field)}, {value}, {literal(words)} "
            f"FROM issues JOIN raw ON raw.line = issues.line WHERE issue = {at}"
        )


_POINTS: Final = """(if(offense = home_club, 1, -1) * CASE
    WHEN touchdown THEN 6 WHEN return_touchdown THEN -6 WHEN safety THEN -2
    WHEN kind = 'field_goal' AND kick_result = 'made' THEN 3
    WHEN kind = 'extra_point' AND kick_result = 'made' THEN 1
    WHEN kind = 'two_point' AND kick_result = 'made' THEN 2 ELSE 0 END)"""
"""What a play adds to the home club's lead."""
_FILLED: Final = {
    "no quarter: the one before, or the game's plays spread over four": "no_quarter",
    "no clock: the play before, or the quarter's plays spread over it": "no_clock",
    "no score: counted from the plays before": "no_score",
    "plays listed newest first: put in order": "newest_first",
    "an order under which the clock runs backward: that of the file is taken": "as_filed",
}
_DIRECTION: Final = """JOIN (
    SELECT game_id, coalesce(sum(in_file) < 0 AND count(order_key) = 0, false) AS newest_first,
        count(*) FILTER (WHERE by_key < 0) > count(*) FILTER (WHERE in_file < 0) AS as_filed
    FROM (SELECT game_id, order_key, sign(t - lag(t) OVER (PARTITION BY game_id ORDER BY line))
                AS in_file,
            sign(t - lag(t) OVER (PARTITION BY game_id ORDER BY order_key, line)) AS by_key
        FROM (SELECT *, 900 * coalesce(quarter, 0) - clock_s AS t FROM accepted))
    GROUP BY game_id) USING (game_id)"""
"""How the games of a file are ordered: `in_file` and `by_key` say whether time goes on (1), stands
still (0) or runs backward (-1) from play to play."""
_ORDER: Final = "if(as_filed, NULL, order_key), if(newest_first, -line, line)"
_SCORES: Final = f"""CAST(coalesce(score_diff, greatest(-80, least(80,
        if(offense = home_club, 1, -1) * if(count(home_after) OVER (PARTITION BY game) > 0,
            coalesce(max(home_after) OVER b, 0) - coalesce(max(away_after) OVER b, 0),
            coalesce(sum({_POINTS}) OVER b, 0))))) AS INTEGER) AS score_diff,
    score_diff IS NULL AND count(home_after) OVER (PARTITION BY game) = 0 AS no_score,"""
_QUARTER_WINDOWS: Final = f""", count(*) OVER (PARTITION BY game) AS plays,
    last_value(quarter IGNORE NULLS) OVER
        (PARTITION BY game ORDER BY {_ORDER}
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


def _order(connection: duckdb.DuckDBPyConnection) -> None:
    """Create `accepted`, and `ordered`: its rows in order, gaps in quarter, clock, score filled.

    Windows that fill a gap run only where there is one.
    """
    connection.execute(
        "CREATE TABLE accepted AS SELECT * FROM cleaned WHERE line NOT IN (SELECT line FROM issues)"
    )
    gaps = connection.execute(
        "SELECT count(*) - count(quarter), count(*) - count(clock_s), "
        "count(*) - count(score_diff) FROM accepted"
    ).fetchone() or (1, 1, 1)
    no_quarter, no_clock, no_score = (bool(count) for count in gaps)
    score = _SCORES if no_score else "score_diff, false AS no_score,"
    quarter = _QUARTERS if no_quarter else "quarter, false AS no_quarter,"
    clock = _CLOCKS if no_clock else "clock_s, false AS no_clock,"
    connection.execute(
        f"""CREATE TABLE ordered AS
        WITH games AS (
            SELECT line, hash(game_id) AS game, order_key, offense, home_club, kind, quarter,
                clock_s, score_diff, home_after, away_after, touchdown, return_touchdown, safety,
                kick_result, newest_first, as_filed
            FROM accepted {_DIRECTION}
        ), indexed AS (
            SELECT line, game, row_number() OVER w - 1 AS play_index, newest_first, as_filed,
                {score} quarter, clock_s{_QUARTER_WINDOWS if no_quarter else ""}
            FROM games
            WINDOW w AS (PARTITION BY game ORDER BY {_ORDER}),
                b AS (PARTITION BY game ORDER BY {_ORDER}
                    ROWS BETWEEN UNBOUNDED PRECEDING AND 1 PRECEDING)
        ), quartered AS (
            SELECT line, game, play_index, newest_first, as_filed, score_diff, no_score,
                {quarter} clock_s
            FROM indexed
        )
        SELECT line, game, play_index, newest_first, as_filed, score_diff, no_score, quarter,
            no_quarter, {clock} CAST(least(3, (quarter + 1) // 2) AS INTEGER) AS half
        FROM quartered
        {_CLOCK_WINDOW if no_clock else ""}"""
    )


def _canonical_plays(connection: duckdb.DuckDBPyConnection) -> None:
    """Create `plays` from what was accepted; games too long to be one go to `rejects`."""
    joined = "accepted JOIN ordered USING (line) JOIN possessions USING (line)"
    connection.execute(
        "CREATE TABLE long_games AS SELECT game FROM ordered JOIN possessions USING (line) "
        "GROUP BY game HAVING max(play_index) > 400 OR max(drive_index) > 80"
    )
    connection.execute(
        "INSERT INTO rejects SELECT line, game_id, season, 'game_id', "
        f"left(game_id, {VALUE_LENGTH}), {literal(LONG_GAME_WORDS)} "
        f"FROM {joined} WHERE game IN (SELECT game FROM long_games)"
    )
    filled = ("quarter", "clock_s", "score_diff")
    chosen = ", ".join(_canonical_sql(spec) for spec in COLUMNS)
    connection.execute(
        f"CREATE TABLE plays AS SELECT {chosen}, {', '.join(EXTRA_COLUMNS)} FROM (SELECT "
        f"accepted.* EXCLUDE ({', '.join(filled)}, first_down), "
        f"{', '.join(f'ordered.{name}' for name in (*filled, 'half', 'play_index'))}, "
        f"drive_index, drive_end, made_first_down AS first_down, {_end_spot_sql()} "
        f"AS end_yardline_100 FROM {joined} WHERE game NOT IN (SELECT game FROM long_games))"
    )


def _canonical_sql(spec: Column) -> str:
    """Return one canonical column, empty on kinds of play that have none."""
    empty = {"text": "''", "bool": "false"}.get(spec.dtype, "NULL" if spec.nullable else "0")
    value = spec.name if spec.name != "kick_result" else "nullif(kick_result, '')"
    if spec.name in ("down", "distance_yd"):
        value = f"if({SERIES}, coalesce({spec.name}, 0), 0)"
    elif spec.kinds:
        value = f"if(kind IN ({listed(spec.kinds)}), {spec.name}, {empty})"
    elif spec.name in ("touchdown", "return_touchdown"):
        value = f"if(kind = 'no_play', false, {spec.name})"
    if not spec.nullable:
        value = f"coalesce({value}, {empty})"
    return f"CAST({value} AS {spec.sql_type}) AS {spec.name}"


def _end_spot_sql() -> str:
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
            THEN {_between_goal_lines(f"coalesce({landed}, {following})")}
        WHEN kind IN ('punt', 'kickoff', 'field_goal') THEN {_between_goal_lines(following)}
        WHEN kind = 'interception'
            THEN {_between_goal_lines(f"coalesce(yardline_100 - air_yd + return_yd, {following})")}
        WHEN kind IN ({gains}) AND turnover
            THEN {_between_goal_lines(f"coalesce({following}, yardline_100 - gain_yd)")}
        WHEN kind IN ({gains}) THEN {_between_goal_lines("yardline_100 - gain_yd")}
        END"""


def _between_goal_lines(yards: str) -> str:
    """Return an expression limited to 0 to 100; null stays null."""
    return f"if(({yards}) IS NULL, NULL, greatest(0, least(100, {yards})))"


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
                        THEN if(coalesce(b_result, '') <> 'blocked' OR down = 1, 1, 0)
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
                WHEN z.safety AND kicks_known THEN 'safety'
                WHEN kicks_known AND p.touchdown AND p.kind <> 'punt' THEN 'touchdown'
                WHEN NOT kicks_known THEN NULL
                WHEN p.kind = 'field_goal' THEN CASE WHEN p.kick_result = 'made' THEN 'field_goal'
                    WHEN p.kick_result <> '' THEN 'missed_field_goal' END
                WHEN p.kind = 'punt' THEN 'punt'
                WHEN p.turnover OR p.return_touchdown THEN 'turnover'
                WHEN p.turnover IS NULL AND p.kind IS NOT NULL AND z.down < 4 THEN NULL
                WHEN next_half = z.half
                    OR (z.kind <> 'no_play' AND z.down = 4 AND NOT z.made_first_down) THEN 'downs'
                ELSE 'end_of_half' END AS drive_end
            FROM last, (SELECT count(*) FILTER (WHERE kind IN ('punt', 'field_goal')) > 0
                OR count(*) < {_FEW_PLAYS} AS kicks_known FROM accepted)
        )
        SELECT line, drive_index, made_first_down, next_offense, next_line,
            if(in_series, drive_end, '') AS drive_end
        FROM indexed LEFT JOIN ended USING (game, drive_index)"""
    )


def _struct(names: str) -> str:
    return "{" + ", ".join(f"'{name}': {name}" for name in names.split()) + "}"


def possessions_of(plays: pyarrow.Table) -> dict[str, list[Any]]:
    """Return `drive_index` and `drive_end` of plays in the order of their games.

    `plays`: Canonical columns, and `safety`: whether the play ended in one.
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
