"""Invented games of the feed."""

from functools import partial

import pytest
from data.recipes.tests import feed_games
from data.recipes.tests.feed_games import FeedGame


@pytest.fixture
def game():
    """An empty invented game between XYZ (home) and QRS."""
    return FeedGame()


@pytest.fixture
def write_wheel(tmp_path):
    """A function that writes invented games as an archive in the source's layout."""
    return partial(feed_games.write_wheel, tmp_path)


@pytest.fixture
def short_games():
    """Two invented games with a bit of everything."""
    return feed_games.short_games()
