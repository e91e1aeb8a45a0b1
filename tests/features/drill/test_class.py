"""A class: one series for all, names on a local list, who learned what with honest intervals."""

import csv
import io
import json

import pytest

from lensyard.features.drill import series as drill_series
from lensyard.features.drill.progress import CARDS, append_answer
from lensyard.stats import wilson


def answers_file(path, grades):
    """Write answers of a file: g for good, m for a miss, a card after the other."""
    names = {"g": "good", "n": "near", "m": "miss"}
    for i, letter in enumerate(grades):
        append_answer(path, {"at": f"{i}", "card": CARDS[i % len(CARDS)].name,
                             "grade": names[letter], "row": i})  # fmt: skip
    return path


def test_answers_of_several_are_imported_once_and_shown_with_wilson_intervals(
    run, tmp_path, folders
):
    ann = answers_file(tmp_path / "ann.jsonl", "mmmmggggmg")
    bo = answers_file(tmp_path / "bo.jsonl", "gggg")
    arguments = ("drill", "--import", f"Ann={ann}", "--import", f"Bo={bo}", "--class")
    table = tmp_path / "class.csv"
    code, out, _ = run(*arguments, "--csv", str(table), "--json")
    found = json.loads(out)
    assert (code, found["imported"]) == (0, 14)
    first, second = found["learners"]
    assert (first["name"], first["all"]["answers"], first["all"]["good"]) == ("Ann", 10, 5)
    low, high = wilson(0.5, 10)
    assert (first["all"]["p_low"], first["all"]["p_high"]) == (low, high)
    assert (first["first"]["good"], first["second"]["good"]) == (1, 4)
    assert second["all"]["p_low"] < 1.0, "four of four is not certainty"
    assert found["together"]["all"] == {
        "answers": 14, "good": 9, "p": 9 / 14, "p_low": wilson(9 / 14, 14)[0],
        "p_high": wilson(9 / 14, 14)[1],
    }  # fmt: skip
    rows = list(csv.DictReader(io.StringIO(table.read_text())))
    for who, answered in (("Ann", 10), ("Bo", 4), ("the class", 14)):
        for by in ("all", "zone", "kind"):
            some = [r for r in rows if (r["person"], r["group"]) == (who, by)]
            assert sum(int(r["answers"]) for r in some) == answered
    before = {p: p.read_bytes() for p in folders.rglob("*.jsonl")}
    code, out, _ = run(*arguments, "--json")
    assert (code, json.loads(out)["imported"]) == (0, 0)
    assert {p: p.read_bytes() for p in folders.rglob("*.jsonl")} == before
    assert "2 people, 14 answers, 9 of them good" in run("drill", "--class")[1]


@pytest.mark.parametrize(
    ("argument", "says"),
    [
        ("Ann", "say whose answers"),
        ("../Ann={good}", "a name has 1 to 40"),
        ("Ann=gone.jsonl", "cannot read gone.jsonl"),
        ("Ann={bad}", "holds no answer of the drill"),
    ],
)
def test_what_is_no_answers_is_refused_and_nobody_is_half_imported(
    run, tmp_path, folders, argument, says
):
    good = answers_file(tmp_path / "good.jsonl", "gm")
    bad = tmp_path / "bad.jsonl"
    bad.write_text('{"version": 7}\nhello\n')
    argument = argument.format(good=good, bad=bad)
    code, out, err = run("drill", "--import", f"Bo={good}", "--import", argument)
    assert (code, out) == (2, "")
    assert says in err
    assert not list(folders.rglob("*.jsonl")) if folders.exists() else True


@pytest.mark.slow
def test_a_named_sitting_goes_to_the_list(run, tmp_path, folders, monkeypatch, rule):
    monkeypatch.setattr(drill_series, "rule_for", lambda *_: rule)
    file = tmp_path / "answers.txt"
    file.write_text("stay\nstay\n")
    code, _, _ = run("drill", "--lens", "70-200", "--lens", "300", "--seed", "4", "--length", "2",
                     "--name", "Cy", "--answers", str(file))  # fmt: skip
    assert code == 0
    (learner,) = json.loads(run("drill", "--class", "--json")[1])["learners"]
    assert (learner["name"], learner["all"]["answers"]) == ("Cy", 2)
    assert not (folders / "drill-answers.jsonl").exists()
    own = f"Cy={folders / 'drill-class' / 'Cy.jsonl'}"
    assert json.loads(run("drill", "--import", own, "--class", "--json")[1])["imported"] == 0


@pytest.mark.slow
def test_nobody_stands_where_nobody_may(make_series):
    series = make_series(60)
    for question in series.questions:
        scorer = series.scorer(question)
        assert scorer.open[question.start]
        assert (scorer.walk_yd[question.start] <= question.limit_yd).sum() > 1
