"""The game log: one function for each thing that one does with it.

The command line and the dashboard call these. Each opens the log, does one thing durably and closes
it again, so several of them at once wait for each other.

Setting up a game for the log: teams, ground, assignment and kit, each tried once.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from lensyard.config import user_data_dir
from lensyard.domain.shot_list import BreakReport, missing_at_break
from lensyard.domain.shots import FRAMES, MustHave, known_keys, missing
from lensyard.errors import InvalidInputError, LensyardError
from lensyard.features.game_log.log_entries import PlayEntry, edit_values, play_of, zone_of_game
from lensyard.game.card_entries import read_card_export
from lensyard.game.document import MOST_BYTES, GameLog, log_text, plays_csv, read_log
from lensyard.game.entry import Game, LoggedPlay
from lensyard.game.entry_values import plain_values
from lensyard.game.logbook import Logbook
from lensyard.game.store import WAIT_S

if TYPE_CHECKING:
    from lensyard.domain.assignment import Assignment


@dataclass(frozen=True, slots=True)
class GameSetup:
    """A game as the photographer sets it up; see `lensyard.game.entry.Game`.

    ``game_id`` None makes one from the day and the teams, ``season`` None takes the day's (a game
    in January or February belongs to the year before). ``home_attacks`` is the end, A or B, that
    the home team attacks in the first quarter.
    """

    home: str
    away: str
    game_id: str | None = None
    season: int | None = None
    venue: str = ""
    rules: str = "pro"
    team_area: float | None = None
    assignment: str = ""
    faces: str = "offense"
    lenses: tuple[str, ...] = ()
    crop_factors: tuple[float, ...] = ()
    bodies: int | None = None
    converter: float = 1.0
    home_attacks: str = "B"


def game_of(setup: GameSetup, *, now: datetime) -> Game:
    """Return the game of a setup, with everything in it tried once."""
    from lensyard.domain.kit import kit_of
    from lensyard.domain.venue import standard_venue

    time_zone, rules = "", setup.rules
    if setup.venue:
        from lensyard.settings.venue_file import load_venue

        venue = load_venue(setup.venue)
        time_zone = venue.time_zone if venue.has_place else ""
        rules = venue.rules.name
    else:
        standard_venue(setup.rules, team_area_from_yard_line=setup.team_area)
    if setup.assignment:
        from lensyard.settings.assignment_file import load_assignment

        load_assignment(setup.assignment)
    if setup.lenses:
        kit_of(
            list(setup.lenses),
            crop_factors=list(setup.crop_factors) or None,
            bodies=setup.bodies,
            converter=setup.converter,
        )
    elif setup.crop_factors or setup.bodies is not None or setup.converter != 1.0:
        raise InvalidInputError("bodies and converters belong to lenses; give --lens as well")
    ends = {"A": -1, "B": 1}
    if setup.home_attacks.upper() not in ends:
        raise InvalidInputError(f"home attacks end A or B; got {setup.home_attacks!r}")
    return Game(
        game_id=setup.game_id or _id_of(setup, now),
        home=setup.home,
        away=setup.away,
        season=setup.season or (now.year if now.month > 2 else now.year - 1),
        started_at=now,
        venue=_whole_path(setup.venue),
        rules=rules,
        team_area=setup.team_area,
        assignment=_whole_path(setup.assignment),
        faces=setup.faces,
        lenses=setup.lenses,
        crop_factors=setup.crop_factors,
        bodies=setup.bodies,
        converter=setup.converter,
        home_direction=ends[setup.home_attacks.upper()],
        time_zone=time_zone,
    )


def _whole_path(name: str) -> str:
    """A path is kept whole, so that the log works from any folder."""
    return str(Path(name).expanduser().resolve()) if name.lower().endswith(".toml") else name


def _id_of(setup: GameSetup, now: datetime) -> str:
    words = re.sub(r"[^a-z0-9]+", "-", f"{setup.away}-{setup.home}".lower()).strip("-")
    return f"{now.astimezone():%Y-%m-%d}-{words}"[:64].rstrip("-")


SCHEMA_VERSION = 1


@dataclass(frozen=True, slots=True)
class LogAnswer:
    """What a command on the log answers.

    Attributes
    ----------
    action
        ``start``, ``add``, ``edit``, ``undo``, ``tick``, ``list``, ``end``, ``import``,
        ``restore``.
    log
        The game as it is now.
    play
        The play it was about, where there is one.
    text
        One line on what was done.
    shot_list, still_missing
        The assignment's must-have frames, and those not ticked yet.
    reminder
        At a break: what is still missing, what to get now and what is the last chance for.
    warnings
        What went wrong without stopping the log.
    """

    action: str
    log: GameLog
    play: LoggedPlay | None
    text: str
    shot_list: tuple[MustHave, ...]
    still_missing: tuple[MustHave, ...]
    reminder: BreakReport | None
    warnings: tuple[str, ...]


def utc_now() -> datetime:
    """Return the time (UTC)."""
    return datetime.now(UTC)


def open_log(folder: Path | None = None, *, wait_s: float = WAIT_S) -> Logbook:
    """Open the user's log; use it in a ``with`` statement, briefly."""
    place = user_data_dir(create=True) if folder is None else folder
    return Logbook(place, now=utc_now, wait_s=wait_s)


