"""Killed at any moment, a log loses at most the play being typed."""

import json
import subprocess
import sys

import pytest
from tests.benchmarks.kill_log import damage_log


@pytest.mark.slow
def test_forty_kills_lose_nothing_that_was_acknowledged():
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


@pytest.mark.slow
def test_no_damage_of_file_or_copy_hides_a_play():
    """The long form: ``python -m tests.benchmarks.kill_log --damage 5000``."""
    tally = damage_log(120, seed=5)
    assert (tally.tried, tally.whole) == (120, 120)
    assert (tally.lost, tally.tracebacks) == (0, 0)
    assert tally.said > 100
