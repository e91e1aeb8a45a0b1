"""The plan for a game: what it promises is what the season shows."""

import math
from dataclasses import replace

import numpy as np
import pytest
from tests.features.game_plan.invented import invented_plan, invented_row
from tests.support.part_of_season import part_of_season

from lensyard.domain.assignment import FrameKind
from lensyard.domain.kit import kit_of
from lensyard.domain.shot_list import weights_after
from lensyard.errors import UnknownNameError
from lensyard.features.game_plan.compute import game_plan
from lensyard.features.game_plan.phases import PHASES
from lensyard.features.game_plan.report import plan_report
from lensyard.features.game_plan.shot_list import frame_chances
from lensyard.model.context import load_context
from lensyard.planner.plans import PlanRequest
from lensyard.planner.season import play_season
from lensyard.render.text import document, render_text
from lensyard.settings.files import load_assignment

CONTEXT = load_context()
REQUEST = PlanRequest(kit_of(["70-200", "400"]), assignment=load_assignment("agency"), step_yd=8.0)
PLAYS = part_of_season(games=24, training_games=8)


@pytest.fixture
def plan():
    return game_plan(CONTEXT, REQUEST, PLAYS)


@pytest.mark.slow
def test_the_report_names_every_phase_and_every_zone(plan):
    assert [row.key for row in plan.phases] == [
        "opening", "own-half", "past-midfield", "red-zone", "goal-to-go", "two-minute", "defense",
    ]  # fmt: skip
    assert len(plan.zones) == 6
    assert plan.row("red-zone").where.startswith("behind the end line")
    assert document(plan)["cautions"][-1].startswith("Local rules")
    for row in (*plan.phases, *plan.zones):
        assert row.where
        assert row.label
        for p in (
            row.p_usable, row.p_usable_there, row.habit_p_usable, row.value_share,
            row.habit_value_share,
        ):  # fmt: skip
            assert 0.0 <= p <= 1.0


@pytest.mark.slow
def test_zones_add_up_to_the_whole_season(plan):
    games = plan.evaluation_sample.games
    plays = sum(row.plays_per_game for row in plan.zones)
    assert plays * games == pytest.approx(plan.evaluation_sample.plays)
    usable = sum(row.plays_per_game * row.p_usable for row in plan.zones)
    assert usable == pytest.approx(plan.rule_card.plan.usable_per_game)
    habit = sum(row.plays_per_game * row.habit_p_usable for row in plan.zones)
    assert habit == pytest.approx(plan.rule_card.habit.usable_per_game)
    field = [
        row
        for row in plan.phases
        if row.key in ("own-half", "past-midfield", "red-zone", "goal-to-go")
    ]
    assert sum(row.plays_per_game for row in field) == pytest.approx(plays)


@pytest.mark.slow
def test_the_plan_brings_more_than_the_rule_card_and_the_habit(plan):
    card = plan.rule_card
    # 24 games: the measured gain over the habit is some 40 %, its standard error some 4 %.
    assert card.plan_over_habit > 1.2
    assert card.plan.value_share > card.rule.value_share
    assert card.plan_over_rule == pytest.approx(
        card.plan.value_share / max(card.rule.value_share, card.inside.value_share)
    )
    assert plan.evaluation_sample.held_out


@pytest.mark.slow
def test_walking_stays_within_the_limits(plan):
    walk = plan.walking
    assert 0 < walk.yd_per_game < 4000
    # quarter breaks allow 160 yd; nine of ten walks are shorter than the change of possession's
    assert walk.longest_usual_yd <= walk.change_limit_yd + 1e-6
    # 1.5 yd/s with gear.
    assert walk.minutes_per_game * 60 * 1.5 == pytest.approx(walk.yd_per_game)


def test_a_row_that_loses_to_the_habit_says_so():
    taken = invented_row("zone-own-1-20", "own 1-20", plan_value_share=0.1)
    lost = invented_row("zone-own-21-40", "own 21-40", habit_value_share=0.5)
    zones = plan_report(invented_plan(zones=(taken, lost))).table("zones").column("where")
    assert "the habit, which has more here than the plan (10% of the value)" in str(zones[0])
    assert "the habit has more here, but not coming from the plan's other spots" in str(zones[1])


