"""What a picture of the field shows, as plain values in the play's coordinates.

`FieldPicture` knows nothing of pixels or colors; `lensyard.render.field.draw.field_svg` draws it.
Places are those of `PlayPoint`: x from the end line behind the offense (0) to the opponent's (120),
y from the offense's right sideline (0) to its left (53 1/3). [yd] One function for each kind of
mark makes it from domain values and converts the stadium's coordinates.
"""

from __future__ import annotations

from enum import StrEnum
from typing import Any

import numpy as np

from lensyard.arrays import FloatArray
from lensyard.domain.field import (
    FIELD_LENGTH_YD,
    FIELD_WIDTH_YD,
    Direction,
    FieldRules,
    PlayPoint,
    StadiumPoint,
    play_point,
)
from lensyard.domain.kit import Kit
from lensyard.domain.perimeter import Perimeter
from lensyard.domain.situation import Situation
from lensyard.domain.venue import Venue
from lensyard.errors import InvalidInputError, require_range
from lensyard.records import ArrayRecord, Record

MASS_SHAPE = (121, 18)
OUTERMOST_YD = 40.0


class Orientation(StrEnum):
    """Which way the field lies in the picture."""

    HORIZONTAL = "horizontal"
    VERTICAL = "vertical"


class SpotRole(StrEnum):
    """What a marked spot stands for; each role has a shape of its own."""

    BEST = "best"
    EQUAL = "as good"
    OTHER = "other"
    HABIT = "habit"


class SpotMark(Record):
    """A spot to mark.

    - ``x_yd``, ``y_yd``: its place in the play's coordinates. [yd]
    - ``rank``: its number; None for a habit, which is marked with a letter by its order.
    - ``label``: its place in words, as photographers say it.
    - ``p_usable``: probability that the play is usable from there; None for a place that has none
      of its own, such as one to rest at.
    - ``station``: the station's number, for taps; None if there is none.
    """

    x_yd: float
    y_yd: float
    rank: int | None
    label: str
    p_usable: float | None
    role: SpotRole
    station: int | None = None

    def __post_init__(self) -> None:
        """Refuse a place far from the field and a probability that is none."""
        _require_near(x_yd=self.x_yd, y_yd=self.y_yd)
        if self.p_usable is not None:
            require_range(low=0, high=1, p_usable=self.p_usable)


class ReachRing(Record):
    """How far and how near a lens works, drawn around the best spot. [yd]"""

    label: str
    reach_yd: float
    nearest_yd: float = 0.0

    def __post_init__(self) -> None:
        """Refuse a ring without width."""
        require_range(low=0, high=400, reach_yd=self.reach_yd, nearest_yd=self.nearest_yd)


class ClosedMark(Record):
    """A closed stretch as a rectangle in the play's coordinates. [yd]"""

    x_min_yd: float
    x_max_yd: float
    y_min_yd: float
    y_max_yd: float
    label: str

    def __post_init__(self) -> None:
        """Refuse a rectangle without area or far from the field."""
        _require_near(x_yd=self.x_min_yd, y_yd=self.y_min_yd)
        _require_near(x_yd=self.x_max_yd, y_yd=self.y_max_yd)
        if not (self.x_min_yd < self.x_max_yd and self.y_min_yd < self.y_max_yd):
            raise InvalidInputError(
                f"closed stretch {self.label!r} has no area; expected min < max on both axes"
            )


class StationMark(Record):
    """A station that a tap can snap to. Place in the play's coordinates. [yd]"""

    station: int
    x_yd: float
    y_yd: float
    is_open: bool = True