def start_game(
    setup: GameSetup, *, folder: Path | None = None, wait_s: float = WAIT_S
) -> LogAnswer:
    """Start a game.

    Raises
    ------
    InvalidInputError
        If venue, assignment or kit cannot be used, or the id is taken.
    """
    game = game_of(setup, now=utc_now())
    with open_log(folder, wait_s=wait_s) as book:
        log = book.start(game)
        return _answer("start", log, book, text=f"started {game.game_id}: {game.title}", at_break=0)


def add_play(
    entry: PlayEntry,
    *,
    game_id: str | None = None,
    folder: Path | None = None,
    wait_s: float = WAIT_S,
) -> LogAnswer:
    """Add a play; when this returns it is on the disk.

    Raises
    ------
    InvalidInputError
        If the entry cannot be read or cannot have happened.
    StoreError
        If the log is in use, damaged, or the disk refuses.
    """
    now = utc_now()
    with open_log(folder, wait_s=wait_s) as book:
        before = book.log(game_id)
        if game_id is None and before.game.ended_at is not None:
            raise InvalidInputError(
                f"the last game, {before.game.game_id}, was ended; start the next one with "
                f"`lensyard log start`, or add to it with --game {before.game.game_id}"
            )
        task, _ = assignment_of(before.game)
        _require_known(entry.ticks, task)
        zone = zone_of_game(before.game)
        play = book.add(before.game.game_id, lambda log: play_of(entry, log, now=now, zone=zone))
        log = book.log(before.game.game_id)
        return _answer(
            "add",
            log,
            book,
            play=play,
            text=f"play {play.number} is logged",
            at_break=_break_after(before, play),
        )


def _break_after(before: GameLog, play: LoggedPlay) -> int | None:
    """The quarters played at a break that a play brings; None in the middle of a quarter."""
    if play.ends_quarter:
        return min(play.quarter, 4)
    last = before.plays[-1] if before.plays else None
    if last is not None and play.quarter > last.quarter and not last.ends_quarter:
        return min(last.quarter, 4)
    return None


def edit_play(
    number: int,
    entry: PlayEntry,
    *,
    game_id: str | None = None,
    folder: Path | None = None,
    wait_s: float = WAIT_S,
) -> LogAnswer:
    """Change what was said of a play; what the entry leaves out stays."""
    now = utc_now()
    with open_log(folder, wait_s=wait_s) as book:
        game = book.log(game_id).game
        task, _ = assignment_of(game)
        _require_known(entry.ticks, task)
        before = book.play(game.game_id, number)
        values = edit_values(entry, before, now=now, zone=zone_of_game(game))
        play = book.edit(game.game_id, number, values)
        log = book.log(game.game_id)
        return _answer("edit", log, book, play=play, text=f"play {number} is changed")


def undo_last(
    *, game_id: str | None = None, folder: Path | None = None, wait_s: float = WAIT_S
) -> LogAnswer:
    """Take back the last change of a game: play, edit, tick, import, captures, end."""
    with open_log(folder, wait_s=wait_s) as book:
        game = book.log(game_id).game
        undone = book.undo(game.game_id)
        plays = ", ".join(str(n) for n in undone.plays[:8])
        about = f" (play {plays})" if plays else ""
        log = book.log(game.game_id)
        return _answer("undo", log, book, text=f"took back: {undone.action}{about}")


def tick_frames(
    keys: Sequence[str],
    *,
    off: bool = False,
    game_id: str | None = None,
    folder: Path | None = None,
    wait_s: float = WAIT_S,
) -> LogAnswer:
    """Tick frames of the shot list that no play brought; without keys only say what is missing."""
    with open_log(folder, wait_s=wait_s) as book:
        log = book.log(game_id)
        task, _ = assignment_of(log.game)
        _require_known(keys, task)
        if keys:
            log = book.tick(log.game.game_id, keys, off=off)
        done = "ticked" if not off else "no longer ticked"
        text = f"{done}: {', '.join(keys)}" if keys else "nothing was ticked"
        return _answer("tick", log, book, text=text)


def list_game(
    *, game_id: str | None = None, folder: Path | None = None, wait_s: float = WAIT_S
) -> LogAnswer:
    """Return a game with its plays; by default the one going on, else the last."""
    with open_log(folder, wait_s=wait_s) as book:
        log = book.log(game_id)
        return _answer("list", log, book, text=log.game.title)


def list_games(*, folder: Path | None = None, wait_s: float = WAIT_S) -> tuple[GameLog, ...]:
    """Return all games with their plays, the oldest first."""
    with open_log(folder, wait_s=wait_s) as book:
        return tuple(book.log(game.game_id) for game in book.games())


