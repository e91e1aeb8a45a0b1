"""How bright the day is at a height of the sun, down into twilight.

The exposure guide's rows hold while the sun is well up; a game that ends at dusk loses seven stops
and more below them. The way down follows the published formulas for daylight availability, so a row
of the guide at a lower sun is that row less the stops that the formulas lose.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lensyard.errors import UnknownNameError
from lensyard.light.levels import sky_named

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

_SUNSET_DEG, _DUSK_DEG = -50.0 / 60.0, -6.0


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

    key: str
    extinction: float
    base_lx: float
    slope_lx: float
    power: float


_CLEAR = SkyModel("clear", 0.21, 800.0, 15_500.0, 0.5)
_PARTLY = SkyModel("partly cloudy", 0.80, 300.0, 45_000.0, 1.0)
_CLOUDY = SkyModel("cloudy", np.inf, 300.0, 21_000.0, 1.0)
_SHADE = SkyModel("clear, without the sun", np.inf, 800.0, 15_500.0, 0.5)

SKY_MODELS: dict[str, SkyModel] = {
    "full-sun": _CLEAR,
    "hazy-sun": _PARTLY,
    "cloudy-bright": _CLOUDY,
    "overcast": _CLOUDY,
    "open-shade": _SHADE,
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
    sine = np.sin(np.radians(np.clip(elevation, 0.0, 90.0)))
    with np.errstate(divide="ignore"):
        beam = SUN_NORMAL_LX * np.exp(-model.extinction / sine) * (sine > 0)
    up = beam + model.base_lx + model.slope_lx * sine**model.power
    level = np.log([DUSK_LX, SUNSET_LX, _CLEAR.base_lx])
    twilight = np.exp(np.interp(elevation, [_DUSK_DEG, _SUNSET_DEG, 0.0], level))
    twilight = twilight * model.base_lx / _CLEAR.base_lx
    down = np.where(elevation >= _DUSK_DEG, twilight, 0.0)
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
