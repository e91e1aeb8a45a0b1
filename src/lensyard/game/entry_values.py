"""Entries of a game log as plain values and back, strictly.

Plain values are what JSON has: text, numbers, true and false, lists, null. Times are ISO 8601 in
UTC with a trailing ``Z``.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from typing import Any, Final, TypeVar

from lensyard.domain.field import HashMark
from lensyard.errors import ParseError, SchemaError
from lensyard.game.entry import (
    CAPTURE_FIELDS,
    GAME_FIELDS,
    PLAY_FIELDS,
    Capture,
    EntryField,
    Game,
    LoggedPlay,
    Result,
    Team,
)

Entry = TypeVar("Entry", Game, LoggedPlay, Capture)

FIELDS: Final[dict[type, tuple[EntryField, ...]]] = {
    Game: GAME_FIELDS,
    LoggedPlay: PLAY_FIELDS,
    Capture: CAPTURE_FIELDS,
}
_ENUMS: Final[dict[str, type[Team] | type[Result] | type[HashMark]]] = {
    "offense": Team,
    "result": Result,
    "hash_mark": HashMark,
}
_EXPECTED: Final = {
    "text": "text",
    "int": "a whole number",
    "float": "a number",
    "bool": "true or false",
    "time": "a time such as 2026-10-03T19:41:07.003Z",
    "texts": "a list of texts",
    "floats": "a list of numbers",
}
# What a field means in a log that is older than the field.
_BEFORE_IT_WAS: Final[dict[str, Any]] = {"time_zone": "", "ticks": [], "source": ""}


def time_text(moment: datetime) -> str:
    """Return a time as ISO 8601 in UTC, to the microsecond where it has any.

    >>> time_text(datetime(2026, 10, 3, 19, 41, 7, 3000, tzinfo=UTC))
    '2026-10-03T19:41:07.003000Z'
    """
    return moment.astimezone(UTC).isoformat().replace("+00:00", "Z")


def parse_time(text: str, *, name: str = "time") -> datetime:
    """Return the moment of an ISO 8601 text that says its offset from UTC.

    Raises
    ------
    ParseError
        If it is none, or has no offset.
    """
    try:
        moment = datetime.fromisoformat(text)
        if moment.tzinfo is None:
            raise ValueError
        return moment.astimezone(UTC)
    except (ValueError, OverflowError):
        raise ParseError(name=name, text=text[:60], expected=_EXPECTED["time"]) from None


def plain_values(entry: Game | LoggedPlay | Capture) -> dict[str, Any]:
    """Return an entry as plain values, by field."""
    return {spec.name: _plain(getattr(entry, spec.name)) for spec in FIELDS[type(entry)]}


def _plain(value: Any) -> Any:
    if isinstance(value, datetime):
        return time_text(value)
    if isinstance(value, tuple):
        return list(value)
    if isinstance(value, str):
        return str(value)
    return value


def entry_of(
    kind: type[Entry], values: Mapping[str, Any], *, where: str, schema_version: int
) -> Entry:
    """Return an entry from plain values.

    Parameters
    ----------
    kind
        `Game`, `LoggedPlay` or `Capture`.
    values
        By field.
    where
        What to call it in errors.
    schema_version
        Of the log the values are from; younger fields get their neutral value.

    Raises
    ------
    SchemaError
        If a field is missing, unknown or of the wrong type.
    InvalidInputError
        If a value is none that a game has.
    """
    if not isinstance(values, Mapping):
        raise SchemaError(f"{where} must be an object with named fields; got {_short(values)}")
    specs = {spec.name: spec for spec in FIELDS[kind] if spec.since <= schema_version}
    unknown, absent = sorted(set(values) - set(specs)), sorted(set(specs) - set(values))
    if unknown or absent:
        wrong = [f"unknown {name!r}" for name in unknown] + [f"missing {n!r}" for n in absent]
        raise SchemaError(
            f"{where}: {', '.join(wrong)}; expected exactly the fields of a log of version "
            f"{schema_version}"
        )
    read = {name: _read(spec, values[name], where) for name, spec in specs.items()}
    for spec in FIELDS[kind]:
        if spec.since > schema_version:
            missing = neutral(spec)
            read[spec.name] = tuple(missing) if isinstance(missing, list) else missing
    return kind(**read)


def neutral(spec: EntryField) -> Any:
    """Return what a field means in a log that is older than it, as a plain value."""
    if spec.nullable:
        return None
    return _BEFORE_IT_WAS.get(spec.name, False if spec.kind == "bool" else "")


def _read(spec: EntryField, value: Any, where: str) -> Any:
    if value is None and spec.nullable:
        return None
    if not _is_kind(spec.kind, value):
        raise SchemaError(
            f"{where}: {spec.name} must be {_EXPECTED[spec.kind]}; got {_short(value)}"
        )
    if spec.choices and value not in spec.choices:
        raise SchemaError(
            f"{where}: {spec.name} must be one of {', '.join(spec.choices)}; got {_short(value)}"
        )
    if spec.kind == "time":
        return parse_time(value, name=f"{where}: {spec.name}")
    if spec.kind == "float":
        return float(value)
    if spec.kind in ("texts", "floats"):
        return tuple(float(v) if spec.kind == "floats" else v for v in value)
    return _ENUMS[spec.name](value) if spec.choices else value


def _is_kind(kind: str, value: Any) -> bool:
    if kind in ("texts", "floats"):
        one = kind[:-1]
        return (
            isinstance(value, Sequence)
            and not isinstance(value, str)
            and all(_is_kind(one, v) for v in value)
        )
    if kind == "bool":
        return isinstance(value, bool)
    if kind == "int":
        return isinstance(value, int) and not isinstance(value, bool) and abs(value) < 2**31
    if kind == "float":
        is_number = isinstance(value, int | float) and not isinstance(value, bool)
        return is_number and abs(value) < 1e9  # False for NaN and infinities too
    return isinstance(value, str)


def _short(value: Any) -> str:
    text = repr(value)
    return text if len(text) <= 60 else text[:57] + "..."
