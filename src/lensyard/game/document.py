"""A game as one JSON document and back, its plays as CSV, and what the offline card saved.

`lensyard log export` writes the JSON and `restore` reads it; the CSV is safe to open in a
spreadsheet; reading the same card twice adds nothing.
"""

from __future__ import annotations

import csv
import hashlib
import io
import json
from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime
from enum import StrEnum
from pathlib import Path
from typing import Annotated, Any, Final

from lensyard.domain.field import HashMark
from lensyard.domain.places import standing_text
from lensyard.domain.situation import parse_ball
from lensyard.errors import InvalidInputError, SchemaError
from lensyard.game.entry import LOG_SCHEMA_VERSION, Capture, Game, LoggedPlay, Result, Team
from lensyard.game.fields import (
    Entry,
    Rule,
    check_fields,
    entry_of,
    fields_of,
    plain_values,
    require_keys,
    time_text,
)
from lensyard.game.state import MOVES
from lensyard.records import Record

FORMAT: Final = "lensyard-game-log"
MOST_BYTES: Final = 20_000_000
_KEYS: Final = ("format", "version", "exported_at", "game", "plays", "captures")
_STORED_KEYS: Final = ("log", "history", "sha256")
"""What a file of the log has beside; `lensyard.game.store` writes them."""
_SEAL: Final = ',\n "sha256":"'
_TRIGGERS: Final = ("=", "+", "-", "@", "\t", "\r")


class GameLog(Record):
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


def log_text(log: GameLog, *, exported_at: datetime, more: Mapping[str, Any] | None = None) -> str:
    """Return a game as JSON, one line a play and one a capture; `read_log` gives it back.

    ``more``: further keys, as a file of the log has them.
    """
    document = {
        "format": FORMAT,
        "version": LOG_SCHEMA_VERSION,
        "exported_at": time_text(exported_at),
        "game": plain_values(log.game),
        "plays": [plain_values(play) for play in log.plays],
        "captures": [plain_values(capture) for capture in log.captures],
        **(more or {}),
    }
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


def seal(text: str) -> str:
    """Return a JSON object's text with the SHA-256 of all of it as its last key."""
    body = text.removesuffix("\n}\n")
    return f'{body}{_SEAL}{hashlib.sha256(body.encode()).hexdigest()}"\n}}\n'


def is_sealed(text: str) -> bool:
    """Return whether a text is, to the byte, what `seal` returned."""
    return seal(text.rpartition(_SEAL)[0] + "\n}\n") == text


def read_text(path: Path) -> str:
    """Return the text of a file that somebody hands in.

    Raises `InvalidInputError` if it cannot be read, is too large or is not UTF-8.
    """
    try:
        with path.open("rb") as stream:
            raw = stream.read(MOST_BYTES + 1)
        if len(raw) > MOST_BYTES:
            raise InvalidInputError(
                f"{path} is larger than {MOST_BYTES // 1_000_000} MB; name another file"
            )
        return raw.decode("utf-8-sig")
    except OSError as error:
        raise InvalidInputError(
            f"cannot read {path} ({error.strerror or error}); name a file that can be read"
        ) from error
    except UnicodeDecodeError as error:
        raise InvalidInputError(f"{path} is not UTF-8 text; it must be as it was saved") from error


