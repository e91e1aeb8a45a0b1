"""Finding a camera's clock error, and giving frames their plays."""

from datetime import timedelta

import numpy as np
import pytest
from tests.support.logs import GAME, START

from lensyard.errors import InvalidInputError
from lensyard.features.captions.clocks import match_clock
from lensyard.features.captions.compute import match_captures
from lensyard.features.captions.exif import PhotoTime, PhotoTimes
from lensyard.game.document import GameLog
from lensyard.game.entry import LoggedPlay, Team


def plays_at(snaps, *, delay_s=None):
    """Return plays snapped so many seconds after START; with delays only the logging is known."""
    found = []
    for i, snap in enumerate(snaps.tolist()):
        moment = START + timedelta(seconds=snap)
        late = 20.0 if delay_s is None else float(delay_s[i])
        found.append(
            LoggedPlay(
                number=i + 1,
                logged_at=moment + timedelta(seconds=late),
                quarter=1,
                offense=Team.HOME,
                yardline_100=50,
                snap_at=None if delay_s is not None else moment,
            )
        )
    return found


def a_game(rng, plays):
    """Return snaps: 35 to 80 s apart, with longer breaks."""
    gaps = rng.uniform(35, 80, plays) + np.where(rng.random(plays) < 0.12, rng.uniform(60, 240), 0)
    return np.cumsum(gaps)


def frames_of(rng, snaps, *, shot, elsewhere):
    """Return frames: a burst in some of the plays, and single frames anywhere."""
    some = snaps[rng.random(snaps.size) < shot]
    first = some + rng.normal(3.0, 1.5, some.size)
    bursts = (first[:, None] + np.arange(6)[None, :] * 0.1).ravel()
    return np.sort(np.concatenate([bursts, rng.uniform(0, snaps[-1], elsewhere)]))


@pytest.mark.slow
def test_the_error_is_found_whatever_it_is():
    """Over fifty invented games: within 3 s in nearly all (bursts scatter by 1.5 s)."""
    near = sure = 0
    for seed in range(50):
        rng = np.random.default_rng(seed)
        snaps = a_game(rng, 120)
        error = float(rng.uniform(-40_000, 40_000))
        frames = frames_of(rng, snaps, shot=0.6, elsewhere=40) - error
        found = match_clock(frames, plays_at(snaps), origin=START)
        sure += found.sure
        near += abs(found.offset_s - error) <= 3.0
    assert sure >= 48
    assert near >= 48


@pytest.mark.slow
def test_logging_times_alone_do_for_most_games():
    """Without snap times, logging 12 to 35 s after the snap: right to 15 s, or not sure."""
    near = wrong_and_sure = 0
    for seed in range(30):
        rng = np.random.default_rng(1000 + seed)
        snaps = a_game(rng, 120)
        plays = plays_at(snaps, delay_s=rng.uniform(12, 35, snaps.size))
        error = float(rng.uniform(-5_000, 5_000))
        frames = frames_of(rng, snaps, shot=0.7, elsewhere=20) - error
        found = match_clock(frames, plays, origin=START)
        close = abs(found.offset_s - error) <= 15.0
        near += close
        wrong_and_sure += found.sure and not close
    assert near >= 28
    assert wrong_and_sure <= 1


def test_frames_of_another_game_are_not_sure():
    """Unrelated times must not be matched: at most 2 of 40 may look sure (nominal level 5 %)."""
    sure = 0
    for seed in range(40):
        rng = np.random.default_rng(2000 + seed)
        plays = plays_at(a_game(rng, 60))
        frames = np.sort(rng.uniform(0, 7000, 40))
        sure += match_clock(frames, plays, origin=START).sure
    assert sure <= 2


def test_two_bursts_are_never_sure():
    plays = plays_at(np.array([60.0, 130.0, 220.0]))
    assert not match_clock(np.array([61.0, 131.0]), plays, origin=START).sure


def test_nothing_to_match_is_an_error():
    with pytest.raises(InvalidInputError, match="frames and plays"):
        match_clock(np.array([]), plays_at(np.array([60.0])), origin=START)
    with pytest.raises(InvalidInputError, match="14 hours"):
        match_clock(np.array([1e6]), plays_at(np.array([60.0])), origin=START)


def test_many_frames_that_fit_nothing_are_no_trouble_and_not_sure():
    """Five thousand bursts, all of them hours away from the plays."""
    frames = 40_000.0 + 20.0 * np.arange(5000)
    found = match_clock(frames, plays_at(np.array([60.0, 130.0, 220.0])), origin=START)
    assert not found.sure
    assert np.isfinite(found.confidence)


@pytest.mark.parametrize(
    ("logged_only", "at_s", "plays"),
    [
        # From 4 s before the snap to 14 s after it, and never into the next play.
        (False, [0, 55, 57, 65, 67, 84, 85, 195, 197, 213, 215], [0, 0, 1, 1, 2, 2, 0, 0, 3, 3, 0]),
        # From the play logged before, at most 90 s, to the moment of logging, 20 s after the snap.
        (True, [0, 79, 81, 89, 91, 129, 131, 219, 221], [1, 1, 2, 2, 0, 0, 3, 3, 0]),
    ],
)
def test_frames_go_to_the_play_around_them_or_to_none(logged_only, at_s, plays):
    delay_s = np.full(3, 20.0) if logged_only else None
    log = GameLog(GAME, tuple(plays_at(np.array([60.0, 70.0, 200.0]), delay_s=delay_s)))
    photos = tuple(
        PhotoTime(f"{s}.jpg", START + timedelta(seconds=s), "One", None, None) for s in at_s
    )
    found = match_captures(log, PhotoTimes(photos, ()), offsets={})
    assert [capture.play or 0 for capture in found.captures] == plays
