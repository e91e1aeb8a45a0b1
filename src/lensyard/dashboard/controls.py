"""What the pages are asked: one value between widgets, address and features.

`Controls` holds what a person chose: the same groups of options that commands take. Rules that tie
one choice to another (goal to go, ten yards on first down) stand here, so that widgets, taps and
addresses obey the same.

Their names in an address are those of the command line's options, so that
``lensyard next --down 3 --ball opp35`` and ``?down=3&ball=opp35`` ask the same. What cannot be read
is named in a sentence, and the usual value stands in its place.

>>> from_address({"down": ["3"], "distance": ["7"], "ball": ["opp35"]}).controls.situation().text()
"3rd and 7 at the opponent's 35"
>>> from_address({"down": ["7"]}).issues
('Down must be between 1 and 4; got 7.',)
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any
from urllib.parse import parse_qs, unquote

from lensyard.domain.assignment import Assignment, Faces
from lensyard.domain.field import Direction
from lensyard.domain.perimeter import perimeter_of
from lensyard.domain.places import parse_standing, standing_text
from lensyard.domain.venue import Venue
from lensyard.errors import InvalidInputError, UnknownNameError, require_range
from lensyard.options import groups
from lensyard.options import situation as situations
from lensyard.options.choices import LEFT_OUT, Choice, OneOf, choices_of, default_of, time_text
from lensyard.options.groups import LensOptions
from lensyard.render.words import sentence

if TYPE_CHECKING:
    from lensyard.model.context import Context
    from lensyard.planner.plans import PlanRequest

# Ten yards and the usual penalties against the offense: beyond it, goal to go hardly happens.
GOAL_TO_GO_WITHIN_YD = 30
GOAL = 0
"""Stands for goal to go among the distances."""
USUAL = -1
"""Stands for "not said" among the values of a widget."""


class Controls(
    # The last group comes first in the address.
    groups.ThemeOptions,
    groups.ReviewOptions,
    groups.CrewOptions,
    groups.GearOptions,
    groups.TimeOptions,
    situations.PlaysOptions,
    groups.RankingOptions,
    groups.AssignmentOptions,
    situations.DirectionOptions,
    groups.ModelOptions,
    groups.VenueOptions,
    groups.LensOptions,
    groups.TempoOptions,
    situations.StandingOptions,
    situations.PlayOptions,
    situations.SituationOptions,
):
    """What a person chose on the pages; venues and assignments are names here, never paths."""

    @property
    def goal_to_go(self) -> bool:
        """Whether the goal line is the line to gain."""
        return self.distance_yd >= self.yardline_100

    def with_down(self, down: int) -> Controls:
        """Return the controls at another down; a first down takes ten yards, or the goal."""
        if down != 1:
            return replace(self, down=down)
        return replace(self, down=1, distance_yd=min(situations.FIRST_DOWN_YD, self.yardline_100))

    def with_ball(self, yardline_100: int) -> Controls:
        """Return the controls with the ball elsewhere; goal to go comes and goes with it.

        Raises `OutOfRangeError` if the ball is not between the goal lines.
        """
        require_range(low=1, high=99, yardline_100=yardline_100)
        distance = self.distance_yd
        if self.goal_to_go:
            stays = yardline_100 <= GOAL_TO_GO_WITHIN_YD
            distance = yardline_100 if stays else situations.FIRST_DOWN_YD
        return replace(self, yardline_100=yardline_100, distance_yd=min(distance, yardline_100))

    def flipped(self) -> Controls:
        """Return the controls after the ball changed hands where it lies: the other way.

        >>> here = Controls(down=3, distance_yd=7, yardline_100=35, standing="left:opp20")
        >>> there = here.flipped()
        >>> there.situation().text(), there.standing, there.attacking
        ('1st and 10 at its own 35', 'right:own20', 'A')
        """
        parts = situations.flipped(self, self, self)
        names = (
            ("down", "distance_yd", "yardline_100", "hash_mark", "score_diff"),
            ("attacking",),
            ("standing", "changed_hands"),
        )
        return replace(
            self,
            **{n: getattr(part, n) for part, some in zip(parts, names, strict=True) for n in some},
        )

    def moved(self, by_yd: int) -> Controls:
        """Return the controls with the ball so many yards nearer to the opponent's goal line."""
        return self.with_ball(min(max(self.yardline_100 - by_yd, 1), 99))

    def chosen(self, field: str, value: Any) -> Controls:
        """Return the controls after one of them was chosen anew.

        - ``field``: the name of a field.
        - ``value``: what its widget holds; `GOAL` for the distance is goal to go, `USUAL` is not
          said.
        """
        if field == "down":
            return self.with_down(int(value))
        if field == "yardline_100":
            return self.with_ball(int(value))
        if field == "distance_yd":
            wanted = int(value)
            if value == GOAL:
                # Goal to go does not come in one's own half.
                near = self.yardline_100 <= situations.OWN_HALF_FROM
                wanted = self.yardline_100 if near else situations.FIRST_DOWN_YD
            return replace(self, distance_yd=min(wanted, self.yardline_100))
        if field == "kickoff":
            value = time_text(str(value))
        if field == "standing":
            value = self._place(str(value))
        if value == USUAL and default_of(Controls, field) is None:
            value = None
        if field == "assignment_name":
            # An assignment brings its own faces; they can be chosen anew afterwards.
            return replace(self, assignment_name=str(value), faces=None)
        return replace(self, **{field: value})

    def _place(self, text: str) -> str:
        """Return a place in the offense's terms, also one that was typed in the venue's names.

        What names none stays as it is; the answer says what was expected.
        """
        try:
            venue = self.venue()
            direction = self.direction(venue)
            perimeter = perimeter_of(venue)
            if venue.names(direction) is None or ":" in text:
                return text
            station = parse_standing(text, perimeter, direction)
        except InvalidInputError:
            return text
        x, y = perimeter.play_xy_yd(direction)
        return standing_text(x_yd=float(x[station]), y_yd=float(y[station]), venue=venue)

    def shown(self, field: str) -> Any:
        """Return what the widget of a field holds: what follows where nobody said it."""
        value = getattr(self, field)
        if field == "distance_yd" and self.goal_to_go:
            return GOAL
        if field == "attacking":
            return value or "B"
        if field == "shooters":
            return self.crew_size()
        if field == "faces" and value is None:
            try:
                return self.assignment().faces
            except InvalidInputError:
                return Faces.OFFENSE
        # The hash mark may be deselected; elsewhere a value stands for "not said".
        return USUAL if value is None and field != "hash_mark" else value

    def venue(self) -> Venue:
        """Return the venue, or any field with the team areas asked for.

        Raises `InvalidInputError` if there is no such venue; a path is no name.
        """
        _require_known("venue_name", self.venue_name)
        return super().venue()

    def assignment(self) -> Assignment:
        """Return the assignment, with the faces asked for.

        Raises `InvalidInputError` if there is no such assignment; a path is no name.
        """
        _require_known("assignment_name", self.assignment_name)
        return super().assignment()

    def answering(self) -> Context:
        """Return the model that answers at the venue.

        Raises `LensyardError` if there is no such model or venue, or the model's file is damaged.
        """
        _require_known("model_name", self.model_name)
        return self.context(self.venue())

    def plan_request(self) -> PlanRequest:
        """Return what a plan is asked.

        Raises `InvalidInputError` if kit, venue or assignment cannot be what was chosen.
        """
        from lensyard.planner.plans import PlanRequest
        from lensyard.planner.usual_walks import walking_of

        kit, assignment = self.kit(), self.assignment()
        walks = walking_of(kit, assignment, self.walk_time())
        return PlanRequest(kit, self.venue(), assignment, walks)


