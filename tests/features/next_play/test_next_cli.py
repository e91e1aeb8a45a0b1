"""``lensyard next`` from the outside."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from lensyard.cli import main


def run(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str, str]:
    code = 0
    try:
        main(list(arguments))
    except SystemExit as stop:
        code = int(stop.code or 0)
    out = capsys.readouterr()
    return code, out.out, out.err


def test_the_first_line_says_where_how_likely_and_why(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, err = run(capsys, "next", "--down", "3", "--distance", "7", "--ball", "opp35")
    assert (code, err) == (0, "")
    headline, why = (part.replace("\n", " ") for part in out.split("\n\n")[:2])
    assert headline.startswith("Stand ")
    assert headline.endswith("% of plays usable.")
    assert "reaches" in why
    assert "Caution" in out
    assert "Unlicense" in out


def test_json_keeps_the_contract(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = run(
        capsys, "next", "--down", "1", "--ball", "opp18", "--lens", "70-200", "--json"
    )
    document = json.loads(out)
    assert code == 0
    assert {"schema_version", "model", "cautions", "outcome", "spots", "habits"} <= set(document)
    assert set(document["outcome"]) == {
        "gain_p10_yd", "gain_p50_yd", "gain_p90_yd", "p_touchdown", "p_first_down", "p_turnover",
        "p_out_of_bounds", "p_pass", "drive",
    }  # fmt: skip
    assert set(document["outcome"]["drive"]) == {"p_touchdown", "p_field_goal"}
    spot = document["spots"][0]
    assert {
        "rank", "label", "x_yd", "y_yd", "p_in_reach", "p_facing", "p_clear", "p_usable",
        "p_usable_low", "p_usable_high", "value", "walk_yd", "walk_s", "run_out_exposure", "lens",
        "reason",
    } <= set(spot)  # fmt: skip
    ranked = [s["p_usable"] for s in document["spots"]]
    # mirror images differ in the last bits of float32, which no decision turns on
    assert [round(p, 5) for p in ranked] == sorted((round(p, 5) for p in ranked), reverse=True)
    assert {h["name"] for h in document["habits"]} == {"level", "ahead20"}
    assert len(document["model"]["data_sha256"]) == 64


@pytest.mark.slow
def test_who_says_where_they_stand_hears_stay_or_walk(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: object
) -> None:
    monkeypatch.setenv("LENSYARD_CACHE_DIR", str(tmp_path))
    common = ("next", "--down", "1", "--ball", "opp18", "--lens", "70-200", "--lens", "300")
    code, out, _ = run(capsys, *common, "--standing", "right:opp40", "--json")
    plan = json.loads(out)["plan"]
    assert code == 0
    assert plan["action"] == "walk"
    assert 0 < plan["walk_yd"] <= 30.0 + 1e-6
    _, farther, _ = run(
        capsys, *common, "--standing", "right:opp40", "--ball-changed-hands", "--json"
    )
    assert json.loads(farther)["plan"]["walk_yd"] > plan["walk_yd"]
    _, text, _ = run(capsys, *common, "--standing", "end:right20")
    assert "Plan: " in text.split("\n\n")[1].replace("\n", " ")


@pytest.mark.slow
def test_who_says_where_they_stand_is_sent_no_farther_than_they_can_walk(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv("LENSYARD_CACHE_DIR", str(tmp_path))
    for standing in ("right:opp40", "left:own10", "end:left12", "right:own20"):
        for more, limit in ((), 30.0), (("--ball-changed-hands",), 110.0):
            _, out, _ = run(
                capsys, "next", "--down", "1", "--ball", "opp18", "--standing", standing,
                *more, "--json",
            )  # fmt: skip
            document = json.loads(out)
            farther = any("farther" in caution for caution in document["cautions"])
            for spot in document["spots"]:
                assert farther or spot["walk_yd"] <= limit + 1e-6


@pytest.mark.parametrize(
    ("arguments", "wrong", "expected"),
    [
        (("--down", "5", "--ball", "opp35"), "got 5", "between 1 and 4"),
        (("--down", "1", "--ball", "opp70"), "opp70", "own1 to own49"),
        (("--down", "1", "--ball", "50", "--lens", "0"), "got 0", "between 4 and 2000"),
        (("--down", "1", "--ball", "50", "--lens", "8"), "no play is usable", "longer lens"),
        (("--down", "1", "--ball", "50", "--lens", "long"), "'long'", "70-200"),
        (("--down", "1", "--ball", "opp5", "--distance", "9"), "9", "give 5"),
        (("--down", "1", "--ball", "50", "--standing", "press box"), "press box", "left:opp40"),
        (("--down", "1", "--ball", "50", "--clock", "16:00"), "16:00", "0:00 to 15:00"),
        (("--down", "1", "--ball", "50", "--team-area", "70"), "got 70", "between 0 and 50"),
    ],
)
def test_bad_input_is_exit_2_with_what_was_wrong_and_what_was_expected(
    capsys: pytest.CaptureFixture[str], arguments: tuple[str, ...], wrong: str, expected: str
) -> None:
    code, out, err = run(capsys, "next", *arguments)
    assert code == 2
    assert out == ""
    assert wrong in err
    assert expected in err
    assert "Traceback" not in err


@pytest.mark.slow
def test_standing_in_a_team_area_is_waiting_not_shooting(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv("LENSYARD_CACHE_DIR", str(tmp_path))
    code, out, _ = run(
        capsys, "next", "--down", "1", "--ball", "50", "--standing", "left:50", "--json"
    )
    document = json.loads(out)
    assert code == 0
    assert "wait there, but not shoot" in document["cautions"][0]
    assert all("left:50" not in spot["label"] for spot in document["spots"])


def test_standing_where_nobody_may_wait_is_exit_2(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    venue = tmp_path / "shut.toml"
    venue.write_text('name = "Shut"\nrules = "pro"\n[team_areas]\nwalk_behind = false\n')
    code, out, err = run(
        capsys,
        "next", "--down", "1", "--ball", "50", "--venue", str(venue), "--standing", "left:50",
    )  # fmt: skip
    assert (code, out) == (2, "")
    assert "closed stretch" in err
    assert "outside it" in err
