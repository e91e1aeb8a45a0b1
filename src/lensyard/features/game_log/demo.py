"""The bundled demo: an invented game, its capture times and a few photographs, to try things on.

Teams, stadium, plays and photographs are made up; `tests/support/demo_game.py` builds them.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Final

from lensyard.config import data_dir
from lensyard.errors import DataError
from lensyard.features.game_log.compute import LogAnswer, list_game, restore_game
from lensyard.files import write_atomically
from lensyard.game.document import read_log, read_text
from lensyard.game.logbook import Logbook

DEMO_ID: Final = "demo"


@dataclass(frozen=True, slots=True)
class Command:
    """A command to try, and what it does."""

    command: str
    what: str


@dataclass(frozen=True, slots=True)
class DemoAnswer:
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
