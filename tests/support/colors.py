"""Colors as numbers, and the pairs of colors that the views put on each other.

Formulas are those of WCAG 2.2 and IEC 61966-2-1 (sRGB); the simulation of color vision without one
kind of cone is that of Machado, Oliveira and Fernandes (2009).
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np

# Weights of relative luminance, WCAG 2.2 (those of sRGB's primaries).
_LUMINANCE = np.array([0.2126, 0.7152, 0.0722])


def rgb(color: str) -> np.ndarray:
    """Return the sRGB components of ``#RRGGBB`` in [0, 1], shape (3,)."""
    return np.array(list(bytes.fromhex(color.removeprefix("#")))) / 255.0


def linear_rgb(color: str) -> np.ndarray:
    """Return the linear-light components of a color, shape (3,); IEC 61966-2-1."""
    value = rgb(color)
    return np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)


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


def simulated(color: str, deficiency: Deficiency) -> str:
    """Return how a color looks to an eye without one kind of cone (Machado et al. 2009)."""
    linear = np.clip(np.array(_SIMULATION[deficiency]) @ linear_rgb(color), 0.0, 1.0)
    # IEC 61966-2-1: linear below, a power law above.
    curved = np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * linear ** (1 / 2.4) - 0.055)
    return "#" + "".join(f"{round(255 * part):02X}" for part in curved)


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


def _lab(color: str):
    ratio = (_XYZ @ linear_rgb(color)) / _XYZ.sum(axis=1)
    small = (6 / 29) ** 3
    f = np.where(ratio > small, np.cbrt(ratio), ratio / (3 * (6 / 29) ** 2) + 4 / 29)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


TEXT_MINIMUM = 4.5  # WCAG 2.2, success criterion 1.4.3, level AA
GRAPHIC_MINIMUM = 3.0  # WCAG 2.2, success criteria 1.4.3 (large text) and 1.4.11


@dataclass(frozen=True, slots=True)
class Pair:
    """A color seen on another one, and the least contrast that it must have."""

    what: str
    front: str
    back: str
    minimum: float


def contrast_pairs(theme) -> tuple[Pair, ...]:
    """Return every pair of colors that the views put on each other, with the level it must reach.

    Lines and text on the field carry a halo, so the halo is what they are seen on; they must also
    show on the ground without it.
    """
    ground = {
        "page": theme.page,
        "surround": theme.surround,
        "strip": theme.strip,
        "field": theme.field,
        "end zone": theme.end_zone,
    }
    text = [
        Pair(f"{name} on {back}", color, ground[back], TEXT_MINIMUM)
        for name, color in (("ink", theme.ink), ("soft ink", theme.ink_soft))
        for back in ground
    ]
    text += [
        Pair("text with a halo", theme.ink, theme.halo, TEXT_MINIMUM),
        Pair("soft text with a halo", theme.ink_soft, theme.halo, TEXT_MINIMUM),
        Pair("accent text with a halo", theme.accent, theme.halo, TEXT_MINIMUM),
        Pair("accent text on the page", theme.accent, theme.page, TEXT_MINIMUM),
        Pair("number on the best spot", theme.on_accent, theme.accent, TEXT_MINIMUM),
        Pair("number in an outlined spot", theme.accent, theme.paper, TEXT_MINIMUM),
        Pair("letter in a habit's mark", theme.ink, theme.paper, TEXT_MINIMUM),
        Pair("label of a closed stretch", theme.ink, theme.closed, TEXT_MINIMUM),
    ]
    marks = [
        Pair(f"{name} on {back}", color, ground[back], GRAPHIC_MINIMUM)
        for name, color in (("accent", theme.accent),)
        for back in ("surround", "strip", "field", "end zone")
    ]
    marks += [
        Pair("line on field", theme.line, theme.field, GRAPHIC_MINIMUM),
        Pair("line on end zone", theme.line, theme.end_zone, GRAPHIC_MINIMUM),
        Pair("line on its halo", theme.line, theme.halo, GRAPHIC_MINIMUM),
        Pair("hatching", theme.hatch, theme.closed, GRAPHIC_MINIMUM),
        Pair("outline of a closed stretch", theme.hatch, theme.surround, GRAPHIC_MINIMUM),
        *(
            Pair(f"edge of the bands on {name}", theme.band_edge, ground[name], GRAPHIC_MINIMUM)
            for name in ("page", "strip", "field")
        ),
    ]
    marks += [
        Pair(f"edge of the bands on band {i}", theme.band_edge, band, GRAPHIC_MINIMUM)
        for i, band in enumerate(theme.band, start=1)
    ]
    return (*text, *marks)
