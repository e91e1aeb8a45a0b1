"""A part of a season in place of the whole, and one cache folder for all tests of plans."""

from __future__ import annotations

from functools import cache, partial
from pathlib import Path

import pytest

from lensyard.features.crew import game as crew_games
from lensyard.features.game_plan import compute as plan_report
from lensyard.model.replay import Replay
from lensyard.model.transition import TransitionModel
from lensyard.planner import plans
from lensyard.planner import season as plan_season
from lensyard.planner.backtest import REPLAY_COLUMNS, season_replay
from lensyard.planner.plans import PlanRequest
from lensyard.plays.store import load_plays

GAMES = {2018: 16, 2019: 40}
# Stations so far apart make a plan in a third of the time.
STEP_YD = 6.0


# Computed once for all plans of these tests; they depend on the model only.
_matrices = cache(TransitionModel.transition_matrices)


@pytest.fixture(scope="session")
def part_of_a_season() -> dict[int, Replay]:
    """The first games of a training season and of the one held out."""
    found = {}
    for season, games in GAMES.items():
        plays = load_plays(columns=REPLAY_COLUMNS, seasons=[season], season_type="REG")
        first = plays["game_id"].isin(plays["game_id"].unique()[:games])
        found[season] = season_replay(plays[first])
    return found


@pytest.fixture(scope="session")
def plan_cache(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("plans")


@pytest.fixture(autouse=True)
def _small(
    part_of_a_season: dict[int, Replay], plan_cache: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def stored(seasons: tuple[int, ...], seed: int = 0) -> Replay:
        return part_of_a_season[max(seasons)]

    for module in (plan_season, plan_report, crew_games):
        monkeypatch.setattr(module, "stored_replay", stored)
    monkeypatch.setattr(plans, "PlanRequest", partial(PlanRequest, step_yd=STEP_YD))
    monkeypatch.setattr(crew_games, "PLAN_STEP_YD", STEP_YD)
    monkeypatch.setattr(TransitionModel, "transition_matrices", _matrices)
    monkeypatch.setenv("LENSYARD_CACHE_DIR", str(plan_cache))
    monkeypatch.setenv("LENSYARD_DATA_DIR", str(plan_cache / "data"))
