"""How bright a field is: daylight by sky and height of the sun, and published floodlight levels.

The exposure guide's rows hold while the sun is well up; a game that ends at dusk loses seven stops
and more below them. The way down follows the published formulas for daylight availability, so a row
of the guide at a lower sun is that row less the stops that the formulas lose. Every row names its
source and how it came here: ``found`` (read in the source named), ``memory`` (commonly known, not
looked up).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lensyard.errors import UnknownNameError
from lensyard.sun.position import CIVIL_TWILIGHT_ELEVATION_DEG, SUNRISE_ELEVATION_DEG

SUN_NORMAL_LX = 127_500.0
"""Solar illuminance outside the atmosphere, at the mean distance. *Recommended Practice for the
Calculation of Daylight Availability*, J. Illum. Eng. Soc. 13:381-392, 1984 (found). [lx]"""

GUIDE_FROM_ELEVATION_DEG = 30.0
"""From this height of the sun up a row of the guide is taken as it is (an assumption; the guide
itself says two hours after sunrise to two hours before sunset, from memory). [deg]"""

SUNSET_LX = 490.0
DUSK_LX = 2.6
"""Horizontal illuminance of a clear evening when the sun is 50 minutes and 6 degrees below the
horizon: geometric middle of the ranges 585-410 lx and 3.5-2 lx in *Glossary of Meteorology*,
American Meteorological Society, "civil twilight" (found). [lx]"""


@dataclass(frozen=True, slots=True)
class SkyModel:
    """One sky of the 1984 practice.

    The direct sun, square to its beam, is ``127500 exp(-extinction / sin h)`` lx at height h; the
    sky gives ``base + slope sin(h)**power`` lx on level ground. Coefficients of the sky are from
    memory; those of the half sky in a published transcription are half as large within 6 %.

    Attributes
    ----------
    extinction
        Per air mass; infinite where the sun does not come through.
    base_lx, slope_lx, power
        Of the sky.
    """

    extinction: float
    base_lx: float
    slope_lx: float
    power: float


_CLEAR = SkyModel(0.21, 800.0, 15_500.0, 0.5)
_PARTLY = SkyModel(0.80, 300.0, 45_000.0, 1.0)
_CLOUDY = SkyModel(np.inf, 300.0, 21_000.0, 1.0)
_OPEN_SHADE = SkyModel(np.inf, 800.0, 15_500.0, 0.5)

SKY_MODELS: dict[str, SkyModel] = {
    "full-sun": _CLEAR,
    "hazy-sun": _PARTLY,
    "cloudy-bright": _CLOUDY,
    "overcast": _CLOUDY,
    "open-shade": _OPEN_SHADE,
}
"""The sky behind each daylight row of the exposure guide."""

DIRECT_SUN_SKIES = ("full-sun", "hazy-sun")
"""The rows under which the side of the light matters."""


def daylight_lx(elevation_deg: ArrayLike, *, sky: str) -> NDArray[np.float64]:
    """Return the illuminance of a surface that faces the sun.

    Parameters
    ----------
    elevation_deg : array_like
        Height of the sun, -90 to 90. [deg]
    sky : str
        A key of `SKY_MODELS`.

    Returns
    -------
    ndarray
        Same shape. Below -6 degrees it is 0: what is left is no light to photograph a game by. [lx]

    Raises
    ------
    UnknownNameError
        If there is no such sky.

    Notes
    -----
    Above the horizon the 1984 practice (see `SkyModel`). Below, straight lines of the logarithm
    through the published values at sunset and at the end of civil twilight, scaled to meet the sky
    at 0 degrees.

    Examples
    --------
    >>> round(float(daylight_lx(90.0, sky="overcast")))
    21300
    """
    if sky not in SKY_MODELS:
        raise UnknownNameError(name="sky", value=sky, known=SKY_MODELS)
    model = SKY_MODELS[sky]
    elevation = np.asarray(elevation_deg, float)
    # Without a sign: the sine of -0.0 would turn the air mass to minus infinity.
    sine = np.abs(np.sin(np.radians(np.clip(elevation, 0.0, 90.0))))
    with np.errstate(divide="ignore"):
        beam = SUN_NORMAL_LX * np.exp(-model.extinction / sine) * (sine > 0)
    up = beam + model.base_lx + model.slope_lx * sine**model.power
    level = np.log([DUSK_LX, SUNSET_LX, _CLEAR.base_lx])
    heights_deg = [CIVIL_TWILIGHT_ELEVATION_DEG, SUNRISE_ELEVATION_DEG, 0.0]
    twilight = np.exp(np.interp(elevation, heights_deg, level))
    twilight = twilight * model.base_lx / _CLEAR.base_lx
    down = np.where(elevation >= CIVIL_TWILIGHT_ELEVATION_DEG, twilight, 0.0)
    return np.where(elevation >= 0.0, up, down)


def daylight_ev100(elevation_deg: float, *, sky: str) -> float | None:
    """Return the exposure value at ISO 100 of front-lit action under a sky, or None in the dark.

    Parameters
    ----------
    elevation_deg : float
        Height of the sun. [deg]
    sky : str
        A key of `SKY_MODELS`: a daylight row of the exposure guide.

    Examples
    --------
    >>> daylight_ev100(45.0, sky="full-sun")
    15.0
    >>> round(daylight_ev100(-50 / 60, sky="full-sun"), 1)
    7.4
    """
    here, reference = daylight_lx([elevation_deg, GUIDE_FROM_ELEVATION_DEG], sky=sky)
    if here <= 0.0:
        return None
    return sky_named(sky).ev100 - max(float(np.log2(reference / here)), 0.0)


@dataclass(frozen=True, slots=True)
class SkyCondition:
    """Exposure value at ISO 100 of a scene under one kind of sky.

    Attributes
    ----------
    ev100_low, ev100_high
        Equal where the guide gives one number. [EV]
    """

    key: str
    text: str
    ev100_low: float
    ev100_high: float
    source: str
    basis: str

    @property
    def ev100(self) -> float:
        """The middle of the range. [EV]"""
        return (self.ev100_low + self.ev100_high) / 2


_ANSI = "ANSI PH2.7-1973/1986 photographic exposure guide"


SKY_CONDITIONS: dict[str, SkyCondition] = {
    row.key: row
    for row in (
        SkyCondition("full-sun", "full sun, distinct shadows", 15, 15, _ANSI, "found"),
        SkyCondition("hazy-sun", "hazy sun, soft shadows", 14, 14, _ANSI, "found"),
        SkyCondition("cloudy-bright", "cloudy bright, no shadows", 13, 13, _ANSI, "found"),
        SkyCondition("overcast", "heavy overcast", 12, 12, _ANSI, "found"),
        SkyCondition("open-shade", "open shade under a clear sky", 12, 12, _ANSI, "found"),
        SkyCondition("sunset-skyline", "the skyline at sunset", 12, 12, _ANSI, "found"),
        SkyCondition("after-sunset", "the skyline just after sunset", 9, 11, _ANSI, "found"),
        SkyCondition("night-sports", "sports under floodlights at night", 9, 9, _ANSI, "found"),
        SkyCondition("indoor-sports", "sports indoors", 8, 9, _ANSI, "found"),
    )
}
"""The guide's rows. The daylight rows hold from two hours after sunrise to two hours before sunset
(from memory of such guides); nearer to either the light falls a stop or more below them."""


def sky_named(key: str) -> SkyCondition:
    """Return a row of `SKY_CONDITIONS`, or raise `UnknownNameError` with the known keys."""
    if key not in SKY_CONDITIONS:
        raise UnknownNameError(name="sky", value=key, known=SKY_CONDITIONS)
    return SKY_CONDITIONS[key]
