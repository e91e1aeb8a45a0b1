"""``lensyard review`` from the outside."""

import json
import re
import shutil

import pytest
from tests.support.logs import add, on_log, run

from lensyard.features.game_log.compute import start_game
from lensyard.features.game_log.entries import NewGameOptions
from lensyard.game.entry import Result
from lensyard.options.groups import AssignmentOptions

DRIVE = ((70, 6), (64, 6), (58, 12), (46, 20), (26, 26))
"""Where the ball lay (`yardline_100`), and the gain. [yd]"""


@pytest.fixture(autouse=True)
def _own_folders(monkeypatch, tmp_path, tmp_path_factory):
    monkeypatch.setenv("LENSYARD_DATA_DIR", str(tmp_path / "data"))
    cache = tmp_path_factory.getbasetemp() / "plans-of-reviews"
    monkeypatch.setenv("LENSYARD_CACHE_DIR", str(cache))


@pytest.fixture(scope="module")
def _logged(tmp_path_factory):
    """A folder with a game of five plays."""
    folder = tmp_path_factory.mktemp("logged")
    new = NewGameOptions("Otters", "Herons", game_id="g", season=2026)
    on_log(folder, start_game, new, assignment=AssignmentOptions("student"))
    for i, (ball, gain) in enumerate(DRIVE):
        ended = {"result": Result.RUN, "gain_yd": gain, "end_y_yd": 44.4}
        add(folder, yardline_100=ball, spot="left:opp30", frames=5, keepers=i % 2, **ended)
    return folder


@pytest.fixture
def _game(_logged, tmp_path):
    shutil.copytree(_logged, tmp_path / "data")


@pytest.mark.slow
@pytest.mark.usefixtures("_game")
def test_the_review_says_what_was_what_would_have_been_and_what_is_missing(capsys):
    code, out, err = run(capsys, "review")
    assert (code, err) == (0, "")
    for words in (
        "Herons at Otters: 5 of 5 plays say where you stood", "The plan", "20 yd ahead",
        "offense's left", "so few plays do", "must-haves; missing", "95 % intervals", "Own reach",
        "--own-reach",
    ):  # fmt: skip
        assert words in " ".join(out.split()) or words.lower() in out.lower()
    assert len(re.findall(r"\d+% \([<>]?\d+% to [<>]?\d+%\)", out)) > 10


@pytest.mark.slow
@pytest.mark.usefixtures("_game")
def test_json_keeps_the_contract(capsys):
    code, out, _ = run(capsys, "review", "--season", "2026", "--own-reach", "--json")
    document = json.loads(out)
    assert code == 0
    assert {"schema_version", "model", "cautions", "figures", "games", "plays"} <= set(document)
    assert [p["name"] for p in document["figures"]["policies"]] == ["you", "plan", "habit"]
    assert document["own_reach_figures"]["placed"] == 5
    for group in (*document["figures"]["zones"], *document["figures"]["spots"]):
        for name in ("in_reach", "usable", "kept"):
            rate = group[name]
            assert 0 <= rate["p_low"] <= rate["p"] <= rate["p_high"] <= 1


@pytest.mark.slow
@pytest.mark.usefixtures("_game")
def test_page_and_picture_are_written_the_same_each_time(capsys, tmp_path):
    for name in ("one", "two"):
        code, _, err = run(
            capsys, "review", "--own-reach", "--pdf", str(tmp_path / f"{name}.pdf"),
            "--plot", str(tmp_path / f"{name}.svg"),
        )  # fmt: skip
        assert code == 0
        assert "wrote" in err
    for suffix in (".pdf", ".svg"):
        first, second = ((tmp_path / f"{n}{suffix}").read_bytes() for n in ("one", "two"))
        assert first == second
    assert (tmp_path / "one.pdf").read_bytes().startswith(b"%PDF")
    picture = (tmp_path / "one.svg").read_text(encoding="utf-8")
    assert "<script" not in picture


@pytest.mark.slow
@pytest.mark.usefixtures("_game")
@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("--game", "other"), "game must be one of"),
        (("--plot", "x.jpg"), ".png"),
        (("--pdf", "x.txt"), ".pdf"),
        pytest.param(("--pdf", "no/such/folder/x.pdf"), "cannot write", marks=pytest.mark.slow),
    ],
)
def test_what_cannot_be_is_exit_2(capsys, arguments, says):
    code, _, err = run(capsys, "review", *arguments)
    assert code == 2
    assert says in err


@pytest.mark.slow
def test_a_log_without_plays_or_spots_says_what_to_do(capsys):
    run(capsys, "log", "start", "--home", "Otters", "--away", "Herons", "--id", "g")
    code, _, err = run(capsys, "review")
    assert code == 2
    assert "log add" in err
    run(capsys, "log", "add", "--down", "1", "--ball", "50")
    code, _, err = run(capsys, "review")
    assert code == 2
    assert "--spot" in err
