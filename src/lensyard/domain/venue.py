"""A venue: the rule set on the ground, what is closed, where the sun is, what floodlights give.

Everything is in the stadium frame: ends A and B, sidelines A and B. A closed stretch lies along one
edge of the field; nobody shoots from it, it may block the view, and unless the venue forbids it one
may walk behind it and wait there.
"""

from __future__ import annotations

from dataclasses import replace
from enum import StrEnum
from typing import TYPE_CHECKING

from lensyard.domain.field import (
    FIELD_LENGTH_YD,
    FIELD_WIDTH_YD,
    MIDFIELD_X_YD,
    OPPONENT_GOAL_LINE_X_YD,
    OWN_GOAL_LINE_X_YD,
    RULES,
    Direction,
    FieldRules,
    PostSupport,
    rules_named,
)
from lensyard.errors import InvalidInputError, UnknownNameError, require_range
from lensyard.records import Record
from lensyard.units import lux_from_footcandles

if TYPE_CHECKING:
    from zoneinfo import ZoneInfo

GOAL_POSTS = {"single": RULES["pro"].posts, "double": RULES["high-school"].posts}
"""Goal posts on one bent support, or on two uprights that reach the ground."""

MAX_SETBACK_YD = 15.0
"""Farther outside the field nobody stands to photograph."""


class Edge(StrEnum):
    """The four edges of the field, in the stadium frame."""

    SIDELINE_A = "sideline A"
    END_B = "end B"
    SIDELINE_B = "sideline B"
    END_A = "end A"

    @property
    def is_sideline(self) -> bool:
        """Whether it is one of the two long edges."""
        return self in (Edge.SIDELINE_A, Edge.SIDELINE_B)

    @property
    def length_yd(self) -> float:
        """Length of the field along this edge. [yd]"""
        return FIELD_LENGTH_YD if self.is_sideline else FIELD_WIDTH_YD

    @property
    def opposite(self) -> Edge:
        """The edge across the field; a venue turned by 180 degrees exchanges the two."""
        edges = list(Edge)
        return edges[edges.index(self) - 2]


class ClosedKind(StrEnum):
    """What closes a stretch."""

    TEAM_AREA = "team area"
    TELEVISION_PLATFORM = "television platform"
    BAND = "band"
    CAMERA_RAIL = "camera rail"
    STUDENT_SECTION = "student section"
    WALL = "wall"
    OTHER = "other"


class ClosedStretch(Record):
    """A stretch of the perimeter that is closed to photographers.

    - ``from_yd``, ``to_yd``: along that edge, in the stadium frame's x (sidelines) or y (ends);
      both bounds closed. [yd]
    - ``name``: for people: "team area", "television platform".
    - ``front_yd``, ``depth_yd``: how far outside the field it begins, and how deep it is. [yd]
    - ``blocks_view``: whether a line of sight may not cross it.
    - ``walk_behind``: whether one may pass and wait behind it.
    - ``kind``: what closes it; for people and drawings, it changes nothing about the ground.
    """

    edge: Edge
    from_yd: float
    to_yd: float
    name: str = "closed"
    front_yd: float = 2.0
    depth_yd: float = 8.0
    blocks_view: bool = True
    walk_behind: bool = True
    kind: ClosedKind = ClosedKind.OTHER

    def __post_init__(self) -> None:
        """Refuse a stretch off the edge or without length."""
        # Corners outside the field can be closed too, so the bounds reach past the edge.
        require_range(
            low=-10, high=self.edge.length_yd + 10, from_yd=self.from_yd, to_yd=self.to_yd
        )
        require_range(low=0, high=30, front_yd=self.front_yd)
        # Without depth there would be nothing in the line of sight.
        require_range(low=0.1, high=30, depth_yd=self.depth_yd)
        if not self.from_yd < self.to_yd:
            raise InvalidInputError(
                f"closed stretch {self.name!r} runs from {self.from_yd:g} to {self.to_yd:g}; "
                "expected from < to"
            )

    def rectangle_yd(self) -> tuple[float, float, float, float]:
        """Return (x_min, x_max, y_min, y_max) of the stretch in the stadium frame. [yd]"""
        near, far = self.front_yd, self.front_yd + self.depth_yd
        match self.edge:
            case Edge.SIDELINE_A:
                return self.from_yd, self.to_yd, -far, -near
            case Edge.SIDELINE_B:
                return self.from_yd, self.to_yd, FIELD_WIDTH_YD + near, FIELD_WIDTH_YD + far
            case Edge.END_A:
                return -far, -near, self.from_yd, self.to_yd
            case Edge.END_B:
                return FIELD_LENGTH_YD + near, FIELD_LENGTH_YD + far, self.from_yd, self.to_yd

    def turned(self) -> ClosedStretch:
        """Return the same stretch in a stadium turned by 180 degrees."""
        length = self.edge.length_yd
        return replace(
            self, edge=self.edge.opposite, from_yd=length - self.to_yd, to_yd=length - self.from_yd
        )

    def mirrored(self) -> ClosedStretch:
        """Return the same stretch with the two sidelines exchanged."""
        if self.edge.is_sideline:
            return replace(self, edge=self.edge.opposite)
        width = FIELD_WIDTH_YD
        return replace(self, from_yd=width - self.to_yd, to_yd=width - self.from_yd)

    def same_ground(self) -> tuple[Edge, float, float, float, float, bool, bool]:
        """Return all but name and kind, without rounding noise: equal for the same ground."""
        lengths = (self.from_yd, self.to_yd, self.front_yd, self.depth_yd)
        low, high, front, depth = (round(length, 6) for length in lengths)
        return self.edge, low, high, front, depth, self.blocks_view, self.walk_behind


