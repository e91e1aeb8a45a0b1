"""What a spot had of a logged play, checked by hand; plan and habit under their walking limits."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest
from tests.support.logs import GAME, START

from lensyard.domain.kit import DEMO_KIT, kit_of
from lensyard.features.review import facts as review_facts
from lensyard.features.review.compute import review_document, review_game, review_logs
from lensyard.features.review.facts import (
    facts_of,
    kit_reaching,
    masses_after,
    replay_of_log,
    scrimmage_plays,
)
from lensyard.features.review.rates import PlayFacts
from lensyard.game.document import GameLog
from lensyard.game.entry import Game, LoggedPlay, Result, Team
from lensyard.game.logbook import open_log
from lensyard.game.setup import game_setup_of
from lensyard.model.context import load_context


@pytest.fixture
def game() -> Game:
    return replace(GAME, ticks=())


@pytest.fixture(autouse=True)
def _quick(monkeypatch: pytest.MonkeyPatch, tmp_path_factory: pytest.TempPathFactory) -> None:
    """Stations six yards apart, so that a plan is solved in a blink, and kept between tests."""
    monkeypatch.setattr(review_facts, "STEP_YD", 6.0)
    cache = tmp_path_factory.getbasetemp() / "plans-of-reviews"
    monkeypatch.setenv("LENSYARD_CACHE_DIR", str(cache))


def play_that(number: int = 1, **values: object) -> LoggedPlay:
    base = LoggedPlay(
        number=number,
        logged_at=START + timedelta(minutes=number),
        quarter=1,
        offense=Team.HOME,
        yardline_100=35,
        down=3,
        distance_yd=7,
        result=Result.COMPLETE,
        gain_yd=12,
        end_y_yd=80 / 3,
    )
    return replace(base, **values)  # type: ignore[arg-type]


def facts(game: Game, *plays: LoggedPlay) -> PlayFacts:
    log = GameLog(game, plays)
    return facts_of(load_context(), log, game_setup_of(game))


@pytest.mark.parametrize(
    ("spot", "distance", "in_reach", "usable"),
    [
        # The play ends at x 87, in the middle (y 26.67). Limit lines are 4 yd out.
        ("end:middle", 37.0, 1.0, 0.0),  # straight ahead, but the goal post stands in the way
        ("end:left14", 39.1, 1.0, 1.0),  # x 124, y 39.3: 19 degrees off
        ("left:opp20", 30.8, 1.0, 0.0),  # x 90, y 57.3: 84 degrees, more than 75
        ("left:opp8", 34.3, 1.0, 1.0),  # x 102, y 57.3: 64 degrees
        ("left:corner", 48.0, 0.0, 0.0),  # x 124, y 57.3: out of reach
        ("left:own20", 64.6, 0.0, 0.0),  # behind, and out of reach
    ],
)
def test_what_a_spot_had_is_plain_geometry(
    game: Game, spot: str, distance: float, in_reach: float, usable: float
) -> None:
    """Places from DESIGN of the frames: x = 110 - yardline_100 + gain. Cells are 1 by 3.3 yd and
    stations 6 yd apart, so distances may be off by half of each."""
    found = facts(game, play_that(spot=spot))
    assert found.distance_yd[0] == pytest.approx(distance, abs=3.5)
    assert (found.in_reach[0], found.usable[0]) == (in_reach, usable)
    assert 0.0 <= found.predicted[0] <= found.predicted_reach[0] <= 1.0


def test_what_is_not_known_is_a_probability(game: Game) -> None:
    known = play_that(spot="left:opp8")
    unknown = [replace(known, end_y_yd=None, number=2), play_that(3, spot="left:opp8", result=None)]
    found = facts(game, known, *unknown)
    assert found.usable[0] == 1.0
    assert 0.0 < found.usable[1] < 1.0
    assert 0.0 < found.usable[2] < 1.0
    assert found.usable[2] == pytest.approx(found.predicted[2], abs=1e-5)
    assert np.isnan(found.distance_yd[2])
    assert not np.isnan(found.distance_yd[1])


@pytest.mark.parametrize(
    "values",
    [
        {},
        {"end_y_yd": None},
        {"end_y_yd": None, "out_of_bounds": True},
        {"out_of_bounds": True, "end_y_yd": 0.0},
        {"result": Result.INCOMPLETE, "gain_yd": 0},
        {"result": Result.INCOMPLETE, "gain_yd": 0, "air_yd": 20},
        {"result": Result.INTERCEPTION, "gain_yd": None, "air_yd": 45, "end_y_yd": None},
        {"result": Result.SACK, "gain_yd": -8},
        {"result": Result.RUN, "gain_yd": None},
        {"result": Result.SCRAMBLE, "gain_yd": 35, "touchdown": True, "end_y_yd": None},
        {"result": None, "gain_yd": None},
    ],
)
def test_the_mass_of_every_play_is_one(game: Game, values: dict[str, object]) -> None:
    plays = (play_that(**values),)
    ground = game_setup_of(game)
    batch = replay_of_log(plays, game).batch
    mass = masses_after(load_context(), plays, batch, ground)[0]
    assert mass.sum() == pytest.approx(1.0, abs=1e-5)  # float32
    assert (mass >= 0).all()
    if values.get("out_of_bounds"):
        assert mass[:, 1:-1].sum() == 0
    if values.get("touchdown"):
        assert mass[:111].sum() == 0
    if values.get("air_yd") == 20:
        assert mass[95].sum() == pytest.approx(1.0)


def test_kicks_and_called_off_plays_do_not_count(game: Game) -> None:
    log = GameLog(
        game,
        (
            play_that(1),
            play_that(2, result=Result.KICK, gain_yd=None),
            play_that(3, result=Result.NO_PLAY),
            play_that(4, result=Result.KICK, down=None, distance_yd=None, gain_yd=None),
        ),
    )
    assert [p.number for p in scrimmage_plays(log)] == [1]


def drive(*, plays: int, offense: Team = Team.HOME, first: int = 1) -> list[LoggedPlay]:
    found = []
    for i in range(plays):
        found.append(
            play_that(
                first + i,
                yardline_100=70 - 6 * i,
                down=1 + i % 3,
                distance_yd=5,
                gain_yd=6,
                offense=offense,
                direction=1 if offense is Team.HOME else -1,
                spot="left:opp30" if i % 2 else "left:opp40",
                frames=5,
                keepers=i % 2,
            )
        )
    return found


def real_games(count: int) -> list[GameLog]:
    """Return games of the bundled season 2019, which the model never saw, as logs."""
    from lensyard.model.outcome_grid import KINDS
    from lensyard.plays.store import load_plays

    columns = [
        "game_id", "play_index", "home_club", "offense", "quarter", "down", "distance_yd",
        "yardline_100", "kind", "gain_yd", "air_yd", "touchdown", "out_of_bounds",
    ]  # fmt: skip
    table = load_plays(columns, seasons=[2019], season_type="REG", kinds=KINDS)
    logs = []
    for name in table["game_id"].unique()[:count]:
        rows = table[(table["game_id"] == name) & table["down"].between(1, 4)]
        plays = []
        for number, row in enumerate(rows.itertuples(), start=1):
            home = row.offense == row.home_club
            swap = 1 if row.quarter in (1, 3) else -1
            air = None if np.isnan(row.air_yd) else int(np.clip(row.air_yd, -10, 70))
            plays.append(
                LoggedPlay(
                    number=number, logged_at=START + timedelta(minutes=number),
                    quarter=int(row.quarter), offense=Team.HOME if home else Team.AWAY,
                    direction=swap if home else -swap, yardline_100=int(row.yardline_100),
                    down=int(row.down),
                    distance_yd=int(np.clip(row.distance_yd, 1, row.yardline_100)),
                    result=Result(row.kind), gain_yd=int(row.gain_yd), air_yd=air,
                    touchdown=bool(row.touchdown), out_of_bounds=bool(row.out_of_bounds),
                )
            )  # fmt: skip
        logs.append(GameLog(Game("real", "Home", "Away", 2019, START), tuple(plays)))
    return logs


def test_on_real_games_the_plan_beats_the_habit_as_in_the_backtest() -> None:
    """Six games; the backtest of the whole season has the habit at .40 and the plan at .47 of
    plays usable. About 750 plays leave 1.8 points of chance each; stations are coarser here."""
    found = PlayFacts.joined(
        [facts_of(load_context(), log, game_setup_of(log.game)) for log in real_games(6)]
    )
    assert len(found) > 600
    assert found.habit.mean() == pytest.approx(0.40, abs=0.06)
    assert found.plan.mean() == pytest.approx(0.47, abs=0.06)
    assert (found.plan * found.value).sum() > (found.habit * found.value).sum()


def test_a_turned_stadium_changes_nothing_on_any_field(game: Game) -> None:
    """A venue without sides: the same game toward the other end gives the same facts."""
    plays = drive(plays=6)
    other = [replace(p, direction=-1) for p in plays]
    first, second = facts(game, *plays), facts(replace(game, home_direction=-1), *other)
    for name in ("predicted", "in_reach", "usable", "distance_yd", "plan", "habit"):
        # float32 sums in another order
        assert getattr(first, name) == pytest.approx(getattr(second, name), abs=1e-4)


def test_a_kit_that_reaches_farther_or_less_far() -> None:
    far, near = kit_reaching(DEMO_KIT, 1.2), kit_reaching(DEMO_KIT, 0.8)
    assert far.reach_yd == pytest.approx(48.0)
    assert near.reach_yd == pytest.approx(32.0)
    assert far.nearest_yd == DEMO_KIT.nearest_yd == near.nearest_yd
    assert kit_reaching(kit_of(["400"]), 1.2).nearest_yd == kit_of(["400"]).nearest_yd


def test_a_season_is_its_games_together(tmp_path: Path, game: Game) -> None:
    logs = []
    for name in ("one", "two"):
        log = GameLog(replace(game, game_id=name, assignment="agency"), tuple(drive(plays=6)))
        logs.append(log)
        with open_log(tmp_path / "data") as book:
            book.restore(log)
    context = load_context()
    season = review_game(context, season=2026, folder=tmp_path / "data")
    single = review_logs(context, logs[:1], title="x")
    assert season.figures.placed == 2 * single.figures.placed == 12
    assert season.figures.overall.predicted == pytest.approx(single.figures.overall.predicted)
    assert [g.game_id for g in season.games] == ["one", "two"]
    assert "touchdown" in season.games[0].missing
    document = review_document(season)
    assert len(document["plays"]) == 12
    assert document["figures"]["keep"]["hits"] == 6.0


def test_the_own_reach_is_off_unless_asked_for(game: Game) -> None:
    log = GameLog(game, tuple(drive(plays=8)))
    context = load_context()
    plain = review_logs(context, [log], title="x")
    asked = review_logs(context, [log], title="x", own_reach=True)
    assert plain.own is None
    assert plain.figures == asked.figures
    assert asked.own is not None
    assert plain.figures.reach is not None
    assert len(plain.own_lenses) == 2


def test_for_the_defense_s_faces_the_habit_stands_behind_the_offense(game: Game) -> None:
    # As the plan's habit does. Whoever stands 20 yards ahead sees no face of the defense.
    habit = facts(replace(game, faces="defense"), *drive(plays=9)).habit
    assert habit.mean() > 0.5
