"""`import lensyard`: a few documented functions, imported when they are asked for."""

import inspect
import json
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

import lensyard
from lensyard.cli import group
from lensyard.errors import InvalidInputError


def test_importing_it_imports_nothing_else():
    code = (
        "import sys\nbefore = set(sys.modules)\nimport lensyard\n"
        "print(sorted(set(sys.modules) - before))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=60
    )
    assert done.stdout.strip() == "['lensyard']"


@pytest.mark.parametrize("name", lensyard.__all__)
def test_every_function_is_documented_and_takes_keywords(name):
    assert name in dir(lensyard)
    function = getattr(lensyard, name)
    text = inspect.getdoc(function) or ""
    for parameter in inspect.signature(function).parameters.values():
        assert parameter.name in text
        assert parameter.kind is parameter.KEYWORD_ONLY or parameter.name in ("season", "seasons")


def test_what_it_does_not_have_is_an_attribute_error():
    with pytest.raises(AttributeError, match="no attribute 'plans'"):
        lensyard.plans  # type: ignore[attr-defined] # noqa: B018


@pytest.mark.slow
def test_the_library_answers_as_the_command_does():
    arguments = ["next", "--down", "1", "--ball", "opp8", "--kit", "70-200 + 300 x1.4"]
    arguments += ["--venue", "brindle-prairie", "--attacking", "A", "--standing", "left:opp20"]
    command = json.loads(CliRunner().invoke(group, [*arguments, "--json"]).stdout)
    answer = lensyard.next_play(
        down=1,
        ball="opp8",
        kit="70-200 + 300 x1.4",
        venue="brindle-prairie",
        attacking="A",
        standing="left:opp20",
    )
    said = [(spot["label"], spot["p_usable"]) for spot in command["spots"]]
    assert [(spot.label, spot.p_usable) for spot in answer.ranking.spots] == said


def test_the_example_of_the_readme_runs(capsys):
    readme = (Path(__file__).parents[1] / "README.md").read_text(encoding="utf-8")
    code = readme.split("```python\n", maxsplit=1)[1].split("```", maxsplit=1)[0]
    assert len(code.splitlines()) <= 6
    exec(code, {})
    said = capsys.readouterr().out.splitlines()
    assert len(said) >= 5
    assert all(line.endswith("%") for line in said)


def test_what_cannot_be_is_told():
    with pytest.raises(InvalidInputError, match="own1 to own49"):
        lensyard.next_play(down=1, ball="opp70")


@pytest.mark.slow
def test_a_plan_and_a_backtest_are_for_the_kit_asked_for(tmp_path, monkeypatch):
    monkeypatch.setenv("LENSYARD_CACHE_DIR", str(tmp_path))
    plan = lensyard.plan(kit="70-200")
    result = lensyard.backtest(2019, kit="70-200")
    assert plan.request.kit.reach_yd == 20
    assert {policy.name for policy in result.policies} >= {"plan", "ahead20"}
