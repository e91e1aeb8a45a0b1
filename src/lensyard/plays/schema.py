"""The canonical schema: one row a play, whatever the source it came from.

Every column says what it means, its unit, its range, for which kinds of play it is filled, and
whether it is known before the snap. A column that is not known before the snap is an outcome: a
model may learn to predict it and must never read it.

Coordinates: `yardline_100` counts yards to the opponent's goal line from the side of the play's
`offense`. On kickoffs the offense is the kicking team.
"""

from __future__ import annotations

from enum import StrEnum
from typing import TYPE_CHECKING, Any, Final, Literal

from lensyard.errors import SchemaError, UnknownNameError
from lensyard.records import Record

if TYPE_CHECKING:
    import pandas as pd


class PlayKind(StrEnum):
    """What kind of play it was, after any replay review."""

    RUN = "run"
    COMPLETE = "complete"
    INCOMPLETE = "incomplete"
    SACK = "sack"
    SCRAMBLE = "scramble"
    INTERCEPTION = "interception"
    KNEEL = "kneel"
    SPIKE = "spike"
    PUNT = "punt"
    FIELD_GOAL = "field_goal"
    EXTRA_POINT = "extra_point"
    TWO_POINT = "two_point"
    KICKOFF = "kickoff"
    NO_PLAY = "no_play"


PASS_KINDS: Final = ("complete", "incomplete", "interception")
CARRY_KINDS: Final = ("run", "scramble")
LIVE_KINDS: Final = ("run", "complete", "incomplete", "sack", "scramble", "interception")
"""Plays from scrimmage on which a photographer has something to photograph."""
SCRIMMAGE_KINDS: Final = (*LIVE_KINDS, "kneel", "spike", "punt", "field_goal")
"""Every play of a series of downs (tries and kickoffs are not)."""
TRY_KINDS: Final = ("extra_point", "two_point")
KICK_KINDS: Final = ("punt", "field_goal", "extra_point", "kickoff")
SIDES: Final = ("", "left", "middle", "right")
DEPTHS: Final = ("", "short", "deep")
GAPS: Final = ("", "end", "tackle", "guard")
KICK_RESULTS: Final = (
    "", "made", "missed", "blocked", "touchback", "fair_catch", "returned", "downed",
    "out_of_bounds", "recovered",
)  # fmt: skip
DRIVE_ENDS: Final = (
    "", "touchdown", "field_goal", "missed_field_goal", "punt", "turnover", "downs", "safety",
    "end_of_half",
)  # fmt: skip
SEASON_TYPES: Final = ("REG", "POST")
GAIN_KINDS: Final = ("run", "complete", "sack", "scramble", "kneel")
"""Kinds of play that gain or lose yards by themselves."""
SCHEMA_VERSION: Final = 1
"""Raised whenever a column is added, dropped or changes meaning; stores are rebuilt then."""
DataType = Literal["text", "int16", "bool"]


class Column(Record):
    """One column of the canonical table.

    `name`, `dtype`, `unit`, `meaning`: What it is called, how it is stored, its unit ("" for none)
        and what it says.
    `low`, `high`: Bounds of a number, both included; None for texts and flags.
    `values`: The closed set of a text column; () for an open one.
    `known_before_snap`: False for outcomes: never an input of a model.
    `kinds`: The kinds of play for which it is filled; () for all. Elsewhere it is null, "", false
        or 0.
    """

    name: str
    dtype: DataType
    meaning: str
    unit: str = ""
    low: int | None = None
    high: int | None = None
    values: tuple[str, ...] = ()
    nullable: bool = False
    known_before_snap: bool = False
    kinds: tuple[str, ...] = ()

    @property
    def sql_type(self) -> str:
        """Its type in DuckDB."""
        return {"text": "VARCHAR", "int16": "SMALLINT", "bool": "BOOLEAN"}[self.dtype]

    @property
    def sql_check(self) -> str:
        """SQL condition of its range or closed set, null for null; "true" where it has none."""
        if self.low is not None:
            return f"{self.name} BETWEEN {self.low} AND {self.high}"
        listed = ", ".join(f"'{value}'" for value in self.values)
        return f"{self.name} IN ({listed})" if self.values else "true"

    @property
    def sql_broken(self) -> str:
        """SQL condition under which a value breaks the schema, whatever the kind of play."""
        missing = "false" if self.nullable else f"{self.name} IS NULL"
        return f"({missing} OR NOT coalesce({self.sql_check}, true))"

    @property
    def expected(self) -> str:
        """What breaking it means, in words."""
        if self.low is not None:
            return f"{self.name} is not a whole number from {self.low} to {self.high}"
        if self.values:
            return f"{self.name} is none of {', '.join(v or '(empty)' for v in self.values)}"
        return f"{self.name} is missing"


