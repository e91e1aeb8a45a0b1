"""Light and shade at the places of a venue: on each side, from each spot.

Each stand is a wall of one height, parallel to its edge and longer than the shadow needs. A real
stand ends somewhere and has gaps, so with a low sun from a corner this errs toward shade. For every
sideline and end, the photographer stands at its middle and looks straight across.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lensyard.domain.field import FIELD_LENGTH_YD, FIELD_WIDTH_YD
from lensyard.domain.venue import Edge, Venue, zone_named
from lensyard.errors import InvalidInputError
from lensyard.records import ArrayRecord, Record
from lensyard.sun.direction import LightKind, field_bearing, light_of_lines, seen_kinds
from lensyard.sun.position import SunPosition, ZonedTime, in_zone, require_usual_year, sun_position
from lensyard.units import METERS_PER_YARD

INWARD: dict[Edge, tuple[float, float]] = {
    Edge.SIDELINE_A: (0.0, 1.0),
    Edge.SIDELINE_B: (0.0, -1.0),
    Edge.END_A: (1.0, 0.0),
    Edge.END_B: (-1.0, 0.0),
}
"""Unit step (dx, dy) from each edge straight into the field."""


class Stand(Record):
    """The top of a stand, wall or scoreboard along one edge.

    - ``height_m``: above the field, > 0. [m]
    - ``behind_yd``: from the sideline or end line out to the top edge, >= 0. [yd]
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


class FieldSun(Record):
    """The sun as it stands to a field.

    - ``axis_bearing_deg``: compass bearing of the field's long axis, from end A to end B. [deg]
    - ``azimuth_deg``, ``elevation_deg``: apparent direction to the sun. [deg]
    """

    axis_bearing_deg: float
    azimuth_deg: float
    elevation_deg: float


def shadow_reach_yd(stand: Stand, sun: FieldSun, *, target_height_m: float = 0.0) -> float:
    """Return how far a stand's shadow reaches past its edge line into the field, square to it.

    - ``target_height_m``: height at which shade is asked for: 0 the ground, 1.7 a standing player's
      face. [m]

    0 or less: none reaches it; without any sun above the horizon, infinity. [yd]

    A wall throws a shadow of length ``h / tan(elevation)`` away from the sun; its part square to
    the edge is that length times ``cos(sun azimuth - outward bearing of the edge)``.

    Sun at 45 degrees straight behind a stand 18.288 m (20 yd) high, 5 yd back: 15 yd of shade.

    >>> stand = Stand(Edge.SIDELINE_A, height_m=18.288, behind_yd=5.0)
    >>> round(shadow_reach_yd(stand, FieldSun(0.0, azimuth_deg=90.0, elevation_deg=45.0)), 6)
    15.0
    """
    if sun.elevation_deg <= 0.0:
        return np.inf
    dx, dy = INWARD[stand.edge]
    outward_deg = field_bearing(x_axis_bearing_deg=sun.axis_bearing_deg, dx_yd=-dx, dy_yd=-dy)
    height_yd = max(stand.height_m - target_height_m, 0.0) / METERS_PER_YARD
    slope = np.tan(np.radians(sun.elevation_deg))
    toward = np.cos(np.radians(sun.azimuth_deg - outward_deg))
    return float(height_yd / slope * toward - stand.behind_yd)


def shaded_share(stands: Iterable[Stand], sun: FieldSun) -> float:
    """Return the share of the field's ground (end zones included) without direct sun, [0, 1].

    Shade from several stands is counted once where it overlaps. With the sun at or below the
    horizon the share is 1.

    Shadows are strips along the edges. Two facing strips leave ``1 - a - b`` of a direction
    (never below 0), and strips along the two directions overlap in a rectangle, so the sunny
    share is the product of the two.
    """
    if sun.elevation_deg <= 0.0:
        return 1.0
    deepest = dict.fromkeys(Edge, 0.0)
    for stand in stands:
        deepest[stand.edge] = max(deepest[stand.edge], shadow_reach_yd(stand, sun))
    across = (deepest[Edge.SIDELINE_A] + deepest[Edge.SIDELINE_B]) / FIELD_WIDTH_YD
    along = (deepest[Edge.END_A] + deepest[Edge.END_B]) / FIELD_LENGTH_YD
    return 1.0 - max(1.0 - across, 0.0) * max(1.0 - along, 0.0)


