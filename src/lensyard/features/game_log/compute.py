"""The use cases of the game log, each one thing with an open log, durably; and the bundled demo.

The demo's teams, stadium, plays and photographs are made up; `tests/support/demo_game.py` builds
them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import field, replace
from pathlib import Path
from typing import Final

from lensyard.config import data_dir
from lensyard.domain.assignment import FRAMES, MustHave, known_keys, missing
from lensyard.domain.shot_list import BreakReport, missing_at_break
from lensyard.errors import DataError, InvalidInputError
from lensyard.features.game_log.entries import (
    NewGameOptions,
    PlayEntry,
    edit_values,
    game_of,
    play_of,
)
from lensyard.files import write_atomically
from lensyard.game.course import NextSnap, state_after
from lensyard.game.document import GameLog, read_card_export, read_log, read_text
from lensyard.game.entry import Game, LoggedPlay, assignment_of
from lensyard.game.logbook import Logbook, log_stamp, open_log
from lensyard.options.groups import AssignmentOptions, LensOptions, VenueOptions
from lensyard.records import Record


class Reminder(Record):
    """What is missing at a break, as keys: to get now, as a last chance, later, in play."""

    slot: str = field(metadata={"json": "break"})
    now: tuple[str, ...]
    last_chance: tuple[str, ...]
    later: tuple[str, ...]
    action: tuple[str, ...]
    report: BreakReport = field(metadata={"json": None})

    @classmethod
    def of(cls, report: BreakReport) -> Reminder:
        """Return the keys of a report."""
        return cls(
            slot=report.slot.name,
            now=_keys(report.now),
            last_chance=_keys(report.last_chance),
            later=_keys([placed.frame for placed in report.later]),
            action=_keys(report.action),
            report=report,
        )


def _keys(frames: Sequence[MustHave]) -> tuple[str, ...]:
    return tuple(frame.key for frame in frames)


class LogAnswer(Record):
    """What a use case of the log answers.

    - ``action``, ``text``: its name, such as ``add``, and one line on what was done.
    - ``play``: the play it was about; None where it was about none.
    - ``ticked``, ``missing``: keys of frames: those had, and the must-haves of the assignment that
      are not.
    - ``next``: the play that follows; None where nobody said what the last one became.
    - ``reminder``: at a break; else None.
    """

    action: str
    text: str
    game: Game
    play: LoggedPlay | None
    plays: tuple[LoggedPlay, ...]
    captures: int
    ticked: tuple[str, ...]
    missing: tuple[str, ...]
    next: NextSnap | None
    reminder: Reminder | None
    warnings: tuple[str, ...] = field(metadata={"json": "cautions"})
    shot_list: tuple[MustHave, ...] = field(metadata={"json": None})
    log: GameLog = field(metadata={"json": None})
    model: None = None


def start_game(
    book: Logbook,
    new: NewGameOptions,
    *,
    venue: VenueOptions | None = None,
    assignment: AssignmentOptions | None = None,
    lenses: LensOptions | None = None,
) -> LogAnswer:
    """Start a game.

    Raises `InvalidInputError` if venue, assignment or kit cannot be used, the id is taken, or
    another game is going on and ``new`` does not say that this one starts beside it.
    """
    going_on = _going_on(book)
    if going_on and not new.beside:
        raise InvalidInputError(
            f"{going_on[-1].title} is going on, as {going_on[-1].game_id}; end it with `lensyard "
            "log end`, or start another one beside it with --new"
        )
    game = game_of(
        new,
        venue=venue or VenueOptions(),
        assignment=assignment or AssignmentOptions(),
        lenses=lenses,
        now=book.now(),
    )
    book.start(game)
    text = f"started {game.game_id}: {game.title}"
    return _answer("start", book, game.game_id, text=text, at_break=0)


def _going_on(book: Logbook) -> list[Game]:
    return [game for game in book.games() if game.ended_at is None]


def _written_to(book: Logbook, game_id: str | None) -> GameLog:
    """Return the log that a change goes to.

    Raises `InvalidInputError` if nobody said which of several games that are going on; the clock,
    which may have been set back, does not decide.
    """
    going_on = _going_on(book)
    if game_id is None and len(going_on) > 1:
        names = ", ".join(game.game_id for game in going_on)
        raise InvalidInputError(f"more than one game is going on; say which with --game: {names}")
    return book.log(game_id)


def add_play(book: Logbook, entry: PlayEntry, *, game_id: str | None = None) -> LogAnswer:
    """Add a play; when this returns it is on the disk.

    Raises `InvalidInputError` if the entry cannot be read or cannot have happened; `StoreError` if
    the disk refuses.
    """
    before = _written_to(book, game_id)
    name = before.game.game_id
    if game_id is None and before.game.ended_at is not None:
        raise InvalidInputError(
            f"the last game, {name}, was ended; start the next one with `lensyard log start`, or "
            f"add to it with --game {name}"
        )
    _require_known(entry.ticked(), before.game)
    play = book.add(name, lambda log: play_of(entry, log, now=book.now()))
    text = f"play {play.number} is logged"
    return _answer("add", book, name, play=play, text=text, at_break=_break_after(before, play))


def _break_after(before: GameLog, play: LoggedPlay) -> int | None:
    """The quarters played at a break that a play brings; None in the middle of a quarter."""
    if play.ends_quarter:
        return min(play.quarter, 4)
    last = before.plays[-1] if before.plays else None
    if last is not None and play.quarter > last.quarter and not last.ends_quarter:
        return min(last.quarter, 4)
    return None


def edit_play(
    book: Logbook, number: int, entry: PlayEntry, *, game_id: str | None = None
) -> LogAnswer:
    """Change what was said of a play; what the entry leaves out stays."""
    game = _written_to(book, game_id).game
    _require_known(entry.ticked(), game)
    before = book.play(game.game_id, number)
    values = edit_values(entry, before, now=book.now(), game=game)
    play = book.edit(game.game_id, number, values)
    return _answer("edit", book, game.game_id, play=play, text=f"play {number} is changed")


def undo_last(book: Logbook, *, game_id: str | None = None) -> LogAnswer:
    """Take back the last change of a game: play, edit, tick, import, captures, end."""
    name = _written_to(book, game_id).game.game_id
    undone = book.undo(name)
    numbers = [edit.number for edit in undone.edits if edit.number is not None]
    plays = ", ".join(map(str, numbers[:8]))
    about = f" (play {plays})" if plays else ""
    return _answer("undo", book, name, text=f"took back: {undone.action}{about}")


def tick_frames(
    book: Logbook, keys: Sequence[str], *, off: bool = False, game_id: str | None = None
) -> LogAnswer:
    """Tick frames of the shot list that no play brought; without keys only say what is missing."""
    game = (_written_to(book, game_id) if keys else book.log(game_id)).game
    _require_known(keys, game)
    if keys:
        book.tick(game.game_id, keys, off=off)
    done = "ticked" if not off else "no longer ticked"
    text = f"{done}: {', '.join(keys)}" if keys else "nothing was ticked"
    return _answer("tick", book, game.game_id, text=text)


def list_game(book: Logbook, *, game_id: str | None = None) -> LogAnswer:
    """Return a game with its plays; by default the one going on, else the last."""
    game = book.log(game_id).game
    return _answer("list", book, game.game_id, text=game.title)


def going_on(folder: Path | None) -> LogAnswer | None:
    """Return the game that is being logged, if there is one in a folder; None is the owner's."""
    if log_stamp(folder) is None:
        return None
    with open_log(folder, writing=False) as book:
        answer = list_game(book)
    return answer if answer.game.ended_at is None else None