END_NAMES, SIDELINE_NAMES = ("end A", "end B"), ("sideline A", "sideline B")
"""What ends and sidelines are called where nobody named them."""


class SideNames(Record):
    """What a venue calls its sides and ends, by where the offense has them."""

    left: str
    right: str
    ahead: str
    behind: str


def side_names(
    *, end_names: tuple[str, str], sideline_names: tuple[str, str], direction: Direction
) -> SideNames | None:
    """Return the names as the offense has them; None where ends or sidelines have none."""
    for names, plain in ((end_names, END_NAMES), (sideline_names, SIDELINE_NAMES)):
        if set(names) <= {*plain, ""}:
            return None
    toward_b = direction is Direction.TOWARD_B
    behind, ahead = end_names if toward_b else end_names[::-1]
    right, left = sideline_names if toward_b else sideline_names[::-1]
    return SideNames(left, right, ahead, behind)


class Venue(Record):
    """Where a game is played.

    - ``closed``: closed stretches, team areas included.
    - ``side_setback_yd``, ``end_setback_yd``: how far outside sideline and end line photographers
      stand. [yd]
    - ``end_names``, ``sideline_names``: of A and B.
    - ``posts``: goal-post supports at each end.
    - ``axis_bearing_deg``: compass bearing from end A to end B, clockwise from true north. [deg]
    - ``latitude_deg``, ``longitude_deg``: None when unknown; then nothing is said about light.
      [deg]
    - ``time_zone``: a name of the IANA time zone database.
    - ``stand_height_m``: height of the stands behind sideline A, end B, sideline B, end A; 0 is
      open. [m]
    - ``stand_distance_yd``: from the field's edge to the top of the stands, in the same order. [yd]
    - ``illuminance_lx``: of the floodlights on the field; 0 for none. [lx]
    - ``notes``: rules of the house in words: monopods, flash, kneeling.
    """

    name: str
    rules: FieldRules
    closed: tuple[ClosedStretch, ...]
    side_setback_yd: float
    end_setback_yd: float
    posts: tuple[PostSupport, ...]
    end_names: tuple[str, str] = END_NAMES
    sideline_names: tuple[str, str] = SIDELINE_NAMES
    axis_bearing_deg: float = 0.0
    latitude_deg: float | None = None
    longitude_deg: float | None = None
    time_zone: str = "UTC"
    stand_height_m: tuple[float, float, float, float] = (0.0, 0.0, 0.0, 0.0)
    stand_distance_yd: tuple[float, float, float, float] = (15.0, 15.0, 15.0, 15.0)
    illuminance_lx: float = 0.0
    covered: bool = False
    notes: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        """Refuse a place that is none."""
        require_range(
            low=0.5,
            high=MAX_SETBACK_YD,
            side_setback_yd=self.side_setback_yd,
            end_setback_yd=self.end_setback_yd,
        )
        require_range(low=0, high=360, axis_bearing_deg=self.axis_bearing_deg)
        require_range(low=0, high=20000, illuminance_lx=self.illuminance_lx)
        for height_m in self.stand_height_m:
            require_range(low=0, high=200, stand_height_m=height_m)
        for distance_yd in self.stand_distance_yd:
            require_range(low=0, high=500, stand_distance_yd=distance_yd)
        if {replace(p, off_center_yd=-p.off_center_yd) for p in self.posts} != set(self.posts):
            offsets = ", ".join(f"{p.off_center_yd:g}" for p in self.posts)
            raise InvalidInputError(
                f"goal-post supports stand {offsets} yd from the middle; expected each to have a "
                "twin on the other side, equally far out"
            )
        if (self.latitude_deg is None) != (self.longitude_deg is None):
            raise InvalidInputError("give latitude_deg and longitude_deg together, or neither")
        if self.latitude_deg is not None and self.longitude_deg is not None:
            require_range(low=-90, high=90, latitude_deg=self.latitude_deg)
            require_range(low=-180, high=180, longitude_deg=self.longitude_deg)

    @property
    def has_place(self) -> bool:
        """Whether it is known where on Earth the venue lies, so that the sun can be found."""
        return self.latitude_deg is not None

    def edge_name(self, edge: Edge) -> str:
        """Return what people here call an edge."""
        names = self.sideline_names if edge.is_sideline else self.end_names
        return names[edge in (Edge.SIDELINE_B, Edge.END_B)]

    def names(self, direction: Direction) -> SideNames | None:
        """Return what sides and ends are called here, as the offense has them; None for nothing."""
        return side_names(
            end_names=self.end_names, sideline_names=self.sideline_names, direction=direction
        )

    def toward(self, end: str) -> Direction:
        """Return the direction of attack toward an end that a person names.

        ``end``: A or B, end A or end B, or the end's own name; case does not matter.

        Raises `UnknownNameError` if no end is called that, or both are.
        """
        said = " ".join(end.split()).casefold()
        for letter, direction in (("a", Direction.TOWARD_A), ("b", Direction.TOWARD_B)):
            if said in (letter, f"end {letter}"):
                return direction
        named = [name.casefold() == said for name in self.end_names]
        if named.count(True) != 1:
            raise UnknownNameError(name="end", value=end, known=("A", "B", *self.end_names))
        return Direction.TOWARD_A if named[0] else Direction.TOWARD_B

    @property
    def symmetric(self) -> bool:
        """Whether a turn by 180 degrees changes nothing about where one may stand."""
        ground = {s.same_ground() for s in self.closed}
        return {s.turned().same_ground() for s in self.closed} == ground

    @property
    def alike(self) -> bool:
        """Whether both ends and both sides are alike: a place stands for its three twins too."""
        ground = {s.same_ground() for s in self.closed}
        return self.symmetric and {s.mirrored().same_ground() for s in self.closed} == ground

    def turned(self) -> Venue:
        """Return the venue seen with ends A and B, and sidelines A and B, exchanged."""
        height, distance = self.stand_height_m, self.stand_distance_yd
        return replace(
            self,
            closed=tuple(s.turned() for s in self.closed),
            end_names=(self.end_names[1], self.end_names[0]),
            sideline_names=(self.sideline_names[1], self.sideline_names[0]),
            axis_bearing_deg=(self.axis_bearing_deg + 180.0) % 360.0,
            stand_height_m=(height[2], height[3], height[0], height[1]),
            stand_distance_yd=(distance[2], distance[3], distance[0], distance[1]),
        )