def _known(name: str, dtype: DataType, meaning: str, **more: Any) -> Column:
    """Return a column that is known before the snap."""
    return Column(name, dtype, meaning, known_before_snap=True, **more)


COLUMNS: Final[tuple[Column, ...]] = (
    _known("game_id", "text", "The source's id of the game."),
    _known("season", "int16", "Season by the schedule; games in January belong to the season "
           "before.", low=1990, high=2100),
    _known("season_type", "text", "Regular or post season.", values=SEASON_TYPES),
    _known("week", "int16", "Week within the season type.", low=1, high=22),
    _known("play_index", "int16", "Order of the play within its game, from 0, as the source lists "
           "it.", low=0, high=400),
    _known("drive_index", "int16", "Order of the possession within its game, from 0. A kickoff "
           "belongs to the possession that it opens, a try to the one that scored.",
           low=0, high=80),
    _known("home_club", "text", "Code of the home club in that season."),
    _known("away_club", "text", "Code of the visiting club."),
    _known("offense", "text", "Code of the club that snaps or kicks; on kickoffs the kicking "
           "club."),
    _known("defense", "text", "Code of the other club."),
    _known("half", "int16", "1, 2; 3 for any overtime.", low=1, high=3),
    _known("quarter", "int16", "5 and up: overtime.", low=1, high=8),
    _known("clock_s", "int16", "Time left in the quarter at the snap.", unit="s", low=0, high=900),
    _known("down", "int16", "1 to 4; 0 on tries and kickoffs.", low=0, high=4),
    _known("distance_yd", "int16", "To the line to gain; 0 on tries and kickoffs.", unit="yd",
           low=0, high=99),
    _known("yardline_100", "int16", "Line of scrimmage: yards to the opponent's goal line as the "
           "offense sees it.", unit="yd", low=1, high=99),
    _known("score_diff", "int16", "Offense's points less defense's, before the snap.",
           unit="points", low=-80, high=80),
    Column("kind", "text", "What kind of play it was, after any replay review.",
           values=tuple(kind.value for kind in PlayKind)),
    Column("gain_yd", "int16", "Official net yards of a play from scrimmage: negative for sacks, "
           "0 for incompletions and interceptions. Fumble returns and penalties do not count.",
           unit="yd", low=-99, high=99, kinds=("run", "complete", "sack", "scramble", "kneel")),
    Column("air_yd", "int16", "Along the field from the line of scrimmage to where the pass was "
           "caught or came down; null where the source has none.",
           unit="yd", low=-99, high=110, nullable=True, kinds=PASS_KINDS),
    Column("after_catch_yd", "int16", "Yards gained after the catch, laterals included.",
           unit="yd", low=-99, high=99, nullable=True, kinds=("complete",)),
    Column("side", "text", "Where a pass or carry went, as the scorer saw it from behind the "
           "offense.", values=SIDES, kinds=(*PASS_KINDS, *CARRY_KINDS)),
    Column("depth", "text", "Scorer's depth of a pass: deep means more than 15 yards in the air.",
           values=DEPTHS, kinds=PASS_KINDS),
    Column("gap", "text", "Gap of a carry.", values=GAPS, kinds=CARRY_KINDS),
    Column("out_of_bounds", "bool", "The ball carrier ran or was pushed out of bounds. Only "
           "carries and catches have it; null where the source does not say.", nullable=True,
           kinds=("run", "complete", "scramble")),
    Column("touchdown", "bool", "The offense (on kicks: the kicking club) scored a touchdown on "
           "the play."),
    Column("return_touchdown", "bool", "The defense (on kicks: the receiving club) scored a "
           "touchdown on the play."),
    Column("turnover", "bool", "The offense threw an interception or lost a fumble; a failed "
           "fourth down is none. Null where the source does not say.", nullable=True,
           kinds=(*LIVE_KINDS, "kneel")),
    Column("first_down", "bool", "The play itself made the line to gain or a touchdown; a "
           "penalty's first down is none.", kinds=(*LIVE_KINDS, "kneel", "punt", "field_goal")),
    Column("penalty", "bool", "A penalty was enforced on the play; null where the source does not "
           "say.", nullable=True),
    Column("kick_distance_yd", "int16", "Length of a punt or kickoff; distance of a field-goal "
           "attempt.", unit="yd", low=-10, high=99, nullable=True,
           kinds=("punt", "field_goal", "kickoff")),
    Column("return_yd", "int16", "Yards that the other club ran the ball back; null where there "
           "was no return.", unit="yd", low=-60, high=110, nullable=True,
           kinds=(*LIVE_KINDS, "kneel", "punt", "field_goal", "kickoff")),
    Column("kick_result", "text", "What became of a kick or a try; two-point tries are made or "
           "missed. Null where the source does not say.", nullable=True, values=KICK_RESULTS,
           kinds=(*KICK_KINDS, "two_point")),
    Column("end_yardline_100", "int16", "Where the ball was dead, seen by this play's offense, "
           "before any penalty: 0 and 100 are the goal lines and all beyond. Null on tries and "
           "where nothing was played; an incompletion ends at the line of scrimmage.",
           unit="yd", low=0, high=100, nullable=True, kinds=(*SCRIMMAGE_KINDS, "kickoff")),
    Column("drive_end", "text", "How the possession of this play ended, derived from the plays; "
           "empty on tries and kickoffs, null where the plays do not tell.", nullable=True,
           values=DRIVE_ENDS, kinds=(*SCRIMMAGE_KINDS, "no_play")),
)  # fmt: skip
COLUMN_NAMES: Final = tuple(column.name for column in COLUMNS)
_BY_NAME: Final = {column.name: column for column in COLUMNS}


