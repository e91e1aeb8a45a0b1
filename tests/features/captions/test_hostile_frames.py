"""Hostile photographs and sidecars beside sound ones; the benchmark of this name has all 319."""

import pytest
from tests.benchmarks.hostile_frames import run


@pytest.mark.slow
def test_hostile_files_change_nothing_and_end_nothing(tmp_path):
    outcome = run(60, top=tmp_path)
    assert outcome.clean, outcome
    assert outcome.hostile == 60
    assert outcome.named > 45  # the others give a time