def team_areas(
    rules: FieldRules, *, from_yard_line: float | None = None, walk_behind: bool = True
) -> tuple[ClosedStretch, ...]:
    """Return the two team areas of a rule set, one on each sideline.

    ``from_yard_line``: they lie between this yard line and its twin; default: the rule set's. 50
    closes nothing. ``walk_behind``: whether one may pass behind them.
    """
    yard_line = rules.team_area_from_yard_line if from_yard_line is None else from_yard_line
    require_range(low=0, high=50, team_area_from_yard_line=yard_line)
    if yard_line == 50:
        return ()
    low = OWN_GOAL_LINE_X_YD + yard_line
    return tuple(
        ClosedStretch(
            edge=edge,
            from_yd=low,
            to_yd=FIELD_LENGTH_YD - low,
            name="team area",
            front_yd=rules.team_area_front_yd,
            depth_yd=rules.team_area_depth_yd,
            walk_behind=walk_behind,
            kind=ClosedKind.TEAM_AREA,
        )
        for edge in (Edge.SIDELINE_A, Edge.SIDELINE_B)
    )


def end_lines_past(open_yd: float) -> tuple[ClosedStretch, ...]:
    """Return the middle of both end lines as closed: open for so many yards from each pylon.

    Nobody stands there or passes toward the posts; none from half the field's width on. [yd]
    """
    require_range(low=0, high=FIELD_WIDTH_YD / 2, end_line_open_yd=open_yd)
    if open_yd > FIELD_WIDTH_YD / 2 - 0.5:
        return ()
    return tuple(
        ClosedStretch(
            edge=edge,
            from_yd=open_yd,
            to_yd=FIELD_WIDTH_YD - open_yd,
            name="middle of the end line",
            blocks_view=False,
            walk_behind=False,
        )
        for edge in (Edge.END_A, Edge.END_B)
    )


