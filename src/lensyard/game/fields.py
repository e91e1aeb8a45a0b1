"""How an entry of the game log is declared, checked, and written as plain values and back.

A field is declared once, in its dataclass: the type says how it is stored and whether it may be
missing, a `Rule` in the annotation the limits and the version of the log that brought it. The
tables of the store, JSON, CSV and every check come from these declarations.

Plain values are what JSON has: text, numbers, true and false, lists, null. Times are ISO 8601 in
UTC with a trailing ``Z``.
"""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from enum import StrEnum
from types import UnionType
from typing import Annotated, Any, Final, TypeVar, get_args, get_origin, get_type_hints

from lensyard.errors import InvalidInputError, ParseError, SchemaError, require_range
from lensyard.records import Record

Entry = TypeVar("Entry")

_KEY: Final = re.compile(r"[a-z0-9]+(?:-[a-z0-9]+)*")
LONGEST_TEXT: Final = 200
_EXPECTED: Final = {
    "text": "text",
    "int": "a whole number",
    "float": "a number",
    "bool": "true or false",
    "time": "a time such as 2026-10-03T19:41:07.003Z",
    "texts": "a list of texts",
    "floats": "a list of numbers",
    "object": "an object with named fields",
}
_KINDS: Final[dict[Any, str]] = {
    str: "text",
    int: "int",
    float: "float",
    bool: "bool",
    datetime: "time",
    tuple[str, ...]: "texts",
    tuple[float, ...]: "floats",
}


class Rule(Record):
    """What a field's type does not say.

    ``low``, ``high``: bounds of a number, both included; None is no bound. ``since``: version of
    the log's schema that brought the field. ``longest``: the most characters of a text, which is
    printable and on one line; 0 is any text.
    """

    low: float | None = None
    high: float | None = None
    since: int = 1
    longest: int = LONGEST_TEXT


class EntryField(Record):
    """One field of an entry: its kind, whether it may be null or has a default, its limits.

    ``type`` is the enum of a closed set, or the dataclass of an object; else None.
    """

    name: str
    kind: str
    nullable: bool
    optional: bool
    type: Any
    rule: Rule

    @property
    def choices(self) -> tuple[str, ...]:
        """The closed set of a text; empty for any."""
        return tuple(one.value for one in self.type) if self.kind == "text" and self.type else ()

    @property
    def neutral(self) -> Any:
        """What the field means in a log that is older than it, as a plain value."""
        return None if self.nullable else {"bool": False, "text": ""}.get(self.kind, [])


_declared: Final[dict[type, tuple[EntryField, ...]]] = {}


def fields_of(kind: type[Any]) -> tuple[EntryField, ...]:
    """Return the fields of an entry's dataclass in their order."""
    if kind not in _declared:
        hints = get_type_hints(kind, include_extras=True)
        _declared[kind] = tuple(_field(one, hints[one.name]) for one in dataclasses.fields(kind))
    return _declared[kind]


def _field(one: dataclasses.Field[Any], hint: Any) -> EntryField:
    rule = Rule()
    if get_origin(hint) is Annotated:
        hint, rule = get_args(hint)
    nullable = get_origin(hint) is UnionType
    if nullable:
        (hint,) = (part for part in get_args(hint) if part is not type(None))
    optional = one.default is not dataclasses.MISSING
    if hint in _KINDS:
        return EntryField(one.name, _KINDS[hint], nullable, optional, None, rule)
    kind = "text" if issubclass(hint, StrEnum) else "object"
    return EntryField(one.name, kind, nullable, optional, hint, rule)


def check_fields(entry: Any) -> None:
    """Raise `InvalidInputError` unless every field of an entry keeps its declared limits."""
    for spec in fields_of(type(entry)):
        value, rule = getattr(entry, spec.name), spec.rule
        if value is None:
            continue
        if rule.low is not None and rule.high is not None:
            require_range(low=rule.low, high=rule.high, **{spec.name: value})
        elif spec.kind == "text" and rule.longest:
            if not value.isprintable() or len(value) > rule.longest:
                raise InvalidInputError(
                    f"{spec.name} must be at most {rule.longest} printable characters on one "
                    f"line; got {value[:60]!r}"
                )
        elif spec.kind == "time" and value.utcoffset() != UTC.utcoffset(None):
            raise InvalidInputError(f"{spec.name} must be a time in UTC; got {value.isoformat()}")


