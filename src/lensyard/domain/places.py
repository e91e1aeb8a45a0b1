"""Places around the field in words, both ways: typed text, labels, stations.

A place is written in two forms. The *text* is what people type, what a log stores and what a tap
on the page enters: ``left:opp40``, ``right:goal+4``, ``end:left12``. The *label* is what people
say: "offense's left sideline, opponent's 40", or where a venue names its sides and ends "home
sideline, road end's 40 (offense's left)". `standing_text` and `spot_label` write them,
`parse_standing` reads both, and every station's text and label lead back to it. Left and right are
the offense's.
"""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache, lru_cache
from math import floor

import numpy as np

from lensyard.domain.field import (
    CENTER_Y_YD,
    FIELD_LENGTH_YD,
    FIELD_WIDTH_YD,
    MIDFIELD_X_YD,
    OPPONENT_GOAL_LINE_X_YD,
    OWN_GOAL_LINE_X_YD,
    RULES,
    Direction,
)
from lensyard.domain.perimeter import Perimeter, perimeter_of, require_open, same_place
from lensyard.domain.venue import MAX_SETBACK_YD, SideNames, Venue, standard_venue
from lensyard.errors import ParseError
from lensyard.records import Record

_NUMBER = r"\d{1,2}(?:\.\d+)?"
_SIDELINE = (
    rf"(?i)^\s*(?P<hand>left|right)\s*:\s*(?:(?P<side>own|opp)\s*(?P<yard>{_NUMBER})|(?P<mid>50)"
    rf"|(?P<goal>goal|owngoal)(?:\s*\+\s*(?P<past>{_NUMBER}))?"
    r"|(?P<place>back|ownback|corner|owncorner))\s*$"
)
_END = (
    rf"(?i)^\s*(?P<end>end|ownend)\s*:\s*(?:(?P<hand>left|right)\s*(?P<in>-?{_NUMBER})|middle)\s*$"
)
EXPECTED = (
    "left:opp40, right:own20, left:50, left:goal, left:goal+4, left:back, left:corner, end:left12, "
    "ownend:right5 or end:middle (the offense's left and right)"
)


def parse_standing(text: str, perimeter: Perimeter, direction: Direction) -> int:
    """Return the station that a person names.

    ``text``: on the offense's left or right sideline: ``left:opp40``, ``right:own20``, ``left:50``;
    ``left:goal`` (level with the opponent's goal line), ``left:goal+4`` (4 yd behind it, beside the
    end zone), ``left:back`` (level with the back pylon), ``left:corner`` (the corner behind it),
    and the same at the other end with ``owngoal``, ``ownback`` and ``owncorner``. Behind an end
    line: ``end:left12`` (12 yd in from the left back pylon; below 0 it is outside it),
    ``end:middle``, ``ownend:right5``. Or a spot's label as it is said. ``direction``: the direction
    of attack; left and right are the offense's.

    Raises `ParseError` if the text has another form, or names a place beyond the corners.
    """
    x_stations, y_stations = perimeter.play_xy_yd(direction)
    side, end = perimeter.venue.side_setback_yd, perimeter.venue.end_setback_yd
    place = _on_sideline(text, side_yd=side, end_yd=end) or _on_end(text, side_yd=side, end_yd=end)
    if place is None:
        station = _labeled(text, perimeter, direction)
        if station is not None:
            return station
        # Labels are those of stations a yard apart, whatever the spacing here.
        yards = perimeter_of(perimeter.venue)
        station = _labeled(text, yards, direction)
        if station is None:
            raise ParseError(name="standing", text=text, expected=EXPECTED)
        x_yd, y_yd = yards.play_xy_yd(direction)
        place = float(x_yd[station]), float(y_yd[station])
    x, y = place
    # A place that lies between two stations, to the last bits, is the first of the two.
    away = np.round(np.hypot(x_stations - x, y_stations - y), 6)
    return int(np.argmin(away))


def standing_on(text: str, perimeter: Perimeter, direction: Direction) -> int:
    """Return the station of a perimeter where a person stands, read a yard apart.

    Raises `ParseError` as `parse_standing`, `InvalidInputError` as `perimeter.require_open`.
    """
    fine = perimeter_of(perimeter.venue, step_yd=1.0)
    station = parse_standing(text, fine, direction)
    require_open(fine, station, text=text)
    return same_place(perimeter, fine, station)