def standard_venue(
    rules_name: str = "pro",
    *,
    team_area_from_yard_line: float | None = None,
    walk_behind: bool = True,
    extra_closed: tuple[ClosedStretch, ...] = (),
) -> Venue:
    """Return a venue with nothing but a rule set's own measures.

    Raises `UnknownNameError` if there is no such rule set.
    """
    rules = rules_named(rules_name)
    areas = team_areas(rules, from_yard_line=team_area_from_yard_line, walk_behind=walk_behind)
    return Venue(
        name=f"any {rules.name} field",
        rules=rules,
        closed=areas + extra_closed,
        side_setback_yd=rules.side_setback_yd,
        end_setback_yd=rules.end_setback_yd,
        posts=rules.posts,
    )


def zone_named(name: str) -> ZoneInfo:
    """Return the time zone with an IANA name such as ``America/Denver``.

    Raises `InvalidInputError` if there is no such zone; the message suggests the nearest name.
    """
    from zoneinfo import ZoneInfo, available_timezones

    try:
        return ZoneInfo(name)
    except (KeyError, ValueError, OSError) as error:
        from difflib import get_close_matches

        near = get_close_matches(str(name), available_timezones(), n=1)
        hint = f" Did you mean {near[0]!r}?" if near else ""
        raise InvalidInputError(
            f"there is no time zone {name!r}; give an IANA name such as 'America/Denver'.{hint}"
        ) from error


def place_text(x_yd: float, venue: Venue) -> str:
    """Return a place along a sideline in the stadium's words.

    >>> [place_text(x, standard_venue()) for x in (30.0, 60.0, 110.0, 122.0)]
    ["end A's 20", 'the 50', "end B's goal line", "2 yd behind end B's end line"]
    """
    if x_yd == MIDFIELD_X_YD:
        return "the 50"
    end = venue.end_names[0] if x_yd < MIDFIELD_X_YD else venue.end_names[1]
    from_end_yd = min(x_yd, FIELD_LENGTH_YD - x_yd)
    if from_end_yd < 0:
        return f"{-from_end_yd:g} yd behind {end}'s end line"
    if from_end_yd == 0:
        return f"{end}'s end line"
    if x_yd in (OWN_GOAL_LINE_X_YD, OPPONENT_GOAL_LINE_X_YD):
        return f"{end}'s goal line"
    if from_end_yd < OWN_GOAL_LINE_X_YD:
        return f"{OWN_GOAL_LINE_X_YD - from_end_yd:g} yd into {end}'s end zone"
    return f"{end}'s {from_end_yd - OWN_GOAL_LINE_X_YD:g}"


class FloodlightLevel(Record):
    """A published illuminance for football.

    Such levels are horizontal and maintained: measured flat on the ground, lamps aged. The light
    on a face is often less, so plan with up to a stop in reserve (common practice).
    """

    key: str
    text: str
    footcandles: float
    source: str

    @property
    def illuminance_lx(self) -> float:
        """The same level in lux. [lx]"""
        return lux_from_footcandles(self.footcandles)


_IES = "IES RP-6 via Recreation Management, October 2005 (order from the class definition)"
_NCAA = "NCAA Best Lighting Practices, as reported (secondary)"

FLOODLIGHT_LEVELS: dict[str, FloodlightLevel] = {
    row.key: row
    for row in (
        FloodlightLevel("class-1", "class I, above 5,000 spectators", 100, _IES),
        FloodlightLevel("class-2", "class II, up to 5,000 spectators", 50, _IES),
        FloodlightLevel("class-3", "class III, some spectators", 30, _IES),
        FloodlightLevel("class-4", "class IV, no provision for spectators", 20, _IES),
        FloodlightLevel("college-untelevised", "college, no television", 50, _NCAA),
        FloodlightLevel("college-regional", "college, regional television", 75, _NCAA),
        FloodlightLevel("college-national", "college, national television", 100, _NCAA),
        FloodlightLevel("college-championship", "college, championship", 125, _NCAA),
    )
}


def floodlight_named(key: str) -> FloodlightLevel:
    """Return a row of `FLOODLIGHT_LEVELS`, or raise `UnknownNameError` with the known keys."""
    if key not in FLOODLIGHT_LEVELS:
        raise UnknownNameError(name="floodlight", value=key, known=FLOODLIGHT_LEVELS)
    return FLOODLIGHT_LEVELS[key]
