"""The first games of stored seasons in place of whole ones."""

from __future__ import annotations

from functools import cache

from lensyard.model.plays import replay_of
from lensyard.planner.replays import REPLAY_COLUMNS
from lensyard.planner.season_data import SeasonPlays
from lensyard.plays.store import load_plays

REPLAY_SEED = 20190905


@cache
def first_games(season: int, games: int, *, seed: int = REPLAY_SEED):
    """Return the replay of the first games of a stored regular season."""
    plays = load_plays(columns=REPLAY_COLUMNS, seasons=[season], season_type="REG")
    first = plays["game_id"].isin(plays["game_id"].unique()[:games])
    return replay_of(plays[first], seed=seed)


def part_of_season(
    season: int = 2019, *, games: int = 40, training: int = 2018, training_games: int = 16
) -> SeasonPlays:
    """Return some games to play again, and some of an earlier season to fit rules on."""
    count = {season: games, training: training_games}
    return SeasonPlays(
        season=season,
        held_out=True,
        training=(training,),
        load=lambda seasons, seed: first_games(seasons[-1], count[seasons[-1]], seed=seed),
    )
