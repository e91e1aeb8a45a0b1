"""A game as a file of the log holds it, and what a change does to it.

The text is the game's export with three keys more: which game it is and how many changes it has
seen (``log``), what can be taken back (``history``), and the SHA-256 of everything before it.
"""

from __future__ import annotations

import secrets
from dataclasses import replace
from datetime import datetime
from functools import cached_property
from typing import Any

from lensyard.errors import InvalidInputError, SchemaError, StoreError
from lensyard.game.document import (
    FORMAT,
    GameLog,
    is_sealed,
    log_of,
    log_text,
    read_document,
    seal,
)
from lensyard.game.entry import LOG_SCHEMA_VERSION, Capture, Game, LoggedPlay
from lensyard.game.fields import entry_of, plain_values
from lensyard.records import Record


class Edit(Record):
    """One entry before and after; None where it is not there."""

    before: Game | LoggedPlay | None
    after: Game | LoggedPlay | None

    @property
    def number(self) -> int | None:
        """The number of the play; None where it is the game."""
        entry = self.after or self.before
        return entry.number if isinstance(entry, LoggedPlay) else None


class Change(Record):
    """What one command changes in a game, all of it or nothing.

    ``captures`` are the game's captures from now on; None leaves them.
    """

    action: str
    game_id: str
    edits: tuple[Edit, ...]
    captures: tuple[Capture, ...] | None = None


class StoredGame(Record):
    """A game as its file holds it.

    ``identity`` is drawn when a game is first stored; ``changes`` counts what was done to it since,
    undoing included; ``started`` orders the games of a folder by when they were started, whatever
    the clock said. ``history`` holds what can be taken back: action and entries before.
    """

    document: dict[str, Any]
    where: str
    identity: str = ""
    changes: int = 0
    started: int = 0
    history: tuple[dict[str, Any], ...] = ()

    @classmethod
    def of(cls, log: GameLog, *, started: int) -> StoredGame:
        """Return a game that was not stored before."""
        return cls({}, "", secrets.token_hex(8), 0, started).holding(log)

    @cached_property
    def log(self) -> GameLog:
        """The game with everything that belongs to it."""
        return log_of(self.document, where=self.where)

    @cached_property
    def game(self) -> Game:
        """The game alone, which is read sooner."""
        version = self.document["version"]
        return entry_of(Game, self.document.get("game"), where=self.where, schema_version=version)

    def is_the_text_of(self, other: StoredGame) -> bool:
        """Return whether both were read from the same sealed text."""
        ours = self.document.get("sha256")
        return ours is not None and ours == other.document.get("sha256")

    def holding(self, log: GameLog, *, history: tuple[dict[str, Any], ...] = ()) -> StoredGame:
        """Return the same game one change later."""
        later = replace(self, changes=self.changes + 1, history=history)
        later.__dict__["log"], later.__dict__["game"] = log, log.game
        return later

    def text(self, *, at: datetime) -> str:
        """Return what its file holds."""
        known = {"identity": self.identity, "changes": self.changes, "started": self.started}
        more = {"log": known, "history": list(self.history)}
        return seal(log_text(self.log, exported_at=at, more=more))


def is_ahead(one: StoredGame | None, other: StoredGame | None) -> bool:
    """Return whether a game holds what another, that would take its place, has not seen."""
    if one is None or other is None or one.is_the_text_of(other):
        return False
    if one.identity == other.identity and one.changes != other.changes:
        return one.changes > other.changes
    return one.log != other.log


def replace_identity(theirs: StoredGame, ours: StoredGame) -> StoredGame:
    """Return a copy's game as the one of the file; a copy of earlier versions has no identity."""
    if theirs.identity:
        return theirs
    return replace(theirs, identity=ours.identity, changes=ours.changes + 1, started=ours.started)


def done_text(change: Change) -> str:
    """Return what a change did, for whoever was interrupted."""
    numbers = [edit.number for edit in change.edits if edit.number is not None]
    if change.action == "add" and numbers:
        return f"play {numbers[0]} is logged in game {change.game_id}"
    return f"the change ({change.action}) is in the log of game {change.game_id}"


def read_stored(text: str, *, where: str) -> StoredGame:
    """Return the game of a file's text. Raises `InvalidInputError` if it is not as it was written.

    An export of earlier versions, which has no seal, is a game that has seen no change.
    """
    document = read_document(
        text, format_name=FORMAT, version=LOG_SCHEMA_VERSION, where=where, otherwise=""
    )
    known = document.get("log", {})
    if known and not is_sealed(text):
        raise InvalidInputError(f"{where} is not as it was written: its checksum does not fit")
    try:
        history = document.get("history", [])
        if document["version"] < LOG_SCHEMA_VERSION:
            history = [_renewed(step, document["version"]) for step in history]
        stored = StoredGame(document, where, **known, history=tuple(history))
        _ = stored.game if known else stored.log  # what is sealed is what was checked once
    except (SchemaError, TypeError, KeyError) as error:
        raise InvalidInputError(f"{where} is not as it was written: {error}") from error
    return stored


def _renewed(step: dict[str, Any], version: int) -> dict[str, Any]:
    """Return a step of an earlier version's history as the present one writes it."""
    before = [[n, _renewed_entry(n, values, version)] for n, values in step["before"]]
    return {**step, "before": before}


def _renewed_entry(number: int | None, values: Any, version: int) -> dict[str, Any] | None:
    if values is None:
        return None
    kind: type[Game] | type[LoggedPlay] = Game if number is None else LoggedPlay
    return plain_values(entry_of(kind, values, where="the log's history", schema_version=version))


def changed(
    log: GameLog | None, edits: tuple[Edit, ...], captures: tuple[Capture, ...] | None
) -> GameLog:
    """Return a game after some edits."""
    game = None if log is None else log.game
    plays = {} if log is None else {play.number: play for play in log.plays}
    for edit in edits:
        if edit.number is None:
            game = edit.after if isinstance(edit.after, Game) else None
        elif isinstance(edit.after, LoggedPlay):
            plays[edit.number] = edit.after
        else:
            plays.pop(edit.number, None)
    if game is None:
        raise StoreError("there is no such game in the log")
    had = () if log is None else log.captures
    now = had if captures is None else captures
    ordered = sorted(now, key=lambda capture: (capture.corrected_at, capture.file))
    return GameLog(game, tuple(plays[number] for number in sorted(plays)), tuple(ordered))


def taken_back(log: GameLog, number: int | None, values: Any) -> Edit:
    """Return the edit that puts an entry back to what it was."""
    kind: type[Game] | type[LoggedPlay] = Game if number is None else LoggedPlay
    before = None
    if values is not None:
        before = entry_of(
            kind, values, where="the log's history", schema_version=LOG_SCHEMA_VERSION
        )
    if number is None:
        return Edit(log.game, before)
    now = next((play for play in log.plays if play.number == number), None)
    return Edit(now, before)
