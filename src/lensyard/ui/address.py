"""The page's state in its address: a situation can be shared, kept as a bookmark and reloaded.

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

from lensyard.domain.assignment import Faces
from lensyard.domain.field import RULES, Direction, HashMark
from lensyard.domain.optics import kit_of, parse_lens
from lensyard.domain.perimeter import parse_standing, perimeter_of
from lensyard.domain.situation import parse_ball, parse_clock
from lensyard.domain.venue import standard_venue
from lensyard.errors import InvalidInputError, ParseError, UnknownNameError, require_range
from lensyard.ui.controls import FIRST_DOWN_YD, Controls, ball_text, parts_of
from lensyard.views.palette import look_named
from lensyard.views.words import sentence

Query = dict[str, list[str]]

ALWAYS = ("down", "distance", "ball")
LONGEST_TEXT = 200
_NOT_OURS = ("embed", "embed_options")  # what the server itself reads


@dataclass(frozen=True, slots=True)
class Address:
    """What an address asks for, and what in it could not be read, one sentence each."""

    controls: Controls
    problems: tuple[str, ...] = ()


def from_address(query: Mapping[str, Sequence[str]]) -> Address:
    """Return what an address asks for.

    Parameters
    ----------
    query
        Each name with its values, as many as there are.
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
    controls, more = _fitted(found)
    return Address(controls, (*problems, *more))


def to_address(controls: Controls) -> Query:
    """Return an address that leads back to these controls; usual values are left out."""
    usual = _written(Controls())
    return {
        name: values
        for name, values in _written(controls).items()
        if name in ALWAYS or values != usual[name]
    }


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
        "rules": [controls.rules],
        "team_area": [] if team_area is None else [str(team_area)],
        "faces": [controls.faces.value],
        "score": [str(controls.score_diff)],
        "quarter": [str(controls.quarter)],
        "clock": [controls.clock],
        "look": [controls.look],
    }


def _read(name: str, values: Sequence[str]) -> dict[str, Any]:
    """Return the controls' fields that one name sets."""
    if name not in _READERS:
        raise UnknownNameError(name="a name in the address", value=name[:40], known=_READERS)
    if any(len(value) > LONGEST_TEXT for value in values):
        raise InvalidInputError(f"{name} is longer than {LONGEST_TEXT} characters; shorten it")
    field, read = _READERS[name]
    return {field: read(values)}


def _fitted(found: dict[str, Any]) -> tuple[Controls, list[str]]:
    """Return controls whose parts fit each other, and sentences on those that did not."""
    problems = []
    yardline = found.get("yardline_100", Controls().yardline_100)
    distance = found.get("distance_yd")
    found["distance_yd"] = min(FIRST_DOWN_YD if distance is None else distance, yardline)
    if distance is not None and distance > yardline:
        problems.append(
            f"The distance is {distance} yd, but the goal line is only {yardline} yd away; "
            "goal to go stands in its place."
        )
    controls = Controls(**found)
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
        perimeter = perimeter_of(standard_venue(controls.rules))
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


def _look(values: Sequence[str]) -> str:
    return look_named(values[-1]).name


_READERS: dict[str, tuple[str, Callable[[Sequence[str]], Any]]] = {
    "down": ("down", _whole("down", low=1, high=4)),
    "distance": ("distance_yd", _whole("distance", low=1, high=99)),
    "ball": ("yardline_100", _ball),
    "hash": ("hash_mark", _hash_mark),
    "standing": ("standing", _standing),
    "lens": ("lenses", _lenses),
    "body": ("crop_factors", _crop_factors),
    "bodies": ("bodies", _whole("bodies", low=1, high=6)),
    "converter": ("converter", _number("converter", low=1, high=3)),
    "rules": ("rules", _one_of("rules", list(RULES))),
    "team_area": ("team_area", _whole("team_area", low=0, high=50)),
    "faces": ("faces", _faces),
    "score": ("score_diff", _whole("score", low=-99, high=99)),
    "quarter": ("quarter", _whole("quarter", low=1, high=5)),
    "clock": ("clock", _clock),
    "look": ("look", _look),
}
