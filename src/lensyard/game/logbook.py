"""Keeping a game log: start, add, edit, undo, tick, end, import and restore.

Every method that changes something is done when it returns: the change is in the game's file, and
in its copy.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from contextlib import suppress
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from lensyard.config import user_data_dir
from lensyard.errors import InvalidInputError, StoreError, UnknownNameError
from lensyard.game.document import CardExport, GameLog, plays_to_add
from lensyard.game.entry import Capture, Game, LoggedPlay, current_game
from lensyard.game.store import (
    COPIES_NAME,
    GAMES_NAME,
    OLD_NAME,
    WAIT_S,
    LogStore,
)
from lensyard.game.stored import Change, Edit


def open_log(
    folder: Path | None = None, *, wait_s: float = WAIT_S, writing: bool = True
) -> Logbook:
    """Open the log of a folder, or the user's own; use it in a ``with`` statement, briefly.

    Only to be read (``writing`` is False) it waits for nobody, and the folder need not be writable.

    Raises `StoreError` if another process changes it for longer than ``wait_s``, or the folder
    cannot be written. [s]
    """
    place = user_data_dir(create=writing) if folder is None else folder
    return Logbook(place, now=lambda: datetime.now(UTC), wait_s=wait_s, writing=writing)


def log_stamp(folder: Path | None = None) -> str | None:
    """Return what changes whenever the log of a folder does; None where there is no log."""
    place = user_data_dir() if folder is None else folder
    paths = [place / OLD_NAME]
    paths += [path for name in (GAMES_NAME, COPIES_NAME) for path in (place / name).glob("*.json")]
    stamps = []
    for path in sorted(paths):
        with suppress(FileNotFoundError):
            found = path.stat()
            stamps.append(f"{path.name} {found.st_mtime_ns} {found.st_size}")
    return ", ".join(stamps) or None


class Logbook:
    """The games of a data folder, open for one command. A context manager.

    ``now`` is the clock (UTC), ``wait_s`` how long to wait while another process changes the log.
    [s]
    """

    def __init__(
        self,
        folder: Path,
        *,
        now: Callable[[], datetime],
        wait_s: float = WAIT_S,
        writing: bool = True,
    ) -> None:
        self.folder = folder
        self.now = now
        self._store = LogStore.open(folder, wait_s=wait_s, writing=writing)

    def __enter__(self) -> Logbook:
        return self

    def __exit__(self, *_: object) -> None:
        self._store.close()

    @property
    def warnings(self) -> tuple[str, ...]:
        """What went wrong without stopping the log, as sentences."""
        return self._store.warnings

    def games(self) -> tuple[Game, ...]:
        """Return all games that can be read, in the order in which they were started."""
        return self._store.games()

    def logs(self) -> tuple[GameLog, ...]:
        """Return all games that can be read with their plays, in the order of starting."""
        return tuple(self._store.log(game.game_id) for game in self.games())

    def log(self, game_id: str | None = None) -> GameLog:
        """Return a game's log; which one, see `current_game`.

        Raises `StoreError` if the game cannot be read, or none is named and some game cannot be;
        else what `current_game` raises.
        """
        unreadable = self._store.unreadable
        if game_id in unreadable:
            raise StoreError(
                f"{unreadable[game_id]} Bring the game back from an export: `lensyard log restore "
                "FILE --as ID`"
            )
        if game_id is None and unreadable:
            raise StoreError(
                f"{' '.join(unreadable.values())} Move them away, or name another game with --game"
            )
        return self._store.log(current_game(self.games(), game_id=game_id or "").game_id)

    def heal(self) -> tuple[str, ...]:
        """Write games anew whose file or copy is not what it should be; return their ids.

        Nothing is lost by it: what was there is kept under another name where it differs.
        """
        return self._store.heal(at=self.now())

    def start(self, game: Game) -> None:
        """Start a game.

        Raises `InvalidInputError` if there is one of that id already.
        """
        self._require_new(game.game_id)
        self._apply(Change("start", game.game_id, (Edit(None, game),)), remember=False)

    def restore(self, log: GameLog) -> None:
        """Put a whole log in, as a new game.

        Raises `InvalidInputError` if there is a game of that id already; it is never overwritten.
        """
        self._require_new(log.game.game_id)
        edits = (Edit(None, log.game), *(Edit(None, play) for play in log.plays))
        change = Change("restore", log.game.game_id, edits, captures=log.captures)
        self._apply(change, remember=False)

    def _require_new(self, game_id: str) -> None:
        if game_id in self._store.ids():
            raise InvalidInputError(
                f"there is a game {game_id!r} already, and nothing is overwritten; give another "
                "id (`log start --id`, `log restore --as`)"
            )

    def add(self, game_id: str, build: Callable[[GameLog], LoggedPlay]) -> LoggedPlay:
        """Add a play; ``build`` makes it from the log so far."""
        log = self.log(game_id)
        play = build(log)
        self._apply(Change("add", game_id, (Edit(None, play),)))
        return play

    def edit(self, game_id: str, number: int, values: Mapping[str, Any]) -> LoggedPlay:
        """Change some fields of a play.

        Raises `UnknownNameError` if there is no such play; `InvalidInputError` if nothing is to
        change, or the play would be none.
        """
        before = self.play(game_id, number)
        after = replace(before, **values)
        if after == before:
            raise InvalidInputError(f"play {number} is so already; say what to change")
        self._apply(Change("edit", game_id, (Edit(before, after),)))
        return after

    def play(self, game_id: str, number: int) -> LoggedPlay:
        """Return one play. Raises `UnknownNameError` if there is none of that number."""
        plays = {play.number: play for play in self.log(game_id).plays}
        if number not in plays:
            known = [str(n) for n in plays][-20:] or ["(no play has been logged)"]
            raise UnknownNameError(name="play", value=str(number), known=known)
        return plays[number]

    def undo(self, game_id: str) -> Change:
        """Take back the last change of a game and return it.

        Raises `InvalidInputError` if nothing is left to take back.
        """
        change = self._store.undo(game_id, at=self.now())
        if change is None:
            raise InvalidInputError(f"there is nothing left to undo in game {game_id}")
        return change

    def tick(self, game_id: str, keys: Iterable[str], *, off: bool = False) -> None:
        """Tick frames of the shot list outside of plays, or take ticks away wherever they are."""
        log, wanted = self.log(game_id), tuple(dict.fromkeys(keys))
        edits: list[Edit] = []
        if off:
            kept = tuple(key for key in log.game.ticks if key not in wanted)
            for play in log.plays:
                left = tuple(key for key in play.ticks if key not in wanted)
                if left != play.ticks:
                    edits.append(Edit(play, replace(play, ticks=left)))
        else:
            kept = tuple(dict.fromkeys([*log.game.ticks, *wanted]))
        if kept != log.game.ticks:
            edits.append(Edit(log.game, replace(log.game, ticks=kept)))
        if edits:
            self._apply(Change("tick", game_id, tuple(edits)))

    def end(self, game_id: str) -> None:
        """End a game; plays may still be edited."""
        log = self.log(game_id)
        if log.game.ended_at is not None:
            raise InvalidInputError(f"game {game_id} was ended already; `lensyard review` it")
        ended = replace(log.game, ended_at=self.now())
        self._apply(Change("end", game_id, (Edit(log.game, ended),)))

    def add_card(self, game_id: str, export: CardExport) -> tuple[LoggedPlay, ...]:
        """Add what a card has and the log has not; return the plays that were added."""
        log = self.log(game_id)
        plays = plays_to_add(log, export)
        edits = [Edit(None, play) for play in plays]
        new = [key for key in export.ticks if key not in log.ticked]
        if new:
            ticked = replace(log.game, ticks=(*log.game.ticks, *new))
            edits.append(Edit(log.game, ticked))
        if edits:
            self._apply(Change("import", game_id, tuple(edits)))
        return plays

    def set_merged(self, before: GameLog | None, log: GameLog) -> None:
        """Put a merged game in, as a new one or in place of ``before``; nothing where it is so.

        Raises `InvalidInputError` if there is a game of that id that ``before`` is not.
        """
        game_id = log.game.game_id
        if before is None:
            self.restore(log)
            return
        if self.log(game_id) != before:
            raise InvalidInputError("the log was changed meanwhile; call this again")
        if log == before:
            return
        known = {play.number: play for play in before.plays}
        edits = [Edit(known.get(p.number), p) for p in log.plays if known.get(p.number) != p]
        if log.game != before.game or not edits:
            edits.append(Edit(before.game, log.game))
        self._apply(Change("merge", game_id, tuple(edits), captures=log.captures))

    def set_captures(
        self, log: GameLog, plays: Iterable[LoggedPlay], captures: tuple[Capture, ...]
    ) -> None:
        """Replace a game's captures, and the plays whose counts they change.

        Raises `InvalidInputError` if the plays are no longer those of ``log``, from which the
        captures were matched.
        """
        game_id = log.game.game_id
        now = self.log(game_id)
        if now.plays != log.plays:
            raise InvalidInputError(
                "the log was changed while the photographs were read; call this again"
            )
        before = {play.number: play for play in now.plays}
        edits = tuple(Edit(before[p.number], p) for p in plays if before[p.number] != p)
        if not edits:  # so that undo has something to take back
            edits = (Edit(now.game, now.game),)
        self._apply(Change("capture", game_id, edits, captures=captures))

    def _apply(self, change: Change, *, remember: bool = True) -> None:
        self._store.apply(change, at=self.now(), remember=remember)
