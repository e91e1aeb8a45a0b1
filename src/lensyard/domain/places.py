"""Places as people type them into a log: where one stood, and where across it a play ended."""

from __future__ import annotations

import re
from functools import cache

from lensyard.domain.field import (
    END_ZONE_DEPTH_YD,
    FIELD_LENGTH_YD,
    FIELD_WIDTH_YD,
    OPPONENT_GOAL_LINE_X_YD,
    OWN_GOAL_LINE_X_YD,
    Direction,
)
from lensyard.domain.perimeter import Perimeter, parse_standing, perimeter_of
from lensyard.domain.venue import standard_venue
from lensyard.errors import ParseError

_LANES = {
    "left-sideline": FIELD_WIDTH_YD,
    "left": FIELD_WIDTH_YD * 5 / 6,
    "middle": FIELD_WIDTH_YD / 2,
    "right": FIELD_WIDTH_YD / 6,
    "right-sideline": 0.0,
}
_SWAPPED = {
    "left": "right", "right": "left", "own": "opp", "opp": "own", "goal": "owngoal",
    "owngoal": "goal", "corner": "owncorner", "owncorner": "corner", "end": "ownend",
    "ownend": "end", "back": "ownback", "ownback": "back",
}  # fmt: skip
_WORD = re.compile("ownend|owngoal|owncorner|ownback|goal|corner|back|left|right|own|opp|end")


@cache
def _any_field() -> Perimeter:
    return perimeter_of(standard_venue("pro"), step_yd=1.0)


def plain_standing(text: str) -> str:
    """Return a standing place in its shortest form.

    Raises
    ------
    ParseError
        If `parse_standing` would not understand it.

    Examples
    --------
    >>> plain_standing(" Left: opp 40 ")
    'left:opp40'
    """
    parse_standing(text, _any_field(), Direction.TOWARD_B)
    return re.sub(r"\s+", "", text).lower()


def turned_standing(text: str) -> str:
    """Return the same ground as the other direction of attack names it.

    >>> turned_standing("left:opp20"), turned_standing("end:left12"), turned_standing("right:50")
    ('right:own20', 'ownend:right12', 'left:50')
    """
    return _WORD.sub(lambda word: _SWAPPED[word[0]], text)


def standing_text(*, x_yd: float, y_yd: float) -> str:
    """Return a place outside the field in the play frame as text for `parse_standing`.

    To the nearest yard; what lies behind the corner is the corner.

    >>> standing_text(x_yd=92.1, y_yd=-2.0), standing_text(x_yd=124.0, y_yd=41.0)
    ('right:opp18', 'end:left12')
    """
    hand = "left" if y_yd > FIELD_WIDTH_YD / 2 else "right"
    if 0 <= y_yd <= FIELD_WIDTH_YD and not 0 <= x_yd <= FIELD_LENGTH_YD:
        in_yd = round(FIELD_WIDTH_YD - y_yd if hand == "left" else y_yd)
        return f"{'end' if x_yd > FIELD_LENGTH_YD else 'ownend'}:{hand}{in_yd}"
    from_own = round(x_yd - OWN_GOAL_LINE_X_YD)
    if 0 < from_own < 100:
        if from_own == 50:
            return f"{hand}:50"
        return f"{hand}:own{from_own}" if from_own < 50 else f"{hand}:opp{100 - from_own}"
    own = "own" if from_own <= 0 else ""
    goal_line = OWN_GOAL_LINE_X_YD if own else OPPONENT_GOAL_LINE_X_YD
    past = round(abs(x_yd - goal_line))
    beside = "goal" if past == 0 else f"goal+{past}"
    return f"{hand}:{own}{beside if past <= END_ZONE_DEPTH_YD else 'corner'}"


def parse_lane_yd(text: str) -> float:
    """Return where across the field a play ended, from the offense's right sideline. [yd]

    Parameters
    ----------
    text
        ``left-sideline``, ``left``, ``middle``, ``right``, ``right-sideline`` (the offense's left
        and right; left and right mean the middle of that third), or yards from the right sideline.

    Raises
    ------
    ParseError
        If it is neither.

    Examples
    --------
    >>> parse_lane_yd("right-sideline"), parse_lane_yd("12.5")
    (0.0, 12.5)
    """
    said = text.strip().lower()
    if said in _LANES:
        return _LANES[said]
    try:
        yards = float(said)
    except ValueError:
        yards = -1.0
    if not 0 <= yards <= FIELD_WIDTH_YD:
        raise ParseError(
            name="ended",
            text=text,
            expected=f"{', '.join(_LANES)}, or 0 to 53 yards from the offense's right sideline",
        )
    return yards
