"""Reading what the offline card saved: strictly, and the same file twice adds nothing."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final

from lensyard.domain.field import HashMark
from lensyard.domain.places import standing_text
from lensyard.domain.situation import parse_ball
from lensyard.errors import InvalidInputError, LensyardError
from lensyard.game.document import GameLog, load_json
from lensyard.game.entry import Game, LoggedPlay, Team, require_keys
from lensyard.game.entry_values import parse_time

FORMAT: Final = "lensyard-card-export"
VERSION: Final = 1
_KEY_DIGITS: Final = 16
_DIRECTIONS: Final = {"A": -1, "B": 1}


@dataclass(frozen=True, slots=True)
class CardPlay:
    """One play of a card, in the words of the log; ``spot`` is empty where none was noted."""

    at: datetime
    quarter: int | None
    direction: int
    down: int
    distance_yd: int
    yardline_100: int
    hash_mark: HashMark | None
    changed_hands: bool
    spot: str


@dataclass(frozen=True, slots=True)
class CardExport:
    """A card's export: which card, its plays in order, and the frames ticked."""

    key: str
    plays: tuple[CardPlay, ...]
    ticks: tuple[str, ...]

    def source(self, play: CardPlay) -> str:
        """Return what identifies a play of this card."""
        return f"card {self.key[:_KEY_DIGITS]} {play.at.isoformat()}"


def read_card_export(text: str, *, where: str = "the card's export") -> CardExport:
    """Return a card's export.

    Raises
    ------
    InvalidInputError
        If it is another format or version, or something in it cannot be. The message names the
        play and the key.
    """
    document = load_json(text, where=where)
    if document.get("format") != FORMAT:
        raise InvalidInputError(
            f"{where} is no card's export: its format is {document.get('format')!r}, expected "
            f"{FORMAT!r}. A log's own export goes to `lensyard log restore`"
        )
    version = document.get("version")
    if type(version) is not int or not 1 <= version <= VERSION:
        raise InvalidInputError(
            f"{where} has version {version!r}; this lensyard reads up to {VERSION}. Install a "
            "newer one, or save the log from a card printed by this one"
        )
    card = _Reader(document, where).object("card")
    key = card.text("key")
    plays = []
    for i, values in enumerate(_Reader(document, where).items("plays")):
        plays.append(_play(_Reader(values, f"{where}, plays[{i}]")))
    if [p.at for p in plays] != sorted(p.at for p in plays):
        raise InvalidInputError(f"{where}: plays must be in the order of time")
    ticks = []
    for i, values in enumerate(_Reader(document, where).items("ticks")):
        ticks.append(_Reader(values, f"{where}, ticks[{i}]").text("frame"))
    once = tuple(dict.fromkeys(ticks))
    require_keys(f"{where}, ticks", once)
    return CardExport(key, tuple(plays), once)


def _play(reader: _Reader) -> CardPlay:
    yardline = reader.integer("yardline_100", low=1, high=99)
    try:
        said = parse_ball(reader.text("ball"))
    except LensyardError as error:
        raise reader.wrong("ball", str(error)) from error
    if said != yardline:
        raise reader.wrong("ball", f"it says {said} yd to the goal line, yardline_100 {yardline}")
    distance = reader.integer("distance_yd", low=1, high=20)
    if distance > yardline:
        raise reader.wrong("distance_yd", f"{distance} goes beyond the goal line")
    quarter = reader.integer("quarter", low=1, high=5) if reader.has("quarter") else None
    return CardPlay(
        at=parse_time(reader.text("at"), name=f"{reader.where}: at"),
        quarter=quarter,
        direction=_DIRECTIONS[reader.choice("direction", tuple(_DIRECTIONS))],
        down=reader.integer("down", low=1, high=4),
        distance_yd=distance,
        yardline_100=yardline,
        hash_mark=_hash_mark(reader),
        changed_hands=reader.truth("ball_changed_hands"),
        spot=_spot(reader),
    )


def _hash_mark(reader: _Reader) -> HashMark | None:
    """Return the hash mark, or None where the photographer did not set it."""
    said = HashMark(reader.choice("hash", tuple(HashMark)))
    known = reader.truth("hash_known") if reader.has("hash_known") else True
    return said if known else None


