"""``lensyard plan`` from the outside, over part of a season."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from tests.support.part_of_season import part_of_season

from lensyard.cli import main
from lensyard.planner import season_data

pytestmark = pytest.mark.slow


@pytest.fixture(autouse=True)
def _part_of_a_season(monkeypatch: pytest.MonkeyPatch) -> None:
    plays = part_of_season(games=12, training_games=6)
    monkeypatch.setattr(season_data, "stored_season", lambda *_: plays)


def run(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str, str]:
    code = 0
    try:
        main(list(arguments))
    except SystemExit as stop:
        code = int(stop.code or 0)
    out = capsys.readouterr()
    return code, out.out, out.err


def test_plan_says_what_to_remember_first_and_the_json_is_one_document(
    capsys: pytest.CaptureFixture[str],
) -> None:
    common = ("plan", "--lens", "70-200", "--lens", "400", "--assignment", "newspaper")
    code, out, err = run(capsys, *common)
    assert code == 0
    assert out.startswith("To remember: stand ")
    for part in ("red zone", "goal to go", "two-minute", "Kicking plays", "Shot list"):
        assert part in out
    assert "…" in err  # what takes a while is said on standard error
    code, out, err = run(capsys, *common, "--json")
    document = json.loads(out)
    assert (code, err) == (0, "")  # at hand by now
    assert document["assignment"] == "newspaper"
    assert {row["key"] for row in document["must_have"]} >= {"drop-back", "touchdown", "handshake"}


def test_plan_under_lamps_of_20_footcandles_tells_a_kit_that_cannot_freeze_action(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    venue = tmp_path / "lamps.toml"
    venue.write_text(
        'name = "Lamps"\nrules = "pro"\n[floodlights]\nclass = "class-4"\n', encoding="utf-8"
    )
    common = ("--lens", "70-200", "--lens", "400", "--assignment", "newspaper")
    code, out, _ = run(capsys, "plan", *common, "--venue", str(venue))
    second = " ".join(out.split("\n\n")[1].split())
    assert code == 0
    assert "Light: Under the floodlights alone, 215 lx (20 footcandles" in second
    code, out, _ = run(capsys, "plan", *common, "--venue", str(venue), "--iso-max", "51200")
    assert "Light:" not in out
