"""Rule sets and the two coordinate systems of the field.

Two frames, never mixed:

``PlayPoint``
    The offense faces +x. ``x_yd`` runs 0..120 from the end line behind the offense (its own goal
    line is 10, the opponent's 110); ``y_yd`` runs 0..53 1/3 from the offense's right sideline to
    its left. The line of scrimmage is at ``x = 110 - yardline_100``.
``StadiumPoint``
    Fixed to the ground. ``x_yd`` runs from end A to end B, ``y_yd`` from sideline A to sideline B;
    facing end B, sideline A is on the right.

Points off the field (where people stand) have coordinates below 0 or beyond 120 and 53 1/3.
"""

from __future__ import annotations

from enum import IntEnum, StrEnum

from lensyard.errors import UnknownNameError, require_range
from lensyard.records import Record
from lensyard.units import yards_from_feet

FIELD_LENGTH_YD = 120.0
FIELD_WIDTH_YD = yards_from_feet(160)
END_ZONE_DEPTH_YD = 10.0
OWN_GOAL_LINE_X_YD = 10.0
OPPONENT_GOAL_LINE_X_YD = 110.0
MIDFIELD_X_YD = 60.0
CENTER_Y_YD = FIELD_WIDTH_YD / 2


class HashMark(StrEnum):
    """Where the ball is snapped across the field, as the offense sees it."""

    LEFT = "left"
    MIDDLE = "middle"
    RIGHT = "right"


class Direction(IntEnum):
    """The direction of attack in the stadium."""

    TOWARD_B = 1
    TOWARD_A = -1

    @property
    def reversed(self) -> Direction:
        """The other direction."""
        return Direction(-self)


class PlayPoint(Record):
    """A place as the offense sees it (see the module's text). Both in yards."""

    x_yd: float
    y_yd: float


class StadiumPoint(Record):
    """A place on the ground of the stadium (see the module's text). Both in yards."""

    x_yd: float
    y_yd: float


def stadium_point(point: PlayPoint, direction: Direction) -> StadiumPoint:
    """Return where a point of the play lies in the stadium.

    Attacking end A is the same picture turned by 180 degrees, so the offense's right stays right.

    >>> stadium_point(PlayPoint(110.0, 0.0), Direction.TOWARD_A)
    StadiumPoint(x_yd=10.0, y_yd=53.333333333333336)
    """
    if direction == Direction.TOWARD_B:
        return StadiumPoint(point.x_yd, point.y_yd)
    return StadiumPoint(FIELD_LENGTH_YD - point.x_yd, FIELD_WIDTH_YD - point.y_yd)


def play_point(point: StadiumPoint, direction: Direction) -> PlayPoint:
    """Return how the offense sees a point of the stadium; the inverse of `stadium_point`."""
    if direction == Direction.TOWARD_B:
        return PlayPoint(point.x_yd, point.y_yd)
    return PlayPoint(FIELD_LENGTH_YD - point.x_yd, FIELD_WIDTH_YD - point.y_yd)


class PostSupport(Record):
    """A goal-post support that can stand in the line of sight.

    ``behind_end_line_yd`` is counted outward from the end line, ``off_center_yd`` across it from
    the middle, the same at both ends; ``radius_yd`` includes the padding.
    """

    behind_end_line_yd: float
    off_center_yd: float
    radius_yd: float

    def __post_init__(self) -> None:
        """Refuse a support on the field of play or far from the goal."""
        require_range(low=0, high=10, behind_end_line_yd=self.behind_end_line_yd)
        require_range(low=-10, high=10, off_center_yd=self.off_center_yd)
        require_range(low=0, high=2, radius_yd=self.radius_yd)


class FieldRules(Record):
    """The measures of one rule set. Every value's source stands in `RULES` beside it.

    - ``name``: ``pro``, ``college`` or ``high-school``.
    - ``hash_from_sideline_yd``: from a sideline to the nearer hash mark. [yd]
    - ``goal_width_yd``: between the uprights. [yd]
    - ``posts``: supports behind (or on) each end line.
    - ``side_setback_yd``, ``end_setback_yd``: how far outside the sideline and the end line
      photographers stand by default. [yd]
    - ``team_area_from_yard_line``: team areas lie between this yard line and its twin, on both
      sidelines. [yd line]
    - ``team_area_front_yd``, ``team_area_depth_yd``: from the sideline to the front of the team
      area, and its depth. [yd]
    - ``kickoff_yard_line``, ``touchback_yard_line``, ``try_yard_line``, ``kicked_try_yard_line``:
      where the ball is kicked off, where it comes to after a kickoff touchback, and where a
      two-point and a kicked try are snapped. [yd line]
    """

    name: str
    hash_from_sideline_yd: float
    goal_width_yd: float
    posts: tuple[PostSupport, ...]
    side_setback_yd: float
    end_setback_yd: float
    team_area_from_yard_line: float
    team_area_front_yd: float
    team_area_depth_yd: float
    kickoff_yard_line: int
    touchback_yard_line: int
    try_yard_line: int
    kicked_try_yard_line: int

    @property
    def hash_off_center_yd(self) -> float:
        """From the middle of the field to a hash mark. [yd]"""
        return CENTER_Y_YD - self.hash_from_sideline_yd

    def ball_y_yd(self, hash_mark: HashMark | None) -> float:
        """Return where the ball lies across the field; the middle when unknown. [yd]"""
        if hash_mark is None:
            return CENTER_Y_YD
        off = self.hash_off_center_yd
        return CENTER_Y_YD + {"left": off, "middle": 0.0, "right": -off}[hash_mark.value]