def read_document(
    text: str, *, format_name: str, version: int, where: str, otherwise: str
) -> dict[str, Any]:
    """Return the object of a JSON text of a format, of some version from 1 to ``version``.

    Raises `InvalidInputError` if it is no JSON object, names a key twice, or is of another format
    or version; ``otherwise`` says what to do with a file of the neighboring format.
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
    if document.get("format") != format_name:
        raise InvalidInputError(
            f"{where} has the format {document.get('format')!r}, expected {format_name!r}. "
            f"{otherwise}"
        )
    found = document.get("version")
    if type(found) is not int or not 1 <= found <= version:
        raise InvalidInputError(
            f"{where} has version {found!r}; this lensyard reads 1 to {version}. Install the newer "
            "one that wrote it"
        )
    return document


def _each_once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        raise ValueError("a key stands twice in one object")
    return found


def entries_in(
    document: dict[str, Any],
    key: str,
    kind: type[Entry],
    *,
    where: str,
    schema_version: int | None = None,
) -> tuple[Entry, ...]:
    """Return the entries listed under a key of a document; see `entry_of`.

    Raises `SchemaError` or `InvalidInputError` if the key holds no list, or an entry cannot be.
    """
    found = document.get(key)
    if not isinstance(found, list):
        raise SchemaError(f"{where}: {key} must be a list")
    return tuple(
        entry_of(kind, values, where=f"{where}, {key}[{i}]", schema_version=schema_version)
        for i, values in enumerate(found)
    )


def read_log(text: str, *, where: str = "the export") -> GameLog:
    """Return the game of an exported log, strictly.

    Raises `InvalidInputError` if it is no export of a game log, is of a later version, or holds
    what no game has.
    """
    document = read_document(
        text,
        format_name=FORMAT,
        version=LOG_SCHEMA_VERSION,
        where=where,
        otherwise="A card's export goes to `lensyard log import`",
    )
    if document.keys() & set(_STORED_KEYS) and not is_sealed(text):
        raise InvalidInputError(
            f"{where} is not as it was written: its checksum does not fit. Use another copy; to "
            'read it all the same, remove its keys "log", "history" and "sha256" by hand'
        )
    try:
        return log_of(document, where=where)
    except SchemaError as error:
        raise InvalidInputError(str(error)) from error


def log_of(document: dict[str, Any], *, where: str) -> GameLog:
    """Return the game of a document that `read_document` returned.

    Raises `InvalidInputError` or `SchemaError` if it holds what no game has.
    """
    unknown = sorted(set(document) - {*_KEYS, *_STORED_KEYS})
    if unknown:
        raise InvalidInputError(f"{where} has unknown keys: {', '.join(unknown)[:200]}")
    version = document["version"]
    game_values, where_game = document.get("game", {}), f"{where}, game"
    game = entry_of(Game, game_values, where=where_game, schema_version=version)
    plays = entries_in(document, "plays", LoggedPlay, where=where, schema_version=version)
    captures: tuple[Capture, ...] = ()
    if version >= 2:
        captures = entries_in(document, "captures", Capture, where=where, schema_version=version)
    numbers = [play.number for play in plays]
    if numbers != sorted(set(numbers)):
        raise InvalidInputError(f"{where}: plays must be numbered in their order, each once")
    strangers = {c.play for c in captures if c.play is not None} - set(numbers)
    if strangers:
        raise InvalidInputError(f"{where}: captures of plays that are not there: {strangers}")
    return GameLog(game, plays, captures)


def safe_cell(value: Any) -> Any:
    """Return a plain value as a CSV cell that no spreadsheet takes for a formula.

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
    names = [spec.name for spec in fields_of(LoggedPlay)]
    writer.writerow(["game_id", "home", "away", *names])
    game = [safe_cell(v) for v in (log.game.game_id, log.game.home, log.game.away)]
    for play in log.plays:
        writer.writerow([*game, *(safe_cell(value) for value in plain_values(play).values())])
    return stream.getvalue()


CARD_FORMAT: Final = "lensyard-card-export"
CARD_VERSION: Final = 2
_KEY_DIGITS: Final = 16


class End(StrEnum):
    """An end of the stadium, as the direction of attack."""

    A = "A"
    B = "B"


class CardPlace(Record):
    """A place beside the field, in the offense's coordinates. [yd]"""

    x_yd: Annotated[float, Rule(-20, 140)]
    y_yd: Annotated[float, Rule(-20, 75)]

    def __post_init__(self) -> None:
        """Refuse what lies far from any field."""
        check_fields(self)


