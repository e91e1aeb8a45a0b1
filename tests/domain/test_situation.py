"""The situation before a snap: what is understood, what is refused."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lensyard.domain.field import OPPONENT_GOAL_LINE_X_YD, HashMark
from lensyard.domain.situation import HASH_CODES, Situation, SituationBatch, parse_ball, parse_clock
from lensyard.errors import InvalidInputError, OutOfRangeError, ParseError

LAW = settings(derandomize=True, deadline=None, max_examples=100)


@st.composite
def situations(draw: st.DrawFn) -> Situation:
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


@LAW
@given(side=st.sampled_from(["own", "opp", "OPP", "opponent's "]), yard=st.integers(1, 49))
def test_ball_reads_back_as_written(side: str, yard: int) -> None:
    expected = 100 - yard if side == "own" else yard
    assert parse_ball(f"{side}{yard}") == expected


@pytest.mark.parametrize("text", ["50", "own50", "opp 50", " midfield ", "mid"])
def test_midfield_has_several_names(text: str) -> None:
    assert parse_ball(text) == 50


@pytest.mark.parametrize("text", ["opp70", "own0", "35", "", "own", "opp-", "own20.5", "nan", "-5"])
def test_a_spot_of_the_ball_that_is_none_is_refused_with_the_forms(text: str) -> None:
    with pytest.raises(ParseError, match="own1 to own49, 50, or opp49 to opp1"):
        parse_ball(text)


@pytest.mark.parametrize(
    ("text", "seconds"), [("15:00", 900.0), ("0:00", 0.0), ("5:30", 330.0), ("00:07", 7.0)]
)
def test_clock_reads_minutes_and_seconds(text: str, seconds: float) -> None:
    assert parse_clock(text) == seconds


@pytest.mark.parametrize("text", ["15:01", "1:60", "5", "-1:00", "5:3", "99:59", ""])
def test_a_clock_outside_a_quarter_is_refused(text: str) -> None:
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
def test_what_cannot_be_on_a_field_is_refused_by_name(change: dict[str, float], name: str) -> None:
    values = {"down": 1, "distance_yd": 10, "yardline_100": 50} | change
    with pytest.raises(OutOfRangeError, match=f"^{name} must be between"):
        Situation(**values)  # type: ignore[arg-type]


def test_a_line_to_gain_beyond_the_goal_line_is_refused_with_the_way_out() -> None:
    with pytest.raises(InvalidInputError, match="with goal to go give 5"):
        Situation(1, 10, 5)


@LAW
@given(situation=situations())
def test_the_line_to_gain_is_on_the_field_and_ahead(situation: Situation) -> None:
    scrimmage, gain = situation.line_of_scrimmage_x_yd, situation.line_to_gain_x_yd
    assert 10 < scrimmage < gain <= OPPONENT_GOAL_LINE_X_YD
    assert situation.goal_to_go == (gain == OPPONENT_GOAL_LINE_X_YD)


@LAW
@given(situation=situations())
def test_time_left_in_the_half_counts_the_quarter_to_come(situation: Situation) -> None:
    more = 900.0 if situation.quarter in (1, 3) else 0.0
    assert situation.half_s == situation.clock_s + more


@LAW
@given(rows=st.lists(situations(), min_size=1, max_size=8), data=st.data())
def test_a_batch_keeps_the_situations_and_their_order(
    rows: list[Situation], data: st.DataObject
) -> None:
    batch = SituationBatch.of(rows)
    index = np.array(data.draw(st.permutations(range(len(rows)))))
    shuffled = batch.take(index)
    assert len(batch) == len(shuffled) == len(rows)
    for station_index, source in enumerate(index):
        row = rows[source]
        assert shuffled.down[station_index] == row.down
        assert shuffled.distance_yd[station_index] == row.distance_yd
        assert shuffled.yardline_100[station_index] == row.yardline_100
        assert shuffled.score_diff[station_index] == row.score_diff
        assert shuffled.quarter[station_index] == row.quarter
        assert shuffled.half_s[station_index] == row.half_s
        assert HASH_CODES[shuffled.hash_code[station_index]] is row.hash_mark


def test_an_empty_batch_is_a_batch() -> None:
    assert len(SituationBatch.of([])) == 0


def test_a_neutral_batch_is_level_and_does_not_know_the_hash_mark() -> None:
    down = np.array([1, 4])
    batch = SituationBatch.neutral(
        down=down, distance_yd=np.array([10, 1]), yardline_100=np.array([75, 1])
    )
    assert batch.down.tolist() == [1, 4]
    assert batch.distance_yd.tolist() == [10, 1]
    assert batch.yardline_100.tolist() == [75, 1]
    assert not batch.score_diff.any()
    assert {HASH_CODES[code] for code in batch.hash_code} == {None}


@pytest.mark.parametrize(
    ("situation", "text"),
    [
        (Situation(4, 1, 1), "4th and goal at the opponent's 1"),
        (Situation(2, 3, 50), "2nd and 3 at midfield"),
        (Situation(1, 10, 75), "1st and 10 at its own 25"),
    ],
)
def test_a_situation_is_said_as_people_say_it(situation: Situation, text: str) -> None:
    assert situation.text() == text