class FieldPicture(ArrayRecord):
    """Everything in one picture of the field.

    - ``rules``: the rule set: hash marks, goal, supports, setback.
    - ``ball``: where the ball is snapped; its x is the line of scrimmage. None leaves both out.
    - ``line_to_gain_x_yd``: the line to gain; None leaves it out. [yd]
    - ``mass``: probability that the play ends there, shape (121, 18): row i is x = i yards, column
      j is the j-th eighteenth of the width counted from y = 0. It need not sum to 1.
    - ``spots``, ``rings``, ``closed``, ``path``, ``stations``: marks. Rings are drawn around the
      best spot. The path runs from where one stands.
    - ``walk_text``: written beside the path: "22 yd, 15 s".
    - ``side_setback_yd``, ``end_setback_yd``: the strip where photographers stand; None takes the
      rule set's. [yd]
    - ``direction``: the direction of attack in the stadium; says which names stand where.
    - ``end_names``, ``sideline_names``: of ends and sidelines A and B in the stadium; empty leaves
      the offense's own words.
    - ``title``, ``description``: for screen readers; empty lets `describe` write them from the
      marks.
    - ``tappable``: whether the picture carries the data that a component needs to place taps.
    """

    rules: FieldRules
    ball: PlayPoint | None = None
    line_to_gain_x_yd: float | None = None
    mass: FloatArray | None = None
    spots: tuple[SpotMark, ...] = ()
    rings: tuple[ReachRing, ...] = ()
    closed: tuple[ClosedMark, ...] = ()
    standing: PlayPoint | None = None
    path: tuple[PlayPoint, ...] = ()
    walk_text: str = ""
    stations: tuple[StationMark, ...] = ()
    side_setback_yd: float | None = None
    end_setback_yd: float | None = None
    direction: Direction = Direction.TOWARD_B
    end_names: tuple[str, str] = ("", "")
    sideline_names: tuple[str, str] = ("", "")
    title: str = ""
    description: str = ""
    tappable: bool = False

    @staticmethod
    def of(
        venue: Venue, direction: Direction, situation: Situation | None = None, **shown: Any
    ) -> FieldPicture:
        """Return the ground of a venue, with ball and line to gain, and what else is shown."""
        if situation is not None:
            ball_y_yd = venue.rules.ball_y_yd(situation.hash_mark)
            shown["ball"] = PlayPoint(situation.line_of_scrimmage_x_yd, ball_y_yd)
            shown["line_to_gain_x_yd"] = situation.line_to_gain_x_yd
        return FieldPicture(
            rules=venue.rules,
            closed=closed_marks(venue, direction),
            side_setback_yd=venue.side_setback_yd,
            end_setback_yd=venue.end_setback_yd,
            direction=direction,
            end_names=venue.end_names,
            sideline_names=venue.sideline_names,
            **shown,
        )

    def __post_init__(self) -> None:
        """Refuse what cannot be drawn."""
        if self.ball is not None:
            require_range(low=0, high=FIELD_LENGTH_YD, ball_x_yd=self.ball.x_yd)
            require_range(low=0, high=FIELD_WIDTH_YD, ball_y_yd=self.ball.y_yd)
        if self.line_to_gain_x_yd is not None:
            require_range(low=0, high=FIELD_LENGTH_YD, line_to_gain_x_yd=self.line_to_gain_x_yd)
        for point in (*self.path, *([self.standing] if self.standing else [])):
            _require_near(x_yd=point.x_yd, y_yd=point.y_yd)
        require_range(low=0.5, high=15, side_setback_yd=self.side_yd, end_setback_yd=self.end_yd)
        if self.mass is not None:
            _require_mass(self.mass)

    @property
    def side_yd(self) -> float:
        """Setback behind the sidelines. [yd]"""
        own = self.side_setback_yd
        return self.rules.side_setback_yd if own is None else own

    @property
    def end_yd(self) -> float:
        """Setback behind the end lines. [yd]"""
        own = self.end_setback_yd
        return self.rules.end_setback_yd if own is None else own

    @property
    def best(self) -> SpotMark | None:
        """The first spot with the role of the best, if there is one."""
        return next((spot for spot in self.spots if spot.role == SpotRole.BEST), None)


