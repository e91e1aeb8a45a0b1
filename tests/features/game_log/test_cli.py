"""``lensyard log`` from the outside."""

import csv
import io
import json
import os
from pathlib import Path

import pytest
from data.recipes.demo_game import build_demo
from tests.support import logs
from tests.support.logs import DEMO, log_in, run

from lensyard.features.captions.exif import read_photos


@pytest.fixture(autouse=True)
def _own_folders(monkeypatch, tmp_path):
    monkeypatch.setenv("LENSYARD_DATA_DIR", str(tmp_path / "data"))


START = ("log", "start", "--home", "Otters", "--away", "Herons", "--id", "g")
PLAY = (
    "log", "add", "--down", "3", "--distance", "7", "--ball", "opp35", "--spot", "left:opp20",
    "--result", "complete", "--gain", "12", "--frames", "8", "--keepers", "2", "--tick", "catch",
)  # fmt: skip


def document(capsys, *arguments):
    code, out, _ = run(capsys, *arguments, "--json")
    assert code == 0
    found: dict[str, object] = json.loads(out)
    assert {"schema_version", "model", "cautions"} <= set(found)
    return found


@pytest.fixture(scope="module")
def started(tmp_path_factory):
    folder = tmp_path_factory.mktemp("started")
    logs.start(folder)
    return folder


def test_a_game_is_started_logged_listed_and_ended(capsys):
    assert run(capsys, *START)[0] == 0
    code, out, err = run(capsys, *PLAY)
    assert (code, err) == (0, "")
    assert "Play 1 is logged" in out
    assert "complete +12" in out
    code, out, _ = run(capsys, "log", "list")
    assert "3rd and 7" in out
    assert "catch" in out
    assert "ended" in run(capsys, "log", "end")[1].lower()
    assert "ended" in run(capsys, "log", "games")[1]


def test_one_entry_a_play_sets_up_the_next(capsys):
    run(capsys, *START)
    for arguments, follows in (
        (("--result", "kick", "--to", "goal"), ("away", 1, 10, 65)),  # touchback at the 35
        (("--result", "run", "--gain", "4"), ("away", 2, 6, 61)),
        (("--result", "gain", "--to", "50"), ("away", 1, 10, 50)),
        (("--result", "incomplete"), ("away", 2, 10, 50)),
        (("--result", "no-play", "--to", "own40"), ("away", 2, 20, 60)),
        (("--result", "gain", "--to", "own42"), ("away", 3, 18, 58)),
        (("--result", "incomplete"), ("away", 4, 18, 58)),
        (("--result", "kick", "--to", "opp12"), ("home", 1, 10, 88)),
        (("--result", "complete", "--touchdown"), ("home", None, None, 15)),
        (("--result", "field-goal"), ("home", None, None, 65)),
    ):
        following = document(capsys, "log", "add", *arguments)["next"]
        assert isinstance(following, dict)
        names = ("offense", "down", "distance_yd", "yardline_100")
        assert tuple(following[name] for name in names) == follows
    assert (following["home_points"], following["away_points"]) == (7, 0)
    listed = document(capsys, "log", "list")["plays"]
    assert isinstance(listed, list)
    assert [play["score_diff"] for play in listed] == [0] * 9 + [6]
    assert run(capsys, "log", "undo")[0] == 0
    assert "Otters has a try at opp15" in run(capsys, "log", "list")[1]


def test_a_second_game_does_not_start_by_accident(capsys):
    run(capsys, *START)
    other = ("log", "start", "--home", "Kites", "--away", "Marmots", "--id", "h")
    code, _, err = run(capsys, *other)
    assert (code, "--new" in err, "Herons at Otters" in err) == (2, True, True)
    assert run(capsys, *other, "--new")[0] == 0
    code, _, err = run(capsys, *PLAY)
    assert (code, "--game: g, h" in err) == (2, True)
    code, out, _ = run(capsys, *PLAY, "--game", "g")
    assert "Play 1 is logged in g" in out


def test_what_is_left_out_follows_from_the_play_before(capsys):
    run(capsys, *START)
    run(capsys, *PLAY, "--offense", "away", "--quarter", "2")
    play = document(capsys, "log", "add", "--down", "1", "--ball", "opp8", "--spot", "same")["play"]
    assert isinstance(play, dict)
    assert (play["quarter"], play["offense"], play["distance_yd"]) == (2, "away", 8)
    assert (play["spot"], play["changed_hands"]) == ("left:opp20", False)
    turned = document(
        capsys, "log", "add", "--down", "1", "--ball", "own30", "--ball-changed-hands",
        "--spot", "same", "--touchdown", "--end-of-quarter",
    )["play"]  # fmt: skip
    assert isinstance(turned, dict)
    assert (turned["offense"], turned["spot"], turned["direction"]) == (
        "home", "right:own20", -play["direction"],
    )  # fmt: skip
    assert turned["gain_yd"] == 70
    third = document(capsys, "log", "add", "--down", "1", "--ball", "50")["play"]
    assert isinstance(third, dict)
    assert third["quarter"] == 3


