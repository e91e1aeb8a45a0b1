"""Which way the light falls on the action, seen from the camera.

Bearings are compass degrees, clockwise from true north. A phone's compass may show magnetic
north, which differs by up to some 20 degrees in the United States; take bearings from a map.
"""

from __future__ import annotations

from enum import StrEnum

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lensyard.errors import InvalidInputError
from lensyard.sun.position import SUN_SEMIDIAMETER_DEG


class LightKind(StrEnum):
    """How the sun lights the side of the action that faces the camera."""

    FRONT = "front"
    SIDE = "side"
    BACK = "back"
    SUN_IN_LENS = "sun in the lens"
    TOP = "top"
    NO_SUN = "no direct sun"


BACK_TO_DEG = 45.0
"""Back light while the sun's bearing is at most this far from the camera's (common practice, as
are the three limits below; none is a standard). [deg]"""

FRONT_FROM_DEG = 135.0
"""Front light while it is at least this far; side light between the two. [deg]"""

IN_LENS_TO_DEG = 20.0
"""Sun in the lens while the sun itself (bearing and height) is at most this far from the axis of
the lens: no usual hood keeps it off the glass. [deg]"""

TOP_FROM_ELEVATION_DEG = 60.0
"""From this height light comes from above and the side hardly matters. [deg]"""


def field_bearing(
    *, x_axis_bearing_deg: float, dx_yd: ArrayLike, dy_yd: ArrayLike
) -> NDArray[np.float64]:
    """Return the compass bearing of directions in stadium coordinates.

    - ``x_axis_bearing_deg``: compass bearing of the field's long axis, from end A to end B. Must be
      finite. [deg]
    - ``dx_yd``, ``dy_yd``: direction: x from end A to end B, y from sideline A to sideline B, which
      is 90 degrees to the left of x. Broadcast together. [yd]

    The result: bearings, [0, 360). [deg]

    Raises `InvalidInputError` if a direction has no length or a number is not finite.

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


def light_of_lines(
    *, bearing_deg: ArrayLike, sun_azimuth_deg: ArrayLike, sun_elevation_deg: ArrayLike
) -> tuple[NDArray[np.float64], NDArray[np.object_]]:
    """Return angle and `LightKind` of lines from a camera to the action, shade left aside.

    - ``bearing_deg``: from the camera to the action; the line is taken as level. [deg]
    - ``sun_azimuth_deg``, ``sun_elevation_deg``: apparent direction to the sun. All broadcast
      together. [deg]

    The angle is that between the line and the direction to the sun, [0, 180]: 0 looks into the sun,
    180 has it behind the camera: ``cos(angle) = cos(elevation) cos(azimuth - bearing)``, from the
    scalar product of the unit vectors. [deg] The kinds in order: no direct sun while the disk is
    below the horizon, sun in the lens, top, back, front, side.

    >>> angle, kinds = light_of_lines(
    ...     bearing_deg=[0, 90, 180], sun_azimuth_deg=180, sun_elevation_deg=35
    ... )
    >>> angle.round(6).tolist(), [str(kind) for kind in kinds]
    ([145.0, 90.0, 35.0], ['front', 'side', 'back'])
    """
    bearing, azimuth, elevation = np.broadcast_arrays(
        np.asarray(bearing_deg, float),
        np.asarray(sun_azimuth_deg, float),
        np.asarray(sun_elevation_deg, float),
    )
    cosine = np.cos(np.radians(elevation)) * np.cos(np.radians(azimuth - bearing))
    angle = np.asarray(np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0))))
    ground = np.abs(np.mod(azimuth - bearing + 180.0, 360.0) - 180.0)
    kinds = np.empty(bearing.shape, dtype=object)
    kinds[...] = LightKind.SIDE
    # From the last to the first: a later line replaces an earlier one.
    for kind, holds in (
        (LightKind.FRONT, ground >= FRONT_FROM_DEG),
        (LightKind.BACK, ground <= BACK_TO_DEG),
        (LightKind.TOP, elevation >= TOP_FROM_ELEVATION_DEG),
        (LightKind.SUN_IN_LENS, angle <= IN_LENS_TO_DEG),
        (LightKind.NO_SUN, elevation <= -SUN_SEMIDIAMETER_DEG),
    ):
        kinds[holds] = kind
    return angle, kinds


def seen_kinds(
    kinds: ArrayLike, *, spot_in_shade: ArrayLike, action_in_shade: ArrayLike
) -> NDArray[np.object_]:
    """Return the kinds of light with shade counted in.

    - ``spot_in_shade``, ``action_in_shade`` (array_like of bool): whether camera and action lie in
      shade. All broadcast together.

    The result: sun in the lens stays while the camera itself is in the sun, whatever the action is
    in; in the shade it is back light. Any other light on action in shade is no direct sun.

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


def _wrap_deg(angle_deg: ArrayLike) -> NDArray[np.float64]:
    """Return angles in [0, 360); a tiny negative one would round up to 360 itself."""
    wrapped = np.mod(np.asarray(angle_deg, float), 360.0)
    return np.where(wrapped >= 360.0, 0.0, wrapped)
