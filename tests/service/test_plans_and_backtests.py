"""Plans are kept, survive damage, and are what a backtest plays."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from lensyard.domain.assignment import Assignment, OutcomeWeights
from lensyard.domain.field import Direction
from lensyard.domain.kit import kit_of
from lensyard.domain.situation import Situation
from lensyard.domain.venue import ClosedStretch, Edge, standard_venue
from lensyard.errors import InvalidInputError
from lensyard.model.context import load_context
from lensyard.planner.backtest import (
    POLICIES,
    REPLAY_COLUMNS,
    backtest,
    backtest_document,
    backtest_season,
)
from lensyard.planner.plans import PlanRequest, decide, plan_for
from lensyard.planner.solve import Walking
from lensyard.plays.store import load_plays

CONTEXT = load_context()
REQUEST = PlanRequest(kit_of(["70-200", "300"]), step_yd=4.0)


def test_a_plan_is_solved_once_and_read_afterwards(tmp_path: Path) -> None:
    first = plan_for(CONTEXT, REQUEST, folder=tmp_path)
    (path,) = tmp_path.glob("*.npy")
    np.testing.assert_array_equal(np.load(path), first.plan.continuation)
    np.save(path, first.plan.continuation + np.float32(1.0))
    again = plan_for(CONTEXT, REQUEST, folder=tmp_path)
    np.testing.assert_array_equal(again.plan.continuation, first.plan.continuation + 1.0)


@pytest.mark.parametrize("damage", [b"", b"not an array", None])
def test_a_damaged_plan_on_disk_is_solved_again(tmp_path: Path, damage: bytes | None) -> None:
    first = plan_for(CONTEXT, REQUEST, folder=tmp_path)
    (path,) = tmp_path.glob("*.npy")
    whole = path.read_bytes()
    path.write_bytes(whole[:1000] if damage is None else damage)
    again = plan_for(CONTEXT, REQUEST, folder=tmp_path)
    assert path.read_bytes() == whole
    np.testing.assert_array_equal(first.plan.continuation, again.plan.continuation)


@pytest.mark.parametrize(
    "other",
    [
        replace(REQUEST, kit=kit_of(["70-200", "400"])),
        replace(REQUEST, venue=standard_venue("college")),
        replace(REQUEST, assignment=Assignment(weights=OutcomeWeights(touchdown=5.0))),
        replace(REQUEST, walks=Walking(price_per_yd=0.01)),
        replace(REQUEST, discount=0.9),
    ],
)
def test_everything_that_matters_is_in_the_key(other: PlanRequest) -> None:
    assert other.key("model") != REQUEST.key("model")
    assert REQUEST.key("another model") != REQUEST.key("model")


def test_names_are_not_in_the_key() -> None:
    renamed = replace(REQUEST, venue=replace(REQUEST.venue, name="elsewhere"))
    assert renamed.key("model") == REQUEST.key("model")


def test_the_plan_never_sends_anybody_into_a_closed_stretch(tmp_path: Path) -> None:
    venue = standard_venue()
    closed = ClosedStretch(Edge.END_B, 0.0, 26.0, "band", walk_behind=False)
    request = replace(REQUEST, venue=replace(venue, closed=(*venue.closed, closed)))
    solved = plan_for(CONTEXT, request, folder=tmp_path)
    for direction in Direction:
        scorer = solved.scorer(direction)
        start = int(np.flatnonzero(scorer.open)[0])
        for yardline_100 in (60, 25, 8, 2):
            situation = Situation(1, min(10, yardline_100), yardline_100)
            choice = decide(
                CONTEXT, solved, situation, standing=start, direction=direction, limit_yd=60.0
            ).choice
            walk = scorer.walk_yd[start, choice.station]
            assert walk <= 60.0 + 1e-6
            station = int(scorer.stations[choice.station])
            x, y = scorer.perimeter.x_yd[station], scorer.perimeter.y_yd[station]
            assert not (x > 120 and 0 <= y <= 26.0)


def small_season(season: int, games: int) -> object:
    plays = load_plays(columns=REPLAY_COLUMNS, seasons=[season], season_type="REG")
    return plays[plays["game_id"].isin(plays["game_id"].unique()[:games])]


def test_a_backtest_orders_the_policies_as_they_must_be(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("LENSYARD_CACHE_DIR", str(tmp_path))
    result = backtest(
        CONTEXT, REQUEST, plays=small_season(2019, 48), training=small_season(2018, 24), season=2019
    )
    by_name = {p.name: p for p in result.policies}
    assert tuple(by_name) == POLICIES
    # what perfect foresight could do under the same limits bounds everything
    assert all(p.value_share <= by_name["hindsight"].value_share for p in result.policies)
    assert by_name["plan"].value_share > by_name["greedy"].value_share
    assert result.over["ahead20"][1] > 1.1  # the lower end of the interval
    assert result.over["rule"][1] > 1.1
    # 1.5 points: the measured bar of the project; 48 games have a standard error near 0.6
    assert result.p_usable_predicted == pytest.approx(by_name["plan"].p_usable, abs=0.015)
    assert all(p.low <= p.value_share <= p.high for p in result.policies)
    document = backtest_document(result)
    assert {"name", "p_usable", "value_share", "low", "high", "walk_yd_per_game"} <= set(
        document["policies"][0]
    )


def test_a_season_that_was_fitted_cannot_be_backtested() -> None:
    with pytest.raises(InvalidInputError, match="fitted on season 2017"):
        backtest_season(CONTEXT, REQUEST, season=2017)