def column(name: str) -> Column:
    """Return the definition of one column.

    Raises `UnknownNameError` if the schema has no such column.

    >>> column("gain_yd").unit, column("gain_yd").known_before_snap
    ('yd', False)
    """
    if name not in _BY_NAME:
        raise UnknownNameError(name="column", value=name, known=COLUMN_NAMES)
    return _BY_NAME[name]


_TYPES: Final[dict[DataType, tuple[str, ...]]] = {
    "text": ("VARCHAR", "ENUM"),
    "int16": ("TINYINT", "SMALLINT", "INTEGER", "BIGINT", "FLOAT", "DOUBLE"),
    "bool": ("BOOLEAN",),
}
"""How the types of DuckDB begin that hold a column."""


def validate(plays: pd.DataFrame) -> None:
    """Check a table of plays, one a row, against the canonical schema.

    Nullable numbers may be floats with NaN.

    Raises `SchemaError` Names every column that is missing, unexpected, of a wrong type, out of its
    range, outside its closed set, or filled where its kind of play has none.
    """
    import duckdb

    found = tuple(str(name) for name in plays.columns)
    if found != COLUMN_NAMES:
        missing = [name for name in COLUMN_NAMES if name not in found]
        extra = [name for name in found if name not in COLUMN_NAMES]
        raise SchemaError(
            f"plays must hold the columns of schema version {SCHEMA_VERSION} in their order; "
            f"missing {missing or 'none'}, unexpected {extra or 'none'}. Rebuild the data."
        )
    with duckdb.connect() as connection:
        connection.register("plays", plays)
        types = [str(row[1]) for row in connection.execute("DESCRIBE plays").fetchall()]
        issues = [
            f"{spec.name} must be {spec.dtype}, is {kind}"
            for spec, kind in zip(COLUMNS, types, strict=True)
            if not kind.startswith(_TYPES[spec.dtype])
        ]
        if not issues:
            tests = [test for spec in COLUMNS for test in _tests(spec)]
            counted = ", ".join(f"count(*) FILTER (WHERE {test})" for _, test in tests)
            counts = connection.execute(f"SELECT {counted} FROM plays").fetchone() or ()
            issues = [
                f"{words} on {rows} plays"
                for (words, _), rows in zip(tests, counts, strict=True)
                if rows
            ]
    if issues:
        raise SchemaError("plays break the canonical schema: " + "; ".join(issues))


def _tests(spec: Column) -> list[tuple[str, str]]:
    """Return what can be wrong with a column: in words, and as an SQL condition."""
    tests = [(spec.expected, spec.sql_broken)]
    if spec.low is not None:
        tests[0] = (spec.expected, f"({spec.sql_broken} OR {spec.name} <> round({spec.name}))")
    if spec.kinds:
        empty = {"text": "''", "bool": "false"}.get(spec.dtype, "0")
        filled = f"coalesce({spec.name}, {empty}) <> {empty}"
        if spec.nullable and spec.dtype == "int16":
            filled = f"{spec.name} IS NOT NULL"
        kinds = ", ".join(f"'{kind}'" for kind in spec.kinds)
        tests.append((f"{spec.name} is filled", f"{filled} AND kind NOT IN ({kinds})"))
    return tests
