"""Stations around the field, which of them are spots, and the walk between them.

A *station* is any place on the perimeter; a *spot* is a station from which one may shoot. Stations
run along a rectangle at the venue's setback: from the corner at sideline A and end A along sideline
A, around end B, back along sideline B and around end A. The spacing on each edge is even, so a turn
of the stadium by 180 degrees maps stations on stations.
"""

from __future__ import annotations

from enum import StrEnum
from functools import cached_property, lru_cache

import numpy as np

from lensyard.arrays import BoolArray, FloatArray, IntArray
from lensyard.domain.field import (
    FIELD_LENGTH_YD,
    FIELD_WIDTH_YD,
    Direction,
)
from lensyard.domain.venue import ClosedStretch, Edge, Venue
from lensyard.errors import InvalidInputError, require_positive, require_range
from lensyard.records import ArrayRecord, Record

STEP_YD = 2.0
"""Spacing of the stations that plans and rankings tell apart. [yd]"""

_EDGES = (Edge.SIDELINE_A, Edge.END_B, Edge.SIDELINE_B, Edge.END_A)


class Perimeter(ArrayRecord):
    """The stations of one venue.

    - ``x_yd``, ``y_yd``: places in the stadium frame, shape (n,). [yd]
    - ``edge``: index into (sideline A, end B, sideline B, end A), shape (n,).
    - ``along_yd``: way along the perimeter from the first station, shape (n,). [yd]
    - ``length_yd``: the whole way round. [yd]
    - ``open``: whether one may shoot from there, shape (n,).
    """

    venue: Venue
    x_yd: FloatArray
    y_yd: FloatArray
    edge: IntArray
    along_yd: FloatArray
    length_yd: float
    open: BoolArray
    step_yd: float

    def __len__(self) -> int:
        """The number of stations."""
        return int(self.x_yd.shape[0])

    @cached_property
    def spots(self) -> IntArray:
        """The stations from which one may shoot."""
        return np.flatnonzero(self.open)

    @cached_property
    def closed_by(self) -> tuple[str, ...]:
        """What closes each station, by its name; empty for spots."""
        names = [""] * len(self)
        for stretch in self.venue.closed:
            for station in np.flatnonzero(_inside(self.x_yd, self.y_yd, self.edge, stretch)):
                names[station] = names[station] or stretch.name
        return tuple(names)

    @cached_property
    def turned_index(self) -> IntArray:
        """For each station the one that a turn by 180 degrees maps it on, shape (n,)."""
        return (np.arange(len(self)) + len(self) // 2) % len(self)

    def play_xy_yd(self, direction: Direction) -> tuple[FloatArray, FloatArray]:
        """Return the stations' places in the play frame, two arrays of shape (n,). [yd]"""
        if direction == Direction.TOWARD_B:
            return self.x_yd, self.y_yd
        return FIELD_LENGTH_YD - self.x_yd, FIELD_WIDTH_YD - self.y_yd

    @cached_property
    def walk_yd(self) -> FloatArray:
        """Way along the perimeter between all stations, shape (n, n); inf where none. [yd]"""
        apart = np.abs(self.along_yd[:, None] - self.along_yd[None, :])
        round_way = self.length_yd - apart
        shut = _shut_links(self)
        if not shut.any():
            return np.minimum(apart, round_way)
        # The direct way from i to j uses the links low .. high - 1; count the shut ones.
        before = np.concatenate([[0], np.cumsum(shut)])
        index = np.arange(len(self))
        low = np.minimum(index[:, None], index[None, :])
        high = np.maximum(index[:, None], index[None, :])
        inside = before[high] - before[low]
        direct = np.where(inside == 0, apart, np.inf)
        around = np.where(inside == before[-1], round_way, np.inf)
        both = np.minimum(direct, around)
        both[index, index] = 0.0
        return both


def _impassable(perimeter: Perimeter) -> BoolArray:
    shut = np.zeros(len(perimeter), dtype=bool)
    for stretch in perimeter.venue.closed:
        if not stretch.walk_behind:
            shut |= _inside(perimeter.x_yd, perimeter.y_yd, perimeter.edge, stretch)
    return shut


def _shut_links(perimeter: Perimeter) -> BoolArray:
    """Whether one cannot walk from each station to the next.

    A stretch can be shorter than a step, so the way between two stations counts, not only they.
    """
    shut = _impassable(perimeter)
    shut |= np.roll(shut, -1)
    for stretch in perimeter.venue.closed:
        if stretch.walk_behind:
            continue
        along = perimeter.x_yd if stretch.edge.is_sideline else perimeter.y_yd
        after = np.roll(along, -1)
        low, high = np.minimum(along, after), np.maximum(along, after)
        on_edge = perimeter.edge == _EDGES.index(stretch.edge)
        shut |= on_edge & (low < stretch.to_yd - 1e-9) & (high > stretch.from_yd + 1e-9)
    return shut


def _inside(x: FloatArray, y: FloatArray, edge: IntArray, stretch: ClosedStretch) -> BoolArray:
    along = x if stretch.edge.is_sideline else y
    on_edge = edge == _EDGES.index(stretch.edge)
    # A corner belongs to both of its edges.
    if stretch.edge.is_sideline:
        line = y.min() if stretch.edge is Edge.SIDELINE_A else y.max()
        on_edge |= np.isclose(y, line)
    else:
        line = x.min() if stretch.edge is Edge.END_A else x.max()
        on_edge |= np.isclose(x, line)
    within: BoolArray = (along >= stretch.from_yd - 1e-9) & (along <= stretch.to_yd + 1e-9)
    # A stretch that reaches around a corner closes what lies inside it on the next edge too.
    x_min, x_max, y_min, y_max = stretch.rectangle_yd()
    covered = (x > x_min) & (x < x_max) & (y > y_min) & (y < y_max)
    inside: BoolArray = (on_edge & within) | covered
    return inside


@lru_cache(maxsize=16)
def perimeter_of(venue: Venue, *, step_yd: float = 1.0) -> Perimeter:
    """Return the stations of a venue, about ``step_yd`` apart.

    Raises `OutOfRangeError` if the step is not between 0.25 and 10 yd; `InvalidInputError` if every
    station is closed.
    """
    require_range(low=0.25, high=10, step_yd=step_yd)
    side, end = venue.side_setback_yd, venue.end_setback_yd
    left, right = -end, FIELD_LENGTH_YD + end
    low, high = -side, FIELD_WIDTH_YD + side
    n_long = max(round((right - left) / step_yd), 1)
    n_short = max(round((high - low) / step_yd), 1)
    u_long = np.arange(n_long) / n_long
    u_short = np.arange(n_short) / n_short
    x = np.concatenate(
        [
            left + (right - left) * u_long,
            np.full(n_short, right),
            right - (right - left) * u_long,
            np.full(n_short, left),
        ]
    )
    y = np.concatenate(
        [
            np.full(n_long, low),
            low + (high - low) * u_short,
            np.full(n_long, high),
            high - (high - low) * u_short,
        ]
    )
    edge = np.repeat(np.arange(4), [n_long, n_short, n_long, n_short])
    half = (right - left) + (high - low)
    length = 2 * half
    half_way = np.concatenate([(right - left) * u_long, (right - left) + (high - low) * u_short])
    along = np.concatenate([half_way, half + half_way])
    may_shoot = np.ones(x.shape[0], dtype=bool)
    for stretch in venue.closed:
        may_shoot &= ~_inside(x, y, edge, stretch)
    if not may_shoot.any():
        raise InvalidInputError(
            f"venue {venue.name!r} closes every spot around the field; open at least one stretch"
        )
    return Perimeter(venue, x, y, edge, along, length, may_shoot, step_yd)


def require_open(perimeter: Perimeter, station: int, *, text: str) -> None:
    """Raise `InvalidInputError` if one may not even wait at a station, or never leaves it."""
    if _impassable(perimeter)[station]:
        raise InvalidInputError(
            f"{text!r} lies inside a closed stretch where nobody may wait; name a place outside it"
        )
    if not (np.isfinite(perimeter.walk_yd[station]) & perimeter.open).any():
        raise InvalidInputError(
            f"no place that is open can be reached from {text!r}; name another one"
        )


def same_place(perimeter: Perimeter, fine: Perimeter, station: int) -> int:
    """Return the station nearest to one of a finer spacing of the same venue.

    Where that one is open, the nearest that is open; else the nearest where one may pass.
    """
    away = np.hypot(perimeter.x_yd - fine.x_yd[station], perimeter.y_yd - fine.y_yd[station])
    fits = perimeter.open if fine.open[station] else ~_impassable(perimeter)
    return int(np.where(fits, np.round(away, 6), np.inf).argmin())


class Tempo(StrEnum):
    """How fast the offense snaps the ball."""

    USUAL = "usual"
    HURRY = "hurry"


LONGEST_WALK_YD = 400.0
"""More than the way round a field. [yd]"""

SNAP_TO_SNAP_S = {Tempo.USUAL: 38.0, Tempo.HURRY: 19.0}
"""From snap to snap within a drive, the ball down in bounds: medians of the bundled clock, 2016 to
2019, of all plays (10 to 90 % of them: 21 to 45) and of the last two minutes of a half. [s]"""

CHANGE_SNAP_S = 84.0
"""From the last snap of a possession to the first of the next, officials and chains placed; an
assumption. [s]"""

PLAY_S = 6.0
"""How long a play takes. [s]"""

SETTLE_S = 5.0
"""To stop, kneel and find the ball in the finder. [s]"""

PACE_YD_S = 1.5
"""With gear, and brisk: 1.37 m/s, inside the comfortable range of group means, 1.272-1.462 m/s, of
Bohannon 1997 (Age and Ageing 26:15-19). A jog is some 2.5. [yd/s]"""


def walk_limit_yd(
    snap_to_snap_s: float, *, pace_yd_s: float = PACE_YD_S, settle_s: float = SETTLE_S
) -> float:
    """Return how far one gets between two snaps and is settled at the second. [yd]

    Raises `OutOfRangeError` if the pace is not positive or a time is below 0.

    >>> walk_limit_yd(38.0), walk_limit_yd(19.0), walk_limit_yd(38.0, pace_yd_s=2.5)
    (40.5, 12.0, 67.5)
    """
    require_range(low=0, high=3600, snap_to_snap_s=snap_to_snap_s, settle_s=settle_s)
    require_positive(pace_yd_s=pace_yd_s)
    return max(snap_to_snap_s - PLAY_S - settle_s, 0.0) * pace_yd_s


DRIVE_LIMIT_YD = walk_limit_yd(SNAP_TO_SNAP_S[Tempo.USUAL])

CHANGE_LIMIT_YD = walk_limit_yd(CHANGE_SNAP_S)
"""How far one walks between two plays of a drive, and where the ball changes hands. [yd]"""


class WalkTime(Record):
    """How far one gets before a snap, and how fast.

    - ``drive_yd``, ``change_yd``: between two plays of a drive; where the ball changes hands. [yd]
    - ``pace_yd_s``: along the perimeter. [yd/s]
    """

    drive_yd: float = DRIVE_LIMIT_YD
    change_yd: float = CHANGE_LIMIT_YD
    pace_yd_s: float = PACE_YD_S

    @staticmethod
    def of(
        tempo: Tempo = Tempo.USUAL, *, pace_yd_s: float = PACE_YD_S, settle_s: float = SETTLE_S
    ) -> WalkTime:
        """Return how far one gets in the time that a tempo leaves; no farther than 400 yd.

        >>> WalkTime.of(Tempo.HURRY).drive_yd, WalkTime.of(pace_yd_s=2.5).drive_yd
        (12.0, 67.5)
        """
        drive, change = (
            min(walk_limit_yd(seconds, pace_yd_s=pace_yd_s, settle_s=settle_s), LONGEST_WALK_YD)
            for seconds in (SNAP_TO_SNAP_S[tempo], CHANGE_SNAP_S)
        )
        return WalkTime(drive, change, pace_yd_s)


def walk_s(walk_yd: float, *, pace_yd_s: float = PACE_YD_S) -> float:
    """Return how long a walk takes. [s]

    >>> walk_s(30.0)
    20.0
    """
    require_positive(pace_yd_s=pace_yd_s)
    return walk_yd / pace_yd_s
