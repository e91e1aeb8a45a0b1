"""``lensyard assignment`` from the outside, and bad input of every command about a game."""

import json

import pytest
from tests.support.logs import run


@pytest.mark.parametrize(
    ("arguments", "wrong", "expected"),
    [
        (("plan", "--have", "dropback"), "dropback", "drop-back"),
        (("plan", "--assignment", "paper"), "paper", "newspaper"),
        (("plan", "--price", "-1"), "got -1", "between 0 and 10"),
        (("plan", "--price-curve", "curve.gif"), "curve.gif", ".svg"),
        (("gear",), "--kit", "--lens"),
        (("gear", "--kit", "long"), "'long'", "70-200 + 400"),
        (("gear", "--kit", "400", "--plot", "x.gif"), "x.gif", ".svg"),
        (("crew", "--shooters", "3"), "--down", "--game"),
        (("crew", "--down", "1", "--ball", "50", "--shooters", "99"), "99", "12"),
        (("crew", "--kit", "400", "--lens", "70-200"), "--kit", "leave one"),
        (("crew", "--shooters", "3", "--kit", "400", "--kit", "300", "--game"), "2 kits", "one"),
        (("assignment", "show", "nobody"), "nobody", "newspaper"),
        (("assignment", "new", "a" * 81), "name", "1 to 80 printable characters"),
    ],
)
def test_bad_input_is_exit_2_with_what_was_wrong_and_what_was_expected(
    capsys, arguments, wrong, expected
):
    code, out, err = run(capsys, *arguments)
    assert (code, out) == (2, "")
    assert wrong in err
    assert expected in err
    assert "Traceback" not in err


def test_assignments_are_listed_shown_written_and_checked(capsys, tmp_path):
    code, out, _ = run(capsys, "assignment", "list")
    assert code == 0
    assert {line.split("\t")[0] for line in out.splitlines()} >= {
        "agency", "card-set", "newspaper", "student", "team",
    }  # fmt: skip
    code, out, _ = run(capsys, "assignment", "show", "team")
    assert "the home team's plays count" in out
    file = tmp_path / "weekly.toml"
    code, out, err = run(capsys, "assignment", "new", "Harbor weekly", "--out", str(file))
    assert (code, out) == (0, "")
    assert "wrote" in err
    code, out, _ = run(capsys, "assignment", "check", str(file), "--json")
    assert (code, json.loads(out)["is_usable"]) == (0, True)
    text = file.read_text(encoding="utf-8")
    file.write_text(text.replace("touchdown = 10.0", "touchdown = 300"), encoding="utf-8")
    code, out, err = run(capsys, "assignment", "check", str(file))
    assert (code, out) == (2, "")
    line = 1 + text.splitlines().index("touchdown = 10.0")
    assert f"line {line}: weights.touchdown" in err
    code, _, err = run(capsys, "assignment", "new", "Harbor weekly", "--out", str(file))
    assert code == 2
    assert "--force" in err


def test_a_saved_assignment_is_known_by_its_name_everywhere(capsys, monkeypatch, tmp_path):
    monkeypatch.setenv("LENSYARD_DATA_DIR", str(tmp_path))
    code, _, _ = run(capsys, "assignment", "new", "Harbor Weekly", "--save")
    assert code == 0
    code, out, _ = run(
        capsys, "next", "--down", "1", "--ball", "50", "--assignment", "harbor-weekly", "--json"
    )
    assert (code, json.loads(out)["assignment"]) == (0, "Harbor Weekly")
    assert "harbor-weekly" in run(capsys, "assignment", "list")[1]
