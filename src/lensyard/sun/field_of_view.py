"""Depth of field: how much focus error is allowed at a distance.

How large a player is in the frame, in millimeters and pixels, and what that is good for.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from lensyard.errors import InvalidInputError, UnknownNameError, require_positive, require_range
from lensyard.units import (
    FULL_FRAME_WIDTH_MM,
    METERS_PER_YARD,
    MILLIMETERS_PER_METER,
    meters_from_yards,
)

FULL_FRAME_CIRCLE_MM = 0.03
"""Circle of confusion for full frame (common practice: a print at arm's length). Seen at 100 %
on a screen the limit is nearer to two pixels, about 0.012 mm. [mm]"""


@dataclass(frozen=True, slots=True)
class DepthOfField:
    """What is acceptably sharp around the plane of focus.

    Attributes
    ----------
    hyperfocal_m
        Focused here, everything from half of it to infinity is sharp. [m]
    near_yd, far_yd
        First and last sharp distance from the camera; far may be infinite. [yd]
    front_yd, behind_yd
        Allowed focus error toward the camera and away from it. [yd]
    """

    distance_yd: float
    hyperfocal_m: float
    near_yd: float
    far_yd: float
    front_yd: float
    behind_yd: float

    @property
    def total_yd(self) -> float:
        """From the first to the last sharp distance. [yd]"""
        return self.far_yd - self.near_yd


def circle_of_confusion_mm(*, sensor_width_mm: float = FULL_FRAME_WIDTH_MM) -> float:
    """Return the usual circle of confusion, scaled from full frame by the sensor's width. [mm]

    >>> circle_of_confusion_mm(sensor_width_mm=24.0)
    0.02
    """
    require_positive(sensor_width_mm=sensor_width_mm)
    return FULL_FRAME_CIRCLE_MM * sensor_width_mm / FULL_FRAME_WIDTH_MM


def hyperfocal_mm(*, focal_length_mm: float, f_number: float, circle_mm: float) -> float:
    """Return the hyperfocal distance, ``H = f^2 / (N c) + f``. [mm]

    Parameters
    ----------
    focal_length_mm, f_number : float
        Of the lens, converter included. [mm], [1]
    circle_mm : float
        Circle of confusion on the sensor. [mm]

    References
    ----------
    .. [1] A. R. Greenleaf, *Photographic Optics*, Macmillan, 1950, as quoted in a published
       depth-of-field reference.

    Examples
    --------
    >>> hyperfocal_mm(focal_length_mm=50.0, f_number=8.0, circle_mm=0.02)
    15675.0
    """
    require_positive(focal_length_mm=focal_length_mm, f_number=f_number, circle_mm=circle_mm)
    return focal_length_mm**2 / (f_number * circle_mm) + focal_length_mm


def depth_of_field(
    *,
    distance_yd: float,
    focal_length_mm: float,
    f_number: float,
    circle_mm: float = FULL_FRAME_CIRCLE_MM,
) -> DepthOfField:
    """Return the depth of field at a focused distance.

    Parameters
    ----------
    distance_yd : float
        Camera to the plane of focus; more than one focal length. [yd]
    focal_length_mm, f_number, circle_mm : float
        As in `hyperfocal_mm`.

    Raises
    ------
    InvalidInputError
        If a number is not positive or the distance is within the focal length.

    Notes
    -----
    With s the focused distance: near ``s (H - f) / (H + s - 2 f)``, far ``s (H - f) / (H - s)``,
    infinite from ``s = H`` on. Source as in `hyperfocal_mm`.

    Examples
    --------
    >>> depth = depth_of_field(distance_yd=40.0, focal_length_mm=400.0, f_number=2.8)
    >>> round(depth.front_yd, 2), round(depth.behind_yd, 2)
    (0.75, 0.77)
    """
    require_positive(distance_yd=distance_yd)
    hyperfocal = hyperfocal_mm(
        focal_length_mm=focal_length_mm, f_number=f_number, circle_mm=circle_mm
    )
    mm_per_yd = METERS_PER_YARD * MILLIMETERS_PER_METER
    focus = distance_yd * mm_per_yd
    if focus <= focal_length_mm:
        raise InvalidInputError(
            f"distance_yd must be beyond the focal length ({focal_length_mm:g} mm is "
            f"{focal_length_mm / mm_per_yd:.2f} yd); got {distance_yd!r}"
        )
    near = focus * (hyperfocal - focal_length_mm) / (hyperfocal + focus - 2.0 * focal_length_mm)
    far = (
        focus * (hyperfocal - focal_length_mm) / (hyperfocal - focus)
        if focus < hyperfocal
        else math.inf
    )
    return DepthOfField(
        distance_yd=distance_yd,
        hyperfocal_m=hyperfocal / MILLIMETERS_PER_METER,
        near_yd=near / mm_per_yd,
        far_yd=far / mm_per_yd,
        front_yd=(focus - near) / mm_per_yd,
        behind_yd=(far - focus) / mm_per_yd,
    )


PLAYER_HEIGHT_M = 1.83
"""A standing player. A published team mean is 183.8 cm with standard deviation 9.0 (Pryor et al.
2014, J Strength Cond Res 28:7-13). [m]"""

PRINT_PPI = 300.0
"""Pixels per inch of a good print (printing convention, from memory)."""

PLAYER_FILL = 0.8
"""Share of a crop's height that the player fills: some air above and below (common practice)."""


@dataclass(frozen=True, slots=True)
class SensorFormat:
    """A sensor's long and short side. [mm]"""

    key: str
    width_mm: float
    height_mm: float
    basis: str


@dataclass(frozen=True, slots=True)
class PixelDensity:
    """A published pixel density at the subject and what an observer can do with it."""

    key: str
    px_per_m: float
    source: str
    basis: str


@dataclass(frozen=True, slots=True)
class CropUse:
    """Pixels that a use needs.

    Attributes
    ----------
    ppi
        For print; None on a screen. [pixels per inch]
    """

    key: str
    text: str
    width_px: int
    height_px: int
    ppi: float | None
    basis: str


@dataclass(frozen=True, slots=True)
class PlayerInFrame:
    """A standing player at a distance, as the sensor sees it.

    Attributes
    ----------
    height_mm, height_px
        Of the image; may be more than the sensor has. [mm], [px]
    share_of_frame
        Image height over the frame's height as held; above 1 the player overflows.
    px_per_m
        Pixels on each meter at the player's distance. [px/m]
    density
        The highest of `PIXEL_DENSITIES` that is reached, or None.
    frame_width_px, frame_height_px
        The whole frame as held (upright: height is the long side). [px]
    """

    height_mm: float
    height_px: float
    share_of_frame: float
    px_per_m: float
    density: PixelDensity | None
    frame_width_px: int
    frame_height_px: int

    @property
    def is_whole(self) -> bool:
        """Whether the whole player fits."""
        return self.share_of_frame <= 1.0


@dataclass(frozen=True, slots=True)
class CropFinding:
    """Whether a crop around the player has the pixels that a use needs.

    Attributes
    ----------
    crop_width_px, crop_height_px
        The largest crop of the use's shape in which the player fills the share asked for, or
        the whole frame's worth if that is less. [px]
    is_enough
        At least as many pixels as the use needs.
    scale
        Crop over need: 1 is just enough, 0.5 half as many along each side.
    ppi
        What a print of the full size would have; None for a screen.
    """

    use: CropUse
    crop_width_px: float
    crop_height_px: float
    is_enough: bool
    scale: float
    ppi: float | None
    sentence: str


SENSORS: dict[str, SensorFormat] = {
    row.key: row
    for row in (
        SensorFormat("full-frame", 36.0, 24.0, "common data sheets, found"),
        SensorFormat("aps-c-1.5", 23.5, 15.6, "common data sheets, memory"),
        SensorFormat("aps-c-1.6", 22.3, 14.9, "common data sheets, memory"),
        SensorFormat("four-thirds", 17.3, 13.0, "common data sheets, found"),
        SensorFormat("one-inch", 13.2, 8.8, "common data sheets, memory"),
    )
}

_EN = "IEC/EN 62676-4:2015 (video surveillance)"
PIXEL_DENSITIES: tuple[PixelDensity, ...] = (
    PixelDensity("monitor", 12.5, _EN, "found"),
    PixelDensity("detect", 25.0, _EN, "found"),
    PixelDensity("observe", 62.5, _EN, "found"),
    PixelDensity("recognize", 125.0, _EN, "found"),
    PixelDensity("identify", 250.0, _EN, "found"),
    PixelDensity("inspect", 1000.0, _EN, "memory"),
)
"""From low to high. Written for security cameras; here a yardstick for how much of a face shows."""

CROP_USES: dict[str, CropUse] = {
    row.key: row
    for row in (
        CropUse(
            "page", "a vertical page, 8.5 x 11 in", 2550, 3300, PRINT_PPI, "convention, memory"
        ),
        CropUse(
            "half-page", "half a page, 8.5 x 5.5 in", 2550, 1650, PRINT_PPI, "convention, memory"
        ),
        CropUse("web", "a vertical web crop, 4:5", 1080, 1350, None, "common practice, memory"),
        CropUse(
            "web-wide", "a wide web picture, 16:9", 1920, 1080, None, "common practice, memory"
        ),
    )
}


def sensor_named(key: str) -> SensorFormat:
    """Return a row of `SENSORS`, or raise `UnknownNameError` with the known keys."""
    if key not in SENSORS:
        raise UnknownNameError(name="sensor", value=key, known=SENSORS)
    return SENSORS[key]


def print_use(
    *, key: str, text: str, width_in: float, height_in: float, ppi: float = PRINT_PPI
) -> CropUse:
    """Return the pixels that a print of a size needs.

    >>> use = print_use(key="page", text="a page", width_in=8.5, height_in=11.0)
    >>> use.width_px, use.height_px
    (2550, 3300)
    """
    require_positive(width_in=width_in, height_in=height_in, ppi=ppi)
    return CropUse(key, text, round(width_in * ppi), round(height_in * ppi), ppi, "given")


def player_in_frame(
    *,
    distance_yd: float,
    focal_length_mm: float,
    sensor_width_mm: float,
    sensor_height_mm: float,
    sensor_width_px: int,
    player_height_m: float = PLAYER_HEIGHT_M,
    is_upright: bool = False,
) -> PlayerInFrame:
    """Return how large a standing player is in the frame.

    Parameters
    ----------
    distance_yd : float
        Camera to player. [yd]
    focal_length_mm : float
        Real focal length, converter included, crop factor not. [mm]
    sensor_width_mm, sensor_height_mm : float
        Long and short side of the sensor. [mm]
    sensor_width_px : int
        Pixels along the long side; pixels are taken as square. [px]
    player_height_m : float
        Height at the subject. [m]
    is_upright : bool
        The camera is turned, so the player's height runs along the long side.

    Raises
    ------
    InvalidInputError
        If a number is not positive or the sensor's long side is shorter than its short side.

    Notes
    -----
    Pinhole model: image height ``h f / D``. A thin lens focused at D gives ``h f / (D - f)``,
    1.1 % more for 400 mm at 40 yd.

    Examples
    --------
    >>> player = player_in_frame(
    ...     distance_yd=40.0, focal_length_mm=400.0, sensor_width_mm=36.0,
    ...     sensor_height_mm=24.0, sensor_width_px=6000,
    ... )
    >>> round(player.height_mm, 1), round(player.share_of_frame, 2)
    (20.0, 0.83)
    """
    require_positive(
        distance_yd=distance_yd,
        focal_length_mm=focal_length_mm,
        sensor_width_mm=sensor_width_mm,
        sensor_height_mm=sensor_height_mm,
        sensor_width_px=sensor_width_px,
        player_height_m=player_height_m,
    )
    if sensor_height_mm > sensor_width_mm:
        raise InvalidInputError(
            f"sensor_width_mm is the long side; got {sensor_width_mm!r} x {sensor_height_mm!r}. "
            "Swap them, and set is_upright for a turned camera."
        )
    px_per_mm = sensor_width_px / sensor_width_mm
    magnification = focal_length_mm / (meters_from_yards(distance_yd) * MILLIMETERS_PER_METER)
    height_mm = player_height_m * MILLIMETERS_PER_METER * magnification
    px_per_m = MILLIMETERS_PER_METER * magnification * px_per_mm
    long_px, short_px = sensor_width_px, round(sensor_height_mm * px_per_mm)
    return PlayerInFrame(
        height_mm=height_mm,
        height_px=height_mm * px_per_mm,
        share_of_frame=height_mm / (sensor_width_mm if is_upright else sensor_height_mm),
        px_per_m=px_per_m,
        density=density_reached(px_per_m),
        frame_width_px=short_px if is_upright else long_px,
        frame_height_px=long_px if is_upright else short_px,
    )


def density_reached(px_per_m: float) -> PixelDensity | None:
    """Return the highest published density that is reached (its own value included), or None.

    >>> density_reached(250.0).key
    'identify'
    """
    require_positive(px_per_m=px_per_m)
    reached = [row for row in PIXEL_DENSITIES if px_per_m >= row.px_per_m]
    return reached[-1] if reached else None


def crop_finding(
    player: PlayerInFrame, use: CropUse, *, player_fill: float = PLAYER_FILL
) -> CropFinding:
    """Return whether a crop around the player has pixels enough for a use.

    Parameters
    ----------
    player : PlayerInFrame
        From `player_in_frame`.
    use : CropUse
        From `CROP_USES` or `print_use`.
    player_fill : float
        Share of the crop's height that the player fills, [0.1, 1].
    """
    require_range(low=0.1, high=1.0, player_fill=player_fill)
    shape = use.width_px / use.height_px
    height_px = min(
        player.height_px / player_fill, player.frame_height_px, player.frame_width_px / shape
    )
    scale = height_px / use.height_px
    enough = scale >= 1.0
    ppi = None if use.ppi is None else use.ppi * scale
    has = f"{shape * height_px:.0f} x {height_px:.0f} pixels"
    needs = f"{use.width_px} x {use.height_px}"
    at_ppi = "" if ppi is None else f" ({ppi:.0f} ppi at full size)"
    verdict = "enough for" if enough else "too few for"
    return CropFinding(
        use=use,
        crop_width_px=shape * height_px,
        crop_height_px=height_px,
        is_enough=enough,
        scale=scale,
        ppi=ppi,
        sentence=f"A crop around the player has {has}{at_ppi}, {verdict} {use.text} ({needs}).",
    )


def crop_findings(
    player: PlayerInFrame,
    uses: Iterable[CropUse] | None = None,
    *,
    player_fill: float = PLAYER_FILL,
) -> tuple[CropFinding, ...]:
    """Return `crop_finding` for several uses, by default all of `CROP_USES`."""
    chosen = CROP_USES.values() if uses is None else uses
    return tuple(crop_finding(player, use, player_fill=player_fill) for use in chosen)
