"""The pages' state in their address: it can be shared, kept as a bookmark and reloaded.

The names are those of the command line's options, so ``lensyard next --down 3 --ball opp35`` and
``?down=3&ball=opp35`` ask the same. What cannot be read is named in a sentence, and the usual value
stands in its place.

>>> from_address({"down": ["3"], "distance": ["7"], "ball": ["opp35"]}).controls.situation().text()
"3rd and 7 at the opponent's 35"
>>> from_address({"down": ["7"]}).problems
('Down must be between 1 and 4; got 7.',)
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from lensyard.dashboard.controls import (
    FIRST_DOWN_YD,
    REMEMBERED,
    Controls,
    ball_text,
    kickoff_text,
    lines_of,
    parts_of,
)
from lensyard.dashboard.named import assignment_choices, assignment_named, venue_choices
from lensyard.domain.assignment import Faces
from lensyard.domain.field import RULES, Direction, HashMark
from lensyard.domain.kit import kit_of, parse_kit, parse_lens
from lensyard.domain.perimeter import perimeter_of
from lensyard.domain.places import parse_standing
from lensyard.domain.situation import DISTANCES_YD, parse_ball, parse_clock
from lensyard.errors import InvalidInputError, ParseError, UnknownNameError, require_range
from lensyard.render.theme import theme_named
from lensyard.render.words import sentence

Query = dict[str, list[str]]

ALWAYS = ("down", "distance", "ball")
LONGEST_TEXT = 200
ALL_GO = "all"
LEFT_OUT = "usual"
"""Says in an address that what may be left out is left out, though the browser remembers it."""
# What the server itself reads, and the key to a dashboard on a network.
_NOT_OURS = ("embed", "embed_options", "token")


@dataclass(frozen=True, slots=True)
class Address:
    """What an address asks for, and what in it could not be read, one sentence each."""

    controls: Controls
    problems: tuple[str, ...] = ()


def from_address(query: Mapping[str, Sequence[str]], *, usual: Controls | None = None) -> Address:
    """Return what an address asks for.

    Parameters
    ----------
    query
        Each name with its values, as many as there are.
    usual
        What holds where the address says nothing, such as what the browser remembers.
    """
    found: dict[str, Any] = {}
    problems = []
    for name, values in query.items():
        if name in _NOT_OURS or not values:
            continue
        try:
            found.update(_read(name, values))
        except InvalidInputError as error:
            problems.append(sentence(str(error)))
    if found.get("assignment") and "faces" not in found:
        found["faces"] = assignment_named(found["assignment"]).faces
    controls, more = _fitted(found, usual or Controls())
    return Address(controls, (*problems, *more))


def to_address(
    controls: Controls, *, always: Sequence[str] = ALWAYS, usual: Controls | None = None
) -> Query:
    """Return an address that leads back to these controls.

    Parameters
    ----------
    controls
        What was chosen.
    always
        Names that are written even where their value is the usual one.
    usual
        What the browser remembers. Where it differs from the controls or from what is usual for
        everybody, a value is written, so that the address means the same to others.
    """
    plain, own = _written(Controls()), _written(usual or Controls())
    return {
        name: values or [LEFT_OUT]
        for name, values in _written(controls).items()
        if (name in always or values != plain[name] or values != own[name])
        and (values or own[name] != values)
    }


def to_memory(controls: Controls) -> Query:
    """Return what a browser is to remember: kit, ground, assignment and colors."""
    written, plain = _written(controls), _written(Controls())
    names = [name for name, (field, _) in _READERS.items() if field in REMEMBERED]
    return {name: written[name] for name in names if written[name] != plain[name]}


def from_memory(query: Mapping[str, Sequence[str]]) -> Controls:
    """Return what a browser remembered; what cannot be read any more is left out."""
    names = {name for name, (field, _) in _READERS.items() if field in REMEMBERED}
    return from_address({name: query[name] for name in names & query.keys()}).controls


def _written(controls: Controls) -> Query:
    team_area, bodies = controls.team_area, controls.bodies
    return {
        "down": [str(controls.down)],
        "distance": [str(controls.distance_yd)],
        "ball": [ball_text(controls.yardline_100)],
        "hash": [controls.hash_mark.value] if controls.hash_mark else [],
        "standing": [controls.standing] if controls.standing else [],
        "lens": parts_of(controls.lenses),
        "body": parts_of(controls.crop_factors),
        "bodies": [] if bodies is None else [str(bodies)],
        "converter": [f"{controls.converter:g}"],
        "venue": [controls.venue],
        "rules": [controls.rules],
        "team_area": [] if team_area is None else [str(team_area)],
        "attacking": [controls.attacking],
        "assignment": [controls.assignment],
        "faces": [controls.faces.value],
        "by": ["value" if controls.by_value else "usable"],
        "changed": ["yes" if controls.changed_hands else "no"],
        "score": [str(controls.score_diff)],
        "quarter": [str(controls.quarter)],
        "clock": [controls.clock],
        "zone_down": [] if controls.zone_down is None else [str(controls.zone_down)],
        "to_go": [controls.to_go],
        "kickoff": [controls.kickoff],
        "kit": lines_of(controls.kits),
        "shooters": [str(controls.shooters)],
        "carried": lines_of(controls.carried),
        "crew": ["game" if controls.whole_game else "play"],
        "game": [controls.game] if controls.game else [],
        "season": [] if controls.season is None else [str(controls.season)],
        "reach": ["own" if controls.own_reach else "usual"],
        "theme": [controls.theme],
    }


def _read(name: str, values: Sequence[str]) -> dict[str, Any]:
    """Return the controls' fields that one name sets."""
    if name not in _READERS:
        raise UnknownNameError(name="a name in the address", value=name[:40], known=_READERS)
    if any(len(value) > LONGEST_TEXT for value in values):
        raise InvalidInputError(f"{name} is longer than {LONGEST_TEXT} characters; shorten it")
    field, read = _READERS[name]
    return {field: read(values)}