def _on_sideline(text: str, *, side_yd: float, end_yd: float) -> tuple[float, float] | None:
    match = re.match(_SIDELINE, text)
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
    match = re.match(_END, text)
    if match is None:
        return None
    in_yd = float(match["in"] or CENTER_Y_YD)
    if not -side_yd - 1e-9 <= in_yd <= FIELD_WIDTH_YD + side_yd + 1e-9:
        return None
    x = FIELD_LENGTH_YD + end_yd if match["end"].lower() == "end" else -end_yd
    left = (match["hand"] or "").lower() == "left"
    return x, (FIELD_WIDTH_YD - in_yd if left else in_yd)


def _labeled(text: str, perimeter: Perimeter, direction: Direction) -> int | None:
    """The first station whose label is this text, whatever its case and spaces.

    Where the venue names its sides, what stands in parentheses may be left out.
    """
    return _stations_by_label(perimeter, direction).get(" ".join(text.split()).casefold())


@lru_cache(maxsize=16)
def _stations_by_label(perimeter: Perimeter, direction: Direction) -> dict[str, int]:
    x, y = perimeter.play_xy_yd(direction)
    names = perimeter.venue.names(direction)
    stations: dict[str, int] = {}
    for station, (x_yd, y_yd) in enumerate(zip(x.tolist(), y.tolist(), strict=True)):
        named = spot_label(x_yd=x_yd, y_yd=y_yd, names=names)
        for label in (named, named.partition(" (")[0], spot_label(x_yd=x_yd, y_yd=y_yd)):
            stations.setdefault(label.casefold(), station)
    return stations


def standing_text(
    *, x_yd: float, y_yd: float, venue: Venue | None = None, step_yd: float = 1.0
) -> str:
    """Return the text for `parse_standing` that names a station.

    Lengths are whole yards where that still names this station, else hundredths.

    ``x_yd``, ``y_yd``: the station as the play sees it. [yd] ``venue``: where it lies; None where
    that is not known, with equal setbacks at sides and ends. ``step_yd``: the spacing of the
    stations. [yd]

    >>> def text(x_yd, y_yd):
    ...     return standing_text(x_yd=x_yd, y_yd=y_yd, venue=standard_venue())
    >>> text(92.0, 57.33), text(124.0, 41.31), text(124.0, -2.0)
    ('left:opp18', 'end:left12', 'end:right-2')
    >>> text(114.0, -4.0), text(120.0, -4.0), text(-4.0, -4.0), text(60.0, -4.0)
    ('right:goal+4', 'right:back', 'right:owncorner', 'right:50')
    """
    own = x_yd < MIDFIELD_X_YD
    left = y_yd > CENTER_Y_YD
    hand, prefix = "left" if left else "right", "own" if own else ""
    in_yd = FIELD_WIDTH_YD - y_yd if left else y_yd
    past_yd = OWN_GOAL_LINE_X_YD - x_yd if own else x_yd - OPPONENT_GOAL_LINE_X_YD
    behind_yd, outside_yd = past_yd - OWN_GOAL_LINE_X_YD, -in_yd
    behind_share, outside_share = behind_yd, outside_yd
    if venue is not None:
        behind_share, outside_share = (
            behind_yd / venue.end_setback_yd,
            outside_yd / venue.side_setback_yd,
        )
    if behind_yd > 0 and outside_yd > 0 and abs(behind_share - outside_share) < 1e-3:
        return f"{hand}:{prefix}corner"
    if behind_yd > 0 and behind_share > outside_share:
        return f"{prefix}end:{hand}{_number(in_yd, step_yd)}"
    past = _number(past_yd, step_yd)
    if past in ("0", "10"):
        return f"{hand}:{prefix}{'goal' if past == '0' else 'back'}"
    if past_yd > 0:
        return f"{hand}:{prefix}goal+{past}"
    yard = _number(-past_yd, step_yd)
    return f"{hand}:50" if yard == "50" else f"{hand}:{prefix or 'opp'}{yard}"


def _number(length_yd: float, step_yd: float) -> str:
    """A length in whole yards where no other station is nearer to that, else in hundredths."""
    whole = round(length_yd)
    if abs(length_yd - whole) < 0.49 * step_yd:
        return str(whole)
    return f"{length_yd:.2f}".rstrip("0").rstrip(".")


def plain_standing(text: str) -> str:
    """Return what a person typed in the form that a log stores.

    Raises `ParseError` if it names no place.

    >>> plain_standing(" Left: opp 40 "), plain_standing("offense's left sideline, own 7")
    ('left:opp40', 'left:own7')
    """
    if re.match(_SIDELINE, text) or re.match(_END, text):
        parse_standing(text, _fields()[0], Direction.TOWARD_B)
        return re.sub(r"\s+", "", text).lower()
    for field in _fields():
        station = _labeled(text, field, Direction.TOWARD_B)
        if station is not None:
            x_yd, y_yd = float(field.x_yd[station]), float(field.y_yd[station])
            return standing_text(x_yd=x_yd, y_yd=y_yd, venue=field.venue)
    raise ParseError(name="standing", text=text, expected=EXPECTED)