# A single padded support behind the end line. Its offset and thickness are from memory: bent
# supports stand some 2 yd behind the plane of the goal, 6 in pipe and 12 in of padding.
_SINGLE = (PostSupport(behind_end_line_yd=2.0, off_center_yd=0.0, radius_yd=0.35),)
# Two uprights that reach the ground on the end line, common on older school fields.
_SCHOOL_HALF_WIDTH_YD = yards_from_feet(23, 4) / 2
_DOUBLE = (
    PostSupport(behind_end_line_yd=0.0, off_center_yd=-_SCHOOL_HALF_WIDTH_YD, radius_yd=0.25),
    PostSupport(behind_end_line_yd=0.0, off_center_yd=_SCHOOL_HALF_WIDTH_YD, radius_yd=0.25),
)

RULES: dict[str, FieldRules] = {
    "pro": FieldRules(
        name="pro",
        hash_from_sideline_yd=yards_from_feet(70, 9),  # NFL Official Playing Rules 2021 R1-2-1
        goal_width_yd=yards_from_feet(18, 6),  # NFL Official Playing Rules 2021 R1-3-1
        posts=_SINGLE,
        side_setback_yd=yards_from_feet(12),  # R1-1-2 limit line; another page draws it at 15 ft
        end_setback_yd=yards_from_feet(12),  # same book, field markings item 1: end zone
        team_area_from_yard_line=30.0,  # common practice; the book says 25, 30 and 32
        team_area_front_yd=yards_from_feet(12),  # bench area figure: players behind 12 ft
        team_area_depth_yd=yards_from_feet(18),  # field plan: back line 24 ft behind 6-ft border
        kickoff_yard_line=35,  # R6-1-2
        touchback_yard_line=25,  # R6, 2016-2023
        try_yard_line=2,  # R11-3-1
        kicked_try_yard_line=15,  # R11-3-1, since 2015
    ),
    "college": FieldRules(
        name="college",
        hash_from_sideline_yd=yards_from_feet(60),  # NCAA Football Rules 2021 R1-2-1-k
        goal_width_yd=yards_from_feet(18, 6),  # NCAA Football Rules 2021 R1-2-5-b
        posts=_SINGLE,
        side_setback_yd=yards_from_feet(12),  # NCAA Football Rules 2021 R1-2-3-a limit lines
        end_setback_yd=yards_from_feet(12),  # same rule
        team_area_from_yard_line=20.0,  # NCAA Football Rules 2021 R1-2-4-a
        team_area_front_yd=yards_from_feet(12),  # R1-2-4-a: back of the limit line
        team_area_depth_yd=yards_from_feet(24),  # from memory: varies by venue
        kickoff_yard_line=35,  # R6-1-1
        touchback_yard_line=25,  # R6-1-7
        try_yard_line=3,  # R8-3-2
        kicked_try_yard_line=3,  # same rule
    ),
    "high-school": FieldRules(
        name="high-school",
        hash_from_sideline_yd=yards_from_feet(53, 4),  # NFHS field diagrams 2020 p1
        goal_width_yd=yards_from_feet(23, 4),  # NFHS field diagrams 2020 p1
        posts=_DOUBLE,
        side_setback_yd=yards_from_feet(6),  # NFHS R1-2-3d: restraining line, at least 2 yd
        end_setback_yd=yards_from_feet(6),  # same rule
        team_area_from_yard_line=25.0,  # NFHS R1-2-3
        team_area_front_yd=yards_from_feet(6),  # NFHS R9-8-3: 2-yd belt
        team_area_depth_yd=yards_from_feet(18),  # from memory: varies by venue
        kickoff_yard_line=40,  # NFHS R6-1
        touchback_yard_line=20,  # NFHS R8-5, from memory
        try_yard_line=3,  # NFHS field diagrams 2020
        kicked_try_yard_line=3,  # same diagrams
    ),
}


def rules_named(name: str) -> FieldRules:
    """Return a rule set by name.

    Raises `UnknownNameError` if there is none of that name.
    """
    try:
        return RULES[name]
    except KeyError:
        raise UnknownNameError(name="rules", value=name, known=RULES) from None