def _require_near(*, x_yd: float, y_yd: float) -> None:
    require_range(low=-OUTERMOST_YD, high=FIELD_LENGTH_YD + OUTERMOST_YD, x_yd=x_yd)
    require_range(low=-OUTERMOST_YD, high=FIELD_WIDTH_YD + OUTERMOST_YD, y_yd=y_yd)


def _require_mass(mass: FloatArray) -> None:
    if mass.shape != MASS_SHAPE:
        raise InvalidInputError(
            f"mass has shape {mass.shape}; expected {MASS_SHAPE}: one row a yard from x = 0 to "
            "120, one column for each eighteenth of the width"
        )
    if not np.all(np.isfinite(mass)) or float(mass.min()) < 0:
        raise InvalidInputError(
            "mass holds negative or missing values; expected probabilities of at least 0"
        )


def closed_marks(venue: Venue, direction: Direction) -> tuple[ClosedMark, ...]:
    """Return the closed stretches of a venue in the play's coordinates."""
    marks = []
    for stretch in venue.closed:
        x_min, x_max, y_min, y_max = stretch.rectangle_yd()
        one = play_point(StadiumPoint(x_min, y_min), direction)
        other = play_point(StadiumPoint(x_max, y_max), direction)
        marks.append(
            ClosedMark(
                x_min_yd=min(one.x_yd, other.x_yd),
                x_max_yd=max(one.x_yd, other.x_yd),
                y_min_yd=min(one.y_yd, other.y_yd),
                y_max_yd=max(one.y_yd, other.y_yd),
                label=stretch.name,
            )
        )
    return tuple(marks)


def station_marks(perimeter: Perimeter, direction: Direction) -> tuple[StationMark, ...]:
    """Return all stations in the play's coordinates."""
    x, y = perimeter.play_xy_yd(direction)
    rows = zip(x.tolist(), y.tolist(), perimeter.open.tolist(), strict=True)
    return tuple(StationMark(i, px, py, is_open) for i, (px, py, is_open) in enumerate(rows))


def _station_point(perimeter: Perimeter, station: int, direction: Direction) -> PlayPoint:
    """The place of one station in the play's coordinates."""
    place = StadiumPoint(float(perimeter.x_yd[station]), float(perimeter.y_yd[station]))
    return play_point(place, direction)


def walk_path(
    perimeter: Perimeter, *, start: int, stop: int, direction: Direction
) -> tuple[PlayPoint, ...]:
    """Return the corners of the shortest open way between two stations, in the play's coordinates.

    Raises `OutOfRangeError` if there is no such station; `InvalidInputError` if no way is open.
    """
    n = len(perimeter)
    require_range(low=0, high=n - 1, start=start, stop=stop)
    length = float(perimeter.walk_yd[start, stop])
    if length == float("inf"):
        raise InvalidInputError(
            "both ways between the two stations pass through a closed stretch; open one of them "
            "or allow walking behind it"
        )
    direct = abs(float(perimeter.along_yd[start] - perimeter.along_yd[stop]))
    upward = (stop >= start) == (abs(direct - length) < 1e-6)
    step = 1 if upward else -1
    passed = [start]
    while passed[-1] != stop:
        passed.append((passed[-1] + step) % n)
    edge = perimeter.edge
    kept = [
        station
        for i, station in enumerate(passed)
        if i in (0, len(passed) - 1)
        or edge[station] != edge[passed[i - 1]]
        or edge[station] != edge[passed[i + 1]]
    ]
    return tuple(_station_point(perimeter, station, direction) for station in kept)


def reach_rings(kit: Kit) -> tuple[ReachRing, ...]:
    """Return one ring a lens, the shortest reach first."""
    lenses = sorted(kit.mounted, key=lambda mounted: mounted.reach_yd)
    return tuple(ReachRing(m.text, m.reach_yd, m.nearest_yd) for m in lenses)
