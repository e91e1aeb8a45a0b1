"""Every command, setting, measurement and public field name is documented."""

import json
import pkgutil
import re
from pathlib import Path

import click
import pytest
import tests.benchmarks
from click.testing import CliRunner

from lensyard.cli import COMMANDS, group

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_is_in_the_readme(name):
    assert f"lensyard {name}" in README


def subcommands():
    context = click.Context(group)
    found = []
    for name in COMMANDS:
        command = group.get_command(context, name)
        if isinstance(command, click.Group):
            found += [(name, sub) for sub in command.list_commands(context)]
    return found


@pytest.mark.parametrize(("name", "sub"), subcommands())
def test_every_subcommand_is_documented(name, sub):
    text = README + DEVELOPERS
    assert f"{name} {sub}" in text or f"`{sub}`" in text


def test_every_setting_is_documented():
    used = {
        name
        for path in (ROOT / "src").rglob("*.py")
        for name in re.findall(r"\"(LENSYARD_[A-Z_]+)\"", path.read_text(encoding="utf-8"))
    }
    assert len(used) >= 3
    assert [name for name in sorted(used) if name not in README + DEVELOPERS] == []


def test_every_measurement_is_documented():
    names = [
        module.name
        for module in pkgutil.iter_modules(tests.benchmarks.__path__)
        if "__main__" in Path(module.module_finder.path, f"{module.name}.py").read_text()  # type: ignore[union-attr]
    ]
    assert len(names) >= 5
    assert [name for name in names if f"tests.benchmarks.{name}" not in DEVELOPERS] == []


@pytest.mark.slow
def test_every_field_of_an_answer_is_in_the_glossary():
    arguments = ["next", "--down", "3", "--distance", "7", "--ball", "opp35", "--json"]
    arguments += ["--standing", "left:opp40"]
    answer = json.loads(CliRunner().invoke(group, arguments).stdout)
    fields = {*answer["outcome"], *answer["outcome"]["drive"], *answer["spots"][0]}
    fields |= set(answer["answer"])
    missing = [name for name in sorted(fields) if f"`{name}`" not in DEVELOPERS]
    assert missing == []


def test_the_readme_holds_the_two_commands_that_set_everything_up():
    for marker in ("answer command", "test command"):
        assert re.search(rf"<!-- {marker} -->\n```sh\n.+\n```", README), marker


def test_every_promise_names_a_test_that_is_there():
    table = DEVELOPERS.partition("### What is promised")[2]
    rows = [line for line in table.splitlines() if line.startswith("| ")][2:]
    named = re.findall(r"`(test_\w+)`", table)
    assert [row for row in rows if "`test_" not in row] == []
    written = "\n".join(p.read_text(encoding="utf-8") for p in (ROOT / "tests").rglob("test_*.py"))
    assert len(named) >= len(rows) >= 20
    assert [name for name in named if f"def {name}(" not in written] == []
