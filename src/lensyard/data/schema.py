"""The canonical schema: one row a play, whatever the source it came from.

Every column says what it means, its unit, its range, for which kinds of play it is filled, and
whether it is known before the snap. A column that is not known before the snap is an outcome: a
model may learn to predict it and must never read it. `PRE_SNAP_COLUMNS` and `OUTCOME_COLUMNS`
list the two sorts.

Frame: `yardline_100` counts yards to the opponent's goal line from the side of the play's
`offense`. On kickoffs the offense is the kicking team.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING, Final, Literal

from lensyard.errors import SchemaError, UnknownNameError

if TYPE_CHECKING:
    import pandas as pd

SCHEMA_VERSION: Final = 1
"""Raised whenever a column is added, dropped or changes meaning; stores are rebuilt then."""


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

DataType = Literal["text", "int16", "int32", "bool"]


@dataclass(frozen=True, slots=True)
class Column:
    """One column of the canonical table.

    Attributes
    ----------
    name, dtype, unit, meaning
        What it is called, how it is stored, its unit ("" for none) and what it says.
    low, high
        Bounds of a number, both included; None for texts and flags.
    values
        The closed set of a text column; () for an open one.
    nullable
        Whether the value may be missing.
    known_before_snap
        False for outcomes: never an input of a model.
    kinds
        The kinds of play for which it is filled; () for all. Elsewhere it is null, "" or false.
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


SIDES: Final = ("", "left", "middle", "right")
DEPTHS: Final = ("", "short", "deep")
GAPS: Final = ("", "end", "tackle", "guard")
KICK_RESULTS: Final = (
    "",
    "made",
    "missed",
    "blocked",
    "touchback",
    "fair_catch",
    "returned",
    "downed",
    "out_of_bounds",
    "recovered",
)
DRIVE_ENDS: Final = (
    "",
    "touchdown",
    "field_goal",
    "missed_field_goal",
    "punt",
    "turnover",
    "downs",
    "safety",
    "end_of_half",
)
SEASON_TYPES: Final = ("REG", "POST")

