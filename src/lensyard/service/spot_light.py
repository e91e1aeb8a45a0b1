"""The light on the action from each spot of a venue at one moment."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lensyard.domain.venue import Venue
from lensyard.errors import InvalidInputError
from lensyard.light.angle import USUAL_LIMITS, LightKind, LightLimits, light_from_spots
from lensyard.light.clock import in_zone, zone_named
from lensyard.light.seen import seen_kinds
from lensyard.light.shade import in_shade
from lensyard.light.sun import sun_position
from lensyard.service.light_scene import require_usual_year, venue_place, venue_stands

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
    sun_elevation_deg, sun_azimuth_deg
        Where the sun stands. [deg]
    note
        What was assumed about the time; empty when nothing was.
    """

    angle_deg: NDArray[np.float64]
    kinds: NDArray[np.object_]
    sun_elevation_deg: float
    sun_azimuth_deg: float
    note: str


def light_at_spots(
    venue: Venue,
    at: datetime,
    *,
    spot_xy_yd: ArrayLike,
    action_xy_yd: ArrayLike,
    limits: LightLimits = USUAL_LIMITS,
) -> SpotLight:
    """Return the light on the action as each spot sees it.

    Parameters
    ----------
    venue
        With its place, its bearing and its stands. Under a roof there is no direct sun.
    at
        Naive (then on the venue's clock, and ``note`` says so) or aware.
    spot_xy_yd, action_xy_yd
        Places in the stadium frame, shape (n, 2); one of the two may be (2,). [yd]
    limits
        Borders between the kinds.

    Raises
    ------
    InvalidInputError
        If the venue's place is not known, the time does not exist there, a spot is exactly where
        the action is, or the places have another shape.

    Examples
    --------
    >>> from lensyard.service.venue_file import load_venue
    >>> light = light_at_spots(
    ...     load_venue("tamarack-fork"),
    ...     datetime(2026, 10, 9, 18, 0),
    ...     spot_xy_yd=[(-2.0, 27.0), (122.0, 27.0)],
    ...     action_xy_yd=(60.0, 27.0),
    ... )
    >>> [kind.value for kind in light.kinds]
    ['front', 'back']
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
    latitude_deg, longitude_deg = venue_place(venue)
    moment = in_zone(at, zone_named(venue.time_zone))
    sun = sun_position(latitude_deg=latitude_deg, longitude_deg=longitude_deg, at=moment.at)
    light = light_from_spots(
        spot_x_yd=spot[:, 0],
        spot_y_yd=spot[:, 1],
        action_x_yd=action[:, 0],
        action_y_yd=action[:, 1],
        x_axis_bearing_deg=venue.axis_bearing_deg,
        sun_azimuth_deg=sun.azimuth_deg,
        sun_elevation_deg=sun.elevation_deg,
        limits=limits,
    )
    kinds = light.kinds
    if venue.covered:
        kinds = np.full(kinds.shape, LightKind.NO_SUN, dtype=object)
    elif sun.elevation_deg > 0:
        # At the horizon itself the light's own "no direct sun" is the better judge.
        spot_shade, action_shade = (
            in_shade(
                venue_stands(venue),
                x_yd=places[:, 0],
                y_yd=places[:, 1],
                x_axis_bearing_deg=venue.axis_bearing_deg,
                sun_azimuth_deg=sun.azimuth_deg,
                sun_elevation_deg=sun.elevation_deg,
                target_height_m=FACE_HEIGHT_M,
            )
            for places in (spot, action)
        )
        kinds = seen_kinds(kinds, spot_in_shade=spot_shade, action_in_shade=action_shade)
    return SpotLight(
        angle_deg=light.angle_deg,
        kinds=kinds,
        sun_elevation_deg=sun.elevation_deg,
        sun_azimuth_deg=sun.azimuth_deg,
        note=moment.note,
    )


def _places(xy_yd: ArrayLike, name: str) -> NDArray[np.float64]:
    """Places as an array of shape (n, 2)."""
    places = np.atleast_2d(np.asarray(xy_yd, float))
    if places.ndim != 2 or places.shape[1] != 2 or not np.isfinite(places).all():
        raise InvalidInputError(
            f"{name} must be finite pairs (x, y) in yards, shape (n, 2); got shape {places.shape}"
        )
    return places
