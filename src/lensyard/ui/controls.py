"""What the page "Next play" is asked: one value between widgets, address and service.

`Controls` holds what a person chose, in the form of the command line's options; `Controls.request`
turns it into what the service takes. Every rule that ties one choice to another (goal to go, ten
yards on first down) stands here, so that widgets, taps and addresses obey the same.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from lensyard.domain.assignment import Faces, assignment_for
from lensyard.domain.field import HashMark
from lensyard.domain.optics import Kit, kit_of
from lensyard.domain.situation import Situation, parse_clock
from lensyard.domain.venue import Venue, standard_venue
from lensyard.errors import ParseError, require_range
from lensyard.service.next_play import NextRequest

FIRST_DOWN_YD = 10
# Ten yards and the usual penalties against the offense: beyond it, goal to go hardly happens.
GOAL_TO_GO_WITHIN_YD = 30
SPOTS_NAMED = 5
GOAL = 0
"""Stands for goal to go among the distances."""
USUAL = -1
"""Stands for "not said" among the choices that may be left out."""


@dataclass(frozen=True, slots=True)
class Controls:
    """What a person chose; the defaults are a first snap after a touchback.

    Attributes
    ----------
    down, distance_yd, yardline_100, hash_mark, score_diff, quarter
        As in `Situation`.
    clock
        Left in the quarter, as minutes and seconds.
    lenses
        Focal lengths with commas between them: ``70-200, 400``.
    crop_factors
        One for all lenses, or one a lens, with commas between them.
    bodies
        How many cameras; None is one a lens.
    converter
        On the longest lens.
    rules
        The rule set.
    team_area
        Team areas lie between this yard line and its twin; None is the rule set's own.
    faces
        Whose faces the frames must show.
    standing
        Where one stands, as text for `parse_standing`; empty when not said.
    look
        The colors.
    """

    down: int = 1
    distance_yd: int = FIRST_DOWN_YD
    yardline_100: int = 75
    hash_mark: HashMark | None = None
    score_diff: int = 0
    quarter: int = 2
    clock: str = "15:00"
    lenses: str = "70-200, 400"
    crop_factors: str = "1"
    bodies: int | None = None
    converter: float = 1.0
    rules: str = "pro"
    team_area: int | None = None
    faces: Faces = Faces.OFFENSE
    standing: str = ""
    look: str = "sunlight"

    @property
    def goal_to_go(self) -> bool:
        """Whether the goal line is the line to gain."""
        return self.distance_yd >= self.yardline_100

    def with_down(self, down: int) -> Controls:
        """Return the controls at another down; a first down takes ten yards, or the goal."""
        if down != 1:
            return replace(self, down=down)
        return replace(self, down=1, distance_yd=min(FIRST_DOWN_YD, self.yardline_100))

    def with_ball(self, yardline_100: int) -> Controls:
        """Return the controls with the ball elsewhere; goal to go comes and goes with it.

        Raises
        ------
        OutOfRangeError
            If the ball is not between the goal lines.
        """
        require_range(low=1, high=99, yardline_100=yardline_100)
        distance = self.distance_yd
        if self.goal_to_go:
            stays = yardline_100 <= GOAL_TO_GO_WITHIN_YD
            distance = yardline_100 if stays else FIRST_DOWN_YD
        return replace(self, yardline_100=yardline_100, distance_yd=min(distance, yardline_100))

    def moved(self, by_yd: int) -> Controls:
        """Return the controls with the ball so many yards nearer to the opponent's goal line."""
        return self.with_ball(min(max(self.yardline_100 - by_yd, 1), 99))

    def chosen(self, field: str, value: Any) -> Controls:
        """Return the controls after one of them was chosen anew.

        Parameters
        ----------
        field
            The name of a field.
        value
            What its widget holds; `GOAL` for the distance is goal to go, `USUAL` is not said.
        """
        if value == USUAL and field in ("bodies", "team_area"):
            value = None
        if field == "down":
            return self.with_down(int(value))
        if field == "yardline_100":
            return self.with_ball(int(value))
        if field == "distance_yd":
            wanted = self.yardline_100 if value == GOAL else int(value)
            return replace(self, distance_yd=min(wanted, self.yardline_100))
        return replace(self, **{field: value})

    def kit(self) -> Kit:
        """Return the kit.

        Raises
        ------
        InvalidInputError
            If a lens, a crop factor or their number cannot be right.
        """
        return kit_of(
            parts_of(self.lenses),
            crop_factors=[_crop_factor(part) for part in parts_of(self.crop_factors)] or None,
            bodies=self.bodies,
            converter=self.converter,
        )

    def venue(self) -> Venue:
        """Return the ground: the rule set's own measures, with the team areas asked for."""
        return standard_venue(self.rules, team_area_from_yard_line=self.team_area)

    def situation(self) -> Situation:
        """Return the situation before the snap.

        Raises
        ------
        InvalidInputError
            If it cannot be on a field, or the clock cannot be read.
        """
        return Situation(
            down=self.down,
            distance_yd=self.distance_yd,
            yardline_100=self.yardline_100,
            hash_mark=self.hash_mark,
            score_diff=self.score_diff,
            quarter=self.quarter,
            clock_s=parse_clock(self.clock),
        )

    def request(self) -> NextRequest:
        """Return what the service is asked.

        Raises
        ------
        InvalidInputError
            If situation, kit or ground cannot be what was chosen.
        """
        return NextRequest(
            situation=self.situation(),
            kit=self.kit(),
            venue=self.venue(),
            assignment=assignment_for(self.faces),
            standing=self.standing or None,
            top=SPOTS_NAMED,
        )


def parts_of(text: str) -> list[str]:
    """Return what stands between commas or semicolons, without empty parts.

    >>> parts_of("70-200, 400;")
    ['70-200', '400']
    """
    return [part.strip() for part in text.replace(";", ",").split(",") if part.strip()]


def _crop_factor(text: str) -> float:
    try:
        return float(text)
    except ValueError:
        raise ParseError(
            name="crop factor", text=text, expected="1 for full frame, 1.5 or 1.6, say"
        ) from None


def ball_text(yardline_100: int) -> str:
    """Return a spot of the ball as `parse_ball` reads it.

    >>> ball_text(75), ball_text(50), ball_text(8)
    ('own25', '50', 'opp8')
    """
    if yardline_100 == 50:
        return "50"
    return f"own{100 - yardline_100}" if yardline_100 > 50 else f"opp{yardline_100}"
