"""Assignments as files: the bundled ones by name, one's own by path.

A file is TOML. It says whose plays count (``coverage``) and whose faces (``faces``), what a usable
frame of each outcome is worth (``[weights]``), the shot list (``must_have``, keys of the catalog
in `lensyard.domain.frames`), and may bring frames of its own (``[[frame]]``), which are on the shot
list too.

A *name* never reaches the file system as it is: it must be one of the bundled names. That makes
`named_assignment` the one to use for text from a web page.
"""

from __future__ import annotations

import tomllib
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from lensyard.domain.assignment import Assignment, OutcomeWeights
from lensyard.domain.frames import FRAMES, MustHave
from lensyard.errors import InvalidInputError, ParseError, UnknownNameError

if TYPE_CHECKING:
    from lensyard.service.assignment_schema import AssignmentTable

FOLDER = "assignments"
SUFFIX = ".toml"
# An assignment is a page of text; anything larger is another kind of file.
LARGEST_BYTES = 100_000


@cache
def _bundled() -> dict[str, Path]:
    from lensyard.data.bundled import data_dir

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


def load_assignment(source: str | Path) -> Assignment:
    """Return the assignment that a person names: a bundled name, or the path of a ``.toml`` file.

    Raises
    ------
    UnknownNameError
        If it is neither a bundled name nor a path that ends in ``.toml``.
    InvalidInputError
        If the file cannot be read or does not say what an assignment says.
    """
    if isinstance(source, Path) or source.lower().endswith(SUFFIX):
        return assignment_from_file(Path(source))
    return named_assignment(source)


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
    table = _validated(content, where)
    try:
        return Assignment(
            name=table.name,
            faces=table.faces,
            weights=OutcomeWeights(**table.weights.model_dump()),
            coverage=table.coverage,
            must_have=_shot_list(table),
            light=table.light,
            about=table.about,
        )
    except InvalidInputError as error:
        raise InvalidInputError(f"{where}: {error}") from error


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


def _validated(content: dict[str, Any], where: str) -> AssignmentTable:
    from pydantic import ValidationError

    from lensyard.service.assignment_schema import AssignmentTable, problems

    try:
        return AssignmentTable.model_validate(content)
    except ValidationError as error:
        lines = problems(error)
        raise InvalidInputError(
            f"{where} is no assignment, {len(lines)} to correct:\n  " + "\n  ".join(lines)
        ) from error


def _shot_list(table: AssignmentTable) -> tuple[MustHave, ...]:
    """The listed frames in their order, then the file's own that are not listed."""
    own = {}
    for frame in table.frame:
        if frame.key in own:
            raise InvalidInputError(f"frame {frame.key!r} is described twice; keep one")
        own[frame.key] = MustHave(
            frame.key,
            frame.title,
            frame.when or ", ".join(frame.windows),
            frame.kind,
            tuple(frame.windows),
            frame.minutes,
            frame.where,
        )
    known = {**FRAMES, **own}
    keys = [*table.must_have, *(key for key in own if key not in table.must_have)]
    for key in keys:
        if key not in known:
            raise UnknownNameError(name="must_have", value=key, known=known)
    return tuple(known[key] for key in keys)
