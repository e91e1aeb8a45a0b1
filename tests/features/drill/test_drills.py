"""Series, answers, grades, and who comes out ahead."""

from collections import Counter
from dataclasses import replace

import numpy as np
import pytest
from tests.support.part_of_season import first_games

from lensyard.domain.kit import DEMO_KIT, kit_of
from lensyard.domain.perimeter import WalkTime
from lensyard.domain.situation import zone_of
from lensyard.features.drill.compute import (
    compared_stations,
    grade,
)
from lensyard.features.drill.progress import CARDS, Grade, card_of, progress_of
from lensyard.features.drill.series import DrillRequest, drill_series, rule_for
from lensyard.model.context import load_context
from lensyard.planner.season_data import SeasonPlays, realized_quality

HAD_FROM = 0.5

CONTEXT = load_context()
SITUATIONS = 400


def random_place(drill, question, rng):
    within = np.flatnonzero(drill.reachable(question))
    return int(rng.choice(within)) if within.size else question.start


def played(drill, learner):
    """Return the answers of somebody who wanders, follows the habit, or follows the plan."""
    rng = np.random.default_rng(11)
    found = []
    for q in drill.questions:
        where = random_place(drill, q, rng)
        if learner != "random":
            # Who crosses behind closed ground has nothing of this play; here they stay.
            named = compared_stations(drill, q)[learner]
            where = named if drill.reachable(q)[named] else q.start
        found.append(grade(drill, q, where))
    return found


@pytest.mark.slow
def test_random_habit_and_plan_come_out_in_that_order(make_series):
    drill = make_series(SITUATIONS)
    answers = {name: played(drill, name) for name in ("random", "habit", "plan")}
    for score in ("usable", "p_usable"):
        had = [
            sum(getattr(one.answer, score) for one in answers[name])
            for name in ("random", "habit", "plan")
        ]
        assert had == sorted(had)
    for low, high in (("random", "habit"), ("habit", "plan")):
        # By how many plays one is ahead, play by play: three standard errors above nothing.
        ahead = np.array(
            [
                int(b.answer.usable) - int(a.answer.usable)
                for a, b in zip(answers[low], answers[high], strict=True)
            ]
        )
        assert ahead.sum() > 3 * np.sqrt((ahead**2).sum() - ahead.sum() ** 2 / ahead.size)


@pytest.mark.slow
def test_what_was_likely_is_what_happened_on_average(make_series):
    drill = make_series(SITUATIONS)
    rng = np.random.default_rng(3)
    graded = [grade(drill, q, random_place(drill, q, rng)) for q in drill.questions]
    for name in ("you", "plan", "rule", "habit"):
        p = np.array([g.of(name).p_usable for g in graded])
        usable = sum(g.of(name).usable for g in graded)
        # Four standard errors of a sum of yes and no, and two points for the lanes' width.
        error = 4 * np.sqrt((p * (1 - p)).sum()) + 0.02 * p.size
        assert usable == pytest.approx(p.sum(), abs=error)


@pytest.mark.slow
def test_the_same_seed_is_the_same_series_whatever_one_has_answered(rule):
    request = DrillRequest(kit=kit_of(["70-200", "300"]), length=12, seed=8)
    progress = progress_of([(card, Grade.MISS) for card in CARDS[:7]])
    fresh = drill_series(CONTEXT, request, rule=rule)
    trained = drill_series(CONTEXT, request, rule=rule, progress=progress, answered=7)
    assert fresh.questions == trained.questions
    other = drill_series(CONTEXT, replace(request, seed=9), rule=rule)
    assert fresh.questions != other.questions


@pytest.mark.slow
def test_a_longer_lens_does_not_change_what_is_asked(make_series, rule):
    short = make_series(6, seed=8)
    longer = drill_series(CONTEXT, DrillRequest(kit=DEMO_KIT, length=6, seed=8), rule=rule)
    assert short.questions == longer.questions


def test_a_missed_zone_is_asked_about_in_ones_own_series(rule):
    request = DrillRequest(kit=kit_of(["70-200", "300"]), length=4)
    answers = [(CARDS[9], Grade.MISS)] + [(card, Grade.GOOD) for card in CARDS if card != CARDS[9]]
    drill = drill_series(
        CONTEXT, request, rule=rule, progress=progress_of(answers), answered=len(answers)
    )
    assert drill.questions[0].card == CARDS[9]
    for question in drill.questions:
        situation = question.situation
        assert question.card == card_of(
            down=situation.down,
            distance_yd=situation.distance_yd,
            yardline_100=situation.yardline_100,
        )
        assert question.card.zone is zone_of(situation.yardline_100)


@pytest.mark.slow
def test_every_kind_is_asked_and_everybody_walks_from_the_same_start_within_the_limit(make_series):
    drill = make_series(48)
    assert set(Counter(q.card for q in drill.questions).values()) == {2}  # every kind as often
    assert {q.limit_yd for q in drill.questions} == {40.5, 109.5}
    for question in drill.questions:
        assert drill.scorer(question).open[question.start]
        graded = grade(drill, question, question.start)
        for choice in graded.others:
            # Behind closed ground one keeps moving: the place named is where that ends.
            assert drill.scorer(question).open[choice.station_index]
            crossing = choice.walk_yd > question.limit_yd + 1e-6
            assert crossing == choice.label.startswith("crossing to ")
            assert not crossing or (choice.p_usable, choice.usable) == (0.0, False)
        assert graded.of("best").p_usable >= max(c.p_usable for c in graded.others) - 1e-5


def test_usable_is_the_replays_geometry(make_series):
    drill = make_series(12)
    rows = np.array([q.row for q in drill.questions])
    direct = realized_quality(drill.solved.scorers[0], drill.replay.take(rows))
    for question, seen in zip(drill.questions, direct, strict=True):
        graded = grade(drill, question, question.start)
        for choice in (graded.answer, *graded.others):
            if choice.walk_yd <= question.limit_yd + 1e-6:
                assert choice.usable == (seen[choice.station_index] >= HAD_FROM)


@pytest.mark.slow
def test_walking_limits_are_those_asked_for(rule):
    request = DrillRequest(
        kit=kit_of(["70-200", "300"]), length=24, seed=5, walk_time=WalkTime(drive_yd=12.0)
    )
    drill = drill_series(CONTEXT, request, rule=rule)
    assert {q.limit_yd for q in drill.questions} == {12.0, 109.5}


@pytest.mark.slow
def test_the_rules_numbers_are_fitted_once_and_kept(make_series):
    drill = make_series(1)
    calls: list[tuple[int, ...]] = []

    def load(seasons, seed):
        calls.append(seasons)
        return first_games(seasons[-1], 12, seed=seed)

    plays = SeasonPlays(drill.season, True, (2017, 2018), load)
    assert rule_for(drill.solved, plays) == rule_for(drill.solved, plays)
    assert calls == [(2018,)]
