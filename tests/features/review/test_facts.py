"""What a spot had of a logged play, checked by hand; plan and habit under their walking limits."""

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
from tests.support.logs import GAME, START

from lensyard.domain.field import Direction
from lensyard.domain.perimeter import perimeter_of
from lensyard.domain.places import parse_standing
from lensyard.features.review.facts import facts_of, masses_after, replay_of_log
from lensyard.features.review.figures import PlayFacts, review_figures
from lensyard.game.document import GameLog
from lensyard.game.entry import Game, LoggedPlay, Result, Team, game_setup_of
from lensyard.model.context import load_context
from lensyard.settings.files import VENUES


@pytest.fixture
def game():
    return replace(GAME, ticks=())


@pytest.fixture(autouse=True, scope="module")
def _plans(tmp_path_factory):
    """A folder for the plans of these tests."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("LENSYARD_CACHE_DIR", str(tmp_path_factory.mktemp("plans")))
        yield


def play_that(number=1, **values):
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


def facts(game, *plays):
    """Return the facts of plays, with stations six yards apart."""
    return facts_of(load_context(), GameLog(game, plays), game_setup_of(game), step_yd=6.0)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("spot", "distance", "in_reach", "usable"),
    [
        # The play ends at x 87, in the middle (y 26.67). Limit lines are 4 yd out.
        ("end:middle", 37.0, 1.0, 0.0),  # straight ahead, but the goal post stands in the way
        ("end:left14", 39.1, 1.0, 1.0),  # x 124, y 39.3: 19 degrees off
        ("left:opp20", 30.8, 1.0, 0.30),  # x 90, y 57.3: 84 degrees at the end, 75 on the way there
        ("left:opp8", 34.3, 1.0, 1.0),  # x 102, y 57.3: 64 degrees
        ("left:corner", 48.0, 0.6, 0.6),  # x 124, y 57.3: (60 - 48) / 20
        ("left:own20", 64.6, 0.15, 0.0),  # behind; where the path starts it is 57 yd away
    ],
)
def test_what_a_spot_had_is_plain_geometry(game, spot, distance, in_reach, usable):
    """Places in the play frame: x = 110 - yardline_100 + gain. Cells are 1 by 3.3 yd and
    stations 6 yd apart, so distances may be off by half of each."""
    found = facts(game, play_that(spot=spot))
    assert found.distance_yd[0] == pytest.approx(distance, abs=3.5)
    assert found.in_reach[0] == pytest.approx(in_reach, abs=0.05)
    assert found.usable[0] == pytest.approx(usable, abs=0.05)
    assert 0.0 <= found.predicted[0] <= found.predicted_reach[0] <= 1.0


def test_what_is_not_known_is_a_probability(game):
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
def test_the_mass_of_every_play_is_one(game, values):
    plays = (play_that(**values),)
    ground = game_setup_of(game)
    batch = replay_of_log(plays, game).batch
    mass = masses_after(load_context(), plays, batch, ground).by_x[0]
    assert mass.sum(axis=(1, 2)) == pytest.approx(1.0, abs=1e-5)  # float32
    assert (mass >= 0).all()
    if values.get("out_of_bounds"):
        assert mass[:, :, 1:-1].sum() == 0
    if values.get("touchdown"):
        assert mass[0, :111].sum() == 0
    if values.get("air_yd") == 20:
        assert mass[:, 95].sum() == pytest.approx(2.0)


def drive(*, plays):
    return [
        play_that(
            1 + i,
            yardline_100=70 - 6 * i,
            down=1 + i % 3,
            distance_yd=5,
            gain_yd=6,
            spot="left:opp30" if i % 2 else "left:opp40",
            frames=5,
            keepers=i % 2,
        )
        for i in range(plays)
    ]


def real_games(count):
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


@pytest.mark.slow
def test_on_real_games_the_plan_beats_the_habit_as_in_the_backtest():
    """Six games; the backtest of the whole season has the habit at .54 and the plan at .67 of
    plays usable. About 750 plays leave 1.8 points of chance each; stations are coarser here."""
    found = PlayFacts.joined(
        [
            facts_of(load_context(), log, game_setup_of(log.game), step_yd=6.0)
            for log in real_games(6)
        ]
    )
    assert len(found) > 600
    assert found.habit.mean() == pytest.approx(0.54, abs=0.06)
    assert found.plan.mean() == pytest.approx(0.67, abs=0.06)
    assert (found.plan * found.value).sum() > (found.habit * found.value).sum()


def test_a_turned_stadium_changes_nothing_on_any_field(game):
    """A venue without sides: the same game toward the other end gives the same facts."""
    plays = drive(plays=6)
    other = [replace(p, direction=-1) for p in plays]
    first, second = facts(game, *plays), facts(replace(game, home_direction=-1), *other)
    for name in ("predicted", "in_reach", "usable", "distance_yd", "plan", "habit"):
        # float32 sums in another order
        assert getattr(first, name) == pytest.approx(getattr(second, name), abs=1e-4)


def test_the_habit_is_the_one_for_whose_faces_are_wanted(game):
    """For the defense's faces one stands behind the offense, as the plan's habit does."""
    plays = tuple(drive(plays=6))
    defense = replace(game, faces="defense")
    assert np.abs(facts(defense, *plays).habit - facts(game, *plays).habit).max() > 0.1


@pytest.mark.slow
def test_where_a_venue_names_its_sides_a_spot_is_called_what_it_is_called_there(game: Game) -> None:
    venue = VENUES.load("tamarack-fork")
    plays = tuple(
        play_that(i, spot="left:opp40", direction=direction)
        for i, direction in enumerate((1, 1, -1), 1)
    )
    setup = replace(game_setup_of(game), venue=venue)
    found = facts_of(load_context(), GameLog(game, plays), setup, step_yd=6.0)
    toward_b = "home sideline, creek end's 40 (offense's left)"
    toward_a = "visitors' sideline, road end's 40 (offense's left)"
    assert found.place.tolist() == [toward_b, toward_b, toward_a]
    assert found.spot.tolist() == ["left:opp40"] * 3
    spots = review_figures(found, default_reach_yd=40.0).spots
    assert [(spot.name, spot.plays) for spot in spots] == [(toward_b, 2), (toward_a, 1)]
    # Without the offense's side a name is one place, whichever way the offense goes.
    perimeter = perimeter_of(venue)
    stations = {
        parse_standing(toward_a.split(" (", maxsplit=1)[0], perimeter, way)
        for way in (Direction(1), Direction(-1))
    }
    assert len(stations) == 1