CHOICES = {name: what for name, what in choices_of(Controls).items() if what.address}
"""The choices of the pages by field name, in the order of the address."""
REMEMBERED = tuple(name for name, what in CHOICES.items() if what.remembered)
"""What a browser remembers from one visit to the next."""


def _require_known(field: str, value: str) -> None:
    what: Choice = CHOICES[field]
    if value and isinstance(what.kind, OneOf) and value not in what.kind.known:
        raise UnknownNameError(name=what.name, value=value, known=filter(None, what.kind.known))


Query = dict[str, list[str]]
KIT_COOKIE = "lensyard_kit"
"""Holds what a browser remembers; its text is that of `to_memory` as a quoted query."""
ALWAYS = ("down", "distance", "ball")
LONGEST_TEXT = 200

# What the server itself reads, and the key to a dashboard on a network.
_NOT_OURS = ("embed", "embed_options", "token")
_FIELDS = {key: name for name, what in CHOICES.items() for key in (what.address, *what.older)}


@dataclass(frozen=True, slots=True)
class Address:
    """What an address asks for, and what in it could not be read, one sentence each."""

    controls: Controls
    issues: tuple[str, ...] = ()


def from_address(query: Mapping[str, Sequence[str]], *, usual: Controls | None = None) -> Address:
    """Return what an address asks for.

    - ``query``: each name with its values, as many as there are.
    - ``usual``: what holds where the address says nothing, such as what the browser remembers.
    """
    found: dict[str, Any] = {}
    issues = []
    for key, texts in query.items():
        if key in _NOT_OURS or not texts:
            continue
        try:
            if key not in _FIELDS:
                raise UnknownNameError(name="a name in the address", value=key[:40], known=_FIELDS)
            found[_FIELDS[key]] = _read(_FIELDS[key], texts)
        except InvalidInputError as error:
            issues.append(sentence(str(error)))
    if "assignment_name" in found:
        found.setdefault("faces", None)
    controls, more = _fitted(found, usual or Controls())
    return Address(controls, (*issues, *more))


