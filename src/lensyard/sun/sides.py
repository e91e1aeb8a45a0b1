"""Light on each side of the field over a game: front, side, back, shade.

For every sideline and end, the photographer stands at its middle and looks straight across.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lensyard.domain.field import FIELD_LENGTH_YD, FIELD_WIDTH_YD
from lensyard.domain.venue import Edge
from lensyard.sun.direction import (
    USUAL_LIMITS,
    LightKind,
    LightLimits,
    field_bearing,
    light_angle,
    light_kinds,
)
from lensyard.sun.position import GOLDEN_HIGH_ELEVATION_DEG, GOLDEN_LOW_ELEVATION_DEG, SunTrack
from lensyard.sun.shade import INWARD, Stand, in_shade, shaded_share


def seen_kinds(
    kinds: ArrayLike, *, spot_in_shade: ArrayLike, action_in_shade: ArrayLike
) -> NDArray[np.object_]:
    """Return the kinds of light with shade counted in.

    Parameters
    ----------
    kinds : array_like of LightKind
        As the sun alone would have it.
    spot_in_shade, action_in_shade : array_like of bool
        Whether camera and action lie in shade. All broadcast together.

    Returns
    -------
    ndarray of LightKind
        Sun in the lens stays while the camera itself is in the sun, whatever the action is in; in
        the shade it is back light. Any other light on action in shade is no direct sun.

    Examples
    --------
    >>> kinds = [LightKind.FRONT, LightKind.SUN_IN_LENS, LightKind.SUN_IN_LENS]
    >>> seen = seen_kinds(
    ...     kinds, spot_in_shade=[True, False, True], action_in_shade=[True, True, False]
    ... )
    >>> [kind.value for kind in seen]
    ['no direct sun', 'sun in the lens', 'back']
    """
    kind, spot, action = np.broadcast_arrays(
        np.asarray(kinds, dtype=object),
        np.asarray(spot_in_shade, dtype=bool),
        np.asarray(action_in_shade, dtype=bool),
    )
    seen = kind.copy()
    in_lens = kind == LightKind.SUN_IN_LENS
    seen[in_lens & spot] = LightKind.BACK
    seen[action & ~(in_lens & ~spot)] = LightKind.NO_SUN
    return seen


def seen_kind(light: EdgeLight) -> LightKind:
    """Return the kind of light seen from an edge, with shade counted in."""
    # With the sun at the horizon everything counts as shade; its own kind is the better judge.
    if light.kind is LightKind.NO_SUN:
        return light.kind
    seen = seen_kinds(
        light.kind, spot_in_shade=light.spot_in_shade, action_in_shade=light.action_in_shade
    )
    return LightKind(seen.item())


@dataclass(frozen=True, slots=True)
class EdgeLight:
    """Light for a photographer at the middle of one edge, looking straight across.

    Attributes
    ----------
    bearing_deg
        Compass bearing of the look. [deg]
    angle_deg
        Between the look and the sun, in space. [deg]
    kind
        Front, side, back and so on, shade left aside.
    spot_in_shade, action_in_shade
        Whether the stands shade the camera's place and the middle of the field.
    """

    edge: Edge
    bearing_deg: float
    angle_deg: float
    kind: LightKind
    spot_in_shade: bool
    action_in_shade: bool


@dataclass(frozen=True, slots=True)
class SideLight:
    """One moment of the table: the sun, the shade and the light on the four edges."""

    at: datetime
    sun_elevation_deg: float
    sun_azimuth_deg: float
    is_golden: bool
    field_shaded_share: float
    edges: tuple[EdgeLight, ...]

    def edge(self, edge: Edge) -> EdgeLight:
        """Return the light for one edge."""
        return next(light for light in self.edges if light.edge is edge)


def edge_bearing(edge: Edge, *, x_axis_bearing_deg: float) -> float:
    """Return the compass bearing of a look from an edge straight across the field. [deg]

    >>> edge_bearing(Edge.END_A, x_axis_bearing_deg=10.0)
    10.0
    """
    dx, dy = INWARD[edge]
    return float(field_bearing(x_axis_bearing_deg=x_axis_bearing_deg, dx_yd=dx, dy_yd=dy))


def side_light(
    track: SunTrack,
    *,
    x_axis_bearing_deg: float,
    stands: Iterable[Stand] = (),
    setback_yd: float = 2.0,
    limits: LightLimits = USUAL_LIMITS,
) -> tuple[SideLight, ...]:
    """Return the light on the two sidelines and two ends at each time of a track.

    Parameters
    ----------
    track : SunTrack
        The sun over n times.
    x_axis_bearing_deg : float
        Compass bearing from end A to end B. [deg]
    stands : iterable of Stand
        What shades the field; none for an open horizon.
    setback_yd : float
        How far behind the line the photographer stands, for shade on the camera. [yd]
    limits : LightLimits
        Borders between the kinds.

    Returns
    -------
    tuple of SideLight
        One row a time, in the order of the track.
    """
    walls = tuple(stands)
    rows = []
    shaded = shaded_share(
        walls,
        x_axis_bearing_deg=x_axis_bearing_deg,
        sun_azimuth_deg=track.azimuth_deg,
        sun_elevation_deg=track.elevation_deg,
    )
    for i, at in enumerate(track.times):
        geometric_deg = float(track.geometric_elevation_deg[i])
        rows.append(
            SideLight(
                at=at,
                sun_elevation_deg=float(track.elevation_deg[i]),
                sun_azimuth_deg=float(track.azimuth_deg[i]),
                is_golden=GOLDEN_LOW_ELEVATION_DEG <= geometric_deg <= GOLDEN_HIGH_ELEVATION_DEG,
                field_shaded_share=float(shaded[i]),
                edges=_edges(
                    track,
                    i,
                    x_axis_bearing_deg=x_axis_bearing_deg,
                    walls=walls,
                    setback_yd=setback_yd,
                    limits=limits,
                ),
            )
        )
    return tuple(rows)


def _edges(
    track: SunTrack,
    i: int,
    *,
    x_axis_bearing_deg: float,
    walls: tuple[Stand, ...],
    setback_yd: float,
    limits: LightLimits,
) -> tuple[EdgeLight, ...]:
    """Return the four edges at the i-th time of the track."""
    order = tuple(Edge)
    azimuth_deg, elevation_deg = float(track.azimuth_deg[i]), float(track.elevation_deg[i])
    steps = np.array([INWARD[edge] for edge in order])
    middle = np.array([FIELD_LENGTH_YD / 2, FIELD_WIDTH_YD / 2])
    spots = middle - steps * (middle + setback_yd)
    bearing = field_bearing(
        x_axis_bearing_deg=x_axis_bearing_deg, dx_yd=steps[:, 0], dy_yd=steps[:, 1]
    )
    angle = light_angle(
        bearing_deg=bearing, sun_azimuth_deg=azimuth_deg, sun_elevation_deg=elevation_deg
    )
    kinds = light_kinds(
        bearing_deg=bearing,
        sun_azimuth_deg=azimuth_deg,
        sun_elevation_deg=elevation_deg,
        limits=limits,
    )
    places = np.vstack([spots, middle])
    shaded = in_shade(
        walls,
        x_yd=places[:, 0],
        y_yd=places[:, 1],
        x_axis_bearing_deg=x_axis_bearing_deg,
        sun_azimuth_deg=azimuth_deg,
        sun_elevation_deg=elevation_deg,
    )
    return tuple(
        EdgeLight(
            edge=edge,
            bearing_deg=float(bearing[k]),
            angle_deg=float(angle[k]),
            kind=kinds[k],
            spot_in_shade=bool(shaded[k]),
            action_in_shade=bool(shaded[-1]),
        )
        for k, edge in enumerate(order)
    )
