"""The sun against published examples and tables, and an independent implementation."""

from datetime import UTC, date, datetime, time, timedelta, timezone
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from lensyard.errors import InvalidInputError, OutOfRangeError
from lensyard.sun import position

DENVER, PACIFIC = ZoneInfo("America/Denver"), ZoneInfo("America/Los_Angeles")
MOUNTAIN_STANDARD = timezone(timedelta(hours=-7))
PACIFIC_STANDARD = timezone(timedelta(hours=-8))

# Places named by what they stand for, (latitude, longitude) in degrees.
PLACES = [
    (21.3, -157.9),
    (25.8, -80.2),
    (33.6, -84.4),
    (39.742476, -105.1786),
    (47.6, -122.3),
    (61.2, -149.9),
    (71.3, -156.8),
    (-33.9, 151.2),
]


def season_times():
    """Return times over one season at all hours (a step of 23 h 37 min drifts through the day)."""
    start = datetime(2026, 8, 15, tzinfo=UTC)
    return [start + timedelta(hours=23, minutes=37) * i for i in range(180)]


def great_circle_deg(elevation_1, azimuth_1, elevation_2, azimuth_2):
    """Return the angle on the sky between two directions, from their unit vectors. [deg]"""

    def vector(elevation, azimuth):
        e, a = np.radians(elevation), np.radians(azimuth)
        return np.stack([np.cos(e) * np.sin(a), np.cos(e) * np.cos(a), np.sin(e)])

    difference = vector(elevation_1, azimuth_1) - vector(elevation_2, azimuth_2)
    return np.degrees(2 * np.arcsin(np.clip(np.linalg.norm(difference, axis=0) / 2, 0, 1)))


# Reda and Andreas, NREL/TP-560-34302, table A5.1 (2003), and the same inputs in 2004 as pvlib's
# tests print them from the reference C program. Tolerance .02: the promise of this package; the
# example has thin mountain air (820 mb), which alone is worth .004.
@pytest.mark.parametrize(
    ("year", "zenith_deg", "azimuth_deg", "geometric_deg"),
    [(2003, 50.11162, 194.34024, 39.872046), (2004, 50.39141121, 194.31196181, None)],
)
def test_position_agrees_with_the_published_spa_example(
    year, zenith_deg, azimuth_deg, geometric_deg
):
    at = datetime(year, 10, 17, 12, 30, 30, tzinfo=MOUNTAIN_STANDARD)
    sun = position.sun_position(latitude_deg=39.742476, longitude_deg=-105.1786, at=at)
    assert 90.0 - sun.elevation_deg == pytest.approx(zenith_deg, abs=0.02)
    assert sun.azimuth_deg == pytest.approx(azimuth_deg, abs=0.02)
    if geometric_deg is not None:  # printed for the first year only
        assert sun.geometric_elevation_deg == pytest.approx(geometric_deg, abs=0.02)


def test_refraction_agrees_with_the_published_spa_example():
    # Same table: .016332 at 39.872046 degrees, 820 mb and 11 C. Ours is for 1010 mb and 10 C, so
    # scale by pressure and absolute temperature; 1e-5 covers the six printed digits.
    lift = float(position.apparent_elevation(39.872046)) - 39.872046
    assert lift * (820 / 1010) * (283 / 284) == pytest.approx(0.016332, abs=1e-5)


@pytest.mark.parametrize(("latitude_deg", "longitude_deg"), PLACES)
def test_position_agrees_with_pvlib_over_a_season(latitude_deg, longitude_deg):
    solarposition = pytest.importorskip("pvlib.solarposition", reason="pvlib is the oracle")
    pandas = pytest.importorskip("pandas")
    times = season_times()
    found = [
        position.sun_position(latitude_deg=latitude_deg, longitude_deg=longitude_deg, at=at)
        for at in times
    ]
    apparent_deg, azimuth_deg, geometric_deg = np.array(
        [(sun.elevation_deg, sun.azimuth_deg, sun.geometric_elevation_deg) for sun in found]
    ).T
    theirs = solarposition.spa_python(
        pandas.DatetimeIndex(times),
        latitude_deg,
        longitude_deg,
        0,
        pressure=101_000,
        temperature=10,
    )
    geometric = theirs["elevation"].to_numpy()
    off_deg = great_circle_deg(geometric_deg, azimuth_deg, geometric, theirs["azimuth"].to_numpy())
    # Tolerance .05 is the package's promise; the low-precision equations are good to about .015.
    assert off_deg.max() < 0.05
    assert np.abs(geometric_deg - geometric).max() < 0.05
    # Near the zenith and the nadir a bearing loses its meaning: within 75 degrees of the horizon.
    low = np.abs(geometric) < 75
    turn = np.mod(azimuth_deg - theirs["azimuth"].to_numpy() + 180, 360) - 180
    assert np.abs(turn[low]).max() < 0.05
    # Refraction starts where the disk does; within .03 of that both may differ in whether it has.
    clear = np.abs(geometric - position.SUNRISE_ELEVATION_DEG) > 0.03
    apparent_off = apparent_deg - theirs["apparent_elevation"].to_numpy()
    assert np.abs(apparent_off[clear]).max() < 0.05


