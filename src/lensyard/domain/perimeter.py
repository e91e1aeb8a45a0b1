"""Stations around the field, which of them are spots, and the walk between them.

A *station* is any place on the perimeter; a *spot* is a station from which one may shoot. Stations
run along a rectangle at the venue's setback: from the corner at sideline A and end A along sideline
A, around end B, back along sideline B and around end A. The spacing on each edge is even, so a turn
of the stadium by 180 degrees maps stations on stations.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from lensyard.arrays import BoolArray, FloatArray, IntArray
from lensyard.domain.field import (
    FIELD_LENGTH_YD,
    FIELD_WIDTH_YD,
    Direction,
)
from lensyard.domain.venue import ClosedStretch, Edge, Venue
from lensyard.errors import InvalidInputError, require_range

STEP_YD = 2.0
"""Spacing of the stations that plans and rankings tell apart. [yd]"""

_EDGES = (Edge.SIDELINE_A, Edge.END_B, Edge.SIDELINE_B, Edge.END_A)


@dataclass(frozen=True, eq=False)
class Perimeter:
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
