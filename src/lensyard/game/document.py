"""A game as one JSON document, and back: what `lensyard log export` writes and `restore` reads.

A game's plays as CSV, safe to open in a spreadsheet.
"""

from __future__ import annotations

import csv
import io
import json
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any, Final

from lensyard.errors import InvalidInputError, SchemaError
from lensyard.game.entry import PLAY_FIELDS, Capture, Game, LoggedPlay
from lensyard.game.entry_values import entry_of, plain_values, time_text
from lensyard.game.store_open import LOG_SCHEMA_VERSION

FORMAT: Final = "lensyard-game-log"
MOST_BYTES: Final = 20_000_000
_KEYS: Final = ("format", "version", "exported_at", "game", "plays", "captures")


@dataclass(frozen=True, slots=True)
class GameLog:
    """A game with everything that belongs to it."""

    game: Game
    plays: tuple[LoggedPlay, ...]
    captures: tuple[Capture, ...] = ()

    @property
    def ticked(self) -> tuple[str, ...]:
        """The frames ticked so far, in the order of ticking, each once."""
        keys = [*self.game.ticks, *(key for play in self.plays for key in play.ticks)]
        return tuple(dict.fromkeys(keys))

    def renamed(self, game_id: str) -> GameLog:
        """Return the same log under another id."""
        return replace(self, game=replace(self.game, game_id=game_id))


def log_document(log: GameLog, *, exported_at: datetime) -> dict[str, Any]:
    """Return a game as a JSON document; `read_log` gives the same game back."""
    return {
        "format": FORMAT,
        "version": LOG_SCHEMA_VERSION,
        "exported_at": time_text(exported_at),
        "game": plain_values(log.game),
        "plays": [plain_values(play) for play in log.plays],
        "captures": [plain_values(capture) for capture in log.captures],
    }


def log_text(log: GameLog, *, exported_at: datetime) -> str:
    """Return `log_document` as text, one line a play and one a capture."""
    document = log_document(log, exported_at=exported_at)
    parts = []
    for key, value in document.items():
        if isinstance(value, list) and value:
            text = "[\n  " + ",\n  ".join(_json(item) for item in value) + "\n ]"
        else:
            text = _json(value)
        parts.append(f" {_json(key)}: {text}")
    return "{\n" + ",\n".join(parts) + "\n}\n"


def _json(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False, allow_nan=False, separators=(",", ":"))


def load_json(text: str, *, where: str) -> dict[str, Any]:
    """Return the object of a JSON text.

    Raises
    ------
    InvalidInputError
        If it is no JSON object, or names a key twice.
    """
    if len(text) > MOST_BYTES:
        raise InvalidInputError(f"{where} is larger than {MOST_BYTES // 1_000_000} MB")
    try:
        document = json.loads(text, object_pairs_hook=_each_once)
    except (ValueError, RecursionError) as error:
        raise InvalidInputError(
            f"{where} is not readable JSON ({error}); expected a file as it was written, whole"
        ) from error
    if not isinstance(document, dict):
        raise InvalidInputError(f"{where} must be one JSON object, written with braces")
    return document


def _each_once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        raise ValueError("a key stands twice in one object")
    return found


def read_log(text: str, *, where: str = "the export") -> GameLog:
    """Return the game of an exported log, strictly.

    Raises
    ------
    InvalidInputError
        If it is no export of a game log, is of a later version, or holds what no game has.
    """
    document = load_json(text, where=where)
    if document.get("format") != FORMAT:
        raise InvalidInputError(
            f"{where} is no export of a game log: its format is {document.get('format')!r}, "
            f"expected {FORMAT!r}. A card's export goes to `lensyard log import`"
        )
    version = document.get("version")
    if type(version) is not int or not 1 <= version <= LOG_SCHEMA_VERSION:
        raise InvalidInputError(
            f"{where} has version {version!r}; this lensyard reads 1 to {LOG_SCHEMA_VERSION}"
        )
    unknown = sorted(set(document) - set(_KEYS))
    if unknown:
        raise InvalidInputError(f"{where} has unknown keys: {', '.join(unknown)[:200]}")
    try:
        return _checked(document, version, where)
    except SchemaError as error:
        raise InvalidInputError(str(error)) from error


def _checked(document: dict[str, Any], version: int, where: str) -> GameLog:
    game = entry_of(Game, document.get("game", {}), where=f"{where}, game", schema_version=version)
    plays = tuple(
        entry_of(LoggedPlay, values, where=f"{where}, plays[{i}]", schema_version=version)
        for i, values in enumerate(_list(document, "plays", where))
    )
    captures: tuple[Capture, ...] = ()
    if version >= 2:
        captures = tuple(
            entry_of(Capture, values, where=f"{where}, captures[{i}]", schema_version=version)
            for i, values in enumerate(_list(document, "captures", where))
        )
    numbers = [play.number for play in plays]
    if numbers != sorted(set(numbers)):
        raise InvalidInputError(f"{where}: plays must be numbered in their order, each once")
    strangers = {c.play for c in captures if c.play is not None} - set(numbers)
    if strangers:
        raise InvalidInputError(f"{where}: captures of plays that are not there: {strangers}")
    return GameLog(game, plays, captures)


def _list(document: dict[str, Any], key: str, where: str) -> list[Any]:
    found = document.get(key)
    if not isinstance(found, list):
        raise InvalidInputError(f"{where}: {key} must be a list")
    return found


_TRIGGERS: Final = ("=", "+", "-", "@", "\t", "\r")
"""A cell that begins with one of these is a formula to a spreadsheet (OWASP, "CSV Injection")."""


def safe_cell(value: Any) -> Any:
    """Return a cell that no spreadsheet runs: such a text gets an apostrophe, a number stays one.

    >>> [safe_cell(v) for v in ("=1+1", "-7", -7, "run", None, True)]
    ["'=1+1", "'-7", -7, 'run', '', 'true']
    """
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return value
    text = " ".join(str(v) for v in value) if isinstance(value, list) else str(value)
    return f"'{text}" if text.startswith(_TRIGGERS) else text


def plays_csv(log: GameLog) -> str:
    """Return the plays of a game as CSV (RFC 4180): a line of names, then one line a play."""
    stream = io.StringIO()
    writer = csv.writer(stream)
    writer.writerow(["game_id", "home", "away", *(spec.name for spec in PLAY_FIELDS)])
    game = [safe_cell(v) for v in (log.game.game_id, log.game.home, log.game.away)]
    for play in log.plays:
        writer.writerow([*game, *(safe_cell(value) for value in plain_values(play).values())])
    return stream.getvalue()
