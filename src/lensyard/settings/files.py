"""Venue and assignment files: from their text to a value, or to everything that is wrong.

Their keys stand in `lensyard.settings.schema`. Files are named by a path, or by a plain name: then
one is looked for among the user's own, and among those that come with the package.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import TYPE_CHECKING, TypeVar

from lensyard.domain.assignment import FRAMES, Assignment, Deadline, MustHave, OutcomeWeights
from lensyard.domain.field import (
    FIELD_LENGTH_YD,
    OPPONENT_GOAL_LINE_X_YD,
    OWN_GOAL_LINE_X_YD,
    RULES,
    FieldRules,
    rules_named,
)
from lensyard.domain.perimeter import perimeter_of
from lensyard.domain.places import plain_standing
from lensyard.domain.venue import (
    GOAL_POSTS,
    ClosedStretch,
    Edge,
    Venue,
    end_lines_past,
    floodlight_named,
    team_areas,
    zone_named,
)
from lensyard.errors import InvalidInputError, OutOfRangeError, ParseError, UnknownNameError
from lensyard.settings.reading import Issues, Reading, SettingsKind, read_toml
from lensyard.units import lux_from_footcandles

if TYPE_CHECKING:
    from lensyard.settings.schema import (
        AssignmentFile,
        Closed,
        Floodlights,
        FrameTable,
        HouseRules,
        VenueFile,
    )

Value = TypeVar("Value")
PLACE_KEYS = ("axis_bearing_deg", "latitude_deg", "longitude_deg", "time_zone")
NOTE_KEYS = ("monopods", "flash", "kneeling")
_YARD_LINE = re.compile(r"^(?P<end>.*?)\s*(?P<yard>\d{1,2}(?:\.\d+)?)$")
_LINE = re.compile(r"^(?P<line>goal|end)(?:\s+line)?\s+(?P<end>.+)$", re.IGNORECASE)
_INTRO = """\
A venue for lensyard. A line that begins with "# " explains; one that begins with "#" and a key is \
switched off: take the "#" away to use it.
Ends are A and B, sidelines A and B: choose which end is A; facing end B from there, sideline A is \
on your right hand.
Check the file with: lensyard venue check FILE"""


def read_venue(text: str) -> Reading[Venue]:
    """Return the venue of a TOML text, or everything that is wrong with it."""
    from lensyard.settings.schema import VenueFile

    return read_toml(text, VenueFile, build_venue)


VENUES = SettingsKind("venue", read_venue, "venues", "lensyard venue new")
load_venue = VENUES.load
"""Return a venue by its name or the path of its file; see `SettingsKind.load`."""


def new_venue_text(name: str, *, rules: str = "pro") -> str:
    """Return a venue file to start from: every key with what it means, and usable as it is.

    ``name``: the venue's name, for people; 1 to 80 printable characters. ``rules``: the rule set;
    setbacks and team areas are filled in from it.

    Raises `UnknownNameError` if there is no such rule set; `InvalidInputError` if the name cannot
    stand in a file.
    """
    from lensyard.settings.fields import template
    from lensyard.settings.schema import VenueFile

    measures = rules_named(rules)
    given = {
        "name": name,
        "rules": rules,
        "side_setback_yd": measures.side_setback_yd,
        "end_setback_yd": measures.end_setback_yd,
        "team_areas.from_yard_line": measures.team_area_from_yard_line,
        "team_areas.walk_behind": True,
    }
    text = template(VenueFile, _INTRO, given)
    VENUES.parse(text, source=f"a venue of the name {name[:100]!r}")
    return text


def build_venue(file: VenueFile, issues: Issues) -> Venue | None:
    """Return the venue of a file of the right shape, or None after adding what is wrong."""
    rules = RULES[file.rules]
    _check_place(file, issues)
    _check_names(file, issues)
    line = file.team_areas.from_yard_line
    closed = team_areas(
        rules,
        from_yard_line=50.0 if line == "none" else line,
        walk_behind=file.team_areas.walk_behind,
    )
    closed += tuple(_stretches(file, rules, issues))
    if file.end_line_open_yd is not None:
        closed += end_lines_past(file.end_line_open_yd)
    illuminance_lx = _illuminance_lx(file.floodlights, issues)
    if issues.found:
        return None
    stands = file.stands
    a, b, c, d = stands.sideline_a, stands.end_b, stands.sideline_b, stands.end_a
    with issues.at("closed"):
        venue = Venue(
            name=file.name,
            rules=rules,
            closed=closed,
            side_setback_yd=_first(file.side_setback_yd, rules.side_setback_yd),
            end_setback_yd=_first(file.end_setback_yd, rules.end_setback_yd),
            posts=GOAL_POSTS[file.goal_posts] if file.goal_posts else rules.posts,
            end_names=(file.end_names[0], file.end_names[1]),
            sideline_names=(file.sideline_names[0], file.sideline_names[1]),
            axis_bearing_deg=_first(file.axis_bearing_deg, 0.0),
            latitude_deg=file.latitude_deg,
            longitude_deg=file.longitude_deg,
            time_zone=file.time_zone or "UTC",
            stand_height_m=(a.height_m, b.height_m, c.height_m, d.height_m),
            stand_distance_yd=(a.distance_yd, b.distance_yd, c.distance_yd, d.distance_yd),
            illuminance_lx=illuminance_lx,
            covered=file.covered,
            notes=_notes(file.house_rules),
        )
        perimeter_of(venue)
        return venue
    return None


def _first(given: Value | None, default: Value) -> Value:
    return default if given is None else given


def _check_place(file: VenueFile, issues: Issues) -> None:
    given = [key for key in PLACE_KEYS if getattr(file, key) is not None]
    missing = [key for key in PLACE_KEYS if key not in given]
    if given and missing:
        issues.add(
            (given[0],),
            f"is given without {' and '.join(missing)}; expected {', '.join(PLACE_KEYS)} "
            "together (the sun needs all four), or none of them",
        )
    if file.time_zone is not None:
        with issues.at("time_zone"):
            zone_named(file.time_zone)


def _check_names(file: VenueFile, issues: Issues) -> None:
    """Names must point at one edge each, also beside the letters A and B."""
    taken: dict[str, tuple[str, int]] = {}
    for key, word in (("end_names", "end"), ("sideline_names", "sideline")):
        for i, letter in enumerate("ab"):
            for own in (letter, f"{word} {letter}"):
                taken.setdefault(own, (key, i))
    for key in ("end_names", "sideline_names"):
        for i, name in enumerate(getattr(file, key)):
            if taken.setdefault(_folded(name), (key, i)) != (key, i):
                issues.add(
                    (key,), f"{name!r} already means another edge; expected four different names"
                )


def _folded(text: str) -> str:
    return " ".join(text.split()).casefold()


def _stretches(file: VenueFile, rules: FieldRules, issues: Issues) -> Iterator[ClosedStretch]:
    for i, closed in enumerate(file.closed):
        edge: Edge | None = None
        with issues.at("closed", i, "edge"):
            edge = _edge_named(closed.edge, file)
        if edge is None:
            continue
        past_yd = (
            _first(file.end_setback_yd, rules.end_setback_yd)
            if edge.is_sideline
            else _first(file.side_setback_yd, rules.side_setback_yd)
        )
        bounds = []
        for key, place in (("from", closed.from_), ("to", closed.to)):
            with issues.at("closed", i, key):
                place_yd = along_yd(place, edge, ends=(file.end_names[0], file.end_names[1]))
                bounds.append(_before_corner(place_yd, edge, past_yd=past_yd))
        if len(bounds) < 2:
            continue
        if not bounds[0] < bounds[1]:
            issues.add(
                ("closed", i, "to"),
                f"{closed.to!r} is {bounds[1]:g} yd along the edge and from is {bounds[0]:g}; "
                "expected to beyond from (exchange the two?)",
            )
            continue
        with issues.at("closed", i):
            yield _stretch(closed, edge, bounds[0], bounds[1], rules)


def _before_corner(place_yd: float, edge: Edge, *, past_yd: float) -> float:
    """The place, if it is not around the corner, where its ground would lie on another edge."""
    low, high = -past_yd, edge.length_yd + past_yd
    if low - 1e-9 <= place_yd <= high + 1e-9:
        return place_yd
    raise InvalidInputError(
        f"{place_yd:g} yd along the {edge.value} is past the corner where photographers stand; "
        f"expected {low:g} to {high:.4g}. Write a stretch around a corner as two"
    )


def _stretch(
    closed: Closed, edge: Edge, from_yd: float, to_yd: float, rules: FieldRules
) -> ClosedStretch:
    from lensyard.settings.schema import KIND_DEFAULTS, KindDefaults

    team_area = KindDefaults(rules.team_area_front_yd, rules.team_area_depth_yd, True, True)
    usual = KIND_DEFAULTS.get(closed.kind, team_area)
    return ClosedStretch(
        edge=edge,
        from_yd=from_yd,
        to_yd=to_yd,
        name=closed.name or closed.kind.value,
        front_yd=_first(closed.front_yd, usual.front_yd),
        depth_yd=_first(closed.depth_yd, usual.depth_yd),
        blocks_view=_first(closed.blocks_view, usual.blocks_view),
        walk_behind=_first(closed.walk_behind, usual.walk_behind),
        kind=closed.kind,
    )


def _edge_named(text: str, file: VenueFile) -> Edge:
    names = {edge.value: edge for edge in Edge}
    own = (
        *zip(file.sideline_names, (Edge.SIDELINE_A, Edge.SIDELINE_B), strict=True),
        *zip(file.end_names, (Edge.END_A, Edge.END_B), strict=True),
    )
    names.update(own)
    for name, edge in names.items():
        if _folded(name) == _folded(text):
            return edge
    raise UnknownNameError(name="edge", value=text, known=names)


def along_yd(place: float | str, edge: Edge, *, ends: tuple[str, str]) -> float:
    """Return how far along an edge a place of a venue file lies, in stadium coordinates. [yd]

    ``place``: yards as a number, or on a sideline words: ``A 20``, ``50``, ``goal B``, ``end line
    A``. ``ends``: the names of ends A and B, which work like their letters.

    Raises `ParseError` if the words have another form; `OutOfRangeError` if the yard line is none.

    >>> ends = ("south", "north")
    >>> [along_yd(p, Edge.SIDELINE_A, ends=ends) for p in (12.5, "A 20", "north 20", "goal B")]
    [12.5, 30.0, 90.0, 110.0]
    """
    if not isinstance(place, str):
        return float(place)
    if not edge.is_sideline:
        raise ParseError(
            name="place",
            text=place,
            expected="a number: yards along the end line from sideline A, 0 to 53.3",
        )
    text = _folded(place)
    if match := _LINE.match(text):
        from_end_yd = 0.0 if match["line"] == "end" else OWN_GOAL_LINE_X_YD
        end = _end_letter(match["end"], ends)
        if end is not None:
            return from_end_yd if end == "a" else FIELD_LENGTH_YD - from_end_yd
    if match := _YARD_LINE.match(text):
        yard = float(match["yard"])
        if yard > 50:
            raise OutOfRangeError(name="yard line", value=yard, low=0, high=50)
        end = _end_letter(match["end"], ends)
        if yard == 50 and not match["end"]:
            end = "a"
        if end is not None:
            return OWN_GOAL_LINE_X_YD + yard if end == "a" else OPPONENT_GOAL_LINE_X_YD - yard
    from lensyard.settings.schema import PLACE_EXPECTED

    raise ParseError(name="place", text=place, expected=PLACE_EXPECTED)


def _end_letter(text: str, ends: tuple[str, str]) -> str | None:
    for letter, name in zip("ab", ends, strict=True):
        if text in (letter, f"end {letter}", _folded(name)):
            return letter
    return None


def _illuminance_lx(lights: Floodlights, issues: Issues) -> float:
    given = {"lux": lights.lux, "footcandles": lights.footcandles, "class": lights.class_}
    keys = [key for key, value in given.items() if value is not None]
    if len(keys) > 1:
        issues.add(
            ("floodlights", keys[1]),
            f"is given beside {keys[0]}; expected only one of lux, footcandles and class",
        )
    with issues.at("floodlights", "class"):
        if lights.class_ is not None:
            return floodlight_named(lights.class_).illuminance_lx
    if lights.footcandles:
        return lux_from_footcandles(lights.footcandles)
    return lights.lux or 0.0


def _notes(house: HouseRules) -> tuple[str, ...]:
    notes = ((key, getattr(house, key)) for key in NOTE_KEYS)
    return (*(f"{key}: {note}" for key, note in notes if note is not None), *house.other)


_ASSIGNMENT_INTRO = """\
What you are sent for. A line that begins with "#" and a key is switched off: take the "#" away to \
use it.
Check the file with: lensyard assignment check FILE"""

_SHOT_LIST = ["drop-back", "carrier", "catch", "touchdown", "fans", "coaches"]


def read_assignment(text: str) -> Reading[Assignment]:
    """Return the assignment of a TOML text, or everything that is wrong with it."""
    from lensyard.settings.schema import AssignmentFile

    return read_toml(text, AssignmentFile, build_assignment)


ASSIGNMENTS = SettingsKind("assignment", read_assignment, "assignments", "lensyard assignment new")

load_assignment = ASSIGNMENTS.load
"""Return an assignment by its name or the path of its file; see `SettingsKind.load`."""


def new_assignment_text(name: str) -> str:
    """Return an assignment file to start from: every key with what it means, usable as it is.

    Raises `InvalidInputError` if the name cannot stand in a file.
    """
    from lensyard.settings.fields import template
    from lensyard.settings.schema import AssignmentFile

    plain = Assignment()
    given = {
        "schema_version": 1,
        "name": name.strip(),
        "about": "",
        "faces": plain.faces.value,
        "coverage": plain.coverage.value,
        "light": plain.light.value,
        "must_have": _SHOT_LIST,
        **{
            f"weights.{outcome}": getattr(plain.weights, outcome)
            for outcome in OutcomeWeights.__dataclass_fields__
        },
    }
    text = template(AssignmentFile, _ASSIGNMENT_INTRO, given)
    ASSIGNMENTS.parse(text, source=f"an assignment of the name {name[:100]!r}")
    return text


def build_assignment(file: AssignmentFile, issues: Issues) -> Assignment | None:
    """Return the assignment of a file of the right shape, or None after adding what is wrong."""
    own = _own_frames(file.frame, issues)
    known = {**FRAMES, **own}
    for i, key in enumerate(file.must_have):
        with issues.at("must_have", i):
            if key not in known:
                raise UnknownNameError(name="frame", value=key, known=known)
    if issues.found:
        return None
    deadlines: list[Deadline] = []
    for i, deadline in enumerate(file.deadline):
        with issues.at("deadline", i, "at"):
            deadlines.append(Deadline(deadline.at, deadline.minutes))
    if file.desk:
        with issues.at("desk"):
            plain_standing(file.desk)
    if issues.found:
        return None
    listed = [*file.must_have, *(key for key in own if key not in file.must_have)]
    with issues.at("must_have"):
        return Assignment(
            name=file.name,
            faces=file.faces,
            weights=OutcomeWeights(**file.weights.model_dump()),
            coverage=file.coverage,
            must_have=tuple(known[key] for key in listed),
            light=file.light,
            about=file.about,
            deadlines=tuple(deadlines),
            desk=file.desk,
        )
    return None


def _own_frames(frames: list[FrameTable], issues: Issues) -> dict[str, MustHave]:
    own: dict[str, MustHave] = {}
    for i, frame in enumerate(frames):
        if frame.key in own:
            issues.add(("frame", i, "key"), f"frame {frame.key!r} is described twice; keep one")
            continue
        with issues.at("frame", i):
            own[frame.key] = MustHave(
                frame.key,
                frame.title,
                frame.when or ", ".join(frame.windows),
                frame.kind,
                tuple(frame.windows),
                frame.minutes,
                frame.where,
            )
    return own
