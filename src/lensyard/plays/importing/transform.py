"""From the table `raw` to canonical plays, in SQL alone; the same for every source.

The steps are tables of one private database: `staged` (what the adapter says), `cleaned` (repairs),
`rejects`, `kept`, `placed` (order, gaps filled), `driven` (possessions), `plays` (canonical).
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from lensyard.plays.columns import COLUMNS, Column
from lensyard.plays.importing.adapter import STAGED_COLUMNS, Adapter, mapped_select
from lensyard.plays.importing.kickoff_rules import by_season_sql
from lensyard.plays.importing.possession_sql import SERIES, end_spot_sql
from lensyard.plays.importing.rules import (
    COPY_WORDS,
    FAULTS,
    LONG_GAME_WORDS,
    Fault,
    Repair,
    repairs,
)
from lensyard.plays.importing.sql import RawColumns, identifier, listed, literal

if TYPE_CHECKING:
    import duckdb

SQL_TYPES: Final = {
    "text": "VARCHAR",
    "int16": "SMALLINT",
    "int32": "INTEGER",
    "bool": "BOOLEAN",
}
FLAGS: Final = tuple(
    name for name, kind in STAGED_COLUMNS.items() if kind == "BOOLEAN" and name != "first_down"
)
EXTRA_COLUMNS: Final = {"hash_mark": "VARCHAR"}
"""Stored beside the canonical columns where a source has them."""
VALUE_LENGTH: Final = 200
_KICKOFF_LINES: Final = {"college": "65", "high-school": "60", "other": "65"}


def rules_of(level: str) -> tuple[Repair, ...]:
    """Return the repairs for a level of play (kickoff and try lines by facts of the rules)."""
    pro = level == "pro"
    kickoff = f"100 - {by_season_sql('kickoff', 'season')}" if pro else _KICKOFF_LINES[level]
    tries = "if(kind = 'extra_point' AND season >= 2015, 15, 2)" if pro else "3"
    return repairs(kickoff_line=kickoff, try_line=tries)


def map_columns(
    connection: duckdb.DuckDBPyConnection,
    adapter: Adapter,
    columns: RawColumns,
    *,
    season: int | None = None,
) -> None:
    """Create the table `staged` from `raw`; `season` is for rows that do not say theirs."""
    connection.execute(f"CREATE TABLE told AS {mapped_select(adapter, columns, season=season)}")


def mend(connection: duckdb.DuckDBPyConnection, level: str) -> dict[str, tuple[int, int]]:
    """Create the view `cleaned`; return words -> (rows, first line) of what was mended."""
    rules = rules_of(level)
    by_column: dict[str, list[Repair]] = {}
    for rule in rules:
        by_column.setdefault(rule.column, []).append(rule)
    replaced = []
    for column, some in by_column.items():
        whens = " ".join(f"WHEN {rule.when} THEN {rule.becomes}" for rule in some)
        replaced.append(f"CASE {whens} ELSE {column} END AS {column}")
    replaced += [f"coalesce({name}, false) AS {name}" for name in FLAGS]
    connection.execute(
        f"CREATE VIEW mended AS SELECT * REPLACE ({', '.join(replaced)}) FROM told "
        "WHERE skip IS NULL"
    )
    labels = ("side", "depth", "gap", "kick_result")
    counted = [
        f"count(*) FILTER (WHERE {_told_wrong(rule) if rule.column in labels else rule.when}), "
        f"min(line) FILTER (WHERE {_told_wrong(rule) if rule.column in labels else rule.when})"
        for rule in rules
    ]
    touched = " OR ".join(_told_wrong(r) if r.column in labels else r.when for r in rules)
    row = connection.execute(
        f"SELECT {', '.join(counted)} FROM (SELECT * FROM told WHERE skip IS NULL AND ({touched}))"
    ).fetchone()
    values = list(row or ())
    found = {
        rule.words: (int(values[2 * at]), int(values[2 * at + 1]))
        for at, rule in enumerate(rules)
        if values[2 * at]
    }
    own = connection.execute(
        "SELECT mended, count(*), min(line) FROM told WHERE skip IS NULL AND mended IS NOT NULL "
        "GROUP BY mended ORDER BY mended"
    ).fetchall()
    return found | {str(words): (int(n), int(line)) for words, n, line in own}


def _told_wrong(rule: Repair) -> str:
    """Return the condition under which a label was there and was dropped."""
    return f"{rule.column} IS NOT NULL AND {rule.when}"


def reject(
    connection: duckdb.DuckDBPyConnection, columns: RawColumns, faults: tuple[Fault, ...] = FAULTS
) -> None:
    """Create the table `rejects` from `cleaned`: line, game, season, column, value, reason."""
    cases = " ".join(f"WHEN {fault.when} THEN {at}" for at, fault in enumerate(faults))
    connection.execute(
        "CREATE TABLE faulty AS SELECT line, game_id, season, fault FROM "
        f"(SELECT line, game_id, season, CAST(CASE {cases} END AS SMALLINT) AS fault FROM mended) "
        "WHERE fault IS NOT NULL"
    )
    connection.execute(
        f"INSERT INTO faulty SELECT line, game_id, season, {len(faults)} FROM mended "
        "WHERE same_key IS NOT NULL AND line NOT IN (SELECT line FROM faulty) "
        "QUALIFY row_number() OVER (PARTITION BY game_id, same_key ORDER BY line) > 1"
    )
    connection.execute(
        "CREATE TABLE rejects (line BIGINT, game_id VARCHAR, season INTEGER, column_name VARCHAR, "
        "value VARCHAR, reason VARCHAR)"
    )
    found = connection.execute("SELECT DISTINCT fault FROM faulty ORDER BY fault").fetchall()
    for (at,) in found:
        copy = at == len(faults)
        field = "same_key" if copy else faults[at].column
        words = COPY_WORDS if copy else faults[at].words
        _explain(connection, at, columns.origin(field), field, words)


def _explain(
    connection: duckdb.DuckDBPyConnection, at: int, origin: str | None, field: str, words: str
) -> None:
    """Add the rows of one fault to `rejects`, with the value as the file has it."""
    value = (
        "''"
        if origin is None
        else f"left(coalesce(CAST(raw.{identifier(origin)} AS VARCHAR), '(empty)'), {VALUE_LENGTH})"
    )
    connection.execute(
        "INSERT INTO rejects SELECT faulty.line, faulty.game_id, faulty.season, "
        f"{literal(origin or field)}, {value}, {literal(words)} "
        "FROM faulty JOIN raw ON raw.line = faulty.line "
        f"WHERE fault = {at}"
    )


def canonical(connection: duckdb.DuckDBPyConnection) -> None:
    """Create the table `plays` from what was kept; games too long to be one go to `rejects`."""
    joined = "kept JOIN placed USING (line) JOIN driven USING (line)"
    connection.execute(
        "CREATE TABLE long_games AS SELECT game FROM placed JOIN driven USING (line) "
        "GROUP BY game HAVING max(play_index) > 400 OR max(drive_index) > 80"
    )
    connection.execute(
        "INSERT INTO rejects SELECT line, game_id, season, 'game_id', "
        f"left(game_id, {VALUE_LENGTH}), {literal(LONG_GAME_WORDS)} "
        f"FROM {joined} WHERE game IN (SELECT game FROM long_games)"
    )
    filled = ("quarter", "clock_s", "score_diff")
    chosen = ", ".join(_canonical_sql(spec) for spec in COLUMNS)
    extra = ", ".join(EXTRA_COLUMNS)
    connection.execute(
        f"CREATE TABLE plays AS SELECT {chosen}, {extra} FROM (SELECT "
        f"kept.* EXCLUDE ({', '.join(filled)}, first_down), "
        f"{', '.join(f'placed.{name}' for name in (*filled, 'half', 'play_index'))}, "
        f"drive_index, drive_end, made_first_down AS first_down, {end_spot_sql()} "
        f"AS end_yardline_100 FROM {joined} WHERE game NOT IN (SELECT game FROM long_games))"
    )


def _canonical_sql(spec: Column) -> str:
    """Return one canonical column, blank on kinds of play that have none."""
    blank = "NULL" if spec.nullable else {"text": "''", "bool": "false"}.get(spec.dtype, "0")
    value = spec.name
    if spec.name in ("down", "distance_yd"):
        value = f"if({SERIES}, coalesce({spec.name}, 0), 0)"
    elif spec.kinds:
        value = f"if(kind IN ({listed(spec.kinds)}), {spec.name}, {blank})"
    elif spec.name in ("touchdown", "return_touchdown"):
        value = f"if(kind = 'no_play', false, {spec.name})"
    if not spec.nullable:
        value = f"coalesce({value}, {blank})"
    return f"CAST({value} AS {SQL_TYPES[spec.dtype]}) AS {spec.name}"