@cache
def _fields() -> tuple[Perimeter, ...]:
    """The widest that there can be, then one of each rule set."""
    widest = _open_field(side_setback_yd=MAX_SETBACK_YD, end_setback_yd=MAX_SETBACK_YD)
    return widest, *(perimeter_of(standard_venue(name)) for name in RULES)


@cache
def _open_field(*, side_setback_yd: float, end_setback_yd: float) -> Perimeter:
    """Stations a yard apart around a field where nothing is closed."""
    venue = replace(
        standard_venue(team_area_from_yard_line=50),
        side_setback_yd=side_setback_yd,
        end_setback_yd=end_setback_yd,
    )
    return perimeter_of(venue)


_SWAPPED = {
    "left": "right", "right": "left", "own": "opp", "opp": "own", "goal": "owngoal",
    "owngoal": "goal", "corner": "owncorner", "owncorner": "corner", "end": "ownend",
    "ownend": "end", "back": "ownback", "ownback": "back",
}  # fmt: skip
_WORD = "ownend|owngoal|owncorner|ownback|goal|corner|back|left|right|own|opp|end"


def turned_standing(text: str) -> str:
    """Return the same ground as the other direction of attack names it.

    >>> turned_standing("left:opp20"), turned_standing("end:left12"), turned_standing("right:50")
    ('right:own20', 'ownend:right12', 'left:50')
    """
    return re.sub(_WORD, lambda word: _SWAPPED[word[0]], text)


def _whole(length_yd: float) -> int:
    """The nearest whole number, halves up (`round` would give two neighbors one name)."""
    return floor(length_yd + 0.5)


def spot_label(*, x_yd: float, y_yd: float, names: SideNames | None = None) -> str:
    """Return a place outside the field as photographers say it.

    ``x_yd``, ``y_yd``: in the play frame. [yd] ``names``: of sides and ends, where the venue has
    them; they come first.

    >>> spot_label(x_yd=92.0, y_yd=58.0)
    "offense's left sideline, opponent's 18"
    >>> spot_label(x_yd=124.0, y_yd=-3.0)
    'right back corner, 3 yd outside and 4 yd behind the pylon'
    >>> spot_label(x_yd=124.0, y_yd=10.0)
    'behind the end line, 10 yd in from the right back pylon'
    >>> names = SideNames("home side", "visitors' side", "road end", "creek end")
    >>> spot_label(x_yd=82.0, y_yd=58.0, names=names)
    "home side, road end's 28 (offense's left)"
    >>> spot_label(x_yd=-4.0, y_yd=10.0, names=names)
    "behind the creek end's end line, 10 yd in from the visitors' side's pylon (offense's right)"
    """
    if names is not None:
        return _named_label(x_yd=x_yd, y_yd=y_yd, names=names)
    left = y_yd > CENTER_Y_YD
    hand = "left" if left else "right"
    outside_side = y_yd < 0 or y_yd > FIELD_WIDTH_YD
    beyond = x_yd > FIELD_LENGTH_YD
    before = x_yd < 0
    if beyond or before:
        corner = "back corner" if beyond else "corner behind the offense"
        line = "behind the end line" if beyond else "behind the offense's own end line"
        in_yd = FIELD_WIDTH_YD - y_yd if left else y_yd
        if outside_side:
            behind_yd = _whole(x_yd - FIELD_LENGTH_YD if beyond else -x_yd)
            outside_yd = _whole(-in_yd)
            return f"{hand} {corner}, {outside_yd} yd outside and {behind_yd} yd behind the pylon"
        post = "by the goal post, " if abs(y_yd - CENTER_Y_YD) < 3 else ""
        back = "back " if beyond else ""
        return f"{line}, {post}{_whole(in_yd)} yd in from the {hand} {back}pylon"
    past = _whole(x_yd - OPPONENT_GOAL_LINE_X_YD)
    if past > 0:
        return f"offense's {hand} sideline, {past} yd behind the opponent's goal line"
    past = _whole(OWN_GOAL_LINE_X_YD - x_yd)
    if past > 0:
        return f"offense's {hand} sideline, {past} yd behind its own goal line"
    return f"offense's {hand} sideline, {yard_line_text(x_yd)}"


def kicking_label(*, x_yd: float, y_yd: float, names: SideNames | None = None) -> str:
    """Return a place as `spot_label`, the teams called by what they do in a kick.

    >>> kicking_label(x_yd=92.0, y_yd=58.0)
    "kicking team's left sideline, receiving team's 18"
    """
    words = spot_label(x_yd=x_yd, y_yd=y_yd, names=names)
    return words.replace("offense", "kicking team").replace("opponent", "receiving team")


