"""The games of a data folder: one sealed file a game, and a copy of it in a second folder.

A file is replaced in one step, flushed, before the method that changes it returns; then its copy
is, and the copy before stays as ``ID.before.json``. Reading takes whichever is whole and has seen
more changes, and says so when that is not the file. What is damaged, of another game or holds more
is never replaced: it is set aside as ``ID.kept-1.json`` and so on.
"""

from __future__ import annotations

import os
import re
import secrets
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Final

from lensyard.errors import InvalidInputError, LensyardError, StoreError
from lensyard.files import Lock, flush_folder, sweep_unfinished, write_atomically
from lensyard.game.document import MOST_BYTES, GameLog
from lensyard.game.entry import Game
from lensyard.game.fields import plain_values
from lensyard.game.stored import (
    Change,
    Edit,
    StoredGame,
    changed,
    done_text,
    is_ahead,
    read_stored,
    replace_identity,
    taken_back,
)
from lensyard.records import Record
from lensyard.running import uninterrupted

GAMES_NAME: Final = "games"
COPIES_NAME: Final = "game-copies"
OLD_NAME: Final = "games.duckdb"
"""The log of earlier versions. It is not read: its games come from their copies."""
WAIT_S: Final = 10.0
"""How long one waits for another process by default. A command holds the log for about 0.05 s."""
_GAME_FILE: Final = re.compile(r"([a-z0-9][a-z0-9-]{0,63})\.json")


class _Read(Record):
    """What a file gave: a game, or why none; neither where there is no file."""

    path: Path
    stored: StoredGame | None = None
    issue: str = ""


