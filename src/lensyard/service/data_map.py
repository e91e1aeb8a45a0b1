"""Writing a mapping for a spreadsheet: guessed from its header and cells, shown back as plays."""

from __future__ import annotations

from collections.abc import Mapping as Table
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from lensyard.errors import DataError, InvalidInputError, LensyardError
from lensyard.service.context import SCHEMA_VERSION

if TYPE_CHECKING:
    from lensyard.data.sources.guess import Guess


@dataclass(frozen=True, slots=True)
class MapRequest:
    """What a user says about a spreadsheet.

    Attributes
    ----------
    path
        The file.
    columns
        Field -> column, where the guess is to be overruled; "" for none.
    source, title, level
        Under which name, for people, and of which level of play.
    us, them
        The club that charts, and the other where the file does not name it.
    season
        Where the file does not say it.
    """

    path: Path
    columns: Table[str, str]
    source: str = "charted"
    title: str = ""
    level: str = "high-school"
    us: str = "US"
    them: str = "THEM"
    season: int | None = None


def guessed_columns(path: Path) -> tuple[tuple[str, ...], dict[str, str]]:
    """Return a file's columns, and field -> column as far as the header tells."""
    from lensyard.data.sources.guess import guess_columns
    from lensyard.data.sources.preview import header_of

    header = header_of(path)
    return header, guess_columns(header)


def fields() -> dict[str, str]:
    """Return the fields that a mapping knows: name -> what it is."""
    from lensyard.data.sources.mapping import FIELDS

    return dict(FIELDS)


def map_document(request: MapRequest) -> dict[str, Any]:
    """Return a mapping as TOML, with the first ten plays as it reads them and what is in doubt.

    Raises
    ------
    DataError
        If the file cannot be read.
    InvalidInputError
        If what the user says is unusable.
    """
    from lensyard.data.import_stage import Request
    from lensyard.data.sources.guess import guess
    from lensyard.data.sources.mapping import parse_mapping
    from lensyard.data.sources.preview import cells_of, first_plays, tell_play

    if not request.path.is_file():
        raise DataError(f"there is no file {request.path}; give a table of plays")
    _, columns = guessed_columns(request.path)
    columns = {k: v for k, v in {**columns, **request.columns}.items() if v}
    guessed = guess(columns, cells_of(request.path, columns))
    text = mapping_text(guessed, request)
    document: dict[str, Any] = {
        "schema_version": SCHEMA_VERSION,
        "file": request.path.name,
        "columns": columns,
        "toml": text,
        "doubts": guessed.doubts,
        "plays": [],
        "report": None,
        "cautions": [],
    }
    try:
        staged, plays = first_plays(Request(request.path, mapping=parse_mapping(text)))
    except LensyardError as error:
        document["doubts"] = [*guessed.doubts, f"it does not read yet: {error}"]
        return document
    document["plays"] = [tell_play(play) for play in plays]
    document["report"] = {
        "rows": staged.file.rows,
        "kept": staged.file.kept,
        "repaired": [asdict(tally) for tally in staged.file.repaired],
        "rejected": [asdict(tally) for tally in staged.file.rejected],
    }
    return document


def mapping_text(guessed: Guess, request: MapRequest) -> str:
    """Return a guessed mapping as TOML."""
    lines = [
        f"# How {_safe(request.path.name)} reads as plays. Check it, then:",
        "#   lensyard data import FILE --mapping THIS.toml",
        *(f"# Look at: {_safe(doubt)}" for doubt in guessed.doubts),
        f"source = {_quoted(request.source)}",
        f"title = {_quoted(request.title or f'{request.us} charting')}",
        f"level = {_quoted(request.level)}",
        'license = "private; not to be passed on"',
        'attribution = "Plays charted by the user."',
        "",
        "[columns]",
        *(f"{name} = {_quoted(column)}" for name, column in guessed.columns.items()),
    ]
    for table, cells in guessed.values.items():
        if cells:
            lines += ["", f"[values.{table}]"]
            lines += [f"{_quoted(cell)} = {_value(word)}" for cell, word in cells.items()]
    lines += ["", "[yard_line]"]
    lines += [f"{key} = {_quoted(value)}" for key, value in guessed.yard_line.items()]
    lines += ["", "[defaults]", f"us = {_quoted(request.us)}", f"them = {_quoted(request.them)}"]
    if request.season is not None:
        lines.append(f"season = {int(request.season)}")
    return "\n".join(lines) + "\n"


def _value(word: str | list[str]) -> str:
    return _quoted(word) if isinstance(word, str) else f"[{', '.join(map(_quoted, word))}]"


def _quoted(text: str) -> str:
    """Return a TOML basic string."""
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    kept = "".join(c if c.isprintable() else f"\\U{ord(c):08X}" for c in escaped)
    return f'"{kept}"'


def _safe(text: str) -> str:
    """Return a text that can stand in a comment."""
    return "".join(c if c.isprintable() else " " for c in text)[:300]


def write_mapping(text: str, path: Path, *, force: bool) -> None:
    """Write a mapping file.

    Raises
    ------
    InvalidInputError
        If it is there already, or cannot be written.
    """
    if path.exists() and not force:
        raise InvalidInputError(f"{path} is there already; --force writes over it, --out elsewhere")
    try:
        path.write_text(text, encoding="utf-8")
    except OSError as error:
        raise InvalidInputError(f"cannot write {path}: {error.strerror or error}") from error
