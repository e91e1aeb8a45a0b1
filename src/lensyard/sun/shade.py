"""Shade that stands throw on the field: one straight horizon per side.

Each stand is a wall of one height, parallel to its edge and longer than the shadow needs. A real
stand ends somewhere and has gaps, so with a low sun from a corner this errs toward shade.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lensyard.domain.field import FIELD_LENGTH_YD, FIELD_WIDTH_YD
from lensyard.domain.venue import Edge, Venue
from lensyard.sun.direction import field_bearing
from lensyard.units import METERS_PER_YARD

INWARD: dict[Edge, tuple[float, float]] = {
    Edge.SIDELINE_A: (0.0, 1.0),
    Edge.SIDELINE_B: (0.0, -1.0),
    Edge.END_A: (1.0, 0.0),
    Edge.END_B: (-1.0, 0.0),
}
"""Unit step (dx, dy) from each edge straight into the field."""


@dataclass(frozen=True, slots=True)
class Stand:
    """The top of a stand, wall or scoreboard along one edge.

    Attributes
    ----------
    height_m
        Above the field, > 0. [m]
    behind_yd
        From the sideline or end line out to the top edge, >= 0. [yd]
    """

    edge: Edge
    height_m: float
    behind_yd: float


def stands_of(venue: Venue) -> tuple[Stand, ...]:
    """Return the stands that shade the field of a venue; an edge of height 0 has none."""
    return tuple(
        Stand(edge, height_m, behind_yd)
        for edge, height_m, behind_yd in zip(
            Edge, venue.stand_height_m, venue.stand_distance_yd, strict=True
        )
        if height_m > 0.0
    )


def shadow_reach_yd(
    stand: Stand,
    *,
    x_axis_bearing_deg: float,
    sun_azimuth_deg: ArrayLike,
    sun_elevation_deg: ArrayLike,
    target_height_m: float = 0.0,
) -> NDArray[np.float64]:
    """Return how far a stand's shadow reaches past its edge line into the field.

    Parameters
    ----------
    stand : Stand
        Where the shadow comes from.
    x_axis_bearing_deg : float
        Compass bearing from end A to end B. [deg]
    sun_azimuth_deg, sun_elevation_deg : array_like
        Apparent direction to the sun; broadcast together. [deg]
    target_height_m : float
        Height at which shade is asked for: 0 the ground, 1.7 a standing player's face. [m]

    Returns
    -------
    ndarray
        Yards of field in shade, measured square to the edge. 0 or less: none reaches it. Without
        any sun above the horizon, infinity. [yd]

    Notes
    -----
    A wall throws a shadow of length ``h / tan(elevation)`` away from the sun; its part square to
    the edge is that length times ``cos(sun azimuth - outward bearing of the edge)``.

    Examples
    --------
    Sun at 45 degrees straight behind a stand 18.288 m (20 yd) high, 5 yd back: 15 yd of shade.

    >>> stand = Stand(Edge.SIDELINE_A, height_m=18.288, behind_yd=5.0)
    >>> reach = shadow_reach_yd(
    ...     stand, x_axis_bearing_deg=0.0, sun_azimuth_deg=90.0, sun_elevation_deg=45.0
    ... )
    >>> round(float(reach), 6)
    15.0
    """
    azimuth, elevation = np.broadcast_arrays(
        np.asarray(sun_azimuth_deg, float), np.asarray(sun_elevation_deg, float)
    )
    dx, dy = INWARD[stand.edge]
    outward_deg = field_bearing(x_axis_bearing_deg=x_axis_bearing_deg, dx_yd=-dx, dy_yd=-dy)
    height_yd = max(stand.height_m - target_height_m, 0.0) / METERS_PER_YARD
    up = elevation > 0.0
    slope = np.tan(np.radians(np.where(up, elevation, 45.0)))
    toward = np.cos(np.radians(azimuth - outward_deg))
    return np.where(up, height_yd / slope * toward - stand.behind_yd, np.inf)


def shaded_share(
    stands: Iterable[Stand],
    *,
    x_axis_bearing_deg: float,
    sun_azimuth_deg: ArrayLike,
    sun_elevation_deg: ArrayLike,
) -> NDArray[np.float64]:
    """Return the share of the field's ground (end zones included) without direct sun, [0, 1].

    Shade from several stands is counted once where it overlaps. With the sun at or below the
    horizon the share is 1. Arguments as in `shadow_reach_yd`.

    Notes
    -----
    Shadows are strips along the edges. Two facing strips leave ``1 - a - b`` of a direction
    (never below 0), and strips along the two directions overlap in a rectangle, so the sunny
    share is the product of the two.
    """
    azimuth, elevation = np.broadcast_arrays(
        np.asarray(sun_azimuth_deg, float), np.asarray(sun_elevation_deg, float)
    )
    deepest = {edge: np.zeros(azimuth.shape) for edge in Edge}
    for stand in stands:
        reach = shadow_reach_yd(
            stand,
            x_axis_bearing_deg=x_axis_bearing_deg,
            sun_azimuth_deg=azimuth,
            sun_elevation_deg=elevation,
        )
        deepest[stand.edge] = np.maximum(deepest[stand.edge], reach)
    across = deepest[Edge.SIDELINE_A] + deepest[Edge.SIDELINE_B]
    along = deepest[Edge.END_A] + deepest[Edge.END_B]
    sunny = np.clip(1.0 - across / FIELD_WIDTH_YD, 0.0, 1.0) * np.clip(
        1.0 - along / FIELD_LENGTH_YD, 0.0, 1.0
    )
    return np.where(elevation > 0.0, 1.0 - sunny, 1.0)


def in_shade(
    stands: Iterable[Stand],
    *,
    xy_yd: NDArray[np.float64],
    x_axis_bearing_deg: float,
    sun_azimuth_deg: float,
    sun_elevation_deg: float,
    target_height_m: float = 0.0,
) -> NDArray[np.bool_]:
    """Return whether stadium points, shape (..., 2), lie in shade; shape (...).

    Places may be on the field or around it (a spot behind the sideline is nearer to its stand);
    those at or behind the top of a stand are not judged by that stand. With the sun at or below
    the horizon everything is in shade. Other arguments as in `shadow_reach_yd`.
    """
    x, y = xy_yd[..., 0], xy_yd[..., 1]
    if sun_elevation_deg <= 0.0:
        return np.ones(x.shape, dtype=bool)
    inside = {
        Edge.SIDELINE_A: y,
        Edge.SIDELINE_B: FIELD_WIDTH_YD - y,
        Edge.END_A: x,
        Edge.END_B: FIELD_LENGTH_YD - x,
    }
    shaded = np.zeros(x.shape, dtype=bool)
    for stand in stands:
        reach = shadow_reach_yd(
            stand,
            x_axis_bearing_deg=x_axis_bearing_deg,
            sun_azimuth_deg=sun_azimuth_deg,
            sun_elevation_deg=sun_elevation_deg,
            target_height_m=target_height_m,
        )
        depth = inside[stand.edge]
        shaded |= (depth < reach) & (depth > -stand.behind_yd)
    return shaded
