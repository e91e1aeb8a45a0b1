"""Clock times at a venue, where the sun is then, and when it rises, sets and turns golden.

A time without a zone is never guessed at. Either the caller refuses it (`require_aware`) or gives
it the venue's zone and passes on the sentence that says so (`in_zone`).

Positions come from astral (imported when first needed). Its convenience functions for sunrise and
sunset are not used: asked without a zone they answer for another local day, and they use another
depression than the published tables. Events are found here by bisection on the elevation instead,
on the solar day whose noon is nearest to noon on the venue's clock, so no zone can shift them.
"""

from __future__ import annotations

from dataclasses import field
from datetime import UTC, date, datetime, time, timedelta
from enum import StrEnum
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lensyard.domain.shot_list import GAME_MINUTES, HALFTIME_MINUTES
from lensyard.errors import InvalidInputError, UnknownNameError, require_positive, require_range
from lensyard.records import Record

if TYPE_CHECKING:
    from zoneinfo import ZoneInfo

    from astral import Observer


SUNRISE_ELEVATION_DEG = -50.0 / 60.0
"""Center of the sun 50 arc minutes below the horizon, without refraction: the definition behind
the published tables (U.S. Naval Observatory, *Rise, Set, and Twilight Definitions*)."""

SUN_SEMIDIAMETER_DEG = 16.0 / 60.0
"""Half the sun's disk in the same definition; the other 34 minutes are refraction."""

CIVIL_TWILIGHT_ELEVATION_DEG = -6.0
"""Center of the sun 6 degrees below the horizon (same source)."""

GOLDEN_LOW_ELEVATION_DEG = -4.0
GOLDEN_HIGH_ELEVATION_DEG = 6.0
"""Golden light lasts while the sun is between these. Common practice among photographers, not a
standard: other definitions start at -6 degrees or end at 10."""

_HALF_DAY_S = 43_200.0


class DayKind(StrEnum):
    """Whether the sun crosses the horizon on a date."""

    NORMAL = "normal"
    SUN_STAYS_UP = "the sun stays up"
    SUN_STAYS_DOWN = "the sun stays down"


class SunPosition(Record):
    """Direction to the center of the sun.

    - ``elevation_deg``: apparent angle above the horizon: what the eye sees, raised by refraction.
      [deg]
    - ``azimuth_deg``: clockwise from true (not magnetic) north, 0 <= azimuth < 360. [deg]
    - ``geometric_elevation_deg``: elevation without refraction; sunrise and twilight are defined by
      it. [deg]
    """

    at: datetime
    elevation_deg: float
    azimuth_deg: float
    geometric_elevation_deg: float

    @property
    def is_golden(self) -> bool:
        """Whether the light is golden: the sun between -4 and +6 degrees."""
        low, high = GOLDEN_LOW_ELEVATION_DEG, GOLDEN_HIGH_ELEVATION_DEG
        return low <= self.geometric_elevation_deg <= high


class SunEvents(Record):
    """What the sun does on one date, in the venue's zone; None where it does not happen.

    The date's daylight is the one around the solar noon nearest to noon on the venue's clock. Far
    north in summer its sunset may therefore carry the next date, after midnight.

    - ``golden_hours``: no, one or two spans with the sun between -4 and +6 degrees, in order of
      time.
    """

    on: date
    day: DayKind
    solar_noon: datetime
    noon_elevation_deg: float
    civil_dawn: datetime | None
    sunrise: datetime | None
    sunset: datetime | None
    civil_dusk: datetime | None
    golden_hours: tuple[TimeSpan, ...]


def _observer(*, latitude_deg: float, longitude_deg: float) -> Observer:
    """Return astral's observer at sea level, after checking the place."""
    require_range(low=-90.0, high=90.0, latitude_deg=latitude_deg)
    require_range(low=-180.0, high=180.0, longitude_deg=longitude_deg)
    from astral import Observer as AstralObserver

    return AstralObserver(latitude=latitude_deg, longitude=longitude_deg, elevation=0.0)