@pytest.mark.slow
def test_each_quarter_break_has_its_loud_reminder(capsys):
    code, _, err = run(capsys, *START, "--assignment", "agency")
    assert code == 0
    assert "BEFORE KICKOFF" in err
    assert "LAST CHANCE: warm-ups" in err
    assert run(capsys, *PLAY)[2] == ""
    _, out, err = run(capsys, "log", "add", "--down", "1", "--ball", "50", "--end-of-quarter")
    assert "AFTER THE 1ST QUARTER" in err
    assert "coaches" in err
    assert "!!!!" not in out
    assert run(capsys, "log", "add", "--down", "1", "--ball", "50")[2] == ""  # not twice
    _, _, err = run(capsys, "log", "add", "--down", "1", "--ball", "50", "--quarter", "3")
    assert "HALFTIME" in err
    run(capsys, "log", "tick", "coaches", "fans")
    found = document(capsys, "log", "tick")
    assert "fans" not in found["missing"]  # type: ignore[operator]
    assert "handshake" in found["missing"]  # type: ignore[operator]
    _, _, err = run(capsys, "log", "end")
    assert "LAST CHANCE: handshake" in err


@pytest.mark.slow
def test_undo_and_edit(capsys):
    run(capsys, *START)
    run(capsys, *PLAY)
    run(capsys, "log", "edit", "1", "--gain", "9", "--tick", "carrier", "--spot", "end:left12")
    play = document(capsys, "log", "list")["plays"]
    assert isinstance(play, list)
    assert (play[0]["gain_yd"], play[0]["ticks"]) == (9, ["catch", "carrier"])
    run(capsys, "log", "tick", "catch", "--off")
    assert document(capsys, "log", "list")["ticked"] == ["carrier"]
    for expected in ("tick", "edit", "add"):
        code, out, _ = run(capsys, "log", "undo")
        assert code == 0
        assert expected in out
    assert document(capsys, "log", "list")["plays"] == []
    code, _, err = run(capsys, "log", "undo")
    assert code == 2
    assert "nothing left" in err


@pytest.mark.slow
def test_export_and_restore_give_the_same_game(capsys, tmp_path):
    run(capsys, *START)
    run(capsys, *PLAY, "--note", "=1+1")
    _, text, _ = run(capsys, "log", "export", "--form", "csv")
    row = next(csv.DictReader(io.StringIO(text)))
    assert (row["note"], row["gain_yd"]) == ("'=1+1", "12")
    out = tmp_path / "g.json"
    assert run(capsys, "log", "export", "--out", str(out))[0] == 0
    code, _, err = run(capsys, "log", "export", "--out", str(out))
    assert code == 2
    assert "--force" in err
    code, _, err = run(capsys, "log", "restore", str(out))
    assert code == 2
    assert "nothing is overwritten" in err
    assert run(capsys, "log", "restore", str(out), "--as", "again")[0] == 0
    first = document(capsys, "log", "list", "--game", "g")["plays"]
    assert document(capsys, "log", "list", "--game", "again")["plays"] == first