# U.S. Naval Observatory: 39 N 105 W in 2015, as quoted in pvlib's tests (MST); one-year table of
# 2008, 37 24' N 121 55' W (PST all year). "Within a minute": tables are rounded to the minute.
@pytest.mark.parametrize(
    ("place", "zone", "offset", "on", "rise", "set_"),
    [
        *(
            ((39.0, -105.0), DENVER, MOUNTAIN_STANDARD, date(2015, month, 2), rise, set_)
            for month, rise, set_ in (
                (1, "07:19", "16:49"),
                (4, "05:43", "18:24"),
                (8, "05:01", "19:10"),
                (12, "07:01", "16:38"),
            )
        ),
        *(
            ((37.4, -121 - 55 / 60), PACIFIC, PACIFIC_STANDARD, date(2008, month, 1), rise, set_)
            for month, rise, set_ in (
                (1, "07:22", "17:00"),
                (4, "05:52", "18:31"),
                (9, "05:39", "18:36"),
                (10, "06:04", "17:50"),
                (11, "06:33", "17:09"),
                (12, "07:04", "16:50"),
            )
        ),
    ],
)
def test_sunrise_and_sunset_agree_with_the_published_tables(place, zone, offset, on, rise, set_):
    events = position.sun_events(on=on, latitude_deg=place[0], longitude_deg=place[1], zone=zone)
    for at, text in ((events.sunrise, rise), (events.sunset, set_)):
        expected = datetime.combine(on, time.fromisoformat(text), tzinfo=offset)
        assert abs((at - expected).total_seconds()) <= 60


def test_sunrise_and_sunset_agree_with_the_spa_program():
    # NREL's test program prints 13:12:43 and 00:20:19 universal time for 17 October 2003 (from
    # memory). It counts by the UTC date: that sunset is the evening of the 16th in Colorado.
    # 5 s: the equations are good to .015 degrees, which the sun climbs in 5 s there.
    place = {"latitude_deg": 39.742476, "longitude_deg": -105.1786, "zone": DENVER}
    rise = position.sun_events(on=date(2003, 10, 17), **place).sunrise
    set_ = position.sun_events(on=date(2003, 10, 16), **place).sunset
    assert abs((rise - datetime(2003, 10, 17, 13, 12, 43, tzinfo=UTC)).total_seconds()) <= 5
    assert abs((set_ - datetime(2003, 10, 17, 0, 20, 19, tzinfo=UTC)).total_seconds()) <= 5


@pytest.mark.parametrize(("latitude_deg", "longitude_deg"), PLACES)
def test_pvlib_sees_the_sun_where_each_event_says_over_a_season(latitude_deg, longitude_deg):
    solarposition = pytest.importorskip("pvlib.solarposition", reason="pvlib is the oracle")
    pandas = pytest.importorskip("pandas")
    zone = timezone(timedelta(hours=round(longitude_deg / 15)))
    expected: list[tuple[datetime, float]] = []
    noons: list[datetime] = []
    for i in range(16):
        events = position.sun_events(
            on=date(2026, 8, 20) + timedelta(days=12 * i),
            latitude_deg=latitude_deg,
            longitude_deg=longitude_deg,
            zone=zone,
        )
        noons.append(events.solar_noon)
        for at, elevation_deg in (
            (events.sunrise, position.SUNRISE_ELEVATION_DEG),
            (events.sunset, position.SUNRISE_ELEVATION_DEG),
            (events.civil_dawn, position.CIVIL_TWILIGHT_ELEVATION_DEG),
            (events.civil_dusk, position.CIVIL_TWILIGHT_ELEVATION_DEG),
        ):
            if at is not None:
                expected.append((at, elevation_deg))
    assert len(expected) > 40

    def oracle(times):
        index = pandas.DatetimeIndex([at.astimezone(UTC) for at in times])
        return solarposition.spa_python(index, latitude_deg, longitude_deg, 0)

    seen = oracle([at for at, _ in expected])["elevation"].to_numpy()
    # The package's promise of .05 degrees: 12 s of time at the equator, 20 s at 55 degrees.
    assert np.abs(seen - [elevation_deg for _, elevation_deg in expected]).max() < 0.05
    # At noon the sun is on the meridian: north or south, its distance from it measured on the sky.
    noon = oracle(noons)
    off_deg = np.degrees(np.sin(np.radians(noon["azimuth"]))) * np.cos(
        np.radians(noon["elevation"])
    )
    assert np.abs(off_deg).max() < 0.05


