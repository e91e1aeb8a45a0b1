"""``lensyard review`` from the outside."""

import json
import re
import shutil

import pytest
from click.testing import CliRunner
from tests.support.logs import run

from lensyard.cli import group

DRIVE = (("own30", "6"), ("own36", "6"), ("own42", "12"), ("opp46", "20"), ("opp26", "26"))


@pytest.fixture(autouse=True)
def _own_folders(monkeypatch, tmp_path, tmp_path_factory):
    monkeypatch.setenv("LENSYARD_DATA_DIR", str(tmp_path / "data"))
    cache = tmp_path_factory.getbasetemp() / "plans-of-reviews"
    monkeypatch.setenv("LENSYARD_CACHE_DIR", str(cache))


@pytest.fixture(scope="module")
def _logged(tmp_path_factory):
    """A folder with a game of five plays, over, and one of the same plays and three that are no
    plays of scrimmage."""
    folder = tmp_path_factory.mktemp("logged")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("LENSYARD_DATA_DIR", str(folder))
        for name, faces in (("h", "defense"), ("g", "offense")):
            typed("log", "start", "--home", "Otters", "--away", "Herons", "--id", name, "--season",
                  "2026", "--new", "--assignment", "student", "--faces", faces)  # fmt: skip
            for i, (ball, gain) in enumerate(DRIVE):
                typed("log", "add", "--ball", ball, "--down", "1", "--spot", "left:opp30",
                      "--frames", "5", "--keepers", str(i % 2), "--result", "run", "--gain", gain,
                      "--ended", "left")  # fmt: skip
            if name == "h":
                typed("log", "add", "--ball", "opp20", "--down", "1", "--result", "no-play")
                typed("log", "add", "--ball", "own35", "--result", "kick")
                typed("log", "end")
    return folder


def typed(*arguments):
    done = CliRunner().invoke(group, arguments)
    assert done.exit_code == 0, done.output


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
    assert document["own_reach_figures"]["placed"] == 10
    for some in (*document["figures"]["zones"], *document["figures"]["spots"]):
        for name in ("in_reach", "usable", "kept"):
            rate = some[name]
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
        (("--season", "1999"), "it has 2026"),
        (("--season", "2026", "--game", "h"), "not both"),
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
@pytest.mark.usefixtures("_game")
def test_a_season_is_its_games_together_and_kicks_do_not_count(capsys):
    def reviewed(*arguments):
        code, out, err = run(capsys, "review", *arguments, "--json")
        assert code == 0, err
        return json.loads(out)

    season, first, second = (
        reviewed(*which) for which in (("--season", "2026"), ("--game", "g"), ("--game", "h"))
    )
    assert reviewed() == first  # the game going on comes first
    assert (season["title"], {game["game_id"] for game in season["games"]}) == (
        "season 2026", {"g", "h"},
    )  # fmt: skip
    assert season["figures"]["placed"] == 2 * first["figures"]["placed"] == 10
    assert [play["number"] for play in second["plays"]] == [1, 2, 3, 4, 5]
    assert season["figures"]["keep"]["hits"] == 4.0
    assert "touchdown" in first["games"][0]["missing"]
    assert (first["own_reach_figures"], len(first["own_reach_lenses"])) == (None, 2)
    own = reviewed("--game", "g", "--own-reach")
    assert own["figures"] == first["figures"]
    text = " ".join(run(capsys, "review", "--game", "h")[1].split())
    assert "No capture times are matched yet" in text


@pytest.mark.slow
def test_where_keepers_were_not_noted_nothing_is_said_of_keeping(capsys):
    run(capsys, "log", "start", "--home", "Otters", "--away", "Herons", "--id", "g")
    run(capsys, "log", "add", "--down", "1", "--ball", "50", "--spot", "left:opp20")
    text = " ".join(run(capsys, "review", "--more")[1].split())
    assert "nothing is said about keeping" in text
    assert "needs plays with keepers" in text
    assert run(capsys, "review", "--own-reach")[0] == 2


def test_a_log_without_plays_or_spots_says_what_to_do(capsys):
    code, _, err = run(capsys, "review")
    assert code == 2
    assert "log start" in err
    run(capsys, "log", "start", "--home", "Otters", "--away", "Herons", "--id", "g")
    code, _, err = run(capsys, "review")
    assert code == 2
    assert "log add" in err
    run(capsys, "log", "add", "--down", "1", "--ball", "50")
    code, _, err = run(capsys, "review")
    assert code == 2
    assert "--spot" in err
