"""How bright the day is at a height of the sun, down into twilight.

The exposure guide's rows hold while the sun is well up; a game that ends at dusk loses seven stops
and more below them. The way down follows the published formulas for daylight availability, so a row
of the guide at a lower sun is that row less the stops that the formulas lose.

Clock times at the venue: naming a zone, giving a naive time its zone, stepping over a game.

A time without a zone is never guessed at. Either the caller refuses it (`require_aware`) or gives
it the venue's zone and passes on the sentence that says so (`in_zone`).
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from difflib import get_close_matches
from typing import TYPE_CHECKING

from lensyard.errors import InvalidInputError, UnknownNameError, require_positive

if TYPE_CHECKING:
    from zoneinfo import ZoneInfo


_SUNSET_DEG, _DUSK_DEG = -50.0 / 60.0, -6.0


@dataclass(frozen=True, slots=True)
class ZonedTime:
    """A time with its zone, and what had to be assumed (empty when nothing was)."""

    at: datetime
    note: str


@dataclass(frozen=True, slots=True)
class GameLength:
    """How long a game usually takes on the wall clock, halftime included."""

    rule_set: str
    game_min: float
    halftime_min: float
    source: str
    basis: str


@dataclass(frozen=True, slots=True)
class ClockSpan:
    """A named stretch of time, both ends included."""

    name: str
    start: datetime
    end: datetime


GAME_LENGTHS: dict[str, GameLength] = {
    "pro": GameLength(
        "pro", 190.0, 13.0, "SI 2023 (about 3:10); NFL Official Playing Rules 2021 R4-1-3", "found"
    ),
    "college": GameLength("college", 201.0, 20.0, "SI 2023 (3:21); NCAA R3-2-1-b", "found"),
    "high-school": GameLength(
        "high-school", 150.0, 15.0, "common practice; NFHS R3-1 (10 to 20 min by state)", "memory"
    ),
}


def zone_named(name: str) -> ZoneInfo:
    """Return the time zone with an IANA name such as ``America/Denver``.

    Raises
    ------
    InvalidInputError
        If there is no such zone; the message suggests the nearest name.
    """
    from zoneinfo import ZoneInfo, available_timezones

    try:
        return ZoneInfo(name)
    except (KeyError, ValueError, OSError) as error:
        near = get_close_matches(str(name), available_timezones(), n=1)
        hint = f" Did you mean {near[0]!r}?" if near else ""
        raise InvalidInputError(
            f"there is no time zone {name!r}; give an IANA name such as 'America/Denver'.{hint}"
        ) from error


def require_aware(at: datetime, *, name: str = "at") -> datetime:
    """Return ``at`` when it carries a zone or an offset.

    Raises
    ------
    InvalidInputError
        If it is naive. A naive time would silently be read as UTC, hours off.
    """
    if at.tzinfo is None or at.utcoffset() is None:
        raise InvalidInputError(
            f"{name} has no time zone ({at.isoformat()}); expected one with a zone or an offset. "
            f"Write {at.isoformat()}-06:00, or give it the venue's zone with in_zone()."
        )
    return at


def in_zone(at: datetime, zone: ZoneInfo) -> ZonedTime:
    """Return a time in the venue's zone, saying what was assumed.

    A naive time takes the zone. An hour that the clocks repeat (end of daylight saving) is read
    as the first of the two unless ``fold=1`` is set, and the note says so. An hour that the
    clocks skip is refused. An aware time is only converted, without a note.

    Parameters
    ----------
    at : datetime
        Naive (wall clock at the venue) or aware.
    zone : ZoneInfo
        The venue's zone.

    Raises
    ------
    InvalidInputError
        If a naive time does not exist in the zone.
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


def midday(on: date, zone: ZoneInfo) -> datetime:
    """Return 12:00 on the venue's clock."""
    return datetime.combine(on, time(12), tzinfo=zone)


def time_steps(*, start: datetime, minutes: float, step_min: float) -> tuple[datetime, ...]:
    """Return times from ``start`` to ``start + minutes`` (both included when the step fits).

    Steps are real time, also across a change of the clocks, and come back in the zone of
    ``start``.

    Raises
    ------
    InvalidInputError
        If ``start`` is naive, or a length is not positive.
    """
    require_aware(start, name="start")
    require_positive(minutes=minutes, step_min=step_min)
    begin = start.astimezone(UTC)
    count = int(minutes / step_min + 1e-9) + 1
    return tuple(
        (begin + timedelta(minutes=step_min * i)).astimezone(start.tzinfo) for i in range(count)
    )


def quarter_spans(
    *,
    kickoff: datetime,
    rule_set: str = "college",
    game_min: float | None = None,
    halftime_min: float | None = None,
) -> tuple[ClockSpan, ...]:
    """Return when the four quarters and halftime are likely to fall on the wall clock.

    The usual length of a game less halftime, cut into four equal parts. Quarters differ in
    truth, so treat the borders as good to about ten minutes.

    Parameters
    ----------
    kickoff : datetime
        Aware.
    rule_set : str
        A key of `GAME_LENGTHS`; supplies what is not given.
    game_min, halftime_min : float, optional
        Wall-clock length with halftime, and halftime. [min]

    Raises
    ------
    UnknownNameError
        If the rule set has no length and one is needed.
    InvalidInputError
        If ``kickoff`` is naive or halftime is not shorter than the game.
    """
    require_aware(kickoff, name="kickoff")
    if game_min is None or halftime_min is None:
        if rule_set not in GAME_LENGTHS:
            raise UnknownNameError(name="rule_set", value=rule_set, known=GAME_LENGTHS)
        usual = GAME_LENGTHS[rule_set]
        game_min = usual.game_min if game_min is None else game_min
        halftime_min = usual.halftime_min if halftime_min is None else halftime_min
    require_positive(game_min=game_min, halftime_min=halftime_min)
    if halftime_min >= game_min:
        raise InvalidInputError(
            f"halftime_min must be shorter than game_min ({game_min:g}); got {halftime_min!r}"
        )
    quarter = (game_min - halftime_min) / 4
    lengths = (
        ("quarter 1", quarter),
        ("quarter 2", quarter),
        ("halftime", halftime_min),
        ("quarter 3", quarter),
        ("quarter 4", quarter),
    )
    spans: list[ClockSpan] = []
    begin = kickoff.astimezone(UTC)
    for name, minutes in lengths:
        end = begin + timedelta(minutes=minutes)
        spans.append(
            ClockSpan(name, begin.astimezone(kickoff.tzinfo), end.astimezone(kickoff.tzinfo))
        )
        begin = end
    return tuple(spans)