class LogStore:
    """The log of a folder, open for one command. A context manager; close it soon.

    ``unreadable``: why a game cannot be read, by its id.
    """

    def __init__(self, folder: Path, lock: Lock | None) -> None:
        self.path = folder
        self._said: dict[str, str] = {}
        self._notes: list[str] = []
        self._healed: set[str] = set()
        self.unreadable: dict[str, str] = {}
        self._lock = lock
        self._closed = False
        self._found: dict[str, StoredGame] = {}

    @classmethod
    def open(cls, folder: Path, *, wait_s: float = WAIT_S, writing: bool = True) -> LogStore:
        """Open the log of a folder; to change it, one at a time. [s]

        Raises `StoreError` if somebody else changes it for longer than ``wait_s``, or the folder
        cannot be written though it has to be.
        """
        lock = None
        if writing:
            place = folder / GAMES_NAME
            try:
                place.mkdir(parents=True, exist_ok=True)
                lock = Lock.take(place / ".lock", wait_s=wait_s)
            except OSError as error:
                raise StoreError(
                    f"cannot write the game log in {folder} ({error.strerror or error}). Its games "
                    "can still be listed and exported; free the disk or the folder, or set "
                    "LENSYARD_DATA_DIR to another one"
                ) from error
            if lock is None:
                raise StoreError(
                    f"the game log in {folder} is in use by another lensyard, and was still so "
                    f"after {wait_s:g} s. Nothing was changed; try again, or close the other one"
                )
            sweep_unfinished(place)
        store = cls(folder, lock)
        try:
            store._look()
        except BaseException:
            store.close()
            raise
        return store

    def __enter__(self) -> LogStore:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Let others change the log; a second time does nothing."""
        self._closed = True
        if self._lock is not None:
            self._lock.release()
            self._lock = None

    def _look(self) -> None:
        """Read every game there is."""
        for game_id in self._names():
            self._find(game_id)
        if (self.path / OLD_NAME).exists():
            self._notes.append(
                f"{self.path / OLD_NAME} is the log of an earlier version, which is not read; its "
                f"games are read from their copies in {self.path / COPIES_NAME}. Move it away once "
                "they are all there."
            )

    def _names(self) -> list[str]:
        found: set[str] = set()
        for folder in (GAMES_NAME, COPIES_NAME):
            with suppress(OSError):
                names = (_GAME_FILE.fullmatch(path.name) for path in (self.path / folder).iterdir())
                found |= {name[1] for name in names if name is not None}
        return sorted(found)

    def _paths(self, game_id: str) -> tuple[Path, Path]:
        name = f"{game_id}.json"
        return self.path / GAMES_NAME / name, self.path / COPIES_NAME / name

    def _find(self, game_id: str) -> None:
        """Read a game from the better of file and copy; say where something is wrong."""
        for _ in range(3):
            file, copy = (_read(path, game_id) for path in self._paths(game_id))
            if self._lock is not None or not is_ahead(copy.stored, file.stored):
                break  # while somebody writes, the copy may have been read after the file was
        before = _read(self._aside(game_id, "before"), game_id)
        chosen, said = _better(file, copy, game_id)
        if before.stored is not None and (chosen is None or is_ahead(before.stored, chosen)):
            chosen = before.stored
            said += f" What you see is an earlier copy that holds more, {before.path}."
        if said:
            self._said[game_id] = said
        if chosen is None:
            self.unreadable[game_id] = said
            return
        for kept in sorted((self.path / COPIES_NAME).glob(f"{game_id}.kept-*.json")):
            self._notes.append(
                f"Another copy of game {game_id} is kept in {kept}; `lensyard log restore FILE "
                "--as ID` brings it in as a game of its own, or remove the file."
            )
        if not chosen.identity:  # an export of earlier versions
            chosen = replace(chosen, identity=secrets.token_hex(8))
        self._found[game_id] = chosen

    def _aside(self, game_id: str, what: str) -> Path:
        return self.path / COPIES_NAME / f"{game_id}.{what}.json"

    @property
    def warnings(self) -> tuple[str, ...]:
        """What does not stop the log, as sentences: a copy that holds more than its file."""
        advice = "`lensyard log restore` sets that right, and so does the next change of the game."
        found = [
            f"{said} {'That was set right just now.' if name in self._healed else advice}"
            for name, said in self._said.items()
            if name not in self.unreadable
        ]
        return (*found, *self.unreadable.values(), *self._notes)

    def ids(self) -> tuple[str, ...]:
        """Return the ids of all games, also of those that cannot be read."""
        return (*self._found, *self.unreadable)

    def games(self) -> tuple[Game, ...]:
        """Return all games that can be read, in the order in which they were started."""
        self._require_open()
        stored = sorted(self._found.values(), key=lambda s: (s.started, s.game.started_at))
        return tuple(one.game for one in stored)

    def log(self, game_id: str) -> GameLog:
        """Return a game with everything that belongs to it."""
        self._require_open()
        return self._found[game_id].log

    def _require_open(self) -> None:
        if self._closed:
            raise StoreError("the game log is closed; open it again")

    def apply(self, change: Change, *, at: datetime, remember: bool = True) -> None:
        """Make a change durable; when this returns it survives whatever happens to the process.

        ``remember`` says whether `undo` can take it back.

        Raises `StoreError` if the disk refuses; nothing is changed then.
        """
        stored = self._found.get(change.game_id)
        if stored is None:
            last = max((one.started for one in self._found.values()), default=0)
            log = changed(None, change.edits, change.captures)
            self._write(StoredGame.of(log, started=last + 1), at=at, done=done_text(change))
            return
        step = {
            "action": change.action,
            "before": [
                [edit.number, None if edit.before is None else plain_values(edit.before)]
                for edit in change.edits
            ],
        }
        history = (*stored.history, step) if remember else stored.history
        log = changed(stored.log, change.edits, change.captures)
        self._write(stored.holding(log, history=history), at=at, done=done_text(change))

    def undo(self, game_id: str, *, at: datetime) -> Change | None:
        """Take back the last change of a game and return it; None when nothing is left.

        Raises `StoreError` if the disk refuses; nothing is changed then.
        """
        stored = self._found[game_id]
        if not stored.history:
            return None
        *left, step = stored.history
        edits = tuple(taken_back(stored.log, number, v) for number, v in step["before"])
        captures = () if step["action"] in ("capture", "merge") else None
        log = changed(stored.log, tuple(reversed(edits)), captures)
        done = f"{step['action']} was taken back"
        self._write(stored.holding(log, history=tuple(left)), at=at, done=done)
        back = tuple(Edit(edit.after, edit.before) for edit in edits)
        return Change(str(step["action"]), game_id, back)

    def heal(self, *, at: datetime) -> tuple[str, ...]:
        """Write every game whose file or copy is not what it should be; return their ids."""
        healed = []
        for game_id, stored in self._found.items():
            reads = [_read(path, game_id).stored for path in self._paths(game_id)]
            if any(one is None or _mark(one) != _mark(stored) for one in reads):
                self._write(stored, at=at)
                healed.append(game_id)
        return tuple(healed)

    def _write(self, stored: StoredGame, *, at: datetime, done: str = "") -> None:
        self._require_open()
        if self._lock is None:
            raise StoreError("the game log was opened to be read; open it to change it")
        game_id, text = stored.log.game.game_id, stored.text(at=at)
        read_stored(text, where=game_id)  # what is written can be read
        file, copy = self._paths(game_id)
        with uninterrupted(done):
            found = _read(file, game_id)
            if found.issue or is_ahead(found.stored, stored):
                _set_aside(file, "kept")
            try:
                write_atomically(file, text)
            except StoreError as error:
                raise StoreError(f"{error}. Nothing was changed in the game log") from error
            self._found[game_id] = stored
            self._healed.add(game_id)
            self._renew_copy(copy, stored, text)

    def _renew_copy(self, path: Path, stored: StoredGame, text: str) -> None:
        """Write the copy; the one before stays as ``.before``, and what holds more as ``.kept``."""
        try:
            found = _read(path, stored.game.game_id)
            if found.issue or is_ahead(found.stored, stored):
                self._notes.append(f"What lay in {path} is kept: {_set_aside(path, 'kept')}.")
            elif found.stored is not None:
                earlier = self._aside(stored.game.game_id, "before")
                earlier.unlink(missing_ok=True)
                with suppress(OSError):  # a file system without links keeps no earlier copy
                    os.link(path, earlier)
            write_atomically(path, text)
        except (StoreError, OSError) as error:
            self._notes.append(f"The play is in the log, but its copy is not: {error}.")


def _read(path: Path, game_id: str) -> _Read:
    try:
        raw = path.read_bytes()
    except FileNotFoundError:
        return _Read(path)
    except OSError as error:
        return _Read(path, issue=f"{path} cannot be read ({error.strerror or error})")
    try:
        if len(raw) > 2 * MOST_BYTES:
            raise InvalidInputError(f"{path} is too large to be a game")
        stored = read_stored(raw.decode(), where=str(path))
        if stored.game.game_id != game_id:
            raise InvalidInputError(f"{path} holds the game {stored.game.game_id}")
    except UnicodeDecodeError:
        return _Read(path, issue=f"{path} is not as it was written: it is no text")
    except LensyardError as error:
        return _Read(path, issue=str(error))
    return _Read(path, stored)


def _mark(stored: StoredGame) -> tuple[str, int, GameLog]:
    return stored.identity, stored.changes, stored.log


def _better(file: _Read, copy: _Read, game_id: str) -> tuple[StoredGame | None, str]:
    """Return the game of file or copy that has seen more, and what to say of the other."""
    if file.stored is None and copy.stored is None:
        issues = "; ".join(issue for issue in (file.issue, copy.issue) if issue)
        return None, f"Game {game_id} cannot be read: {issues}. Both were left as they are."
    if file.stored is None:
        issue = file.issue or f"{file.path} is missing"
        return copy.stored, (
            f"The file of game {game_id} cannot be used: {issue}. What you see is its copy, "
            f"{copy.path}."
        )
    if copy.issue:
        return file.stored, (
            f"The copy of game {game_id} cannot be used: {copy.issue}. Its file is whole."
        )
    if not is_ahead(copy.stored, file.stored) or copy.stored is None:
        return file.stored, ""
    theirs, ours = copy.stored, file.stored
    legacy = not theirs.identity and len(theirs.log.plays) > len(ours.log.plays)
    if legacy or (theirs.identity == ours.identity and theirs.changes > ours.changes):
        plays = len(theirs.log.plays) - len(ours.log.plays)
        return replace_identity(theirs, ours), (
            f"The copy of game {game_id} holds more than its file: {plays:+d} plays, "
            f"{theirs.changes - ours.changes} changes. What you see is the copy, {copy.path}."
        )
    return ours, (
        f"{copy.path} holds another state of game {game_id} ({len(theirs.log.plays)} plays, the "
        f"log {len(ours.log.plays)}); it will be kept, and can be brought in as a game of its "
        "own with `lensyard log restore FILE --as ID`."
    )


def _set_aside(path: Path, what: str) -> Path:
    """Give a file a free name beside it, so that nothing takes its place."""
    for kept in _free_names(path, what):
        if not kept.exists():
            os.replace(path, kept)
            flush_folder(path.parent)
            return kept
    raise StoreError(f"{path.parent} is full of kept files; move some away")


def _free_names(path: Path, what: str) -> Iterator[Path]:
    return (path.with_name(f"{path.stem}.{what}-{number}.json") for number in range(1, 10_000))
