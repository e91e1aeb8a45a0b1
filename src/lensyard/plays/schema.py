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
from typing import TYPE_CHECKING, Final

from lensyard.errors import SchemaError, UnknownNameError
from lensyard.plays.columns import COLUMNS, Column
from lensyard.plays.kinds import (
    CARRY_KINDS,
    KICK_KINDS,
    LIVE_KINDS,
    PASS_KINDS,
    SCRIMMAGE_KINDS,
    SEASON_TYPES,
    TRY_KINDS,
    PlayKind,
)

if TYPE_CHECKING:
    import pandas as pd

__all__ = [
    "CARRY_KINDS",
    "COLUMNS",
    "COLUMN_NAMES",
    "KICK_KINDS",
    "LIVE_KINDS",
    "OUTCOME_COLUMNS",
    "PASS_KINDS",
    "PRE_SNAP_COLUMNS",
    "SCHEMA_VERSION",
    "SCRIMMAGE_KINDS",
    "SEASON_TYPES",
    "TRY_KINDS",
    "Column",
    "PlayKind",
    "column",
    "validate",
]

SCHEMA_VERSION: Final = 1
"""Raised whenever a column is added, dropped or changes meaning; stores are rebuilt then."""

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