def test_events_are_where_their_definitions_say():
    events = position.sun_events(
        on=date(2026, 10, 3), latitude_deg=40.0, longitude_deg=-83.0, zone=DENVER
    )
    morning, evening = events.golden_hours
    expected = [
        (events.sunrise, position.SUNRISE_ELEVATION_DEG),
        (events.sunset, position.SUNRISE_ELEVATION_DEG),
        (events.civil_dawn, position.CIVIL_TWILIGHT_ELEVATION_DEG),
        (events.civil_dusk, position.CIVIL_TWILIGHT_ELEVATION_DEG),
        (morning.start, position.GOLDEN_LOW_ELEVATION_DEG),
        (morning.end, position.GOLDEN_HIGH_ELEVATION_DEG),
        (evening.start, position.GOLDEN_HIGH_ELEVATION_DEG),
        (evening.end, position.GOLDEN_LOW_ELEVATION_DEG),
    ]
    for at, elevation_deg in expected:
        sun = position.sun_position(latitude_deg=40.0, longitude_deg=-83.0, at=at)
        # The sun climbs at most .0042 degrees a second, and times are rounded to the second.
        assert sun.geometric_elevation_deg == pytest.approx(elevation_deg, abs=0.0085)
    assert events.civil_dawn < events.sunrise < events.solar_noon < events.sunset
    assert events.sunset < events.civil_dusk


def test_a_foreign_zone_changes_the_clock_but_not_the_moment():
    place = {"latitude_deg": 39.0, "longitude_deg": -105.0, "on": date(2015, 8, 2)}
    here = position.sun_events(zone=DENVER, **place)
    there = position.sun_events(zone=ZoneInfo("UTC"), **place)
    # A second: the noon that the search starts from is computed from another starting time.
    assert abs((here.sunset - there.sunset).total_seconds()) <= 1
    assert there.sunset.utcoffset() == timedelta(0)


def test_sunset_jumps_an_hour_on_the_clock_when_daylight_saving_ends():
    place = {"latitude_deg": 39.0, "longitude_deg": -105.0, "zone": DENVER}
    before = position.sun_events(on=date(2026, 10, 31), **place).sunset
    after = position.sun_events(on=date(2026, 11, 1), **place).sunset
    assert before.utcoffset() == timedelta(hours=-6)
    assert after.utcoffset() == timedelta(hours=-7)
    real_s = (after.astimezone(UTC) - before.astimezone(UTC)).total_seconds()
    # Evenings lose about a minute a day then; two minutes hold anywhere in the lower States.
    assert 24 * 3600 - 120 < real_s < 24 * 3600
    wall_s = (after.replace(tzinfo=None) - before.replace(tzinfo=None)).total_seconds()
    assert wall_s == real_s - 3600


@pytest.mark.parametrize(
    ("on", "day"),
    [
        (date(2026, 6, 21), position.DayKind.SUN_STAYS_UP),
        (date(2026, 12, 21), position.DayKind.SUN_STAYS_DOWN),
    ],
)
def test_polar_day_and_night_have_no_sunrise(on, day):
    # 71 degrees north, far inside the polar circle at 66.6 degrees.
    zone = ZoneInfo("America/Anchorage")
    events = position.sun_events(on=on, latitude_deg=71.3, longitude_deg=-156.8, zone=zone)
    assert events.day is day
    assert events.sunrise is None
    assert events.sunset is None


def test_a_summer_sunset_far_north_may_carry_the_next_date():
    # 64.8 degrees north at midsummer: rises about 02:57, sets about 00:47 (almanacs, from memory).
    # Five minutes: grazing paths near the solstice turn a hundredth of a degree into a minute.
    zone = ZoneInfo("America/Anchorage")
    on = date(2026, 6, 21)
    events = position.sun_events(on=on, latitude_deg=64.84, longitude_deg=-147.72, zone=zone)
    rise = datetime(2026, 6, 21, 2, 57, tzinfo=zone)
    set_ = datetime(2026, 6, 22, 0, 47, tzinfo=zone)
    assert abs((events.sunrise - rise).total_seconds()) < 300
    assert abs((events.sunset - set_).total_seconds()) < 300


