"""What the pages are asked: one value between widgets, address and services.

`Controls` holds what a person chose, in the form of the command line's options; `Controls.request`
and the like turn it into what a service takes. Every rule that ties one choice to another (goal to
go, ten yards on first down) stands here, so that widgets, taps and addresses obey the same.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime
from typing import TYPE_CHECKING, Any

from lensyard.dashboard.named import assignment_named, venue_named
from lensyard.domain.assignment import Assignment, Faces, assignment_for
from lensyard.domain.field import Direction, HashMark
from lensyard.domain.kit import Kit, kit_of
from lensyard.domain.situation import Situation, parse_clock
from lensyard.domain.venue import Venue
from lensyard.errors import ParseError, require_range
from lensyard.features.next_play.answer import NextRequest

if TYPE_CHECKING:
    from lensyard.features.zones.count import ZonesRequest
    from lensyard.planner.plans import PlanRequest

FIRST_DOWN_YD = 10
# Ten yards and the usual penalties against the offense: beyond it, goal to go hardly happens.
GOAL_TO_GO_WITHIN_YD = 30
SPOTS_NAMED = 5
GOAL = 0
"""Stands for goal to go among the distances."""
USUAL = -1
"""Stands for "not said" among the choices that may be left out."""
REMEMBERED = (
    "lenses",
    "crop_factors",
    "bodies",
    "converter",
    "venue",
    "rules",
    "team_area",
    "assignment",
    "faces",
    "theme",
)
"""What a browser remembers from one visit to the next."""


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
    venue
        A venue by name; empty is any field of the rule set.
    rules
        The rule set, where no venue is named.
    team_area
        Team areas lie between this yard line and its twin; None is the rule set's own.
    attacking
        The end that the offense plays toward, A or B; it matters where a venue's ends differ.
    assignment
        By name; empty is the plain one.
    faces
        Whose faces the frames must show.
    by_value
        Whether spots are ranked by the assignment's value instead of by usable plays.
    standing
        Where one stands, as text for `parse_standing`; empty when not said.
    changed_hands
        Whether the ball has just changed hands: there is time for the longer walk.
    zone_down, to_go
        Which plays the page "Field zones" counts: a down or None for all; a key of `DISTANCES_YD`
        or ``all``.
    kickoff
        Day and time of the game, ``2026-10-03T15:30`` on the venue's clock; empty when not said.
    kits
        What the page "Gear" compares with one's own kit, a kit a line; empty is what one usually
        thinks of next.
    shooters, carried, whole_game
        The crew: how many, who carries what (a kit a line; empty is one's own kit for all), and
        whether it is planned for a game in place of one play.
    game, season, own_reach
        What is reviewed: a game by its id or all games of a season (neither is the last game), and
        whether it is counted again with one's own reach.
    theme
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
    venue: str = ""
    rules: str = "pro"
    team_area: int | None = None
    attacking: str = "B"
    assignment: str = ""
    faces: Faces = Faces.OFFENSE
    by_value: bool = False
    standing: str = ""
    changed_hands: bool = False
    zone_down: int | None = None
    to_go: str = "all"
    kickoff: str = ""
    kits: str = ""
    shooters: int = 2
    carried: str = ""
    whole_game: bool = False
    game: str = ""
    season: int | None = None
    own_reach: bool = False
    theme: str = "sunlight"

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
        if value == USUAL and field in ("bodies", "team_area", "zone_down"):
            value = None
        if field == "assignment" and value:
            # An assignment brings its own faces; they can be chosen anew afterwards.
            return replace(self, assignment=str(value), faces=assignment_named(value).faces)
        if field == "kickoff":
            value = kickoff_text(str(value))
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

    def chosen_venue(self) -> Venue:
        """Return the ground: the venue, or any field with the team areas asked for.

        Raises
        ------
        InvalidInputError
            If there is no such venue.
        """
        return venue_named(self.venue, rules=self.rules, team_area=self.team_area)

    @property
    def rules_name(self) -> str:
        """The rule set of the ground."""
        return self.chosen_venue().rules.name if self.venue else self.rules

    @property
    def direction(self) -> Direction:
        """The direction of attack."""
        return Direction.TOWARD_A if self.attacking == "A" else Direction.TOWARD_B

    def chosen_assignment(self) -> Assignment:
        """Return the assignment, with the faces asked for.

        Raises
        ------
        InvalidInputError
            If there is no such assignment.
        """
        if not self.assignment:
            return assignment_for(self.faces)
        return replace(assignment_named(self.assignment), faces=self.faces)

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

    def request(self, *, have: tuple[str, ...] = ()) -> NextRequest:
        """Return what "where next" is asked; ``have`` are ticked frames of the assignment.

        Raises
        ------
        InvalidInputError
            If situation, kit or ground cannot be what was chosen.
        """
        return NextRequest(
            situation=self.situation(),
            kit=self.kit(),
            venue=self.chosen_venue(),
            assignment=self.chosen_assignment(),
            direction=self.direction,
            standing=self.standing or None,
            top=SPOTS_NAMED,
            by_value=self.by_value,
            ball_changed_hands=self.changed_hands,
            have=have,
        )

    def plan_request(self) -> PlanRequest:
        """Return what a plan is asked; raises as `request`."""
        from lensyard.planner.plans import PlanRequest

        return PlanRequest(self.kit(), self.chosen_venue(), self.chosen_assignment())

    def zones_request(self) -> ZonesRequest:
        """Return what the field zones are asked; raises as `request`."""
        from lensyard.domain.situation import DISTANCES_YD
        from lensyard.features.zones.count import ZonesRequest

        return ZonesRequest(
            kit=self.kit(),
            venue=self.chosen_venue(),
            assignment=self.chosen_assignment(),
            direction=self.direction,
            down=self.zone_down,
            distance_yd=DISTANCES_YD.get(self.to_go),
        )

    def after_gain(self, gain_yd: int) -> Controls | None:
        """Return the next snap after a gain; None after a score or a lost fourth down.

        >>> Controls(down=1, distance_yd=10, yardline_100=75).after_gain(4).situation().text()
        '2nd and 6 at its own 29'
        >>> Controls(down=3, distance_yd=2, yardline_100=40).after_gain(5).situation().text()
        "1st and 10 at the opponent's 35"
        >>> Controls(down=2, distance_yd=3, yardline_100=3).after_gain(3) is None
        True
        """
        yardline = self.yardline_100 - gain_yd
        if not 1 <= yardline <= 99:
            return None
        still = replace(self, yardline_100=yardline, hash_mark=None, changed_hands=False)
        if gain_yd >= self.distance_yd:
            return replace(still, down=1, distance_yd=min(FIRST_DOWN_YD, yardline))
        if self.down == 4:
            return None
        distance = min(self.distance_yd - gain_yd, yardline)
        return replace(still, down=self.down + 1, distance_yd=distance)


def parts_of(text: str) -> list[str]:
    """Return what stands between commas or semicolons, without empty parts.

    >>> parts_of("70-200, 400;")
    ['70-200', '400']
    """
    return [part.strip() for part in text.replace(";", ",").split(",") if part.strip()]


def lines_of(text: str) -> list[str]:
    """Return the lines of a text, without empty ones.

    >>> lines_of("70-200\\n\\n 70-200 + 400 ")
    ['70-200', '70-200 + 400']
    """
    return [line.strip() for line in text.splitlines() if line.strip()]


def kickoff_text(text: str) -> str:
    """Return a day and time as the address writes it; nothing for nothing.

    >>> kickoff_text("2026-10-03 15:30"), kickoff_text(" ")
    ('2026-10-03T15:30', '')

    Raises
    ------
    ParseError
        If it is no day with a time.
    """
    expected = "a day and a time on the venue's clock, such as 2026-10-03 15:30"
    if not text.strip():
        return ""
    try:
        at = datetime.fromisoformat(text.strip())
    except ValueError:
        raise ParseError(name="kickoff", text=text, expected=expected) from None
    if len(text.strip()) <= len("2026-10-03"):
        raise ParseError(name="kickoff", text=text, expected=expected)
    return f"{at.replace(tzinfo=None):%Y-%m-%dT%H:%M}"


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
