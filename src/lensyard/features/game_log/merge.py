"""Merging the logs and cards of a crew into one game, and who had which of its plays."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import field
from pathlib import Path
from typing import Final

from lensyard.errors import InvalidInputError
from lensyard.game.crew_log import Conflict, CrewMerge, merge_logs, shares_of
from lensyard.game.document import (
    CARD_FORMAT,
    GameLog,
    plays_to_add,
    read_card_export,
    read_log,
    read_text,
)
from lensyard.game.entry import Game, LoggedPlay
from lensyard.game.logbook import Logbook
from lensyard.records import Record

MOST_LOGS: Final = 6
"""As many as a crew of a game may have, and as a play has room to name."""


class CrewMember(Record):
    """One photographer of a merged game: plays logged, had, and had by nobody else; counts."""

    who: str
    plays: int
    had: int
    alone: int
    frames: int
    keepers: int


class CrewTake(Record):
    """Who had which plays of a merged game, by play number.

    ``nobody``: plays that none of them has; ``several``: plays of two or more, with their names.
    """

    members: tuple[CrewMember, ...]
    plays: int
    nobody: tuple[int, ...]
    several: tuple[tuple[int, tuple[str, ...]], ...]


class MergeAnswer(Record):
    """What merging gave; ``written`` says whether the log has it."""

    game: Game
    merged: CrewMerge = field(metadata={"json": None})
    names: tuple[str, ...]
    plays: int
    added: int
    conflicts: tuple[Conflict, ...]
    take: CrewTake
    written: bool
    warnings: tuple[str, ...] = field(default=(), metadata={"json": "cautions"})
    model: None = None


def merge_files(
    book: Logbook, files: Sequence[str], *, game_id: str | None, dry_run: bool = False
) -> MergeAnswer:
    """Merge files, ``NAME=FILE`` or ``FILE``, into a game of the log; nothing is half written.

    Raises `InvalidInputError` if a file is no log and no card, two have one name, there are too
    many, or they are of different games.
    """
    if len(files) > MOST_LOGS:
        raise InvalidInputError(f"at most {MOST_LOGS} logs are merged; got {len(files)}")
    there = {game.game_id: game for game in book.games()}
    base = there.get(game_id) if game_id else None
    logs: dict[str, GameLog] = {}
    for text in files:
        head, equals, rest = text.partition("=")
        path = Path(rest if equals else text)
        who = head if equals else path.stem.lower()
        if who in logs:
            raise InvalidInputError(f"two logs are of {who}; give each a name, NAME=FILE")
        known = base or next((log.game for log in logs.values()), None)
        logs[who] = _read(path, known)
    name = game_id or next(iter(logs.values())).game.game_id
    before = book.log(name) if name in there else None
    merged = merge_logs(before, logs, game_id=name)
    if not dry_run:
        book.set_merged(before, merged.log)
    return MergeAnswer(
        game=merged.log.game,
        merged=merged,
        names=merged.names,
        plays=len(merged.log.plays),
        added=merged.added,
        conflicts=merged.conflicts,
        take=crew_take(merged.log.plays),
        written=not dry_run,
        warnings=tuple(book.warnings),
    )


def _read(path: Path, known: Game | None) -> GameLog:
    text = read_text(path)
    if f'"{CARD_FORMAT}"' not in text[:2000]:
        return read_log(text, where=path.name)
    export = read_card_export(text, where=path.name)
    if known is None:
        raise InvalidInputError(
            f"{path.name} is a card, which does not say the teams; name a log before it, or a game "
            "of yours with --as"
        )
    empty = GameLog(known, ())
    return GameLog(known, plays_to_add(empty, export))


def crew_take(plays: Sequence[LoggedPlay]) -> CrewTake:
    """Return who had which of a merged game's plays; empty where it is no merged one."""
    shares = {play.number: shares_of(play) for play in plays}
    names = dict.fromkeys(share.who for some in shares.values() for share in some)
    had = {
        number: tuple(share.who for share in some if share.had) for number, some in shares.items()
    }
    members = []
    for who in names:
        own = [share for some in shares.values() for share in some if share.who == who]
        members.append(
            CrewMember(
                who=who,
                plays=len(own),
                had=sum(who in some for some in had.values()),
                alone=sum(some == (who,) for some in had.values()),
                frames=sum(share.frames or 0 for share in own),
                keepers=sum(share.keepers or 0 for share in own),
            )
        )
    return CrewTake(
        members=tuple(members),
        plays=len(shares) if names else 0,
        nobody=tuple(number for number, some in had.items() if not some) if names else (),
        several=tuple((number, some) for number, some in had.items() if len(some) > 1),
    )