def test_a_naive_time_is_refused_and_the_message_says_how_to_mend_it():
    naive = datetime(2026, 10, 3, 15, 30)
    with pytest.raises(InvalidInputError, match=r"no time zone.*in_zone\(\)"):
        position.sun_position(latitude_deg=40.0, longitude_deg=-83.0, at=naive)


@pytest.mark.parametrize(("latitude_deg", "longitude_deg"), [(90.5, 0.0), (0.0, 181.0)])
def test_a_place_off_the_earth_is_refused(latitude_deg, longitude_deg):
    at = datetime(2026, 10, 3, tzinfo=UTC)
    with pytest.raises(OutOfRangeError):
        position.sun_position(latitude_deg=latitude_deg, longitude_deg=longitude_deg, at=at)


moments = st.datetimes(datetime(2020, 1, 1), datetime(2035, 12, 31), timezones=st.just(UTC))
latitudes = st.floats(-89.0, 89.0)
longitudes = st.floats(-180.0, 180.0)


@given(at=moments, latitude_deg=latitudes, longitude_deg=longitudes, hours=st.integers(-12, 14))
def test_the_offset_that_a_time_is_written_in_changes_nothing(
    at, latitude_deg, longitude_deg, hours
):
    place = {"latitude_deg": latitude_deg, "longitude_deg": longitude_deg}
    other = at.astimezone(timezone(timedelta(hours=hours)))
    assert position.sun_position(at=at, **place) == position.sun_position(at=other, **place)
    assert 0.0 <= position.sun_position(at=at, **place).azimuth_deg < 360.0


@given(geometric_deg=st.floats(-90.0, 90.0))
def test_the_disk_shows_exactly_while_its_center_is_above_minus_16_minutes(geometric_deg):
    apparent_deg = float(position.apparent_elevation(geometric_deg))
    assert (apparent_deg > -position.SUN_SEMIDIAMETER_DEG) == (
        geometric_deg >= position.SUNRISE_ELEVATION_DEG
    )
    assert apparent_deg >= geometric_deg


@given(
    on=st.dates(date(2020, 1, 1), date(2035, 12, 31)),
    latitude_deg=st.floats(-60.0, 60.0),
    longitude_deg=longitudes,
)
def test_between_the_polar_circles_every_day_has_its_events_in_order(
    on, latitude_deg, longitude_deg
):
    zone = timezone(timedelta(hours=round(longitude_deg / 15)))
    events = position.sun_events(
        on=on, latitude_deg=latitude_deg, longitude_deg=longitude_deg, zone=zone
    )
    assert events.day is position.DayKind.NORMAL
    assert events.sunrise < events.solar_noon < events.sunset
    assert events.solar_noon.date() == on
    # Solar noon is the middle of the daylight, but for the drift of the sun's declination; at 60
    # degrees that is worth some two minutes at an equinox.
    middle = events.sunrise + (events.sunset - events.sunrise) / 2
    assert abs((middle - events.solar_noon).total_seconds()) < 180


@given(
    on=st.dates(date(2020, 1, 1), date(2035, 12, 31)),
    latitude_deg=st.floats(-85.0, 85.0),
    longitude_deg=longitudes,
)
@example(on=date(2026, 6, 21), latitude_deg=64.84, longitude_deg=-147.72)  # golden at midnight
@example(on=date(2026, 6, 21), latitude_deg=80.0, longitude_deg=20.0)  # never low
@example(on=date(2026, 12, 21), latitude_deg=64.84, longitude_deg=-147.72)  # low all day
@example(on=date(2026, 12, 21), latitude_deg=80.0, longitude_deg=20.0)  # night all day
def test_golden_hours_are_exactly_when_the_sun_is_low(on, latitude_deg, longitude_deg):
    zone = timezone(timedelta(hours=round(longitude_deg / 15)))
    place = {"latitude_deg": latitude_deg, "longitude_deg": longitude_deg}
    events = position.sun_events(on=on, zone=zone, **place)
    for i in range(-35, 36):
        at = events.solar_noon + timedelta(minutes=20 * i)
        elevation_deg = position.sun_position(at=at, **place).geometric_elevation_deg
        borders = (position.GOLDEN_LOW_ELEVATION_DEG, position.GOLDEN_HIGH_ELEVATION_DEG)
        # Times are rounded to the second, .0042 degrees; beside a border either answer is right.
        # Far north the sun is highest a little off noon, by the day's drift in declination, under
        # .02 degrees within the hour that matters.
        if min(abs(elevation_deg - border) for border in borders) < 0.03:
            continue
        is_low = borders[0] < elevation_deg < borders[1]
        assert any(span.start <= at <= span.end for span in events.golden_hours) == is_low
    starts = [span.start for span in events.golden_hours]
    assert starts == sorted(starts)
    assert len(starts) <= 2