class ListedGame(Record):
    """A game without its plays; how many plays, captures and frames it has."""

    game: Game = field(metadata={"json": "*"})
    plays: int
    captures: int
    frames: int = field(metadata={"json": None})


class GameList(Record):
    """All games, the oldest first."""

    games: tuple[ListedGame, ...]
    cautions: tuple[str, ...] = ()
    model: None = None


def list_games(book: Logbook) -> GameList:
    """Return all games, the oldest first."""
    return GameList(
        tuple(
            ListedGame(
                log.game,
                len(log.plays),
                len(log.captures),
                sum(play.frames or 0 for play in log.plays),
            )
            for log in book.logs()
        ),
        cautions=book.warnings,
    )


def end_game(book: Logbook, *, game_id: str | None = None) -> LogAnswer:
    """End a game."""
    name = _written_to(book, game_id).game.game_id
    book.end(name)
    return _answer("end", book, name, text=f"ended {name}", at_break=4)


def import_card(book: Logbook, text: str, *, where: str, game_id: str | None = None) -> LogAnswer:
    """Add the plays and ticks that the offline card saved; a second time adds nothing.

    Raises `InvalidInputError` if the text is no card's export; nothing is added then.
    """
    export = read_card_export(text, where=where)
    name = _written_to(book, game_id).game.game_id
    added = book.add_card(name, export)
    again = len(export.plays) - len(added)
    told = f"added {len(added)} plays" + (f"; {again} were there already" if again else "")
    return _answer("import", book, name, text=told)


