"""Logs to test with; every team in them is invented."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from lensyard.game.document import GameLog
from lensyard.game.entry import Game, LoggedPlay, Result, Team

START = datetime(2026, 10, 3, 19, 0, tzinfo=UTC)


@pytest.fixture
def game() -> Game:
    return Game("week-5", "Otters", "Herons", 2026, START, lenses=("70-200", "400"))


@pytest.fixture
def play() -> LoggedPlay:
    return LoggedPlay(
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


@pytest.fixture
def log(game: Game, play: LoggedPlay) -> GameLog:
    second = replace(play, number=2, ticks=(), frames=None, keepers=None, note="a note, with =1+1")
    return GameLog(replace(game, ticks=("fans",)), (play, second))
