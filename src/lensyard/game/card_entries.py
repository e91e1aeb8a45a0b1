"""Reading what the offline card saved: strictly, and the same file twice adds nothing."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Annotated, Final

from lensyard.domain.field import HashMark
from lensyard.domain.places import standing_text
from lensyard.domain.situation import parse_ball
from lensyard.errors import InvalidInputError, SchemaError
from lensyard.game.document import GameLog, entries_in, read_document
from lensyard.game.entry import LoggedPlay
from lensyard.game.fields import Rule, check_fields, entry_of, require_keys

FORMAT: Final = "lensyard-card-export"
VERSION: Final = 1
_KEY_DIGITS: Final = 16


class End(StrEnum):
    """An end of the stadium, as the direction of attack."""

    A = "A"
    B = "B"


@dataclass(frozen=True, slots=True)
class CardPlace:
    """A place beside the field, in the offense's coordinates. [yd]"""

    x_yd: Annotated[float, Rule(-20, 140)]
    y_yd: Annotated[float, Rule(-20, 75)]

    def __post_init__(self) -> None:
        """Refuse what lies far from any field."""
        check_fields(self)


@dataclass(frozen=True, slots=True)
class CardPlay:
    """One play, by the names that the card gives its fields; see `LoggedPlay`.

    ``hash`` counts only where ``hash_known`` (the card always shows one); ``went`` is where the
    photographer walked for this play, ``standing`` where they stood before.
    """

    at: datetime
    direction: End
    down: Annotated[int, Rule(1, 4)]
    distance_yd: Annotated[int, Rule(1, 20)]
    ball: str
    yardline_100: Annotated[int, Rule(1, 99)]
    hash: HashMark
    ball_changed_hands: bool
    quarter: Annotated[int | None, Rule(1, 5)] = None
    hash_known: bool | None = None
    went: CardPlace | None = None
    standing: CardPlace | None = None

    def __post_init__(self) -> None:
        """Refuse what cannot have happened."""
        check_fields(self)
        if parse_ball(self.ball) != self.yardline_100:
            raise InvalidInputError(
                f"ball says {parse_ball(self.ball)} yd to the goal line, yardline_100 "
                f"{self.yardline_100}"
            )
        if self.distance_yd > self.yardline_100:
            raise InvalidInputError(f"distance_yd {self.distance_yd} goes beyond the goal line")

    @property
    def spot(self) -> str:
        """Where the photographer was for this play; empty where that was not noted."""
        place = self.went or self.standing
        return "" if place is None else standing_text(x_yd=place.x_yd, y_yd=place.y_yd)


@dataclass(frozen=True, slots=True)
class _Card:
    key: str

    def __post_init__(self) -> None:
        check_fields(self)
        if not self.key:
            raise InvalidInputError("key must not be empty")


@dataclass(frozen=True, slots=True)
class _Tick:
    frame: str


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
    document = read_document(
        text,
        format_name=FORMAT,
        version=VERSION,
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
        direction = 1 if play.direction is End.B else -1
        found.append(
            LoggedPlay(
                number=number,
                logged_at=play.at,
                quarter=quarter,
                offense=log.game.team_going(direction, quarter=quarter),
                yardline_100=play.yardline_100,
                direction=direction,
                down=play.down,
                distance_yd=play.distance_yd,
                hash_mark=play.hash if play.hash_known is not False else None,
                changed_hands=play.ball_changed_hands,
                spot=play.spot,
                source=source,
            )
        )
    return tuple(found)