COLUMNS: Final[tuple[Column, ...]] = (
    Column("game_id", "text", "The source's id of the game.", known_before_snap=True),
    Column(
        "season",
        "int16",
        "Season by the schedule; games in January belong to the season before.",
        low=1990,
        high=2100,
        known_before_snap=True,
    ),
    Column(
        "season_type",
        "text",
        "Regular or post season.",
        values=SEASON_TYPES,
        known_before_snap=True,
    ),
    Column(
        "week",
        "int16",
        "Week within the season type.",
        low=1,
        high=22,
        known_before_snap=True,
    ),
    Column(
        "play_index",
        "int16",
        "Order of the play within its game, from 0, as the source lists it.",
        low=0,
        high=400,
        known_before_snap=True,
    ),
    Column(
        "drive_index",
        "int16",
        "Order of the possession within its game, from 0. A kickoff belongs to the possession "
        "that it opens, a try to the one that scored.",
        low=0,
        high=80,
        known_before_snap=True,
    ),
    Column("home_club", "text", "Code of the home club in that season.", known_before_snap=True),
    Column("away_club", "text", "Code of the visiting club.", known_before_snap=True),
    Column(
        "offense",
        "text",
        "Code of the club that snaps or kicks; on kickoffs the kicking club.",
        known_before_snap=True,
    ),
    Column("defense", "text", "Code of the other club.", known_before_snap=True),
    Column(
        "half",
        "int16",
        "1, 2; 3 for any overtime.",
        low=1,
        high=3,
        known_before_snap=True,
    ),
    Column("quarter", "int16", "5 and up: overtime.", low=1, high=8, known_before_snap=True),
    Column(
        "clock_s",
        "int16",
        "Time left in the quarter at the snap.",
        unit="s",
        low=0,
        high=900,
        known_before_snap=True,
    ),
    Column(
        "down",
        "int16",
        "1 to 4; 0 on tries and kickoffs.",
        low=0,
        high=4,
        known_before_snap=True,
    ),
    Column(
        "distance_yd",
        "int16",
        "To the line to gain; 0 on tries and kickoffs.",
        unit="yd",
        low=0,
        high=99,
        known_before_snap=True,
    ),
    Column(
        "yardline_100",
        "int16",
        "Line of scrimmage: yards to the opponent's goal line as the offense sees it.",
        unit="yd",
        low=1,
        high=99,
        known_before_snap=True,
    ),
    Column(
        "score_diff",
        "int16",
        "Offense's points less defense's, before the snap.",
        unit="points",
        low=-80,
        high=80,
        known_before_snap=True,
    ),
    Column(
        "kind",
        "text",
        "What kind of play it was, after any replay review.",
        values=tuple(kind.value for kind in PlayKind),
    ),
    Column(
        "gain_yd",
        "int16",
        "Official net yards of a play from scrimmage: negative for sacks, 0 for incompletions "
        "and interceptions. Fumble returns and penalties do not count.",
        unit="yd",
        low=-99,
        high=99,
        kinds=("run", "complete", "sack", "scramble", "kneel"),
    ),
    Column(
        "air_yd",
        "int16",
        "Along the field from the line of scrimmage to where the pass was caught or came down; "
        "null where the source has none.",
        unit="yd",
        low=-99,
        high=110,
        nullable=True,
        kinds=PASS_KINDS,
    ),
    Column(
        "after_catch_yd",
        "int16",
        "Yards gained after the catch, laterals included.",
        unit="yd",
        low=-99,
        high=99,
        nullable=True,
        kinds=("complete",),
    ),
    Column(
        "side",
        "text",
        "Where a pass or carry went, as the scorer saw it from behind the offense.",
        values=SIDES,
        kinds=(*PASS_KINDS, *CARRY_KINDS),
    ),
    Column(
        "depth",
        "text",
        "Scorer's depth of a pass: deep means 15 yards or more in the air.",
        values=DEPTHS,
        kinds=PASS_KINDS,
    ),
    Column("gap", "text", "Gap of a carry.", values=GAPS, kinds=CARRY_KINDS),
    Column(
        "out_of_bounds",
        "bool",
        "The ball carrier ran or was pushed out of bounds. Only carries and catches have it.",
        kinds=("run", "complete", "scramble"),
    ),
    Column(
        "touchdown",
        "bool",
        "The offense (on kicks: the kicking club) scored a touchdown on the play.",
    ),
    Column(
        "return_touchdown",
        "bool",
        "The defense (on kicks: the receiving club) scored a touchdown on the play.",
    ),
    Column(
        "turnover",
        "bool",
        "The offense threw an interception or lost a fumble; a failed fourth down is none.",
        kinds=(*LIVE_KINDS, "kneel"),
    ),
    Column(
        "first_down",
        "bool",
        "The play itself made the line to gain or a touchdown; a penalty's first down is none.",
        kinds=(*LIVE_KINDS, "kneel", "punt", "field_goal"),
    ),
    Column("penalty", "bool", "A penalty was enforced on the play."),
    Column(
        "kick_distance_yd",
        "int16",
        "Length of a punt or kickoff; distance of a field-goal attempt.",
        unit="yd",
        low=-10,
        high=99,
        nullable=True,
        kinds=("punt", "field_goal", "kickoff"),
    ),
    Column(
        "return_yd",
        "int16",
        "Yards that the other club ran the ball back; null where there was no return.",
        unit="yd",
        low=-60,
        high=110,
        nullable=True,
        kinds=(*LIVE_KINDS, "kneel", "punt", "field_goal", "kickoff"),
    ),
    Column(
        "kick_result",
        "text",
        "What became of a kick or a try; two-point tries are made or missed.",
        values=KICK_RESULTS,
        kinds=(*KICK_KINDS, "two_point"),
    ),
    Column(
        "end_yardline_100",
        "int16",
        "Where the ball was dead, in the frame of this play's offense, before any penalty: "
        "0 and 100 are the goal lines and all beyond. Null on tries and where nothing was "
        "played; an incompletion ends at the line of scrimmage.",
        unit="yd",
        low=0,
        high=100,
        nullable=True,
        kinds=(*SCRIMMAGE_KINDS, "kickoff"),
    ),
    Column(
        "drive_end",
        "text",
        "How the possession of this play ended, derived from the plays; empty on tries and "
        "kickoffs.",
        values=DRIVE_ENDS,
        kinds=(*SCRIMMAGE_KINDS, "no_play"),
    ),
)

