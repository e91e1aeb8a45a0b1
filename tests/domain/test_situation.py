"""The situation before a snap and the zones of the field: what is understood and refused."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lensyard.domain.field import HashMark
from lensyard.domain.situation import (
    HASH_CODES,
    Situation,
    SituationBatch,
    Zone,
    parse_ball,
    parse_clock,
    zone_indices,
    zone_named,
    zone_of,
)
from lensyard.errors import InvalidInputError, OutOfRangeError, ParseError, UnknownNameError


@st.composite
def situations(draw):
    yardline_100 = draw(st.integers(1, 99))
    return Situation(
        down=draw(st.integers(1, 4)),
        distance_yd=draw(st.integers(1, yardline_100)),
        yardline_100=yardline_100,
        hash_mark=draw(st.sampled_from(HashMark)),
        score_diff=draw(st.integers(-60, 60)),
        quarter=draw(st.integers(1, 5)),
        clock_s=draw(st.floats(0, 900)),
    )


@given(side=st.sampled_from(["own", "opp", "OPP", "opponent's "]), yard=st.integers(1, 49))
def test_ball_reads_back_as_written(side, yard):
    expected = 100 - yard if side == "own" else yard
    assert parse_ball(f"{side}{yard}") == expected


@pytest.mark.parametrize("text", ["50", "own50", "opp 50", " midfield ", "mid"])
def test_midfield_has_several_names(text):
    assert parse_ball(text) == 50


@pytest.mark.parametrize("text", ["opp70", "own0", "35", "", "own", "opp-", "own20.5", "nan", "-5"])
def test_a_spot_of_the_ball_that_is_none_is_refused_with_the_forms(text):
    with pytest.raises(ParseError, match="own1 to own49, 50, or opp49 to opp1"):
        parse_ball(text)


@pytest.mark.parametrize(
    ("text", "seconds"), [("15:00", 900.0), ("0:00", 0.0), ("5:30", 330.0), ("00:07", 7.0)]
)
def test_clock_reads_minutes_and_seconds(text, seconds):
    assert parse_clock(text) == seconds


@pytest.mark.parametrize("text", ["15:01", "1:60", "5", "-1:00", "5:3", "99:59", ""])
def test_a_clock_outside_a_quarter_is_refused(text):
    with pytest.raises(ParseError, match="0:00 to 15:00"):
        parse_clock(text)


@pytest.mark.parametrize(
    ("change", "name"),
    [
        ({"down": 5}, "down"),
        ({"down": 0}, "down"),
        ({"yardline_100": 0}, "yardline_100"),
        ({"yardline_100": 100}, "yardline_100"),
        ({"distance_yd": 0}, "distance_yd"),
        ({"distance_yd": math.nan}, "distance_yd"),
        ({"quarter": 6}, "quarter"),
        ({"clock_s": 901.0}, "clock_s"),
        ({"clock_s": math.nan}, "clock_s"),
        ({"clock_s": math.inf}, "clock_s"),
        ({"score_diff": 100}, "score_diff"),
    ],
)
def test_what_cannot_be_on_a_field_is_refused_by_name(change, name):
    values = {"down": 1, "distance_yd": 10, "yardline_100": 50} | change
    with pytest.raises(OutOfRangeError, match=f"^{name} must be between"):
        Situation(**values)  # type: ignore[arg-type]


def test_a_line_to_gain_beyond_the_goal_line_is_refused_with_the_way_out():
    with pytest.raises(InvalidInputError, match="with goal to go give 5"):
        Situation(1, 10, 5)


@given(rows=st.lists(situations(), min_size=1, max_size=8), data=st.data())
def test_a_batch_keeps_the_situations_and_their_order(rows, data):
    batch = SituationBatch.of(rows)
    index = np.array(data.draw(st.permutations(range(len(rows)))))
    shuffled = batch.take(index)
    assert len(batch) == len(shuffled) == len(rows)
    for place, source in enumerate(index):
        row = rows[source]
        for name in ("down", "distance_yd", "yardline_100", "score_diff", "quarter"):
            assert getattr(shuffled, name)[place] == getattr(row, name)
        # A half is two quarters of 15 minutes.
        assert shuffled.half_s[place] == row.clock_s + (900.0 if row.quarter in (1, 3) else 0.0)
        assert HASH_CODES[shuffled.hash_code[place]] is row.hash_mark


@pytest.mark.parametrize(
    ("situation", "text"),
    [
        (Situation(4, 1, 1), "4th and goal at the opponent's 1"),
        (Situation(2, 3, 50), "2nd and 3 at midfield"),
        (Situation(1, 10, 75), "1st and 10 at its own 25"),
    ],
)
def test_a_situation_is_said_as_people_say_it(situation, text):
    assert situation.text() == text


@pytest.mark.parametrize(
    ("yardline_100", "zone"),
    [
        (99, Zone.OWN_1_20),
        (80, Zone.OWN_1_20),
        (79, Zone.OWN_21_40),
        (60, Zone.OWN_21_40),
        (59, Zone.MIDDLE_41_60),
        (41, Zone.MIDDLE_41_60),
        (40, Zone.OPPONENT_21_40),
        (21, Zone.OPPONENT_21_40),
        (20, Zone.RED_ZONE),
        (6, Zone.RED_ZONE),
        (5, Zone.GOAL_TO_GO),
        (1, Zone.GOAL_TO_GO),
    ],
)
def test_zones_change_at_the_yard_lines_in_their_names(yardline_100, zone):
    assert zone_of(yardline_100) is zone


def test_every_line_of_scrimmage_lies_in_one_zone():
    lines = np.arange(1, 100)
    found = [zone_of(int(line)) for line in lines]
    for line, zone in zip(lines, found, strict=True):
        assert [one for one in Zone if one.low <= line <= one.high] == [zone]
    np.testing.assert_array_equal(zone_indices(lines), [list(Zone).index(zone) for zone in found])
    assert [zone.middle for zone in Zone] == [89, 69, 50, 30, 13, 3]


@pytest.mark.parametrize("zone", Zone)
def test_zones_are_named_in_short(zone):
    assert zone_named(zone.key.replace("-", " ").upper()) is zone


def test_an_unknown_zone_is_refused_with_the_names():
    with pytest.raises(UnknownNameError, match="Did you mean 'red-zone'"):
        zone_named("rad-zone")