def in_shade(
    stands: Iterable[Stand],
    sun: FieldSun,
    xy_yd: NDArray[np.float64],
    *,
    target_height_m: float = 0.0,
) -> NDArray[np.bool_]:
    """Return whether stadium points, shape (..., 2), lie in shade; shape (...).

    Places may be on the field or around it (a spot behind the sideline is nearer to its stand);
    those at or behind the top of a stand are not judged by that stand. With the sun at or below
    the horizon everything is in shade. ``target_height_m``: as in `shadow_reach_yd`. [m]
    """
    x, y = xy_yd[..., 0], xy_yd[..., 1]
    if sun.elevation_deg <= 0.0:
        return np.ones(x.shape, dtype=bool)
    inside = {
        Edge.SIDELINE_A: y,
        Edge.SIDELINE_B: FIELD_WIDTH_YD - y,
        Edge.END_A: x,
        Edge.END_B: FIELD_LENGTH_YD - x,
    }
    shaded = np.zeros(x.shape, dtype=bool)
    for stand in stands:
        depth = inside[stand.edge]
        reach_yd = shadow_reach_yd(stand, sun, target_height_m=target_height_m)
        shaded |= (depth < reach_yd) & (depth > -stand.behind_yd)
    return shaded


def light_from_spots(
    sun: FieldSun, *, spot_xy_yd: NDArray[np.float64], action_xy_yd: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.object_]]:
    """Return angle and kind of the light on the action from each spot, shade left aside, (...).

    - ``spot_xy_yd``, ``action_xy_yd``: where the camera and the action are, shapes (..., 2);
      broadcast together. [yd]

    Raises `InvalidInputError` if a spot is exactly where the action is.
    """
    dx_yd, dy_yd = np.moveaxis(action_xy_yd - spot_xy_yd, -1, 0)
    return light_of_lines(
        bearing_deg=field_bearing(
            x_axis_bearing_deg=sun.axis_bearing_deg, dx_yd=dx_yd, dy_yd=dy_yd
        ),
        sun_azimuth_deg=sun.azimuth_deg,
        sun_elevation_deg=sun.elevation_deg,
    )


class EdgeLight(Record):
    """Light for a photographer at the middle of one edge, looking straight across.

    - ``light``: front, side, back and so on, shade counted in.
    - ``angle_deg``: between the line of sight and the sun, in space. [deg]
    - ``spot_in_shade``, ``action_in_shade``: whether the stands shade the camera's place and the
      middle of the field.
    """

    edge: Edge
    name: str
    light: LightKind
    angle_deg: float
    spot_in_shade: bool
    action_in_shade: bool


class SideLight(Record):
    """One moment: the sun, the shade, and the light on the four edges in the order of `Edge`."""

    at: datetime
    sun_elevation_deg: float
    sun_azimuth_deg: float
    is_golden: bool
    field_shaded_share: float
    edges: tuple[EdgeLight, ...]

    def edge(self, edge: Edge) -> EdgeLight:
        """Return the light for one edge."""
        return next(light for light in self.edges if light.edge is edge)


def venue_place(venue: Venue) -> tuple[float, float]:
    """Return latitude and longitude. [deg]

    Raises `InvalidInputError` if they are not known.
    """
    if venue.latitude_deg is None or venue.longitude_deg is None:
        raise InvalidInputError(
            f"nothing can be said about the sun at {venue.name!r}; expected axis_bearing_deg, "
            "latitude_deg, longitude_deg and time_zone in its venue file. Add the four"
        )
    return venue.latitude_deg, venue.longitude_deg


def sun_at_venue(venue: Venue, at: datetime) -> SunPosition:
    """Return where the sun stands over a venue at an aware time. Raises as `venue_place`."""
    latitude_deg, longitude_deg = venue_place(venue)
    return sun_position(latitude_deg=latitude_deg, longitude_deg=longitude_deg, at=at)