@pytest.mark.slow
@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("log", "add", "--down", "1"), "--ball"),
        (("log", "add", "--ball", "opp70"), "own1 to own49"),
        (("log", "add", "--ball", "50", "--down", "7"), "between 1 and 4"),
        (("log", "add", "--ball", "opp5", "--down", "1", "--distance", "9"), "give 5"),
        (("log", "add", "--ball", "50", "--down", "1", "--gain", "60"), "goal line was only 50"),
        (("log", "add", "--ball", "50", "--result", "run"), "needs a down"),
        (("log", "add", "--ball", "50", "--down", "1", "--spot", "bench"), "left:opp40"),
        (("log", "add", "--ball", "50", "--down", "1", "--spot", "same"), "no spot"),
        (("log", "add", "--ball", "50", "--down", "1", "--ended", "far"), "left-sideline"),
        (("log", "add", "--ball", "50", "--down", "1", "--tick", "catches"), "Did you mean"),
        (
            ("log", "add", "--ball", "50", "--down", "1", "--frames", "2", "--keepers", "3"),
            "frames",
        ),
        (("log", "add", "--ball", "50", "--down", "1", "--at", "noonish"), "14:05:33"),
        (("log", "add", "--ball", "50", "--down", "1", "--attacking", "C"), "attacking"),
        (("log", "add", "--ball", "50", "--game", "h"), "must be one of g"),
        (("log", "edit", "4", "--gain", "1"), "no play has been logged"),
        (("log", "start", "--new", "--home", "A", "--away", "B", "--id", "G!"), "lower-case"),
        (("log", "start", "--new", "--home", "A", "--away", "B", "--venue", "nowhere"), "venue"),
        (
            ("log", "start", "--new", "--home", "A", "--away", "B", "--assignment", "none"),
            "assignment",
        ),
        (("log", "start", "--home", "A", "--away", "B", "--bodies", "9"), "between 1 and 6"),
        (("log", "start", "--home", "A", "--away", "B", "--lens", "wide"), "wide"),
        (("log", "import", "gone.json"), "cannot read"),
        (("log", "restore", "gone.json"), "cannot read"),
        (("log", "tick", "unheard-of"), "have must be one of"),
    ],
)
def test_what_cannot_be_is_exit_2_and_changes_nothing(
    capsys, monkeypatch, started, arguments, says
):
    monkeypatch.setenv("LENSYARD_DATA_DIR", str(started))
    code, out, err = run(capsys, *arguments)
    assert (code, out) == (2, "")
    assert says in err
    assert "Traceback" not in err
    assert log_in(started).plays == ()


def test_without_a_game_it_says_how_to_start_one(capsys):
    code, _, err = run(capsys, *PLAY)
    assert code == 2
    assert "lensyard log start" in err
    assert "No game yet" in run(capsys, "log", "games")[1]


def test_a_damaged_log_is_exit_1_and_what_to_do(capsys, tmp_path):
    run(capsys, *START)
    for path in (tmp_path / "data").rglob("*.json"):
        path.write_bytes(b"\0" * 20_000)
    code, _, err = run(capsys, "log", "list")
    assert code == 1
    assert "Both were left as they are. Move them away" in err


def test_local_time_is_the_games(capsys):
    run(capsys, *START, "--venue", "brindle-prairie")
    stamp = "2026-10-03T14:05:33-05:00"
    play = document(capsys, "log", "add", "--ball", "50", "--down", "1", "--at", stamp)["play"]
    assert isinstance(play, dict)
    assert play["snap_at"] == "2026-10-03T19:05:33Z"


def test_a_play_never_goes_into_a_game_that_was_ended_by_accident(capsys):
    run(capsys, *START)
    run(capsys, "log", "end")
    code, _, err = run(capsys, *PLAY)
    assert code == 2
    assert "log start" in err
    assert run(capsys, *PLAY, "--game", "g")[0] == 0


def test_the_kit_of_a_game_is_the_one_that_was_typed(capsys):
    kits = []
    for name, typed in (
        ("one", ()),
        ("two", ("--lens", "70-200", "--lens", "400")),
        ("three", ("--lens", "70-200", "--lens", "400", "--body", "1", "--body", "1.5")),
    ):
        code = run(capsys, *START[:-1], name, "--new", *typed)[0]
        assert code == 0
        game = log_in(Path(os.environ["LENSYARD_DATA_DIR"]), name).game
        kits.append((game.lenses, game.crop_factors))
    assert kits == [((), ()), (("70-200", "400"), ()), (("70-200", "400"), (1.0, 1.5))]


@pytest.mark.slow
def test_the_demo_is_put_in_once_and_names_commands_that_exist(capsys):
    code, out, _ = run(capsys, "demo")
    assert code == 0
    assert "60 plays" in out
    found = document(capsys, "demo")
    assert "already" in str(found["text"])
    for one in found["next"]:  # type: ignore[attr-defined]
        if "review" not in one["command"]:  # has tests of its own
            assert run(capsys, *one["command"].split()[1:])[0] == 0, one


def test_the_bundled_demo_is_what_the_builder_writes(capsys, tmp_path):
    """Texts to the byte; photographs by what they say, as JPEG libraries differ."""
    build_demo(tmp_path / "built")
    assert run(capsys, "demo", "--build", str(tmp_path / "written"))[0] == 0
    for name in ("game.json", "times.csv"):
        built, written = (tmp_path / f / name for f in ("built", "written"))
        assert built.read_bytes() == written.read_bytes() == (DEMO / name).read_bytes()
    assert read_photos(tmp_path / "built" / "frames") == read_photos(DEMO / "frames")
    size = sum(p.stat().st_size for p in DEMO.rglob("*") if p.is_file())
    assert size < 64_000