def _geometric(observer: Observer, at: datetime) -> tuple[float, float]:
    """Return (elevation without refraction, azimuth) in degrees at an aware time."""
    from astral.sun import zenith_and_azimuth

    # astral drops fractions of a second; round them (half a second is .002 degrees).
    utc = (at.astimezone(UTC) + timedelta(microseconds=500_000)).replace(microsecond=0)
    zenith_deg, azimuth_deg = zenith_and_azimuth(observer, utc, with_refraction=False)
    return 90.0 - zenith_deg, azimuth_deg % 360.0


def apparent_elevation(geometric_elevation_deg: ArrayLike) -> NDArray[np.float64]:
    """Return elevations raised by refraction in average air (1010 hPa, 10 degrees Celsius).

    The result: apparent elevation, same shape. While the whole disk is below the horizon there is
    nothing to refract and the elevation comes back unchanged, so it is at most -16 arc minutes
    exactly when the sun is down. [deg]

    Source: I. Reda and A. Andreas, *Solar Position Algorithm for Solar Radiation Applications*,
    NREL/TP-560-34302, equation 42 (after G. G. Bennett and T. Saemundsson).

    >>> round(float(apparent_elevation(10.0)), 2)
    10.09
    """
    elevation = np.asarray(geometric_elevation_deg, float)
    up = elevation >= SUNRISE_ELEVATION_DEG
    height = np.where(up, elevation, 0.0)
    lift = 1.02 / (60.0 * np.tan(np.radians(height + 10.3 / (height + 5.11))))
    return np.where(up, elevation + np.maximum(lift, 0.0), elevation)


def sun_position(*, latitude_deg: float, longitude_deg: float, at: datetime) -> SunPosition:
    """Return where the sun stands.

    - ``latitude_deg``: north positive, [-90, 90]. [deg]
    - ``longitude_deg``: east positive, [-180, 180]; American stadiums are negative. [deg]
    - ``at``: with a zone or an offset. Rounded to the second.

    Raises `InvalidInputError` if ``at`` is naive; `OutOfRangeError` if the place is not on Earth.

    Air of average pressure is assumed for refraction. Within 0.2 degrees of a pole the azimuth
    means nothing, and the method clamps the latitude there.

    Source: J. Meeus, *Astronomical Algorithms*, as worked into the low-precision solar equations
    that astral evaluates; checked against I. Reda and A. Andreas, *Solar Position Algorithm for
    Solar Radiation Applications*, NREL/TP-560-34302.

    >>> from datetime import datetime, timedelta, timezone
    >>> at = datetime(2003, 10, 17, 12, 30, 30, tzinfo=timezone(timedelta(hours=-7)))
    >>> sun = sun_position(latitude_deg=39.742476, longitude_deg=-105.1786, at=at)
    >>> round(sun.elevation_deg, 1), round(sun.azimuth_deg, 1)
    (39.9, 194.3)
    """
    require_aware(at)
    observer = _observer(latitude_deg=latitude_deg, longitude_deg=longitude_deg)
    geometric_deg, azimuth_deg = _geometric(observer, at)
    return SunPosition(
        at=at,
        elevation_deg=float(apparent_elevation(geometric_deg)),
        azimuth_deg=azimuth_deg,
        geometric_elevation_deg=geometric_deg,
    )


def _solar_noon(longitude_deg: float, near: datetime) -> datetime:
    """Return the transit of the sun nearest to a time, in UTC."""
    from astral.julian import julianday, julianday_to_juliancentury
    from astral.sun import eq_of_time

    noon = near.astimezone(UTC)
    for _ in range(2):  # The equation of time moves at most 30 s a day: two rounds settle it.
        century = julianday_to_juliancentury(julianday(noon))
        minutes = noon.hour * 60 + noon.minute + noon.second / 60
        past = minutes + 4.0 * longitude_deg + eq_of_time(century) - 720.0
        noon -= timedelta(minutes=(past + 720.0) % 1440.0 - 720.0)
    return noon


def _crossing(
    observer: Observer, *, level_deg: float, below_at: datetime, above_at: datetime
) -> datetime | None:
    """Return when the elevation passes a level between two times, to the second, or None."""
    if not (_geometric(observer, below_at)[0] < level_deg <= _geometric(observer, above_at)[0]):
        return None
    below, above = below_at, above_at
    while abs((above - below).total_seconds()) > 1.0:
        middle = below + (above - below) / 2
        if _geometric(observer, middle)[0] < level_deg:
            below = middle
        else:
            above = middle
    return above


