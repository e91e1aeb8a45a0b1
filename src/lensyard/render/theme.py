"""The three looks, and the measures that hold them to account.

``sunlight``
    Dark ink on a light ground, for a phone in the open and for a projector.
``night``
    Dim amber on near black with hardly any blue in it, so that eyes stay used to the dark; it
    stays readable when nothing but red light reaches the eye.
``print``
    Black, white and gray, for paper.

One idea runs through all three: ink is the field, a cool tone (in print: gray) is where the play
is likely to end, a warm accent (in print: black) is where to stand. No meaning is carried by color
alone: every kind of mark has a shape of its own (`lensyard.render.field.marks`).

Every color that is seen on another one is listed in `contrast_pairs`; tests hold the list to the
levels of WCAG 2.2, for usual and for simulated color-deficient eyes.

Colors as numbers: luminance, contrast, color-deficient eyes, distance.

Formulas are those of WCAG 2.2 and IEC 61966-2-1 (sRGB); the simulation of color vision without one
kind of cone is that of Machado, Oliveira and Fernandes (2009).
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from lensyard.errors import InvalidInputError, UnknownNameError

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


TEXT_MINIMUM = 4.5  # WCAG 2.2, success criterion 1.4.3, level AA
GRAPHIC_MINIMUM = 3.0  # WCAG 2.2, success criteria 1.4.3 (large text) and 1.4.11


@dataclass(frozen=True, slots=True)
class Theme:
    """The colors of one look, each named for what it does; all as ``#RRGGBB``.

    Attributes
    ----------
    name
        ``sunlight``, ``night`` or ``print``.
    page
        Behind everything.
    surround, strip, field, end_zone
        The ground: outside, the strip where photographers walk, the playing field, end zones.
    line
        Yard lines, hash marks and everything else that is painted on the field.
    ink, ink_soft
        Text; text of less weight.
    halo
        Around lines and text on the field, so that they stay legible on every band.
    band
        Where the play is likely to end, from the widest area to the narrowest.
    band_edge
        The outline of the bands.
    accent, on_accent
        Where to stand; text on it.
    paper
        Inside outlined marks.
    closed, hatch
        A closed stretch and its hatching.
    sun
        The sun.
    """

    name: str
    page: str
    surround: str
    strip: str
    field: str
    end_zone: str
    line: str
    ink: str
    ink_soft: str
    halo: str
    band: tuple[str, str, str]
    band_edge: str
    accent: str
    on_accent: str
    paper: str
    closed: str
    hatch: str
    sun: str

    def __post_init__(self) -> None:
        """Refuse what is not a color."""
        for color in self.colors().values():
            rgb(color)

    def colors(self) -> dict[str, str]:
        """Return every color by role; the bands as ``band_1`` to ``band_3``."""
        roles = {
            role: getattr(self, role)
            for role in self.__dataclass_fields__
            if role not in ("name", "band")
        }
        roles.update({f"band_{i}": color for i, color in enumerate(self.band, start=1)})
        return roles


SUNLIGHT = Theme(
    name="sunlight",
    page="#FFFFFF",
    surround="#E9E6DE",
    strip="#F6F4EE",
    field="#FCFDFB",
    end_zone="#EDF1EE",
    line="#4C5955",
    ink="#17201D",
    ink_soft="#43504C",
    halo="#FFFFFF",
    band=("#DDE6F4", "#B5C8E8", "#86A5D8"),
    band_edge="#1F3F82",
    accent="#A83A06",
    on_accent="#FFFFFF",
    paper="#FFFFFF",
    closed="#DAD6CC",
    hatch="#6B6A62",
    sun="#7A5200",
)

NIGHT = Theme(
    name="night",
    page="#0B0605",
    surround="#120A07",
    strip="#1A0F0B",
    field="#150C09",
    end_zone="#1D110D",
    line="#A5674A",
    ink="#F2B48C",
    ink_soft="#D29472",
    halo="#0B0605",
    band=("#30120C", "#4F1B11", "#6E2516"),
    band_edge="#E86E44",
    accent="#FFB765",
    on_accent="#1A0B05",
    paper="#0B0605",
    closed="#241711",
    hatch="#9A6148",
    sun="#FFC878",
)

PRINT = Theme(
    name="print",
    page="#FFFFFF",
    surround="#FFFFFF",
    strip="#FFFFFF",
    field="#FFFFFF",
    end_zone="#FFFFFF",
    line="#555555",
    ink="#000000",
    ink_soft="#333333",
    halo="#FFFFFF",
    band=("#E8E8E8", "#CFCFCF", "#AFAFAF"),
    band_edge="#000000",
    accent="#000000",
    on_accent="#FFFFFF",
    paper="#FFFFFF",
    closed="#FFFFFF",
    hatch="#666666",
    sun="#000000",
)

THEMES: dict[str, Theme] = {theme.name: theme for theme in (SUNLIGHT, NIGHT, PRINT)}


def theme_named(name: str) -> Theme:
    """Return a look by name.

    Raises
    ------
    UnknownNameError
        If there is none of that name.
    """
    try:
        return THEMES[name]
    except KeyError:
        raise UnknownNameError(name="theme", value=name, known=THEMES) from None


@dataclass(frozen=True, slots=True)
class Pair:
    """A color seen on another one, and the least contrast that it must have."""

    what: str
    front: str
    back: str
    minimum: float


def contrast_pairs(theme: Theme) -> tuple[Pair, ...]:
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
        for name, color in (("accent", theme.accent), ("sun", theme.sun))
        for back in ("surround", "strip", "field", "end zone")
    ]
    marks += [
        Pair("line on field", theme.line, theme.field, GRAPHIC_MINIMUM),
        Pair("line on end zone", theme.line, theme.end_zone, GRAPHIC_MINIMUM),
        Pair("line on its halo", theme.line, theme.halo, GRAPHIC_MINIMUM),
        Pair("hatching", theme.hatch, theme.closed, GRAPHIC_MINIMUM),
        Pair("outline of a closed stretch", theme.hatch, theme.surround, GRAPHIC_MINIMUM),
        Pair("edge of the bands on the field", theme.band_edge, theme.field, GRAPHIC_MINIMUM),
    ]
    marks += [
        Pair(f"edge of the bands on band {i}", theme.band_edge, band, GRAPHIC_MINIMUM)
        for i, band in enumerate(theme.band, start=1)
    ]
    return (*text, *marks)
