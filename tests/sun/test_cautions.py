"""Cautions: the published numbers, and that every text defers to those who decide."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lensyard.domain.venue import standard_venue
from lensyard.errors import OutOfRangeError
from lensyard.sun import cautions


def test_the_run_out_zone_is_the_published_18_feet():
    # Collins, Garrick and Requa 1977, J Safety Res 9(1):34-38: 95 % of excursions within 18 ft.
    assert cautions.RUN_OUT_ZONE_FT == 18.0
    caution = cautions.run_out_caution(setback_yd=2.0)
    assert "18 ft (6 yd)" in caution.sentence
    assert "95%" in caution.sentence
    assert "Collins" in caution.source


# Worked out from distance over speed: 15 and 18 ft at 9 m/s. Two decimals, as printed.
@pytest.mark.parametrize(("setback_ft", "time_s"), [(15, 0.51), (18, 0.61)])
def test_the_warning_time_is_distance_over_speed(setback_ft, time_s):
    assert cautions.warning_time_s(setback_yd=setback_ft / 3) == pytest.approx(time_s, abs=0.005)


# Limit lines: college 12 ft, pro 12 to 15 ft, high school 6 ft; all inside 18 ft (same study).
@pytest.mark.parametrize("limit_ft", [6, 12, 15])
def test_a_limit_line_inside_the_zone_is_said_to_be(limit_ft):
    sentence = cautions.run_out_caution(
        setback_yd=limit_ft / 3, limit_line_yd=limit_ft / 3
    ).sentence
    assert "inside that zone" in sentence
    assert f"the limit line at {limit_ft} ft lies inside it too" in sentence


def test_beyond_the_zone_nobody_is_called_safe():
    sentence = cautions.run_out_caution(setback_yd=7.0).sentence
    assert "one in twenty still went farther" in sentence
    assert "inside that zone" not in sentence


def test_lightning_waits_the_published_half_hour():
    # NFHS Sports Medicine Advisory Committee 2014: 30 minutes, afresh at each thunder or strike.
    assert cautions.LIGHTNING_WAIT_MIN == 30.0
    sentence = cautions.lightning_caution().sentence
    assert "thunder or a visible strike" in sentence
    assert "30 minutes" in sentence


# Georgia High School Association by-law 2.67, degrees Fahrenheit, both ends of each printed band.
@pytest.mark.parametrize(
    ("readings", "words"),
    [
        ((60.0, 81.9), "three breaks"),
        ((82.0, 86.9), "discretion"),
        ((87.0, 89.9), "two hours"),
        ((90.0, 92.0), "one hour"),
        ((92.1, 100.0), "no outdoor"),
    ],
)
def test_heat_bands_are_the_published_ones(readings, words):
    for wbgt_f in readings:
        assert words in cautions.heat_band(wbgt_f).advice
        sentence = cautions.heat_caution(wbgt_f).sentence
        assert words in sentence
        assert "for athletes" in sentence


def test_heat_bands_rise_and_bad_readings_are_refused():
    bounds = [band.from_f for band in cautions.HEAT_BANDS]
    assert bounds == sorted(bounds)
    with pytest.raises(OutOfRangeError):
        cautions.heat_band(float("nan"))


@given(
    side_yd=st.floats(1.0, 15.0),
    end_yd=st.floats(1.0, 15.0),
    wbgt_f=st.none() | st.floats(40.0, 110.0),
    covered=st.booleans(),
)
def test_cautions_begin_with_the_run_outs_and_end_by_deferring(side_yd, end_yd, wbgt_f, covered):
    venue = replace(
        standard_venue(), side_setback_yd=side_yd, end_setback_yd=end_yd, covered=covered
    )
    found = cautions.cautions_for(venue, wbgt_f=wbgt_f)
    kinds = [caution.kind for caution in found]
    assert kinds == [
        *[cautions.CautionKind.RUN_OUT] * (1 if side_yd == end_yd else 2),
        *[cautions.CautionKind.LIGHTNING] * (not covered),
        *[cautions.CautionKind.HEAT] * (wbgt_f is not None),
        cautions.CautionKind.LOCAL_RULES,
    ]
    assert found[-1].sentence == cautions.DEFERRAL
    assert all(caution.source for caution in found)


def test_the_deferral_names_those_who_decide():
    assert all(
        words in cautions.DEFERRAL for words in ("Local rules", "venue's staff", "licensed people")
    )
