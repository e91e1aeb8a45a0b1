"""Marks of the field picture from domain values: one function for each kind of mark.

They turn the stadium's fixed places into the play frame of one direction of attack, so that whoever
builds a `FieldPicture` never converts a frame by hand.
"""

from __future__ import annotations

from lensyard.domain.field import Direction, PlayPoint, StadiumPoint, play_point
from lensyard.domain.optics import Kit
from lensyard.domain.perimeter import Perimeter
from lensyard.domain.venue import Venue
from lensyard.errors import InvalidInputError, require_range
from lensyard.views.picture import ClosedMark, ReachRing, StationMark, SunMark


def closed_marks(venue: Venue, direction: Direction) -> tuple[ClosedMark, ...]:
    """Return the closed stretches of a venue in the play frame."""
    marks = []
    for stretch in venue.closed:
        x_min, x_max, y_min, y_max = stretch.rectangle_yd()
        one = play_point(StadiumPoint(x_min, y_min), direction)
        other = play_point(StadiumPoint(x_max, y_max), direction)
        marks.append(
            ClosedMark(
                x_min_yd=min(one.x_yd, other.x_yd),
                x_max_yd=max(one.x_yd, other.x_yd),
                y_min_yd=min(one.y_yd, other.y_yd),
                y_max_yd=max(one.y_yd, other.y_yd),
                label=stretch.name,
            )
        )
    return tuple(marks)


def station_marks(perimeter: Perimeter, direction: Direction) -> tuple[StationMark, ...]:
    """Return all stations in the play frame."""
    x, y = perimeter.play_xy_yd(direction)
    rows = zip(x.tolist(), y.tolist(), perimeter.open.tolist(), strict=True)
    return tuple(StationMark(i, px, py, is_open) for i, (px, py, is_open) in enumerate(rows))


def station_point(perimeter: Perimeter, station: int, direction: Direction) -> PlayPoint:
    """Return the place of one station in the play frame.

    Raises
    ------
    OutOfRangeError
        If there is no such station.
    """
    require_range(low=0, high=len(perimeter) - 1, station=station)
    place = StadiumPoint(float(perimeter.x_yd[station]), float(perimeter.y_yd[station]))
    return play_point(place, direction)


def walk_path(
    perimeter: Perimeter, *, start: int, stop: int, direction: Direction
) -> tuple[PlayPoint, ...]:
    """Return the corners of the shortest open way between two stations, in the play frame.

    Raises
    ------
    OutOfRangeError
        If there is no such station.
    InvalidInputError
        If no way is open.
    """
    n = len(perimeter)
    require_range(low=0, high=n - 1, start=start, stop=stop)
    length = float(perimeter.walk_yd[start, stop])
    if length == float("inf"):
        raise InvalidInputError(
            "both ways between the two stations pass through a closed stretch; open one of them "
            "or allow walking behind it"
        )
    direct = abs(float(perimeter.along_yd[start] - perimeter.along_yd[stop]))
    upward = (stop >= start) == (abs(direct - length) < 1e-6)
    step = 1 if upward else -1
    passed = [start]
    while passed[-1] != stop:
        passed.append((passed[-1] + step) % n)
    edge = perimeter.edge
    kept = [
        station
        for i, station in enumerate(passed)
        if i in (0, len(passed) - 1)
        or edge[station] != edge[passed[i - 1]]
        or edge[station] != edge[passed[i + 1]]
    ]
    return tuple(station_point(perimeter, station, direction) for station in kept)


def reach_rings(kit: Kit) -> tuple[ReachRing, ...]:
    """Return one ring a lens, the shortest reach first."""
    lenses = sorted(kit.mounted, key=lambda mounted: mounted.reach_yd)
    return tuple(ReachRing(m.text, m.reach_yd, m.nearest_yd) for m in lenses)


def sun_mark(
    venue: Venue, direction: Direction, *, azimuth_deg: float, elevation_deg: float
) -> SunMark:
    """Return the sun as the offense sees it.

    Parameters
    ----------
    venue
        Its axis gives the compass bearing from end A to end B.
    direction
        The direction of attack.
    azimuth_deg
        Clockwise from true north. [deg]
    elevation_deg
        Above the horizon. [deg]
    """
    attack_deg = venue.axis_bearing_deg + (0.0 if direction == Direction.TOWARD_B else 180.0)
    return SunMark((azimuth_deg - attack_deg) % 360.0, elevation_deg)
