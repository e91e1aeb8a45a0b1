"""Clock times at a venue: naming a zone, giving a naive time its zone, stepping over a game.

A time without a zone is never guessed at. Either the caller refuses it (`require_aware`) or gives
it the venue's zone and passes on the sentence that says so (`in_zone`).
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

from lensyard.errors import InvalidInputError, UnknownNameError, require_positive, require_range

if TYPE_CHECKING:
    from zoneinfo import ZoneInfo


@dataclass(frozen=True, slots=True)
class ZonedTime:
    """A time with its zone, and what had to be assumed (empty when nothing was)."""

    at: datetime
    note: str


@dataclass(frozen=True, slots=True)
class TimeSpan:
    """A stretch of time, both ends included; ``name`` may be empty."""

    start: datetime
    end: datetime
    name: str = field(default="", metadata={"json": None})


@dataclass(frozen=True, slots=True)
class GameLength:
    """How long a game usually takes on the wall clock, halftime included. [min]"""

    game_min: float
    halftime_min: float
    source: str


GAME_LENGTHS: dict[str, GameLength] = {
    "pro": GameLength(
        190.0, 13.0, "SI 2023 (about 3:10); NFL Official Playing Rules 2021 R4-1-3 (found)"
    ),
    "college": GameLength(201.0, 20.0, "SI 2023 (3:21); NCAA R3-2-1-b (found)"),
    "high-school": GameLength(
        150.0, 15.0, "common practice; NFHS R3-1 (10 to 20 min by state, from memory)"
    ),
}


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


def require_usual_year(at: datetime) -> None:
    """Raise `OutOfRangeError` unless the sun's formulas and the zone's rules hold in that year."""
    require_range(low=1901, high=2099, year=at.year)


def in_zone(at: datetime, zone: ZoneInfo) -> ZonedTime:
    """Return a time in the venue's zone, saying what was assumed.

    A naive time (wall clock at the venue) takes the zone. An hour that the clocks repeat (end of
    daylight saving) is read as the first of the two unless ``fold=1`` is set, and the note says
    so. An aware time is only converted, without a note.

    Raises
    ------
    InvalidInputError
        If a naive time does not exist in the zone: the clocks skip that hour.
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


def quarter_spans(*, kickoff: datetime, rule_set: str = "college") -> tuple[TimeSpan, ...]:
    """Return when the four quarters and halftime are likely to fall on the wall clock.

    The usual length of a game less halftime, cut into four equal parts. Real quarters differ, so
    treat the borders as good to about ten minutes.

    Parameters
    ----------
    kickoff : datetime
        Aware.
    rule_set : str
        A key of `GAME_LENGTHS`.

    Raises
    ------
    UnknownNameError
        If the rule set has no length.
    InvalidInputError
        If ``kickoff`` is naive.
    """
    require_aware(kickoff, name="kickoff")
    if rule_set not in GAME_LENGTHS:
        raise UnknownNameError(name="rule_set", value=rule_set, known=GAME_LENGTHS)
    usual = GAME_LENGTHS[rule_set]
    quarter = (usual.game_min - usual.halftime_min) / 4
    spans: list[TimeSpan] = []
    begin = kickoff.astimezone(UTC)
    for name, minutes in (
        ("quarter 1", quarter),
        ("quarter 2", quarter),
        ("halftime", usual.halftime_min),
        ("quarter 3", quarter),
        ("quarter 4", quarter),
    ):
        end = begin + timedelta(minutes=minutes)
        spans.append(
            TimeSpan(begin.astimezone(kickoff.tzinfo), end.astimezone(kickoff.tzinfo), name)
        )
        begin = end
    return tuple(spans)
