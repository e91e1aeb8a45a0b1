"""What light does to the rank of a spot."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lensyard.domain.assignment import LightPreference
from lensyard.errors import OutOfRangeError, UnknownNameError
from lensyard.spots.light_preference import (
    LIGHT_FACTORS,
    LightFactors,
    expected_light_factor,
    light_factor,
)
from lensyard.sun.direction import LightKind

kinds_drawn = st.lists(st.sampled_from(LightKind), min_size=1, max_size=12)


@given(kinds=kinds_drawn, factor=st.floats(0.05, 1))
def test_ignoring_the_light_never_changes_a_value(kinds, factor):
    odd = LightFactors(back=factor)
    for factors in (None, odd):
        assert (light_factor(kinds, LightPreference.IGNORE, factors=factors) == 1.0).all()


@given(kinds=kinds_drawn, preference=st.sampled_from(LightPreference))
def test_a_preference_is_soft_and_follows_the_kind(kinds, preference):
    factor = light_factor(kinds, preference)
    assert ((factor >= 0.05) & (factor <= 1.0)).all()
    assert list(factor) == [LIGHT_FACTORS[preference].of(kind) for kind in kinds]


def test_the_two_preferences_point_opposite_ways():
    avoid, prefer = (
        dict(zip(LightKind, light_factor(list(LightKind), preference), strict=True))
        for preference in (LightPreference.AVOID_BACKLIGHT, LightPreference.PREFER_BACKLIGHT)
    )
    assert avoid[LightKind.FRONT] > avoid[LightKind.BACK] > avoid[LightKind.SUN_IN_LENS]
    assert prefer[LightKind.BACK] > prefer[LightKind.SIDE] > prefer[LightKind.FRONT]


@given(value=st.lists(st.floats(0, 10), min_size=2, max_size=8), kind=st.sampled_from(LightKind))
def test_light_that_is_the_same_everywhere_changes_no_rank(value, kind):
    for preference in LightPreference:
        weighed = np.array(value) * light_factor([kind] * len(value), preference)
        assert (
            np.argsort(-weighed, kind="stable") == np.argsort(-np.array(value), kind="stable")
        ).all()


def test_the_expected_factor_is_the_mean_over_where_the_action_may_be():
    kinds = np.array([[LightKind.FRONT, LightKind.BACK], [LightKind.SIDE, LightKind.SIDE]])
    avoid = LightPreference.AVOID_BACKLIGHT
    factors = LIGHT_FACTORS[avoid]
    mean = expected_light_factor(kinds, [3.0, 1.0], avoid)
    assert mean == pytest.approx([(3 * factors.front + factors.back) / 4, factors.side])
    assert list(expected_light_factor(kinds, np.zeros((2, 2)), avoid)) == [1.0, 1.0]


def test_a_veto_and_a_kind_that_is_none_are_refused():
    with pytest.raises(OutOfRangeError):
        LightFactors(back=0.0)
    with pytest.raises(UnknownNameError, match="backish"):
        light_factor(["backish"], LightPreference.IGNORE)
