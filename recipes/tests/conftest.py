"""Invented games of the feed."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from pathlib import Path

import pytest
from recipes.tests import feed_games
from recipes.tests.feed_games import FeedGame


@pytest.fixture
def game() -> FeedGame:
    """An empty invented game between XYZ (home) and QRS."""
    return FeedGame()


@pytest.fixture
def write_wheel(tmp_path: Path) -> Callable[..., Path]:
    """A function that writes invented games as an archive in the source's layout."""
    return partial(feed_games.write_wheel, tmp_path)


@pytest.fixture
def short_games() -> list[FeedGame]:
    """Two invented games with a bit of everything."""
    return feed_games.short_games()