class CardPlay(Record):
    """One play, by the names that the card gives its fields; see `LoggedPlay`.

    ``hash`` counts only where ``hash_known`` (the card always shows one); ``standing`` is where the
    photographer was. A kickoff and a try have no down and no distance.
    """

    at: datetime
    direction: End
    offense: Team
    quarter: Annotated[int, Rule(1, 5)]
    ball: str
    yardline_100: Annotated[int, Rule(1, 99)]
    hash: HashMark
    ball_changed_hands: bool
    score_diff: Annotated[int, Rule(-99, 99)]
    result: Result
    end_yardline_100: Annotated[int | None, Rule(0, 100)]
    first_down: bool
    ends_quarter: bool
    down: Annotated[int | None, Rule(1, 4)] = None
    distance_yd: Annotated[int | None, Rule(1, 99)] = None
    hash_known: bool | None = None
    standing: CardPlace | None = None

    def __post_init__(self) -> None:
        """Refuse what cannot have happened."""
        check_fields(self)
        if parse_ball(self.ball) != self.yardline_100:
            raise InvalidInputError(
                f"ball says {parse_ball(self.ball)} yd to the goal line, yardline_100 "
                f"{self.yardline_100}"
            )
        if (self.distance_yd or 0) > self.yardline_100:
            raise InvalidInputError(f"distance_yd {self.distance_yd} goes beyond the goal line")

    @property
    def spot(self) -> str:
        """Where the photographer was for this play; empty where that was not noted."""
        place = self.standing
        return "" if place is None else standing_text(x_yd=place.x_yd, y_yd=place.y_yd)

    def logged(self, *, number: int, source: str) -> LoggedPlay:
        """Return the play as the log has it."""
        moves, end = self.result in MOVES, self.end_yardline_100
        gained = self.yardline_100 - end if moves and end is not None and self.down else None
        return LoggedPlay(
            number=number,
            logged_at=self.at,
            quarter=self.quarter,
            offense=self.offense,
            yardline_100=self.yardline_100,
            direction=1 if self.direction is End.B else -1,
            down=self.down,
            distance_yd=self.distance_yd,
            hash_mark=self.hash if self.hash_known is not False else None,
            score_diff=self.score_diff,
            changed_hands=self.ball_changed_hands,
            spot=self.spot,
            result=self.result,
            gain_yd=None if gained is None else max(gained, -60),
            touchdown=bool(self.down) and moves and end == 0,
            end_yardline_100=end,
            first_down=self.first_down,
            ends_quarter=self.ends_quarter,
            source=source,
        )


class _Card(Record):
    key: str

    def __post_init__(self) -> None:
        check_fields(self)
        if not self.key:
            raise InvalidInputError("key must not be empty")


class _Tick(Record):
    frame: str


class CardExport(Record):
    """A card's export: which card, its plays in order, and the frames ticked."""

    key: str
    plays: tuple[CardPlay, ...]
    ticks: tuple[str, ...]

    def source(self, play: CardPlay) -> str:
        """Return what identifies a play of this card."""
        return f"card {self.key[:_KEY_DIGITS]} {play.at.isoformat()}"


def read_card_export(text: str, *, where: str = "the card's export") -> CardExport:
    """Return a card's export.

    Raises `InvalidInputError` if it is another format or version, or something in it cannot be. The
    message names the play and the key.
    """
    document = read_document(
        text,
        format_name=CARD_FORMAT,
        version=CARD_VERSION,
        where=where,
        otherwise="A log's own export goes to `lensyard log restore`",
    )
    try:
        card = entry_of(_Card, document.get("card"), where=f"{where}, card")
        plays = entries_in(document, "plays", CardPlay, where=where)
        ticks = entries_in(document, "ticks", _Tick, where=where)
    except SchemaError as error:
        raise InvalidInputError(str(error)) from error
    if [p.at for p in plays] != sorted(p.at for p in plays):
        raise InvalidInputError(f"{where}: plays must be in the order of time")
    once = tuple(dict.fromkeys(tick.frame for tick in ticks))
    require_keys(f"{where}, ticks", once)
    return CardExport(card.key, plays, once)


def plays_to_add(log: GameLog, export: CardExport) -> tuple[LoggedPlay, ...]:
    """Return the plays of a card that a log does not have yet, numbered after its last."""
    known = {play.source for play in log.plays}
    number = max((play.number for play in log.plays), default=0)
    new = [play for play in export.plays if export.source(play) not in known]
    return tuple(
        play.logged(number=number + 1 + i, source=export.source(play)) for i, play in enumerate(new)
    )
