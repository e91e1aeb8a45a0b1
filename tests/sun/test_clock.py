"""Zones, naive times and changes of the clocks."""

from datetime import UTC, datetime, timedelta, timezone
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest

from lensyard.errors import InvalidInputError, UnknownNameError
from lensyard.settings.files import VENUES
from lensyard.sun import position

NEW_YORK = ZoneInfo("America/New_York")


@pytest.mark.parametrize("name", ["America/NewYork", "", "../etc/passwd", "Nowhere/Atall"])
def test_an_unknown_zone_is_refused(name):
    where = "axis_bearing_deg = 0.0\nlatitude_deg = 40.0\nlongitude_deg = -90.0"
    reading = VENUES.read(f'name = "Field"\nrules = "pro"\n{where}\ntime_zone = "{name}"\n')
    assert "IANA name" in reading.issues[0].message


def test_a_naive_time_takes_the_zone_and_says_so():
    zoned = position.in_zone(datetime(2026, 10, 3, 15, 30), NEW_YORK)
    assert zoned.at == datetime(2026, 10, 3, 19, 30, tzinfo=UTC)
    assert "read as America/New_York" in zoned.note


def test_an_aware_time_is_only_converted():
    zoned = position.in_zone(
        datetime(2026, 10, 3, 12, 30, tzinfo=timezone(timedelta(hours=-7))), NEW_YORK
    )
    assert zoned.at.isoformat() == "2026-10-03T15:30:00-04:00"
    assert zoned.note == ""


# Clocks in the United States change at 2:00 local time on the second Sunday of March and the first
# of November (15 U.S.C. 260a): 8 March and 1 November 2026.
@pytest.mark.parametrize(("fold", "utc_hour", "which"), [(0, 5, "first"), (1, 6, "second")])
def test_a_repeated_hour_is_read_as_told_and_the_note_says_so(fold, utc_hour, which):
    zoned = position.in_zone(datetime(2026, 11, 1, 1, 30, fold=fold), NEW_YORK)
    assert zoned.at.astimezone(UTC) == datetime(2026, 11, 1, utc_hour, 30, tzinfo=UTC)
    assert f"the {which} of the two" in zoned.note


def test_a_skipped_hour_is_refused():
    with pytest.raises(InvalidInputError, match="clocks jump over it"):
        position.in_zone(datetime(2026, 3, 8, 2, 30), NEW_YORK)


def test_steps_are_real_time_across_a_change_of_the_clocks():
    times = position.time_steps(
        start=datetime(2026, 11, 1, 0, 30, tzinfo=NEW_YORK), minutes=120, step_min=30
    )
    assert len(times) == 5
    gaps = {b.astimezone(UTC) - a.astimezone(UTC) for a, b in pairwise(times)}
    assert gaps == {timedelta(minutes=30)}
    assert [f"{at:%H:%M%z}" for at in times][-2:] == ["01:00-0500", "01:30-0500"]


def test_steps_need_a_zone_and_a_positive_length():
    with pytest.raises(InvalidInputError, match="start has no time zone"):
        position.time_steps(start=datetime(2026, 10, 3), minutes=60, step_min=15)
    with pytest.raises(InvalidInputError, match="step_min"):
        position.time_steps(start=datetime(2026, 10, 3, tzinfo=UTC), minutes=60, step_min=0)


# SI 2023: games of 2022 took 3:21 in the top college division and about 3:10 in the pros; halftime
# 20 and 13 minutes (NCAA R3-2-1-b; NFL Official Playing Rules 2021 R4-1-3); schools from memory.
@pytest.mark.parametrize(
    ("rule_set", "game", "halftime"),
    [("pro", 190, 13), ("college", 201, 20), ("high-school", 150, 15)],
)
def test_quarters_follow_each_other_and_fill_the_published_game(rule_set, game, halftime):
    kickoff = datetime(2026, 10, 3, 15, 30, tzinfo=NEW_YORK)
    spans = position.quarter_spans(kickoff=kickoff, rule_set=rule_set)
    assert [span.name for span in spans] == [
        "quarter 1",
        "quarter 2",
        "halftime",
        "quarter 3",
        "quarter 4",
    ]
    assert spans[0].start == kickoff
    assert all(a.end == b.start for a, b in pairwise(spans))
    assert spans[-1].end - kickoff == timedelta(minutes=game)
    assert spans[2].end - spans[2].start == timedelta(minutes=halftime)


def test_quarters_of_an_unknown_rule_set_are_refused():
    kickoff = datetime(2026, 10, 3, 15, 30, tzinfo=NEW_YORK)
    with pytest.raises(UnknownNameError):
        position.quarter_spans(kickoff=kickoff, rule_set="backyard")
