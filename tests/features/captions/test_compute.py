"""From capture times to plays: offsets, counts, keepers."""

import re
from datetime import datetime, timedelta

import pytest
from tests.support.logs import GAME, START

from lensyard.errors import InvalidInputError
from lensyard.features.captions.compute import match_captures
from lensyard.features.captions.exif import PhotoTime, PhotoTimes
from lensyard.features.captions.report import capture_report
from lensyard.game.document import GameLog
from lensyard.game.entry import LoggedPlay, Team
from lensyard.render.text import render_text


def a_log():
    """Return a log of twenty plays, unevenly apart."""
    plays = []
    for i in range(20):
        snap = START + timedelta(seconds=60 * i + 7 * (i * i % 11))
        plays.append(
            LoggedPlay(
                number=i + 1,
                logged_at=snap + timedelta(seconds=20),
                snap_at=snap,
                quarter=1,
                offense=Team.HOME,
                yardline_100=50,
                down=1,
                distance_yd=10,
                keepers=1 if i == 0 else None,
            )
        )
    return GameLog(GAME, tuple(plays))


LOG = a_log()


def frames(shot, *, error_s, body="One", rating=None):
    """Return three frames in each of these plays, by a wrong clock."""
    found = []
    for number in shot:
        snap = LOG.plays[number - 1].snap_at
        assert isinstance(snap, datetime)
        for k in range(3):
            moment = snap + timedelta(seconds=2.5 + 0.1 * k - error_s)
            found.append(PhotoTime(f"{body}{number}-{k}.jpg", moment, body, 400.0, rating))
    return found


def matched(photos, *, offsets=None, **more):
    photos.sort(key=lambda photo: photo.captured_at)
    return match_captures(LOG, PhotoTimes(tuple(photos), ()), offsets=offsets or {}, **more)


def test_an_offset_that_is_given_is_used_and_frames_are_counted():
    shot = [1, 2, 3, 5, 8, 20]
    found = matched(frames(shot, error_s=100.0), offsets={"": 100.0})
    assert {p.number: p.frames for p in found.counted} == {
        n: 3 if n in shot else 0 for n in range(1, 21)
    }
    assert (found.frames_in_plays, found.plays_with_frames) == (18, 6)
    assert [c.play for c in found.captures] == [n for n in shot for _ in range(3)]


def test_each_camera_has_a_clock_of_its_own():
    photos = frames(range(1, 21, 2), error_s=-75.0)
    photos += frames(range(2, 21), error_s=3600.0, body="Two")
    found = matched(photos, find_clocks=True)
    clocks = {clock.body: clock for clock in found.clocks}
    # The bursts begin 2.5 s after the snap; 2 s is what is expected.
    assert clocks["One"].offset_s == pytest.approx(-75.0, abs=1.5)
    assert clocks["Two"].offset_s == pytest.approx(3600.0, abs=1.5)
    assert found.frames_in_plays == len(photos)
    assert clocks["One"].found is not None
    assert clocks["One"].found.low_s < -75.0 < clocks["One"].found.high_s


def test_one_offset_given_the_other_found():
    photos = frames(range(1, 21), error_s=50.0) + frames(range(1, 21), error_s=-20.0, body="Two")
    found = matched(photos, offsets={"Two": -20.0}, find_clocks=True)
    assert [(c.body, c.how) for c in found.clocks] == [("One", "matched"), ("Two", "given")]
    assert found.frames_in_plays == 120


def test_a_clock_that_cannot_be_told_is_refused_unless_accepted():
    photos = frames([3, 9], error_s=30.0)
    with pytest.raises(InvalidInputError, match="--accept"):
        matched(photos, find_clocks=True)
    assert matched(photos, find_clocks=True, accept=True).clocks[0].how == "matched"


def test_a_camera_that_cannot_be_told_is_left_out_and_the_others_go_on():
    stray = [PhotoTime("phone.jpg", START + timedelta(seconds=s), "Phone", None, None)
             for s in (5.0, 700.0)]  # fmt: skip
    # A clock that was reset for one frame of a camera: decades of half seconds are not searched.
    reset = PhotoTime("a.jpg", START - timedelta(days=9000), "One", None, None)
    photos = [*frames(range(1, 21), error_s=50.0), *stray, reset]
    found = matched(photos, find_clocks=True)
    assert [clock.body for clock in found.clocks] == ["One"]
    assert (found.frames, found.frames_in_plays) == (61, 60)
    told = " ".join(render_text(capture_report(found)).split())
    assert "2 frames of Phone were left out: the clock of Phone cannot be told" in told
    only_first = [*frames([1, 2], error_s=0.0), reset]
    assert {play.number for play in matched(only_first).counted} == {1, 2, 3}


def test_stars_make_keepers_and_typed_keepers_are_not_lost():
    rated = matched(frames([2, 4], error_s=0.0, rating=1))
    assert {p.number: p.keepers for p in rated.counted} == {1: 0, 2: 3, 3: 0, 4: 3, 5: 0, 6: 0}
    plain = matched(frames([1, 4], error_s=0.0))
    assert plain.counted[0].keepers == 1


def test_more_keepers_than_frames_is_a_caution():
    photos = frames([2, 20], error_s=0.0)
    photos.append(PhotoTime("x.jpg", START - timedelta(seconds=60), "One", None, None))
    found = matched(photos)
    assert "Play 1 has 1 keepers" in found.warnings[0]
    assert found.counted[0].frames == 1
    assert "Caution: Play 1 has 1 keepers" in render_text(capture_report(found))


def test_the_report_says_how_each_clock_was_found():
    told = render_text(capture_report(matched(frames(range(1, 21), error_s=50), find_clocks=True)))
    assert "60 of 60 frames belong to 20 of 20 plays of week-5; nothing was written" in told
    assert "matched" in told
    assert re.search(r"\+(49|50)\.\d", told)


def test_an_unknown_camera_and_a_log_without_plays_are_errors():
    photos = frames([1], error_s=0.0)
    with pytest.raises(InvalidInputError, match="'Three'"):
        matched(photos, offsets={"Three": 1.0})
    with pytest.raises(InvalidInputError, match="no plays"):
        match_captures(GameLog(GAME, ()), PhotoTimes(tuple(photos), ()), offsets={})
