"""Assignments: the default weights, and what is refused."""

from __future__ import annotations

import math

import pytest

from lensyard.domain.assignment import (
    DEFENSE_WEIGHTS,
    OFFENSE_WEIGHTS,
    USABLE_WEIGHTS,
    Coverage,
    Faces,
    LightPreference,
    OutcomeWeights,
    assignment_for,
)
from lensyard.errors import OutOfRangeError

NAMES = tuple(OutcomeWeights.__dataclass_fields__)


def test_default_weights_are_those_of_the_design() -> None:
    # Touchdown 10, gain of 20 or more 4, incompletion 0.5, any other 1: a convention, not a fact.
    assert (
        OFFENSE_WEIGHTS.touchdown,
        OFFENSE_WEIGHTS.gain20,
        OFFENSE_WEIGHTS.incompletion,
        OFFENSE_WEIGHTS.other,
    ) == (10.0, 4.0, 0.5, 1.0)


def test_a_touchdown_outranks_a_long_gain_which_outranks_the_rest() -> None:
    rest = max(getattr(OFFENSE_WEIGHTS, n) for n in NAMES if n not in ("touchdown", "gain20"))
    assert OFFENSE_WEIGHTS.touchdown > OFFENSE_WEIGHTS.gain20 > rest


def test_a_defense_assignment_wants_its_own_big_plays_not_the_other_teams_touchdown() -> None:
    defense = DEFENSE_WEIGHTS
    assert defense.interception > defense.sack > defense.touchdown
    assert defense.interception > OFFENSE_WEIGHTS.interception


def test_usable_weights_count_plays() -> None:
    assert {getattr(USABLE_WEIGHTS, name) for name in NAMES} == {1.0}


@pytest.mark.parametrize("faces", Faces)
def test_the_plain_assignment_counts_both_teams_and_leaves_the_light_alone(faces: Faces) -> None:
    assignment = assignment_for(faces)
    assert assignment.faces is faces
    assert assignment.coverage is Coverage.BOTH
    assert assignment.light is LightPreference.IGNORE
    assert assignment.name == faces.value
    expected = DEFENSE_WEIGHTS if faces is Faces.DEFENSE else OFFENSE_WEIGHTS
    assert assignment.weights == expected


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("bad", [-0.1, 101.0, math.nan, math.inf])
def test_a_weight_out_of_range_is_refused_by_name(name: str, bad: float) -> None:
    with pytest.raises(OutOfRangeError, match=f"^{name} must be between 0 and 100"):
        OutcomeWeights(**{name: bad})
