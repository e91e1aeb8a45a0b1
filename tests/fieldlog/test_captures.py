"""From capture times to the log: offsets, counts, keepers, undo."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from lensyard.errors import InvalidInputError, ParseError
from lensyard.features.game_log.captures import CaptureRequest, match_captures, parse_offsets
from lensyard.features.game_log.compute import list_game, restore_game, undo_last
from lensyard.game.document import GameLog, log_text
from lensyard.game.entry import LoggedPlay, Team

from .conftest import START


@pytest.fixture
def folder(tmp_path: Path, log: GameLog) -> Path:
    """A log of twenty plays, unevenly apart, in a folder of its own."""
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
    export = tmp_path / "log.json"
    text = log_text(GameLog(replace(log.game, ticks=()), tuple(plays)), exported_at=START)
    export.write_text(text, encoding="utf-8")
    restore_game(export, folder=tmp_path / "data")
    return tmp_path / "data"


def table(
    folder: Path, *, shot: Sequence[int], error_s: float, body: str = "One", rating: str = ""
) -> list[str]:
    """Return lines for a table: three frames in each of these plays, by a wrong clock."""
    lines = []
    for number in shot:
        snap = list_game(folder=folder).log.plays[number - 1].snap_at
        assert isinstance(snap, datetime)
        for k in range(3):
            moment = snap + timedelta(seconds=2.5 + 0.1 * k - error_s)
            lines.append(f"{body}{number}-{k}.jpg,{moment.isoformat()},{body},400,{rating}")
    return lines


def write(tmp_path: Path, lines: list[str]) -> Path:
    path = tmp_path / "times.csv"
    path.write_text("file,captured_at,body,focal_length_mm,rating\n" + "\n".join(lines))
    return path


def test_an_offset_that_is_given_is_used_and_frames_are_counted(
    tmp_path: Path, folder: Path
) -> None:
    shot = [1, 2, 3, 5, 8, 20]
    path = write(tmp_path, table(folder, shot=shot, error_s=100.0))
    answer = match_captures(CaptureRequest(path, offsets=("100",)), folder=folder)
    counted = {p.number: p.frames for p in answer.log.plays}
    assert counted == {n: 3 if n in shot else 0 for n in range(1, 21)}
    assert (answer.frames_in_plays, answer.plays) == (18, 6)
    assert [c.play for c in answer.log.captures] == [n for n in shot for _ in range(3)]


def test_each_camera_has_a_clock_of_its_own(tmp_path: Path, folder: Path) -> None:
    lines = table(folder, shot=range(1, 21, 2), error_s=-75.0)
    lines += table(folder, shot=range(2, 21), error_s=3600.0, body="Two")
    path = write(tmp_path, lines)
    answer = match_captures(CaptureRequest(path, match=True), folder=folder)
    found = {clock.body: clock for clock in answer.clocks}
    # The bursts begin 2.5 s after the snap; 2 s is what is expected.
    assert found["One"].offset_s == pytest.approx(-75.0, abs=1.5)
    assert found["Two"].offset_s == pytest.approx(3600.0, abs=1.5)
    assert answer.frames_in_plays == len(lines)
    assert found["One"].found is not None
    assert found["One"].found.low_s < -75.0 < found["One"].found.high_s


def test_one_offset_given_the_other_found(tmp_path: Path, folder: Path) -> None:
    lines = table(folder, shot=range(1, 21), error_s=50.0)
    lines += table(folder, shot=range(1, 21), error_s=-20.0, body="Two")
    request = CaptureRequest(write(tmp_path, lines), offsets=("Two=-20",), match=True)
    answer = match_captures(request, folder=folder)
    assert [(c.body, c.how) for c in answer.clocks] == [("One", "matched"), ("Two", "given")]
    assert answer.frames_in_plays == 120


def test_a_clock_that_cannot_be_told_is_refused_unless_accepted(
    tmp_path: Path, folder: Path
) -> None:
    path = write(tmp_path, table(folder, shot=[3, 9], error_s=30.0))
    with pytest.raises(InvalidInputError, match="--accept"):
        match_captures(CaptureRequest(path, match=True), folder=folder)
    assert list_game(folder=folder).log.captures == ()
    accepted = CaptureRequest(path, match=True, accept=True)
    assert match_captures(accepted, folder=folder).written


def test_stars_make_keepers_and_typed_keepers_are_not_lost(tmp_path: Path, folder: Path) -> None:
    path = write(tmp_path, table(folder, shot=[2, 4], error_s=0.0, rating="1"))
    answer = match_captures(CaptureRequest(path), folder=folder)
    kept = {p.number: p.keepers for p in answer.log.plays}
    assert (kept[2], kept[3], kept[4]) == (3, 0, 3)
    path = write(tmp_path, table(folder, shot=[2, 4], error_s=0.0))
    again = match_captures(CaptureRequest(path), folder=folder)
    assert again.log.plays[1].keepers == 3


def test_more_keepers_than_frames_is_a_warning(tmp_path: Path, folder: Path) -> None:
    lines = table(folder, shot=[2, 20], error_s=0.0)
    first = list_game(folder=folder).log.plays[0].snap_at
    assert first is not None
    lines.append(f"x.jpg,{(first - timedelta(seconds=60)).isoformat()},One,400,")
    answer = match_captures(CaptureRequest(write(tmp_path, lines)), folder=folder)
    assert "play 1 has 1 keepers" in answer.warnings[0]
    assert answer.log.plays[0].frames == 1


def test_undo_takes_captures_back(tmp_path: Path, folder: Path) -> None:
    before = list_game(folder=folder).log
    path = write(tmp_path, table(folder, shot=range(1, 21), error_s=0.0))
    match_captures(CaptureRequest(path), folder=folder)
    undo_last(folder=folder)
    assert list_game(folder=folder).log == before


def test_a_dry_run_writes_nothing(tmp_path: Path, folder: Path) -> None:
    before = list_game(folder=folder).log
    path = write(tmp_path, table(folder, shot=range(1, 21), error_s=0.0))
    answer = match_captures(CaptureRequest(path, write=False), folder=folder)
    assert answer.frames_in_plays == 60
    assert list_game(folder=folder).log == before


def test_an_unknown_camera_is_an_error(tmp_path: Path, folder: Path) -> None:
    path = write(tmp_path, table(folder, shot=[1], error_s=0.0))
    with pytest.raises(InvalidInputError, match="'Three'"):
        match_captures(CaptureRequest(path, offsets=("Three=1",)), folder=folder)


@pytest.mark.parametrize("texts", [("x",), ("nan",), ("1e12",), ("1", "2"), ("One=",)])
def test_offsets_that_cannot_be_read(texts: tuple[str, ...]) -> None:
    with pytest.raises(ParseError, match="offset"):
        parse_offsets(texts)


def test_offsets_by_camera_and_for_all_others() -> None:
    assert parse_offsets(("12.5", "A=B 7=-3")) == {"": 12.5, "A=B 7": -3.0}
