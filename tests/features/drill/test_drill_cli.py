"""``lensyard drill`` from the outside."""

import io
import json
import sys

import pytest

from lensyard.features.drill import series as drill_series
from lensyard.features.drill.progress import read_answers

KIT = ("--lens", "70-200", "--lens", "300")


@pytest.fixture(autouse=True)
def quick_rule(monkeypatch, rule):
    monkeypatch.setattr(drill_series, "rule_for", lambda *_: rule)


@pytest.fixture
def drill(run):
    return lambda *arguments: run("drill", *KIT, *arguments)


def answers(tmp_path, *lines):
    path = tmp_path / "answers.txt"
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return str(path)


@pytest.mark.slow
def test_a_series_from_a_file_shows_field_play_and_scores(drill, tmp_path, folders):
    file = answers(tmp_path, "# my answers", "stay", "", "stay")
    code, out, err = drill("--seed", "4", "--length", "2", "--answers", file)
    assert code == 0
    assert "1 of 2:" in out
    assert "You stand" in out
    assert out.count("The play: ") == 2
    assert out.count("E where it ended") == 2
    assert "2 of 2 answered." in out
    for name in ("You (1)", "The plan (2)", "The rule card (A)", "The habit (B)"):
        assert f"\n{name}" in out
    assert "Traceback" not in err
    kept = read_answers(folders / "drill-answers.jsonl").answers
    assert [a["seed"] for a in kept] == [4, 4]


@pytest.mark.slow
def test_a_bad_answer_is_said_and_asked_again(drill, tmp_path):
    file = answers(tmp_path, "press box", "stay")
    code, out, err = drill("--seed", "4", "--length", "1", "--answers", file)
    assert code == 0
    assert "line 1: cannot read standing from 'press box'" in err
    assert "left:opp40" in err
    assert "1 of 1 answered." in out


@pytest.mark.slow
def test_answers_that_end_early_are_kept_and_exit_1(drill, tmp_path, folders):
    file = answers(tmp_path, "stay")
    code, out, err = drill("--seed", "4", "--length", "3", "--answers", file)
    assert code == 1
    assert "1 of 3 answered." in out
    assert "ended after 1 of 3" in err
    assert len(read_answers(folders / "drill-answers.jsonl").answers) == 1


class Interrupted(io.StringIO):
    """Standard input of somebody who presses Ctrl-C after the first answer."""

    def readline(self, *_):  # type: ignore[override]
        line = super().readline()
        if not line:
            raise KeyboardInterrupt
        return line


def test_ctrl_c_keeps_what_was_answered_and_exits_130(drill, monkeypatch, folders):
    monkeypatch.setattr(sys, "stdin", Interrupted("stay\n"))
    code, _, err = drill("--seed", "4", "--length", "3")
    assert code == 130
    assert "1 of 3 answered." in err
    assert len(read_answers(folders / "drill-answers.jsonl").answers) == 1


def test_json_is_one_document_on_standard_output(drill, monkeypatch):
    monkeypatch.setattr(sys, "stdin", io.StringIO("stay\nstay\n"))
    code, out, err = drill("--seed", "4", "--length", "2", "--json", "--answers", "-")
    document = json.loads(out)
    assert code == 0
    assert document["answered"] == 2
    assert [s["name"] for s in document["scores"]] == ["you", "plan", "rule", "habit"]
    for answer in document["answers"]:
        assert {c["name"] for c in answer["choices"]} == {"you", "plan", "rule", "habit", "best"}
    assert {"schema_version", "model", "cautions"} <= set(document)
    assert "You stand" in err


def test_the_same_seed_asks_the_same_of_a_beginner_and_of_a_trained_learner(drill, tmp_path):
    file = answers(tmp_path, *["stay"] * 3)
    common = ("--seed", "6", "--length", "3", "--answers", file)
    _, first, _ = drill(*common)
    _, second, _ = drill(*common)
    assert first == second


def test_ones_own_series_moves_on_and_nothing_is_kept_when_told_so(drill, tmp_path, folders):
    file = answers(tmp_path, *["stay"] * 3)
    common = ("--length", "3", "--answers", file)
    _, first, _ = drill(*common)
    kept = len(read_answers(folders / "drill-answers.jsonl").answers)
    _, second, _ = drill(*common, "--no-keep")
    assert first != second
    assert kept == len(read_answers(folders / "drill-answers.jsonl").answers) == 3


def test_lines_that_cannot_be_read_are_mentioned(drill, tmp_path, folders):
    folders.mkdir()
    (folders / "drill-answers.jsonl").write_text("half a li")
    _, _, err = drill("--length", "1", "--answers", answers(tmp_path, "stay"))
    assert "1 line of" in err


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("--length", "0"), "between 1 and 500"),
        (("--seed", "-3"), "seed"),
        (("--between", "-1"), "between 0 and 400"),
    ],
)
def test_wrong_options_are_exit_2(drill, arguments, words):
    code, out, err = drill(*arguments)
    assert (code, out) == (2, "")
    assert words in err


def test_a_data_folder_that_cannot_be_written_is_exit_1_before_anything_is_asked(
    drill, monkeypatch, tmp_path
):
    (tmp_path / "file").write_text("")
    monkeypatch.setenv("LENSYARD_DATA_DIR", str(tmp_path / "file" / "data"))
    code, out, err = drill("--length", "1", "--answers", answers(tmp_path, "stay"))
    assert (code, out) == (1, "")
    assert "LENSYARD_DATA_DIR" in err


def test_progress_shows_every_card(drill, tmp_path, folders):
    drill("--length", "2", "--answers", answers(tmp_path, "stay", "stay"))
    code, out, _ = drill("--progress", "--json")
    document = json.loads(out)
    assert code == 0
    assert document["answered"] == 2
    assert len(document["cards"]) == 24
    assert sum(card["seen"] for card in document["cards"]) == 2
    _, out, _ = drill("--progress")
    assert "2 situations answered" in out


def test_a_file_that_is_no_text_is_asked_again_not_a_crash(drill, tmp_path):
    path = tmp_path / "answers.bin"
    path.write_bytes(b"\xff\xfe\x00\nstay\n")
    code, out, err = drill("--seed", "4", "--length", "1", "--answers", str(path))
    assert code == 0
    assert "line 1:" in err
    assert "1 of 1 answered." in out


@pytest.mark.slow
def test_nobody_starts_in_a_team_area_or_is_sent_into_one(run, tmp_path):
    file = answers(tmp_path, *["stay"] * 30)
    code, out, _ = run("drill", "--seed", "7", "--length", "30", "--answers", file, "--json")
    assert code == 0
    graded = json.loads(out)["answers"]
    assert len(graded) == 30
    for one in graded:
        for place in (one["start"], *one["choices"]):
            beside = not 0.0 <= place["y_yd"] <= 160 / 3
            # The team areas of a professional field lie between the 30s.
            assert not (beside and 40.0 <= place["x_yd"] <= 80.0), (one["number"], place)
