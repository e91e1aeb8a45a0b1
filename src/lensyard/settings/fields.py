"""Tables of settings files as pydantic models, whose fields say everything about their keys.

A field's limits, its text and its example stand in one place: `setting`. Error messages
(`validated`) and the commented file to start from (`template`) are made from them.
"""

from __future__ import annotations

import json
import textwrap
from collections.abc import Mapping
from difflib import get_close_matches
from enum import Enum
from types import UnionType
from typing import Annotated, Any, Literal, TypeVar, Union, get_args, get_origin

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, ValidationError
from pydantic.fields import FieldInfo

from lensyard.settings.reading import Issues, KeyPath, key_text

Table = TypeVar("Table", bound="SettingsTable")


def _printable(text: str) -> str:
    """Refuse what would break, hide or turn around the line that it is shown on."""
    if not text.isprintable() or not text.strip():
        raise ValueError("not printable")
    return text


Line = Annotated[str, Field(max_length=80), AfterValidator(_printable)]
Note = Annotated[str, Field(max_length=200), AfterValidator(_printable)]
LINE, NOTE = "1 to 80 printable characters", "1 to 200 printable characters"


class SettingsTable(BaseModel):
    """A table that refuses unknown keys, wrong types, infinities and what is not a number."""

    model_config = ConfigDict(extra="forbid", strict=True, allow_inf_nan=False, frozen=True)


def setting(
    default: Any,
    text: str,
    *,
    example: str = "",
    expected: str = "",
    without: str = "",
    **limits: Any,
) -> Any:
    """Return the field of a key.

    - ``default``: what holds without it; ``...`` where it must be given.
    - ``text``: what it means, or what its table is for.
    - ``example``: a value as TOML.
    - ``expected``: the values that are understood, where the type does not say it; ``{low:g}`` and
      ``{high:g}`` stand for the limits.
    - ``without``: what holds without it, in words, where the default does not say it.
    - ``limits``: further arguments of pydantic's `Field`.
    """
    extra: dict[str, Any] = {"example": example, "expected": expected, "without": without}
    return Field(default, description=text, json_schema_extra=extra, **limits)


def _key(name: str, info: FieldInfo) -> str:
    return info.alias or name


def _fields(table: type[BaseModel]) -> dict[str, FieldInfo]:
    return {_key(name, info): info for name, info in table.model_fields.items()}


def _extra(info: FieldInfo, what: str) -> str:
    extra = info.json_schema_extra
    return str(extra.get(what, "")) if isinstance(extra, dict) else ""


def _inner(annotation: Any) -> type[BaseModel] | None:
    """The table of a field that holds one, or a list of them."""
    if get_origin(annotation) is list:
        annotation = get_args(annotation)[0]
    is_table = isinstance(annotation, type) and issubclass(annotation, BaseModel)
    return annotation if is_table else None


def _choices(annotation: Any) -> list[str]:
    """The names that a field of a closed set understands."""
    if get_origin(annotation) in (Union, UnionType, Annotated, list):
        return [name for part in get_args(annotation) for name in _choices(part)]
    if get_origin(annotation) is Literal:
        return [str(name) for name in get_args(annotation)]
    if isinstance(annotation, type) and issubclass(annotation, Enum):
        return [str(member.value) for member in annotation]
    return []


def expected_of(key: str, info: FieldInfo) -> str:
    """Return the values that a key understands, in words."""
    if expected := _extra(info, "expected"):
        limits = {
            name: value
            for limit in info.metadata
            for name, value in (
                ("low", getattr(limit, "ge", None)),
                ("high", getattr(limit, "le", None)),
            )
            if value is not None
        }
        return expected.format(**limits)
    if _inner(info.annotation) is not None:
        several = get_origin(info.annotation) is list
        return f"tables headed [[{key}]], one for each" if several else f"a table headed [{key}]"
    if names := _choices(info.annotation):
        return "one of " + ", ".join(f'"{name}"' for name in names)
    return (
        "true or false" if info.annotation is bool or bool in get_args(info.annotation) else "text"
    )


def validated(values: dict[str, Any], table: type[Table], issues: Issues) -> Table | None:
    """Return the values as a table, or None after adding everything that is wrong with them."""
    try:
        return table.model_validate(values)
    except ValidationError as error:
        for problem in error.errors(include_url=False):
            path, message = _issue(dict(problem), table)
            issues.add(path, message)
        return None


