"""Commands as they are typed, for the tests of every feature."""

import json
from collections.abc import Callable
from functools import partial
from typing import Any

import pytest
from tests.support.logs import run as run_command

Run = Callable[..., tuple[int, str, str]]


@pytest.fixture
def run(capsys):
    """Run a command; return its exit code, standard output and standard error."""

    return partial(run_command, capsys)


@pytest.fixture
def document(run):
    """Run a command that succeeds with ``--json``; return its document."""

    def asked(*arguments):
        code, out, err = run(*arguments, "--json")
        assert code == 0, err
        found: dict[str, Any] = json.loads(out)
        assert found["schema_version"] in (2, 3)
        return found

    return asked