def _named_label(*, x_yd: float, y_yd: float, names: SideNames) -> str:
    """A place in the venue's own names; they hold whoever has the ball."""
    left = y_yd > CENTER_Y_YD
    side, hand = (names.left, "left") if left else (names.right, "right")
    past, end = _whole(OWN_GOAL_LINE_X_YD - x_yd), names.behind
    if x_yd > MIDFIELD_X_YD:
        past, end = _whole(x_yd - OPPONENT_GOAL_LINE_X_YD), names.ahead
    in_yd = FIELD_WIDTH_YD - y_yd if left else y_yd
    if not 0.0 <= x_yd <= FIELD_LENGTH_YD:
        post = "by the goal post, " if abs(y_yd - CENTER_Y_YD) < 3 else ""
        place = f"behind the {end}'s end line, {post}{_whole(in_yd)} yd in from the {side}'s pylon"
        if in_yd < 0:
            behind_yd = _whole(max(x_yd - FIELD_LENGTH_YD, -x_yd))
            place = (
                f"corner of {side} and {end}, {_whole(-in_yd)} yd outside and {behind_yd} yd "
                "behind the pylon"
            )
    elif past > 0:
        place = f"{side}, {past} yd behind the {end}'s goal line"
    elif past == 0:
        place = f"{side}, {end}'s goal line"
    else:
        place = f"{side}, the 50" if past == -50 else f"{side}, {end}'s {-past}"
    return f"{place} (offense's {hand})"


class NamedStation(Record):
    """A station with its names.

    ``text``, ``label``: as `standing_text` and `spot_label` write it. ``x_yd``, ``y_yd``: its place
    as an offense that attacks end B sees it. [yd]
    """

    text: str
    label: str
    x_yd: float
    y_yd: float


@cache
def named_stations(*, side_setback_yd: float, end_setback_yd: float) -> tuple[NamedStation, ...]:
    """Return all stations of a field, a yard apart, in the order of its perimeter."""
    field = _open_field(side_setback_yd=side_setback_yd, end_setback_yd=end_setback_yd)
    return tuple(
        NamedStation(
            standing_text(x_yd=x, y_yd=y, venue=field.venue), spot_label(x_yd=x, y_yd=y), x, y
        )
        for x, y in zip(field.x_yd.tolist(), field.y_yd.tolist(), strict=True)
    )


def standing_label(text: str, venue: Venue, direction: Direction | None = None) -> str:
    """Return the label of a typed place; the text itself where it names none.

    ``direction``: of attack, where it is known; then the venue's names are said.

    >>> standing_label("left:opp40", standard_venue()), standing_label("roof", standard_venue())
    ("offense's left sideline, opponent's 40", 'roof')
    """
    field = _open_field(side_setback_yd=venue.side_setback_yd, end_setback_yd=venue.end_setback_yd)
    try:
        station = parse_standing(text, field, Direction.TOWARD_B)
    except ParseError:
        return text
    return spot_label(
        x_yd=float(field.x_yd[station]),
        y_yd=float(field.y_yd[station]),
        names=None if direction is None else venue.names(direction),
    )


_LANES = {
    "left-sideline": FIELD_WIDTH_YD,
    "left": FIELD_WIDTH_YD * 5 / 6,
    "middle": FIELD_WIDTH_YD / 2,
    "right": FIELD_WIDTH_YD / 6,
    "right-sideline": 0.0,
}


def parse_lane_yd(text: str) -> float:
    """Return where across the field a play ended, from the offense's right sideline. [yd]

    ``text``: ``left-sideline``, ``left``, ``middle``, ``right``, ``right-sideline`` (the offense's
    left and right; left and right mean the middle of that third), or yards from the right sideline.

    Raises `ParseError` if it is neither.

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


def yard_line_text(x_yd: float) -> str:
    """Return the yard line of an x in the play frame, as people say it.

    >>> [yard_line_text(x) for x in (35.0, 60.0, 92.0, 110.0, 113.0)]
    ['own 25', 'the 50', "opponent's 18", "opponent's goal line", "opponent's end zone"]
    """
    # Halves go up: `round` goes to even, which gives two neighboring half yards one name.
    nearest = floor(x_yd - OWN_GOAL_LINE_X_YD + 0.5)
    if nearest < 0:
        return "own end zone"
    if nearest > 100:
        return "opponent's end zone"
    if nearest == 0:
        return "own goal line"
    if nearest == 100:
        return "opponent's goal line"
    if nearest == 50:
        return "the 50"
    return f"own {nearest}" if nearest < 50 else f"opponent's {100 - nearest}"
