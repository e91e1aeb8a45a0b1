"""A walk is time: the tempos are those of the bundled clock, and paces those of people."""

import math

import numpy as np
import pytest
from tests.support.field import METERS_PER_YARD

from lensyard.domain.perimeter import SNAP_TO_SNAP_S, Tempo, WalkTime, walk_s
from lensyard.errors import InvalidInputError
from lensyard.plays.store import shared_store

CHANGE_LIMIT_YD = 109.5
DRIVE_LIMIT_YD = 40.5
PACE_YD_S = 1.5


def test_the_pace_lies_inside_the_published_comfortable_range():
    # Group means from the 20s to the 70s: Bohannon 1997, Age and Ageing 26:15-19. [m/s]
    assert 1.272 <= PACE_YD_S * METERS_PER_YARD <= 1.462


def test_a_walk_takes_its_length_over_the_pace():
    assert walk_s(30.0) == pytest.approx(20.0)
    assert (walk_s(0.0), walk_s(math.inf)) == (0.0, math.inf)
    # A slower walker: pedestrian crossing mean 1.32 m/s (Andrews et al.)
    assert walk_s(30.0, pace_yd_s=1.32 / METERS_PER_YARD) == pytest.approx(30 * 0.9144 / 1.32)


@pytest.mark.parametrize("pace", [0.0, -1.0, math.nan])
def test_a_pace_that_is_none_is_refused(pace):
    with pytest.raises(InvalidInputError, match="pace_yd_s"):
        walk_s(30.0, pace_yd_s=pace)


def test_how_far_one_gets_is_the_time_less_the_play_and_settling_times_the_pace():
    assert (DRIVE_LIMIT_YD, CHANGE_LIMIT_YD) == (40.5, 109.5)
    assert WalkTime.of(Tempo.HURRY).drive_yd == 12.0
    assert WalkTime.of(pace_yd_s=2.5).drive_yd == 67.5
    assert WalkTime.of(Tempo.HURRY, settle_s=30.0).drive_yd == 0.0
    assert WalkTime.of(pace_yd_s=6.0, settle_s=0.0).change_yd == 400.0


# Snaps of one drive and quarter with the next one; the ball down in bounds, so the clock runs on.
BETWEEN = """
    WITH snaps AS (
        SELECT *, lead(clock_s) OVER game AS next_clock_s, lead(quarter) OVER game AS next_quarter,
               lead(offense) OVER game AS next_offense, lead(drive_index) OVER game AS next_drive
        FROM plays
        WHERE season BETWEEN 2016 AND 2019 AND quarter <= 4
              AND kind IN ('run', 'complete', 'incomplete', 'sack', 'scramble', 'interception',
                           'punt', 'field_goal', 'kneel', 'spike', 'no_play')
        WINDOW game AS (PARTITION BY game_id ORDER BY play_index)
    )
    SELECT clock_s - next_clock_s AS elapsed_s, quarter, clock_s FROM snaps
    WHERE kind IN ('run', 'complete', 'sack', 'scramble') AND NOT out_of_bounds AND NOT penalty
          AND NOT touchdown AND NOT turnover AND next_drive = drive_index
          AND next_quarter = quarter AND next_offense = offense AND clock_s > next_clock_s
"""


def test_the_tempos_are_the_medians_of_the_bundled_clock():
    found = shared_store().query(BETWEEN)
    elapsed = found["elapsed_s"].to_numpy(dtype=np.float64)
    late = (found["quarter"].isin((2, 4)) & (found["clock_s"] <= 120)).to_numpy()
    assert len(elapsed) > 50_000
    assert np.median(elapsed) == SNAP_TO_SNAP_S[Tempo.USUAL]
    low, high = np.quantile(elapsed, (0.1, 0.9))
    assert (low, high) == (21.0, 45.0)
    assert np.median(elapsed[late]) == SNAP_TO_SNAP_S[Tempo.HURRY]