def to_address(
    controls: Controls, *, always: Sequence[str] = ALWAYS, usual: Controls | None = None
) -> Query:
    """Return an address that leads back to these controls.

    - ``controls``: what was chosen.
    - ``always``: names that are written even where their value is the usual one.
    - ``usual``: what the browser remembers. Where it differs from the controls or from what is
      usual for everybody, a value is written, so that the address means the same to others.
    """
    plain, own = _written(Controls()), _written(usual or Controls())
    return {
        name: values or [LEFT_OUT]
        for name, values in _written(controls).items()
        if (name in always or values != plain[name] or values != own[name])
        and (values or own[name] != values)
    }


def to_memory(controls: Controls) -> Query:
    """Return what a browser is to remember: kit, venue, assignment and colors."""
    written, plain = _written(controls), _written(Controls())
    names = [CHOICES[field].address for field in REMEMBERED]
    return {name: written[name] for name in names if written[name] != plain[name]}


def from_memory(cookie: str) -> Controls:
    """Return what a browser remembered; what cannot be read any more is left out."""
    try:
        query = parse_qs(unquote(cookie), max_num_fields=40)
    except ValueError:
        return Controls()
    names = {key for key, field in _FIELDS.items() if field in REMEMBERED}
    return from_address({name: query[name] for name in names & query.keys()}).controls


def _written(controls: Controls) -> Query:
    return {
        what.address: [] if (value := getattr(controls, name)) is None else what.kind.write(value)
        for name, what in CHOICES.items()
    }


def _read(field: str, texts: Sequence[str]) -> Any:
    """Return the value of a field; raises `InvalidInputError` where it cannot be read."""
    what, default = CHOICES[field], default_of(Controls, field)
    if any(len(text) > LONGEST_TEXT for text in texts):
        raise InvalidInputError(
            f"{what.address} is longer than {LONGEST_TEXT} characters; shorten it"
        )
    if texts[-1] == LEFT_OUT and default in (None, ""):
        return default
    return what.kind.read(texts, name=what.address)


def _fitted(found: dict[str, Any], base: Controls) -> tuple[Controls, list[str]]:
    """Return controls whose parts fit each other, and sentences on those that did not."""
    issues = []
    yardline = found.get("yardline_100", base.yardline_100)
    distance = found.get("distance_yd", 0)
    found["distance_yd"] = min(distance, yardline)  # 0 is ten yards, or the goal
    if distance > yardline:
        issues.append(
            f"The distance is {distance} yd, but the goal line is only {yardline} yd away; "
            "goal to go stands in its place."
        )
    controls = replace(base, **found)
    try:
        controls.kit()
    except InvalidInputError as error:
        issues.append(sentence(str(error)))
        usual = {name: default_of(LensOptions, name) for name in choices_of(LensOptions)}
        controls = replace(controls, **usual)
    if controls.standing:
        try:
            perimeter = perimeter_of(controls.venue())
            parse_standing(controls.standing, perimeter, Direction.TOWARD_B)
        except InvalidInputError as error:
            issues.append(sentence(str(error)))
            controls = replace(controls, standing="")
    return controls, issues
