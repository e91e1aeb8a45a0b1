"""``lensyard next`` from the outside."""

import json
import subprocess
import sys
from itertools import pairwise

import pytest

PLAY = ("next", "--down", "1", "--ball", "opp20", "--venue", "tamarack-fork", "--attacking", "A")
EVENING = ("--at", "2026-10-09T18:00")


@pytest.fixture(autouse=True)
def folders(monkeypatch, tmp_path):
    monkeypatch.setenv("LENSYARD_CACHE_DIR", str(tmp_path))


def test_the_first_line_says_where_how_likely_and_why(run):
    code, out, err = run("next", "--down", "3", "--distance", "7", "--ball", "opp35", "--more")
    assert (code, err) == (0, "")
    headline, why = (part.replace("\n", " ") for part in out.split("\n\n")[:2])
    assert headline.startswith("Stand ")
    assert headline.endswith("% of plays give a usable frame.")
    assert "reaches" in why
    assert "Caution" in out
    assert "Unlicense" in out


def test_json_keeps_the_contract(run):
    code, out, _ = run("next", "--down", "1", "--ball", "opp18", "--lens", "70-200", "--json")
    document = json.loads(out)
    assert code == 0
    assert {"schema_version", "model", "cautions", "answer", "outcome", "spots", "habits"} <= set(
        document
    )
    assert set(document["outcome"]) == {
        "gain_p10_yd", "gain_p50_yd", "gain_p90_yd", "p_touchdown", "p_first_down", "p_turnover",
        "p_out_of_bounds", "p_pass", "drive", "play",
    }  # fmt: skip
    drive = document["outcome"]["drive"]
    assert set(drive) == {"p_touchdown", "p_field_goal", "p_punt", "p_turnover", "p_other"}
    assert sum(drive.values()) == pytest.approx(1.0, abs=1e-6)
    assert {
        "action", "label", "x_yd", "y_yd", "p_usable", "walk_yd", "walk_s", "snaps_missed",
        "instead", "reason",
    } <= set(document["answer"])  # fmt: skip
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
def test_who_says_where_they_stand_hears_one_decision_within_the_walk(document):
    for standing in ("right:opp40", "left:own10", "end:left12", "right:own20"):
        for more, limit in (
            ((), 40.5),
            (("--ball-changed-hands",), 109.5),
            (("--tempo", "hurry"), 12.0),
            (("--pace", "2.5"), 67.5),
            (("--settle", "15"), 25.5),
            (("--between", "20"), 20.0),
        ):
            said = document("next", "--down", "1", "--ball", "opp18", "--standing", standing, *more)
            answer = said["answer"]
            assert answer["limit_yd"] == limit
            assert answer["snaps_missed"] or answer["walk_yd"] <= limit + 1e-6
            assert all(spot["walk_yd"] <= limit + 1e-6 for spot in said["spots"])


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
    run, arguments, wrong, expected
):
    code, out, err = run("next", *arguments)
    assert code == 2
    assert out == ""
    assert wrong in err
    assert expected in err
    assert "Traceback" not in err


@pytest.mark.slow
def test_a_team_area_is_passed_not_a_place_to_be(run):
    code, out, _ = run("next", "--down", "1", "--ball", "50", "--standing", "left:50", "--json")
    document = json.loads(out)
    assert code == 0
    assert "pass there, but not wait or shoot" in document["cautions"][0]
    assert document["answer"]["action"] in ("walk", "cross", "nothing")
    assert all("left:50" not in spot["label"] for spot in document["spots"])


def test_standing_where_nobody_may_wait_is_exit_2(run, tmp_path):
    venue = tmp_path / "shut.toml"
    venue.write_text('name = "Shut"\nrules = "pro"\n[team_areas]\nwalk_behind = false\n')
    code, out, err = run(
        "next", "--down", "1", "--ball", "50", "--venue", str(venue), "--standing", "left:50",
    )  # fmt: skip
    assert (code, out) == (2, "")
    assert "closed stretch" in err
    assert "outside it" in err


# --- light and ticked frames


def test_without_a_time_nothing_is_said_of_light(document, run):
    plain = document(*PLAY)
    assert "light" not in plain
    assert all("light" not in spot for spot in plain["spots"])
    _, text, _ = run(*PLAY, "--more")
    assert "Factor" not in text
    agency = document(*PLAY, "--assignment", "agency")
    assert [s["label"] for s in agency["spots"]] == [s["label"] for s in plain["spots"]]


def test_light_has_a_column_of_its_own_and_changes_no_probability(document, run):
    everywhere = ("--top", "20")
    plain = document(*PLAY, *everywhere)
    for preference in ("ignore", "avoid-backlight", "prefer-backlight"):
        lit = document(*PLAY, *everywhere, *EVENING, "--light", preference)
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
    _, text, _ = run(*PLAY, *EVENING, "--light", "avoid-backlight", "--more")
    assert "Factor" in text
    assert "no probability changes" in " ".join(text.split())


def test_the_assignment_sets_what_light_does_and_the_option_wins(document):
    for arguments, expected in (
        ((), "ignore"),
        (("--assignment", "agency"), "avoid-backlight"),
        (("--assignment", "team"), "prefer-backlight"),
        (("--assignment", "team", "--light", "ignore"), "ignore"),
    ):
        assert document(*PLAY, *EVENING, *arguments)["light"]["preference"] == expected


def test_opposite_preferences_like_opposite_light(document):
    # Low sun in the west behind the end toward which the offense plays: with the back to it the
    # action is front-lit, from in front of the offense's own end one looks into it.
    spots = {}
    for preference in ("avoid-backlight", "prefer-backlight"):
        lit = document(*PLAY, *EVENING, "--light", preference, "--top", "20")
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
def test_bad_light_and_frames_are_exit_2(run, arguments, wrong, expected):
    code, out, err = run(*PLAY, *arguments)
    assert (code, out) == (2, "")
    assert wrong in err
    assert expected in err


def test_a_time_needs_a_place(run):
    code, _, err = run("next", "--down", "1", "--ball", "50", *EVENING)
    assert code == 2
    assert "latitude_deg" in err


def test_what_one_has_counts_less_and_what_is_missing_is_named(document, run):
    common = (*PLAY, "--assignment", "agency")
    before = document(*common)
    after = document(*common, "--have", "touchdown,pylon-dive", "--have", "drop-back")
    assert before["weights"]["touchdown"] == 10.0
    # both touchdown frames are ticked: half of the bonus over an ordinary play is left
    assert after["weights"]["touchdown"] == pytest.approx(1.0 + 9.0 / 2)
    assert after["have"] == ["touchdown", "pylon-dive", "drop-back"]
    assert after["missing"] == ["carrier", "catch", "defense-big-play"]
    by_label = {s["label"]: s for s in before["spots"]}
    for spot in after["spots"]:
        assert spot["p_usable"] == by_label[spot["label"]]["p_usable"]
        assert spot["value"] <= by_label[spot["label"]]["value"]
    assert after["spots"][0]["value"] < by_label[after["spots"][0]["label"]]["value"]
    _, text, _ = run(*common, "--have", "touchdown", "--more")
    assert "still to get: " in " ".join(text.split())


def test_the_fast_path_imports_nothing_of_light_or_files():
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
