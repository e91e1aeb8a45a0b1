"""The three themes: colors named for what they do.

``sunlight``
    Dark ink on a light ground, for a phone in the open and for a projector.
``night``
    Dim amber on near black with hardly any blue in it, so that eyes stay used to the dark; it
    stays readable when nothing but red light reaches the eye.
``print``
    Black, white and gray, for paper.

In all three ink is the field, a cool tone (in print: gray) is where the play is likely to end, a
warm accent (in print: black) is where to stand. No meaning is carried by color alone: every kind of
mark has a shape of its own (`lensyard.render.field.spots`). Tests hold every pair of colors that
are seen on each other to the levels of WCAG 2.2, for usual and for simulated color-deficient eyes.
"""

from __future__ import annotations

import re

import numpy as np

from lensyard.arrays import FloatArray
from lensyard.errors import InvalidInputError
from lensyard.records import Record

_HEX = re.compile(r"#[0-9A-Fa-f]{6}")


def rgb(color: str) -> FloatArray:
    """Return the sRGB components of ``#RRGGBB`` as three numbers in [0, 1], shape (3,).

    Raises `InvalidInputError` if it has another form.
    """
    if not _HEX.fullmatch(color):
        raise InvalidInputError(f"a color is written #RRGGBB, such as #1A2B3C; got {color!r}")
    return np.array([int(color[i : i + 2], 16) for i in (1, 3, 5)]) / 255.0


def linear_rgb(color: str) -> FloatArray:
    """Return the linear-light components of a color, shape (3,).

    ``c / 12.92`` up to 0.04045, ``((c + 0.055) / 1.055) ** 2.4`` above: the transfer function of
    sRGB (IEC 61966-2-1), as the definition of relative luminance in WCAG 2.2 has it.
    """
    value = rgb(color)
    above = ((value + 0.055) / 1.055) ** 2.4
    result: FloatArray = np.where(value <= 0.04045, value / 12.92, above)
    return result


def as_hex(linear: FloatArray) -> str:
    """Return ``#RRGGBB`` from linear-light components (clipped to what a screen can show)."""
    light = np.clip(linear, 0.0, 1.0)
    value = np.where(light <= 0.0031308, light * 12.92, 1.055 * light ** (1 / 2.4) - 0.055)
    red, green, blue = (round(float(c) * 255) for c in value)
    return f"#{red:02X}{green:02X}{blue:02X}"


def mixed(one: str, other: str, share: float) -> str:
    """Return a color between two, mixed as light; ``share`` of the other one, 0 to 1.

    >>> mixed("#000000", "#FFFFFF", 0.5)
    '#BCBCBC'
    """
    return as_hex(linear_rgb(one) + (linear_rgb(other) - linear_rgb(one)) * share)


class Theme(Record):
    """The colors of one look, each named for what it does; all as ``#RRGGBB``.

    - ``name``: ``sunlight``, ``night`` or ``print``.
    - ``page``: behind everything.
    - ``surround``, ``strip``, ``field``, ``end_zone``: the ground: outside, the strip where
      photographers walk, the playing field, end zones.
    - ``line``: yard lines, hash marks and everything else that is painted on the field.
    - ``ink``, ``ink_soft``: text; text of less weight.
    - ``halo``: around lines and text on the field, so that they stay legible on every band.
    - ``band``: where the play is likely to end, from the widest area to the narrowest.
    - ``band_edge``: the outline of the bands.
    - ``accent``, ``on_accent``: where to stand; text on it.
    - ``paper``: inside outlined marks.
    - ``closed``, ``hatch``: a closed stretch and its hatching.
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
    accent="#9A3404",
    on_accent="#FFFFFF",
    paper="#FFFFFF",
    closed="#DAD6CC",
    hatch="#6B6A62",
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
)

THEMES: dict[str, Theme] = {theme.name: theme for theme in (SUNLIGHT, NIGHT, PRINT)}
