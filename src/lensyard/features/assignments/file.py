"""Assignments as files: the bundled ones and one's saved ones by name, any other by path.

A file is TOML. It says whose plays count (``coverage``) and whose faces (``faces``), what a usable
frame of each outcome is worth (``[weights]``), the shot list (``must_have``, keys of the catalog
in `lensyard.domain.shots`), and may bring frames of its own (``[[frame]]``), which are on the shot
list too.

A *name* never reaches the file system as it is: `named_assignment` takes the bundled names only,
which makes it the one to use for text from a web page, and `load_assignment` the names of the files
in the user's folder besides.

What an assignment file may say, as pydantic models; imported only when a file is read.
"""

from __future__ import annotations

import re
import tomllib
from difflib import get_close_matches
from functools import cache
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from lensyard.config import user_data_dir
from lensyard.domain.assignment import Assignment, Coverage, Faces, LightPreference, OutcomeWeights
from lensyard.domain.shots import FRAMES, KEY_FORM, MOST_MINUTES, FrameKind, MustHave, Window
from lensyard.errors import InvalidInputError, ParseError, UnknownNameError
from lensyard.settings.toml_lines import KeyPath, key_lines, line_of

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
        On which line each key stands; see `lensyard.settings.toml_lines.key_lines`.
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


FOLDER = "assignments"
ASSIGNMENT_NAME = re.compile(r"[a-z0-9][a-z0-9-]{0,63}")
SUFFIX = ".toml"
# An assignment is a page of text; anything larger is another kind of file.
LARGEST_BYTES = 100_000


@cache
def _bundled() -> dict[str, Path]:
    from lensyard.config import data_dir

    folder = data_dir() / FOLDER
    return {path.stem: path for path in sorted(folder.glob(f"*{SUFFIX}"))}


def bundled_assignments() -> tuple[str, ...]:
    """Return the names of the bundled assignments, in alphabetical order."""
    return tuple(_bundled())


@cache
def named_assignment(name: str) -> Assignment:
    """Return a bundled assignment.

    Raises
    ------
    UnknownNameError
        If there is none of that name, whatever the name looks like.
    """
    paths = _bundled()
    if name not in paths:
        raise UnknownNameError(name="assignment", value=name, known=paths)
    return assignment_from_file(paths[name])


def saved_assignments_dir() -> Path:
    """Return the folder of the user's own assignments; it need not exist."""
    return user_data_dir() / FOLDER


def assignment_names() -> dict[str, Path]:
    """Return the names that `load_assignment` knows with their files, the user's own first."""
    folder = saved_assignments_dir()
    saved = sorted(folder.glob(f"*{SUFFIX}")) if folder.is_dir() else []
    own = {path.stem: path for path in saved if ASSIGNMENT_NAME.fullmatch(path.stem)}
    return {**own, **{name: path for name, path in _bundled().items() if name not in own}}


def assignment_path(source: str | Path) -> Path:
    """Return the file that a person names: by its path, or by the name of a saved or bundled one.

    Raises
    ------
    UnknownNameError
        If it is neither a known name nor a path that ends in ``.toml``.
    """
    if isinstance(source, Path) or source.lower().endswith(SUFFIX):
        return Path(source)
    names = assignment_names()
    if source not in names:
        raise UnknownNameError(name="assignment", value=source, known=names)
    return names[source]


def load_assignment(source: str | Path) -> Assignment:
    """Return the assignment that a person names: a saved or bundled name, or a path.

    Raises
    ------
    UnknownNameError
        If it is neither a known name nor a path that ends in ``.toml``.
    InvalidInputError
        If the file cannot be read or does not say what an assignment says.
    """
    return assignment_from_file(assignment_path(source))


def assignment_from_file(path: Path) -> Assignment:
    """Return the assignment in a file.

    Raises
    ------
    InvalidInputError
        If the file is missing, too large, not TOML, or says something that an assignment does
        not; the message names every key that is wrong and what was expected.
    """
    return parse_assignment(_read(path), where=str(path))


def parse_assignment(text: str, *, where: str = "the assignment") -> Assignment:
    """Return the assignment that a TOML text describes; ``where`` is named in errors.

    Raises
    ------
    InvalidInputError
        See `assignment_from_file`.
    """
    try:
        content = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise InvalidInputError(
            f"{where} is not TOML: {error}. Text goes in quotes, lists in brackets; copy one of "
            "the bundled assignments and change it"
        ) from error
    lines = key_lines(text)
    table = _validated(content, where, lines)
    must_have = _shot_list(table, where, lines)
    try:
        return Assignment(
            name=table.name,
            faces=table.faces,
            weights=OutcomeWeights(**table.weights.model_dump()),
            coverage=table.coverage,
            must_have=must_have,
            light=table.light,
            about=table.about,
        )
    except InvalidInputError as error:
        line = line_of(lines, ("must_have",))
        raise InvalidInputError(f"{where}, line {line}: {error}") from error


def _read(path: Path) -> str:
    if path.suffix.lower() != SUFFIX:
        raise ParseError(name="assignment", text=str(path), expected="a file that ends in .toml")
    try:
        with path.open("rb") as file:
            content = file.read(LARGEST_BYTES + 1)
        if len(content) > LARGEST_BYTES:
            raise InvalidInputError(
                f"{path} is larger than {LARGEST_BYTES} bytes; an assignment is a page of text. "
                "Name another file"
            )
        return content.decode("utf-8")
    except OSError as error:
        reason = error.strerror or type(error).__name__
        raise InvalidInputError(
            f"cannot read the assignment {path}: {reason}; name a file that exists, or one of "
            f"{', '.join(_bundled())}"
        ) from error
    except UnicodeDecodeError as error:
        raise InvalidInputError(
            f"{path} is not UTF-8 text; save it as UTF-8, which TOML requires"
        ) from error


def _validated(content: dict[str, Any], where: str, lines: dict[KeyPath, int]) -> AssignmentTable:
    from pydantic import ValidationError

    try:
        return AssignmentTable.model_validate(content)
    except ValidationError as error:
        wrong = problems(error, lines)
        raise InvalidInputError(
            f"{where} is no assignment, {len(wrong)} to correct:\n  " + "\n  ".join(wrong)
        ) from error


def _shot_list(
    table: AssignmentTable, where: str, lines: dict[KeyPath, int]
) -> tuple[MustHave, ...]:
    """The listed frames in their order, then the file's own that are not listed."""
    own: dict[str, MustHave] = {}
    for i, frame in enumerate(table.frame):
        line = line_of(lines, ("frame", i))
        if frame.key in own:
            raise InvalidInputError(
                f"{where}, line {line}: frame[{i + 1}].key: frame {frame.key!r} is described "
                "twice; keep one"
            )
        try:
            own[frame.key] = MustHave(
                frame.key,
                frame.title,
                frame.when or ", ".join(frame.windows),
                frame.kind,
                tuple(frame.windows),
                frame.minutes,
                frame.where,
            )
        except InvalidInputError as error:
            raise InvalidInputError(f"{where}, line {line}: frame[{i + 1}]: {error}") from error
    known = {**FRAMES, **own}
    for i, key in enumerate(table.must_have):
        if key not in known:
            line = line_of(lines, ("must_have", i))
            unknown = UnknownNameError(name=f"must_have[{i + 1}]", value=key, known=known)
            raise InvalidInputError(f"{where}, line {line}: {unknown}") from unknown
    listed = [*table.must_have, *(key for key in own if key not in table.must_have)]
    return tuple(known[key] for key in listed)
