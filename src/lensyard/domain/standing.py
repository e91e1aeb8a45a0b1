"""Where somebody stands, as text to type: ``left:opp40``, ``right:goal+4``, ``end:left12``.

`parse_standing` reads it, `standing_text` writes it for every station; the words that photographers
say (`lensyard.domain.perimeter.spot_label`) are read too.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import numpy as np

from lensyard.domain.field import (
    CENTER_Y_YD,
    FIELD_LENGTH_YD,
    FIELD_WIDTH_YD,
    MIDFIELD_X_YD,
    OPPONENT_GOAL_LINE_X_YD,
    OWN_GOAL_LINE_X_YD,
    Direction,
)
from lensyard.errors import ParseError

if TYPE_CHECKING:
    from lensyard.domain.perimeter import Perimeter
    from lensyard.domain.venue import Venue

_NUMBER = r"\d{1,2}(?:\.\d+)?"
_SIDELINE = re.compile(
    rf"^\s*(?P<hand>left|right)\s*:\s*(?:(?P<side>own|opp)\s*(?P<yard>{_NUMBER})|(?P<mid>50)"
    rf"|(?P<goal>goal|owngoal)(?:\s*\+\s*(?P<past>{_NUMBER}))?"
    r"|(?P<place>back|ownback|corner|owncorner))\s*$",
    re.IGNORECASE,
)
_END = re.compile(
    rf"^\s*(?P<end>end|ownend)\s*:\s*(?:(?P<hand>left|right)\s*(?P<in>-?{_NUMBER})|middle)\s*$",
    re.IGNORECASE,
)
EXPECTED = (
    "left:opp40, right:own20, left:50, left:goal, left:goal+4, left:back, left:corner, end:left12, "
    "ownend:right5 or end:middle (the offense's left and right)"
)


def parse_standing(text: str, perimeter: Perimeter, direction: Direction) -> int:
    """Return the station that a person names.

    Parameters
    ----------
    text
        On the offense's left or right sideline: ``left:opp40``, ``right:own20``, ``left:50``;
        ``left:goal`` (level with the opponent's goal line), ``left:goal+4`` (4 yd behind it, beside
        the end zone), ``left:back`` (level with the back pylon), ``left:corner`` (the corner behind
        it), and the same at the other end with ``owngoal``, ``ownback`` and ``owncorner``. Behind
        an end line: ``end:left12`` (12 yd in from the left back pylon; below 0 it is outside it),
        ``end:middle``, ``ownend:right5``. Or a spot's label as it is said.
    perimeter
        The stations.
    direction
        The direction of attack; left and right are the offense's.

    Raises
    ------
    ParseError
        If the text has another form, or names a place beyond the corners.
    """
    x_stations, y_stations = perimeter.play_xy_yd(direction)
    side, end = perimeter.venue.side_setback_yd, perimeter.venue.end_setback_yd
    place = _on_sideline(text, side_yd=side, end_yd=end) or _on_end(text, side_yd=side, end_yd=end)
    if place is None:
        station = _labeled(text, perimeter, direction)
        if station is None:
            raise ParseError(name="standing", text=text, expected=EXPECTED)
        return station
    x, y = place
    # A place that lies between two stations, to the last bits, is the first of the two.
    away = np.round(np.hypot(x_stations - x, y_stations - y), 6)
    return int(np.argmin(away))


def _on_sideline(text: str, *, side_yd: float, end_yd: float) -> tuple[float, float] | None:
    match = _SIDELINE.match(text)
    if match is None:
        return None
    y = FIELD_WIDTH_YD + side_yd if match["hand"].lower() == "left" else -side_yd
    if match["mid"]:
        return MIDFIELD_X_YD, y
    if match["side"]:
        yard = float(match["yard"])
        if yard > 50:
            return None
        from_own = yard if match["side"].lower() == "own" else 100 - yard
        return OWN_GOAL_LINE_X_YD + from_own, y
    if match["goal"]:
        past = float(match["past"] or 0.0)
        if past > OWN_GOAL_LINE_X_YD + end_yd + 1e-9:
            return None
        own = match["goal"].lower() == "owngoal"
        return (OWN_GOAL_LINE_X_YD - past if own else OPPONENT_GOAL_LINE_X_YD + past), y
    places = {
        "back": FIELD_LENGTH_YD,
        "ownback": 0.0,
        "corner": FIELD_LENGTH_YD + end_yd,
        "owncorner": -end_yd,
    }
    return places[match["place"].lower()], y


def _on_end(text: str, *, side_yd: float, end_yd: float) -> tuple[float, float] | None:
    match = _END.match(text)
    if match is None:
        return None
    in_yd = float(match["in"] or CENTER_Y_YD)
    if not -side_yd - 1e-9 <= in_yd <= FIELD_WIDTH_YD + side_yd + 1e-9:
        return None
    x = FIELD_LENGTH_YD + end_yd if match["end"].lower() == "end" else -end_yd
    left = (match["hand"] or "").lower() == "left"
    return x, (FIELD_WIDTH_YD - in_yd if left else in_yd)


def _labeled(text: str, perimeter: Perimeter, direction: Direction) -> int | None:
    """The first station whose label is this text, whatever its case and spaces."""
    from lensyard.domain.perimeter import spot_label

    said = " ".join(text.split()).casefold()
    for station, (x, y) in enumerate(zip(*perimeter.play_xy_yd(direction), strict=True)):
        if spot_label(x_yd=float(x), y_yd=float(y)).casefold() == said:
            return station
    return None


def standing_text(*, x_yd: float, y_yd: float, venue: Venue) -> str:
    """Return the text for `parse_standing` that names a station.

    Parameters
    ----------
    x_yd, y_yd
        Its place in the play frame. [yd]
    venue
        Whose strips it lies on.

    Examples
    --------
    >>> from lensyard.domain.venue import standard_venue
    >>> def text(x_yd, y_yd):
    ...     return standing_text(x_yd=x_yd, y_yd=y_yd, venue=standard_venue())
    >>> text(92.0, 57.33), text(124.0, 41.33), text(124.0, -2.0)
    ('left:opp18', 'end:left12', 'end:right-2')
    >>> text(114.0, -4.0), text(120.0, -4.0), text(-4.0, -4.0), text(60.0, -4.0)
    ('right:goal+4', 'right:back', 'right:owncorner', 'right:50')
    """
    left = y_yd > CENTER_Y_YD
    hand = "left" if left else "right"
    in_yd = FIELD_WIDTH_YD - y_yd if left else y_yd
    if _same(max(x_yd - FIELD_LENGTH_YD, -x_yd), venue.end_setback_yd):
        own = x_yd < MIDFIELD_X_YD
        if _same(-in_yd, venue.side_setback_yd):
            return f"{hand}:{'owncorner' if own else 'corner'}"
        return f"{'ownend' if own else 'end'}:{hand}{_number(in_yd)}"
    past, own_past = x_yd - OPPONENT_GOAL_LINE_X_YD, OWN_GOAL_LINE_X_YD - x_yd
    for beyond, prefix in ((past, ""), (own_past, "own")):
        if _same(beyond, OWN_GOAL_LINE_X_YD):
            return f"{hand}:{prefix}back"
        if _same(beyond, 0.0):
            return f"{hand}:{prefix}goal"
        if beyond > 0:
            return f"{hand}:{prefix}goal+{_number(beyond)}"
    if _same(x_yd, MIDFIELD_X_YD):
        return f"{hand}:50"
    if x_yd < MIDFIELD_X_YD:
        return f"{hand}:own{_number(x_yd - OWN_GOAL_LINE_X_YD)}"
    return f"{hand}:opp{_number(OPPONENT_GOAL_LINE_X_YD - x_yd)}"


def _same(one_yd: float, other_yd: float) -> bool:
    """Whether two lengths are written alike."""
    return abs(one_yd - other_yd) < 0.005


def _number(length_yd: float) -> str:
    """A length to a hundredth of a yard, without what is not needed."""
    return f"{length_yd:.2f}".rstrip("0").rstrip(".")