def sun_events(*, on: date, latitude_deg: float, longitude_deg: float, zone: ZoneInfo) -> SunEvents:
    """Return sunrise, sunset, civil twilight and golden light on a date.

    - ``zone``: the venue's zone; every time comes back in it, changes of the clocks included.

    For a flat horizon at the place's own level and average air. Hills and stands end the sun
    earlier (see `lensyard.sun.venue_light`).

    >>> from datetime import date
    >>> from zoneinfo import ZoneInfo
    >>> events = sun_events(
    ...     on=date(2015, 8, 2), latitude_deg=39.0, longitude_deg=-105.0,
    ...     zone=ZoneInfo("America/Denver"),
    ... )
    >>> f"{events.sunset:%H:%M %Z}"
    '20:10 MDT'
    """
    observer = _observer(latitude_deg=latitude_deg, longitude_deg=longitude_deg)
    noon = _solar_noon(longitude_deg, datetime.combine(on, time(12), tzinfo=zone))
    before, after = (noon + timedelta(seconds=sign * _HALF_DAY_S) for sign in (-1, 1))

    def crossing(level_deg: float, *, low_at: datetime) -> datetime | None:
        found = _crossing(observer, level_deg=level_deg, below_at=low_at, above_at=noon)
        return None if found is None else _to_zone(found, zone)

    sunrise = crossing(SUNRISE_ELEVATION_DEG, low_at=before)
    sunset = crossing(SUNRISE_ELEVATION_DEG, low_at=after)
    noon_deg = _geometric(observer, noon)[0]
    if sunrise is not None or sunset is not None:
        day = DayKind.NORMAL
    elif noon_deg >= SUNRISE_ELEVATION_DEG:
        day = DayKind.SUN_STAYS_UP
    else:
        day = DayKind.SUN_STAYS_DOWN
    low, high = (
        tuple(crossing(level, low_at=side) for side in (before, after))
        for level in (GOLDEN_LOW_ELEVATION_DEG, GOLDEN_HIGH_ELEVATION_DEG)
    )
    return SunEvents(
        on=on,
        day=day,
        solar_noon=_to_zone(noon, zone),
        noon_elevation_deg=float(apparent_elevation(noon_deg)),
        civil_dawn=crossing(CIVIL_TWILIGHT_ELEVATION_DEG, low_at=before),
        sunrise=sunrise,
        sunset=sunset,
        civil_dusk=crossing(CIVIL_TWILIGHT_ELEVATION_DEG, low_at=after),
        golden_hours=_golden_spans(
            starts=(low[0] or _to_zone(before, zone), high[0]),
            ends=(high[1], low[1] or _to_zone(after, zone)),
            noon_deg=noon_deg,
        ),
    )


def _to_zone(at: datetime, zone: ZoneInfo) -> datetime:
    """Return a time in the zone, rounded to the second."""
    return (at + timedelta(microseconds=500_000)).replace(microsecond=0).astimezone(zone)


def _golden_spans(
    *,
    starts: tuple[datetime, datetime | None],
    ends: tuple[datetime | None, datetime],
    noon_deg: float,
) -> tuple[TimeSpan, ...]:
    """Return the golden spans from the two crossings before noon and the two after it.

    ``starts`` is (sun passes the low level or the day begins, sun passes the high level or None),
    ``ends`` the mirror image.
    """
    if noon_deg < GOLDEN_LOW_ELEVATION_DEG:
        return ()
    if noon_deg < GOLDEN_HIGH_ELEVATION_DEG:
        return (TimeSpan(starts[0], ends[1]),)
    spans = []
    if starts[1] is not None:
        spans.append(TimeSpan(starts[0], starts[1]))
    if ends[0] is not None:
        spans.append(TimeSpan(ends[0], ends[1]))
    return tuple(spans)


class ZonedTime(Record):
    """A time with its zone, and what had to be assumed (empty when nothing was)."""

    at: datetime
    note: str


