"""What an assignment file may say, as pydantic models; imported only when a file is read."""

from __future__ import annotations

from difflib import get_close_matches
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from lensyard.domain.assignment import Coverage, Faces, LightPreference
from lensyard.domain.frames import KEY_FORM, MOST_MINUTES, FrameKind, Window
from lensyard.service.toml_lines import KeyPath, line_of

FILE_SCHEMA_VERSION = 1
MOST_FRAMES = 100

Weight = Annotated[float, Field(strict=True, ge=0, le=100, allow_inf_nan=False)]
Text = Annotated[str, Field(max_length=300)]
Key = Annotated[str, Field(pattern=r"^[a-z0-9]+(-[a-z0-9]+)*$", max_length=40)]


class _Table(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class WeightsTable(_Table):
    """``[weights]``: what a usable frame of each outcome is worth, 0 to 100; all are needed."""

    touchdown: Weight
    gain20: Weight
    incompletion: Weight
    interception: Weight
    sack: Weight
    other: Weight


class FrameTable(_Table):
    """``[[frame]]``: a frame of one's own, or another take on one of the catalog."""

    key: Key
    title: Annotated[str, Field(min_length=1, max_length=300)]
    when: Text = ""
    kind: FrameKind = FrameKind.LIFE
    windows: Annotated[list[Window], Field(min_length=1)]
    minutes: Annotated[float, Field(strict=True, ge=0, le=MOST_MINUTES, allow_inf_nan=False)] = 0.0
    where: Text = ""


class AssignmentTable(_Table):
    """The whole file."""

    schema_version: Literal[1]
    name: Annotated[str, Field(min_length=1, max_length=80)]
    about: Text = ""
    faces: Faces
    coverage: Coverage
    light: LightPreference = LightPreference.IGNORE
    must_have: Annotated[list[Key], Field(max_length=MOST_FRAMES)] = []
    frame: Annotated[list[FrameTable], Field(max_length=MOST_FRAMES)] = []
    weights: WeightsTable


_TABLES: dict[str, type[_Table]] = {"weights": WeightsTable, "frame": FrameTable}
_EXPECTED: dict[str, str] = {
    "missing": "is missing",
    "string_type": "must be text in quotes",
    "float_type": "must be a number",
    "float_parsing": "must be a number",
    "list_type": "must be a list in brackets",
    "model_type": "must be a table",
    "model_attributes_type": "must be a table",
    "string_pattern_mismatch": f"must be {KEY_FORM}",
}


def problems(error: ValidationError, lines: dict[KeyPath, int]) -> list[str]:
    """Return one sentence for each thing that is wrong, each naming its line and its key.

    Parameters
    ----------
    error
        What pydantic found.
    lines
        On which line each key stands; see `lensyard.service.toml_lines.key_lines`.
    """
    found = [
        (line_of(lines, tuple(item["loc"])), _sentence(item))
        for item in error.errors(include_url=False)
    ]
    return [
        f"line {line}: {sentence}" for line, sentence in sorted(found, key=lambda pair: pair[0])
    ]


def _sentence(item: Any) -> str:
    location, kind = item["loc"], item["type"]
    key = _dotted(location)
    if kind == "extra_forbidden":
        table = _TABLES.get(str(location[0])) if len(location) > 1 else AssignmentTable
        known = list((table or AssignmentTable).model_fields)
        near = get_close_matches(str(location[-1]), known, n=1)
        hint = f" did you mean {near[0]!r}?" if near else f" known are {', '.join(known)}"
        return f"{key}: unknown key;{hint}"
    if kind == "missing":
        return f"{key}: is missing"
    expected = _EXPECTED.get(kind)
    if kind in ("enum", "literal_error"):
        expected = f"must be {item['ctx']['expected']}"
        near = get_close_matches(str(item["input"]), _allowed(item["ctx"]["expected"]), n=1)
        hint = f" (did you mean {near[0]!r}?)" if near else ""
        return f"{key}: {expected}; got {item['input']!r}{hint}"
    if expected is None:
        expected = item["msg"].replace("Input should", "must")
        expected = expected[0].lower() + expected[1:]
    return f"{key}: {expected}; got {item['input']!r}"


def _allowed(expected: str) -> list[str]:
    return [word.strip(" '") for word in expected.replace(" or ", ",").split(",")]


def _dotted(location: tuple[int | str, ...]) -> str:
    text = ""
    for part in location:
        text += f"[{part + 1}]" if isinstance(part, int) else f".{part}" if text else part
    return text
