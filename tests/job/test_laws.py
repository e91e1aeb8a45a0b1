"""Laws of the whole chain, on the shipped model."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.support.places import mirrored

from lensyard.domain.assignment import Assignment
from lensyard.domain.field import HashMark
from lensyard.domain.kit import kit_of, reach_quality
from lensyard.domain.perimeter import perimeter_of
from lensyard.domain.situation import Situation
from lensyard.domain.venue import ClosedStretch, Edge, standard_venue
from lensyard.model.context import BASE_MODEL, load_context
from lensyard.spots.masses import Masses
from lensyard.spots.ranking import rank
from lensyard.spots.scorer import Scorer

CONTEXT = load_context(BASE_MODEL)
VENUE = standard_venue()
PERIMETER = perimeter_of(VENUE, step_yd=2.0)
SCORERS = {lens: Scorer(PERIMETER, kit_of([lens])) for lens in ("200", "300", "400")}


def masses_of(situation):
    prior = CONTEXT.prior(VENUE.rules)
    return Masses.of(CONTEXT.forecast(situation), prior, Assignment().weights)


@st.composite
def situations(draw):
    yardline_100 = draw(st.integers(1, 99))
    return Situation(
        down=draw(st.integers(1, 4)),
        distance_yd=draw(st.integers(1, min(25, yardline_100))),
        yardline_100=yardline_100,
        hash_mark=draw(st.sampled_from(HashMark)),
        score_diff=draw(st.integers(-28, 28)),
        quarter=draw(st.integers(1, 5)),
        clock_s=draw(st.integers(0, 900)),
    )


@pytest.mark.slow
@given(situation=situations())
def test_mass_is_one_and_nothing_lies_beyond_an_end_line(situation):
    masses = masses_of(situation)
    assert masses.paths.by_x.min() >= 0
    # float32 over 2,178 cells: 1e-5 is some twenty roundings
    assert float(masses.ends.sum()) == pytest.approx(1.0, abs=1e-5)
    assert masses.ends.shape[0] == 121  # x 0 to 120: both end lines included, nothing beyond


@pytest.mark.slow
@settings(max_examples=30)
@given(situation=situations())
def test_left_and_right_are_mirror_images(situation):
    here = masses_of(situation).plain
    there = masses_of(mirrored(situation)).plain
    np.testing.assert_allclose(here.by_x, there.by_x[..., ::-1], atol=1e-6)  # float32
    if situation.hash_mark is HashMark.MIDDLE:
        p = SCORERS["300"].expected_value(here)[0]
        x, y = SCORERS["300"].xy_yd
        mirror = [
            int(np.argmin(np.hypot(x - a, y - (160 / 3 - b)))) for a, b in zip(x, y, strict=True)
        ]
        np.testing.assert_allclose(p, p[mirror], atol=1e-5)


@pytest.mark.slow
@settings(max_examples=30)
@given(situation=situations())
def test_longer_reach_never_lowers_the_probability_of_being_in_reach(situation):
    flat = masses_of(situation).ends.reshape(-1)
    # one zoom each, from the same wide end, so that nearness is the same
    reached = []
    for lens in ("70-200", "70-300", "70-400"):
        scorer = Scorer(PERIMETER, kit_of([lens]))
        reached.append(reach_quality(scorer.geometry.distance_yd, scorer.kit.lens_sets[0]) @ flat)
    assert (reached[1] >= reached[0] - 1e-6).all()
    assert (reached[2] >= reached[1] - 1e-6).all()


@settings(max_examples=15)
@given(
    situation=situations(),
    edge=st.sampled_from(Edge),
    start=st.floats(0, 40),
    length=st.floats(2, 60),
)
def test_closing_a_stretch_never_raises_the_best_value(situation, edge, start, length):
    end = min(start + length, edge.length_yd)
    if end <= start:
        return
    stretch = ClosedStretch(edge, start, end, depth_yd=4.0)
    closed = replace(VENUE, closed=(*VENUE.closed, stretch))
    masses = masses_of(situation)
    open_best = SCORERS["400"].expected_value(masses.value).max()
    scorer = Scorer(perimeter_of(closed, step_yd=2.0), kit_of(["400"]))
    assert scorer.expected_value(masses.value).max() <= open_best + 1e-5  # float32
    inside = ~scorer.open
    assert scorer.expected_value(masses.plain)[0][inside].max(initial=0.0) == 0.0


@settings(max_examples=20)
@given(situation=situations())
def test_the_parts_of_usable_bound_it(situation):
    masses = masses_of(situation)
    for spot in rank(SCORERS["400"], masses, situation, top=8).spots:
        least = min(spot.p_in_reach, spot.p_facing, spot.p_clear)
        assert spot.p_usable <= least + 1e-5
        assert spot.p_usable_low <= spot.p_usable <= spot.p_usable_high
        assert 0 <= spot.run_out_exposure <= 1 + 1e-6
