"""Kits as one line of text: ``70-200 + 300 x1.4``, ``70-200 + 400 on 1.5, 1 body``."""

from __future__ import annotations

import re

from lensyard.domain.optics import Body, Kit, Mounted, parse_lens
from lensyard.errors import ParseError

_BODIES = re.compile(
    r"^(?P<lenses>.*?)\s*(?:,\s*(?P<n>\d)\s*(?:body|bodies)|\(\s*(?P<in>\d)\s*(?:body|bodies)[^)]*\))"
    r"\s*$",
    re.IGNORECASE,
)
_PART = re.compile(
    r"^\s*(?P<lens>[^@]+?)"
    r"(?:\s*[x×]\s*(?P<converter>\d+(?:\.\d+)?))?"
    r"(?:\s*(?:@|\bon\b)\s*(?:a\s+)?(?P<crop>\d+(?:\.\d+)?)(?:\s*crop)?(?:\s*body)?)?\s*$",
    re.IGNORECASE,
)
EXPECTED = (
    "lenses joined by +, each with its converter and its body's crop factor where it has one: "
    "70-200 + 400, 70-200 + 300 x1.4, 70-200 on 1.5; with fewer bodies than lenses add , 1 body"
)


def parse_kit(text: str) -> Kit:
    """Return the kit that a line of text describes.

    Parameters
    ----------
    text
        Lenses joined by ``+``; each may have a converter (``x1.4``) and a crop factor (``on 1.5``).
        ``, 1 body`` at the end where there are fewer bodies than lenses. What `Kit.text` says is
        read too.

    Raises
    ------
    ParseError
        If the text has another form.
    OutOfRangeError
        If a number is none that a lens, a converter or a body has.

    Examples
    --------
    >>> parse_kit("70-200 + 300 x1.4").text
    '70-200 + 300 x1.4 (2 bodies, reach 42 yd)'
    >>> parse_kit("70-200 + 400 on 1.5, 1 body").text
    '70-200 + 400 on a 1.5 crop body (1 body, reach 60 yd)'
    """
    rest, bodies = text, None
    if match := _BODIES.match(text):
        rest, bodies = match["lenses"], int(match["n"] or match["in"])
    mounted = tuple(_mounted(part, text) for part in rest.split("+"))
    return Kit(mounted, len(mounted) if bodies is None else bodies)


def _mounted(part: str, text: str) -> Mounted:
    match = _PART.match(part)
    if match is None:
        raise ParseError(name="kit", text=text, expected=EXPECTED)
    try:
        lens = parse_lens(match["lens"])
    except ParseError as error:
        raise ParseError(name="kit", text=text, expected=EXPECTED) from error
    return Mounted(lens, Body(float(match["crop"] or 1.0)), float(match["converter"] or 1.0))