def _fitted(found: dict[str, Any], base: Controls) -> tuple[Controls, list[str]]:
    """Return controls whose parts fit each other, and sentences on those that did not."""
    problems = []
    yardline = found.get("yardline_100", base.yardline_100)
    distance = found.get("distance_yd")
    found["distance_yd"] = min(FIRST_DOWN_YD if distance is None else distance, yardline)
    if distance is not None and distance > yardline:
        problems.append(
            f"The distance is {distance} yd, but the goal line is only {yardline} yd away; "
            "goal to go stands in its place."
        )
    controls = replace(base, **found)
    try:
        controls.kit()
    except InvalidInputError as error:
        problems.append(sentence(str(error)))
        usual = Controls()
        controls = replace(
            controls,
            lenses=usual.lenses,
            crop_factors=usual.crop_factors,
            bodies=usual.bodies,
            converter=usual.converter,
        )
    if controls.standing:
        perimeter = perimeter_of(controls.chosen_venue())
        try:
            parse_standing(controls.standing, perimeter, Direction.TOWARD_B)
        except InvalidInputError as error:
            problems.append(sentence(str(error)))
            controls = replace(controls, standing="")
    return controls, problems


def _whole(name: str, *, low: int, high: int) -> Callable[[Sequence[str]], int]:
    def read(values: Sequence[str]) -> int:
        text = values[-1]
        try:
            value = int(text)
        except ValueError:
            expected = f"a whole number from {low} to {high}"
            raise ParseError(name=name, text=text, expected=expected) from None
        require_range(low=low, high=high, **{name: value})
        return value

    return read


def _whole_or_none(name: str, *, low: int, high: int) -> Callable[[Sequence[str]], int | None]:
    read = _whole(name, low=low, high=high)
    return lambda values: None if values[-1] == LEFT_OUT else read(values)


def _number(name: str, *, low: float, high: float) -> Callable[[Sequence[str]], float]:
    def read(values: Sequence[str]) -> float:
        text = values[-1]
        try:
            value = float(text)
        except ValueError:
            expected = f"a number from {low:g} to {high:g}"
            raise ParseError(name=name, text=text, expected=expected) from None
        require_range(low=low, high=high, **{name: value})
        return value

    return read


