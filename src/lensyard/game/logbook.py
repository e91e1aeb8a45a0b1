"""Keeping a game log: start, add, edit, undo, tick, end, import and restore.

Every method that changes something is done when it returns: the change is in the log's file, and a
copy of the game lies beside it as JSON, which `restore` reads whatever becomes of the file.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from lensyard.config import user_data_dir
from lensyard.errors import InvalidInputError, StoreError, UnknownNameError
from lensyard.files import write_atomically
from lensyard.game.document import CardExport, GameLog, log_text, plays_to_add
from lensyard.game.entry import Capture, Game, LoggedPlay, current_game
from lensyard.game.store import WAIT_S, Change, Edit, LogStore
from lensyard.game.store_open import COPIES_NAME


def open_log(folder: Path | None = None, *, wait_s: float = WAIT_S) -> Logbook:
    """Open the log of a folder, or the user's own; use it in a ``with`` statement, briefly.

    Raises `StoreError` if another process has it open for longer than ``wait_s``, or it is damaged.
    [s]
    """
    place = user_data_dir(create=True) if folder is None else folder
    return Logbook(place, now=lambda: datetime.now(UTC), wait_s=wait_s)


class Logbook:
    """The games of a data folder, open for one command. A context manager.

    ``now`` is the clock (UTC), ``wait_s`` how long to wait while another process has the log. [s]
    """

    def __init__(
        self, folder: Path, *, now: Callable[[], datetime], wait_s: float = WAIT_S
    ) -> None:
        self.folder = folder
        self.warnings: list[str] = []
        self.now = now
        self._read: dict[str, GameLog] = {}
        self._store = LogStore.open(folder, wait_s=wait_s)
        if self._store.backup is not None:
            self.warnings.append(
                "The game log was brought to a new version; what it was is kept in "
                f"{self._store.backup}."
            )

    def __enter__(self) -> Logbook:
        return self

    def __exit__(self, *_: object) -> None:
        self._store.close()

    def games(self) -> tuple[Game, ...]:
        """Return all games, the oldest first."""
        return self._store.games()

    def logs(self) -> tuple[GameLog, ...]:
        """Return all games with their plays, the oldest first."""
        return tuple(self.log(game.game_id) for game in self.games())

    def log(self, game_id: str | None = None) -> GameLog:
        """Return a game's log; which one, and what it raises, see `current_game`."""
        if game_id is not None and game_id in self._read:
            return self._read[game_id]
        game = current_game(self.games(), game_id=game_id or "")
        if game.game_id not in self._read:  # nobody else can change it while it is open here
            plays, captures = self._store.plays(game.game_id), self._store.captures(game.game_id)
            self._read[game.game_id] = GameLog(game, plays, captures)
        return self._read[game.game_id]

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
        if any(game.game_id == game_id for game in self.games()):
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
        change = self._store.undo(game_id)
        if change is None:
            raise InvalidInputError(f"there is nothing left to undo in game {game_id}")
        self._keep_copy(game_id)
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
        self._keep_copy(change.game_id)

    def _keep_copy(self, game_id: str) -> None:
        """Renew the game's JSON copy while the log is still held; a full disk is only a warning."""
        self._read.pop(game_id, None)
        text = log_text(self.log(game_id), exported_at=self.now())
        try:
            write_atomically(self.folder / COPIES_NAME / f"{game_id}.json", text)
        except StoreError as error:
            self.warnings.append(f"The play is in the log, but its copy is not: {error}.")