def require_keys(name: str, keys: tuple[str, ...]) -> None:
    """Raise `InvalidInputError` unless each is a key of a frame, named once."""
    for key in keys:
        if not _KEY.fullmatch(key) or len(key) > LONGEST_TEXT:
            raise InvalidInputError(
                f"{name} must hold keys such as drop-back; got {key[:60]!r}. "
                "`lensyard log tick` lists the ones of the assignment"
            )
    if len(set(keys)) != len(keys):
        raise InvalidInputError(f"{name} names a frame twice: {', '.join(keys)}")


def time_text(moment: datetime) -> str:
    """Return a time as ISO 8601 in UTC, to the microsecond where it has any.

    >>> time_text(datetime(2026, 10, 3, 19, 41, 7, 3000, tzinfo=UTC))
    '2026-10-03T19:41:07.003000Z'
    """
    return moment.astimezone(UTC).isoformat().replace("+00:00", "Z")


def parse_time(text: str, *, name: str = "time") -> datetime:
    """Return the moment of an ISO 8601 text that says its offset from UTC.

    Raises `ParseError` if it is none, or has no offset.
    """
    try:
        moment = datetime.fromisoformat(text)
        if moment.tzinfo is None:
            raise ValueError
        return moment.astimezone(UTC)
    except (ValueError, OverflowError):
        raise ParseError(name=name, text=text[:60], expected=_EXPECTED["time"]) from None


def plain_values(entry: Any) -> dict[str, Any]:
    """Return an entry as plain values, by field."""
    return {spec.name: _plain(getattr(entry, spec.name)) for spec in fields_of(type(entry))}


def _plain(value: Any) -> Any:
    if isinstance(value, datetime):
        return time_text(value)
    if isinstance(value, tuple):
        return list(value)
    return str(value) if isinstance(value, str) else value


def entry_of(
    kind: type[Entry], values: Any, *, where: str, schema_version: int | None = None
) -> Entry:
    """Return an entry from plain values.

    ``kind``: the entry's dataclass. ``where``: what to call it in errors. ``schema_version``: of
    the log that the values are from: they must be exactly its fields, and younger fields get their
    neutral value. None where other programs write the values: unknown names are left alone, and a
    field with a default may be missing.

    Raises `SchemaError` if a field is missing, unknown or of the wrong type; `InvalidInputError` if
    a value is none that a game has.
    """
    if not isinstance(values, Mapping):
        raise SchemaError(f"{where} must be an object with named fields; got {_short(values)}")
    specs = fields_of(kind)
    if schema_version is None:
        unknown, absent = set(), {s.name for s in specs if not s.optional} - set(values)
    else:
        named = {s.name for s in specs if s.rule.since <= schema_version}
        unknown, absent = set(values) - named, named - set(values)
    if unknown or absent:
        wrong = [f"unknown {name!r}" for name in sorted(unknown)]
        wrong += [f"missing {name!r}" for name in sorted(absent)]
        raise SchemaError(f"{where}: {', '.join(wrong)[:200]}")
    read = {}
    for spec in specs:
        if spec.name in values:
            read[spec.name] = _read(spec, values[spec.name], where)
        elif schema_version is not None:
            read[spec.name] = _read(spec, spec.neutral, where)
    try:
        return kind(**read)
    except InvalidInputError as error:
        raise InvalidInputError(f"{where}: {error}") from error


def _read(spec: EntryField, value: Any, where: str) -> Any:
    if value is None and spec.nullable:
        return None
    if spec.kind == "object":
        return entry_of(spec.type, value, where=f"{where}, {spec.name}")
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
    return spec.type(value) if spec.choices else value


def _is_kind(kind: str, value: Any) -> bool:
    if kind in ("texts", "floats"):
        listed = isinstance(value, Sequence) and not isinstance(value, str)
        return listed and all(_is_kind(kind[:-1], v) for v in value)
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
