"""Light and ticked frames in ``lensyard next``: shown, softly ranked, in no probability."""

from __future__ import annotations

import json
import subprocess
import sys
from itertools import pairwise

import pytest

from lensyard.cli import main

PLAY = ("next", "--down", "1", "--ball", "opp20", "--venue", "tamarack-fork", "--attacking", "A")
EVENING = ("--at", "2026-10-09T18:00")


def run(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str, str]:
    code = 0
    try:
        main(list(arguments))
    except SystemExit as stop:
        code = int(stop.code or 0)
    out = capsys.readouterr()
    return code, out.out, out.err


def document(capsys: pytest.CaptureFixture[str], *arguments: str) -> dict:
    code, out, _ = run(capsys, *arguments, "--json")
    assert code == 0
    return json.loads(out)


def test_without_a_time_nothing_is_said_of_light(capsys: pytest.CaptureFixture[str]) -> None:
    plain = document(capsys, *PLAY)
    assert "light" not in plain
    assert all("light" not in spot for spot in plain["spots"])
    _, text, _ = run(capsys, *PLAY)
    assert "Factor" not in text
    agency = document(capsys, *PLAY, "--assignment", "agency")
    assert [s["label"] for s in agency["spots"]] == [s["label"] for s in plain["spots"]]


def test_light_has_a_column_of_its_own_and_changes_no_probability(
    capsys: pytest.CaptureFixture[str],
) -> None:
    everywhere = ("--top", "20")
    plain = document(capsys, *PLAY, *everywhere)
    for preference in ("ignore", "avoid-backlight", "prefer-backlight"):
        lit = document(capsys, *PLAY, *everywhere, *EVENING, "--light", preference)
        usable = {s["label"]: s["p_usable"] for s in plain["spots"]}
        shared = [s for s in lit["spots"] if s["label"] in usable]
        assert shared
        for spot in shared:
            assert spot["p_usable"] == usable[spot["label"]]
        ranked = [s["p_usable"] * s["light"]["factor"] for s in lit["spots"]]
        assert all(a >= b - 1e-5 for a, b in pairwise(ranked))
        assert lit["light"]["preference"] == preference
        if preference == "ignore":
            assert [s["label"] for s in lit["spots"]] == [s["label"] for s in plain["spots"]]
            assert {s["light"]["factor"] for s in lit["spots"]} == {1.0}
    _, text, _ = run(capsys, *PLAY, *EVENING, "--light", "avoid-backlight")
    assert "Factor" in text
    assert "no probability changes" in " ".join(text.split())


def test_the_assignment_sets_what_light_does_and_the_option_wins(
    capsys: pytest.CaptureFixture[str],
) -> None:
    for arguments, expected in (
        ((), "ignore"),
        (("--assignment", "agency"), "avoid-backlight"),
        (("--assignment", "team"), "prefer-backlight"),
        (("--assignment", "team", "--light", "ignore"), "ignore"),
    ):
        assert document(capsys, *PLAY, *EVENING, *arguments)["light"]["preference"] == expected


def test_opposite_preferences_like_opposite_light(capsys: pytest.CaptureFixture[str]) -> None:
    # Low sun in the west behind the end toward which the offense plays: with the back to it the
    # action is front-lit, from in front of the offense's own end one looks into it.
    spots = {}
    for preference in ("avoid-backlight", "prefer-backlight"):
        lit = document(capsys, *PLAY, *EVENING, "--light", preference, "--top", "20")
        spots[preference] = {s["light"]["kind"]: s["light"]["factor"] for s in lit["spots"]}
    shared = set(spots["avoid-backlight"]) & set(spots["prefer-backlight"])
    assert "front" in shared
    assert spots["avoid-backlight"]["front"] > spots["prefer-backlight"]["front"]


@pytest.mark.parametrize(
    ("arguments", "wrong", "expected"),
    [
        (("--light", "ignore"), "needs to know when", "--at"),
        (("--at", "tomorrow"), "tomorrow", "2026-10-03T15:30"),
        (("--at", "2026-10-03T15:30", "--light", "dark"), "dark", "avoid-backlight"),
        (("--have", "dropback"), "dropback", "drop-back"),
        (("--assignment", "agncy"), "agncy", "agency"),
    ],
)
def test_bad_input_is_exit_2(
    capsys: pytest.CaptureFixture[str], arguments: tuple[str, ...], wrong: str, expected: str
) -> None:
    code, out, err = run(capsys, *PLAY, *arguments)
    assert (code, out) == (2, "")
    assert wrong in err
    assert expected in err


def test_a_time_needs_a_place(capsys: pytest.CaptureFixture[str]) -> None:
    code, _, err = run(capsys, "next", "--down", "1", "--ball", "50", *EVENING)
    assert code == 2
    assert "latitude_deg" in err


def test_what_one_has_counts_less_and_what_is_missing_is_named(
    capsys: pytest.CaptureFixture[str],
) -> None:
    common = (*PLAY, "--assignment", "agency")
    before = document(capsys, *common)
    after = document(capsys, *common, "--have", "touchdown,pylon-dive", "--have", "drop-back")
    assert before["weights"]["touchdown"] == 10.0
    # both touchdown frames are ticked: half of the bonus over an ordinary play is left
    assert after["weights"]["touchdown"] == pytest.approx(1.0 + 9.0 / 2)
    assert after["have"] == ["touchdown", "pylon-dive", "drop-back"]
    assert after["missing"] == ["carrier", "catch", "defense-big-play"]
    by_label = {s["label"]: s for s in before["spots"]}
    for spot in after["spots"]:
        assert spot["p_usable"] == by_label[spot["label"]]["p_usable"]
        assert spot["value"] < by_label[spot["label"]]["value"]
    _, text, _ = run(capsys, *common, "--have", "touchdown")
    assert "still to get: " in " ".join(text.split())


def test_the_fast_path_imports_nothing_of_light_or_files() -> None:
    code = (
        "import sys\n"
        "from lensyard.cli import main\n"
        "main(['next', '--down', '1', '--ball', '50', '--json'])\n"
        "wanted = ('lensyard.features.next_play.light', 'pandas',\n"
        "          'scipy', 'pydantic', 'matplotlib', 'duckdb',\n"
        "          'lensyard.features.game_plan.compute',\n"
        "          'lensyard.settings.fields')\n"
        "print([name for name in wanted if name in sys.modules], file=sys.stderr)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=120
    )
    assert done.stderr.strip() == "[]"
