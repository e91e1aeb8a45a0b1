"""The pages' state in their address: it can be shared, kept as a bookmark and reloaded.

The names are those of the command line's options, so ``lensyard next --down 3 --ball opp35`` and
``?down=3&ball=opp35`` ask the same. What cannot be read is named in a sentence, and the usual value
stands in its place.

>>> from_address({"down": ["3"], "distance": ["7"], "ball": ["opp35"]}).controls.situation().text()
"3rd and 7 at the opponent's 35"
>>> from_address({"down": ["7"]}).issues
('Down must be between 1 and 4; got 7.',)
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from lensyard.dashboard.controls import CHOICES, REMEMBERED, Controls
from lensyard.domain.field import Direction
from lensyard.domain.perimeter import perimeter_of
from lensyard.domain.places import parse_standing
from lensyard.errors import InvalidInputError, UnknownNameError
from lensyard.options.choices import LEFT_OUT, choices_of, default_of
from lensyard.options.groups import LensOptions
from lensyard.render.words import sentence

Query = dict[str, list[str]]

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

    Parameters
    ----------
    query
        Each name with its values, as many as there are.
    usual
        What holds where the address says nothing, such as what the browser remembers.
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
    """Return what a browser is to remember: kit, venue, assignment and colors."""
    written, plain = _written(controls), _written(Controls())
    names = [CHOICES[field].address for field in REMEMBERED]
    return {name: written[name] for name in names if written[name] != plain[name]}


def from_memory(query: Mapping[str, Sequence[str]]) -> Controls:
    """Return what a browser remembered; what cannot be read any more is left out."""
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
