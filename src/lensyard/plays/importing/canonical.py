"""Plays that already are canonical: the bundled Parquet file and what lensyard itself wrote.

Nothing is derived; every row is checked against the schema. It works in one pass whatever the
size, and never holds the table.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from lensyard.plays.importing.adapter import EXTRA_COLUMNS, Adapter
from lensyard.plays.importing.rules import COPY_WORDS
from lensyard.plays.importing.sql import RawColumns, identifier, literal
from lensyard.plays.importing.transform import VALUE_LENGTH
from lensyard.plays.schema import COLUMN_NAMES, COLUMNS, Column

if TYPE_CHECKING:
    import duckdb


ADAPTER: Final = Adapter(
    name="canonical",
    title="plays in lensyard's own format",
    level="pro",
    license="as its source says",
    attribution="Play-by-play: a file in lensyard's own format; see where it came from.",
    names={},
    needs=tuple((name, "a column of the canonical schema") for name in COLUMN_NAMES),
    signature_columns=(
        ("yardline_100", "play_index", "drive_index", "drive_end", "end_yardline_100"),
    ),
    map_columns=lambda _: {},  # `stage` reads the columns as they are,
)


def stage(connection: duckdb.DuckDBPyConnection, columns: RawColumns) -> None:
    """Create the view `plays` and the table `rejects` from `raw`."""
    cast = ", ".join(_cast(spec, columns) for spec in COLUMNS)
    extra = ", ".join(
        f"{identifier(name)}" if columns.has(name) else f"NULL::{kind} AS {name}"
        for name, kind in EXTRA_COLUMNS.items()
    )
    connection.execute(f"CREATE VIEW typed AS SELECT line, {cast}, {extra} FROM raw")
    conditions = {spec.name: spec.sql_broken for spec in COLUMNS}
    any_wrong = " OR ".join(conditions.values())
    fields = " ".join(f"WHEN {wrong} THEN {literal(name)}" for name, wrong in conditions.items())
    shown = " ".join(
        f"WHEN {literal(name)} THEN left(coalesce(CAST({name} AS VARCHAR), '(empty)'), "
        f"{VALUE_LENGTH})"
        for name in conditions
    )
    reasons = " ".join(
        f"WHEN {literal(spec.name)} THEN {literal(spec.expected)}" for spec in COLUMNS
    )
    connection.execute(
        "CREATE TABLE rejects AS SELECT line, game_id, CAST(season AS INTEGER) AS season, "
        f"field AS column_name, CASE field {shown} END AS value, "
        f"CASE field {reasons} END AS reason "
        f"FROM (SELECT *, CASE {fields} END AS field FROM typed WHERE {any_wrong})"
    )
    _reject_copies(connection, any_wrong)
    connection.execute(
        f"CREATE VIEW plays AS SELECT * EXCLUDE (line) FROM typed WHERE NOT ({any_wrong}) "
        "AND line NOT IN (SELECT line FROM copies)"
    )


def _cast(spec: Column, columns: RawColumns) -> str:
    """Return a column in its type; text files have nothing where a text is empty."""
    name = identifier(columns.origin(spec.name) or spec.name)
    cast = f"TRY_CAST({name} AS {spec.sql_type})"
    return f"coalesce({cast}, '') AS {spec.name}" if "" in spec.values else f"{cast} AS {spec.name}"


def _reject_copies(connection: duckdb.DuckDBPyConnection, any_wrong: str) -> None:
    """Create the table `copies` of lines that repeat a play, and reject them.

    A game whose plays are numbered 0, 1, 2 … holds none; only the others are looked at closely.
    """
    n = "count(*)"
    index = "CAST(play_index AS BIGINT)"
    connection.execute(
        f"CREATE TABLE uneven AS SELECT game_id FROM typed WHERE NOT ({any_wrong}) "
        f"GROUP BY game_id HAVING {n} <> max(play_index) + 1 "
        f"OR 2 * sum({index}) <> {n} * ({n} - 1) "
        f"OR 6 * sum({index} * {index}) <> ({n} - 1) * {n} * (2 * {n} - 1)"
    )
    connection.execute(
        "CREATE TABLE copies AS SELECT line, game_id, season, play_index FROM typed "
        f"WHERE NOT ({any_wrong}) AND game_id IN (SELECT game_id FROM uneven) "
        "QUALIFY row_number() OVER (PARTITION BY game_id, play_index ORDER BY line) > 1"
    )
    connection.execute(
        "INSERT INTO rejects SELECT line, game_id, season, 'play_index', play_index, "
        f"{literal(COPY_WORDS)} FROM copies"
    )
