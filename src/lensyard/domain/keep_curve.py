"""A photographer's own keep rate by distance, as a curve that takes the place of the crop margin.

Knots are pairs of a distance, in multiples of the lens's reach, and the quality of a frame there: 1
up to the first knot, linear between knots, 0 beyond the last. As text: ``0.9:1 1.25:0.4 1.6:0``.
"""

from __future__ import annotations

import re
from itertools import pairwise

from lensyard.errors import InvalidInputError, ParseError, require_range

KeepCurve = tuple[tuple[float, float], ...]
"""(multiple of the reach, quality) by rising distance; empty is the slope of the crop margin."""
FARTHEST = 3.0
"""Farthest knot, in multiples of the reach."""
CURVE_FORM = "distances over the reach with the quality there, such as 0.9:1 1.25:0.4 1.6:0"
_KNOT = re.compile(r"(\d+(?:\.\d+)?):(\d+(?:\.\d+)?)")


def check_curve(curve: KeepCurve) -> None:
    """Raise `InvalidInputError` if distances do not rise, or the quality does or ends above 0."""
    for at, quality in curve:
        require_range(low=0.1, high=FARTHEST, distance_over_reach=at)
        require_range(low=0, high=1, quality=quality)
    if any(far[0] <= near[0] or far[1] > near[1] for near, far in pairwise(curve)):
        raise InvalidInputError(
            "the quality of a frame never rises with distance; expected " + CURVE_FORM
        )
    if curve and (len(curve) < 2 or curve[-1][1] > 0):
        raise InvalidInputError("a curve needs two knots and ends at quality 0; " + CURVE_FORM)


def parse_curve(text: str) -> KeepCurve:
    """Return the curve that a text describes; raises `ParseError` or as `check_curve`.

    >>> parse_curve("0.9:1 1.25:0.4 1.6:0")
    ((0.9, 1.0), (1.25, 0.4), (1.6, 0.0))
    """
    parts = [_KNOT.fullmatch(part) for part in text.replace(",", " ").split()]
    found = tuple((float(match[1]), float(match[2])) for match in parts if match is not None)
    if not parts or len(found) < len(parts):
        raise ParseError(name="keep-curve", text=text, expected=CURVE_FORM)
    check_curve(found)
    return found


def curve_text(curve: KeepCurve) -> str:
    """Return a curve as people type it.

    >>> curve_text(((0.9, 1.0), (1.6, 0.0)))
    '0.9:1 1.6:0'
    """
    return " ".join(f"{round(at, 3):g}:{round(quality, 3):g}" for at, quality in curve)
