"""Light on each side of a venue: front, side, back, shade.

For every sideline and end, the photographer stands at its middle and looks straight across.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

import numpy as np

from lensyard.domain.field import FIELD_LENGTH_YD, FIELD_WIDTH_YD
from lensyard.domain.venue import Edge, Venue
from lensyard.errors import InvalidInputError
from lensyard.sun.direction import LightKind, light_from_spots, seen_kinds
from lensyard.sun.position import SunPosition, sun_position
from lensyard.sun.shade import INWARD, in_shade, shaded_share, stands_of


@dataclass(frozen=True, slots=True)
class EdgeLight:
    """Light for a photographer at the middle of one edge, looking straight across.

    Attributes
    ----------
    edge, name
        Which edge, and what people at the venue call it.
    light
        Front, side, back and so on, shade counted in.
    angle_deg
        Between the line of sight and the sun, in space. [deg]
    spot_in_shade, action_in_shade
        Whether the stands shade the camera's place and the middle of the field.
    """

    edge: Edge
    name: str
    light: LightKind
    angle_deg: float
    spot_in_shade: bool
    action_in_shade: bool


@dataclass(frozen=True, slots=True)
class SideLight:
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

    Raises
    ------
    InvalidInputError
        If they are not known.
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

    Raises
    ------
    InvalidInputError
        If the venue's place is not known, or the time is naive.
    """
    sun = sun_at_venue(venue, at)
    toward_sun = {
        "x_axis_bearing_deg": venue.axis_bearing_deg,
        "sun_azimuth_deg": sun.azimuth_deg,
        "sun_elevation_deg": sun.elevation_deg,
    }
    stands = stands_of(venue)
    middle = np.array([FIELD_LENGTH_YD / 2, FIELD_WIDTH_YD / 2])
    inward = np.array([INWARD[edge] for edge in Edge])
    spots = middle - inward * (middle + venue.side_setback_yd)
    light = light_from_spots(spot_xy_yd=spots, action_xy_yd=middle, **toward_sun)
    shaded = in_shade(stands, xy_yd=np.vstack([spots, middle]), **toward_sun)
    seen = seen_kinds(light.kinds, spot_in_shade=shaded[:-1], action_in_shade=shaded[-1])
    return SideLight(
        at=at,
        sun_elevation_deg=sun.elevation_deg,
        sun_azimuth_deg=sun.azimuth_deg,
        is_golden=sun.is_golden,
        field_shaded_share=float(shaded_share(stands, **toward_sun)),
        edges=tuple(
            EdgeLight(
                edge=edge,
                name=venue.edge_name(edge),
                light=LightKind(seen[i]),
                angle_deg=float(light.angle_deg[i]),
                spot_in_shade=bool(shaded[i]),
                action_in_shade=bool(shaded[-1]),
            )
            for i, edge in enumerate(Edge)
        ),
    )
