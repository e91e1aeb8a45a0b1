"""``lensyard demo`` and ``lensyard capture`` from the outside."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from lensyard.cli import main
from lensyard.features.game_log.demo import CLOCK_ERRORS_S, build_demo, demo_folder, next_commands
from lensyard.features.game_log.exif import read_photos


@pytest.fixture(autouse=True)
def _own_folders(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("LENSYARD_DATA_DIR", str(tmp_path / "data"))


def run(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str, str]:
    code = 0
    try:
        main(list(arguments))
    except SystemExit as stop:
        code = int(stop.code or 0)
    out = capsys.readouterr()
    return code, out.out, out.err


def test_the_demo_is_put_in_once_and_names_commands_that_exist(
    capsys: pytest.CaptureFixture[str],
) -> None:
    code, out, _ = run(capsys, "demo")
    assert code == 0
    assert "60 plays" in out
    assert "already" in run(capsys, "demo")[1]
    for command, _ in next_commands():
        if "review" in command:
            continue  # has tests of its own
        assert run(capsys, *command.split()[1:])[0] == 0, command
    document = json.loads(run(capsys, "demo", "--json")[1])
    assert [c["command"] for c in document["next"]] == [c for c, _ in next_commands()]


def test_the_bundled_demo_is_what_the_builder_writes(tmp_path: Path) -> None:
    """Texts to the byte; photographs by what they say, as JPEG libraries differ."""
    build_demo(tmp_path)
    bundled = demo_folder()
    for name in ("game.json", "times.csv"):
        assert (tmp_path / name).read_bytes() == (bundled / name).read_bytes()
    assert read_photos(tmp_path / "frames") == read_photos(bundled / "frames")
    size = sum(p.stat().st_size for p in bundled.rglob("*") if p.is_file())
    assert size < 64_000


def test_clock_errors_of_the_demo_are_found(capsys: pytest.CaptureFixture[str]) -> None:
    run(capsys, "demo")
    table = str(demo_folder() / "times.csv")
    code, out, _ = run(capsys, "capture", table, "--game", "demo", "--match", "--json")
    document = json.loads(out)
    assert code == 0
    assert document["frames_in_plays"] == document["frames"]
    for clock in document["clocks"]:
        # What is to be added is the error's opposite; bursts begin .5 to 4 s after the snap.
        assert clock["offset_s"] == pytest.approx(-CLOCK_ERRORS_S[clock["body"]], abs=2.0)
        assert clock["found"]["confidence"] > 0.99
    code, out, _ = run(
        capsys, "capture", str(demo_folder() / "frames"), "--game", "demo", "--match", "--dry-run"
    )
    assert code == 0
    assert "Nothing was written" in out


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("gone",), "no folder"),
        (("gone.csv",), "cannot read"),
        (("FRAMES", "--offset", "soon"), "offset"),
        (("FRAMES", "--game", "other"), "game must be one of"),
    ],
)
def test_what_cannot_be_is_exit_2(
    capsys: pytest.CaptureFixture[str], arguments: tuple[str, ...], says: str
) -> None:
    run(capsys, "demo")
    given = [str(demo_folder() / "frames") if a == "FRAMES" else a for a in arguments]
    code, out, err = run(capsys, "capture", *given)
    assert (code, out) == (2, "")
    assert says in err


def test_files_that_give_no_time_are_named(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    run(capsys, "demo")
    folder = tmp_path / "frames"
    folder.mkdir()
    for photo in (demo_folder() / "frames").iterdir():
        (folder / photo.name).write_bytes(photo.read_bytes())
    (folder / "broken.jpg").write_bytes(b"\xff\xd8\xff")
    code, _, err = run(capsys, "capture", str(folder), "--game", "demo", "--match", "--dry-run")
    assert code == 0
    assert "left out broken.jpg" in err
