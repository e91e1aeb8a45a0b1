"""Killed at any moment, a log loses at most the play being typed."""

from __future__ import annotations

import json
import subprocess
import sys

import pytest


@pytest.mark.slow
def test_forty_kills_lose_nothing_that_was_acknowledged() -> None:
    """The long form: ``python -m tests.benchmarks.kill_log --kills 400``."""
    if sys.platform == "win32":
        pytest.skip("killing a fork needs a POSIX system")
    command = [sys.executable, "-m", "tests.benchmarks.kill_log", "--kills", "40", "--json"]
    done = subprocess.run(
        [*command, "--acks", "1", "--seed", "3"], check=False, capture_output=True, text=True
    )
    tally = json.loads(done.stdout)
    assert done.returncode == 0, done.stderr
    assert tally["kills"] == 40
    assert tally["acknowledged"] >= 10
    assert (tally["lost"], tally["unasked"], tally["unopened"]) == (0, 0, 0)
    assert tally["copies_behind"] == 0
