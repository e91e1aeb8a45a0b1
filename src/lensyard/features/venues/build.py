"""From the values of a venue file to a venue, or to everything that is wrong with them.

Problems are collected, not raised one by one, so that a person mends a file in one go. Each names
the path of its key; `lensyard.features.venues.file` turns paths into lines.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from difflib import get_close_matches
from typing import TYPE_CHECKING, Any

from lensyard.domain.field import (
    FIELD_LENGTH_YD,
    OPPONENT_GOAL_LINE_X_YD,
    OWN_GOAL_LINE_X_YD,
    RULES,
    FieldRules,
)
from lensyard.domain.floodlights import floodlight_named, lux_from_footcandles
from lensyard.domain.perimeter import perimeter_of
from lensyard.domain.venue import (
    GOAL_POSTS,
    ClosedKind,
    ClosedStretch,
    Edge,
    Venue,
    team_areas,
    zone_named,
)
from lensyard.errors import InvalidInputError, OutOfRangeError, ParseError, UnknownNameError
from lensyard.features.venues.schema import EDGE_TABLES, KIND_DEFAULTS, VENUE_KEYS, keys_of
from lensyard.settings.toml_lines import KeyPath

if TYPE_CHECKING:
    from lensyard.features.venues.schema import Closed, Floodlights, HouseRules, VenueFile

PLACE_KEYS = ("axis_bearing_deg", "latitude_deg", "longitude_deg", "time_zone")
NOTE_KEYS = ("monopods", "flash", "kneeling")

_TABLES = {key.table for key in VENUE_KEYS if key.table} | {"stands"}
_YARD_LINE = re.compile(r"^(?P<end>.*?)\s*(?P<yard>\d{1,2}(?:\.\d+)?)$")
_LINE = re.compile(r"^(?P<line>goal|end)(?:\s+line)?\s+(?P<end>.+)$", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class ValidationIssue:
    """Something that is wrong at a path of the file, in words."""

    path: KeyPath
    message: str


@dataclass
class ValidationIssues:
    """What was found wrong so far; one trouble a path."""

    found: dict[KeyPath, ValidationIssue] = field(default_factory=dict)

    def add(self, path: KeyPath, message: str) -> None:
        """Remember a trouble, unless the same place already has one."""
        self.found.setdefault(path, ValidationIssue(path, message))

    def at(self, path: KeyPath) -> _At:
        """Return a context that turns an `InvalidInputError` inside it into a trouble at a path."""
        return _At(self, path)


@dataclass(frozen=True, slots=True)
class _At:
    """See `ValidationIssues.at`."""

    issues: ValidationIssues
    path: KeyPath

    def __enter__(self) -> None:
        """Begin."""

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: object
    ) -> bool:
        """Keep an error that a person can mend; let any other through."""
        if not isinstance(error, InvalidInputError):
            return False
        self.issues.add(self.path, str(error))
        return True


def shape_issue(problem: dict[str, Any]) -> ValidationIssue:
    """Return one problem of the file's shape (as the schema reports it) in our words."""
    kind, where = str(problem["type"]), tuple(problem["loc"])
    if kind == "extra_forbidden":
        return ValidationIssue(where, _unknown_key(where))
    path = _known_part(where)
    expected = _expected(path)
    if kind == "missing":
        return ValidationIssue(path, f"is missing; expected {expected}")
    return ValidationIssue(path, f"got {_shown(problem['input'])}; expected {expected}")


def _known_part(where: KeyPath) -> KeyPath:
    """The path without the names of alternatives that the schema tried at its end."""
    for length in range(len(where), 0, -1):
        table, key = _table_and_key(where[:length])
        if (
            key in keys_of(table)
            or ".".join(filter(None, (table, key))) in _TABLES
            or (isinstance(where[length - 1], int) and table in _TABLES)
        ):
            return where[:length]
    return ()


def _table_and_key(path: KeyPath) -> tuple[str, str]:
    words = [part for part in path if isinstance(part, str)]
    return ".".join(words[:-1]), words[-1] if words else ""


def _expected(path: KeyPath) -> str:
    table, key = _table_and_key(path)
    if key in keys_of(table):
        return keys_of(table)[key].expected
    if key == "closed":
        return "tables headed [[closed]], one for each closed stretch (at most 100)"
    name = ".".join(filter(None, (table, key)))
    return f"a table headed [{name}]"


def _unknown_key(path: KeyPath) -> str:
    table, key = _table_and_key(path)
    inner = {name.removeprefix(f"{table}.") for name in _TABLES if name.startswith(f"{table}.")}
    outer = {name for name in _TABLES if "." not in name} if not table else inner
    known = sorted(set(keys_of(table)) | outer)
    near = get_close_matches(key, known, n=1)
    if near:
        return f"is no key of a venue file; did you mean {near[0]!r}?"
    where = f"[{table}]" if table else "the top of the file"
    return f"is no key of a venue file; {where} knows {', '.join(known)}"


def _shown(value: object) -> str:
    text = str(value).lower() if isinstance(value, bool) else repr(value)
    return text if len(text) <= 60 else f"{text[:57]}..."