@pytest.mark.slow
def test_opening_series_are_the_first_two_possessions():
    replay = PLAYS.replay()
    opening, late = (p.belongs(replay) for p in PHASES if p.key in ("opening", "two-minute"))
    for game in range(replay.games):
        rows = np.flatnonzero((replay.game == game) & opening)
        offense = replay.offense_home[rows]
        assert rows[0] == np.flatnonzero(replay.game == game)[0]
        assert (np.diff(offense.astype(int)) != 0).sum() <= 1
    assert (replay.batch.half_s[late] <= 120).all()
    assert 0.05 < late.mean() < 0.25
    field = [p.belongs(replay) for p in PHASES if p.key not in ("opening", "two-minute")]
    assert (np.sum(field, axis=0) == 1).all()


@pytest.mark.slow
def test_waiting_times_are_those_of_games_drawn_at_random(plan):
    """The closed form against simulation: games drawn snap by snap with the same chances."""
    season = play_season(CONTEXT, REQUEST, PLAYS)
    rows, chances = frame_chances(CONTEXT, season, ["touchdown", "catch"])
    rng = np.random.default_rng(11)
    game = season.replay.game[rows]
    for row in plan.must_have:
        if row.key not in chances:
            continue
        p = chances[row.key][np.arange(rows.size), season.plan.station_index[rows]]
        draws = 400
        came = []
        for g in range(int(game.max()) + 1):
            inside = p[game == g]
            came.append((rng.random((draws, inside.size)) < inside).any(axis=1))
        rate = np.mean(came)
        # some 9,600 draws: a standard error of 0.005 at most
        assert row.p_in_game == pytest.approx(rate, abs=0.015)
        assert row.p_a_play == pytest.approx(float(p.mean()), rel=1e-4)
        assert row.plays_expected is not None
        assert row.plays_expected >= 1.0
        assert row.go_from_plays_left == math.ceil(math.log(0.1) / math.log1p(-row.p_a_play))


@pytest.mark.slow
def test_going_for_a_frame_brings_it_more_often_and_costs_what_it_says(plan):
    found = [row for row in plan.must_have if row.p_go is not None]
    assert found
    for row in found:
        assert row.p_go > row.p_stay
        assert row.go_cost >= 0
        assert row.break_even == pytest.approx(row.go_cost / (row.p_go - row.p_stay))
    defense = next(row for row in plan.must_have if row.key == "defense-big-play")
    # Common practice: the defense's big play is had from behind the offense.
    assert "behind the ball" in defense.go_label


@pytest.mark.slow
def test_what_is_ticked_changes_the_weights_and_leaves_the_list(plan):
    ticked = game_plan(CONTEXT, REQUEST, PLAYS, have=["touchdown", "fans"])
    expected = weights_after(REQUEST.assignment, ["touchdown", "fans"])
    assert ticked.request.assignment.weights == expected
    assert expected.touchdown < REQUEST.assignment.weights.touchdown
    assert ticked.key != plan.key
    assert {row.key for row in ticked.must_have if row.have} == {"touchdown", "fans"}
    assert all("touchdown" not in slot.missing for slot in ticked.breaks)
    assert all("fans" not in slot.now for slot in ticked.breaks)
    planned = [title for slot in plan.breaks for title in slot.now]
    life = [f.title for f in REQUEST.assignment.must_have if f.kind is FrameKind.LIFE]
    assert sorted(planned) == sorted(life)
    assert "Had: touchdown." in render_text(plan_report(ticked))
    with pytest.raises(UnknownNameError, match="touchdown"):
        game_plan(CONTEXT, REQUEST, PLAYS, have=["touchdwn"])


@pytest.mark.slow
def test_figures_are_stored_and_damage_costs_only_time(plan, plan_cache):
    loads: list[tuple[int, ...]] = []

    def load(seasons, seed):
        loads.append(seasons)
        return PLAYS.load(seasons, seed)

    plays = replace(PLAYS, load=load)
    assert game_plan(CONTEXT, REQUEST, plays) == plan
    assert loads == []
    for path in (plan_cache / "reports").glob("*.json"):
        path.write_text("{", encoding="utf-8")
    assert game_plan(CONTEXT, REQUEST, plays) == plan
    assert set(loads) == {(2019,), (2018,)}
