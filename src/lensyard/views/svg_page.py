"""A whole SVG document around parts of a chart, in the colors of a look."""

from __future__ import annotations

from collections.abc import Iterable

from lensyard.views.palette import Look
from lensyard.views.svg import FONT_FAMILY, element, group, number

FONT_PX = 13.0
WIDE_PX = 1000.0
NARROW_PX = 370.0


def svg_page(parts: Iterable[str], look: Look, *, width: float, height: float) -> str:
    """Return parts as a document of some size, on the page's color, in ink. [px]

    >>> from lensyard.views.palette import SUNLIGHT
    >>> svg_page([], SUNLIGHT, width=10.0, height=5.0).startswith("<svg")
    True
    """
    return element(
        "svg",
        element("rect", width=width, height=height, fill=look.page)
        + group(parts, font_size=FONT_PX, fill=look.ink),
        xmlns="http://www.w3.org/2000/svg",
        viewBox=f"0 0 {number(width)} {number(height)}",
        width=width,
        height=height,
        font_family=FONT_FAMILY,
    )


def moved(parts: Iterable[str], *, right: float, down: float) -> str:
    """Return parts moved to the right and down. [px]"""
    return group(parts, transform=f"translate({number(right)} {number(down)})")
