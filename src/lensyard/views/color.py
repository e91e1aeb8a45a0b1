"""Colors as numbers: luminance, contrast, color-deficient eyes, distance.

Formulas are those of WCAG 2.2 and IEC 61966-2-1 (sRGB); the simulation of color vision without one
kind of cone is that of Machado, Oliveira and Fernandes (2009).
"""

from __future__ import annotations

import re
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from lensyard.errors import InvalidInputError

FloatArray = NDArray[np.float64]

_HEX = re.compile(r"#[0-9A-Fa-f]{6}")
# Weights of relative luminance, WCAG 2.2 (those of sRGB's primaries).
_LUMINANCE = np.array([0.2126, 0.7152, 0.0722])


def rgb(color: str) -> FloatArray:
    """Return the sRGB components of ``#RRGGBB`` as three numbers in [0, 1], shape (3,).

    Raises
    ------
    InvalidInputError
        If it has another form.
    """
    if not _HEX.fullmatch(color):
        raise InvalidInputError(f"a color is written #RRGGBB, such as #1A2B3C; got {color!r}")
    return np.array([int(color[i : i + 2], 16) for i in (1, 3, 5)]) / 255.0


def linear_rgb(color: str) -> FloatArray:
    """Return the linear-light components of a color, shape (3,).

    Notes
    -----
    ``c / 12.92`` up to 0.04045, ``((c + 0.055) / 1.055) ** 2.4`` above: the transfer function of
    sRGB (IEC 61966-2-1), as the definition of relative luminance in WCAG 2.2 has it.
    """
    value = rgb(color)
    above = ((value + 0.055) / 1.055) ** 2.4
    result: FloatArray = np.where(value <= 0.04045, value / 12.92, above)
    return result


def relative_luminance(color: str) -> float:
    """Return the relative luminance of a color, 0 (black) to 1 (white); WCAG 2.2.

    >>> relative_luminance("#000000"), round(relative_luminance("#FFFFFF"), 12)
    (0.0, 1.0)
    """
    return float(linear_rgb(color) @ _LUMINANCE)


def contrast_ratio(one: str, other: str) -> float:
    """Return the contrast ratio of two colors, 1 to 21; the order does not matter.

    ``(L1 + 0.05) / (L2 + 0.05)`` with the lighter one's relative luminance on top; WCAG 2.2.

    >>> round(contrast_ratio("#000000", "#FFFFFF"), 6)
    21.0
    """
    low, high = sorted((relative_luminance(one), relative_luminance(other)))
    return (high + 0.05) / (low + 0.05)


class Deficiency(StrEnum):
    """Color vision in which one kind of cone is missing."""

    PROTANOPIA = "protanopia"
    DEUTERANOPIA = "deuteranopia"
    TRITANOPIA = "tritanopia"


# Severity 1.0, applied to linear RGB: Machado, Oliveira and Fernandes, "A physiologically-based
# model for simulation of color vision deficiency", IEEE TVCG 15(6), 2009, matrices published with
# the paper.
_SIMULATION: dict[Deficiency, tuple[tuple[float, float, float], ...]] = {
    Deficiency.PROTANOPIA: (
        (0.152286, 1.052583, -0.204868),
        (0.114503, 0.786281, 0.099216),
        (-0.003882, -0.048116, 1.051998),
    ),
    Deficiency.DEUTERANOPIA: (
        (0.367322, 0.860646, -0.227968),
        (0.280085, 0.672501, 0.047413),
        (-0.011820, 0.042940, 0.968881),
    ),
    Deficiency.TRITANOPIA: (
        (1.255528, -0.076749, -0.178779),
        (-0.078411, 0.930809, 0.147602),
        (0.004733, 0.691367, 0.303900),
    ),
}


def as_hex(linear: FloatArray) -> str:
    """Return ``#RRGGBB`` from linear-light components (clipped to what a screen can show)."""
    light = np.clip(linear, 0.0, 1.0)
    value = np.where(light <= 0.0031308, light * 12.92, 1.055 * light ** (1 / 2.4) - 0.055)
    red, green, blue = (round(float(c) * 255) for c in value)
    return f"#{red:02X}{green:02X}{blue:02X}"


def simulated(color: str, deficiency: Deficiency) -> str:
    """Return how a color looks to an eye without one kind of cone (Machado et al. 2009)."""
    return as_hex(np.array(_SIMULATION[deficiency]) @ linear_rgb(color))


def color_distance(one: str, other: str) -> float:
    """Return the distance of two colors in CIE L*a*b* (CIE 1976, D65).

    About 2.3 is the least that is noticed side by side (Mahy, Van Eycken and Oosterlinck 1994).
    """
    return float(np.linalg.norm(_lab(one) - _lab(other)))


# Linear sRGB to CIE XYZ relative to the D65 white point, from IEC 61966-2-1.
_XYZ = np.array(
    [
        [0.4124, 0.3576, 0.1805],
        [0.2126, 0.7152, 0.0722],
        [0.0193, 0.1192, 0.9505],
    ]
)


def _lab(color: str) -> FloatArray:
    ratio = (_XYZ @ linear_rgb(color)) / _XYZ.sum(axis=1)
    small = (6 / 29) ** 3
    f = np.where(ratio > small, np.cbrt(ratio), ratio / (3 * (6 / 29) ** 2) + 4 / 29)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])
