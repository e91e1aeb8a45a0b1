"""How two seasons differ: what has drifted since the model was fitted, with errors by game.

Writing a mapping for a spreadsheet: guessed from its header and cells, shown back as plays.
"""

from __future__ import annotations

from collections.abc import Mapping as Table
from dataclasses import asdict, dataclass
from math import hypot
from pathlib import Path
from typing import TYPE_CHECKING, Any

from lensyard.errors import DataError, InvalidInputError, LensyardError
from lensyard.model.context import SCHEMA_VERSION
from lensyard.stats import Z_95

if TYPE_CHECKING:
    from lensyard.plays.importing.guess import Guess


def compare_document(
    first: int, second: int, *, source: str | None = None, season_type: str = "REG"
) -> dict[str, Any]:
    """Return the measures of two stored seasons side by side, with their differences.

    Parameters
    ----------
    first, second
        The seasons.
    source
        Name of a source; by default each season comes from one source.
    season_type
        "REG" or "POST".

    Raises
    ------
    DataError
        If a season has no plays.
    """
    from lensyard.plays.season_measures import MEASURES, measure_season
    from lensyard.plays.store import attributions_document, shared_store

    store = shared_store()
    before = measure_season(store, first, source=source, season_type=season_type)
    after = measure_season(store, second, source=source, season_type=season_type)
    rows = []
    for measure, old, new in zip(MEASURES, before, after, strict=True):
        row: dict[str, Any] = {
            "name": measure.name,
            "meaning": measure.meaning,
            "unit": measure.unit,
            "first": old.value,
            "second": new.value,
            "first_base": old.base,
            "second_base": new.base,
            "difference": None,
            "low": None,
            "high": None,
            "differs": None,
        }
        if old.value is not None and new.value is not None:
            row["difference"] = difference = new.value - old.value
            if old.error is not None and new.error is not None:
                margin = Z_95 * hypot(old.error, new.error)
                row |= {"low": difference - margin, "high": difference + margin}
                row["differs"] = abs(difference) > margin
        rows.append(row)
    return {
        "schema_version": SCHEMA_VERSION,
        "seasons": [first, second],
        "season_type": season_type,
        "games": [before[0].games, after[0].games],
        "measures": rows,
        "attributions": attributions_document([first, second], source=source),
        "cautions": [
            f"one in twenty of these {len(rows)} measures would stand out by chance alone",
            *_level_cautions(first, second, source),
        ],
    }


def _level_cautions(first: int, second: int, source: str | None) -> list[str]:
    """Return a caution where the two seasons are of different levels or sources."""
    from lensyard.plays.store import attributions

    found = {a.level for season in (first, second) for a in attributions([season], source=source)}
    sources = {a.source for s in (first, second) for a in attributions([s], source=source)}
    cautions = []
    if len(found) > 1:
        cautions.append(f"the two seasons are of different levels: {', '.join(sorted(found))}")
    if len(sources) > 1:
        cautions.append(
            f"the two seasons come from different sources ({', '.join(sorted(sources))}); what "
            "scorers call deep, or a return, may differ"
        )
    return cautions


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
    from lensyard.plays.importing.guess import guess_columns, header_of

    header = header_of(path)
    return header, guess_columns(header)


def fields() -> dict[str, str]:
    """Return the fields that a mapping knows: name -> what it is."""
    from lensyard.plays.importing.mapping import FIELDS

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
    from lensyard.plays.importing.guess import cells_of, first_plays, guess, tell_play
    from lensyard.plays.importing.mapping import parse_mapping
    from lensyard.plays.importing.stage import Request

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
        report, plays = first_plays(Request(request.path, mapping=parse_mapping(text)))
    except LensyardError as error:
        document["doubts"] = [*guessed.doubts, f"it does not read yet: {error}"]
        return document
    document["plays"] = [tell_play(play) for play in plays]
    document["report"] = {
        "rows": report.rows,
        "kept": report.kept,
        "repaired": [asdict(tally) for tally in report.repaired],
        "rejected": [asdict(tally) for tally in report.rejected],
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
