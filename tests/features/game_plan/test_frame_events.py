"""Which plays make a frame, with an invented model whose probabilities are known by heart."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.support.field import CENTER_Y_YD, FIELD_WIDTH_YD

from lensyard.domain.assignment import FRAMES, Faces, FrameKind
from lensyard.domain.field import HashMark, rules_named
from lensyard.domain.kit import kit_of
from lensyard.domain.perimeter import perimeter_of
from lensyard.domain.situation import Situation, SituationBatch
from lensyard.domain.venue import standard_venue
from lensyard.features.game_plan.frame_events import (
    EVENTS,
    drop_back_visible,
    expected_plays,
    face_scorers,
    frame_mass,
    frame_probabilities,
)
from lensyard.model.cells import JointOutcome
from lensyard.model.lateral import LateralPrior
from lensyard.model.outcome_grid import X_YD, Y_YD
from lensyard.spots.scorer import Scorer

PRO = rules_named("pro")
# Run, complete, incomplete, sack, scramble, interception.
KINDS = np.array([0.40, 0.30, 0.20, 0.05, 0.03, 0.02])
P_DROP_BACK = 0.60
BATCH = SituationBatch.of(
    [Situation(1, 10, 55), Situation(2, 8, 8), Situation(1, 10, 80, HashMark.LEFT)]
)


def invented_outcome():
    """Runs gain 4, completions 12, sacks lose 6, scrambles 9; passes come down 15 downfield."""
    gain, air = np.zeros((4, 120)), np.zeros((2, 81))
    gain[np.arange(4), np.array([4, 12, -6, 9]) + 20] = 1.0
    air[:, 15 + 10] = 1.0
    n = len(BATCH)
    return JointOutcome.of(
        BATCH,
        p_kind=np.tile(KINDS, (n, 1)),
        gain_pmf=np.tile(gain, (n, 1, 1)),
        air_pmf=np.tile(air, (n, 1, 1)),
        p_caught_in_end_zone=np.full(n, 0.5),
    )


@pytest.fixture(scope="module")
def prior():
    return LateralPrior.build(rules=PRO)


@pytest.fixture(scope="module")
def outcome():
    return invented_outcome()


@pytest.fixture(scope="module")
def scorers():
    perimeter = perimeter_of(standard_venue("pro"), step_yd=4.0)
    return face_scorers(Scorer(perimeter, kit_of(["70-200", "400"])))


def total(key, outcome, prior):
    return frame_mass(EVENTS[key], outcome, prior).ends.sum(axis=1)


def test_the_mass_of_a_frame_is_the_probability_of_its_plays(outcome, prior):
    # At the 8 completions (12) and scrambles (9) score, runs (4) do not. float32 sums.
    def of(key):
        return total(key, outcome, prior)

    assert of("carrier") == pytest.approx([0.73, 0.73, 0.73], abs=1e-5)
    assert of("catch") == pytest.approx([0.30, 0.30, 0.30], abs=1e-5)
    assert of("touchdown") == pytest.approx([0.0, 0.33, 0.0], abs=1e-5)
    assert of("defense-big-play") == pytest.approx([0.07, 0.07, 0.07], abs=1e-5)
    assert 0 < of("pylon-dive")[1] < of("touchdown")[1]


def test_a_carrier_is_had_on_the_path_and_a_touchdown_where_it_is_scored(outcome, prior):
    carrier = frame_mass(EVENTS["carrier"], outcome, prior).by_x
    ends, starts = (set(X_YD[part.sum(axis=1) > 1e-6]) for part in carrier[0])
    assert ends == {59.0, 64.0, 67.0}  # line 55 + 4, 9, 12
    assert 55.0 in starts
    assert max(starts) == 67.0  # some passes are caught where the play ends
    ends, starts = frame_mass(EVENTS["touchdown"], outcome, prior).by_x[1]
    assert (ends == starts).all()
    assert set(X_YD[ends.sum(axis=1) > 1e-6]) == set(range(111, 120))


def test_the_dive_is_at_the_goal_line_and_in_the_two_outer_lanes(outcome, prior):
    dive = frame_mass(EVENTS["pylon-dive"], outcome, prior).by_x[1, 0]
    x, y = np.nonzero(dive > 0)
    assert set(X_YD[x]) == {111.0}
    assert (np.minimum(Y_YD[y], FIELD_WIDTH_YD - Y_YD[y]) <= 3.0).all()
    assert dive[:, : len(Y_YD) // 2].sum() == pytest.approx(
        dive[:, len(Y_YD) // 2 :].sum(), rel=1e-4
    )  # the ball lies in the middle: both pylons alike


def test_a_catch_lies_short_of_the_end_of_the_play(outcome, prior):
    ends, starts = frame_mass(EVENTS["catch"], outcome, prior).by_x[0]
    assert (ends == starts).all()
    along = ends.sum(axis=1) / ends.sum()
    # Catches of 12 yd lie 5 to 6 yd before the end on average (bundled plays: 5.6 for 12 and 13).
    assert X_YD[along > 1e-6].max() == 67.0
    assert 67.0 - along @ X_YD == pytest.approx(5.5, abs=0.3)


def test_the_drop_back_is_had_from_ahead_within_reach_and_not_from_behind(scorers):
    scorer = scorers[Faces.OFFENSE]
    seen = drop_back_visible(scorer, BATCH, PRO)
    x, y = scorer.xy_yd
    for row, (line, ball_y) in enumerate(
        [(55.0, CENTER_Y_YD), (102.0, CENTER_Y_YD), (30.0, PRO.ball_y_yd(HashMark.LEFT))]
    ):
        dx, dy = x - (line - 7.0), y - ball_y
        distance = np.hypot(dx, dy)
        ahead = np.degrees(np.arctan2(np.abs(dy), dx)) <= 75.0
        expected = scorer.open & ahead & (distance < 63.1)  # crop margin of 40 yd, hash marks
        nearest = min(m.nearest_yd for m in scorer.kit.mounted)
        expected &= distance >= nearest
        # Without the lines of sight (posts, team areas) nothing more than this can be seen.
        assert not ((seen[row] > 0) & ~expected).any()
    # The opening series from its own 20: the open sideline just ahead has him, just behind not.
    for x_yd, had in ((35.0, 1.0), (15.0, 0.0)):
        station = int(np.argmin(np.hypot(x - x_yd, y - (FIELD_WIDTH_YD + 5))))
        assert scorer.open[station]
        assert seen[2, station] == had


def test_p_of_the_drop_back_is_that_of_a_pass_play_where_it_can_be_seen(found, scorers):
    seen = drop_back_visible(scorers[Faces.OFFENSE], BATCH, PRO)
    assert found["drop-back"] == pytest.approx(P_DROP_BACK * seen)
    assert found["drop-back"].shape == (3, len(scorers[Faces.OFFENSE].perimeter))


def test_the_defense_is_had_from_behind_the_offense(found, scorers):
    p = found["defense-big-play"]
    x, _ = scorers[Faces.DEFENSE].xy_yd
    # Sacks end at 49, interceptions come down at 70: nobody ahead of both has a face.
    assert p[0, x > 72].max() == 0.0
    assert p[0, x < 70].max() > 0.01


@pytest.fixture(scope="module")
def found(scorers, outcome, prior):
    return frame_probabilities(
        [*EVENTS, "alumni-row"],
        scorers,
        BATCH,
        outcome,
        prior,
        p_drop_back=np.full(3, P_DROP_BACK),
    )


def test_frames_of_a_play_are_as_likely_as_they_include_each_other(found, scorers):
    assert set(found) == {f.key for f in FRAMES.values() if f.kind is FrameKind.ACTION}
    for key, p in found.items():
        assert p.min() >= 0
        assert p.max() <= 1
        assert (p[:, ~scorers[EVENTS[key].faces].open] == 0).all()
    assert (found["pylon-dive"] <= found["touchdown"] + 1e-6).all()
    assert (found["touchdown"] <= found["carrier"] + 1e-6).all()


# --- plays until a frame can be ticked


@given(p=st.lists(st.floats(0.0, 1.0), max_size=5), last=st.floats(0.05, 1.0))
def test_waiting_equals_the_sum_over_plays(p, last):
    chances = np.array([*p, *([last] * 4000)])
    alive = np.concatenate([[1.0], np.cumprod(1 - chances)[:-1]])
    by_sum = float((np.arange(1, chances.size + 1) * chances * alive).sum())
    assert expected_plays(np.array([*p, last])) == pytest.approx(by_sum, rel=1e-9)


def test_what_cannot_happen_is_never_had():
    assert expected_plays(np.array([0.5, 0.0])) == float("inf")
    assert expected_plays(np.array([1.0, 0.0])) == 1.0
