"""``lensyard capture`` from the outside, on the demo game."""

import json

import pytest
from data.recipes.demo_game import CLOCK_ERRORS_S
from tests.support.logs import DEMO, log_in, run

TIMES, FRAMES = DEMO / "times.csv", DEMO / "frames"


@pytest.fixture(autouse=True)
def folder(monkeypatch, tmp_path, capsys):
    """A folder with the demo game."""
    monkeypatch.setenv("LENSYARD_DATA_DIR", str(tmp_path / "data"))
    assert run(capsys, "demo")[0] == 0
    return tmp_path / "data"


@pytest.mark.slow
def test_clock_errors_of_the_demo_are_found_and_undo_takes_the_counts_back(capsys, folder):
    before = log_in(folder)
    code, out, _ = run(capsys, "capture", str(TIMES), "--game", "demo", "--match", "--json")
    document = json.loads(out)
    assert code == 0
    assert document["frames_in_plays"] == document["frames"] == len(log_in(folder).captures)
    assert document["written"] is True
    for clock in document["clocks"]:
        # What is to be added is the error's opposite; bursts begin .5 to 4 s after the snap.
        assert clock["offset_s"] == pytest.approx(-CLOCK_ERRORS_S[clock["body"]], abs=2.0)
        assert clock["found"]["confidence"] > 0.99
    run(capsys, "log", "undo", "--game", "demo")
    assert log_in(folder) == before


def test_a_dry_run_writes_nothing_and_files_that_give_no_time_are_named(capsys, folder, tmp_path):
    before = log_in(folder)
    frames = tmp_path / "frames"
    frames.mkdir()
    for photo in FRAMES.iterdir():
        (frames / photo.name).write_bytes(photo.read_bytes())
    (frames / "broken.jpg").write_bytes(b"\xff\xd8\xff")
    code, out, _ = run(capsys, "capture", str(frames), "--game", "demo", "--match", "--dry-run")
    assert code == 0
    assert "nothing was written" in out
    assert "1 file gave no time" in out
    assert "broken.jpg: " in out
    assert log_in(folder) == before


@pytest.mark.slow
@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("gone",), "no folder"),
        (("gone.csv",), "cannot read"),
        *(
            ((str(FRAMES), *(word for one in given for word in ("--offset", one))), "offset")
            for given in (("soon",), ("nan",), ("1e12",), ("1", "2"), ("One=",))
        ),
        ((str(FRAMES), "--game", "other"), "game must be one of"),
    ],
)
def test_what_cannot_be_is_exit_2(capsys, arguments, says):
    code, out, err = run(capsys, "capture", *arguments)
    assert (code, out) == (2, "")
    assert says in err


def test_a_log_that_changed_meanwhile_is_not_overwritten(folder):
    from lensyard.errors import InvalidInputError
    from lensyard.game.logbook import open_log

    before = log_in(folder)
    with open_log(folder) as book:
        book.edit("demo", 1, {"note": "changed"})
        with pytest.raises(InvalidInputError, match="was changed"):
            book.set_captures(before, (), ())
