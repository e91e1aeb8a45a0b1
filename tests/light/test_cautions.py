"""Cautions: the published numbers, and that every text defers to those who decide."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lensyard.errors import InvalidInputError, OutOfRangeError
from lensyard.sun.cautions import (
    DEFERRAL,
    HEAT_BANDS,
    LIGHTNING_WAIT_MIN,
    LOCAL_RULES,
    RUN_OUT_ZONE_FT,
    CautionKind,
    cautions_text,
    earliest_restart,
    fahrenheit_from_celsius,
    heat_band,
    heat_caution,
    lightning_caution,
    lightning_distance_miles,
    run_out_caution,
    venue_cautions,
    warning_time_s,
)

law = settings(derandomize=True, deadline=None, max_examples=60)


def test_the_run_out_zone_is_the_published_18_feet():
    # Collins, Garrick and Requa 1977, J Safety Res 9(1):34-38: 95 % of excursions within 18 ft.
    assert RUN_OUT_ZONE_FT == 18.0
    caution = run_out_caution(setback_yd=2.0)
    assert "18 ft (6 yd)" in caution.sentence
    assert "95%" in caution.sentence
    assert "Collins" in caution.source


# Worked out from distance over speed: 15 and 18 ft at 9 m/s. Two decimals, as printed.
@pytest.mark.parametrize(("setback_ft", "time_s"), [(15, 0.51), (18, 0.61)])
def test_the_warning_time_is_distance_over_speed(setback_ft, time_s):
    assert warning_time_s(setback_yd=setback_ft / 3, speed_m_s=9.0) == pytest.approx(
        time_s, abs=0.005
    )


# Limit lines: college 12 ft, pro 12 to 15 ft, high school 6 ft; all inside 18 ft (same study).
@pytest.mark.parametrize("limit_ft", [6, 12, 15])
def test_a_limit_line_inside_the_zone_is_said_to_be(limit_ft):
    sentence = run_out_caution(setback_yd=limit_ft / 3, limit_line_yd=limit_ft / 3).sentence
    assert "inside that zone" in sentence
    assert f"the limit line at {limit_ft} ft lies inside it too" in sentence


def test_beyond_the_zone_nobody_is_called_safe():
    sentence = run_out_caution(setback_yd=7.0).sentence
    assert "one in twenty still went farther" in sentence
    assert "inside that zone" not in sentence


def test_lightning_waits_the_published_half_hour():
    # NFHS Sports Medicine Advisory Committee 2014: 30 minutes, afresh at each thunder or strike.
    assert LIGHTNING_WAIT_MIN == 30.0
    sentence = lightning_caution().sentence
    assert "thunder or a visible strike" in sentence
    assert "30 minutes" in sentence
    last = datetime(2026, 9, 5, 19, 12, tzinfo=UTC)
    assert earliest_restart(last) == last + timedelta(minutes=30)


def test_the_wait_is_real_time_when_the_clocks_change():
    last = datetime(2026, 11, 1, 1, 45, tzinfo=ZoneInfo("America/New_York"))
    assert earliest_restart(last).astimezone(UTC) - last.astimezone(UTC) == timedelta(minutes=30)
    with pytest.raises(InvalidInputError, match="last_sign has no time zone"):
        earliest_restart(datetime(2026, 9, 5, 19, 12))


def test_thunder_takes_five_seconds_a_mile():
    # IHSA guideline: seconds over 5 are miles. Thirty seconds, the usual alarm, are 6 miles.
    assert lightning_distance_miles(30.0) == 6.0
    with pytest.raises(OutOfRangeError):
        lightning_distance_miles(-1.0)


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
        assert words in heat_band(wbgt_f).advice
        sentence = heat_caution(wbgt_f).sentence
        assert words in sentence
        assert "for athletes" in sentence


def test_heat_bands_rise_and_bad_readings_are_refused():
    bounds = [band.from_f for band in HEAT_BANDS]
    assert bounds == sorted(bounds)
    with pytest.raises(OutOfRangeError):
        heat_band(float("nan"))
    assert fahrenheit_from_celsius(32.2) == pytest.approx(89.96, abs=1e-9)


@law
@given(
    setback_yd=st.floats(0.0, 30.0),
    wbgt_f=st.none() | st.floats(40.0, 110.0),
    is_covered=st.booleans(),
)
def test_cautions_always_end_by_deferring(setback_yd, wbgt_f, is_covered):
    found = venue_cautions(setback_yd=setback_yd, wbgt_f=wbgt_f, is_covered=is_covered)
    assert found[0].kind is CautionKind.RUN_OUT
    assert found[-1] == LOCAL_RULES
    kinds = [caution.kind for caution in found]
    assert (CautionKind.LIGHTNING in kinds) is not is_covered
    assert (CautionKind.HEAT in kinds) is (wbgt_f is not None)
    text = cautions_text(found)
    assert text.endswith(DEFERRAL)
    assert text.count(DEFERRAL) == 1
    for caution in found:
        assert caution.text.endswith(DEFERRAL)
        assert caution.source


def test_the_deferral_names_those_who_decide():
    assert all(words in DEFERRAL for words in ("Local rules", "venue's staff", "licensed people"))
    with pytest.raises(InvalidInputError, match="at least one caution"):
        cautions_text([LOCAL_RULES])
