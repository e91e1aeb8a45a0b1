"""Game logs to test with, and the command line as a test calls it; every team is invented."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from lensyard.cli import main
from lensyard.features.game_log import compute
from lensyard.features.game_log.entries import NewGameOptions, PlayEntry
from lensyard.game.document import GameLog
from lensyard.game.entry import Game, LoggedPlay, Result, Team
from lensyard.game.logbook import open_log

DEMO = Path(__file__).parents[2] / "data" / "demo"
START = datetime(2026, 10, 3, 19, 0, tzinfo=UTC)
GAME = Game("week-5", "Otters", "Herons", 2026, START, lenses=("70-200", "400"), ticks=("fans",))
PLAY = LoggedPlay(
    number=1,
    logged_at=START + timedelta(minutes=3),
    quarter=1,
    offense=Team.HOME,
    yardline_100=35,
    down=3,
    distance_yd=7,
    spot="left:opp20",
    result=Result.COMPLETE,
    gain_yd=12,
    frames=8,
    keepers=2,
    ticks=("catch",),
)
LOG = GameLog(
    GAME,
    (PLAY, replace(PLAY, number=2, ticks=(), frames=None, keepers=None, note="a note, with =1+1")),
)


def on_log(folder: Path, use_case, *values: Any, wait_s: float = 60, **more: Any):
    """Open the log of a folder for one use case, as a command does."""
    with open_log(folder, wait_s=wait_s) as book:
        return use_case(book, *values, **more)


def start(folder: Path, *, game_id: str = "g", beside: bool = False):
    """Start a game in a folder, beside one that is going on if that is wanted."""
    new = NewGameOptions("Otters", "Herons", game_id=game_id, beside=beside)
    return on_log(folder, compute.start_game, new)


def take_card(folder: Path, text: str):
    """Take what an offline card saved into a folder's game."""
    return on_log(folder, compute.import_card, text, where="card.json")


def undo(folder: Path):
    """Take the last change back."""
    return on_log(folder, compute.undo_last)


def add(folder: Path, *, wait_s: float = 60, **fields: Any):
    """Add a play, by default a first down at midfield."""
    entry = PlayEntry(**{"yardline_100": 50, "down": 1, **fields})
    return on_log(folder, compute.add_play, entry, wait_s=wait_s)


def log_in(folder: Path, game_id: str | None = None) -> GameLog:
    """Return a game of the log in a folder; by default the one going on, else the last."""
    with open_log(folder) as book:
        return book.log(game_id)


def run(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str, str]:
    """Return exit code, standard output and standard error of a command."""
    code = 0
    try:
        main(list(arguments))
    except SystemExit as stop:
        code = int(stop.code or 0)
    written = capsys.readouterr()
    return code, written.out, written.err


def set_at(*path: Any) -> Callable[[dict[str, Any]], None]:
    """Return what sets a value (the last) in a document, at the keys before it."""
    *keys, last, value = path

    def change(document: dict[str, Any]) -> None:
        place: Any = document
        for key in keys:
            place = place[key]
        place[last] = value

    return change