class TimeSpan(Record):
    """A stretch of time, both ends included; ``name`` may be empty."""

    start: datetime
    end: datetime
    name: str = field(default="", metadata={"json": None})


def require_aware(at: datetime, *, name: str = "at") -> datetime:
    """Return ``at`` when it carries a zone or an offset.

    Raises `InvalidInputError` if it is naive. A naive time would silently be read as UTC, hours
    off.
    """
    if at.tzinfo is None or at.utcoffset() is None:
        raise InvalidInputError(
            f"{name} has no time zone ({at.isoformat()}); expected one with a zone or an offset. "
            f"Write {at.isoformat()}-06:00, or give it the venue's zone with in_zone()."
        )
    return at


def require_usual_year(at: datetime) -> None:
    """Raise `OutOfRangeError` unless the sun's formulas and the zone's rules hold in that year."""
    require_range(low=1901, high=2099, year=at.year)


def in_zone(at: datetime, zone: ZoneInfo) -> ZonedTime:
    """Return a time in the venue's zone, saying what was assumed.

    A naive time (wall clock at the venue) takes the zone. An hour that the clocks repeat (end of
    daylight saving) is read as the first of the two unless ``fold=1`` is set, and the note says
    so. An aware time is only converted, without a note.

    Raises `InvalidInputError` if a naive time does not exist in the zone: the clocks skip that
    hour.
    """
    if at.tzinfo is not None and at.utcoffset() is not None:
        return ZonedTime(at=at.astimezone(zone), note="")
    aware = at.replace(tzinfo=zone)
    wall = aware.astimezone(UTC).astimezone(zone).replace(tzinfo=None)
    if wall != at.replace(fold=0, tzinfo=None):
        raise InvalidInputError(
            f"{at.isoformat()} does not exist in {zone.key}: the clocks jump over it. "
            f"Give a time before or after the change, or one with an offset."
        )
    note = f"the time has no zone; read as {zone.key}, the venue's zone"
    if aware.replace(fold=0).utcoffset() != aware.replace(fold=1).utcoffset():
        which = "second" if at.fold else "first"
        note += f"; the clocks repeat this hour, the {which} of the two is meant"
    return ZonedTime(at=aware, note=note)


def time_steps(*, start: datetime, minutes: float, step_min: float) -> tuple[datetime, ...]:
    """Return times from ``start`` to ``start + minutes`` (both included when the step fits).

    Steps are real time, also across a change of the clocks, and come back in the zone of
    ``start``.

    Raises `InvalidInputError` if ``start`` is naive, or a length is not positive.
    """
    require_aware(start, name="start")
    require_positive(minutes=minutes, step_min=step_min)
    begin = start.astimezone(UTC)
    count = int(minutes / step_min + 1e-9) + 1
    return tuple(
        (begin + timedelta(minutes=step_min * i)).astimezone(start.tzinfo) for i in range(count)
    )


def quarter_spans(*, kickoff: datetime, rule_set: str = "college") -> tuple[TimeSpan, ...]:
    """Return when the four quarters and halftime are likely to fall on the wall clock.

    The usual length of a game less halftime, cut into four equal parts. Real quarters differ, so
    treat the borders as good to about ten minutes.

    Raises `UnknownNameError` if the rule set has no length; `InvalidInputError` if ``kickoff`` is
    naive.
    """
    require_aware(kickoff, name="kickoff")
    if rule_set not in GAME_MINUTES:
        raise UnknownNameError(name="rule_set", value=rule_set, known=GAME_MINUTES)
    halftime = HALFTIME_MINUTES[rule_set]
    quarter = (GAME_MINUTES[rule_set] - halftime) / 4
    spans: list[TimeSpan] = []
    begin = kickoff.astimezone(UTC)
    for name, minutes in (
        ("quarter 1", quarter),
        ("quarter 2", quarter),
        ("halftime", halftime),
        ("quarter 3", quarter),
        ("quarter 4", quarter),
    ):
        end = begin + timedelta(minutes=minutes)
        spans.append(
            TimeSpan(begin.astimezone(kickoff.tzinfo), end.astimezone(kickoff.tzinfo), name)
        )
        begin = end
    return tuple(spans)
