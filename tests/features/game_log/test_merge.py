"""``lensyard log merge``: three logs of one game become one, once and for all."""

import json
from dataclasses import replace
from datetime import timedelta

import pytest
from data.recipes.demo_game import KICKOFF, demo_log
from tests.support.logs import log_in, run

from lensyard.game.document import GameLog, log_text
from lensyard.game.entry import Capture, Result

DEMO = demo_log()


@pytest.fixture(autouse=True)
def folder(monkeypatch, tmp_path):
    monkeypatch.setenv("LENSYARD_DATA_DIR", str(tmp_path / "data"))
    return tmp_path / "data"


def crew_logs(place):
    """Three logs of the demo game: each misses plays, is off by seconds, and counts their own."""
    found = {}
    for i, who in enumerate(("ann", "bo", "cy")):
        off = timedelta(seconds=(0, 7, -11)[i])
        kept = [p for p in DEMO.plays if p.number % 5 != i]
        plays = tuple(
            replace(
                play,
                number=number,
                logged_at=play.logged_at + off,
                snap_at=None if i == 2 or play.snap_at is None else play.snap_at + off,
                frames=4 if play.number % 3 == i else 0,
                keepers=1 if play.number % 3 == i else 0,
                ticks=(),
                note="",
            )
            for number, play in enumerate(kept, start=1)
        )
        captures = tuple(
            Capture(f"f{p.number}.jpg", p.logged_at, p.logged_at, play=p.number)
            for p in plays
            if p.frames
        )
        log = GameLog(replace(DEMO.game, game_id=f"week-5-{who}"), plays, captures)
        found[who] = place / f"{who}.json"
        found[who].write_text(log_text(log, exported_at=KICKOFF), encoding="utf-8")
    return found


def test_three_logs_merge_into_all_plays_once_and_a_second_time_changes_nothing(
    capsys, folder, tmp_path
):
    files = [str(path) for path in crew_logs(tmp_path).values()]
    code, out, err = run(capsys, "log", "merge", *files, "--as", "week-5", "--json")
    assert (code, err) == (0, "")
    found = json.loads(out)
    log = log_in(folder, "week-5")
    # Every play is in two logs at least; none is lost, none doubled.
    assert (found["plays"], found["added"], found["conflicts"]) == (60, 60, [])
    assert [(p.down, p.yardline_100, p.result) for p in log.plays] == [
        (p.down, p.yardline_100, p.result) for p in DEMO.plays
    ]
    members = {m["who"]: m for m in found["take"]["members"]}
    assert sum(m["plays"] for m in members.values()) == 3 * 60 - 36
    assert sum(p.frames or 0 for p in log.plays) == sum(m["frames"] for m in members.values())
    nobody = {p.number for p in log.plays if not p.frames}
    assert set(found["take"]["nobody"]) == nobody
    assert len(log.captures) == sum(m["had"] for m in members.values())
    by_number = {p.number: p for p in log.plays}
    assert all(by_number[c.play].frames for c in log.captures if c.play is not None)

    code, out, _ = run(capsys, "log", "merge", *files, "--as", "week-5", "--json")
    assert (code, json.loads(out)["added"]) == (0, 0)
    assert log_in(folder, "week-5") == log
    # One after another, in another order, comes to the same plays.
    for path in (files[2], files[0], files[1]):
        assert run(capsys, "log", "merge", path, "--as", "again")[0] == 0
    again = log_in(folder, "again")
    assert [(p.quarter, p.down, p.yardline_100, p.frames) for p in again.plays] == [
        (p.quarter, p.down, p.yardline_100, p.frames) for p in log.plays
    ]


def test_what_two_say_differently_is_shown_and_the_first_stays(capsys, folder, tmp_path):
    files = crew_logs(tmp_path)
    document = json.loads(files["bo"].read_text(encoding="utf-8"))
    # The demo's third play, a completion of 27 yards, is the second or third of each log.
    (third,) = (p for p in document["plays"] if p["gain_yd"] == 27 and p["quarter"] == 1)
    third |= {"result": "run", "gain_yd": 25, "frames": 3, "keepers": 1}
    files["bo"].write_text(json.dumps(document), encoding="utf-8")
    code, out, _ = run(capsys, "log", "merge", str(files["ann"]), str(files["bo"]), "--as", "w")
    assert code == 0
    assert "2 conflicts" in out
    text = " ".join(out.split())
    assert "result complete run bo" in text
    assert "gain_yd 27 25 bo" in text
    assert "Two or more had 1 plays: 3 (ann and bo)." in text
    play = log_in(folder, "w").plays[2]
    assert (play.result, play.gain_yd, play.frames, play.keepers) == (Result.COMPLETE, 27, 7, 2)
    before = log_in(folder, "w").plays
    run(capsys, "log", "merge", str(files["cy"]), "--as", "w")
    assert any("cy" in play.source for play in log_in(folder, "w").plays)
    assert run(capsys, "log", "undo", "--game", "w")[0] == 0
    assert log_in(folder, "w").plays == before


@pytest.mark.slow
def test_the_review_says_who_had_which_play(capsys, tmp_path):
    files = [str(path) for path in crew_logs(tmp_path).values()]
    assert run(capsys, "log", "merge", *files, "--as", "week-5")[0] == 0
    code, out, _ = run(capsys, "review", "--game", "week-5")
    text = " ".join(out.split())
    assert code == 0
    assert "Who had which play: Saltgrass Kites at Brindle Prairie Marmots" in text
    assert "of 60 plays" in text
    assert "Nobody had" in text


@pytest.mark.parametrize(
    ("change", "arguments", "says"),
    [
        ({"home": "Otters"}, (), "is of Saltgrass Kites at Otters"),
        ({}, ("ann=",), "two logs are of ann"),
        ({}, ("Ann Example=",), "a photographer's name is"),
    ],
)
def test_logs_that_do_not_go_together_are_refused_and_nothing_is_written(
    capsys, folder, tmp_path, change, arguments, says
):
    files = crew_logs(tmp_path)
    document = json.loads(files["bo"].read_text(encoding="utf-8"))
    document["game"] |= change
    files["bo"].write_text(json.dumps(document), encoding="utf-8")
    second = f"{arguments[0] if arguments else ''}{files['bo']}"
    code, out, err = run(capsys, "log", "merge", str(files["ann"]), second)
    assert (code, out) == (2, "")
    assert says in " ".join(err.split())
    assert run(capsys, "log", "games")[1].count("week-5") == 0
