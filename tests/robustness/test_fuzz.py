"""Hostile inputs end in an answer or a `LensyardError`, and leave nothing half written.

The long form is ``python -m tests.benchmarks.fuzz``; these are the same targets.
"""

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from tests.benchmarks.fuzz_inputs import NASTY
from tests.benchmarks.fuzz_targets import TARGETS, run_one

from lensyard.domain.kit import kit_of
from lensyard.errors import LensyardError
from lensyard.plays.importing.mapping import parse_mapping

BOUNDED = {name: 2 if name in ("files", "tables", "charts") else 8 for name in TARGETS}


@pytest.mark.slow
@pytest.mark.parametrize("target", sorted(TARGETS))
def test_hostile_inputs_end_well(target, tmp_path):
    for seed in range(BOUNDED[target]):
        run_one(target, seed, tmp_path / "plays")


@settings(max_examples=50)
@given(
    st.lists(st.text(max_size=12) | st.sampled_from(NASTY), max_size=4),
    st.lists(st.floats(), max_size=4),
    st.integers(-3, 9),
    st.floats(),
)
def test_kits_as_typed_are_kits_or_refused(lenses, crops, bodies, converter):
    try:
        kit = kit_of(lenses, crop_factors=crops or None, bodies=bodies, converter=converter)
    except LensyardError:
        return
    assert kit.text


@settings(
    max_examples=50, deadline=None, derandomize=True,
    suppress_health_check=[HealthCheck.too_slow],
)  # fmt: skip
@given(st.text(max_size=300))
def test_any_text_is_a_mapping_or_refused(text):
    try:
        parse_mapping(text)
    except LensyardError:
        return