COLUMN_NAMES: Final = tuple(column.name for column in COLUMNS)
PRE_SNAP_COLUMNS: Final = tuple(c.name for c in COLUMNS if c.known_before_snap)
OUTCOME_COLUMNS: Final = tuple(c.name for c in COLUMNS if not c.known_before_snap)
_BY_NAME: Final = {column.name: column for column in COLUMNS}


def column(name: str) -> Column:
    """Return the definition of one column.

    Raises
    ------
    UnknownNameError
        If the schema has no such column.

    Examples
    --------
    >>> column("gain_yd").unit, column("gain_yd").known_before_snap
    ('yd', False)
    """
    if name not in _BY_NAME:
        raise UnknownNameError(name="column", value=name, known=COLUMN_NAMES)
    return _BY_NAME[name]


def validate(plays: pd.DataFrame, *, columns: Sequence[str] = COLUMN_NAMES) -> None:
    """Check a table of plays against the canonical schema.

    Parameters
    ----------
    plays : pandas.DataFrame
        One row a play. Nullable numbers may be floats with NaN.
    columns : sequence of str
        The columns it must hold, in this order; all by default.

    Raises
    ------
    SchemaError
        Names every column that is missing, unexpected, of a wrong type, out of its range, outside
        its closed set, or filled where its kind of play has none.
    """
    found = tuple(str(name) for name in plays.columns)
    if found != tuple(columns):
        missing = [name for name in columns if name not in found]
        extra = [name for name in found if name not in columns]
        raise SchemaError(
            f"plays must hold the columns of schema version {SCHEMA_VERSION} in their order; "
            f"missing {missing or 'none'}, unexpected {extra or 'none'}. Rebuild the data."
        )
    faults = [fault for name in columns for fault in _faults(plays, column(name))]
    if faults:
        raise SchemaError("plays break the canonical schema: " + "; ".join(faults))


def _faults(plays: pd.DataFrame, spec: Column) -> list[str]:
    """Return what is wrong with one column, in words."""
    from pandas.api import types

    series = plays[spec.name]
    faults: list[str] = []
    empty = int(series.isna().sum())
    if empty and not spec.nullable:
        faults.append(f"{spec.name} has {empty} missing values")
    if spec.dtype == "bool":
        if not types.is_bool_dtype(series):
            return [*faults, f"{spec.name} must be bool, is {series.dtype}"]
    elif spec.dtype == "text":
        texts = set(series.dropna().unique())
        if not all(isinstance(text, str) for text in texts):
            return [*faults, f"{spec.name} must be text, is {series.dtype}"]
        strange = sorted(texts - set(spec.values)) if spec.values else []
        if strange:
            faults.append(f"{spec.name} holds {strange[:3]}, outside its closed set")
    elif not types.is_numeric_dtype(series) or types.is_bool_dtype(series):
        return [*faults, f"{spec.name} must be a number, is {series.dtype}"]
    else:
        faults += _range_faults(series, spec)
    return faults + _kind_faults(plays, spec)


def _range_faults(series: pd.Series[float], spec: Column) -> list[str]:
    """Return out-of-range and fractional values of a numeric column, in words."""
    numbers = series.dropna()
    if spec.low is None or spec.high is None or numbers.empty:
        return []
    low, high = numbers.min(), numbers.max()
    faults = []
    if low < spec.low or high > spec.high:
        faults.append(
            f"{spec.name} must be within [{spec.low}, {spec.high}], is in [{low:g}, {high:g}]"
        )
    if (numbers % 1 != 0).any():
        faults.append(f"{spec.name} must be whole numbers")
    return faults


def _kind_faults(plays: pd.DataFrame, spec: Column) -> list[str]:
    """Return where a column is filled although that kind of play has none, in words."""
    if not spec.kinds or "kind" not in plays.columns:
        return []
    series = plays[spec.name]
    if spec.nullable:
        filled = series.notna()
    else:
        filled = series != {"text": "", "bool": False}.get(spec.dtype, 0)
    wrong = plays["kind"][filled & ~plays["kind"].isin(spec.kinds)]
    if wrong.empty:
        return []
    return [f"{spec.name} is filled on {len(wrong)} plays of kind {sorted(set(wrong))}"]