def _spot(reader: _Reader) -> str:
    """Where one went; where one stood if that was not said."""
    for key in ("went", "standing"):
        if reader.has(key):
            place = reader.object(key)
            return standing_text(
                x_yd=place.number("x_yd", low=-20, high=140),
                y_yd=place.number("y_yd", low=-20, high=75),
            )
    return ""


class _Reader:
    """Values of one object, each checked, with errors that say where."""

    def __init__(self, values: Any, where: str) -> None:
        if not isinstance(values, Mapping):
            raise InvalidInputError(f"{where} must be an object with named values")
        self.values, self.where = values, where

    def wrong(self, key: str, message: str) -> InvalidInputError:
        """Return an error about one key."""
        return InvalidInputError(f"{self.where}: {key}: {message}")

    def has(self, key: str) -> bool:
        """Whether a key is there and not null."""
        return self.values.get(key) is not None

    def _of(self, key: str, kind: type, expected: str) -> Any:
        value = self.values.get(key)
        if not isinstance(value, kind) or (isinstance(value, bool) and kind is not bool):
            raise self.wrong(key, f"expected {expected}; got {repr(value)[:60]}")
        return value

    def text(self, key: str) -> str:
        """Return a text that is not empty."""
        value: str = self._of(key, str, "text")
        if not value or len(value) > 200:
            raise self.wrong(key, "expected 1 to 200 characters")
        return value

    def truth(self, key: str) -> bool:
        """Return true or false."""
        value: bool = self._of(key, bool, "true or false")
        return value

    def choice(self, key: str, known: tuple[str, ...]) -> str:
        """Return one of a closed set."""
        value = self.text(key)
        if value not in known:
            raise self.wrong(key, f"expected one of {', '.join(known)}; got {value!r}")
        return value

    def integer(self, key: str, *, low: int, high: int) -> int:
        """Return a whole number within bounds (both included)."""
        value: int = self._of(key, int, f"a whole number from {low} to {high}")
        if not low <= value <= high:
            raise self.wrong(key, f"expected {low} to {high}; got {value}")
        return value

    def number(self, key: str, *, low: float, high: float) -> float:
        """Return a number within bounds (both included)."""
        value = self.values.get(key)
        if (
            isinstance(value, bool)
            or not isinstance(value, int | float)
            or not low <= value <= high
        ):
            raise self.wrong(key, f"expected a number from {low:g} to {high:g}; got {value!r}")
        return float(value)

    def object(self, key: str) -> _Reader:
        """Return an object inside this one."""
        return _Reader(self.values.get(key), f"{self.where}, {key}")

    def items(self, key: str) -> list[Any]:
        """Return a list."""
        found: list[Any] = self._of(key, list, "a list")
        return found


def plays_to_add(log: GameLog, export: CardExport) -> tuple[LoggedPlay, ...]:
    """Return the plays of a card that a log does not have yet, numbered after its last.

    Which team has the ball follows from the direction of attack and the quarter; a play without a
    quarter has that of the play before.
    """
    known = {play.source for play in log.plays}
    number = max((play.number for play in log.plays), default=0)
    quarter = log.plays[-1].quarter if log.plays else 1
    found = []
    for play in export.plays:
        quarter = quarter if play.quarter is None else play.quarter
        source = export.source(play)
        if source in known:
            continue
        number += 1
        found.append(
            LoggedPlay(
                number=number,
                logged_at=play.at,
                quarter=quarter,
                offense=offense_going(log.game, direction=play.direction, quarter=quarter),
                yardline_100=play.yardline_100,
                direction=play.direction,
                down=play.down,
                distance_yd=play.distance_yd,
                hash_mark=play.hash_mark,
                changed_hands=play.changed_hands,
                spot=play.spot,
                source=source,
            )
        )
    return tuple(found)


def home_direction(game: Game, *, quarter: int) -> int:
    """Return where the home team attacks in a quarter; teams change ends after odd quarters."""
    return -game.home_direction if quarter in (2, 4) else game.home_direction


def offense_going(game: Game, *, direction: int, quarter: int) -> Team:
    """Return the team that attacks in a direction in a quarter."""
    same = direction == home_direction(game, quarter=quarter)
    return Team.HOME if same else Team.AWAY