def end_game(
    *, game_id: str | None = None, folder: Path | None = None, wait_s: float = WAIT_S
) -> LogAnswer:
    """End a game."""
    with open_log(folder, wait_s=wait_s) as book:
        log = book.end(book.log(game_id).game.game_id)
        return _answer("end", log, book, text=f"ended {log.game.game_id}", at_break=4)


def export_game(
    *, form: str = "json", game_id: str | None = None, folder: Path | None = None
) -> str:
    """Return a game as text: ``json`` (everything, `restore_game` reads it) or ``csv`` (plays)."""
    with open_log(folder) as book:
        log = book.log(game_id)
    return plays_csv(log) if form == "csv" else log_text(log, exported_at=utc_now())


def import_card(path: Path, *, game_id: str | None = None, folder: Path | None = None) -> LogAnswer:
    """Add the plays and ticks that the offline card saved; a second time adds nothing.

    Raises
    ------
    InvalidInputError
        If the file is none; nothing is added then.
    """
    export = read_card_export(read_text(path), where=path.name)
    with open_log(folder) as book:
        game = book.log(game_id).game
        added = book.add_card(game.game_id, export)
        again = len(export.plays) - len(added)
        text = f"added {len(added)} plays" + (f"; {again} were there already" if again else "")
        return _answer("import", book.log(game.game_id), book, text=text)


def restore_game(path: Path, *, as_id: str | None = None, folder: Path | None = None) -> LogAnswer:
    """Put a game back from its JSON export, as a new game.

    Raises
    ------
    InvalidInputError
        If the file is none, or there is a game of that id: nothing is ever overwritten.
    """
    log = read_log(read_text(path), where=path.name)
    if as_id is not None:
        log = log.renamed(as_id)
    with open_log(folder) as book:
        book.restore(log)
        text = f"restored {log.game.game_id}: {len(log.plays)} plays"
        return _answer("restore", log, book, text=text)


def read_text(path: Path) -> str:
    """Return the text of a file that somebody hands in.

    Raises
    ------
    InvalidInputError
        If it cannot be read, is too large or is not UTF-8.
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


def assignment_of(game: Game) -> tuple[Assignment, str]:
    """Return the assignment of a game, and a warning where it cannot be read any more."""
    from lensyard.domain.assignment import Faces, assignment_for

    plain = assignment_for(Faces(game.faces))
    if not game.assignment:
        return plain, ""
    from lensyard.settings.assignment_file import load_assignment

    try:
        return load_assignment(game.assignment), ""
    except LensyardError as error:
        return plain, f"the assignment cannot be read, so nothing is known of must-haves: {error}"


def _require_known(keys: Sequence[str], task: Assignment) -> None:
    known_keys(task.must_have, keys)


def _answer(
    action: str,
    log: GameLog,
    book: Logbook,
    *,
    text: str,
    play: LoggedPlay | None = None,
    at_break: int | None = None,
) -> LogAnswer:
    task, warning = assignment_of(log.game)
    frames = task.must_have
    have = [k for k in log.ticked if k in FRAMES or k in {f.key for f in frames}]
    reminder = None
    if at_break is not None and frames:
        reminder = missing_at_break(frames, have, quarter=at_break, rules_name=log.game.rules)
    return LogAnswer(
        action=action,
        log=log,
        play=play,
        text=text,
        shot_list=frames,
        still_missing=missing(frames, have),
        reminder=reminder,
        warnings=(*book.warnings, *((warning,) if warning else ())),
    )


def log_answer_document(answer: LogAnswer) -> dict[str, Any]:
    """Return an answer as one JSON document."""
    reminder = answer.reminder
    return {
        "schema_version": SCHEMA_VERSION,
        "action": answer.action,
        "text": answer.text,
        "game": plain_values(answer.log.game),
        "play": None if answer.play is None else plain_values(answer.play),
        "plays": [plain_values(play) for play in answer.log.plays],
        "captures": len(answer.log.captures),
        "ticked": list(answer.log.ticked),
        "missing": [frame.key for frame in answer.still_missing],
        "reminder": None
        if reminder is None
        else {
            "break": reminder.slot.name,
            "now": [frame.key for frame in reminder.now],
            "last_chance": [frame.key for frame in reminder.last_chance],
            "later": [placed.frame.key for placed in reminder.later],
            "action": [frame.key for frame in reminder.action],
        },
        "model": None,
        "cautions": list(answer.warnings),
    }


def games_document(games: Sequence[GameLog]) -> dict[str, Any]:
    """Return all games as one JSON document, without their plays."""
    return {
        "schema_version": SCHEMA_VERSION,
        "games": [
            {**plain_values(log.game), "plays": len(log.plays), "captures": len(log.captures)}
            for log in games
        ],
        "model": None,
        "cautions": [],
    }
