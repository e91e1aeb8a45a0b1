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
alone: every kind of mark has a shape of its own (`lensyard.views.field_spots`).

Every color that is seen on another one is listed in `contrast_pairs`; tests hold the list to the
levels of WCAG 2.2, for usual and for simulated color-deficient eyes.
"""

from __future__ import annotations

from dataclasses import dataclass

from lensyard.errors import UnknownNameError
from lensyard.views.color import rgb

TEXT_MINIMUM = 4.5  # WCAG 2.2, success criterion 1.4.3, level AA
GRAPHIC_MINIMUM = 3.0  # WCAG 2.2, success criteria 1.4.3 (large text) and 1.4.11


@dataclass(frozen=True, slots=True)
class Look:
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


SUNLIGHT = Look(
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

NIGHT = Look(
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

PRINT = Look(
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

LOOKS: dict[str, Look] = {look.name: look for look in (SUNLIGHT, NIGHT, PRINT)}


def look_named(name: str) -> Look:
    """Return a look by name.

    Raises
    ------
    UnknownNameError
        If there is none of that name.
    """
    try:
        return LOOKS[name]
    except KeyError:
        raise UnknownNameError(name="look", value=name, known=LOOKS) from None


@dataclass(frozen=True, slots=True)
class Pair:
    """A color seen on another one, and the least contrast that it must have."""

    what: str
    front: str
    back: str
    minimum: float


def contrast_pairs(look: Look) -> tuple[Pair, ...]:
    """Return every pair of colors that the views put on each other, with the level it must reach.

    Lines and text on the field carry a halo, so the halo is what they are seen on; they must also
    show on the ground without it.
    """
    ground = {
        "page": look.page,
        "surround": look.surround,
        "strip": look.strip,
        "field": look.field,
        "end zone": look.end_zone,
    }
    text = [
        Pair(f"{name} on {back}", color, ground[back], TEXT_MINIMUM)
        for name, color in (("ink", look.ink), ("soft ink", look.ink_soft))
        for back in ground
    ]
    text += [
        Pair("text with a halo", look.ink, look.halo, TEXT_MINIMUM),
        Pair("soft text with a halo", look.ink_soft, look.halo, TEXT_MINIMUM),
        Pair("accent text with a halo", look.accent, look.halo, TEXT_MINIMUM),
        Pair("accent text on the page", look.accent, look.page, TEXT_MINIMUM),
        Pair("number on the best spot", look.on_accent, look.accent, TEXT_MINIMUM),
        Pair("number in an outlined spot", look.accent, look.paper, TEXT_MINIMUM),
        Pair("letter in a habit's mark", look.ink, look.paper, TEXT_MINIMUM),
        Pair("label of a closed stretch", look.ink, look.closed, TEXT_MINIMUM),
    ]
    marks = [
        Pair(f"{name} on {back}", color, ground[back], GRAPHIC_MINIMUM)
        for name, color in (("accent", look.accent), ("sun", look.sun))
        for back in ("surround", "strip", "field", "end zone")
    ]
    marks += [
        Pair("line on field", look.line, look.field, GRAPHIC_MINIMUM),
        Pair("line on end zone", look.line, look.end_zone, GRAPHIC_MINIMUM),
        Pair("line on its halo", look.line, look.halo, GRAPHIC_MINIMUM),
        Pair("hatching", look.hatch, look.closed, GRAPHIC_MINIMUM),
        Pair("outline of a closed stretch", look.hatch, look.surround, GRAPHIC_MINIMUM),
        Pair("edge of the bands on the field", look.band_edge, look.field, GRAPHIC_MINIMUM),
    ]
    marks += [
        Pair(f"edge of the bands on band {i}", look.band_edge, band, GRAPHIC_MINIMUM)
        for i, band in enumerate(look.band, start=1)
    ]
    return (*text, *marks)
