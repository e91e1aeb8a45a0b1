"""The list of commands: when each is used, and what is imported for it."""

import subprocess
import sys

import click
import pytest
from click.testing import CliRunner

from lensyard.cli import COMMANDS, group, main


def test_help_groups_commands_by_when_they_are_used():
    text = CliRunner().invoke(group, ["--help"]).stdout
    places = [text.index(when) for when in dict.fromkeys(when for when, _, _ in COMMANDS.values())]
    assert places == sorted(places)
    assert text.index("Before the game") < text.index("  plan ") < text.index("During the game")
    assert text.index("During the game") < text.index("  next ") < text.index("After the game")
    assert "backtest " not in text


CONTEXT = click.Context(group)
EVIDENCE = group.get_command(CONTEXT, "evidence").list_commands(CONTEXT)  # type: ignore[union-attr]


@pytest.mark.parametrize(
    ("prefix", "name"),
    [
        *(((), name) for name in COMMANDS),
        *((("evidence",), name) for name in EVIDENCE),
    ],
)
def test_every_command_of_the_registry_exists(prefix, name):
    done = CliRunner().invoke(group, [*prefix, name, "--help"])
    assert done.exit_code == 0
    assert f" {' '.join((*prefix, name))} " in done.stdout.splitlines()[0]


def test_a_mistyped_name_gets_the_nearest(capsys):
    with pytest.raises(SystemExit, match="2"):
        main(["evidence", "backtst"])
    assert "Did you mean 'backtest'?" in capsys.readouterr().err


@pytest.mark.parametrize("arguments", [["--version"], ["--help"], ["evidence", "--help"]])
def test_no_command_is_imported_to_list_them(arguments):
    code = (
        "import sys\nfrom lensyard.cli import main\n"
        f"try:\n    main({arguments!r})\nexcept SystemExit:\n    pass\n"
        "print([n for n in sys.modules if n in ('numpy', 'pydantic', 'lensyard.domain')],"
        "      file=sys.stderr)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=60
    )
    assert done.stderr.strip() == "[]"
