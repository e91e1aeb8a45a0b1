"""Which way the light falls on the action, seen from the camera.

Bearings are compass degrees, clockwise from true north. A phone's compass may show magnetic
north, which differs by up to some 20 degrees in the United States; take bearings from a map.

The light as it is seen from a place when stands throw shade.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lensyard.errors import InvalidInputError, require_range
from lensyard.sun.position import SUN_SEMIDIAMETER_DEG


class LightKind(StrEnum):
    """How the sun lights the side of the action that faces the camera."""

    FRONT = "front"
    SIDE = "side"
    BACK = "back"
    SUN_IN_LENS = "sun in the lens"
    TOP = "top"
    NO_SUN = "no direct sun"


_KINDS = np.array(list(LightKind), dtype=object)


@dataclass(frozen=True, slots=True)
class LightLimits:
    """Where one kind of light ends and the next begins. Common practice, not a standard.

    Attributes
    ----------
    back_to_deg
        Back light while the sun's bearing is at most this far from the camera's. [deg]
    front_from_deg
        Front light while it is at least this far. Side light between the two. [deg]
    in_lens_to_deg
        Sun in the lens while the sun itself (bearing and height) is at most this far from the
        axis of the lens: no usual hood keeps it off the glass. [deg]
    top_from_elevation_deg
        From this height light comes from above and the side hardly matters. [deg]
    """

    back_to_deg: float = 45.0
    front_from_deg: float = 135.0
    in_lens_to_deg: float = 20.0
    top_from_elevation_deg: float = 60.0

    def __post_init__(self) -> None:
        """Check the order of the limits."""
        require_range(
            low=0.0,
            high=180.0,
            back_to_deg=self.back_to_deg,
            front_from_deg=self.front_from_deg,
            in_lens_to_deg=self.in_lens_to_deg,
        )
        require_range(low=0.0, high=90.0, top_from_elevation_deg=self.top_from_elevation_deg)
        if self.back_to_deg >= self.front_from_deg:
            raise InvalidInputError(
                f"back_to_deg must be below front_from_deg ({self.front_from_deg:g}); "
                f"got {self.back_to_deg!r}"
            )


USUAL_LIMITS: Final[LightLimits] = LightLimits()


@dataclass(frozen=True, slots=True, eq=False)
class LightOnAction:
    """Light for n lines from a camera to the action; every array has the same shape.

    Attributes
    ----------
    bearing_deg
        Compass bearing from the camera to the action, [0, 360). [deg]
    angle_deg
        Angle between the line to the action and the direction to the sun, in space, [0, 180]:
        0 looks into the sun, 180 has it behind the camera. [deg]
    ground_angle_deg
        The same on the ground: difference of the two bearings, [0, 180]. [deg]
    kinds
        Array of `LightKind`.
    """

    bearing_deg: NDArray[np.float64]
    angle_deg: NDArray[np.float64]
    ground_angle_deg: NDArray[np.float64]
    kinds: NDArray[np.object_]


def field_bearing(
    *, x_axis_bearing_deg: float, dx_yd: ArrayLike, dy_yd: ArrayLike
) -> NDArray[np.float64]:
    """Return the compass bearing of directions in the stadium's frame.

    Parameters
    ----------
    x_axis_bearing_deg : float
        Compass bearing of the field's long axis, from end A to end B. Must be finite. [deg]
    dx_yd, dy_yd : array_like
        Direction: x from end A to end B, y from sideline A to sideline B, which is 90 degrees to
        the left of x. Broadcast together. [yd]

    Returns
    -------
    ndarray
        Bearings, [0, 360). [deg]

    Raises
    ------
    InvalidInputError
        If a direction has no length or a number is not finite.

    Examples
    --------
    A field whose end B lies due north: toward sideline B is due west.

    >>> float(field_bearing(x_axis_bearing_deg=0.0, dx_yd=0.0, dy_yd=1.0))
    270.0
    """
    dx, dy = np.broadcast_arrays(np.asarray(dx_yd, float), np.asarray(dy_yd, float))
    if not np.isfinite(x_axis_bearing_deg):
        raise InvalidInputError(f"x_axis_bearing_deg must be finite; got {x_axis_bearing_deg!r}")
    if not (np.isfinite(dx).all() and np.isfinite(dy).all() and (np.hypot(dx, dy) > 0).all()):
        raise InvalidInputError(
            "a direction needs two finite components, not both 0; "
            "the camera and the action must be at different places"
        )
    return _wrap_deg(x_axis_bearing_deg - np.degrees(np.arctan2(dy, dx)))


def light_angle(
    *, bearing_deg: ArrayLike, sun_azimuth_deg: ArrayLike, sun_elevation_deg: ArrayLike
) -> NDArray[np.float64]:
    """Return the angle between the line to the action and the direction to the sun.

    Parameters
    ----------
    bearing_deg : array_like
        From the camera to the action; the line is taken as level. [deg]
    sun_azimuth_deg, sun_elevation_deg : array_like
        Apparent direction to the sun. Broadcast with ``bearing_deg``. [deg]

    Returns
    -------
    ndarray
        [0, 180]: 0 looks into the sun, 90 across it, 180 has it behind the camera. [deg]

    Notes
    -----
    ``cos(angle) = cos(elevation) cos(azimuth - bearing)``, from the scalar product of the unit
    vectors.

    Examples
    --------
    >>> angle = light_angle(bearing_deg=180.0, sun_azimuth_deg=0.0, sun_elevation_deg=30.0)
    >>> round(float(angle), 9)
    150.0
    """
    bearing, azimuth, elevation = (
        np.asarray(value, float) for value in (bearing_deg, sun_azimuth_deg, sun_elevation_deg)
    )
    cosine = np.cos(np.radians(elevation)) * np.cos(np.radians(azimuth - bearing))
    return np.asarray(np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0))))


def light_kinds(
    *,
    bearing_deg: ArrayLike,
    sun_azimuth_deg: ArrayLike,
    sun_elevation_deg: ArrayLike,
    limits: LightLimits = USUAL_LIMITS,
) -> NDArray[np.object_]:
    """Return the `LightKind` of each line from a camera to the action.

    Arguments broadcast together, as in `light_angle`. In order: no direct sun while the disk is
    below the horizon, sun in the lens, top, back, front, side.

    Examples
    --------
    >>> kinds = light_kinds(bearing_deg=[0, 90, 180], sun_azimuth_deg=180, sun_elevation_deg=35)
    >>> [str(kind) for kind in kinds]
    ['front', 'side', 'back']
    """
    bearing, azimuth, elevation = np.broadcast_arrays(
        np.asarray(bearing_deg, float),
        np.asarray(sun_azimuth_deg, float),
        np.asarray(sun_elevation_deg, float),
    )
    angle = light_angle(bearing_deg=bearing, sun_azimuth_deg=azimuth, sun_elevation_deg=elevation)
    ground = _ground_angle_deg(bearing, azimuth)
    order = list(LightKind)
    code = np.select(
        [
            elevation <= -SUN_SEMIDIAMETER_DEG,
            angle <= limits.in_lens_to_deg,
            elevation >= limits.top_from_elevation_deg,
            ground <= limits.back_to_deg,
            ground >= limits.front_from_deg,
        ],
        [
            order.index(kind)
            for kind in (
                LightKind.NO_SUN,
                LightKind.SUN_IN_LENS,
                LightKind.TOP,
                LightKind.BACK,
                LightKind.FRONT,
            )
        ],
        default=order.index(LightKind.SIDE),
    )
    return np.asarray(_KINDS[code], dtype=object)


def light_from_spots(
    *,
    spot_x_yd: ArrayLike,
    spot_y_yd: ArrayLike,
    action_x_yd: ArrayLike,
    action_y_yd: ArrayLike,
    x_axis_bearing_deg: float,
    sun_azimuth_deg: float,
    sun_elevation_deg: float,
    limits: LightLimits = USUAL_LIMITS,
) -> LightOnAction:
    """Return the light on the action from each spot, all in the stadium's frame.

    Parameters
    ----------
    spot_x_yd, spot_y_yd, action_x_yd, action_y_yd : array_like
        Where the camera and the action are; broadcast together. [yd]
    x_axis_bearing_deg : float
        Compass bearing from end A to end B. [deg]
    sun_azimuth_deg, sun_elevation_deg : float
        Apparent direction to the sun. [deg]
    limits : LightLimits
        Borders between the kinds.

    Raises
    ------
    InvalidInputError
        If a spot is exactly where the action is.
    """
    bearing = field_bearing(
        x_axis_bearing_deg=x_axis_bearing_deg,
        dx_yd=np.asarray(action_x_yd, float) - np.asarray(spot_x_yd, float),
        dy_yd=np.asarray(action_y_yd, float) - np.asarray(spot_y_yd, float),
    )
    return LightOnAction(
        bearing_deg=bearing,
        angle_deg=light_angle(
            bearing_deg=bearing,
            sun_azimuth_deg=sun_azimuth_deg,
            sun_elevation_deg=sun_elevation_deg,
        ),
        ground_angle_deg=_ground_angle_deg(bearing, np.asarray(sun_azimuth_deg, float)),
        kinds=light_kinds(
            bearing_deg=bearing,
            sun_azimuth_deg=sun_azimuth_deg,
            sun_elevation_deg=sun_elevation_deg,
            limits=limits,
        ),
    )


def _wrap_deg(angle_deg: ArrayLike) -> NDArray[np.float64]:
    """Return angles in [0, 360); a tiny negative one would round up to 360 itself."""
    wrapped = np.mod(np.asarray(angle_deg, float), 360.0)
    return np.where(wrapped >= 360.0, 0.0, wrapped)


def _ground_angle_deg(
    bearing_deg: NDArray[np.float64], azimuth_deg: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return the difference of two bearings, [0, 180]. [deg]"""
    return np.asarray(np.abs(np.mod(azimuth_deg - bearing_deg + 180.0, 360.0) - 180.0))
