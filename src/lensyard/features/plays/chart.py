"""A spreadsheet on its way in: what is asked of it, which mapping reads it, and its new words.

A mapping lies beside its file (``chart.mapping.toml``), or, of charts that were uploaded, among the
user's mappings under its source's name, so that next week's chart needs no questions.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from lensyard.config import user_cache_dir, user_data_dir
from lensyard.errors import DataError, LensyardError
from lensyard.files import write_atomically
from lensyard.records import Record

if TYPE_CHECKING:
    from lensyard.plays.importing.mapping import Mapping as ChartMapping

MOST_QUESTIONS: Final = 3
FIRST_MONTH: Final = 3
"""Before March a season has the year before."""
UPLOADS_KEPT: Final = 8


class Questions(Record):
    """What a person is asked about a spreadsheet: at most `MOST_QUESTIONS` things.

    `header`: Its columns.
    `columns`: Fields whose column was not found.
    `season`, `club`: Whether these are asked, too.
    `dated`: Whether the file says the season.
    """

    header: tuple[str, ...]
    columns: tuple[str, ...]
    season: bool
    club: bool
    dated: bool


def questions_of(
    file: Path, chosen: Mapping[str, str] | None = None, *, season: int | None = None
) -> Questions:
    """Return what is asked about a spreadsheet.

    `chosen`: Field -> column, where that is known.
    `season`: Where it is known.

    Raises `DataError` if the file cannot be read.
    """
    from lensyard.plays.importing.guess import guess_columns, header_of, lacking

    known = dict(chosen or {})
    header = header_of(file)
    columns = lacking(header, known)[:MOST_QUESTIONS]
    found = guess_columns(header) | known
    dated = bool(found.get("season") or found.get("date"))
    left = MOST_QUESTIONS - len(columns)
    asks_season = left > 0 and season is None and not dated
    return Questions(header, columns, asks_season, left > asks_season, dated)


def this_season() -> int:
    """Return the season that is going on, or the last one: games in January belong to it."""
    today = datetime.now().astimezone()
    return today.year - (today.month < FIRST_MONTH)


def mapping_beside(file: Path) -> Path:
    """Return where the mapping of a file lies by default."""
    return file.with_name(f"{file.stem}.mapping.toml")


def extend_mapping(path: Path, words: Mapping[str, Mapping[str, Any]]) -> ChartMapping:
    """Add words to a mapping file's tables of values, in one step, and return the mapping.

    Raises `StoreError` if it cannot be written; the file is then as it was.
    """
    from lensyard.plays.importing.guess import with_words
    from lensyard.plays.importing.mapping import parse_mapping

    text = with_words(path.read_text(encoding="utf-8"), words)
    mapping = parse_mapping(text)
    write_atomically(path, text)
    return mapping


def keep_upload(name: str, content: bytes) -> Path:
    """Keep an uploaded file in the cache, under its own name; the oldest beyond a few go."""
    folder = user_cache_dir(create=True) / "uploads"
    plain = "".join(c if c.isalnum() or c in " ._-" else "_" for c in name).strip(" .")[-80:]
    path = folder / sha256(content).hexdigest()[:16] / (plain or "chart")
    if not path.exists():
        write_atomically(path, content)
    kept = sorted(folder.glob("*/*"), key=lambda each: each.stat().st_mtime)
    for old in kept[:-UPLOADS_KEPT]:
        if old != path:
            old.unlink(missing_ok=True)
    return path


def keep_mapping(source: str, toml: str) -> Path:
    """Store a mapping among the user's, under the name of its source, and return its file."""
    path = _mappings_dir() / f"{source}.toml"
    write_atomically(path, toml)
    return path


def mapping_for(file: Path) -> Path | None:
    """Return the user's mapping whose columns a file has, all of them; None where none fits."""
    from lensyard.plays.importing.guess import header_of
    from lensyard.plays.importing.mapping import load_mapping

    header = set(header_of(file))
    for path in sorted(_mappings_dir().glob("*.toml")):
        try:
            mapping = load_mapping(path)
        except LensyardError:
            continue
        if {*mapping.columns.values(), *mapping.flags} <= header:
            return path
    return None


def is_known_source(file: Path) -> bool:
    """Return whether a file is of a source that needs no mapping."""
    from lensyard.plays.importing.adapter import recognize
    from lensyard.plays.importing.guess import header_of

    header = header_of(file)
    try:
        recognize(header, name=file.name)
    except DataError:
        return False
    return True


def _mappings_dir() -> Path:
    return user_data_dir() / "mappings"