def _one_of(name: str, known: Sequence[str]) -> Callable[[Sequence[str]], str]:
    def read(values: Sequence[str]) -> str:
        if values[-1] not in known:
            raise UnknownNameError(name=name, value=values[-1], known=known)
        return values[-1]

    return read


def _hash_mark(values: Sequence[str]) -> HashMark:
    return HashMark(_one_of("hash", [mark.value for mark in HashMark])(values))


def _faces(values: Sequence[str]) -> Faces:
    return Faces(_one_of("faces", [faces.value for faces in Faces])(values))


def _ball(values: Sequence[str]) -> int:
    return parse_ball(values[-1])


def _clock(values: Sequence[str]) -> str:
    parse_clock(values[-1])
    return values[-1].strip()


def _lenses(values: Sequence[str]) -> str:
    parts = [part for value in values for part in parts_of(value)]
    for part in parts:
        parse_lens(part)
    kit_of(parts)
    return ", ".join(parts)


def _crop_factors(values: Sequence[str]) -> str:
    return ", ".join(part for value in values for part in parts_of(value))


def _standing(values: Sequence[str]) -> str:
    return values[-1].strip()


def _venue(values: Sequence[str]) -> str:
    return _one_of("venue", venue_choices())(values)


def _assignment(values: Sequence[str]) -> str:
    return _one_of("assignment", assignment_choices())(values)


def _attacking(values: Sequence[str]) -> str:
    return _one_of("attacking", ("A", "B"))([values[-1].upper()])


def _by_value(values: Sequence[str]) -> bool:
    return _one_of("by", ("usable", "value"))(values) == "value"


def _changed(values: Sequence[str]) -> bool:
    return _one_of("changed", ("no", "yes"))(values) == "yes"


def _kickoff(values: Sequence[str]) -> str:
    return kickoff_text(values[-1])


def _kits(values: Sequence[str]) -> str:
    lines = [line for value in values if value != LEFT_OUT for line in lines_of(value)]
    for line in lines:
        parse_kit(line)
    return "\n".join(lines)


def _whole_game(values: Sequence[str]) -> bool:
    return _one_of("crew", ("play", "game"))(values) == "game"


def _game(values: Sequence[str]) -> str:
    return values[-1].strip()


def _own_reach(values: Sequence[str]) -> bool:
    return _one_of("reach", ("usual", "own"))(values) == "own"


def _look(values: Sequence[str]) -> str:
    return theme_named(values[-1]).name


_READERS: dict[str, tuple[str, Callable[[Sequence[str]], Any]]] = {
    "down": ("down", _whole("down", low=1, high=4)),
    "distance": ("distance_yd", _whole("distance", low=1, high=99)),
    "ball": ("yardline_100", _ball),
    "hash": ("hash_mark", _hash_mark),
    "standing": ("standing", _standing),
    "lens": ("lenses", _lenses),
    "body": ("crop_factors", _crop_factors),
    "bodies": ("bodies", _whole_or_none("bodies", low=1, high=6)),
    "converter": ("converter", _number("converter", low=1, high=3)),
    "venue": ("venue", _venue),
    "rules": ("rules", _one_of("rules", list(RULES))),
    "team_area": ("team_area", _whole_or_none("team_area", low=0, high=50)),
    "attacking": ("attacking", _attacking),
    "assignment": ("assignment", _assignment),
    "faces": ("faces", _faces),
    "by": ("by_value", _by_value),
    "changed": ("changed_hands", _changed),
    "score": ("score_diff", _whole("score", low=-99, high=99)),
    "quarter": ("quarter", _whole("quarter", low=1, high=5)),
    "clock": ("clock", _clock),
    "zone_down": ("zone_down", _whole("zone_down", low=1, high=4)),
    "to_go": ("to_go", _one_of("to_go", (ALL_GO, *DISTANCES_YD))),
    "kickoff": ("kickoff", _kickoff),
    "kit": ("kits", _kits),
    "shooters": ("shooters", _whole("shooters", low=2, high=6)),
    "carried": ("carried", _kits),
    "crew": ("whole_game", _whole_game),
    "game": ("game", _game),
    "season": ("season", _whole("season", low=1900, high=2200)),
    "reach": ("own_reach", _own_reach),
    "theme": ("theme", _look),
}