def build_venue(file: VenueFile, issues: ValidationIssues) -> Venue | None:
    """Return the venue of a file of the right shape, or None after adding what is wrong.

    Parameters
    ----------
    file
        The values.
    issues
        Where troubles go.
    """
    rules = RULES[file.rules]
    _check_place(file, issues)
    _check_names(file, issues)
    closed = team_areas(
        rules,
        from_yard_line=50.0
        if file.team_areas.from_yard_line == "none"
        else file.team_areas.from_yard_line,
        walk_behind=file.team_areas.walk_behind,
    )
    closed += tuple(_stretches(file, rules, issues))
    illuminance_lx = _illuminance_lx(file.floodlights, issues)
    if issues.found:
        return None
    stands = [getattr(file.stands, edge) for edge in EDGE_TABLES]
    with issues.at(("closed",)):
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
            stand_height_m=tuple(stand.height_m for stand in stands),
            stand_distance_yd=tuple(stand.distance_yd for stand in stands),
            illuminance_lx=illuminance_lx,
            covered=file.covered,
            notes=_notes(file.house_rules),
        )
        perimeter_of(venue)
        return venue
    return None


def _first(given: float | None, default: float) -> float:
    return default if given is None else given


def _check_place(file: VenueFile, issues: ValidationIssues) -> None:
    given = [key for key in PLACE_KEYS if getattr(file, key) is not None]
    missing = [key for key in PLACE_KEYS if key not in given]
    if given and missing:
        issues.add(
            (given[0],),
            f"is given without {' and '.join(missing)}; expected {', '.join(PLACE_KEYS)} "
            "together (the sun needs all four), or none of them",
        )
    if file.time_zone is not None:
        with issues.at(("time_zone",)):
            zone_named(file.time_zone)


def _check_names(file: VenueFile, issues: ValidationIssues) -> None:
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


def _stretches(
    file: VenueFile, rules: FieldRules, issues: ValidationIssues
) -> Iterator[ClosedStretch]:
    for i, closed in enumerate(file.closed):
        path: KeyPath = ("closed", i)
        edge: Edge | None = None
        with issues.at((*path, "edge")):
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
            with issues.at((*path, key)):
                place_yd = along_yd(place, edge, ends=(file.end_names[0], file.end_names[1]))
                bounds.append(_before_corner(place_yd, edge, past_yd=past_yd))
        if len(bounds) < 2:
            continue
        if not bounds[0] < bounds[1]:
            issues.add(
                (*path, "to"),
                f"{_shown(closed.to)} is {bounds[1]:g} yd along the edge and from is "
                f"{bounds[0]:g}; expected to beyond from (exchange the two?)",
            )
            continue
        with issues.at(path):
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
    kind = ClosedKind(closed.kind)
    if kind is ClosedKind.TEAM_AREA:
        front_yd, depth_yd, blocks, behind = (
            rules.team_area_front_yd,
            rules.team_area_depth_yd,
            True,
            True,
        )
    else:
        usual = KIND_DEFAULTS[kind]
        front_yd, depth_yd = usual.front_yd, usual.depth_yd
        blocks, behind = usual.blocks_view, usual.walk_behind
    return ClosedStretch(
        edge=edge,
        from_yd=from_yd,
        to_yd=to_yd,
        name=closed.name or kind.value,
        front_yd=_first(closed.front_yd, front_yd),
        depth_yd=_first(closed.depth_yd, depth_yd),
        blocks_view=blocks if closed.blocks_view is None else closed.blocks_view,
        walk_behind=behind if closed.walk_behind is None else closed.walk_behind,
        kind=kind,
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
    """Return how far along an edge a place of a venue file lies, in the stadium frame. [yd]

    Parameters
    ----------
    place
        Yards as a number, or on a sideline words: ``A 20``, ``50``, ``goal B``, ``end line A``.
    edge
        The edge.
    ends
        The names of ends A and B, which work like their letters.

    Raises
    ------
    ParseError
        If the words have another form.
    OutOfRangeError
        If the yard line is none.

    Examples
    --------
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
    raise ParseError(name="place", text=place, expected=keys_of("closed")["from"].expected)


def _end_letter(text: str, ends: tuple[str, str]) -> str | None:
    for letter, name in zip("ab", ends, strict=True):
        if text in (letter, f"end {letter}", _folded(name)):
            return letter
    return None


def _illuminance_lx(lights: Floodlights, issues: ValidationIssues) -> float:
    given = {
        "lux": lights.lux,
        "footcandles": lights.footcandles,
        "class": lights.class_,
    }
    keys = [key for key, value in given.items() if value is not None]
    if len(keys) > 1:
        issues.add(
            ("floodlights", keys[1]),
            f"is given beside {keys[0]}; expected only one of lux, footcandles and class",
        )
    with issues.at(("floodlights", "class")):
        if lights.class_ is not None:
            return floodlight_named(lights.class_).illuminance_lx
    if lights.footcandles:
        return lux_from_footcandles(lights.footcandles)
    return lights.lux or 0.0


def _notes(house: HouseRules) -> tuple[str, ...]:
    said = ((key, getattr(house, key)) for key in NOTE_KEYS)
    return (*(f"{key}: {note}" for key, note in said if note is not None), *house.other)