def restore_game(book: Logbook, log: GameLog) -> LogAnswer:
    """Put an exported game back, as a new game.

    Raises `InvalidInputError` if there is a game of that id: nothing is ever overwritten.
    """
    book.restore(log)
    text = f"restored {log.game.game_id}: {len(log.plays)} plays"
    return _answer("restore", book, log.game.game_id, text=text)


def heal_games(book: Logbook) -> LogAnswer:
    """Write games anew whose file or copy is damaged, lost or behind the other."""
    logs = {log.game.game_id: log for log in book.logs()}
    healed = book.heal()
    told = ", ".join(f"{name} ({len(logs[name].plays)} plays)" for name in healed)
    text = f"restored: {told}" if healed else "every game is whole; nothing was restored"
    return _answer("restore", book, healed[-1] if healed else book.log().game.game_id, text=text)


def _require_known(keys: Sequence[str], game: Game) -> None:
    known_keys(assignment_of(game)[0].must_have, keys)


def _answer(
    action: str,
    book: Logbook,
    game_id: str,
    *,
    text: str,
    play: LoggedPlay | None = None,
    at_break: int | None = None,
) -> LogAnswer:
    log = book.log(game_id)
    assignment, warning = assignment_of(log.game)
    state = state_after(log.game, log.plays)
    frames = assignment.must_have
    have = [k for k in log.ticked if k in FRAMES or k in _keys(frames)]
    reminder = None
    if at_break is not None and frames:
        found = missing_at_break(frames, have, quarter=at_break, rules_name=log.game.rules)
        reminder = Reminder.of(found)
    return LogAnswer(
        action=action,
        text=text,
        game=log.game,
        play=play,
        plays=log.plays,
        captures=len(log.captures),
        ticked=log.ticked,
        missing=_keys(missing(frames, have)),
        next=None if state is None else NextSnap.of(state, log.game),
        reminder=reminder,
        warnings=(*book.warnings, *((warning,) if warning else ())),
        shot_list=frames,
        log=log,
    )


DEMO_ID: Final = "demo"


class Command(Record):
    """A command to try, and what it does."""

    command: str
    what: str


class DemoAnswer(Record):
    """The demo game in the log, and what to try on it."""

    answer: LogAnswer = field(metadata={"json": "*"})
    next: tuple[Command, ...]


def demo_folder() -> Path:
    """Return the folder of the bundled demo. Raises `DataError` if it is missing."""
    folder = data_dir() / "demo"
    if not (folder / "game.json").is_file():
        raise DataError(f"the demo game in {folder} is missing; install the package again")
    return folder


def install_demo(book: Logbook) -> DemoAnswer:
    """Put the demo game into a log, under its own id; a second time it stays as it is."""
    if any(game.game_id == DEMO_ID for game in book.games()):
        answer = list_game(book, game_id=DEMO_ID)
        answer = replace(answer, text="the demo game is in your log already")
    else:
        answer = restore_game(book, read_log(read_text(demo_folder() / "game.json")))
    return DemoAnswer(answer, _commands(demo_folder()))


def _commands(folder: Path) -> tuple[Command, ...]:
    return (
        Command(f"lensyard log list --game {DEMO_ID}", "the plays"),
        Command(f"lensyard log tick --game {DEMO_ID}", "which must-haves are missing"),
        Command(
            f"lensyard capture {folder / 'frames'} --game {DEMO_ID} --match --dry-run",
            "find a camera's clock error from a few photographs",
        ),
        Command(
            f"lensyard capture {folder / 'times.csv'} --game {DEMO_ID} --match",
            "count the frames of two cameras by play",
        ),
        Command(f"lensyard log undo --game {DEMO_ID}", "take that back"),
        Command(
            f"lensyard review --game {DEMO_ID}", "what the game brought, beside plan and habit"
        ),
        Command(f"lensyard log export --game {DEMO_ID} --form csv", "the plays for a spreadsheet"),
    )


def write_demo(folder: Path) -> None:
    """Copy the demo's files into a folder: the log, the capture times, the photographs."""
    for path in sorted(demo_folder().rglob("*")):
        if path.is_file():
            write_atomically(folder / path.relative_to(demo_folder()), path.read_bytes())
