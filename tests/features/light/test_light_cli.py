"""``lensyard light`` as it is typed."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from lensyard.cli import group
from lensyard.errors import InvalidInputError, ParseError
from lensyard.features.light.cli import parse_shutter

SCHOOL = ("light", "--venue", "tamarack-fork", "--at")


def run(*arguments: str) -> Result:
    result = CliRunner().invoke(group, arguments)
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    return result


def test_light_leads_with_the_answer_and_has_the_deferral() -> None:
    result = run(*SCHOOL, "2026-10-09T19:00")
    assert result.exit_code == 0
    lines = result.stdout.splitlines()
    assert lines[0].startswith("No lens of this kit reaches 1/1000 s in quarter 1")
    assert any(line.startswith("Caution: Local rules") for line in lines)
    assert "read as America/Chicago, the venue's zone" in " ".join(result.stdout.split())


def test_light_as_json_is_one_document() -> None:
    result = run(
        *("light", "--venue", "brindle-prairie", "--at", "2026-10-03T15:30-05:00", "--json"),
        *("--lens", "400/2.8", "--converter", "1.4", "--pixels", "8000", "--wbgt", "90"),
    )
    document = json.loads(result.stdout)
    assert document["lenses"][0]["converter"]["magnification"] == 1.4
    # 8000 pixels over 36 mm, 560 mm at 56 yd: 1.83 m is 20.0 mm and 4,450 pixels.
    assert document["lenses"][0]["player_height_px"] == pytest.approx(4448, abs=5)
    assert any("90.0 F" in caution for caution in document["cautions"])


@pytest.mark.slow
@pytest.mark.parametrize(
    ("suffix", "magic"), [(".png", b"\x89PNG"), (".svg", b"<?xml"), (".pdf", b"%PDF")]
)
def test_the_plot_is_a_picture_and_the_same_each_time(
    tmp_path: Path, suffix: str, magic: bytes
) -> None:
    paths = [tmp_path / f"{name}{suffix}" for name in "ab"]
    for path in paths:
        result = run(*SCHOOL, "2026-10-09T16:00", "--plot", str(path), "--json")
        assert result.exit_code == 0
        json.loads(result.stdout)  # the message about the file goes to standard error
        assert str(path) in result.stderr
    one, two = (path.read_bytes() for path in paths)
    assert one.startswith(magic)
    assert one == two


def test_a_plot_that_cannot_be_is_refused() -> None:
    with pytest.raises(InvalidInputError, match=r"\.png, \.svg or \.pdf"):
        run("light", "--venue", "x.toml", "--at", "2026-10-09T16:00", "--plot", "a.bmp")
    with pytest.raises(InvalidInputError, match="cannot write"):
        run(*SCHOOL, "2026-10-09T16:00", "--plot", "/nonexistent-folder/a.png")


@pytest.mark.parametrize("text", ["fast", "0", "-1", "1/0", "1/-5", "nan", "inf"])
def test_a_shutter_time_that_is_none_is_refused(text: str) -> None:
    with pytest.raises(ParseError, match="1/1000"):
        parse_shutter(text)
