"""Stations as text: what a tap on the strip writes where a person would type it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from lensyard.domain.field import (
    CENTER_Y_YD,
    FIELD_LENGTH_YD,
    FIELD_WIDTH_YD,
    OPPONENT_GOAL_LINE_X_YD,
    OWN_GOAL_LINE_X_YD,
    Direction,
)
from lensyard.domain.perimeter import parse_standing, perimeter_of, spot_label
from lensyard.domain.venue import standard_venue
from lensyard.errors import ParseError


@dataclass(frozen=True, slots=True)
class NamedStation:
    """A station that can be named.

    Attributes
    ----------
    text
        As `parse_standing` reads it.
    label
        As photographers say it.
    x_yd, y_yd
        Its place in the play frame. [yd]
    """

    text: str
    label: str
    x_yd: float
    y_yd: float


def standing_text(*, x_yd: float, y_yd: float) -> str:
    """Return the text that names the place nearest to a station, for `parse_standing`.

    Parameters
    ----------
    x_yd, y_yd
        In the play frame, outside the field. [yd]

    Examples
    --------
    >>> standing_text(x_yd=92.0, y_yd=57.3), standing_text(x_yd=124.0, y_yd=41.0)
    ('left:opp18', 'end:left12')
    >>> standing_text(x_yd=-4.0, y_yd=-4.0), standing_text(x_yd=60.2, y_yd=-4.0)
    ('right:owncorner', 'right:50')
    """
    hand = "left" if y_yd > CENTER_Y_YD else "right"
    if 0 <= y_yd <= FIELD_WIDTH_YD:
        end = "end" if x_yd > FIELD_LENGTH_YD / 2 else "ownend"
        return f"{end}:{hand}{round(FIELD_WIDTH_YD - y_yd if hand == 'left' else y_yd)}"
    if x_yd > FIELD_LENGTH_YD:
        return f"{hand}:corner"
    if x_yd < 0:
        return f"{hand}:owncorner"
    from_own = round(x_yd - OWN_GOAL_LINE_X_YD)
    if from_own <= 0:
        return f"{hand}:owngoal"
    if from_own >= OPPONENT_GOAL_LINE_X_YD - OWN_GOAL_LINE_X_YD:
        return f"{hand}:goal"
    if from_own == 50:
        return f"{hand}:50"
    return f"{hand}:own{from_own}" if from_own < 50 else f"{hand}:opp{100 - from_own}"


@lru_cache(maxsize=8)
def named_stations(rules: str) -> tuple[NamedStation, ...]:
    """Return the stations around a field of a rule set that a text leads back to.

    Raises
    ------
    UnknownNameError
        If there is no such rule set.
    """
    perimeter = perimeter_of(standard_venue(rules, team_area_from_yard_line=50))
    x, y = perimeter.play_xy_yd(Direction.TOWARD_B)
    named = []
    for station, (px, py) in enumerate(zip(x.tolist(), y.tolist(), strict=True)):
        text = standing_text(x_yd=px, y_yd=py)
        if parse_standing(text, perimeter, Direction.TOWARD_B) == station:
            named.append(NamedStation(text, spot_label(x_yd=px, y_yd=py), px, py))
    return tuple(named)


def standing_label(text: str, rules: str) -> str:
    """Return where somebody stands as photographers say it; the text itself where it is no place.

    >>> standing_label("left:opp40", "pro"), standing_label("on the roof", "pro")
    ("offense's left sideline, opponent's 40", 'on the roof')
    """
    perimeter = perimeter_of(standard_venue(rules, team_area_from_yard_line=50))
    try:
        station = parse_standing(text, perimeter, Direction.TOWARD_B)
    except ParseError:
        return text
    return spot_label(x_yd=float(perimeter.x_yd[station]), y_yd=float(perimeter.y_yd[station]))