def side_light(venue: Venue, at: datetime) -> SideLight:
    """Return the light on the two sidelines and two ends at an aware time.

    Raises `InvalidInputError` if the venue's place is not known, or the time is naive.
    """
    sun = sun_at_venue(venue, at)
    field_sun = FieldSun(venue.axis_bearing_deg, sun.azimuth_deg, sun.elevation_deg)
    stands = stands_of(venue)
    middle = np.array([FIELD_LENGTH_YD / 2, FIELD_WIDTH_YD / 2])
    inward = np.array([INWARD[edge] for edge in Edge])
    spots = middle - inward * (middle + venue.side_setback_yd)
    angle_deg, kinds = light_from_spots(field_sun, spot_xy_yd=spots, action_xy_yd=middle)
    shaded = in_shade(stands, field_sun, np.vstack([spots, middle]))
    seen = seen_kinds(kinds, spot_in_shade=shaded[:-1], action_in_shade=shaded[-1])
    return SideLight(
        at=at,
        sun_elevation_deg=sun.elevation_deg,
        sun_azimuth_deg=sun.azimuth_deg,
        is_golden=sun.is_golden,
        field_shaded_share=shaded_share(stands, field_sun),
        edges=tuple(
            EdgeLight(
                edge=edge,
                name=venue.edge_name(edge),
                light=LightKind(seen[i]),
                angle_deg=float(angle_deg[i]),
                spot_in_shade=bool(shaded[i]),
                action_in_shade=bool(shaded[-1]),
            )
            for i, edge in enumerate(Edge)
        ),
    )


FACE_HEIGHT_M = 1.7
"""Height at which shade is asked for: a standing player's face, and the camera. [m]"""


class SpotLight(ArrayRecord):
    """Light for n lines from a spot to the action; both arrays have shape (n,).

    - ``angle_deg``: between the line to the action and the sun, in space, [0, 180]: 0 looks into
      the sun, 180 has it behind the camera. [deg]
    - ``when``: the time on the venue's clock, and what was assumed about it.
    """

    angle_deg: NDArray[np.float64]
    kinds: NDArray[np.object_]
    sun: SunPosition
    when: ZonedTime


def light_at_spots(
    venue: Venue, at: datetime, *, spot_xy_yd: ArrayLike, action_xy_yd: ArrayLike
) -> SpotLight:
    """Return the light on the action as each spot sees it.

    - ``venue``: with its place, its bearing and its stands. Under a roof there is no direct sun.
    - ``at``: naive (then on the venue's clock, and ``when`` says so) or aware.
    - ``spot_xy_yd``, ``action_xy_yd``: stadium points, shape (n, 2); one of the two may be (2,).
      [yd]

    Raises `InvalidInputError` if the venue's place is not known, the time does not exist there, a
    spot is exactly where the action is, or the places have another shape.

    >>> from lensyard.domain.venue import standard_venue
    >>> from dataclasses import replace
    >>> field = replace(standard_venue(), latitude_deg=40.0, longitude_deg=-90.0,
    ...     time_zone="America/Chicago", axis_bearing_deg=90.0)
    >>> light = light_at_spots(
    ...     field,
    ...     datetime(2026, 10, 9, 18, 0),
    ...     spot_xy_yd=[(-2.0, 27.0), (122.0, 27.0)],
    ...     action_xy_yd=(60.0, 27.0),
    ... )
    >>> [kind.value for kind in light.kinds]
    ['front', 'sun in the lens']
    """
    spot, action = _places(spot_xy_yd, "spot_xy_yd"), _places(action_xy_yd, "action_xy_yd")
    try:
        spot, action = np.broadcast_arrays(spot, action)
    except ValueError as error:
        raise InvalidInputError(
            f"got {len(spot)} spots and {len(action)} places of action; expected as many of each, "
            "or one of either"
        ) from error
    require_usual_year(at)
    when = in_zone(at, zone_named(venue.time_zone))
    sun = sun_at_venue(venue, when.at)
    field_sun = FieldSun(venue.axis_bearing_deg, sun.azimuth_deg, sun.elevation_deg)
    angle_deg, kinds = light_from_spots(field_sun, spot_xy_yd=spot, action_xy_yd=action)
    if venue.covered:
        kinds[...] = LightKind.NO_SUN
    elif sun.elevation_deg > 0:
        # At the horizon itself the light's own "no direct sun" is the better judge.
        spot_shade, action_shade = (
            in_shade(stands_of(venue), field_sun, places, target_height_m=FACE_HEIGHT_M)
            for places in (spot, action)
        )
        kinds = seen_kinds(kinds, spot_in_shade=spot_shade, action_in_shade=action_shade)
    return SpotLight(angle_deg=angle_deg, kinds=kinds, sun=sun, when=when)


def _places(xy_yd: ArrayLike, name: str) -> NDArray[np.float64]:
    """Return places as an array of shape (n, 2)."""
    places = np.atleast_2d(np.asarray(xy_yd, float))
    if places.ndim != 2 or places.shape[1] != 2 or not np.isfinite(places).all():
        raise InvalidInputError(
            f"{name} must be finite pairs (x, y) in yards, shape (n, 2); got shape {places.shape}"
        )
    return places