def _issue(problem: dict[str, Any], table: type[BaseModel]) -> tuple[KeyPath, str]:
    where: KeyPath = tuple(problem["loc"])
    path, parent, info = _followed(where, table)
    if problem["type"] == "extra_forbidden":
        return where, _unknown_key(where, _followed(where[:-1], table)[1])
    key = ".".join(part for part in path if isinstance(part, str))
    expected = (
        f"keys of a table ({', '.join(_fields(parent))})"
        if info is None
        else expected_of(key, info)
    )
    if problem["type"] == "missing":
        return path, f"is missing; expected {expected}"
    given = problem["input"]
    near = (
        get_close_matches(given, _choices(info.annotation), n=1)
        if info and isinstance(given, str)
        else []
    )
    hint = f" (did you mean {near[0]!r}?)" if near else ""
    return path, f"got {_shown(given)}; expected {expected}{hint}"


def _followed(
    where: KeyPath, table: type[BaseModel]
) -> tuple[KeyPath, type[BaseModel], FieldInfo | None]:
    """Follow a path as far as tables know it: what is known of it, its table, and its last key.

    pydantic ends paths with the names of alternatives that it tried.
    """
    path: KeyPath = ()
    info: FieldInfo | None = None
    for part in where:
        if isinstance(part, int):
            path = (*path, part)
            continue
        inner = table if info is None else _inner(info.annotation)
        if inner is None or part not in _fields(inner):
            break
        table, info, path = inner, _fields(inner)[part], (*path, part)
    inner = None if info is None else _inner(info.annotation)
    return path, inner or table, info


def _unknown_key(where: KeyPath, table: type[BaseModel]) -> str:
    known = sorted(_fields(table))
    near = get_close_matches(str(where[-1]), known, n=1)
    if near:
        return f"is no key here; did you mean {near[0]!r}?"
    place = f"[{key_text(where[:-1])}]" if len(where) > 1 else "the top of the file"
    return f"is no key here; {place} knows {', '.join(known)}"


def _shown(value: object) -> str:
    text = str(value).lower() if isinstance(value, bool) else repr(value)
    return text if len(text) <= 60 else f"{text[:57]}..."


def toml_value(value: str | float | bool | list[Any]) -> str:
    """Return a value as TOML.

    >>> toml_value(["a \\"b\\"", 1.5, True])
    '["a \\\\"b\\\\"", 1.5, true]'
    """
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, list):
        return f"[{', '.join(toml_value(item) for item in value)}]"
    if isinstance(value, str):
        # JSON's escapes are TOML's too, except that TOML escapes DEL as well.
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007F")
    return repr(value)


def template(table: type[BaseModel], intro: str, given: Mapping[str, Any]) -> str:
    """Return a file to start from: every key with what it means, and usable as it is.

    ``table``: the shape of the file. ``intro``: stands on top. ``given``: by dotted key, the values
    that the file has; all other keys are switched off by a "#" and show an example.
    """
    return "\n".join([_comment(intro), *_table(table, "", given)])


def _table(table: type[BaseModel], prefix: str, given: Mapping[str, Any]) -> list[str]:
    """The keys of a table as one text, then the tables in it."""
    keys, tables = "", []
    for key, info in _fields(table).items():
        dotted = f"{prefix}{key}"
        inner = _inner(info.annotation)
        if inner is None:
            keys += _entry(key, info, given.get(dotted))
            continue
        off = "" if any(name.startswith(f"{dotted}.") for name in given) else "#"
        head = f"[[{dotted}]]" if get_origin(info.annotation) is list else f"[{dotted}]"
        parts = _table(inner, f"{dotted}.", given)
        about = _comment(info.description or "")
        if parts[0]:
            tables.append(f"{about}{off}{head}\n{parts[0]}")
        else:
            parts[1] = about + parts[1]
        tables += parts[1:]
    return [keys, *tables]


def _entry(key: str, info: FieldInfo, value: Any) -> str:
    without = _extra(info, "without")
    if not without and not info.is_required() and info.default is not None:
        without = toml_value(info.default.value if isinstance(info.default, Enum) else info.default)
    text = f"{info.description} Expected: {expected_of(key, info)}."
    line = f"{key} = {_extra(info, 'example') if value is None else toml_value(value)}"
    return (
        _comment(text if info.is_required() else f"{text} Default: {without}.")
        + f"{'#' if value is None else ''}{line}\n"
    )


def _comment(text: str) -> str:
    lines = [
        wrapped
        for paragraph in text.splitlines()
        for wrapped in textwrap.wrap(paragraph, width=94, break_on_hyphens=False)
    ]
    return "".join(f"# {line}\n" for line in lines)
