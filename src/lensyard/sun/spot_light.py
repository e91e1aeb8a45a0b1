"""The light on the action from each spot of a venue at one moment, shade counted in."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lensyard.domain.venue import Venue, zone_named
from lensyard.errors import InvalidInputError
from lensyard.sun.clock import ZonedTime, in_zone, require_usual_year
from lensyard.sun.direction import LightKind, light_from_spots, seen_kinds
from lensyard.sun.position import SunPosition
from lensyard.sun.shade import in_shade, stands_of
from lensyard.sun.sides import sun_at_venue

FACE_HEIGHT_M = 1.7
"""Height at which shade is asked for: a standing player's face, and the camera. [m]"""


@dataclass(frozen=True, slots=True, eq=False)
class SpotLight:
    """Light for n lines from a spot to the action; both arrays have shape (n,).

    Attributes
    ----------
    angle_deg
        Between the line to the action and the sun, in space, [0, 180]: 0 looks into the sun, 180
        has it behind the camera. [deg]
    kinds
        `LightKind` of each, shade counted in.
    sun
        Where the sun stands.
    when
        The time on the venue's clock, and what was assumed about it.
    """

    angle_deg: NDArray[np.float64]
    kinds: NDArray[np.object_]
    sun: SunPosition
    when: ZonedTime


def light_at_spots(
    venue: Venue, at: datetime, *, spot_xy_yd: ArrayLike, action_xy_yd: ArrayLike
) -> SpotLight:
    """Return the light on the action as each spot sees it.

    Parameters
    ----------
    venue
        With its place, its bearing and its stands. Under a roof there is no direct sun.
    at
        Naive (then on the venue's clock, and ``when`` says so) or aware.
    spot_xy_yd, action_xy_yd
        Stadium points, shape (n, 2); one of the two may be (2,). [yd]

    Raises
    ------
    InvalidInputError
        If the venue's place is not known, the time does not exist there, a spot is exactly where
        the action is, or the places have another shape.

    Examples
    --------
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
    toward_sun = {
        "x_axis_bearing_deg": venue.axis_bearing_deg,
        "sun_azimuth_deg": sun.azimuth_deg,
        "sun_elevation_deg": sun.elevation_deg,
    }
    light = light_from_spots(spot_xy_yd=spot, action_xy_yd=action, **toward_sun)
    kinds = light.kinds
    if venue.covered:
        kinds[...] = LightKind.NO_SUN
    elif sun.elevation_deg > 0:
        # At the horizon itself the light's own "no direct sun" is the better judge.
        spot_shade, action_shade = (
            in_shade(stands_of(venue), xy_yd=places, target_height_m=FACE_HEIGHT_M, **toward_sun)
            for places in (spot, action)
        )
        kinds = seen_kinds(kinds, spot_in_shade=spot_shade, action_in_shade=action_shade)
    return SpotLight(angle_deg=light.angle_deg, kinds=kinds, sun=sun, when=when)


def _places(xy_yd: ArrayLike, name: str) -> NDArray[np.float64]:
    """Return places as an array of shape (n, 2)."""
    places = np.atleast_2d(np.asarray(xy_yd, float))
    if places.ndim != 2 or places.shape[1] != 2 or not np.isfinite(places).all():
        raise InvalidInputError(
            f"{name} must be finite pairs (x, y) in yards, shape (n, 2); got shape {places.shape}"
        )
    return places
